"""What is said of each kind of fact whose topic is ``line``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    "line.columns": N_("the columns of a line differ in length"),
    "line.length": N_("a note of the line has a negative or unknown length"),
    "line.order": N_("the notes of the line aren't in order of time"),
    "line.tempo": N_("a tempo of {tempo_qpm:g} quarter notes a minute is outside 10 to 500"),
    "line.empty": N_('the line has no notes: type some, such as "Eb3 D3 Db3 C3"'),
    # Translators: where in a typed line something can't be read, and why.
    "line.column": N_("column {column} of the line: {cause}"),
    "line.slur_open": N_("this ( is never closed with )"),
    "line.slur_nested": N_("a slur can't begin inside a slur"),
    "line.slur_unopened": N_("this ) has no ( before it"),
    "line.glissando_before": N_("~ needs a note before it"),
    "line.glissando_after": N_("~ needs a note after it"),
    "line.glissando_rest": N_("a glissando can't end on a rest"),
    "line.beats": N_(
        "{text!q} isn't a number of beats above 0 and up to 64, such as 2, 0.5 or 1/3"
    ),
}
