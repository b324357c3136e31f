"""A written line to the line as played: seconds, repeats followed, ties joined, grace notes placed.

Conventions
-----------
- A tempo mark belongs to its place in the part and holds until the next one; going back goes back
  to the tempo of that place. One that sets two note values equal goes by the tempo before it.
  Fermatas and words such as "rit." don't change it (`handslide.sound.playing` plays them).
- A grace note takes 0.1 s, or a quarter of the note or rest before it (shared by a group) when
  that is less. With nothing before it, it takes that from the note behind it.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import inf
from typing import Any

from handslide.edges.musicxml.line import WrittenLine
from handslide.edges.musicxml.order import PlayOrder, Span
from handslide.edges.musicxml.signs import (
    Jump,
    Modulation,
    direction_tempo,
    jumps_of,
    number,
    tempo_of,
)
from handslide.ground.limits import PLAYED_NOTES

GRACE_S = 0.1
_SLUR_GAP_S = 0.02
_QPM = (1.0, 2000.0)  # what can be a tempo


@dataclass(slots=True)
class PlayedLine:
    """Columns of the line as played, in seconds."""

    note: list[int] = field(default_factory=list)
    onset_s: list[float] = field(default_factory=list)
    length_s: list[float] = field(default_factory=list)
    slur: list[bool] = field(default_factory=list)
    gliss: list[bool] = field(default_factory=list)


class TempoMap:
    """Written place (quarter notes from the start) to seconds, without repeats."""

    def __init__(
        self, tempos: Iterable[tuple[float, float | Modulation]], default_qpm: float
    ) -> None:
        marks = sorted(tempos, key=lambda mark: mark[0])
        self.assumed = not marks or marks[0][0] > 0.0
        self.place_q, self.place_s = [0.0], [0.0]
        self.s_per_q = [60.0 / default_qpm]
        marked_q = -1.0
        for at_q, tempo in marks:
            if isinstance(tempo, Modulation):
                if at_q == marked_q:  # the same in another part, or said in numbers, too
                    continue
                tempo = min(max(60.0 / self.s_per_q[-1] * tempo.factor, _QPM[0]), _QPM[1])
            marked_q = at_q
            if at_q > self.place_q[-1]:
                self.place_s.append(self.seconds([at_q])[0])
                self.place_q.append(at_q)
                self.s_per_q.append(0.0)
            self.s_per_q[-1] = 60.0 / tempo

    def seconds(self, places_q: Iterable[float]) -> list[float]:
        """Seconds at each of the places."""
        begin_q = begin_s = end_q = rate = 0.0
        found = []
        for place in places_q:
            # Most stand behind the same tempo mark as the one before them.
            if not begin_q <= place < end_q:
                index = bisect_right(self.place_q, place) - 1
                begin_q, begin_s = self.place_q[index], self.place_s[index]
                end_q, rate = (*self.place_q, inf)[index + 1], self.s_per_q[index]
            found.append(begin_s + (place - begin_q) * rate)
        return found


def play(line: WrittenLine, order: PlayOrder, tempo: TempoMap) -> PlayedLine:
    """The line as played in this order at this tempo."""
    onset_s = tempo.seconds(line.start_q)
    end_s = tempo.seconds([a + b for a, b in zip(line.start_q, line.length_q)])
    if _is_straight(order.spans, len(line.numbers)):
        segments: Sequence[int] = range(len(onset_s))
    else:
        segments, onset_s, end_s = _unrolled(line, order.spans, tempo, onset_s, end_s)
    played = _joined(line, segments, onset_s, end_s)
    if line.graces:
        _place_graces(line, played)
    _clear_far_slurs(played)
    return played


def _is_straight(spans: Sequence[Span], count: int) -> bool:
    return len(spans) == count and all(
        span.measure == index and span.from_q == 0.0 and span.to_q > 1e9
        for index, span in enumerate(spans)
    )


def _unrolled(
    line: WrittenLine,
    spans: Sequence[Span],
    tempo: TempoMap,
    onset_s: Sequence[float],
    end_s: Sequence[float],
) -> tuple[list[int], list[float], list[float]]:
    first = [*line.first_segment, len(line.start_q)]
    segments: list[int] = []
    onsets, ends = [], []
    clock_s = 0.0
    for span in spans:
        measure_q = line.measure_q[span.measure]
        to_q = min(span.to_q, line.measure_length_q[span.measure])
        begin_s, finish_s = tempo.seconds([measure_q + span.from_q, measure_q + to_q])
        shift_s = clock_s - begin_s
        whole = span.from_q == 0.0 and span.to_q > 1e9
        for segment in range(first[span.measure], first[span.measure + 1]):
            place_q = line.start_q[segment] - measure_q
            if whole or span.from_q - 1e-6 <= place_q < span.to_q - 1e-6:
                segments.append(segment)
                onsets.append(onset_s[segment] + shift_s)
                ends.append(end_s[segment] + shift_s)
        clock_s += finish_s - begin_s
        if len(segments) > PLAYED_NOTES:
            break
    return segments, onsets, ends


def _joined(
    line: WrittenLine,
    segments: Sequence[int],
    onset_s: Sequence[float],
    end_s: Sequence[float],
) -> PlayedLine:
    """Tied segments made one note; the marks of the last segment decide what follows."""
    head, slurred, gliding = line.head, line.slurred, line.gliding
    slur = [segment in slurred for segment in segments]
    gliss = [segment in gliding for segment in segments]
    notes = [head[segment] for segment in segments]
    lengths = [end - onset for onset, end in zip(onset_s, end_s)]
    played = PlayedLine(notes, list(onset_s), lengths, slur, gliss)
    if not line.joined:
        return played
    joined, before = PlayedLine(), -1
    for place, segment in enumerate(segments):
        # Going back into the middle of a tie strikes the note again.
        onward, before = before < segment, segment
        if onward and segment in line.joined and joined.note and joined.note[-1] == notes[place]:
            joined.length_s[-1] = end_s[place] - joined.onset_s[-1]
            joined.slur[-1] = slur[place]
            joined.gliss[-1] = joined.gliss[-1] or gliss[place]
            continue
        joined.note.append(notes[place])
        joined.onset_s.append(onset_s[place])
        joined.length_s.append(lengths[place])
        joined.slur.append(slur[place])
        joined.gliss.append(gliss[place])
    return joined


def _place_graces(line: WrittenLine, played: PlayedLine) -> None:
    graces = {line.head[segment] for segment in line.graces}
    place, count = 0, len(played.note)
    while place < count:
        group = place
        while group < count and played.note[group] in graces and played.length_s[group] <= 0.0:
            group += 1
        if group > place:
            _place_group(played, place, group)
        place = max(group, place + 1)


def _place_group(played: PlayedLine, first: int, behind: int) -> None:
    """Give grace notes ``first`` to ``behind - 1`` their time."""
    count, at_s = behind - first, played.onset_s[first]
    room_s = at_s - (played.onset_s[first - 1] if first > 0 else 0.0)
    if room_s > 1e-9:
        each_s = min(GRACE_S, room_s / 4 / count)
        start_s = at_s - each_s * count
        if first > 0:
            before_end_s = played.onset_s[first - 1] + played.length_s[first - 1]
            if before_end_s > start_s:
                played.length_s[first - 1] = start_s - played.onset_s[first - 1]
    else:
        room_s = played.length_s[behind] if behind < len(played.note) else 4 * GRACE_S
        each_s = min(GRACE_S, room_s / 4 / count)
        start_s = at_s
        if behind < len(played.note):
            played.onset_s[behind] += each_s * count
            played.length_s[behind] -= each_s * count
    for place in range(first, behind):
        played.onset_s[place] = start_s + each_s * (place - first)
        played.length_s[place] = each_s


def _clear_far_slurs(played: PlayedLine) -> None:
    """A bow over a rest is a phrase, not a slur; and nothing follows the last note."""
    onset_s, length_s, slur = played.onset_s, played.length_s, played.slur
    if slur:
        slur[-1] = played.gliss[-1] = False
    for place, slurred in enumerate(slur):
        if slurred and onset_s[place + 1] - onset_s[place] - length_s[place] > _SLUR_GAP_S:
            slur[place] = False


def signs_of_other_part(
    roots: Iterable[Any],
) -> tuple[list[tuple[int, float, float | Modulation]], list[tuple[int, Jump]]]:
    """Tempos (measure index, quarters into it, qpm) and jumps that stand in another part only.

    ``roots`` as for `handslide.edges.musicxml.line.read_line`.
    """
    tempos: list[tuple[int, float, float | Modulation]] = []
    jumps: list[tuple[int, Jump]] = []
    divisions = 1.0
    index, holder = -1, None
    for root in roots:
        if root.getparent().tag == "measure":
            index, holder = index + 1, root
        for element in root.iter("measure", "divisions", "sound", "metronome"):
            if element.tag == "measure":
                index, holder = index + 1, element
            elif element.tag == "divisions":
                divisions = number(element.text) or divisions
            elif holder is not None:
                child = _child_of(holder, element)
                at_q = _place_q(child, divisions)
                in_direction = child.tag == "direction"
                tempo = direction_tempo(child) if in_direction else tempo_of(element)
                if tempo is not None:
                    tempos.append((index, at_q, tempo))
                if element.tag == "sound":
                    jumps.extend((index, jump) for jump in jumps_of(element, at_q))
    return tempos, jumps


def _child_of(holder: Any, element: Any) -> Any:
    """The child of ``holder`` that ``element`` is in; itself where it is in none, as what follows a
    measure within a measure."""
    child = element
    for ancestor in element.iterancestors():
        if ancestor is holder:
            return child
        child = ancestor
    return element


def _place_q(element: Any, divisions: float) -> float:
    place = 0.0
    for other in element.itersiblings(preceding=True):
        sign = {"note": 1.0, "forward": 1.0, "backup": -1.0}.get(other.tag)
        if sign is not None and other.find("chord") is None:
            place += sign * (number(other.findtext("duration")) or 0.0)
    return max(0.0, place / divisions)
