"""What is said of each kind of fact whose topic is ``horn``."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.horns import HORN_LINE, model_name
from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller
from handslide.words.translate import Translator


def _model(say: Translator, told: Fact) -> str:
    return model_name(say, told["model"])


KINDS: Mapping[str, Message | Teller] = {
    "horn.model": _model,
    "horn.line": HORN_LINE,
    "horn.reach": N_("a reach of {reach:g} isn't a position: give 1 to 12, such as 6 or 5.5"),
    "horn.no_valve": N_("{horn} has no valve called {valve!q} (its valves: {valves})"),
    "horn.no_valves": N_("{horn} has no valve called {valve!q}: it has no valves"),
}
