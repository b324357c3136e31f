"""The valve register: new notes from the octave above, half positions, valve against open."""

import random
from collections.abc import Iterable
from dataclasses import dataclass

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
    on_horn,
    piece,
    placed,
    rest,
    usual_places,
)
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, from_midi
from handslide.instrument.effort import spots, standing_points
from handslide.instrument.marks import LAST, split_position
from handslide.instrument.places import Place

_TEMPO = 60.0


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
    return tuple(one for row in kinds for one in row if one in chosen)


def check_valves(player: Player) -> None:
    """Raise BadUsage on a horn without a valve, or when none of them is learned."""
    if not player.horn.valves:
        raise BadUsage("drills.no_valve", horn=player.horn.called)
    if not any(player.book.limits.learned_all(valves) for valves in player.horn.valve_sets[1:]):
        raise BadUsage("drills.no_valve_learned")


def make_new(player: Player, wishes: Wishes, rng: random.Random) -> tuple[Piece, ...]:
    """Each new note found from its octave above, those of one valve together; may be empty."""
    found = new_notes(player, wishes)
    pieces: list[Piece] = []
    size = max(1, wishes.bars // 2)
    for valves in dict.fromkeys(row.place.valves for row in found):
        rows = [row for row in found if row.place.valves == valves]
        for first in range(0, len(rows), size):
            some = rows[first : first + size]
            bars = [bar for row in some for bar in _from_above(row, rng)]
            notes = _span(row.midi for row in some)
            title = fact("drills.new_notes", valves=valves, notes=notes)
            how = fact("drills.how_to_match", valves=valves)
            pieces.append(piece(title, (how,), bars, wishes.tempo(_TEMPO)))
    return tuple(pieces)


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
    second = placed(low, DOTTED_HALF, row.place), rest(QUARTER)
    return first, second


def make_half(player: Player, wishes: Wishes, rng: random.Random) -> tuple[Piece, ...]:
    """Notes halfway between two positions, approached from both neighbours; may be empty."""
    found = list(half_notes(player, wishes))
    bars: list[Bar] = []
    said: list[HalfNote] = []
    for row in found:
        if said and len(bars) + 2 * len(row.neighbours) > wishes.bars:
            break
        said.append(row)
        around = list(row.neighbours)
        rng.shuffle(around)
        for other, place in around:
            inside = place.extension_m < row.place.extension_m
            side = fact("drills.from_further_in" if inside else "drills.from_further_out")
            bars.append((placed(other, HALF, place, side), placed(row.midi, HALF, row.place)))
        last = around[0]
        bars.append(
            (
                placed(last[0], QUARTER, last[1]),
                placed(row.midi, DOTTED_HALF, row.place, _where(row.place)),
            )
        )
    if not bars:
        return ()
    one_sided = [row for row in said if len(row.neighbours) < 2]
    text = [fact("drills.how_to_find_half")]
    if one_sided:
        notes = [from_midi(row.midi) for row in one_sided]
        text.append(fact("drills.one_neighbour", notes=notes))
    title = fact("drills.half_positions", notes=[from_midi(row.midi) for row in said])
    return (piece(title, text, no_echo(bars), wishes.tempo(_TEMPO)),)


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
    rows = two_ways(player, wishes)[: max(1, wishes.bars // 2)]
    if not rows:
        return ()
    order = sorted(rows, key=lambda row: -row.midi)
    if rng.random() < 0.5:
        order.reverse()
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
    """Notes with an open place and a valve place in tune, where the valve saves most first."""
    rows = []
    for midi in range(wishes.low or 12, (wishes.high or 96) + 1):
        places = [p for p in player.book.places(midi) if in_tune(p) and p.partial >= 2]
        opens = [place for place in places if not place.valves]
        valves = [p for p in places if p.valves and p.partial <= HIGH_VALVE_PARTIAL]
        if not opens or not valves:
            continue
        without, with_ = _cheapest(player, opens), _cheapest(player, valves)
        rows.append((with_[0] - without[0], TwoWays(midi, without[1], with_[1])))
    return tuple(row for _, row in sorted(rows, key=lambda item: (item[0], item[1].midi)))


def _span(notes: Iterable[int]) -> Pitch | Fact:
    found = sorted(notes)
    low, high = from_midi(found[0]), from_midi(found[-1])
    return low if low == high else fact("drills.down_to", high=high, low=low)
