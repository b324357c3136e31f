"""The order in which measures are played: repeats, endings, da capo, dal segno, fine, coda.

Conventions
-----------
- A backward repeat goes back to the last forward repeat, or else to the measure after the last
  backward repeat, or else to the start of the movement. Two passes unless ``times`` or the endings
  say more.
- A jump back (da capo, dal segno) is taken once, after the repeats that end with it. After it no
  repeat is played again (unless the file says ``after-jump``), the last ending is taken, and
  "to coda" and "fine" count.
- Da capo goes to the start of the movement. A movement starts where measure numbers restart, or
  after a final bar line.
- After a fine, the music goes on behind the da capo, if there is any.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from handslide.edges.musicxml.signs import Jump, MeasureSigns
from handslide.ground.facts import Fact, fact
from handslide.ground.wholenumber import whole_number

_MIN_CAP = 4000


class Span(NamedTuple):
    """A stretch of one measure, in quarters from its start: ``from_q <= onset < to_q``."""

    measure: int
    from_q: float = 0.0
    to_q: float = math.inf


@dataclass(frozen=True, slots=True)
class Ending:
    """A bracket over measures ``first`` to ``last`` that is played in some passes only."""

    first: int
    last: int
    passes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class PlayOrder:
    """Spans in the order of playing, and what couldn't be followed: (measure index, fact)."""

    spans: tuple[Span, ...]
    problems: tuple[tuple[int, Fact], ...]


def play_order(
    numbers: Sequence[str], lengths_q: Sequence[float], signs: Mapping[int, MeasureSigns]
) -> PlayOrder:
    """The order of playing.

    Parameters
    ----------
    numbers : sequence of str
        Printed measure numbers.
    lengths_q : sequence of float
        Length of each measure in quarter notes.
    signs : mapping
        Signs of the measures that have any, by index of the measure.
    """
    if not any(one.backward or one.jumps or one.ending is not None for one in signs.values()):
        return PlayOrder(tuple(Span(index) for index in range(len(numbers))), ())
    walk = _Walk(numbers, lengths_q, signs)
    walk.run()
    return PlayOrder(tuple(walk.spans), tuple(walk.problems))


def movement_starts(numbers: Sequence[str], signs: Mapping[int, MeasureSigns]) -> list[int]:
    """Indices of the measures with which a movement starts; the first is 0."""
    starts, before = [0], 0
    for index, text in enumerate(numbers):
        here = whole_number(text)
        bar = signs.get(index - 1)
        closed = bar is not None and bar.final and not bar.backward and not bar.jumps
        restarted = here is not None and here <= 1 < before
        if index > 0 and (restarted or (closed and _is_new_start(here, before))):
            starts.append(index)
        before = before if here is None else here
    return starts


def _is_new_start(here: int | None, before: int) -> bool:
    return here is None or here != before


class _Walk:
    def __init__(
        self,
        numbers: Sequence[str],
        lengths_q: Sequence[float],
        signs: Mapping[int, MeasureSigns],
    ) -> None:
        self.count = len(numbers)
        self.lengths_q, self.signs = lengths_q, signs
        self.starts = movement_starts(numbers, signs)
        self.groups = _ending_groups(self.count, signs)
        self.spans: list[Span] = []
        self.problems: list[tuple[int, Fact]] = []
        self.cap = max(_MIN_CAP, 16 * self.count)
        self.section, self.turn = 0, 1
        self.origin: tuple[int, Jump] | None = None  # where the jump back was taken
        self.taken: set[tuple[int, str]] = set()

    def run(self) -> None:
        place: tuple[int, float] | None = (0, 0.0)
        while place is not None and place[0] < self.count:
            if len(self.spans) >= self.cap:
                self.problems.append((place[0], fact("scores.many_repeats", count=self.cap)))
                return
            place = self._step(*place)

    def _step(self, index: int, from_q: float) -> tuple[int, float] | None:
        """Play measure ``index`` from ``from_q`` on and say where to go next."""
        signs = self.signs.get(index)
        if index in self.starts and self.section != index and self._is_behind_jump(index):
            self.origin, self.section, self.turn = None, index, 1
        if signs is None:
            self.spans.append(Span(index, from_q))
            return index + 1, 0.0
        if signs.forward and self.section != index:
            self.section, self.turn = index, 1
        group = self.groups.get(index)
        if group is not None and signs.ending is not None:
            ending = next(one for one in group if one.first == index)
            if not self._plays(ending, group):
                return ending.last + 1, 0.0
        return self._leave(index, from_q, signs)

    def _is_behind_jump(self, index: int) -> bool:
        """A movement that begins behind the da capo of the one before is played afresh."""
        return self.origin is None or index > self.origin[0]

    def _plays(self, ending: Ending, group: tuple[Ending, ...]) -> bool:
        if self.origin is not None and not self._repeats_after_jump(group):
            return ending is group[-1]
        return self.turn in ending.passes

    def _repeats_after_jump(self, group: tuple[Ending, ...]) -> bool:
        return any(self._signs(one.last).after_jump for one in group)

    def _signs(self, index: int) -> MeasureSigns:
        return self.signs.get(index) or MeasureSigns()

    def _leave(self, index: int, from_q: float, signs: MeasureSigns) -> tuple[int, float] | None:
        for jump in sorted(signs.jumps, key=lambda one: (one.at_q, one.text_only)):
            # Words at the head of a measure are meant for its end, where there is no room.
            ends = jump.text_only or jump.at_q == 0.0
            ends = ends or jump.at_q >= self.lengths_q[index] - 0.01
            if not ends and jump.at_q < from_q:
                continue
            target = self._target(index, jump, signs)
            if target is not None:
                self.spans.append(Span(index, from_q, math.inf if ends else jump.at_q))
                return target
        self.spans.append(Span(index, from_q))
        if signs.backward:
            if self.turn < self._passes(index, signs):
                self.turn += 1
                return self.section, 0.0
            self.section, self.turn = index + 1, 1
        return index + 1, 0.0

    def _passes(self, index: int, signs: MeasureSigns) -> int:
        if self.origin is not None and not signs.after_jump:
            return 1
        group = next(
            (group for group in self.groups.values() if any(one.last == index for one in group)),
            None,
        )
        if group is None:
            return max(1, min(signs.times if signs.times is not None else 2, self.cap))
        most = max((turn for one in group for turn in one.passes), default=1)
        if all(self._signs(one.last).backward for one in group) and len(group) == 1:
            return max(most + 1, signs.times or 0)
        return most

    def _target(self, index: int, jump: Jump, signs: MeasureSigns) -> tuple[int, float] | None:
        """Where a jump leads now, or None when it isn't taken (yet, or any more)."""
        if jump.kind in ("dacapo", "dalsegno"):
            repeats = signs.backward and self.turn < self._passes(index, signs)
            if self.origin is not None or (index, jump.kind) in self.taken or repeats:
                return None
            return self._jump_back(index, jump)
        if self.origin is None:
            return None
        if jump.kind == "fine":
            after = self.origin[0] + 1
            self.origin, self.section, self.turn = None, after, 1
            return (after, 0.0) if after < self.count else (self.count, 0.0)
        if jump.kind == "tocoda":
            return self._find("coda", jump.label, index, after=True)
        return None

    def _jump_back(self, index: int, jump: Jump) -> tuple[int, float] | None:
        if jump.kind == "dacapo":
            target: tuple[int, float] | None = (max(s for s in self.starts if s <= index), 0.0)
        else:
            target = self._find("segno", jump.label, index, after=False)
        if target is None:
            self._report(index, fact("scores.no_segno"))
            return None
        if jump.text_only:
            da_capo = jump.kind == "dacapo"
            words = fact("scores.da_capo_words") if da_capo else fact("scores.dal_segno_words")
            self._report(index, words)
        self.taken.add((index, jump.kind))
        self.origin = (index, jump)
        self.section, self.turn = target[0], 1
        return target

    def _report(self, index: int, problem: Fact) -> None:
        if (index, problem) not in self.problems:
            self.problems.append((index, problem))

    def _find(self, kind: str, label: str, index: int, *, after: bool) -> tuple[int, float] | None:
        """The sign of that kind nearest to measure ``index``, best with the same label."""
        found = [
            (one.label == label, -abs(place - index), place, one.at_q)
            for place, signs in self.signs.items()
            for one in signs.jumps
            if one.kind == kind and (place > index if after else place <= index)
        ]
        if not found:
            return None
        _, _, place, at_q = max(found)
        if at_q >= self.lengths_q[place] - 0.01:
            return place + 1, 0.0
        return place, at_q


def _ending_groups(count: int, signs: Mapping[int, MeasureSigns]) -> dict[int, tuple[Ending, ...]]:
    """Endings that belong together (one follows the other), by the first measure of each."""
    groups: list[list[Ending]] = []
    for index in sorted(index for index, one in signs.items() if one.ending is not None):
        last = _ending_last(index, count, signs)
        joined = bool(groups) and groups[-1][-1].last == index - 1
        if not joined:
            groups.append([])
        passes = signs[index].ending or (len(groups[-1]) + 1,)
        groups[-1].append(Ending(index, last, passes))
    return {one.first: tuple(group) for group in groups for one in group}


def _ending_last(first: int, count: int, signs: Mapping[int, MeasureSigns]) -> int:
    for index in range(first, count):
        one = signs.get(index)
        if one is not None and (one.ending_stops or one.backward):
            return index
        following = signs.get(index + 1)
        if following is not None and (following.ending is not None or following.forward):
            return index
    return first
