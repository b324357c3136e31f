"""Exercises as data: figures of a few bars that run through positions, keys, half steps, partials.

What a word of a bar says, such as ``5:3/2(`` (the fifth degree for one and a half quarters, slurred
to the next), and what an exercise as a whole may say, stands in docs/exercises.md.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from handslide.drills.piece import DYNAMICS
from handslide.ground.errors import BadData

COUNTED = ("partials", "degrees", "half-steps", "notes")
THROUGH = ("once", "positions", "partials", "keys", "half-steps")
# What each way of counting can be carried through.
ROADS = {
    "partials": ("positions", "partials"),
    "degrees": ("keys",),
    "half-steps": ("half-steps",),
    "notes": ("once",),
}
# What is carried through these may have a second voice.
WITH_TEACHER = ("keys", "once")
MOST_EXERCISES, MOST_BARS, MOST_WORDS, MOST_PASSES = 200, 64, 64, 24
_SIGNS = {"(": "slur", "~": "gliss", "_": "tie", "'": "breath", "U": "fermata"}
_ARTICULATIONS = {".": "staccato", "-": "tenuto", "^": "accent"}
_SWELLS = ("<>", "<", ">")
_WORD = re.compile(
    r"(?P<what>r|[A-G](?:#|b)?-?\d|[+-]?\d{1,2}(?:#|b)?):(?P<beats>\d{1,2}(?:/\d{1,2})?)"
    r"(?P<signs>[(~_'U.^<>-]*)",
    re.ASCII,
)


@dataclass(frozen=True, slots=True)
class Step:
    """A note of a figure, or a rest where ``what`` is None: see DrillNote for the rest of it.

    ``what`` is a partial, a degree of the scale (1 the tonic, 0 the note below), half steps above
    the start, or a sounding note by name; ``alter`` raises or lowers a degree by half steps.
    ``moving``: the partial is counted from the one that the pass is on.
    """

    what: int | str | None
    beats: Fraction
    alter: int = 0
    moving: bool = False
    slur: bool = False
    gliss: bool = False
    tie: bool = False
    breath: bool = False
    fermata: bool = False
    articulation: str = ""
    dynamic: str = ""
    swell: str = ""


Figure = tuple[tuple[Step, ...], ...]


@dataclass(frozen=True, slots=True)
class Exercise:
    """One exercise as it is written down.

    ``name`` is that of one of ours, whose words are in all languages; ``title`` and ``text`` are a
    teacher's own. ``levels`` empty: all. ``figure`` is played at each stage of the way from
    ``first`` to ``last``, and with ``back`` on the way home; ``ending`` once at the end, at the
    first stage. ``teacher`` is a second voice for somebody who can play more, bar by bar with
    ``figure``. ``start`` is the open partial that half steps begin from, or the position on which
    partials are counted; ``valve`` the valve that is held, 0 for none.
    """

    figure: Figure
    counted: str
    through: str
    meter: tuple[int, int] = (4, 4)
    tempo_qpm: float = 60.0
    first: int = 1
    last: int = 7
    back: bool = False
    ending: Figure = ()
    teacher: Figure = ()
    name: str = ""
    title: str = ""
    text: str = ""
    levels: tuple[str, ...] = ()
    scale: str = "major"
    keys: tuple[str, ...] = ()
    start: int = 1
    valve: int = 0

    @property
    def stages(self) -> tuple[int, ...]:
        """The numbers that it goes through, there and back."""
        way = 1 if self.last >= self.first else -1
        there = tuple(range(self.first, self.last + way, way))
        return there + there[-2::-1] if self.back else there


@dataclass(frozen=True, slots=True)
class Series:
    """A file of exercises, in their order. ``name`` is that of the file."""

    name: str
    exercises: tuple[Exercise, ...] = field(default_factory=tuple)
    title: str = ""

    def at(self, level: str) -> tuple[Exercise, ...]:
        """Those for a level."""
        return tuple(one for one in self.exercises if not one.levels or level in one.levels)


def parse_figure(bars: Sequence[str], counted: str, meter: tuple[int, int]) -> Figure:
    """Bars of words as a figure. Raises BadData for a word or a bar that can't be."""
    whole = Fraction(4 * meter[0], meter[1])
    figure = []
    for number, bar in enumerate(bars, 1):
        steps = _steps(bar.split(), number, counted)
        beats = sum((step.beats for step in steps), Fraction(0))
        if beats != whole:
            raise BadData("exercises.bar_sum", bar=number, beats=str(beats), whole=str(whole))
        figure.append(steps)
    return tuple(figure)


def _steps(words: Sequence[str], bar: int, counted: str) -> tuple[Step, ...]:
    if len(words) > MOST_WORDS:
        raise BadData("exercises.words", bar=bar, count=len(words), most=MOST_WORDS)
    steps: list[Step] = []
    dynamic = ""
    for word in words:
        if word and word in DYNAMICS:
            dynamic = word
            continue
        steps.append(_step(word, bar, counted, dynamic))
        dynamic = ""
    return tuple(steps)


def _step(word: str, bar: int, counted: str, dynamic: str) -> Step:
    match = _WORD.fullmatch(word)
    if match is None or _is_zero(match["beats"]):
        raise BadData("exercises.word", bar=bar, word=word)
    signs = match["signs"]
    swell = next((sign for sign in _SWELLS if sign in signs), "")
    what, moving, alter = _what(match["what"], word, bar, counted)
    articulations = [name for sign, name in _ARTICULATIONS.items() if sign in signs]
    return Step(
        what,
        Fraction(match["beats"]),
        alter=alter,
        moving=moving,
        articulation=articulations[0] if articulations else "",
        dynamic=dynamic,
        swell=swell,
        **{name: sign in signs for sign, name in _SIGNS.items()},
    )


def _is_zero(beats: str) -> bool:
    return any(int(number) == 0 for number in beats.split("/"))


def _what(text: str, word: str, bar: int, counted: str) -> tuple[int | str | None, bool, int]:
    """What is played, whether it moves with the pass, and how far it is altered."""
    if text == "r":
        return None, False, 0
    if text[0].isalpha() != (counted == "notes"):
        raise BadData("exercises.counted_word", bar=bar, word=word, counted=counted)
    if counted == "notes":
        return text, False, 0
    number = int(text.rstrip("#b"))
    alter = {"#": 1, "b": -1}.get(text[-1], 0)
    moving = text[0] in "+-" and counted == "partials"
    if alter and counted != "degrees":
        raise BadData("exercises.counted_word", bar=bar, word=word, counted=counted)
    if counted == "partials" and not moving and number < 1:
        raise BadData("exercises.word", bar=bar, word=word)
    return number, moving, alter
