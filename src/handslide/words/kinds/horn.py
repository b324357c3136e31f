"""What is said of each kind of fact whose topic is ``horn``."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.horns import HORN_LINE, model_name
from handslide.words.messages import Message
from handslide.words.tellers import Teller
from handslide.words.translate import Translator


def _model(say: Translator, told: Fact) -> str:
    return model_name(say, told["model"])


KINDS: Mapping[str, Message | Teller] = {
    "horn.model": _model,
    "horn.line": HORN_LINE,
}
