"""The same figure in its two best routes: where the line turns back, and where it goes on or goes
a much shorter way."""

import random
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from handslide.drills.finish import well_joined
from handslide.drills.piece import Piece
from handslide.drills.placed import (
    EIGHTH,
    HALF,
    HIGH_VALVE_PARTIAL,
    QUARTER,
    WHOLE,
    Bar,
    Player,
    Wishes,
    in_tune,
    on_horn,
    piece,
    placed,
    spelled,
    usual_places,
    way_m,
)
from handslide.drills.signs import is_in
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, from_midi
from handslide.instrument.effort import FORBIDDEN
from handslide.instrument.line import make_line
from handslide.instrument.places import SAME_SPOT_M, Place
from handslide.instrument.route import Choices, lay_out, solve_tied, usual_place

_TEMPO = 76.0
# Five notes as letters and semitones from the first one: turns and arches that tunes are full of.
FIGURES = tuple(
    tuple(zip(letters, semitones))
    for letters, *all_semitones in (
        ((0, 1, 2, 1, 0), (0, 2, 4, 2, 0), (0, 1, 3, 1, 0), (0, 2, 3, 2, 0)),
        ((0, -1, -2, -1, 0), (0, -2, -4, -2, 0), (0, -1, -3, -1, 0), (0, -2, -3, -2, 0)),
        ((0, 1, 0, -1, 0), (0, 2, 0, -1, 0), (0, 1, 0, -2, 0)),
        ((0, -1, 0, 1, 0), (0, -1, 0, 2, 0)),
        ((0, 2, 4, 2, 0), (0, 4, 7, 4, 0), (0, 3, 7, 3, 0)),
        ((0, -2, -4, -2, 0), (0, -3, -7, -3, 0), (0, -4, -7, -4, 0)),
        ((0, 1, 2, 3, 4), (0, 2, 4, 5, 7), (0, 2, 3, 5, 7)),
        ((0, -1, -2, -3, -4), (0, -2, -4, -5, -7), (0, -2, -3, -5, -7)),
        ((0, 3, 2, 1, 0), (0, 5, 4, 2, 0)),
        ((0, 1, -1, 0, 1), (0, 2, -1, 0, 2)),
        ((0, 2, 1, 3, 2), (0, 4, 2, 5, 4)),
    )
    for semitones in all_semitones
)
# The letters that carry a flat or a sharp in keys that students read.
_SIGNED = {-1: "BEADG", 1: "FCG"}
# Two routes are worth feeling where they differ by this much slide, and in effort by this much.
LEAST_M, LEAST_POINTS = 0.04, 0.2
# Where the slide turns back in both, by this much at least.
LEAST_SHORTER_M = 0.1
_TRIED = 60


@dataclass(frozen=True, slots=True)
class TwoRoutes:
    """A figure and its two routes, which part at note ``at``: ``usual`` turns back there, ``other``
    goes on, or turns back too and is much shorter. ``points`` is by how much ``other`` costs less
    effort (negative: more)."""

    notes: tuple[Pitch, ...]
    at: int
    usual: tuple[Place, ...]
    other: tuple[Place, ...]
    points: float

    @property
    def midi(self) -> int:
        """The note that has the two places."""
        return self.notes[self.at].midi

    @property
    def goes_on(self) -> bool:
        """Whether the slide doesn't turn back at the note in the other route."""
        return not _turns(self.other, self.at)

    @property
    def saved_m(self) -> float:
        """How much way of the slide the other route saves."""
        return way_m(self.usual) - way_m(self.other)


def make(player: Player, wishes: Wishes, rng: random.Random) -> tuple[Piece, ...]:
    """One piece for each figure: both routes slowly, then both twice as fast.

    The same notes twice is meant.

    Raises
    ------
    BadUsage
        When no figure within the range has two such routes.
    """
    tempo = wishes.tempo(_TEMPO)
    # Each note with two places once, then other figures about the same notes.
    first: dict[int, TwoRoutes] = {}
    more: list[TwoRoutes] = []
    for found in find_routes(player, wishes, tempo, rng):
        if first.setdefault(found.midi, found) is not found:
            more.append(found)
    chosen = [*first.values(), *more][: wishes.pieces]
    if not chosen:
        raise BadUsage("drills.no_two_routes", where=on_horn(player))
    chosen = well_joined(chosen, lambda row: (row.notes[0].midi, row.notes[-1].midi))
    counts: Counter[int] = Counter()
    pieces = []
    for row in chosen:
        counts[row.midi] += 1
        pieces.append(_piece(row, counts[row.midi], tempo))
    return tuple(pieces)


def find_routes(
    player: Player, wishes: Wishes, tempo_qpm: float, rng: random.Random
) -> list[TwoRoutes]:
    """Figures of the range with two routes that differ where the line turns.

    Those that students read and where the alternate is the easier way come first, of these the ones
    where the slide goes on, of these the ones that save most. Some of all figures, chosen by
    ``rng``; more of them as long as too few such notes are found.
    """
    usual = usual_places(player, wishes)
    all_ = [
        spelled(start, figure)
        for start, figure in product(usual, FIGURES)
        if all(start + step in usual for _, step in figure)
        and _may_turn(player, usual, [start + step for _, step in figure])
    ]
    rng.shuffle(all_)
    rest = [notes for notes in all_ if not _readable(notes)]
    all_ = [notes for notes in all_ if _readable(notes)]
    all_ += [tuple(from_midi(note.midi) for note in notes) for notes in rest]
    keys = wishes.tonics(rng)
    in_key = [
        notes for notes in all_ if any(all(is_in(n.midi, key) for n in notes) for key in keys)
    ]
    found = _tried(player, in_key, wishes.pieces, tempo_qpm)
    if not found:
        found = _tried(player, all_, wishes.pieces, tempo_qpm)
    return sorted(found, key=_order)


def _tried(
    player: Player, figures: Sequence[tuple[Pitch, ...]], wanted: int, tempo_qpm: float
) -> list[TwoRoutes]:
    """What some of the figures give; of more of them as long as it is too little."""
    found: list[TwoRoutes] = []
    for first in range(0, len(figures), _TRIED):
        for notes in figures[first : first + _TRIED]:
            row = two_routes(player, notes, 30.0 / tempo_qpm)
            if row is not None:
                found.append(row)
        shown = {row.midi for row in found if _is_worth(row)}
        if len(shown) >= wanted:
            break
    return found


def _order(row: TwoRoutes) -> tuple[bool, bool, float, list[int]]:
    midis = [note.midi for note in row.notes]
    return not _is_worth(row), not row.goes_on, -round(row.saved_m, 6), midis


def _is_worth(row: TwoRoutes) -> bool:
    """Whether a student reads the figure at sight and feels what the alternate is good for."""
    return row.points > 0.0 and _readable(row.notes)


def _may_turn(player: Player, usual: Mapping[int, Place], notes: Sequence[int]) -> bool:
    """Whether the usual places turn back about a note that has other places: quick to see."""
    route = tuple(usual[midi] for midi in notes)
    return any(
        _turns(route, note) and len(player.book.places(notes[note])) > 1
        for note in range(1, len(notes) - 1)
    )


def _readable(notes: tuple[Pitch, ...]) -> bool:
    """Whether a figure stands in a key that students read: up to three sharps or five flats."""
    return all(note.step in _SIGNED[note.alter] for note in notes if note.alter)


def two_routes(player: Player, notes: tuple[Pitch, ...], note_s: float) -> TwoRoutes | None:
    """The best route of a figure, and the best that differs in whether the line turns at a note, or
    turns there after a much longer way. A note that comes again is in the same place each time.

    High partials of a valve are left out where a note has another place.

    ``note_s`` is the length of each note in seconds. None where there are no two such routes that
    differ by 4 cm of slide and 0.2 points of effort, or where the one that turns isn't in that
    note's usual place.
    """
    count = len(notes)
    line = make_line(
        [note.midi for note in notes], [note_s * k for k in range(count)], [note_s] * count
    )
    choices = lay_out(line, player.book, player.profile)
    # No teacher sends a student to a high partial of the valve, unless there's nothing else.
    at = choices.at
    plain = choices.usable & ((at.valves == 0) | (at.partial <= HIGH_VALVE_PARTIAL))
    usable = choices.usable & (plain | ~plain.any(axis=1, keepdims=True))
    midis = line.midi.tolist()
    tied = solve_tied(choices, player.profile, midis, usable).solution
    best = tied.places
    rivals = []
    for midi in dict.fromkeys(midis[1:-1]):
        at_ = [k for k, other in enumerate(midis) if other == midi]
        for choice, place in enumerate(choices.places[at_[0]]):
            other = tuple(place if k in at_ else one for k, one in enumerate(best))
            # Quick to see: most places are none that the line would turn for.
            if not usable[at_[0], choice] or not _part(choices, notes, best, other):
                continue
            narrowed = usable.copy()
            narrowed[at_] = False
            narrowed[at_, choice] = True
            rival = solve_tied(choices, player.profile, midis, narrowed).solution
            if rival.places == other and rival.total - tied.total >= LEAST_POINTS:
                rivals.append((rival.total - tied.total, other))
    for worse, other in sorted(rivals, key=lambda row: row[0]):
        found = _part(choices, notes, best, other)
        if found is not None and worse < FORBIDDEN:
            return replace(found, points=found.points * worse)
    return None


def _part(
    choices: Choices, notes: tuple[Pitch, ...], best: tuple[Place, ...], other: tuple[Place, ...]
) -> TwoRoutes | None:
    """How two routes part where the line turns, if it is worth feeling; ``points`` is ±1."""
    for note in range(1, len(notes) - 1):
        if best[note] == other[note] or not (_turns(best, note) or _turns(other, note)):
            continue
        both = _turns(best, note) and _turns(other, note)
        # Where both turn back the best one must be the alternate: else there's nothing to feel.
        usual, going = (best, other) if _turns(best, note) and not both else (other, best)
        found = TwoRoutes(notes, note, usual, going, 1.0 if going is best else -1.0)
        known = usual_place(choices, note) == usual[note]
        clean = all(in_tune(place) for place in going)
        if known and clean and found.saved_m >= (LEAST_SHORTER_M if both else LEAST_M):
            return found
    return None


def _turns(route: tuple[Place, ...], note: int) -> bool:
    """Whether the slide turns back about a note."""
    before = route[note].extension_m - route[note - 1].extension_m
    after = route[note + 1].extension_m - route[note].extension_m
    return before * after < 0.0 and min(abs(before), abs(after)) > SAME_SPOT_M


def _piece(row: TwoRoutes, number: int, tempo_qpm: float) -> Piece:
    note = row.notes[row.at]
    usual, other = fact("drills.usual"), fact("drills.alternate")
    slow = [*_slow(row.notes, row.usual, usual), *_slow(row.notes, row.other, other)]
    fast = [_fast(row.notes, row.usual, usual), _fast(row.notes, row.other, other)]
    ways = fact(
        "drills.goes_on" if row.goes_on else "drills.goes_less",
        note=note,
        usual=row.usual[row.at],
        other=row.other[row.at],
        usual_cm=100.0 * way_m(row.usual),
        other_cm=100.0 * way_m(row.other),
    )
    feel = fact("drills.second_is_easier" if row.points > 0.0 else "drills.first_is_easier")
    title = (
        fact("drills.two_places_again", note=note, number=number)
        if number > 1
        else fact("drills.two_places", note=note)
    )
    return piece(title, (fact("drills.same_notes"), ways, feel), [*slow, *fast], tempo_qpm)


def _slow(notes: tuple[Pitch, ...], route: tuple[Place, ...], said: Fact) -> tuple[Bar, Bar]:
    first = tuple(
        placed(note, QUARTER, place, said if k == 0 else None)
        for k, (note, place) in enumerate(zip(notes[:4], route[:4]))
    )
    return first, (placed(notes[4], WHOLE, route[4]),)


def _fast(notes: tuple[Pitch, ...], route: tuple[Place, ...], said: Fact) -> Bar:
    short = [
        placed(note, EIGHTH, place, said if k == 0 else None)
        for k, (note, place) in enumerate(zip(notes[:4], route[:4]))
    ]
    return (*short, placed(notes[4], HALF, route[4]))
