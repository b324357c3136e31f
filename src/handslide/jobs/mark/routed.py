"""A routed line: what was chosen for each note, what else there was, and why."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from handslide.edges.musicxml.scorepart import ScorePart
from handslide.ground.pitch import Pitch
from handslide.instrument.effort import FORBIDDEN, PEAK_SPEED
from handslide.instrument.lattice import StepCallback
from handslide.instrument.line import Line, make_line
from handslide.instrument.marks import mark
from handslide.instrument.obstacles import Cleared, clear
from handslide.instrument.places import Place
from handslide.instrument.reasons import Reasons
from handslide.instrument.rivalry import Reason
from handslide.instrument.route import Choices, Solution, lay_out, usual_place
from handslide.instrument.settle import Settled, choose_from, figure_roots
from handslide.jobs.setup import Setup
from handslide.words.horns import horn_title
from handslide.words.reasons import reason_words
from handslide.words.speech import Speech

_IMPOSSIBLE = FORBIDDEN / 1e3


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another place of a note, and by how many points the best route through it is worse."""

    place: Place
    mark: str
    worse_by: float


@dataclass(frozen=True, slots=True)
class RoutedNote:
    """A written note with its place; ``place`` is None when it can't be played."""

    index: int
    pitch: Pitch
    place: Place | None
    mark: str
    usual: Place | None
    alternatives: tuple[Alternative, ...]
    reason: Reason | None


@dataclass(frozen=True, slots=True)
class SlideMove:
    """A move between two written notes: its length, time and peak speed."""

    first: int
    second: int
    length_m: float
    time_s: float
    speed_m_s: float


@dataclass(frozen=True, eq=False)
class Routed:
    """The route of a line. ``written`` gives, for each played note, its written note.

    ``pitches`` are those of the written notes; ``exact`` is false when tied repeats had to be
    settled without proof of the optimum. ``locked`` are the written notes whose place was given,
    ``kept`` those of them that keep what stands in the part.
    """

    setup: Setup
    pitches: Sequence[Pitch]
    written: Sequence[int]
    cleared: Cleared
    settled: Settled | None
    locked: frozenset[int]
    kept: frozenset[int] = frozenset()

    @property
    def solution(self) -> Solution | None:
        """The solution over the playable notes; None when there are none."""
        return None if self.settled is None else self.settled.solution

    @property
    def first(self) -> Solution | None:
        """The exact best route, before near ties were settled: what weights are learnt from."""
        return None if self.settled is None else self.settled.first

    @property
    def exact(self) -> bool:
        """Whether the route is proved to be the best."""
        return self.settled is None or self.settled.exact

    @cached_property
    def routed_written(self) -> list[int]:
        """For each note of the solution, its written note."""
        return [self.written[k] for k in self.cleared.keep.tolist()]

    @cached_property
    def passes(self) -> dict[int, list[int]]:
        """For each routed written note, its notes in the solution, in playing order."""
        found: dict[int, list[int]] = {}
        for note, number in enumerate(self.routed_written):
            found.setdefault(number, []).append(note)
        return found

    @cached_property
    def places(self) -> dict[int, Place]:
        """The place of each routed written note."""
        if self.solution is None:
            return {}
        return dict(zip(reversed(self.routed_written), reversed(self.solution.places)))

    @cached_property
    def marks(self) -> dict[int, str]:
        """The mark of each routed written note."""
        # Notes of one pitch share their Place objects; hashing a thousand of them takes longer.
        distinct = {id(place): place for place in self.places.values()}
        horn, style = self.setup.horn, self.setup.style
        texts = {key: mark(horn, place, style) for key, place in distinct.items()}
        return {note: texts[id(place)] for note, place in self.places.items()}

    @cached_property
    def usual(self) -> dict[int, Place]:
        """For each MIDI note of the line, the place it would get standing alone."""
        if self.solution is None:
            return {}
        choices = self.solution.choices
        first = {midi: note for note, midi in enumerate(choices.line.midi.tolist())}
        return {midi: usual_place(choices, note) for midi, note in first.items()}

    @cached_property
    def reasons(self) -> Reasons | None:
        """Reasons for the notes of the solution."""
        if self.solution is None:
            return None
        pitches = [self.pitches[number] for number in self.routed_written]
        locked, kept = (
            frozenset(note for note, number in enumerate(self.routed_written) if number in given)
            for given in (self.locked, self.kept)
        )
        return Reasons(self.solution, self.setup.book, pitches, locked, kept)

    def is_unusual(self, number: int) -> bool:
        """Whether a written note lies away from the place it would get standing alone."""
        place = self.places.get(number)
        return place is not None and place != self.usual[self.pitches[number].midi]

    @property
    def is_possible(self) -> bool:
        """Whether every glissando can be played in the places chosen."""
        return self.solution is None or self.solution.total < _IMPOSSIBLE

    @cached_property
    def gliding(self) -> frozenset[int]:
        """The written notes on which a glissando begins or ends."""
        starts = self.cleared.line.gliss.nonzero()[0].tolist()
        return frozenset(self.routed_written[end] for note in starts for end in (note, note + 1))

    @cached_property
    def _figures(self) -> dict[int, tuple[int, ...]]:
        """The routed written notes that are the same note of a figure, by each of them."""
        numbers = np.unique(self.routed_written, return_inverse=True)[1].reshape(-1)
        groups: dict[int, set[int]] = {}
        for number, root in zip(
            self.routed_written, figure_roots(self.cleared.line, numbers).tolist()
        ):
            groups.setdefault(root, set()).add(number)
        return {number: tuple(sorted(group)) for group in groups.values() for number in group}

    def alike(self, number: int) -> tuple[int, ...]:
        """The written notes that are this note of a figure that comes several times, itself too."""
        return (number,) if self.solution is None else self._figures.get(number, (number,))

    def costs(self, number: int) -> dict[Place, float]:
        """Of a routed written note, each possible place and by how many points it is worse."""
        if self.solution is None:
            return {}
        notes = self.passes[number]
        options = self.solution.choices.places[notes[0]]
        worse = self.solution.worse_by[notes].sum(axis=0)[: len(options)].tolist()
        return {place: points for place, points in zip(options, worse) if points < _IMPOSSIBLE}

    def note(self, number: int) -> RoutedNote:
        """All about one written note."""
        pitch = self.pitches[number]
        place = self.places.get(number)
        if place is None or self.solution is None or self.reasons is None:
            return RoutedNote(number, pitch, None, "", None, (), None)
        notes = self.passes[number]
        others = tuple(
            Alternative(other, mark(self.setup.horn, other, self.setup.style), worse)
            for other, worse in sorted(self.costs(number).items(), key=lambda row: row[1])
            if other != place
        )
        reason = self.reasons.of(*notes)
        told = None if reason is None else _told(self.setup, reason)
        usual = self.usual[pitch.midi]
        return RoutedNote(number, pitch, place, self.marks[number], usual, others, told)

    def why_not(self, number: int, place: Place) -> Reason | None:
        """Why a written note hasn't another of its places; None for one that has none."""
        return self._against(number, place) if number in self.passes else None

    def _against(self, number: int, place: Place) -> Reason:
        assert self.reasons is not None
        return _told(self.setup, self.reasons.against(place, *self.passes[number]))

    def why(self, number: int) -> Reason:
        """Why a written note has its unusual place; where there is no reason, how near a tie."""
        assert self.reasons is not None
        reason = self.reasons.of(*self.passes[number])
        if reason is not None:
            return _told(self.setup, reason)
        return self._against(number, self.usual[self.pitches[number].midi])

    def moves(self) -> list[SlideMove]:
        """All moves of the slide in playing order, between written notes."""
        if self.solution is None or len(self.solution.chosen) < 2:
            return []
        at = self.solution.choices.at.extension_m
        chosen = at[np.arange(len(at)), self.solution.chosen]
        length, time = np.abs(np.diff(chosen)), self.solution.when.move_s
        speed = PEAK_SPEED * length / time
        numbers = self.routed_written
        rows = zip(length.tolist(), time.tolist(), speed.tolist())
        return [SlideMove(numbers[i], numbers[i + 1], *row) for i, row in enumerate(rows)]


def _told(setup: Setup, reason: Reason) -> Reason:
    """A reason with its places as they are told beside their marks."""
    names = "place", "rival", "neighbour_place", "rival_neighbour_place"
    places: dict[str, Place | None] = {name: getattr(reason, name) for name in names}
    told: dict[str, Any] = {name: setup.told(place) for name, place in places.items() if place}
    return replace(reason, **told)


def played_line(part: ScorePart) -> tuple[Line, list[Pitch]]:
    """A part as it is played, and the pitches of its written notes."""
    pitches = [note.sounding for note in part.notes]
    midi = [pitches[number].midi for number in part.played]
    return make_line(midi, part.onset_s, part.length_s, part.slur, part.gliss), pitches


@dataclass(frozen=True, eq=False)
class Prepared:
    """A line laid out on a horn, ready to be routed again and again with other locks.

    ``choices`` are None when no note of it can be played.
    """

    setup: Setup
    pitches: Sequence[Pitch]
    written: Sequence[int]
    cleared: Cleared
    choices: Choices | None

    def route(
        self,
        locks: Mapping[int, Place] | None = None,
        progress: StepCallback | None = None,
        kept: Mapping[int, Place] | None = None,
    ) -> Routed:
        """Choose the places; ``locks`` fix some by written note, ``kept`` are those in the part."""
        given = {} if locks is None else locks
        kept = {} if kept is None else kept
        locks = {**kept, **given}
        settled = None
        if self.choices is not None:
            played = [self.written[k] for k in self.cleared.keep.tolist()]
            fixed = {note: locks[number] for note, number in enumerate(played) if number in locks}
            repeated = len(set(played)) < len(played)
            settled = choose_from(
                self.choices, self.setup.profile, fixed, played if repeated else None, progress
            )
        locked, stands = frozenset(locks), frozenset(kept.keys() - given.keys())
        return Routed(self.setup, self.pitches, self.written, self.cleared, settled, locked, stands)


def prepare(
    setup: Setup, line: Line, pitches: Sequence[Pitch], written: Sequence[int] | None = None
) -> Prepared:
    """Lay out a line.

    ``pitches`` are those of the written notes, ``written`` the written note of each note of the
    line (default: its own).
    """
    numbers = range(len(line)) if written is None else written
    cleared = clear(line, setup.book, [pitches[number] for number in numbers])
    choices = None
    if len(cleared.keep):
        choices = lay_out(cleared.line, setup.book, setup.profile)
    return Prepared(setup, pitches, numbers, cleared, choices)


def route(
    setup: Setup,
    line: Line,
    pitches: Sequence[Pitch],
    written: Sequence[int] | None = None,
    locks: Mapping[int, Place] | None = None,
    progress: StepCallback | None = None,
) -> Routed:
    """Choose the places of a line: :func:`prepare` and :meth:`Prepared.route`."""
    return prepare(setup, line, pitches, written).route(locks, progress)


def place_json(setup: Setup, place: Place | None) -> dict[str, Any]:
    """The JSON keys of a place; all None for a note that can't be played."""
    if place is None:
        keys = ("valves", "partial", "position", "extension_mm", "lip_cents", "mark")
        return dict.fromkeys(keys)
    return {
        "valves": list(place.valves),
        "partial": place.partial,
        "position": round(place.position, 4),
        "extension_mm": round(1000.0 * place.extension_m, 2),
        "lip_cents": round(place.lip_cents, 2),
        "mark": mark(setup.horn, place, setup.style),
    }


def setup_json(say: Speech, setup: Setup) -> dict[str, Any]:
    """The JSON keys that name the horn and the air of a result."""
    horn = setup.horn
    return {
        "horn": horn.name,
        "horn_title": horn_title(say, horn),
        "a4_hz": horn.a4_hz,
        "temp_c": horn.air.temp_c,
        "speed_of_sound_m_s": round(horn.speed_m_s, 4),
        "length_mm": round(1000.0 * horn.length_m, 2),
        "profile": setup.profile.name,
    }


def note_json(say: Speech, routed: Routed, number: int) -> dict[str, Any]:
    """The JSON object of one written note, as the contract has it."""
    note = routed.note(number)
    return {
        "note": note.pitch.name,
        "midi": note.pitch.midi,
        **place_json(routed.setup, note.place),
        "alternatives": [
            place_json(routed.setup, other.place) | {"worse_by": round(other.worse_by, 4)}
            for other in note.alternatives
        ],
        "reason": None if note.reason is None else reason_words(say, note.reason),
        "reason_kind": None if note.reason is None else note.reason.kind,
    }
