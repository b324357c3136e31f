"""Slide accuracy: shifts of growing difficulty, glissandi that this horn has, slurs side by side.

A shift over the way D (m) in the time T (s), to a target that is W wide:

    peak speed  v = 1.875·D/T              (minimum-jerk move; Flash and Hogan, J. Neurosci. 1985)
    difficulty  log2(D/W + 1)/T  bits/s    (P. M. Fitts, J. Exp. Psychol. 1954, in the form of
                                           I. S. MacKenzie)

T is the time that the notes leave for the move, as in the effort of a line; W the way of the slide
from 5 cents high to 5 cents low at the target, since 5 cents are what a listener begins to hear.
"""

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from handslide.drills.finish import BARS_TOGETHER, HARD_STEPS, with_breaths
from handslide.drills.piece import Piece
from handslide.drills.placed import (
    DOTTED,
    EIGHTH,
    FASTEST_M_S,
    HALF,
    HIGH_PARTIAL,
    HIGH_VALVE_PARTIAL,
    QUARTER,
    WHOLE,
    Bar,
    Player,
    Row,
    Wishes,
    heard,
    in_tune,
    move_time_s,
    of_a_key,
    on_horn,
    piece,
    placed,
    spelled_beside,
    usual_places,
)
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.hearing import TRAINED_EAR_CENTS
from handslide.instrument.effort import PEAK_SPEED, STILL_M
from handslide.instrument.heardplace import m_per_cent
from handslide.instrument.places import Place

_TEMPO = 72.0
_WIDEST_SHIFT, _WIDEST_GLISS, _WIDEST_SLUR = 7, 7, 7
_SHIFT_BEATS = (HALF, DOTTED, QUARTER, EIGHTH)
_LEAST_SHIFT_M = 0.02
_FIFTH = 7
# A key is rich enough with so many shifts for each bar.
_MANY = 3
Note = tuple[int, Place]


@dataclass(frozen=True, slots=True)
class Shift:
    """A move of the slide from one note to another, ``way_m`` (positive = out) in ``time_s``.

    ``beats`` is the length of the first note, ``width_m`` the way of ±5 cents at the second.
    """

    first: Note
    second: Note
    beats: Fraction
    way_m: float
    time_s: float
    width_m: float

    @property
    def speed_m_s(self) -> float:
        """Peak speed of the slide."""
        return float(PEAK_SPEED) * abs(self.way_m) / self.time_s

    @property
    def difficulty(self) -> float:
        """log2(D/W + 1)/T in bits a second."""
        return math.log2(abs(self.way_m) / self.width_m + 1.0) / self.time_s


@dataclass(frozen=True, slots=True)
class Slurs:
    """Two slurs from one note: ``natural`` to another partial, the slide still or moving against
    the pitch; ``tongued`` to a note of the same partial and valves, which needs the tongue."""

    first: Note
    natural: Note
    tongued: Note


# Shifts.


def make_shifts(player: Player, wishes: Wishes, rng: random.Random) -> tuple[Piece, ...]:
    """Shifts there and back, a bar each, from piece to piece and from bar to bar more difficult.

    Raises
    ------
    BadUsage
        When no two notes of the range move the slide.
    """
    tempo = wishes.tempo(_TEMPO)
    found = [
        row
        for row in find_shifts(player, wishes, tempo)
        if wishes.easy(row.first[0], row.second[0])
    ]
    if not found:
        raise BadUsage("drills.no_shift", where=on_horn(player))
    tonics = wishes.tonics(rng)
    pieces: list[Piece] = []
    before: Shift | None = None
    for number in range(min(wishes.pieces, len(found))):
        stretch = _part(found, number, min(wishes.pieces, len(found)))
        of_key = of_a_key(stretch, _shift_notes, tonics, number, _MANY * wishes.bars) or stretch
        some = _spread(of_key, wishes.bars, before, rng)
        if not some:
            continue
        before = some[-1]
        bars = [_shift_bar(shift) for shift in some]
        ways = sorted(1000.0 * abs(shift.way_m) for shift in some)
        size = (
            fact("drills.shift_sizes", shortest_mm=ways[0], longest_mm=ways[-1])
            if len(ways) > 1
            else fact("drills.shift_size", way_mm=ways[0])
        )
        # Said in full over the first exercise of a sheet, shortly over the others.
        how = fact("drills.shift_again" if pieces else "drills.how_to_shift")
        title = fact("drills.shifts", number=len(pieces) + 1)
        pieces.append(piece(title, (size, how), _breathing(bars), tempo))
    return tuple(pieces)


def _breathing(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """A breath after every second bar, as the words say, at any tempo."""
    return with_breaths(bars, BARS_TOGETHER)


def find_shifts(player: Player, wishes: Wishes, tempo_qpm: float) -> list[Shift]:
    """All shifts between usual places of the range that an arm can make, easiest first."""
    notes = [(m, p) for m, p in usual_places(player, wishes).items() if in_tune(p)]
    width = {note: 2.0 * TRAINED_EAR_CENTS * m_per_cent(player.horn, note[1]) for note in notes}
    times = {beats: move_time_s(player, beats, tempo_qpm) for beats in _SHIFT_BEATS}
    found = []
    for first in notes:
        for second in notes:
            way = second[1].extension_m - first[1].extension_m
            near = 0 < abs(first[0] - second[0]) <= _WIDEST_SHIFT
            # A valve to be moved would make another exercise of it.
            if not near or abs(way) < _LEAST_SHIFT_M or first[1].valves != second[1].valves:
                continue
            for beats, time_s in times.items():
                shift = Shift(first, second, beats, way, time_s, width[second])
                if shift.speed_m_s <= FASTEST_M_S:
                    found.append(shift)
    return sorted(found, key=_by_difficulty)


def _by_difficulty(shift: Shift) -> tuple[float, float, int, int]:
    return round(shift.difficulty, 9), -float(shift.beats), shift.first[0], shift.second[0]


def _shift_notes(shift: Shift) -> tuple[int, int]:
    return shift.first[0], shift.second[0]


def _part(rows: Sequence[Row], number: int, count: int) -> Sequence[Row]:
    """The ``number``-th of ``count`` parts of the rows, as long as each other."""
    return rows[len(rows) * number // count : len(rows) * (number + 1) // count]


def _spread(
    found: Sequence[Shift], count: int, before: Shift | None, rng: random.Random
) -> list[Shift]:
    """``count`` shifts from the easiest to the most difficult, one at random from each stretch.

    Each begins where it is easily found from the last note of the one before, within a fifth if it
    can; no two in a row have the same two notes, and pairs that weren't there yet come first.
    """
    chosen: list[Shift] = []
    count = min(count, len(found))
    for number in range(count):
        last = chosen[-1] if chosen else before
        home = None if last is None else last.first[0]
        said = {frozenset(_shift_notes(shift)) for shift in chosen}
        fitting = [
            (
                _is_far(home, shift.first),
                frozenset(_shift_notes(shift)) in said,
                rng.random(),
                shift,
            )
            for shift in _part(found, number, count)
            if last is None
            or (
                abs(shift.first[0] - last.first[0]) not in HARD_STEPS
                and heard(_shift_bar(last)) != heard(_shift_bar(shift))
            )
        ]
        if fitting:
            chosen.append(min(fitting, key=lambda row: row[:3])[3])
    return chosen


def _shift_bar(shift: Shift) -> Bar:
    at, there = shift.first[1], shift.second[1]
    first, second = spelled_beside(shift.first[0], shift.second[0])
    beats = shift.beats
    if beats == HALF:
        # There and back in a bar of four: back a beat before its end.
        return (
            placed(first, HALF, at, _mm(shift)),
            placed(second, QUARTER, there),
            placed(first, QUARTER, at),
        )
    rest = WHOLE - 2 * beats
    return (
        placed(first, beats, at, _mm(shift)),
        placed(second, beats, there),
        placed(first, rest, at),
    )


def _mm(shift: Shift) -> Fact:
    kind = "drills.slide_out" if shift.way_m > 0 else "drills.slide_in"
    return fact(kind, way_mm=1000.0 * abs(shift.way_m))


# Glissandi.


def make_glissandi(player: Player, wishes: Wishes, rng: random.Random) -> tuple[Piece, ...]:
    """Glissandi on one partial and valve set, growing in length.

    Raises
    ------
    BadUsage
        When no two notes of the range lie on one partial within the slide.
    """
    found = [pair for pair in find_glissandi(player, wishes) if wishes.easy(pair[0][0], pair[1][0])]
    if not found:
        raise BadUsage("drills.no_glissando", where=on_horn(player))
    tonics = wishes.tonics(rng)
    pieces: list[Piece] = []
    used: set[tuple[int, int]] = set()
    last: int | None = None
    for number in range(wishes.pieces):
        free = [pair for pair in found if (pair[0][0], pair[1][0]) not in used]
        some = of_a_key(free, _pair_notes, tonics, number, wishes.bars // 2)
        # Rather fewer pieces than one that is in no key.
        free = some if some or pieces else free
        bars: list[Bar] = []
        ways = []
        for pair in sorted(_some(free, wishes.bars // 2, rng), key=_length_m):
            turned = pair if rng.random() < 0.5 else pair[::-1]
            ends = next((e for e in (turned, turned[::-1]) if _is_near(last, e[0])), None)
            if ends is None:
                continue
            used.add((pair[0][0], pair[1][0]))
            ways.append(_length_m(pair))
            bars += _gliss_bars(*ends)
            last = ends[0][0]
        if not bars:
            break
        span = {"shortest_cm": 100.0 * ways[0], "longest_cm": 100.0 * ways[-1]}
        text = (
            (fact("drills.glissandi_again", **span),)
            if pieces
            else (fact("drills.glissando_sizes", **span), fact("drills.how_to_gliss"))
        )
        title = fact("drills.glissandi", number=len(pieces) + 1)
        pieces.append(piece(title, text, _breathing(bars), wishes.tempo(_TEMPO)))
    return tuple(pieces)


def _pair_notes(pair: tuple[Note, Note]) -> tuple[int, int]:
    return pair[0][0], pair[1][0]


def _is_near(last: int | None, note: Note) -> bool:
    """Whether a note is easily found from the last one."""
    return last is None or abs(note[0] - last) not in HARD_STEPS


def _is_far(last: int | None, note: Note) -> bool:
    """Whether a note is more than a fifth from the last one."""
    return last is not None and abs(note[0] - last) > _FIFTH


def find_glissandi(player: Player, wishes: Wishes) -> list[tuple[Note, Note]]:
    """All pairs of notes (higher one first) on one partial and valve set within the slide and the
    student's limits, up to a fifth; the shortest way first."""
    tubes: dict[tuple[tuple[str, ...], int], list[Note]] = {}
    usual = usual_places(player, wishes)
    partials = [place.partial for place in usual.values()]
    # No partial that the range itself doesn't reach.
    lowest, highest = min(partials), min(max(partials), HIGH_PARTIAL)
    for midi, plain in usual.items():
        for place in player.book.places(midi):
            top = max(HIGH_VALVE_PARTIAL if place.valves else highest, plain.partial)
            if in_tune(place) and lowest <= place.partial <= top:
                tubes.setdefault((place.valves, place.partial), []).append((midi, place))
    pairs = [
        (high, low)
        for notes in tubes.values()
        for low in notes
        for high in notes
        if 0 < high[0] - low[0] <= _WIDEST_GLISS
        and low[1].extension_m - high[1].extension_m > STILL_M
    ]
    return sorted(pairs, key=lambda pair: (round(_length_m(pair), 9), pair[0][0]))


def _length_m(pair: tuple[Note, Note]) -> float:
    return abs(pair[1][1].extension_m - pair[0][1].extension_m)


def _some(
    free: Sequence[tuple[Note, Note]], count: int, rng: random.Random
) -> list[tuple[Note, Note]]:
    """``count`` pairs of all lengths alike; no valve first."""
    chosen: dict[tuple[int, int], tuple[Note, Note]] = {}
    count = min(max(1, count), len(free))
    for number in range(count):
        stretch = _part(free, number, count)
        plain = [pair for pair in stretch if not pair[0][1].valves] or stretch
        # One in four may need the valve.
        pair = rng.choice(stretch if rng.random() < 0.25 else plain)
        chosen.setdefault((pair[0][0], pair[1][0]), pair)
    return list(chosen.values())


def _gliss_bars(first: Note, second: Note) -> tuple[Bar, Bar]:
    place = first[1]
    said = fact("drills.on_partial", partial=place.partial)
    one, other = spelled_beside(first[0], second[0])
    there = placed(one, HALF, place, said, gliss=True), placed(other, HALF, second[1])
    back = placed(other, HALF, second[1], gliss=True), placed(one, HALF, place)
    return there, back


# Slurs.


def make_slurs(player: Player, wishes: Wishes, rng: random.Random) -> tuple[Piece, ...]:
    """Natural slurs beside legato tongue, from the same note.

    Raises
    ------
    BadUsage
        When no note of the range has both.
    """
    found = [
        row
        for row in find_slurs(player, wishes)
        if all(wishes.easy(row.first[0], other[0]) for other in (row.natural, row.tongued))
    ]
    if not found:
        raise BadUsage("drills.no_slurs", where=on_horn(player))
    rng.shuffle(found)
    tonics = wishes.tonics(rng)
    size = max(1, wishes.bars // 2)
    pieces: list[Piece] = []
    used: set[Slurs] = set()
    last: int | None = None
    for number in range(wishes.pieces):
        free = [row for row in found if row not in used]
        rows = of_a_key(free, _slur_notes, tonics, number, size)
        rows = rows if rows or pieces else free
        bars: list[Bar] = []
        for _ in range(size):
            row = _next_slurs([row for row in rows if row not in used], last, bars)
            if row is None:
                break
            used.add(row)
            bars += _slur_bars(row)
            last = row.tongued[0]
        if not bars:
            break
        how = fact("drills.slur_again" if pieces else "drills.how_to_slur")
        title = fact("drills.slurs", number=len(pieces) + 1)
        pieces.append(piece(title, (how,), _breathing(bars), wishes.tempo(_TEMPO)))
    return tuple(pieces)


def _slur_notes(row: Slurs) -> tuple[int, int, int]:
    return row.first[0], row.natural[0], row.tongued[0]


def _next_slurs(rows: Sequence[Slurs], last: int | None, bars: Sequence[Bar]) -> Slurs | None:
    """One that begins near the last note, on a note that the piece hasn't begun on yet if any."""
    fitting = [row for row in rows if _is_near(last, row.first)]
    begun = {bar[0].pitch.midi for bar in bars if bar[0].pitch is not None}
    fresh = [row for row in fitting if row.first[0] not in begun]
    return min(fresh or fitting, key=lambda row: _is_far(last, row.first), default=None)


def find_slurs(player: Player, wishes: Wishes) -> list[Slurs]:
    """All pairs of slurs from one note, up to a fifth, between usual places."""
    notes = [(m, p) for m, p in usual_places(player, wishes).items() if in_tune(p)]
    found = []
    for first in notes:
        near = [n for n in notes if 0 < abs(n[0] - first[0]) <= _WIDEST_SLUR]
        near = [n for n in near if n[1].valves == first[1].valves]
        natural = [n for n in near if _is_natural(first, n)]
        tongued = [n for n in near if _is_tongued(first, n) and abs(n[0] - first[0]) <= 4]
        found += [Slurs(first, a, b) for a in natural for b in tongued]
    return found


def _is_natural(first: Note, second: Note) -> bool:
    """Whether a slur changes the partial while the slide rests or goes against the pitch."""
    step = second[1].extension_m - first[1].extension_m
    against = step * (second[0] - first[0]) > 0.0
    return first[1].partial != second[1].partial and (abs(step) <= STILL_M or against)


def _is_tongued(first: Note, second: Note) -> bool:
    """Whether a slur moves the slide along one partial."""
    step = second[1].extension_m - first[1].extension_m
    return first[1].partial == second[1].partial and abs(step) > STILL_M


def _slur_bars(row: Slurs) -> tuple[Bar, Bar]:
    at, natural, tongued = row.first[1], row.natural, row.tongued
    first, slurred, touched = spelled_beside(row.first[0], natural[0], tongued[0])
    return (
        (
            placed(first, HALF, at, fact("drills.natural_slur"), slur=True),
            placed(slurred, HALF, natural[1]),
        ),
        (
            placed(first, HALF, at, fact("drills.legato_tongue"), slur=True),
            placed(touched, HALF, tongued[1], articulation="tenuto"),
        ),
    )
