"""What is said of each kind of fact whose topic is ``hearing``."""

from collections.abc import Mapping

from handslide.words.hearing import closed_partial, elsewhere, slide_if, slide_words
from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    "hearing.below_slide": N_("lower than the end of the slide can sound"),
    "hearing.lip_or_tuning": N_("the slide can't be shorter, so it's the lip or the tuning slide"),
    "hearing.elsewhere": elsewhere,
    "hearing.closed_partial": closed_partial,
    "hearing.not_closed": N_("slide not quite closed ({slide_mm:.0f} mm), or the lip"),
    "hearing.slide": slide_words,
    "hearing.slide_if": slide_if,
}
