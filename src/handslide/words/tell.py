"""Facts to sentences: the table of all kinds, by topic."""

from collections.abc import Mapping
from functools import cache
from importlib import import_module

from handslide.ground.cleantext import two_ends
from handslide.ground.facts import Fact
from handslide.ground.limits import TOLD_LETTERS
from handslide.words.hints import with_hint
from handslide.words.messages import Message
from handslide.words.tellers import Teller
from handslide.words.translate import Translator

# The modules of ``words/kinds``; a kind begins with its topic and a dot. One is loaded when
# something of its topic is said, so that the command line starts quickly.
TOPICS = (
    "air",
    "api",
    "audio",
    "certificate",
    "charts",
    "clips",
    "drills",
    "exercises",
    "files",
    "fitting",
    "game",
    "habits",
    "handout",
    "hearing",
    "horn",
    "learning",
    "library",
    "line",
    "listening",
    "live",
    "marks",
    "parts",
    "pdfmarks",
    "pdfparts",
    "people",
    "pitch",
    "places",
    "practice",
    "profile",
    "progress",
    "roster",
    "routine",
    "rows",
    "scores",
    "send",
    "sounds",
    "store",
    "studio",
    "takes",
    "transpose",
    "trills",
    "tuning",
    "usage",
    "web",
)


@cache
def kinds(topic: str) -> Mapping[str, Message | Teller]:
    """What is said of each kind of a topic. Raises KeyError for a topic that there isn't."""
    if topic not in TOPICS:
        raise KeyError(topic)
    table: Mapping[str, Message | Teller] = import_module(f"handslide.words.kinds.{topic}").KINDS
    return table


def tell(say: Translator, told: Fact) -> str:
    """A fact as text. Raises KeyError for a kind that nobody has words for."""
    told = _bounded(told)
    how = kinds(told.kind.partition(".")[0])[told.kind]
    text = say(how, **told.values) if isinstance(how, Message) else how(say, told)
    return with_hint(say, told, text)


def _bounded(told: Fact) -> Fact:
    """The fact with no text in it that makes a page of a sentence."""
    if all(not isinstance(value, str) or len(value) <= TOLD_LETTERS for _, value in told.items):
        return told
    short = ((name, two_ends(value, TOLD_LETTERS) if isinstance(value, str) else value)
             for name, value in told.items)  # fmt: skip
    return Fact(told.kind, tuple(short))
