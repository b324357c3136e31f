"""What in a line can't be played on a horn within a student's limits, and the nearest that can."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, from_midi
from handslide.ground.units import midi_to_hz
from handslide.instrument.horn import Horn
from handslide.instrument.line import Line
from handslide.instrument.places import TOP_PARTIAL, Limits, Place, PlaceBook
from handslide.instrument.route import playable

_SEARCH_SEMITONES = 12
# A note further off than this isn't nearly there: the horn just doesn't go so low.
_FAR_BELOW_M = 1.0


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Something that can't be played: ``kind`` is ``unplayable`` or ``glissando``."""

    note: int
    kind: str
    why: Fact


@dataclass(frozen=True, slots=True, eq=False)
class Cleared:
    """A line without its obstacles: the routable notes ``keep`` of the line asked for."""

    line: Line
    keep: NDArray[np.intp]
    obstacles: tuple[Obstacle, ...]


def clear(line: Line, book: PlaceBook, pitches: Sequence[Pitch]) -> Cleared:
    """Take unplayable notes and impossible glissandi out of a line, and say why."""
    keep = playable(line, book)
    if len(keep) == len(line) and not line.gliss.any():
        return Cleared(line, keep, ())
    obstacles = [
        Obstacle(note, "unplayable", why_unplayable(book, pitches[note]))
        for note in sorted(set(range(len(line))).difference(keep.tolist()))
    ]
    obstacles += [
        Obstacle(
            note,
            "glissando",
            fact("places.glissando_end", first=pitches[note], last=pitches[note + 1]),
        )
        for note in np.flatnonzero(line.gliss[:-1]).tolist()
        if not (book.places(int(line.midi[note])) and book.places(int(line.midi[note + 1])))
    ]
    rest = line.only(keep)
    gliss = rest.gliss.copy()
    for start in _impossible(rest, book):
        gliss[start] = False
        first, second = pitches[keep[start]], pitches[keep[start + 1]]
        why = why_no_glissando(book, first, second)
        obstacles.append(Obstacle(int(keep[start]), "glissando", why))
    cleared = Line(rest.midi, rest.onset_s, rest.length_s, rest.slur, gliss)
    return Cleared(cleared, keep, tuple(sorted(obstacles, key=lambda o: o.note)))


def _impossible(line: Line, book: PlaceBook) -> list[int]:
    """Starts of the glissandi that can't be played, given those before them in a chain."""
    broken: list[int] = []
    reached: set[tuple[tuple[str, ...], int]] | None = None
    for note in np.flatnonzero(line.gliss).tolist():
        here = _tubes(book, int(line.midi[note]))
        if reached is not None and note > 0 and line.gliss[note - 1] and note - 1 not in broken:
            here &= reached
        both = here & _tubes(book, int(line.midi[note + 1]))
        if both:
            reached = both
        else:
            broken.append(note)
            reached = None
    return broken


def _tubes(book: PlaceBook, midi: int) -> set[tuple[tuple[str, ...], int]]:
    return {(place.valves, place.partial) for place in book.places(midi)}


def why_no_glissando(book: PlaceBook, first: Pitch, second: Pitch) -> Fact:
    """Why two notes can't be joined by a glissando, with the nearest pair that can."""
    if _tubes(book, first.midi) & _tubes(book, second.midi):
        return fact("places.glissando_chain", first=first, last=second)
    near = _nearest_glissando(book, first.midi, second.midi)
    if near is None:
        return fact("places.glissando", first=first, last=second)
    start, end, place = near
    return fact(
        "places.glissando_nearest",
        first=first,
        last=second,
        near_first=_spelled(start, first),
        near_last=_spelled(end, second),
        partial=place.partial,
        valves=place.valves,
    )


def _spelled(midi: int, wish: Pitch) -> Pitch:
    return wish if midi == wish.midi else from_midi(midi)


def _nearest_glissando(book: PlaceBook, first: int, second: int) -> tuple[int, int, Place] | None:
    way = 1 if second > first else -1
    for change in range(1, min(_SEARCH_SEMITONES, abs(second - first) - 1) + 1):
        for start, end in ((first, second - way * change), (first + way * change, second)):
            ends = {(place.valves, place.partial) for place in book.places(end)}
            for place in book.places(start):
                if (place.valves, place.partial) in ends:
                    return start, end, place
    return None


def why_unplayable(book: PlaceBook, pitch: Pitch) -> Fact:
    """Why a note has no place for this student on this horn: ``causes`` are facts."""
    forbidden = book.out_of_limits(pitch.midi)
    limits = book.limits
    causes = []
    for place in forbidden:
        wide = replace(limits, reach=None)
        if limits.reach is not None and wide.allows(place):
            causes.append(fact("places.beyond_reach", place=place, reach=limits.reach))
            break
    unlearned = [p for p in forbidden if limits.learned is not None and p.valves]
    if unlearned and not limits.learned_all(unlearned[0].valves):
        causes.append(fact("places.unlearned", place=unlearned[0]))
    if not causes and forbidden:
        lowest = min(place.partial for place in forbidden)
        causes.append(fact("places.high_partial", partial=lowest))
    return fact("places.unplayable", pitch=pitch, causes=causes or [_missed_by(book.horn, pitch)])


def why_forbidden(limits: Limits, place: Place, told: Place) -> Fact:
    """Which of a student's limits forbids a place, ``told`` as beside its mark."""
    if not limits.learned_all(place.valves):
        return fact("places.forbidden_valve", place=told)
    if limits.reach is not None and place.position > limits.reach:
        return fact("places.forbidden_reach", place=told, reach=limits.reach)
    return fact("places.forbidden_partial", place=told, partial=place.partial)


def _missed_by(horn: Horn, pitch: Pitch) -> Fact:
    """How far the slide falls short of the note, or that the note lies outside the horn."""
    hz = midi_to_hz(pitch.midi, horn.a4_hz)
    beyond = []
    for valves in horn.valve_sets:
        tube = horn.length_m + horn.loops_m(valves)
        for partial in range(1, TOP_PARTIAL + 1):
            extension = (partial * horn.speed_m_s / (2.0 * hz) - tube) / 2.0
            if extension > horn.travel_m:
                beyond.append((extension, valves))
                break
    if not beyond:
        return fact("places.above", partial=TOP_PARTIAL)
    extension, valves = min(beyond)
    missing_m = extension - horn.travel_m
    if missing_m > _FAR_BELOW_M:
        return fact("places.below")
    return fact(
        "places.slide_short",
        valves=valves,
        position=horn.position(extension),
        missing_mm=1000.0 * missing_m,
    )
