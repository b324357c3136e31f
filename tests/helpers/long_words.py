"""A made-up language whose words are a third longer than the English ones, for layouts."""

import re

from handslide.words.speech import Speech

_TEXT = re.compile(r"(\{[^}]*\})|([^\W\d_]+)")


class LongWords(Speech):
    """English with every word of a message drawn out: what a layout must stand."""

    def _look_up(self, message, values):
        def longer(found):
            if found[1]:
                return found[1]
            word = found[2]
            return word + word[-1] * max(round(0.3 * len(word)), 1 if len(word) > 2 else 0)

        return _TEXT.sub(longer, super()._look_up(message, values))
