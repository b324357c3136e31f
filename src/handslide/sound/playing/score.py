"""A score as it comes to be interpreted: plain rows on two axes, both in quarter notes.

- *written* places ``q`` count along the paper, from the start of the part;
- *played* places ``p`` count along the music as it is played, repeats and jumps followed.

A `Course` leads from one to the other, and to the seconds of a metronome.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from handslide.ground.pitch import Pitch

Floats = NDArray[np.float64]
_EPS_Q = 1e-6


class Row(NamedTuple):
    """A note as played: its places on both axes, its pitch (MIDI number), and what stands at it."""

    ordinal: int
    begin_p: float
    end_p: float
    begin_q: float
    end_q: float
    midi: int
    line: tuple[str, str]
    """Staff and voice."""
    signs: frozenset[str] = frozenset()
    slurred: bool = False
    """To the next note of its line."""
    gliding: bool = False
    grace: bool = False
    breath: bool = False
    """A breath mark stands behind it."""


@dataclass(slots=True)
class Mark:
    """A sign in a part: kinds and values as `handslide.edges.musicxml.playsigns.Sign` has them."""

    at_q: float
    kind: str
    value: str = ""
    strength: str = ""
    ratio: float = 0.0
    unit_q: float = 0.5
    end_q: float | None = None
    staff: str | None = None


class ChordMark(NamedTuple):
    """A chord symbol at a written place; ``root`` is a pitch class, None where none is to sound.

    ``kind`` is as MusicXML names it, ``semitones`` are within an octave above the root. ``unread``:
    a chord is meant that can't be read.
    """

    at_q: float
    root: int | None
    kind: str
    semitones: tuple[int, ...]
    unread: bool = False


class Fermata(NamedTuple):
    """A fermata over a note or rest, or over a bar line, where both places are the same."""

    begin_q: float
    end_q: float
    shape: str = "normal"


class Span(NamedTuple):
    """A stretch of paper that is played at ``begin_p``."""

    first_q: float
    last_q: float
    begin_p: float


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """The way through the paper. ``place_p`` and ``place_s`` (n,) are where the metronome's tempo
    changes, in played quarters and in seconds, with the end."""

    spans: tuple[Span, ...]
    place_p: Floats
    place_s: Floats

    def seconds(self, places_p: Sequence[float] | Floats) -> Floats:
        """The metronome's seconds at played places, shape (m,)."""
        return np.interp(places_p, self.place_p, self.place_s)

    def played(self, seconds: Sequence[float] | Floats) -> Floats:
        """Played places at the metronome's seconds, shape (m,)."""
        return np.interp(seconds, self.place_s, self.place_p)

    def written(self, place_p: float) -> float:
        """The written place that is played at ``place_p``."""
        index = bisect_right(self.spans, place_p + _EPS_Q, key=lambda one: one.begin_p) - 1
        span = self.spans[max(0, index)]
        return span.first_q + place_p - span.begin_p

    def times(self, at_q: float) -> list[float]:
        """All played places of a written one."""
        return [
            span.begin_p + at_q - span.first_q
            for span in self.spans
            if span.first_q - _EPS_Q <= at_q < span.last_q - _EPS_Q
        ]

    def ends(self, at_q: float) -> list[float]:
        """All played places of a written one that something ends at."""
        return [
            span.begin_p + at_q - span.first_q
            for span in self.spans
            if span.first_q + _EPS_Q < at_q <= span.last_q + _EPS_Q
        ]

    def pieces(self, from_q: float, to_q: float) -> list[tuple[float, float, float]]:
        """Where a stretch of paper is played: (begin, end, written place at the begin), what goes
        on behind a bar line in one piece."""
        found: list[tuple[float, float, float]] = []
        for span in self.spans:
            first, last = max(from_q, span.first_q), min(to_q, span.last_q)
            if last <= first + _EPS_Q:
                continue
            begin, end = span.begin_p + first - span.first_q, span.begin_p + last - span.first_q
            if found:
                before = found[-1]
                gone = before[2] + before[1] - before[0]
                if abs(before[1] - begin) < _EPS_Q and abs(gone - first) < _EPS_Q:
                    found[-1] = before[0], end, before[2]
                    continue
            found.append((begin, end, first))
        return found


@dataclass(frozen=True, slots=True, eq=False)
class PlayedPart:
    """A part as played: its notes in order, and the signs of loudness that stand in it."""

    part_id: str
    name: str
    rows: tuple[Row, ...]
    levels: tuple[Mark, ...]
    timbre: str = "brass"


@dataclass(frozen=True, slots=True, eq=False)
class Timing:
    """What steers the time of all parts, in written quarters.

    ``tempos`` are (place, quarter notes a minute), ``ends`` where movements end, ``measures``
    (where beats count from, whether eighths may be swung there) of each measure, by its place.
    """

    words: tuple[Mark, ...] = ()
    swings: tuple[Mark, ...] = ()
    fermatas: tuple[Fermata, ...] = ()
    caesuras: tuple[float, ...] = ()
    tempos: tuple[tuple[float, float], ...] = ()
    ends: tuple[float, ...] = ()
    measures: tuple[tuple[float, float, bool], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class PlayedScore:
    """A score as played: the way through it, what steers its time, its parts; the first is the
    solo line, the second what else sounds in its part.

    ``chords`` are its chord symbols, ``spelled`` the usual spelling of each of the 12 pitch classes
    in it.
    """

    course: Course
    timing: Timing
    parts: tuple[PlayedPart, ...] = field(default=())
    chords: tuple[ChordMark, ...] = ()
    spelled: tuple[Pitch, ...] = ()
