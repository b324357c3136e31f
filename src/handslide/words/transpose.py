"""What is said of a transposed part: its title, its file, the rows of its report."""

from collections.abc import Mapping, Sequence

from handslide.ground.intervals import Interval
from handslide.words.catalogues import SOURCE
from handslide.words.intervals import interval_words
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.report import listed_measures
from handslide.words.translate import Translator

HEADING = N_("Moved")
# Translators: what the rows of a report on a transposed part are about.
ROWS: Mapping[str, Message] = {
    "moved": NP_("row of a report", "moved"),
    "keys": NP_("row of a report", "keys"),
    "clefs": NP_("row of a report", "clefs"),
    # Translators: what could be played of the part before it was transposed.
    "as_written": NP_("row of a report", "as written"),
    "now": NP_("row of a report", "now"),
    "put_back": NP_("row of a report", "put back"),
    # Translators: the nearest intervals at which all could be played.
    "nearest": NP_("row of a report", "nearest"),
    "look_at": NP_("row of a report", "look at"),
}
# Translators: the title of a transposed part: "Vocalise 1, an octave lower".
_TITLE = NP_("title", "{title}, {interval}")
_MEASURES = NN_("measure {measures}", "measures {measures}")
_IN_MEASURES = NN_("in measure {measures}", "in measures {measures}")
_MOST_MEASURES = 8
_ARTICLES = ("a", "an")


def transposed_title(say: Translator, title: str, interval: Interval) -> str:
    """The title of a part that was moved by an interval: ``Vocalise 1, an octave lower``."""
    if not interval.semitones:
        return title
    return say(_TITLE, title=title, interval=interval_words(say, interval))


def file_words(interval: Interval) -> str:
    """An interval for a file's name, the same in every language: ``octave-lower``."""
    if interval.semitones == 0 and interval.letters == 0:
        return "moved"
    words = interval_words(Translator(SOURCE), interval).split()
    return "-".join(word for word in words if word not in _ARTICLES)


def some_measures(say: Translator, spans: Sequence[str]) -> str:
    """``measure 3``, ``measures 3, 5–8 and 2 more``."""
    return say(_MEASURES, **_counted(say, spans))


def in_measures(say: Translator, spans: Sequence[str]) -> str:
    """``in measure 3``, ``in measures 3, 5–8 and 2 more``."""
    return say(_IN_MEASURES, **_counted(say, spans))


def _counted(say: Translator, spans: Sequence[str]) -> dict[str, str | int]:
    single = len(set(spans)) == 1 and "–" not in spans[0]
    return {
        "count": 1 if single else max(len(set(spans)), 2),
        "measures": listed_measures(say, spans, _MOST_MEASURES),
    }
