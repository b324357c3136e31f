"""When a play-along plays what: its passes, what is counted in, its clicks."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from handslide.edges.musicxml.scorepart import PlayedMeasure, ScorePart
from handslide.ground.errors import BadUsage
from handslide.ground.wholenumber import whole_number
from handslide.jobs.practice.soundwishes import PlayWishes
from handslide.sound.playing.pace import Pace
from handslide.sound.playing.score import Course

_LONGEST_COUNT = 12  # beats of a measure that are counted in; free ones may have many more
_COUNT_FREELY = 4
_EPS_S = 1e-6


class Click(NamedTuple):
    """A click of the metronome; ``kind``: first of a measure, beat, or part of one."""

    at_s: float
    kind: str


@dataclass(frozen=True, slots=True)
class Section:
    """The measures to play, between two played places."""

    measures: tuple[PlayedMeasure, ...]
    begin_p: float
    end_p: float


class Pass:
    """The section once, at a tempo: from the score's places to seconds of the sound.

    Parameters
    ----------
    pace
        The performance at the score's tempo.
    speed
        How much quicker it is played.
    from_s
        Where the pass, with its count-in, begins in the sound.
    """

    def __init__(
        self, section: Section, course: Course, pace: Pace, speed: float, from_s: float, count: int
    ) -> None:
        self.section, self.course, self.pace, self.speed = section, course, pace, speed
        self.from_s = from_s
        # Each exercise of a sheet, each movement is counted in.
        self.counted = [
            (float(course.played([measure.begin_s])[0]), count_in(measure, count, speed))
            for number, measure in enumerate(section.measures)
            if number == 0 or measure.anew
        ]
        self._waits = [(at_p, length_s(counts)) for at_p, counts in self.counted[1:]]
        self._lead_s = length_s(self.counted[0][1])
        self._begin_s = pace.onset(section.begin_p, course.written(section.begin_p))

    @property
    def begins_s(self) -> float:
        """When the music begins."""
        return self.from_s + self._lead_s

    @property
    def ends_s(self) -> float:
        """When the last note's time is over."""
        end_p = self.section.end_p
        return self.until(end_p, self.course.written(end_p - 1e-4) + 1e-4)

    def onset(self, place_p: float, place_q: float) -> float:
        """When something begins that stands at both places."""
        waits = sum(wait_s for at_p, wait_s in self._waits if at_p < place_p + _EPS_S)
        return self._plain(self.pace.onset(place_p, place_q)) + waits

    def until(self, place_p: float, place_q: float) -> float:
        """When something ends: before what is counted in there."""
        waits = sum(wait_s for at_p, wait_s in self._waits if at_p < place_p - _EPS_S)
        return self._plain(self.pace.until(place_p, place_q)) + waits

    def _plain(self, at_s: float) -> float:
        return self.begins_s + (at_s - self._begin_s) / self.speed

    def clicks(self, part: ScorePart, wishes: PlayWishes) -> list[Click]:
        """The clicks of the count-ins, and those along the music if they are wanted."""
        found = []
        for at_p, counts in self.counted:
            music_s = self.onset(at_p, self.course.written(at_p))
            from_s = music_s - length_s(counts)
            for at_s, strong, gap_s in counts:
                kind = "first" if strong and wishes.accent else "beat"
                found.append(Click(from_s + at_s, kind))
                found += [
                    Click(from_s + at_s + gap_s * number / wishes.click_parts, "part")
                    for number in range(1, wishes.click_parts)
                ]
        if wishes.clicks:
            found += self._along(part, wishes)
        return found

    def _along(self, part: ScorePart, wishes: PlayWishes) -> list[Click]:
        places = self.course.played([at_s for at_s, _ in part.beats_s]).tolist()
        found = []
        for number, (at_p, (_, strong)) in enumerate(zip(places, part.beats_s)):
            if not self.section.begin_p - _EPS_S <= at_p < self.section.end_p - _EPS_S:
                continue
            kind = "first" if strong and wishes.accent else "beat"
            found.append(Click(self.onset(at_p, self.course.written(at_p)), kind))
            next_p = places[number + 1] if number + 1 < len(places) else self.section.end_p
            for share in range(1, wishes.click_parts):
                place_p = at_p + (next_p - at_p) * share / wishes.click_parts
                found.append(Click(self.onset(place_p, self.course.written(place_p)), "part"))
        return found


def section_of(part: ScorePart, course: Course, wanted: str | None) -> Section:
    """The measures that are meant. Raises BadUsage for one that isn't there."""
    first, last = _measures(part, wanted)
    measures = part.measures[first : last + 1]
    begin_p, end_p = course.played([measures[0].begin_s, measures[-1].end_s]).tolist()
    return Section(measures, begin_p, end_p)


def _measures(part: ScorePart, wanted: str | None) -> tuple[int, int]:
    """Places in ``part.measures`` of the first and last measure to play."""
    numbers = [measure.number for measure in part.measures]
    if wanted is None:
        return 0, len(numbers) - 1
    from_, dash, to = (word.strip() for word in wanted.replace("–", "-").partition("-"))
    if wanted.strip() in numbers:
        from_, dash, to = wanted.strip(), "", ""
    to = to if dash else from_
    first = _find_measure(part, from_) if from_ else 0
    if first is None:
        raise _no_measure(part, from_, wanted)
    last = _find_measure(part, to, first) if to else len(numbers) - 1
    if last is None:
        raise _no_measure(part, to, wanted)
    return first, last


def _find_measure(part: ScorePart, name: str, start: int = 0) -> int | None:
    """The place in the part as played of a measure's number, or of the Nth measure, ``#N``."""
    count = whole_number(name[1:]) if name.startswith("#") else None
    for at, measure in enumerate(part.measures[start:], start):
        if name == measure.number or (count is not None and measure.index == count - 1):
            return at
    return None


def _no_measure(part: ScorePart, number: str, wanted: str) -> BadUsage:
    known = _find_measure(part, number) is not None
    kind = "practice.no_measure_after" if known else "practice.no_measure"
    return BadUsage(
        kind, wanted=wanted, number=number, first=part.measures[0].number,
        last=part.measures[-1].number,
    )  # fmt: skip


def count_in(measure: PlayedMeasure, count: int, speed: float) -> list[tuple[float, bool, float]]:
    """Clicks before the music: (second, first of a measure, seconds until the next).

    Before an upbeat the beats that its measure lacks are counted, too.
    """
    beat_s = measure.beat_s / speed
    beats = round(measure.full_s / measure.beat_s + 0.49)
    full_s = measure.full_s / speed
    if not 1 <= beats <= _LONGEST_COUNT:
        beats, full_s = _COUNT_FREELY, _COUNT_FREELY * beat_s
    starts = [number * full_s for number in range(count)]
    ends_s = count * full_s
    if measure.upbeat and count:
        starts.append(ends_s)
        ends_s += full_s - (measure.end_s - measure.begin_s) / speed
    at_s = [start + number * beat_s for start in starts for number in range(beats)]
    kept = [second for second in at_s if second < ends_s - _EPS_S]
    gaps = [later - now for now, later in zip(kept, [*kept[1:], ends_s])]
    return [
        (second, number % beats == 0, gap) for number, (second, gap) in enumerate(zip(kept, gaps))
    ]


def length_s(counted: Sequence[tuple[float, bool, float]]) -> float:
    """How long it is counted."""
    return counted[-1][0] + counted[-1][2] if counted else 0.0
