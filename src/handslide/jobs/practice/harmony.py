"""The harmony that a drone follows: read from a score's chord symbols, or found in its parts."""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from handslide.edges.musicxml.scorepart import PlayedMeasure, ScorePart
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, parse_pitch
from handslide.jobs.practice.playtime import Pass, Section
from handslide.jobs.practice.soundwishes import HARMONY_SOURCES, HELD_TONES, HarmonyWishes
from handslide.sound.playing.harmony import (
    Stretch,
    beats_to_cells,
    found_harmony,
    said_harmony,
    sure_harmony,
)
from handslide.sound.playing.held import Held, Tuning, drone_tones, held_tones, tuned_to
from handslide.sound.playing.phrasing import Timed, Tone
from handslide.sound.playing.score import PlayedScore

_LOW = (24, 72)  # what the lowest root can be: C1 to C5
_MOST_TOLD = 12
_NEAR_Q, _EPS = 1e-4, 1e-6


class PlayedChord(NamedTuple):
    """A chord of the first pass: its times in the sound, the measure that it begins in.

    ``root`` None: none is held, as there is none, or none that is ``sure`` enough.
    """

    begin_s: float
    end_s: float
    measure: str
    root: Pitch | None
    kind: str
    sure: float


@dataclass(frozen=True, slots=True, eq=False)
class Harmony:
    """The drone of a score: ``source`` is chords or parts."""

    source: str
    wishes: HarmonyWishes
    stretches: tuple[Stretch, ...]
    held: tuple[Held, ...]
    tuning: Tuning
    low: int

    def tones(self, one: Pass) -> list[Tone]:
        """The drone of a pass: what it begins with sounds in the count-in already, to tune to."""
        written, begin_p = one.course.written, one.section.begin_p

        def onset(place_p: float) -> float:
            first = place_p <= begin_p + _EPS
            return one.from_s if first else one.onset(place_p, written(place_p))

        return drone_tones(
            self.held,
            onset,
            lambda place_p: one.until(place_p, written(place_p - _NEAR_Q) + _NEAR_Q),
            (begin_p, one.section.end_p),
            self.tuning,
        )

    def tuned(self, timed: Sequence[Timed]) -> list[Timed]:
        """The part, in tune with the drone."""
        if not self.wishes.just:
            return list(timed)
        return tuned_to(timed, self.stretches, self.low, self.tuning)


def harmony_of(
    concert: PlayedScore,
    part: ScorePart,
    section: Section,
    wishes: HarmonyWishes,
    a4_hz: float,
) -> Harmony:
    """The drone for a score that was read with all its parts.

    Raises
    ------
    BadUsage, PitchError
        Wishes out of range; no chord symbols, no other parts, nothing that is sure.
    """
    low = _check(wishes)
    base = None if wishes.base is None else parse_pitch(wishes.base)
    source = wishes.source or ("chords" if concert.chords else "parts")
    stretches = _stretches(concert, part, source)
    inside = [one for one in stretches if _overlap(one, section) > _EPS]
    if all(one.chord is None for one in inside):
        raise BadUsage("practice.no_sure_harmony", source=source)
    left_out = () if wishes.own else concert.parts[0].rows
    held = held_tones(inside, wishes.tones, low, left_out)
    if not held:
        raise BadUsage("practice.all_left_out")
    tuning = Tuning(wishes.just, base, a4_hz)
    return Harmony(source, wishes, tuple(inside), tuple(held), tuning, low)


def _check(wishes: HarmonyWishes) -> int:
    """The lowest root's MIDI number. Raises BadUsage, PitchError."""
    if wishes.source not in (None, *HARMONY_SOURCES):
        raise BadUsage("practice.harmony_source", wish=wishes.source, known=HARMONY_SOURCES)
    if wishes.tones not in HELD_TONES:
        raise BadUsage("practice.held_tones", wish=wishes.tones, known=HELD_TONES)
    if wishes.base is not None and not wishes.just:
        raise BadUsage("practice.base_of_equal")
    low = parse_pitch(wishes.low)
    if not _LOW[0] <= low.midi <= _LOW[1]:
        raise BadUsage("practice.lowest_root", note=low)
    return low.midi


def _stretches(concert: PlayedScore, part: ScorePart, source: str) -> list[Stretch]:
    end_p = float(concert.course.place_p[-1])
    if source == "chords":
        if not concert.chords:
            raise BadUsage("practice.no_chord_symbols")
        return said_harmony(concert.chords, concert.course, concert.timing.ends, end_p)
    if len(concert.parts) < 2:
        raise BadUsage("practice.one_line_alone")
    rows = [row for one in concert.parts for row in one.rows if not row.grace]
    places = concert.course.played([at_s for at_s, _ in part.beats_s]).tolist()
    beats = [(at_p, strong) for at_p, (_, strong) in zip(places, part.beats_s)]
    return sure_harmony(found_harmony(rows, beats_to_cells(beats, end_p), end_p))


def _overlap(one: Stretch, section: Section) -> float:
    return min(one.end_p, section.end_p) - max(one.begin_p, section.begin_p)


def played_chords(harmony: Harmony, part: ScorePart, spelled: Sequence[Pitch], one: Pass) -> tuple[
    PlayedChord, ...
]:  # fmt: skip
    """The chords of a pass, with their seconds and measures."""
    begins = one.course.played([measure.begin_s for measure in part.measures]).tolist()
    found = []
    for stretch in harmony.stretches:
        begin_p = max(stretch.begin_p, one.section.begin_p)
        end_p = min(stretch.end_p, one.section.end_p)
        chord = stretch.chord
        found.append(
            PlayedChord(
                one.onset(begin_p, one.course.written(begin_p)),
                one.until(end_p, one.course.written(end_p - _NEAR_Q) + _NEAR_Q),
                _measure_at(part.measures, begins, begin_p).number,
                None if chord is None else spelled[chord.root],
                "none" if chord is None else chord.kind,
                stretch.sure,
            )
        )
    return tuple(found)


def _measure_at(
    measures: Sequence[PlayedMeasure], begins: Sequence[float], place_p: float
) -> PlayedMeasure:
    return measures[max(0, bisect_right(begins, place_p + _EPS) - 1)]


def harmony_warnings(chords: Sequence[PlayedChord], source: str) -> tuple[Fact, ...]:
    """What to say of where nothing is held though there may be a chord."""
    silent = [one for one in chords if one.root is None and one.sure < 1.0]
    if not silent:
        return ()
    whole_s = chords[-1].end_s - chords[0].begin_s
    share = sum(one.end_s - one.begin_s for one in silent) / whole_s
    measures = tuple(dict.fromkeys(one.measure for one in silent))
    kind = "practice.harmony_unsure" if source == "parts" else "practice.unread_chords"
    more = len(measures) > _MOST_TOLD
    return (fact(kind, measures=measures[:_MOST_TOLD], more=more, percent=100.0 * share),)


def harmony_json(harmony: Harmony, chords: Iterable[PlayedChord]) -> dict[str, Any]:
    """JSON of a drone that follows a part: its chords with their times and frequencies."""
    return {
        "from": harmony.source,
        "tones": harmony.wishes.tones,
        "own": harmony.wishes.own,
        "just": harmony.wishes.just,
        "chords": [
            {
                "begin_s": round(one.begin_s, 4),
                "end_s": round(one.end_s, 4),
                "measure": one.measure,
                "root": None if one.root is None else one.root.name[:-1],
                "kind": one.kind,
                "sure": round(one.sure, 3),
            }
            for one in chords
        ],
    }
