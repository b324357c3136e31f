"""Exercises around the notes and intervals that went worst."""

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from handslide.drills.piece import Piece
from handslide.drills.placed import (
    DOTTED_HALF,
    EIGHTH,
    FASTEST_M_S,
    HALF,
    QUARTER,
    WHOLE,
    Bar,
    Player,
    Wishes,
    move_time_s,
    no_echo,
    on_horn,
    piece,
    placed,
    usual_places,
)
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.hearing import TRAINED_EAR_CENTS
from handslide.ground.pitch import Pitch, from_midi
from handslide.instrument.effort import PEAK_SPEED
from handslide.instrument.heardplace import CLOSED_M
from handslide.instrument.places import Place

_TEMPO = 60.0
_APPROACHES = 3
_WIDEST_APPROACH = 7
# Two ways to a note are different ones when they differ by this much slide.
_OTHER_WAY_M = 0.02
_LEAST_MM = 0.5
_STILL_M = 0.0005
# What is told as one position isn't further apart.
_SAME_POSITION = 0.4
Note = tuple[int, Place]


@dataclass(frozen=True, slots=True)
class TroubleSpot:
    """A note that went wrong: where it was meant, the note before it, and how far it was off.

    ``valves`` and ``partial`` say the place, or ``valves`` and ``position`` (1.0 closed); without
    them it is the usual one. ``before_midi`` None: no interval is blamed.
    ``cents`` above the note (negative: below), ``slide_mm`` too far out (negative: too short);
    both None for a note that was missed. ``uncertain_mm``: ``slide_mm`` is known to within that.
    ``of_valve``: all notes with its valve are off like that, so it's the valve's tuning.
    """

    midi: int
    valves: tuple[str, ...] | None = None
    partial: int | None = None
    before_midi: int | None = None
    cents: float | None = None
    slide_mm: float | None = None
    uncertain_mm: float = 0.0
    of_valve: bool = False
    position: float | None = None


def make(
    player: Player, wishes: Wishes, rng: random.Random, rows: Sequence[TroubleSpot] = ()
) -> tuple[Piece, ...]:
    """One piece for each note, worst first as given; the same note is asked for once.

    Raises
    ------
    BadUsage
        When there are no rows, or this student can play none of the notes on this horn.
    """
    if not rows:
        raise BadUsage("drills.nothing_to_practise")
    everywhere = usual_places(player, Wishes(low=0, high=127))
    usual = {midi: place for midi, place in everywhere.items() if wishes.within(midi)}
    pieces: list[Piece] = []
    seen: set[tuple[int, tuple[str, ...], int, int | None]] = set()
    for row in rows:
        place = _place(player, row)
        if place is None or row.midi not in usual:
            continue
        before = row.before_midi if row.before_midi in everywhere else None
        key = row.midi, place.valves, place.partial, before
        if key not in seen and len(pieces) < wishes.pieces:
            seen.add(key)
            pieces.append(_piece(player, row, place, everywhere, rng, wishes.tempo(_TEMPO)))
    if not pieces:
        notes = [from_midi(midi) for midi in dict.fromkeys(row.midi for row in rows[:3])]
        raise BadUsage("drills.foreign_report", notes=notes, where=on_horn(player))
    return tuple(pieces)


def _place(player: Player, row: TroubleSpot) -> Place | None:
    """The place of a row's note; its usual one where this student has no such place."""
    places = player.book.places(row.midi)
    for place in places:
        if (place.valves, place.partial) == (row.valves, row.partial):
            return place
    if not places:
        return None
    same = [place for place in places if row.partial is None and place.valves == row.valves]
    if row.position is None and same:
        return same[0]
    for place in same:
        if abs(place.position - (row.position or 0.0)) <= _SAME_POSITION:
            return place
    return usual_places(player, Wishes(low=row.midi, high=row.midi))[row.midi]


def approaches(note: Note, usual: Mapping[int, Place], rng: random.Random) -> list[Note]:
    """Two or three notes within a fifth to come to ``note`` from, by growing way of the slide.

    On the note's own valves where there are such notes.
    """
    midi, place = note
    near = [
        (abs(there.extension_m - place.extension_m), other, there)
        for other, there in usual.items()
        if 0 < abs(other - midi) <= _WIDEST_APPROACH
    ]
    same = [row for row in near if row[2].valves == place.valves]
    ways = sorted(same if len(same) >= _APPROACHES else near, key=lambda row: (row[0], row[1]))
    chosen: list[tuple[float, int, Place]] = []
    for third in range(_APPROACHES):
        stretch = ways[len(ways) * third // _APPROACHES : len(ways) * (third + 1) // _APPROACHES]
        fresh = [row for row in stretch if not chosen or row[0] >= chosen[-1][0] + _OTHER_WAY_M]
        if fresh:
            chosen.append(rng.choice(fresh))
    return [(other, there) for _, other, there in chosen]


def _piece(
    player: Player,
    row: TroubleSpot,
    place: Place,
    usual: Mapping[int, Place],
    rng: random.Random,
    tempo_qpm: float,
) -> Piece:
    note = row.midi, place
    ways = approaches(note, usual, rng)
    bars: list[Bar] = [_approach(other, note) for other in ways]
    beside = _beside(note, usual)
    if beside is not None:
        bars += _long(note, beside)
    before: Note | None = None
    if row.before_midi is not None and row.before_midi in usual and row.before_midi != row.midi:
        before = row.before_midi, usual[row.before_midi]
    elif ways:
        before = ways[-1]
    if before is not None:
        way = abs(before[1].extension_m - place.extension_m)
        speed = PEAK_SPEED * way / move_time_s(player, EIGHTH, tempo_qpm)
        bars += _interval(before, note, quick=bool(speed <= FASTEST_M_S))
    bars.append((placed(row.midi, WHOLE, place),))
    name = from_midi(row.midi)
    if before is not None and before[0] == row.before_midi:
        title = fact("drills.spot_after", before=from_midi(before[0]), note=name, place=place)
    else:
        title = fact("drills.spot", note=name, place=place)
    text = _what(row, name, place), fact("drills.how_to_approach")
    return piece(title, text, no_echo(bars), tempo_qpm)


def _what(row: TroubleSpot, note: Pitch, place: Place) -> Fact:
    """What was the matter, and what to do about it."""
    off = row.slide_mm
    if row.of_valve and row.cents is not None:
        kind = "drills.valve_high" if row.cents > 0 else "drills.valve_low"
        return fact(kind, note=note, off_cents=abs(row.cents))
    # A note that was missed now and then, and in tune else, asks for no millimetres.
    heard = row.cents is None or abs(row.cents) >= TRAINED_EAR_CENTS
    if heard and off is not None and abs(off) >= max(_LEAST_MM, row.uncertain_mm):
        if place.extension_m <= CLOSED_M:
            # There's no further in: what was heard as a short slide wasn't the slide.
            if off < 0.0:
                return fact("drills.high_closed", note=note)
            return fact("drills.flat_closed", note=note, off_mm=off)
        return fact(
            "drills.too_far_out" if off > 0 else "drills.too_short", note=note, off_mm=abs(off)
        )
    if row.cents is not None and abs(row.cents) >= TRAINED_EAR_CENTS:
        kind = "drills.too_high" if row.cents > 0 else "drills.too_low"
        return fact(kind, note=note, off_cents=abs(row.cents))
    return fact("drills.make_sure", note=note)


def _approach(other: Note, note: Note) -> Bar:
    way = note[1].extension_m - other[1].extension_m
    if abs(way) < _STILL_M:
        said = fact("drills.slide_still")
    else:
        kind = "drills.slide_out" if way > 0 else "drills.slide_in"
        said = fact(kind, way_mm=1000.0 * abs(way))
    return placed(other[0], QUARTER, other[1], said), placed(note[0], DOTTED_HALF, note[1])


def _beside(note: Note, usual: Mapping[int, Place]) -> Note | None:
    """The nearest other note, on the same valves if there is one within a tone."""
    near = [(midi, usual[midi]) for midi in usual if 0 < abs(midi - note[0]) <= 2]
    if not near:
        return None
    return min(
        near, key=lambda n: (n[1].valves != note[1].valves, abs(n[0] - note[0]), n[0] - note[0])
    )


def _long(note: Note, beside: Note) -> list[Bar]:
    return [
        (placed(note[0], HALF, note[1]), placed(beside[0], HALF, beside[1])),
        (placed(note[0], WHOLE, note[1], fact("drills.steady")),),
    ]


def _interval(before: Note, note: Note, *, quick: bool) -> list[Bar]:
    """The interval slowly, then twice and (if ``quick``) four times as fast; each way round."""
    a, b = before, note
    low, high = (a, b) if a[0] < b[0] else (b, a)
    bars: list[Bar] = []
    speeds = [
        (HALF, 1, fact("drills.slowly")),
        (QUARTER, 2, fact("drills.faster")),
        (EIGHTH, 2, fact("drills.quick")),
    ]
    for beats, times, text in speeds if quick else speeds[:2]:
        for number, (first, second) in enumerate(((low, high), (high, low))):
            said = text if number == 0 else None
            notes = [
                placed(midi, beats, place, said if k == 0 else None)
                for k, (midi, place) in enumerate((first, second) * times)
            ]
            if beats == EIGHTH:
                # The last one is held, to hear whether it arrived.
                notes = [*notes[:4], placed(first[0], HALF, first[1])]
            bars.append(tuple(notes))
    return bars
