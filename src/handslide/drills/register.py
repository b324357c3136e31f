"""The valve register: new notes from the octave above, half positions, valve against open."""

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from handslide.drills.finish import HARD_STEPS, ends_of, well_joined
from handslide.drills.levels import FIRST_YEAR
from handslide.drills.piece import Piece
from handslide.drills.placed import (
    DOTTED_HALF,
    HALF,
    HIGH_VALVE_PARTIAL,
    QUARTER,
    WHOLE,
    Bar,
    Player,
    Wishes,
    in_tune,
    no_echo,
    of_a_key,
    on_horn,
    piece,
    placed,
    rest,
    usual_places,
)
from handslide.drills.signs import is_in
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, from_midi
from handslide.instrument.effort import spots, standing_points
from handslide.instrument.marks import LAST, split_position
from handslide.instrument.places import Place

_TEMPO = 60.0
Found = TypeVar("Found", "NewNote", "HalfNote", "TwoWays")


@dataclass(frozen=True, slots=True)
class NewNote:
    """A note that only a valve gives: its ``place``, and the place ``above`` of its octave."""

    midi: int
    place: Place
    above: Place


@dataclass(frozen=True, slots=True)
class HalfNote:
    """A note halfway between two positions. ``neighbours`` are (note, place) on the same valves
    and partial: the next one further in and the next one further out, as far as there are."""

    midi: int
    place: Place
    neighbours: tuple[tuple[int, Place], ...]


@dataclass(frozen=True, slots=True)
class TwoWays:
    """A note that both the open horn and a valve give."""

    midi: int
    open: Place
    valve: Place


def make(player: Player, wishes: Wishes, rng: random.Random) -> tuple[Piece, ...]:
    """Exercises of the valve register, of each kind in turn.

    Raises
    ------
    BadUsage
        When the horn has no valve, none is learned, or the range has no such note.
    """
    check_valves(player)
    kinds = [make_new(player, wishes, rng), make_half(player, wishes, rng)]
    kinds.append(make_against(player, wishes, rng))
    longest = max(map(len, kinds))
    turns = [row[k] for k in range(longest) for row in kinds if k < len(row)]
    if not turns:
        raise BadUsage("drills.no_valve_note", where=on_horn(player))
    # Those of a kind stand together, as many as there is room for.
    chosen = turns[: wishes.pieces]
    return tuple(well_joined([one for row in kinds for one in row if one in chosen], ends_of))


def check_valves(player: Player) -> None:
    """Raise BadUsage on a horn without a valve, or when none of them is learned."""
    if not player.horn.valves:
        raise BadUsage("drills.no_valve", horn=player.horn.called)
    if not any(player.book.limits.learned_all(valves) for valves in player.horn.valve_sets[1:]):
        raise BadUsage("drills.no_valve_learned")


def make_new(player: Player, wishes: Wishes, rng: random.Random) -> tuple[Piece, ...]:
    """Each new note found from its octave above, those of one valve together; may be empty."""
    found = _of_level(new_notes(player, wishes), wishes, rng)
    pieces: list[Piece] = []
    size = max(1, wishes.bars // 2)
    for valves in dict.fromkeys(row.place.valves for row in found):
        rows = [row for row in found if row.place.valves == valves]
        rows = well_joined(rows, lambda row: (row.midi, row.midi))
        for first in range(0, len(rows), size):
            some = rows[first : first + size]
            bars = [bar for row in some for bar in _from_above(row, rng)]
            notes = _span(row.midi for row in some)
            title = fact("drills.new_notes", valves=valves, notes=notes)
            how = fact("drills.how_to_match", valves=valves)
            pieces.append(piece(title, (how,), bars, wishes.tempo(_TEMPO)))
    return tuple(pieces)


def _of_level(rows: Sequence[Found], wishes: Wishes, rng: random.Random) -> list[Found]:
    """The rows whose notes a first year reads in one of its keys, if there are any; else all."""
    if wishes.level is None or wishes.level.name != FIRST_YEAR:
        return list(rows)
    return of_a_key(rows, lambda row: (row.midi,), wishes.tonics(rng), 0, len(rows)) or list(rows)


def new_notes(player: Player, wishes: Wishes) -> tuple[NewNote, ...]:
    """The notes without a place on the open horn, their octave above in the range, highest first.

    Pedals with a valve are left out: they come later than all others.
    """
    low = Wishes(low=wishes.low or 0, high=wishes.high)
    found = []
    for midi, place in usual_places(player, low).items():
        places = player.book.places(midi)
        above = player.book.places(midi + 12)
        if any(not other.valves for other in places) or place.partial < 2:
            continue
        if not above or (wishes.high is not None and midi + 12 > wishes.high):
            continue
        found.append(NewNote(midi, place, _best(player, above)))
    return tuple(sorted(found, key=lambda row: -row.midi))


def _best(player: Player, places: Iterable[Place]) -> Place:
    """The place with the least effort, standing alone; one of the open horn if there is one."""
    options = list(places)
    options = [place for place in options if not place.valves] or options
    return _cheapest(player, options)[1]


def _cheapest(player: Player, places: list[Place]) -> tuple[float, Place]:
    """The points and the place with the least effort, standing alone."""
    table = spots(tuple(valve.name for valve in player.horn.valves), places)
    points = standing_points(player.profile, table)
    best = int(points.argmin())
    return float(points[best]), places[best]


def _from_above(row: NewNote, rng: random.Random) -> tuple[Bar, ...]:
    high, low = row.midi + 12, row.midi
    way = fact("drills.open") if not row.above.valves else None
    match = fact("drills.match")
    shape = rng.randrange(3)
    first: Bar
    if shape == 0:
        first = placed(high, HALF, row.above, way), placed(low, HALF, row.place, match)
    elif shape == 1:
        first = placed(high, DOTTED_HALF, row.above, way), placed(low, QUARTER, row.place, match)
    else:
        first = (
            placed(high, QUARTER, row.above, way),
            placed(high, QUARTER, row.above, articulation="tenuto"),
            placed(low, HALF, row.place, match),
        )
    # Back to the note above, which is near the next one and tells whether they agree.
    second = placed(low, HALF, row.place), placed(high, QUARTER, row.above), rest(QUARTER)
    return first, second


def make_half(player: Player, wishes: Wishes, rng: random.Random) -> tuple[Piece, ...]:
    """Notes halfway between two positions, approached from both neighbours; may be empty."""
    found = _of_level(half_notes(player, wishes), wishes, rng)
    said: list[HalfNote] = []
    bars: list[Bar] = []
    for row in found:
        around = _readable(row, wishes)
        rng.shuffle(around)
        if said and len(bars) + 2 * len(row.neighbours) > wishes.bars:
            break
        # From the neighbour that is easily found from the last note, if there is one.
        last = said[-1].midi if said else around[0][0]
        around.sort(key=lambda near: abs(near[0] - last) in HARD_STEPS)
        if not said or wishes.easy(last, around[0][0]):
            said.append(row)
            bars += [_beside(row, *neighbour) for neighbour in around]
            first, place = around[0]
            here = placed(row.midi, DOTTED_HALF, row.place, _where(row.place))
            bars.append((placed(first, QUARTER, place), here))
    if not bars:
        return ()
    one_sided = [row for row in said if len(_readable(row, wishes)) < 2]
    text = [fact("drills.how_to_find_half")]
    if one_sided:
        notes = [from_midi(row.midi) for row in one_sided]
        text.append(fact("drills.one_neighbour", notes=notes))
    title = fact("drills.half_positions", notes=[from_midi(row.midi) for row in said])
    return (piece(title, text, no_echo(bars), wishes.tempo(_TEMPO)),)


def _readable(row: HalfNote, wishes: Wishes) -> list[tuple[int, Place]]:
    """The neighbours; for a first year those that lie in a key together with the note, if any."""
    if wishes.level is None or wishes.level.name != FIRST_YEAR:
        return list(row.neighbours)
    keys = wishes.tonics(random.Random(0))
    near = [
        (midi, place)
        for midi, place in row.neighbours
        if any(is_in(midi, key) and is_in(row.midi, key) for key in keys)
    ]
    return near or list(row.neighbours)


def _beside(row: HalfNote, other: int, place: Place) -> Bar:
    inside = place.extension_m < row.place.extension_m
    side = fact("drills.from_further_in" if inside else "drills.from_further_out")
    return placed(other, HALF, place, side), placed(row.midi, HALF, row.place)


def half_notes(player: Player, wishes: Wishes) -> tuple[HalfNote, ...]:
    """Notes with a valve place halfway between two positions, new ones first, then the lowest."""
    new = {row.midi: row.place for row in new_notes(player, wishes)}
    rows = []
    for midi in range(wishes.low or 12, (wishes.high or 96) + 1):
        halves = [
            place
            for place in player.book.places(midi)
            if place.valves
            and 2 <= place.partial <= HIGH_VALVE_PARTIAL
            and split_position(place.position)[0] == "½"
            and place.position < LAST
        ]
        if midi in new:
            halves = [place for place in halves if place == new[midi]]
        if not halves:
            continue
        place = _cheapest(player, halves)[1]
        neighbours = tuple(
            (other, there)
            for other in (midi + 1, midi - 1)
            for there in player.book.places(other)
            if (there.valves, there.partial) == (place.valves, place.partial) and in_tune(there)
        )
        if neighbours:
            rows.append(HalfNote(midi, place, neighbours))
    return tuple(sorted(rows, key=lambda row: (row.midi not in new, row.place.partial, row.midi)))


def _where(place: Place) -> Fact:
    return fact("drills.cm_out", out_cm=100.0 * place.extension_m)


def make_against(player: Player, wishes: Wishes, rng: random.Random) -> tuple[Piece, ...]:
    """Valve against open for notes that have both: the same note twice is meant; may be empty."""
    found = _of_level(two_ways(player, wishes), wishes, rng)
    # Those of each valve in turn.
    sets = list(dict.fromkeys(row.valve.valves for row in found))
    each = [[row for row in found if row.valve.valves == valves] for valves in sets]
    turns = [some[k] for k in range(len(found)) for some in each if k < len(some)]
    rows = turns[: max(1, wishes.bars // 2)]
    if not rows:
        return ()
    order = sorted(rows, key=lambda row: -row.midi)
    if rng.random() < 0.5:
        order.reverse()
    order = well_joined(order, lambda row: (row.midi, row.midi))
    bars: list[Bar] = []
    for row in order:
        ends = [(row.open, fact("drills.open")), (row.valve, fact("drills.valve"))]
        if rng.random() < 0.5:
            ends.reverse()
        (first, said), (second, also) = ends
        bars.append((placed(row.midi, HALF, first, said), placed(row.midi, HALF, second, also)))
        bars.append(
            (
                placed(row.midi, QUARTER, second, also),
                placed(row.midi, QUARTER, first, said),
                placed(row.midi, HALF, second, also),
            )
            if rng.random() < 0.5
            else (placed(row.midi, WHOLE, first, said),)
        )
    title = fact("drills.valve_against_open", notes=_span(row.midi for row in rows))
    how = fact("drills.how_to_compare")
    return (piece(title, (how,), bars, wishes.tempo(_TEMPO)),)


def two_ways(player: Player, wishes: Wishes) -> tuple[TwoWays, ...]:
    """Notes with an open place and one in tune with a valve, for each valve and set of valves,
    where it saves most first."""
    rows = []
    for midi in range(wishes.low or 12, (wishes.high or 96) + 1):
        places = [p for p in player.book.places(midi) if in_tune(p) and p.partial >= 2]
        opens = [place for place in places if not place.valves]
        valves = [p for p in places if p.valves and p.partial <= HIGH_VALVE_PARTIAL]
        if not opens or not valves:
            continue
        without, open_ = _cheapest(player, opens)
        for held in dict.fromkeys(place.valves for place in valves):
            with_, place = _cheapest(player, [p for p in valves if p.valves == held])
            rows.append((with_ - without, TwoWays(midi, open_, place)))
    return tuple(row for _, row in sorted(rows, key=lambda item: (item[0], item[1].midi)))


def _span(notes: Iterable[int]) -> Pitch | Fact:
    found = sorted(notes)
    low, high = from_midi(found[0]), from_midi(found[-1])
    return low if low == high else fact("drills.down_to", high=high, low=low)
