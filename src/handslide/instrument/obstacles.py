"""What in a line can't be played on a horn within a student's limits, and the nearest that can."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from handslide.ground.pitch import Pitch, from_midi
from handslide.ground.units import midi_to_hz
from handslide.instrument.horn import Horn
from handslide.instrument.line import Line
from handslide.instrument.marks import ordinal, place_words, valve_words
from handslide.instrument.places import TOP_PARTIAL, Place, PlaceBook
from handslide.instrument.route import playable

_SEARCH_SEMITONES = 12


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Something that can't be played: ``kind`` is ``unplayable`` or ``glissando``."""

    note: int
    kind: str
    text: str


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
        for note in np.setdiff1d(np.arange(len(line)), keep).tolist()
    ]
    obstacles += [
        Obstacle(note, "glissando", _broken_glissando(pitches[note], pitches[note + 1]))
        for note in np.flatnonzero(line.gliss[:-1]).tolist()
        if not (book.places(int(line.midi[note])) and book.places(int(line.midi[note + 1])))
    ]
    rest = line.only(keep)
    gliss = rest.gliss.copy()
    for start in _impossible(rest, book):
        gliss[start] = False
        first, second = pitches[keep[start]], pitches[keep[start + 1]]
        text = why_no_glissando(book, first, second)
        obstacles.append(Obstacle(int(keep[start]), "glissando", text))
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


def _broken_glissando(first: Pitch, second: Pitch) -> str:
    return f"glissando {first.pretty} to {second.pretty}: one of its ends has no place"


def why_no_glissando(book: PlaceBook, first: Pitch, second: Pitch) -> str:
    """Why two notes can't be joined by a glissando, with the nearest pair that can."""
    start = f"glissando {first.pretty} to {second.pretty}:"
    if _tubes(book, first.midi) & _tubes(book, second.midi):
        return f"{start} it can't follow the one before it, which needs another partial"
    text = f"{start} no partial holds both ends within the slide"
    near = _nearest_glissando(book, first.midi, second.midi)
    if near is None:
        return text
    low, high, place = near
    return (
        f"{text}; the nearest that works is {_spelled(low, first)} to {_spelled(high, second)} "
        f"on the {ordinal(place.partial)} partial{valve_words(place.valves)}"
    )


def _spelled(midi: int, wish: Pitch) -> str:
    return wish.pretty if midi == wish.midi else from_midi(midi).pretty


def _nearest_glissando(book: PlaceBook, first: int, second: int) -> tuple[int, int, Place] | None:
    way = 1 if second > first else -1
    for change in range(1, min(_SEARCH_SEMITONES, abs(second - first) - 1) + 1):
        for start, end in ((first, second - way * change), (first + way * change, second)):
            ends = {(place.valves, place.partial) for place in book.places(end)}
            for place in book.places(start):
                if (place.valves, place.partial) in ends:
                    return start, end, place
    return None


def why_unplayable(book: PlaceBook, pitch: Pitch) -> str:
    """One sentence on why a note has no place for this student on this horn."""
    forbidden = book.out_of_limits(pitch.midi)
    limits = book.limits
    reasons = []
    for place in forbidden:
        wide = replace(limits, reach=None)
        if limits.reach is not None and wide.allows(place):
            reasons.append(f"it lies in {place_words(place)}, beyond the reach of {limits.reach:g}")
            break
    unlearned = [p for p in forbidden if limits.learned is not None and p.valves]
    if unlearned and not limits.learned_all(unlearned[0].valves):
        reasons.append(f"{place_words(unlearned[0])} needs a valve that isn't learned yet")
    if not reasons and forbidden:
        lowest = min(place.partial for place in forbidden)
        reasons.append(f"it needs the {ordinal(lowest)} partial, higher than this profile goes")
    if not reasons:
        reasons.append(_missed_by(book.horn, pitch))
    return f"{pitch.pretty} can't be played: {'; '.join(reasons)}"


def _missed_by(horn: Horn, pitch: Pitch) -> str:
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
        return f"it lies above the horn's {TOP_PARTIAL}th partial"
    extension, valves = min(beyond)
    short_cm = 100.0 * (extension - horn.travel_m)
    if short_cm > 100.0:
        return "it lies below the horn's lowest note"
    return (
        f"the slide{valve_words(valves)} would have to go to {horn.position(extension):.1f}, "
        f"{short_cm:.0f} cm further than it does"
    )
