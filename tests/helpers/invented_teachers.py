"""Invented teachers, who choose by weights of their own, and how one of them goes through parts.

A teacher's weights are drawn round the profile that his horn has by itself, in groups that belong
together (one who avoids a valve avoids it everywhere). Every third teacher makes no slips, every
third slips on 3 % of the notes where another place is nearly as good, and every third slips and has
other hold and move times than the model, which weights can't make up for. What they choose comes
from the whole chooser, or from the exact route alone.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from handslide.edges.files.horns import load_horn
from handslide.edges.files.profiles import BY_HORN, load_profile
from handslide.edges.musicxml.read import open_score
from handslide.instrument.effort import route_terms, spots, timing
from handslide.instrument.horn import Horn, HornDescription
from handslide.instrument.learning.example import (
    ChosenNote,
    Example,
    Examples,
    Question,
    Stand,
    Wish,
)
from handslide.instrument.line import Line, make_line
from handslide.instrument.obstacles import clear
from handslide.instrument.places import Limits, Place, PlaceBook
from handslide.instrument.profile import Profile
from handslide.instrument.route import Solution, lay_out, solve_choices
from handslide.instrument.settle import settle
from handslide.jobs.mark.routed import played_line

HORNS = ("tenor-f", "bass-independent", "tenor")
KINDS = ("exact", "slips", "times")
Kind = Literal["exact", "slips", "times"]
Chooser = Literal["settled", "exact"]

SLIPS = 0.03
# A slip goes to a place that is no more points worse.
SLIP_POINTS = 1.0
# It is learnt again after so many corrections and after each part; of an expert, after so many.
LEARN_EACH, EXPERT_EACH = 5, 25
EXPERT = 20
# Spread of the log weights of a group, and within each.
SPREADS = {
    "valves": 1.0, "alternates": 1.0, "moves": 0.6, "turns": 0.8, "far": 0.9, "slurs": 0.8,
    "small": 0.5,
}  # fmt: skip
WITHIN = 0.4
MOST = 2.0
GROUPS = {
    "valve_move": "valves", "valve_swap": "valves", "valve_far": "valves", "valve_home": "valves",
    "valve_colour": "valves", "second_valve": "valves", "valve_high": "valves",
    "valve_pedal": "valves",
    "alternate": "alternates", "seek": "alternates", "held_alternate": "alternates",
    "odd_partial": "alternates", "vibrato": "alternates",
    "distance_per_m": "moves", "speed_per_m2_s2": "moves", "jolt_per_m2_s4": "moves",
    "turn_per_m": "turns", "far_per_m2": "far", "seventh": "far",
    "smear": "slurs", "smear_per_m": "slurs", "slur_with_pitch": "slurs",
    "between": "small", "lip_per_cent": "small", "moved_repeat": "small", "wander": "small",
}  # fmt: skip
# What a base leaves at nothing some teachers know all the same, with these points.
NEW = {"vibrato": 0.18}
NEW_PARTIALS = {8: 0.15}
HAS_NEW = 0.3
TIMES = ("hold_s", "move_share", "move_quick_s", "move_longest_s", "slur_move_s", "valve_hurry_s",
         "turn_ready_m", "reset_s")  # fmt: skip
TIMES_SPREAD = 0.4


@dataclass(frozen=True, slots=True)
class Teacher:
    """A teacher by his ``number``, the horn that he teaches, and what he chooses by."""

    number: int
    kind: Kind
    horn: str
    profile: Profile
    slips: float


def base_for(horn: Horn) -> Profile:
    """The profile that a horn has by itself."""
    return load_profile(BY_HORN, horn)


def teacher(number: int, horn: str | None = None) -> Teacher:
    """The teacher of a number: a horn and a kind in turn (or on ``horn``), weights by chance."""
    rng = np.random.default_rng([15, number])
    horn = HORNS[number // len(KINDS) % len(HORNS)] if horn is None else horn
    kind: Kind = KINDS[number % len(KINDS)]
    base = base_for(load_horn(horn).tuned())
    shifts = {group: rng.normal(0.0, spread) for group, spread in SPREADS.items()}

    def factor(group: str) -> float:
        return float(np.exp(np.clip(shifts[group] + rng.normal(0.0, WITHIN), -MOST, MOST)))

    weights = {}
    for name, group in GROUPS.items():
        value = getattr(base, name)
        new = NEW.get(name, 0.0) if rng.random() < HAS_NEW else 0.0
        weights[name] = (value or new) * factor(group)
    partials = {**base.partials}
    for partial, points in NEW_PARTIALS.items():
        if rng.random() < HAS_NEW:
            partials.setdefault(partial, points)
    partials = {partial: points * factor("alternates") for partial, points in partials.items()}
    profile = replace(base, name=f"teacher-{number}", partials=partials, **weights)
    if kind == "times":
        times = {name: getattr(base, name) * rng.lognormal(0.0, TIMES_SPREAD) for name in TIMES}
        times["move_share"] = min(1.0, times["move_share"])
        profile = replace(profile, **times)
    return Teacher(number, kind, horn, profile, 0.0 if kind == "exact" else SLIPS)


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A part as it lies before a teacher: each written note once, those that his horn has."""

    key: str
    horn: HornDescription
    book: PlaceBook
    line: Line
    notes: tuple[ChosenNote, ...]

    def solve(self, profile: Profile, locks: dict[int, Place] | None = None) -> Solution:
        """The exact route."""
        return solve_choices(lay_out(self.line, self.book, profile), profile, locks).solution

    def choose(
        self, profile: Profile, locks: dict[int, Place] | None = None, by: Chooser = "settled"
    ) -> tuple[Place, ...]:
        """The place of each note as the whole chooser, or the exact route, has it."""
        first = self.solve(profile, locks)
        return (settle(first) if by == "settled" else first).places

    def example(self, chosen: dict[int, tuple[str, Place]]) -> Example:
        """What was looked at: of some notes, how and which place."""
        notes = list(self.notes)
        for note, (how, place) in chosen.items():
            notes[note] = replace(notes[note], how=how, places=(wish_of(place),))
        return Example(self.key, self.key, Stand(self.horn), tuple(notes))


def wish_of(place: Place) -> Wish:
    """What names a place beside its pitch."""
    return place.valves, place.partial


def read_piece(path: Path, horn: str) -> Piece:
    """A part of a score for one horn; of repeats the first time."""
    description = load_horn(horn)
    tuned = description.tuned()
    base = base_for(tuned)
    book = PlaceBook(
        tuned, Limits(top_partial=base.top_partial, top_partial_valve=base.top_partial_valve)
    )
    part = open_score(path).read_part(None, None, 80.0)
    played, pitches = played_line(part)
    first: dict[int, int] = {}
    for at, number in enumerate(part.played):
        first.setdefault(number, at)
    once = np.array(sorted(first.values()), np.intp)
    cleared = clear(played.only(once), book, [pitches[part.played[at]] for at in once.tolist()])
    line = cleared.line
    numbers = [part.played[at] for at in once[cleared.keep].tolist()]
    notes = []
    for at, number in enumerate(numbers):
        written = part.notes[number]
        notes.append(
            ChosenNote(
                midi=int(line.midi[at]),
                spelled=pitches[number].name,
                onset_s=float(line.onset_s[at]),
                length_s=float(line.length_s[at]),
                slur=bool(line.slur[at]),
                gliss=bool(line.gliss[at]),
                measure=written.measure,
                index=written.number,
                number=number,
            )
        )
    return Piece(path.stem, description, book, line, tuple(notes))


def trouble(profile: Profile, asked: Question, way: Sequence[Wish]) -> float:
    """The points of one way to play the notes of a question."""
    horn = asked.stand.horn.tuned()
    notes = asked.notes
    line = make_line(
        [note.midi for note in notes],
        [note.onset_s for note in notes],
        [note.length_s for note in notes],
        [note.slur for note in notes],
        [note.gliss for note in notes],
    )
    book = PlaceBook(horn)
    places = [
        next(place for place in book.places(note.midi) if wish_of(place) == wish)
        for note, wish in zip(notes, way)
    ]
    at = spots(tuple(valve.name for valve in horn.valves), places)
    terms = route_terms(profile, line, at, timing(profile, line), begins=asked.begins)
    return float(sum(points.sum() for part in terms for points in part.values()))


def his_places(
    who: Teacher, piece: Piece, by: Chooser = "settled", *, slips: bool = True
) -> tuple[Place, ...]:
    """Where a teacher plays a part; with his slips, which are the same each time."""
    first = piece.solve(who.profile)
    solution = settle(first) if by == "settled" else first
    places = list(solution.places)
    if slips and who.slips:
        rng = np.random.default_rng([15, who.number, *piece.key.encode()])
        for note in np.flatnonzero(rng.random(len(places)) < who.slips).tolist():
            worse = first.worse_by[note].copy()
            worse[first.choices.places[note].index(places[note])] = np.inf
            worse[len(first.choices.places[note]) :] = np.inf
            other = int(worse.argmin())
            if worse[other] < SLIP_POINTS:
                places[note] = first.choices.places[note][other]
    return tuple(places)


Learn = Callable[[Examples], Profile]
"""A profile for the teacher's horn from what he has done so far."""


@dataclass(frozen=True, slots=True)
class Gone:
    """How far a teacher has gone: corrections so far, what they are, and the profile from them."""

    corrections: int
    looked_at: int
    examples: Examples
    profile: Profile


@dataclass(slots=True)
class _Desk:
    """A part on the teacher's desk: what is corrected, and up to where he has read."""

    piece: Piece
    his: tuple[Place, ...]
    by: Chooser
    changed: dict[int, Place] = field(default_factory=dict)
    kept: dict[int, Place] = field(default_factory=dict)
    read: int = 0

    def marked(self, profile: Profile) -> tuple[Place, ...]:
        return self.piece.choose(profile, {**self.kept, **self.changed}, self.by)

    def example(self) -> Example:
        """He has read up to ``read``: what he hasn't put right there stands as it should."""
        chosen = {note: ("kept", self.his[note]) for note in range(self.read)}
        chosen.update((note, ("changed", place)) for note, place in self.changed.items())
        return self.piece.example(chosen)


def walk(
    who: Teacher,
    pieces: Sequence[Piece],
    learn: Learn,
    base: Profile,
    most: int,
    by: Chooser = "settled",
) -> Iterator[Gone]:
    """The teacher reads on through parts marked with the profile so far, and puts it right.

    The rest of the part adapts; where it adapts before the note he puts that right as well. What he
    has passed counts as kept. After `LEARN_EACH` corrections and after each part the profile is
    learnt again (after `EXPERT` corrections: each `EXPERT_EACH`, and with the last part); each time
    it is handed out. It ends after ``most`` corrections, or with the parts.
    """
    profile, count = base, 0
    done: list[Example] = []
    for piece in pieces:
        desk = _Desk(piece, his_places(who, piece, by), by)
        while desk.read < len(desk.his) and count < most:
            wrong = _first_apart(desk.marked(profile), desk.his)
            if wrong is None:
                desk.read = len(desk.his)
                break
            desk.changed[wrong] = desk.his[wrong]
            desk.read = max(desk.read, wrong + 1)
            count += 1
            if count % (LEARN_EACH if count <= EXPERT else EXPERT_EACH) == 0:
                # What he has read stands; the rest is marked anew.
                desk.kept = {note: desk.his[note] for note in range(desk.read)}
                examples = Examples((*done, desk.example()))
                profile = learn(examples)
                yield Gone(count, _looked_at(examples), examples, profile)
        done.append(desk.example())
        examples = Examples(tuple(done))
        if count >= most:
            return
        if count <= EXPERT or piece is pieces[-1]:
            profile = learn(examples)
            yield Gone(count, _looked_at(examples), examples, profile)


def _first_apart(ours: Sequence[Place], his: Sequence[Place]) -> int | None:
    return next((n for n, (a, b) in enumerate(zip(ours, his)) if wish_of(a) != wish_of(b)), None)


def _looked_at(examples: Examples) -> int:
    return sum(note.how is not None for example in examples.examples for note in example.notes)


def apart(
    pieces: Sequence[Piece],
    his: Sequence[Sequence[Place]],
    profile: Profile,
    by: Chooser = "settled",
) -> NDArray[np.bool_]:
    """For all notes of some parts, whether we choose another place than he does."""
    return np.array(
        [
            wish_of(one) != wish_of(other)
            for piece, places in zip(pieces, his)
            for one, other in zip(piece.choose(profile, None, by), places)
        ]
    )
