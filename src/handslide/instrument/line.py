"""A line: notes in time for one player, and the short typed form of it.

Typed notes are separated by spaces: a pitch with optional ``:beats`` (``Eb3``, ``C3:2``,
``F2:1/2``), ``(`` ... ``)`` around slurred notes, ``~`` between two notes for a glissando,
``r:beats`` a rest.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handslide.ground.errors import LineError, PitchError
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, parse_pitch

_TOKEN = re.compile(r"\s*(?:([()~|])|([^\s()~|]+))")


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """Notes of a line as columns of length N, in playing order.

    ``midi`` sounding MIDI numbers (int); ``onset_s`` and ``length_s`` in seconds; ``slur`` and
    ``gliss`` (bool): this note is slurred, or glides, to the next one.

    Raises
    ------
    LineError
        When the columns differ in length, a length is negative or onsets go backwards.
    """

    midi: NDArray[np.int64]
    onset_s: NDArray[np.float64]
    length_s: NDArray[np.float64]
    slur: NDArray[np.bool_]
    gliss: NDArray[np.bool_]

    def __post_init__(self) -> None:
        if len({len(column) for column in self.columns}) != 1:
            raise LineError("line.columns")
        if np.any(self.length_s < 0) or not np.all(np.isfinite(self.length_s)):
            raise LineError("line.length")
        if np.any(np.diff(self.onset_s) < 0) or not np.all(np.isfinite(self.onset_s)):
            raise LineError("line.order")
        for column in self.columns:
            column.flags.writeable = False

    @property
    def columns(self) -> tuple[NDArray[Any], ...]:
        """All columns in order."""
        return self.midi, self.onset_s, self.length_s, self.slur, self.gliss

    def __len__(self) -> int:
        return len(self.midi)

    def only(self, keep: NDArray[np.intp]) -> "Line":
        """The line with only the notes ``keep`` (sorted indices); broken slurs are dropped."""
        joined = np.zeros(len(keep), bool)
        joined[:-1] = np.diff(keep) == 1
        return Line(
            self.midi[keep],
            self.onset_s[keep],
            self.length_s[keep],
            self.slur[keep] & joined,
            self.gliss[keep] & joined,
        )


def make_line(
    midi: Sequence[int],
    onset_s: Sequence[float],
    length_s: Sequence[float],
    slur: Sequence[bool] | None = None,
    gliss: Sequence[bool] | None = None,
) -> Line:
    """A line from plain sequences; ``slur`` and ``gliss`` default to none."""
    none = np.zeros(len(midi), bool)
    return Line(
        np.array(midi, np.int64),
        np.array(onset_s, np.float64),
        np.array(length_s, np.float64),
        none.copy() if slur is None else np.array(slur, np.bool_),
        none.copy() if gliss is None else np.array(gliss, np.bool_),
    )


@dataclass(frozen=True, slots=True)
class TypedLine:
    """A line as typed: its ``pitches`` as spelled, and the :class:`Line` itself."""

    pitches: tuple[Pitch, ...]
    line: Line


def parse_line(text: str, tempo_qpm: float = 80.0) -> TypedLine:
    """Read a typed line; ``tempo_qpm`` is in quarter notes a minute, one beat is a quarter note.

    Raises
    ------
    LineError
        With the column of what can't be read.
    """
    if not 10.0 <= tempo_qpm <= 500.0:
        raise LineError("line.tempo", tempo_qpm=tempo_qpm)
    return _LineReader(text, tempo_qpm).read()


class _LineReader:
    def __init__(self, text: str, tempo_qpm: float) -> None:
        self.text = text
        self.beat_s = 60.0 / tempo_qpm
        self.now = 0.0
        self.pitches: list[Pitch] = []
        self.onsets: list[float] = []
        self.lengths: list[float] = []
        self.slur: list[bool] = []
        self.gliss: list[bool] = []
        self.open_at: int | None = None
        self.glide_at: int | None = None

    def read(self) -> TypedLine:
        end = len(self.text.rstrip())
        at = 0
        while at < end:
            match = _TOKEN.match(self.text, at)
            assert match is not None
            sign, word = match.groups()
            column = match.end() - len(sign or word) + 1
            if sign:
                self._sign(sign, column)
            else:
                self._word(word, column)
            at = match.end()
        if self.open_at is not None:
            raise _misread(self.open_at, fact("line.slur_open"))
        if self.glide_at is not None:
            raise _misread(self.glide_at, fact("line.glissando_after"))
        if not self.pitches:
            raise LineError("line.empty")
        line = make_line(
            [p.midi for p in self.pitches], self.onsets, self.lengths, self.slur, self.gliss
        )
        return TypedLine(tuple(self.pitches), line)

    def _sign(self, sign: str, column: int) -> None:
        if sign == "(":
            if self.open_at is not None:
                raise _misread(column, fact("line.slur_nested"))
            self.open_at = column
        elif sign == ")":
            if self.open_at is None:
                raise _misread(column, fact("line.slur_unopened"))
            self.open_at = None
            if self.slur:
                self.slur[-1] = False
        elif sign == "~":
            if not self.gliss or self._after_rest():
                raise _misread(column, fact("line.glissando_before"))
            self.gliss[-1] = True
            self.glide_at = column

    def _after_rest(self) -> bool:
        return self.now > self.onsets[-1] + self.lengths[-1] + 1e-9

    def _word(self, word: str, column: int) -> None:
        name, _, beats = word.partition(":")
        length = self._beats(beats, column) * self.beat_s if beats or ":" in word else self.beat_s
        if name.lower() == "r":
            if self.glide_at is not None:
                raise _misread(column, fact("line.glissando_rest"))
            if self.slur:
                self.slur[-1] = False
        else:
            try:
                pitch = parse_pitch(name)
            except PitchError as error:
                raise _misread(column, error.fact) from error
            self.pitches.append(pitch)
            self.onsets.append(self.now)
            self.lengths.append(length)
            self.slur.append(self.open_at is not None)
            self.gliss.append(False)
            self.glide_at = None
        self.now += length

    def _beats(self, text: str, column: int) -> float:
        try:
            beats = float(Fraction(text))
        except (ValueError, ZeroDivisionError):
            beats = -1.0
        if not 0.0 < beats <= 64.0:
            raise _misread(column, fact("line.beats", text=text))
        return beats


def _misread(column: int, cause: Fact) -> LineError:
    return LineError("line.column", column=column, cause=cause)
