"""Heard notes beside what is known: notes found, octave errors, cents, false notes.

A heard note is a true one when its onset is within the tolerance and its pitch within 50 cents;
the matching is the largest one (as in mir_eval.transcription, whose pitch and onset rules these
are: C. Raffel et al., "mir_eval", ISMIR 2014).
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_bipartite_matching

from .truth import TrueNote

WITHIN_CENTS = 50.0
TOLERANCES_S = (0.05, 0.1)


@dataclass(frozen=True, slots=True)
class Found:
    """A heard note; ``cents`` False where its pitch is only coarse."""

    start_s: float
    end_s: float
    hz: float
    cents: bool = True


def pairs(true: Sequence[TrueNote], heard: Sequence[Found], within_s: float) -> dict[int, int]:
    """For each true note that was found, the heard one."""
    if not true or not heard:
        return {}
    late = (
        np.array([one.start_s for one in heard])[None]
        - np.array([t.onset_s for t in true])[:, None]
    )
    near = np.abs(late) <= within_s
    for row, note in enumerate(true):
        off = np.array([_off(note, one.hz) for one in heard])
        near[row] &= np.abs(off) <= WITHIN_CENTS
    match = maximum_bipartite_matching(csr_array(near), perm_type="column")
    return {row: int(column) for row, column in enumerate(match) if column >= 0}


def _off(note: TrueNote, hz: float) -> float:
    """Cents from the nearest pitch that a note may be heard as."""
    if not hz > 0:
        return float("inf")
    offs = [1200.0 * np.log2(hz / one) for one in (note.hz, *note.also_hz)]
    return float(min(offs, key=abs))


@dataclass(slots=True)
class Tally:
    """Counts over takes; tolerances in the order of `TOLERANCES_S`."""

    takes: int = 0
    true: int = 0
    heard: list[int] = field(default_factory=lambda: [0, 0])
    right: list[int] = field(default_factory=lambda: [0, 0])
    octaves: int = 0
    cents: list[float] = field(default_factory=list)
    late_ms: list[float] = field(default_factory=list)
    seconds: float = 0.0
    cpu_s: float = 0.0
    failed: list[str] = field(default_factory=list)

    def add(self, true: Sequence[TrueNote], heard: Sequence[Found]) -> None:
        """Count a take."""
        self.takes += 1
        self.true += sum(not note.optional for note in true)
        for place, within_s in enumerate(TOLERANCES_S):
            match = pairs(true, heard, within_s)
            optional = sum(true[row].optional for row in match)
            self.heard[place] += len(heard) - optional
            self.right[place] += len(match) - optional
        self.octaves += sum(_is_octave(true, row, heard, match) for row in range(len(true)))
        for row, column in match.items():
            note = true[row]
            self.late_ms.append(1000.0 * (heard[column].start_s - note.onset_s))
            if note.exact and not note.optional and heard[column].cents:
                self.cents.append(_off(note, heard[column].hz))

    def merge(self, other: "Tally") -> None:
        """Add another tally's counts."""
        for name in ("takes", "true", "octaves", "seconds", "cpu_s"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        for place in range(2):
            self.heard[place] += other.heard[place]
            self.right[place] += other.right[place]
        self.cents += other.cents
        self.late_ms += other.late_ms
        self.failed += other.failed

    def precision(self, place: int) -> float:
        return self.right[place] / max(self.heard[place], 1)

    def recall(self, place: int) -> float:
        return self.right[place] / max(self.true, 1)

    def f(self, place: int) -> float:
        both = self.heard[place] + self.true
        return 2.0 * self.right[place] / both if both else 1.0

    @property
    def false(self) -> float:
        """Heard notes that are none, for each take."""
        return (self.heard[1] - self.right[1]) / max(self.takes, 1)

    @property
    def octaves_in_1000(self) -> float:
        return 1000.0 * self.octaves / max(self.true, 1)


def _is_octave(
    true: Sequence[TrueNote], row: int, heard: Sequence[Found], match: dict[int, int]
) -> bool:
    """Whether a true note that wasn't found was heard in another octave for most of its time."""
    note = true[row]
    if row in match or note.optional:
        return False
    for column, one in enumerate(heard):
        if column in match.values():
            continue
        shared = min(one.end_s, note.offset_s) - max(one.start_s, note.onset_s)
        off = 1200.0 * np.log2(one.hz / note.hz) if one.hz > 0 else np.inf
        octaves = round(off / 1200.0) if np.isfinite(off) else 0
        mostly = shared > 0.5 * (note.offset_s - note.onset_s)
        if octaves and mostly and abs(off - 1200.0 * octaves) <= WITHIN_CENTS:
            return True
    return False
