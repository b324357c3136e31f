"""The most likely path through expected x heard notes (see `handslide.sound.follow`).

Row by row over the heard notes, each row at once over all notes of the part: time and memory
O(expected·heard). A path's tempo is carried along, so the optimum is exact but for that.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
EXTRA = 0
"""Kind of a step: 0 an extra, 1 a match, 2 and more a match of that many equal notes."""

# Costs in nats.
_WRONG, _WRONG_SEMITONE, _WRONG_MOST = 2.6, 0.1, 4.2
_OCTAVE = 1.6
_SKIP, _SKIP_EACH, _SKIP_MOST = 1.9, 1.0, 9.0
_EXTRA, _SHORT_EXTRA, _AGAIN = 2.6, 1.7, 1.3
_SHORT_S = 0.14
_BACK, _BACK_EACH, _BACK_INSIDE, _BACK_TURNED = 3.6, 0.04, 1.6, 4.2
_JOIN, _MOST_JOINED = 1.5, 3
_FREE_END, _FREE_EACH = 0.8, 0.03
_UNKNOWN_TIME = 0.5
_NEAR = 7.0
# Onsets against the running tempo: spread of the log ratio, jitter, most for early and late.
_TEMPO_SPREAD, _JITTER_S, _MOST_EARLY, _MOST_LATE = 0.16, 0.05, 3.0, 2.2
_LEARN, _LEARN_MOST, _LEARN_UNTIL = 0.3, 0.25, 0.6
_DRIFT_MOST = math.log(1.7)
_LONG, _STACCATO, _LENGTH_SPREAD, _LENGTH_MOST = 1.3, 0.25, 0.3, 1.8
_PITCH_SPREAD = 0.28


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """Columns of the part's notes (N) and of the heard notes (J)."""

    midi: Floats
    onset_s: Floats
    length_s: Floats
    begins: NDArray[np.bool_]
    start_s: Floats
    sounds_s: Floats
    heard: Floats
    offset: float

    def error(self, number: int, heard: int) -> float:
        """How far a heard note lies above a note of the part, in semitones."""
        return float(self.heard[heard] - self.offset - self.midi[number])

    def turned(self) -> "Grid":
        """The same from the end, time running backwards."""
        return replace(
            self,
            midi=self.midi[::-1],
            onset_s=-self.onset_s[::-1],
            length_s=self.length_s[::-1],
            begins=self.begins[::-1],
            start_s=-self.start_s[::-1],
            sounds_s=self.sounds_s[::-1],
            heard=self.heard[::-1],
        )


@dataclass(frozen=True, slots=True)
class Pass:
    """How to run: the stretch to begin with (its logarithm), whether time counts at all."""

    log_stretch: float = 0.0
    timed: bool = True
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Step:
    """One heard note of a path: its kind and the first note of the part that it is (for an extra:
    the one that was due). ``timing`` is what its onset costs, ``late_s`` how late it was."""

    kind: int
    expected: int
    heard: int
    timing: float = 0.0
    late_s: float | None = None


@dataclass(slots=True, eq=False)
class _Layer:
    """Paths to each state (N + 1: how many notes of the part are behind), and what they bring:
    onsets of the last match in the part and in the take, running tempo."""

    cost: Floats
    note_s: Floats
    heard_s: Floats
    tempo: Floats

    def copy(self) -> "_Layer":
        return _Layer(self.cost.copy(), self.note_s.copy(), self.heard_s.copy(), self.tempo.copy())


@dataclass(frozen=True, slots=True, eq=False)
class _Record:
    """How each state was reached, (J, N + 1) each.

    A path is fresh if its last heard note was a match. ``kinds`` and ``match_fresh``: of a fresh
    path, its kind of match and whether it was fresh before. ``extra_fresh``: of an extra, whether
    the path was fresh before. ``source`` and ``move_fresh``: of a path that isn't fresh, where it
    was before notes were left out or gone back over, and whether it was fresh there.
    """

    kinds: NDArray[np.int8]
    match_fresh: NDArray[np.bool_]
    extra_fresh: NDArray[np.bool_]
    source: NDArray[np.int32]
    move_fresh: NDArray[np.bool_]


def most_likely(grid: Grid, how: Pass) -> list[Step]:
    """The cheapest path, one step for each heard note."""
    notes, heard = len(grid.midi), len(grid.start_s)
    shape = (heard, notes + 1)
    record = _Record(
        np.zeros(shape, np.int8), np.zeros(shape, bool), np.zeros(shape, bool),
        np.zeros(shape, np.int32), np.zeros(shape, bool),
    )  # fmt: skip
    fresh, other = _beginning(grid, how)
    runs = _runs(grid.midi)
    ways = [np.flatnonzero(runs >= count) for count in range(1, _MOST_JOINED + 1)]
    ways = [way for way in ways if len(way)]
    for h in range(heard):
        fresh, other = _hear(grid, how, (fresh, other), h, ways, record)
    ends = np.minimum(fresh.cost, other.cost) + _free(notes - np.arange(notes + 1))
    end = int(ends.argmin())
    return _timed(grid, how, _traced(end, bool(fresh.cost[end] <= other.cost[end]), record))


def _free(count: NDArray[np.intp]) -> Floats:
    return np.where(count > 0, _FREE_END + _FREE_EACH * count, 0.0)


def _beginning(grid: Grid, how: Pass) -> tuple[_Layer, _Layer]:
    number = np.arange(len(grid.midi) + 1)
    unknown = np.full(len(number), np.nan)
    tempo = np.full(len(number), how.log_stretch)
    other = _Layer(_free(number), unknown, unknown, tempo)
    return _Layer(np.full(len(number), np.inf), unknown, unknown, tempo), other


def _runs(midi: Floats) -> NDArray[np.intp]:
    """For each state, how many equal notes end there."""
    runs = np.zeros(len(midi) + 1, np.intp)
    for k in range(len(midi)):
        runs[k + 1] = runs[k] + 1 if k and midi[k] == midi[k - 1] else 1
    return runs


def _hear(
    grid: Grid,
    how: Pass,
    old: tuple[_Layer, _Layer],
    h: int,
    ways: list[NDArray[np.intp]],
    record: _Record,
) -> tuple[_Layer, _Layer]:
    """The paths after one more heard note, and after what may be left out behind it."""
    off = np.abs(grid.heard[h] - grid.offset - grid.midi)
    was_fresh = old[0].cost <= old[1].cost
    before = _chosen(was_fresh, *old)
    before.cost += _extra_cost(grid, off, h)
    record.extra_fresh[h] = was_fresh
    fresh = _matched(grid, how, old, h, off, ways, record)
    other = before
    _move(grid, how, fresh, other, record.source[h], record.move_fresh[h])
    return fresh, other


def _chosen(first: NDArray[np.bool_], one: _Layer, two: _Layer) -> _Layer:
    return _Layer(
        np.where(first, one.cost, two.cost),
        np.where(first, one.note_s, two.note_s),
        np.where(first, one.heard_s, two.heard_s),
        np.where(first, one.tempo, two.tempo),
    )


def _matched(
    grid: Grid,
    how: Pass,
    old: tuple[_Layer, _Layer],
    h: int,
    off: Floats,
    ways: list[NDArray[np.intp]],
    record: _Record,
) -> _Layer:
    """Paths on which heard note ``h`` is a note of the part, or several equal ones."""
    size = len(off) + 1
    new = _Layer(*(np.full(size, fill) for fill in (np.inf, np.nan, np.nan, how.log_stretch)))
    pitch = _pitch_cost(off)
    least = np.minimum(old[0].cost, old[1].cost)
    # Far from the best path, only a note that fits can begin anything.
    open_to = np.append((least[:-1] < least.min() + _NEAR) | (pitch < _WRONG), False)
    for count, to in enumerate(ways, 1):
        to = to[open_to[to - count]]
        first = to - count
        # A run of equal notes that sounds as one begins with the one that is first in time.
        opens, closes = (to - 1, first) if how.turned else (first, to - 1)
        held = np.abs(grid.onset_s[closes] - grid.onset_s[opens]) + grid.length_s[closes]
        if not len(to):
            continue
        for layer in old:
            cost = layer.cost[first] + (pitch[first] + _JOIN * (count - 1))
            if how.timed:
                tempo = layer.tempo[first]
                due = (grid.onset_s[opens] - layer.note_s[first]) * np.exp(tempo)
                ratio = _log_ratio(grid.start_s[h] - layer.heard_s[first], due)
                cost += _time_cost(ratio, due)
                cost += _length_cost(grid.sounds_s[h], held, tempo, count > 1)
            better = cost < new.cost[to]
            at = to[better]
            new.cost[at] = cost[better]
            new.note_s[at] = grid.onset_s[opens[better]]
            if how.timed:
                new.tempo[at] = _learned(tempo[better], ratio[better], how)
            record.kinds[h][at] = count
            record.match_fresh[h][at] = layer is old[0]
    new.heard_s[:] = grid.start_s[h]
    return new


def _log_ratio(took_s: Floats, due_s: Floats) -> Floats:
    return np.log(np.maximum(took_s, 0.01) / np.maximum(due_s, 0.01))


def _time_cost(ratio: Floats, due_s: Floats) -> Floats:
    spread = np.sqrt(_TEMPO_SPREAD**2 + (_JITTER_S / np.maximum(due_s, 0.05)) ** 2)
    cost = 0.5 * (ratio / spread) ** 2
    cost = np.minimum(cost, np.where(ratio < 0, _MOST_EARLY, _MOST_LATE))
    return np.where(np.isnan(ratio), _UNKNOWN_TIME, cost)


def _learned(tempo: Floats, ratio: Floats, how: Pass) -> Floats:
    step = np.minimum(np.maximum(ratio, -_LEARN_MOST), _LEARN_MOST)
    moved = tempo + np.where(np.abs(ratio) < _LEARN_UNTIL, _LEARN * step, 0.0)
    low, high = how.log_stretch - _DRIFT_MOST, how.log_stretch + _DRIFT_MOST
    return np.minimum(np.maximum(moved, low), high)


def _length_cost(sounds_s: float, held_s: Floats, tempo: Floats, joined: bool) -> Floats:
    share = np.log(max(sounds_s, 0.02)) - np.log(np.maximum(held_s, 0.03)) - tempo
    over = np.maximum(share - math.log(_LONG), 0.0)
    under = np.maximum(math.log(0.75 if joined else _STACCATO) - share, 0.0)
    cost = 0.5 * ((over + under) / _LENGTH_SPREAD) ** 2
    return np.minimum(cost, 3.0 * _LENGTH_MOST if joined else _LENGTH_MOST)


def _pitch_cost(off: Floats) -> Floats:
    right = 0.5 * (off / _PITCH_SPREAD) ** 2
    octaves = np.maximum(np.round(off / 12.0), 1.0)
    octave = _OCTAVE * octaves + 0.5 * ((off - 12.0 * octaves) / _PITCH_SPREAD) ** 2
    wrong = np.minimum(_WRONG + _WRONG_SEMITONE * off, _WRONG_MOST)
    return np.minimum(np.minimum(right, octave), wrong)


def _extra_cost(grid: Grid, off: Floats, h: int) -> Floats:
    plain = _SHORT_EXTRA if grid.sounds_s[h] < _SHORT_S else _EXTRA
    cost = np.full(len(off) + 1, plain)
    near = off <= 0.6
    cost[1:][near] = np.minimum(cost[1:][near], _AGAIN)
    cost[0] = cost[-1] = min(plain, _SHORT_EXTRA)
    return cost


def _move(
    grid: Grid,
    how: Pass,
    fresh: _Layer,
    other: _Layer,
    source: NDArray[np.int32],
    move_fresh: NDArray[np.bool_],
) -> None:
    """Leave notes out or go back; changes ``other`` and records where each state came from."""
    was_fresh = fresh.cost < other.cost
    best = _chosen(was_fresh, fresh, other)
    number = np.arange(len(best.cost))
    near, at_near = _running_least(best.cost - _SKIP_EACH * number)
    far, at_far = _running_least(best.cost)
    # From the end: the cheapest later state, for going back to this one.
    back, at_back = _running_least((best.cost + _BACK_EACH * number)[::-1])
    back, at_back = back[::-1] - _BACK_EACH * number, len(number) - 1 - at_back[::-1]
    back += _BACK_TURNED if how.turned else _BACK
    if not how.turned:
        back += np.where(np.append(grid.begins, False), 0.0, _BACK_INSIDE)
    cost, origin = other.cost.copy(), number.copy()
    for moved, index, allowed in (
        (near + _SKIP_EACH * number + _SKIP, at_near, at_near < number),
        (far + _SKIP_MOST, at_far, at_far < number),
        (back, at_back, at_back > number),
    ):
        better = (moved < cost) & allowed
        cost[better], origin[better] = moved[better], index[better]
    stays, went_back = origin == number, origin > number
    source[:] = origin
    move_fresh[:] = ~stays & was_fresh[origin]
    other.note_s[:] = np.where(stays, other.note_s, best.note_s[origin])
    other.heard_s[:] = np.where(stays, other.heard_s, best.heard_s[origin])
    other.note_s[went_back] = other.heard_s[went_back] = np.nan
    other.tempo[:] = np.where(stays, other.tempo, best.tempo[origin])
    other.cost[:] = cost


def _running_least(values: Floats) -> tuple[Floats, NDArray[np.intp]]:
    """The least value up to each place, and where it stands."""
    least = np.minimum.accumulate(values)
    fresh = np.concatenate(([True], values[1:] < least[:-1]))
    return least, np.maximum.accumulate(np.where(fresh, np.arange(len(values)), 0))


def _traced(at: int, fresh: bool, record: _Record) -> list[Step]:
    """Steps from the first heard note to the last, of the path that ends in state ``at``."""
    steps = []
    for h in range(len(record.kinds) - 1, -1, -1):
        if not fresh:
            fresh = bool(record.move_fresh[h, at])
            at = int(record.source[h, at])
        if fresh:
            kind = int(record.kinds[h, at])
            fresh = bool(record.match_fresh[h, at])
            at -= kind
            steps.append(Step(kind, at, h))
        else:
            fresh = bool(record.extra_fresh[h, at])
            steps.append(Step(EXTRA, at, h))
    return steps[::-1]


def _timed(grid: Grid, how: Pass, steps: list[Step]) -> list[Step]:
    """The steps with what the running tempo said of their onsets."""
    told = []
    tempo, before = np.array([how.log_stretch]), None
    due_at = 0
    for step in steps:
        if step.kind == EXTRA:
            told.append(step)
            continue
        if before is not None and step.expected >= due_at:
            opens = grid.onset_s[[step.expected]] - grid.onset_s[[before.expected]]
            due = opens * np.exp(tempo)
            took = grid.start_s[step.heard] - grid.start_s[before.heard]
            ratio = _log_ratio(np.array([took]), due)
            cost = float(_time_cost(ratio, due)[0])
            tempo = _learned(tempo, ratio, how)
            step = replace(step, timing=cost, late_s=float(took - due[0]))
        told.append(step)
        before, due_at = step, step.expected + step.kind
    return told
