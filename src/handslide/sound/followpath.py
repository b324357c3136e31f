"""The most likely path through expected x heard notes (see `handslide.sound.follow`).

Row by row over the heard notes, each row at once over all notes of the part: time and memory
O(expected·heard). A path's tempo is carried along, so the optimum is exact but for that.
"""

import math
from collections.abc import Sequence
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
_EXTRA, _SHORT_EXTRA, _AGAIN, _END_EXTRA = 2.6, 1.7, 1.3, 3.5
_SHORT_S = 0.14
_BACK, _BACK_EACH, _BACK_INSIDE, _BACK_TURNED = 3.6, 0.04, 1.6, 4.2
_JOIN, _MOST_JOINED = 1.5, 3
_FREE_END, _FREE_EACH = 0.8, 0.03
_UNKNOWN_TIME = 0.5
_NEAR = 7.0
_BLOCK, _ASIDE = 60, 100
# Onsets against the running tempo: spread of the log ratio, jitter, most for early and late.
_TEMPO_SPREAD, _JITTER_S, _MOST_EARLY, _MOST_LATE = 0.16, 0.05, 3.0, 2.2
_LEARN, _LEARN_MOST, _LEARN_UNTIL = 0.3, 0.25, 0.6
_DRIFT_MOST = math.log(1.7)
_LONG, _STACCATO, _LENGTH_SPREAD, _LENGTH_MOST = 1.3, 0.25, 0.3, 1.8
# Equal notes that ran together sound on into the last; less than that, and it was left out.
_JOINED_LEAST, _JOINED_SPREAD = 0.88, 0.09
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

    def cut(self, low: int, high: int) -> "Grid":
        """Only the part's notes from ``low`` up to ``high``, as views."""
        return replace(
            self,
            midi=self.midi[low:high],
            onset_s=self.onset_s[low:high],
            length_s=self.length_s[low:high],
            begins=self.begins[low:high],
        )


@dataclass(frozen=True, slots=True)
class Window:
    """Heard notes ``first`` up to ``stop``, for which only states ``low`` to ``high`` are tried."""

    first: int
    stop: int
    low: int
    high: int

    def turned(self, notes: int, heard: int) -> "Window":
        """The same window of the turned grid."""
        return Window(heard - self.stop, heard - self.first, notes - self.high, notes - self.low)


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

    def moved(self, was: "Window", now: "Window", tempo: float) -> "_Layer":
        """The same states in another window; those that weren't in the old one can't be reached."""
        if (was.low, was.high) == (now.low, now.high):
            return self
        new = _nowhere(now.high - now.low + 1, tempo)
        low, high = max(was.low, now.low), min(was.high, now.high)
        for one, other in zip(self.columns, new.columns):
            other[low - now.low : high + 1 - now.low] = one[low - was.low : high + 1 - was.low]
        return new

    @property
    def columns(self) -> tuple[Floats, Floats, Floats, Floats]:
        return self.cost, self.note_s, self.heard_s, self.tempo


def _nowhere(states: int, tempo: float) -> _Layer:
    return _Layer(*(np.full(states, fill) for fill in (np.inf, np.nan, np.nan, tempo)))


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

    def row(self, h: int, window: Window) -> "_Record":
        """The states of a window after heard note ``h``, as views."""
        part = h, slice(window.low, window.high + 1)
        return _Record(
            self.kinds[part],
            self.match_fresh[part],
            self.extra_fresh[part],
            self.source[part],
            self.move_fresh[part],
        )


def most_likely(grid: Grid, how: Pass, windows: Sequence[Window] | None = None) -> list[Step]:
    """The cheapest path, one step for each heard note; ``windows`` None looks everywhere."""
    notes, heard = len(grid.midi), len(grid.start_s)
    shape = (heard, notes + 1)
    record = _Record(
        np.zeros(shape, np.int8), np.zeros(shape, bool), np.zeros(shape, bool),
        np.zeros(shape, np.int32), np.zeros(shape, bool),
    )  # fmt: skip
    now = Window(0, heard, 0, notes)
    fresh, other = _beginning(grid, how)
    for window in windows or [now]:
        part = grid.cut(window.low, window.high)
        ways = _ways(part, how)
        fresh, other = (layer.moved(now, window, how.log_stretch) for layer in (fresh, other))
        now = window
        for h in range(window.first, window.stop):
            row = record.row(h, window)
            fresh, other = _hear(part, how, (fresh, other), h, ways, row)
            row.source[:] += window.low
    at = np.arange(now.low, now.high + 1)
    ends = np.minimum(fresh.cost, other.cost) + _free(notes - at)
    end = int(ends.argmin())
    is_fresh = bool(fresh.cost[end] <= other.cost[end])
    steps = _traced(int(at[end]), is_fresh, record)
    return _timed(grid, how, steps) if how.timed else steps


def windows_along(steps: Sequence[Step], notes: int) -> list[Window] | None:
    """Windows around a path that is known roughly; None where it is as quick to look everywhere.

    Each holds ``_BLOCK`` heard notes; their notes of the part and ``_ASIDE`` more on both sides.
    """
    if notes <= 3 * _ASIDE:
        return None
    at = [step.expected for step in steps]
    windows = []
    for first in range(0, len(at), _BLOCK):
        stop = min(first + _BLOCK, len(at))
        near = at[max(first - _BLOCK, 0) : stop + _BLOCK]
        low, high = max(min(near) - _ASIDE, 0), min(max(near) + _ASIDE, notes)
        windows.append(Window(first, stop, low, high))
    return windows


def _free(count: NDArray[np.intp]) -> Floats:
    return np.where(count > 0, _FREE_END + _FREE_EACH * count, 0.0)


def _beginning(grid: Grid, how: Pass) -> tuple[_Layer, _Layer]:
    number = np.arange(len(grid.midi) + 1)
    unknown = np.full(len(number), np.nan)
    tempo = np.full(len(number), how.log_stretch)
    other = _Layer(_free(number), unknown, unknown, tempo)
    return _nowhere(len(number), how.log_stretch), other


@dataclass(frozen=True, slots=True, eq=False)
class _Ways:
    """All ways of a match to reach a state, (W,) each: from state ``first`` to state ``to``.

    ``opens_s`` is the onset in the part at which its heard note should begin, ``held_s`` how long
    the part holds it.
    """

    first: NDArray[np.intp]
    to: NDArray[np.intp]
    opens_s: Floats
    held_s: Floats


def _ways(grid: Grid, how: Pass) -> _Ways:
    """Matches of one note, and of up to ``_MOST_JOINED`` equal ones in a row."""
    notes = len(grid.midi)
    run = np.ones(notes, np.intp)
    for k in range(1, notes):
        run[k] = run[k - 1] + 1 if grid.midi[k] == grid.midi[k - 1] else 1
    to = [np.flatnonzero(run >= count) + 1 for count in range(1, _MOST_JOINED + 1)]
    reached = np.concatenate(to)
    first = np.concatenate([states - count for count, states in enumerate(to, 1)])
    # A run of equal notes that sounds as one begins with the one that is first in time.
    opens, closes = (reached - 1, first) if how.turned else (first, reached - 1)
    held = np.abs(grid.onset_s[closes] - grid.onset_s[opens]) + grid.length_s[closes]
    return _Ways(first, reached, grid.onset_s[opens], held)


def _hear(
    grid: Grid,
    how: Pass,
    old: tuple[_Layer, _Layer],
    h: int,
    ways: _Ways,
    record: _Record,
) -> tuple[_Layer, _Layer]:
    """The paths after one more heard note, and after what may be left out behind it."""
    off = np.abs(grid.heard[h] - grid.offset - grid.midi)
    was_fresh = old[0].cost <= old[1].cost
    before = _chosen(was_fresh, *old)
    if how.timed:
        layers = [(old[0], np.ones_like(was_fresh)), (old[1], np.zeros_like(was_fresh))]
    else:
        # Without time, all that a path brings to a state is its cost.
        layers = [(before, was_fresh)]
    fresh = _matched(grid, how, layers, h, ways, record)
    before.cost += _extra_cost(grid, off, h)
    record.extra_fresh[:] = was_fresh
    _move(grid, how, fresh, before, record)
    return fresh, before


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
    layers: list[tuple[_Layer, NDArray[np.bool_]]],
    h: int,
    ways: _Ways,
    record: _Record,
) -> _Layer:
    """Paths on which heard note ``h`` is a note of the part, or several equal ones.

    With each of ``layers`` comes which of its paths are fresh.
    """
    new = _nowhere(len(grid.midi) + 1, how.log_stretch)
    pitch = _pitch_cost(np.abs(grid.heard[h] - grid.offset - grid.midi))
    least = np.minimum(layers[0][0].cost, layers[-1][0].cost)
    # Far from the best path, only a note that fits can begin anything.
    begun = (least[:-1] < least.min() + _NEAR) | (pitch < _WRONG)
    way = np.flatnonzero(begun[ways.first])
    first, to, opens_s = ways.first[way], ways.to[way], ways.opens_s[way]
    count = to - first
    cost = np.array([layer.cost[first] for layer, _ in layers])
    cost += pitch[first] + _JOIN * (count - 1)
    tempo = np.array([layer.tempo[first] for layer, _ in layers])
    ratio = np.zeros(cost.shape)
    if how.timed:
        before = np.array([layer.note_s[first] for layer, _ in layers])
        heard = np.array([layer.heard_s[first] for layer, _ in layers])
        due = (opens_s - before) * np.exp(tempo)
        ratio = _log_ratio(grid.start_s[h] - heard, due)
        cost += _time_cost(ratio, due)
        cost += _length_cost(grid.sounds_s[h], ways.held_s[way], tempo, count > 1)
    which = cost.argmin(axis=0)
    every = np.arange(len(way))
    cost = cost[which, every]
    # Where several ways reach one state, the last to be written is the cheapest.
    order = np.argsort(-cost, kind="stable")
    at, which, every = to[order], which[order], every[order]
    new.cost[at] = cost[order]
    new.note_s[at] = opens_s[order]
    if how.timed:
        new.tempo[at] = _learned(tempo[which, every], ratio[which, every], how)
    new.heard_s[:] = grid.start_s[h]
    record.kinds[at] = count[order]
    flags = np.array([fresh[first] for _, fresh in layers])
    record.match_fresh[at] = flags[which, every]
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


def _length_cost(
    sounds_s: float, held_s: Floats, tempo: Floats, joined: NDArray[np.bool_]
) -> Floats:
    share = math.log(max(sounds_s, 0.02)) - np.log(np.maximum(held_s, 0.03)) - tempo
    over = np.maximum(share - math.log(_LONG), 0.0) / _LENGTH_SPREAD
    under = np.where(
        joined,
        np.maximum(math.log(_JOINED_LEAST) - share, 0.0) / _JOINED_SPREAD,
        np.maximum(math.log(_STACCATO) - share, 0.0) / _LENGTH_SPREAD,
    )
    cost = 0.5 * (over + under) ** 2
    return np.minimum(cost, np.where(joined, 3.0 * _LENGTH_MOST, _LENGTH_MOST))


def _pitch_cost(off: Floats) -> Floats:
    right = 0.5 * (off / _PITCH_SPREAD) ** 2
    octaves = np.maximum(np.round(off / 12.0), 1.0)
    octave = _OCTAVE * octaves + 0.5 * ((off - 12.0 * octaves) / _PITCH_SPREAD) ** 2
    wrong = np.minimum(_WRONG + _WRONG_SEMITONE * off, _WRONG_MOST)
    return np.minimum(np.minimum(right, octave), wrong)


def _extra_cost(grid: Grid, off: Floats, h: int) -> Floats:
    short = grid.sounds_s[h] < _SHORT_S
    # A lone first or last note is more likely the part's, with its neighbour missed.
    ends = h in (0, len(grid.start_s) - 1)
    plain = _SHORT_EXTRA if short else _END_EXTRA if ends else _EXTRA
    cost = np.full(len(off) + 1, plain)
    near = off <= 0.6
    if not ends:
        cost[1:][near] = np.minimum(cost[1:][near], _AGAIN)
        # Before the part begins, its first note is tried as it is tried again afterwards.
        cost[0] = _AGAIN if near[0] else cost[0]
    return cost


def _move(
    grid: Grid,
    how: Pass,
    fresh: _Layer,
    other: _Layer,
    record: _Record,
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
    record.source[:] = origin
    record.move_fresh[:] = ~stays & was_fresh[origin]
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
