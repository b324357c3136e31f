"""The best route of a line: its places, what every other one would cost, and why."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from handslide.api.arrays import Bools, Floats, Ints, column, fixed
from handslide.api.horns import Horn
from handslide.api.notes import Notes, Unit, read_notes
from handslide.api.places import place_of
from handslide.api.rows import Place, Places, valve_table
from handslide.api.telling import Reason
from handslide.ground.errors import BadData, BadUsage
from handslide.ground.pitch import Pitch
from handslide.instrument import places as core
from handslide.instrument import rivalry
from handslide.instrument.effort import FORBIDDEN
from handslide.instrument.line import Line, make_line, parse_line
from handslide.instrument.obstacles import Obstacle
from handslide.instrument.settle import Settled
from handslide.jobs.mark.routed import Routed
from handslide.jobs.mark.routed import route as choose

# No route goes there.
_IMPOSSIBLE = FORBIDDEN / 1e3
DEFAULT_TEMPO_QPM = 80.0
# A place of the same note, of another air or A4, is no further away.
_SAME_MM = 1000.0 * core.SAME_SPOT_M


@dataclass(frozen=True, eq=False)
class Route:
    """One place for each note of a line, and what every other place would have cost.

    N notes of at most K places each; V valves. A note that can't be played is a gap: its place is
    None, its numbers are NaN, its partial 0, its choice -1, its ``worse_by`` inf; ``obstacles``
    says why. All arrays are read-only.

    Attributes
    ----------
    horn
        The horn that it is for.
    names, midi : N names, (N,)
        The notes, by name and as MIDI numbers.
    onset_s, length_s : (N,)
        When each note begins and how long it is, s.
    chosen : (N,)
        Which of ``choices[i]`` each note has.
    effort
        Points of the whole route (docs/effort.md); one is about a calm move from 1st to 3rd.
    least_effort
        Points of the exact best route: ``effort`` or, where near ties were settled, a little less.
    exact
        Whether the optimum is proved. False only where a repeat ties notes together so badly that
        the search was cut off.
    obstacles
        What can't be played, as ``note``, ``kind`` (``unplayable``, ``glissando``) and ``why``.
    """

    horn: Horn = field(repr=False)
    names: tuple[str, ...]
    midi: Ints = field(repr=False)
    onset_s: Floats = field(repr=False)
    length_s: Floats = field(repr=False)
    chosen: Ints = field(repr=False)
    effort: float
    least_effort: float
    exact: bool
    obstacles: tuple[Obstacle, ...] = field(repr=False)
    _routed: Routed = field(repr=False)

    def __len__(self) -> int:
        return len(self.names)

    @cached_property
    def choices(self) -> tuple[Places, ...]:
        """The places that each note could have, shortest slide first: N sequences."""
        known: dict[int, Places] = {}
        for midi in self.midi.tolist():
            if midi not in known:
                rows = tuple(place_of(self.horn, p) for p in self._book.places(midi))
                known[midi] = Places(float(midi), None, rows, self.horn.valves)
        whys = {one.note: one.why for one in self.obstacles if one.kind == "unplayable"}
        return tuple(
            replace(known[midi], why=whys[note]) if note in whys else known[midi]
            for note, midi in enumerate(self.midi.tolist())
        )

    @cached_property
    def places(self) -> tuple[Place | None, ...]:
        """The place of each note; None for a gap."""
        rows = zip(self.choices, self.chosen.tolist())
        return tuple(row[k] if k >= 0 else None for row, k in rows)

    @property
    def marks(self) -> tuple[str, ...]:
        """What is written over each note; empty for a gap."""
        return tuple("" if place is None else place.mark for place in self.places)

    @property
    def extension_mm(self) -> Floats:
        """(N,) how far out the slide is, mm."""
        return fixed([np.nan if p is None else p.extension_mm for p in self.places])

    @property
    def position(self) -> Floats:
        """(N,) positions, 1 closed."""
        return fixed([np.nan if p is None else p.position for p in self.places])

    @property
    def lip_cents(self) -> Floats:
        """(N,) how far each note is lipped up, cents."""
        return fixed([np.nan if p is None else p.lip_cents for p in self.places])

    @property
    def partial(self) -> Ints:
        """(N,) partials."""
        return fixed([0 if p is None else p.partial for p in self.places], np.int64)

    @property
    def valves(self) -> Bools:
        """(N, V) whether each valve is engaged, in the order of ``horn.valves``."""
        return valve_table(self.places, self.horn.valves)

    @cached_property
    def worse_by(self) -> Floats:
        """(N, K) the min-marginals, points.

        Of each place, how much more effort the best *whole* route through it takes than this route:
        0 for the place chosen, inf where no route goes and beyond a note's last place. Where near
        ties were settled, the best among routes that keep the other settled notes.
        """
        width = max((len(row) for row in self.choices), default=0)
        worse = np.full((len(self), width), np.inf)
        solution = self._routed.solution
        if solution is not None:
            found = solution.worse_by[:, :width]
            numbers = np.array(self._routed.routed_written)
            worse[numbers, : found.shape[1]] = 0.0
            np.add.at(worse[:, : found.shape[1]], numbers, found)
        worse[worse >= _IMPOSSIBLE] = np.inf
        return fixed(worse)

    @cached_property
    def reasons(self) -> tuple[Reason | None, ...]:
        """Why each note has its place; None where that is its plain place, or nearly a tie."""
        return tuple(self.why(note) for note in range(len(self)))

    def why(self, note: int, place: Place | None = None) -> Reason | None:
        """Why a note has its place; or why it hasn't ``place``, one of its choices.

        None where there is nothing to say: a gap, or the plain place of the note.

        Raises
        ------
        HandslideError
            For a note that there isn't, a place that the note doesn't have.
        """
        note = self._index(note)
        if place is None:
            found = self._routed.note(note).reason
        else:
            found = self._routed.why_not(note, self._inside(note, place))
        return None if found is None else self._reason(note, found, against=place is not None)

    def effort_of(self, chosen: ArrayLike) -> float:
        """Points of any route through the same choices: ``effort_of(route.chosen)`` is ``effort``.

        Parameters
        ----------
        chosen
            (N,) which of ``choices[i]`` each note has; what stands at a gap doesn't matter.

        Returns
        -------
        float
            inf where a glissando changes its partial or its valves.

        Raises
        ------
        HandslideError
            For another shape, and for a choice that a note doesn't have.
        """
        route = column("chosen", chosen, len(self), np.int64)
        solution = self._routed.solution
        if solution is None:
            return 0.0
        played = route[self._routed.routed_written]
        if ((played < 0) | (played >= solution.choices.usable.sum(axis=1))).any():
            raise BadUsage("api.choice")
        at = solution.choices.at.take((np.arange(len(played)), played))
        moved = (np.diff(at.partial) != 0) | (np.diff(at.valves) != 0)
        if (moved & solution.choices.line.gliss[:-1]).any():
            return float("inf")
        return float(solution.points(played).sum())

    def through(self, note: int, choice: int) -> Ints:
        """(N,) the choices of the best whole route through one choice of a note.

        What ``worse_by[note, choice]`` is about: it is the difference in effort.

        Raises
        ------
        HandslideError
            For a note or a choice that there isn't, or that no route goes through; for a note of a
            part that is played several times.
        """
        note = self._index(note)
        passes = self._routed.passes.get(note, [])
        if len(passes) > 1:
            raise BadUsage("api.repeated", index=note)
        if not 0 <= choice < len(self.choices[note]) or np.isinf(self.worse_by[note, choice]):
            raise BadUsage("api.choice")
        solution = self._routed.solution
        assert solution is not None
        low, along = solution.through(passes[0], choice)
        played = solution.chosen.copy()
        played[low : low + len(along)] = along
        route = self.chosen.copy()
        route[self._routed.routed_written] = played
        return fixed(route, np.int64)

    @property
    def _book(self) -> core.PlaceBook:
        return self._routed.setup.book

    def _index(self, note: int) -> int:
        if not -len(self) <= note < len(self):
            raise BadUsage("api.no_note", index=note, count=len(self))
        return note % len(self)

    def _inside(self, note: int, place: Place) -> core.Place:
        return inside(self._book, self._routed.pitches[note], place)

    def _reason(self, note: int, found: rivalry.Reason, *, against: bool) -> Reason:
        rows = {(place.valves, place.partial): place for place in self.choices[note]}
        rival = None if found.rival is None else rows[found.rival.valves, found.rival.partial]
        worse = None
        if rival is not None:
            worse = float(self.worse_by[note, self.choices[note].index(rival)])
        return Reason(
            note,
            found.kind,
            rows[found.place.valves, found.place.partial],
            rival,
            worse,
            None if found.neighbour is None else found.neighbour.name,
            1000.0 * found.way_m,
            1000.0 * found.rival_way_m,
            found.rival_speed_m_s,
            found,
            against,
        )


def route(
    notes: str | Notes,
    horn: Horn,
    *,
    unit: Unit = "midi",
    length_s: ArrayLike | None = None,
    onset_s: ArrayLike | None = None,
    slur: ArrayLike | None = None,
    gliss: ArrayLike | None = None,
    tempo_qpm: float = DEFAULT_TEMPO_QPM,
    locks: Mapping[int, Place] | None = None,
    settled: bool = True,
) -> Route:
    """The route of least effort through a line, exactly.

    Dynamic programming over (previous place, place) from both ends, which finds the optimum of all
    routes and, for each place of each note, the best whole route through it: time O(N·K³). Near
    ties are then settled as a teacher settles them (docs/effort.md), unless that isn't wanted.

    Parameters
    ----------
    notes
        A typed line, such as ``"Eb3 D3:2 (Db3 C3)"``, with beats, slurs, ``~`` for a glissando and
        ``r`` for a rest; or N names; or N numbers. Numbers are taken to their nearest semitone.
    horn
        From :func:`handslide.horn`, with the player's limits and the profile.
    unit
        What numbers are: ``"midi"`` (60 is C4) or ``"hz"``.
    length_s, onset_s
        (N,) or one for all, s; not with a typed line. Default: a beat each, one after the other.
    slur, gliss
        (N,) whether each note is slurred, or glides, to the next; not with a typed line.
    tempo_qpm
        Quarter notes a minute of a typed line and of the default, 10 to 500.
    locks
        Places that are given, by note: of ``places`` or of the ``choices`` of a route.
    settled
        False: the route of least effort itself, to the last hair.

    Returns
    -------
    Route
        A note that can't be played is a gap in it, not an error.

    Raises
    ------
    HandslideError
        For no notes, wrong names, NaN, arrays that don't fit together, times that go backwards,
        a lock that isn't a place of its note.

    Examples
    --------
    >>> import handslide as hs
    >>> route = hs.route(["Eb3", "D3", "Db3", "C3"], hs.horn("tenor-f"))
    >>> route.marks
    ('3', '4', '5', '6')
    >>> route.worse_by[3].round(2).tolist()
    [3.62, 0.0, 9.36]
    >>> [place.mark for place in route.choices[3]]
    ['T1', '6', 'T7½']
    """
    if isinstance(notes, str):
        for name, value in (("length_s", length_s), ("onset_s", onset_s), ("slur", slur),
                            ("gliss", gliss)):  # fmt: skip
            if value is not None:
                raise BadUsage("api.typed_times", name=name)
        typed = parse_line(notes, tempo_qpm)
        line, pitches = typed.line, list(typed.pitches)
    else:
        pitches = read_notes(notes, unit, horn.a4_hz)
        line = _line(pitches, length_s, onset_s, slur, gliss, tempo_qpm)
    fixed_places = {}
    for note, place in (locks or {}).items():
        if not 0 <= note < len(pitches):
            raise BadUsage("api.no_note", index=note, count=len(pitches))
        fixed_places[note] = inside(horn._setup.book, pitches[note], place)
    routed = choose(horn._setup, line, pitches, locks=fixed_places)
    if not settled and routed.settled is not None:
        first = routed.settled.first
        routed = replace(routed, settled=Settled(first, first, routed.settled.exact))
    return route_of(horn, routed, line)


def _line(
    pitches: Sequence[Pitch],
    length_s: ArrayLike | None,
    onset_s: ArrayLike | None,
    slur: ArrayLike | None,
    gliss: ArrayLike | None,
    tempo_qpm: float,
) -> Line:
    count = len(pitches)
    if not 10.0 <= tempo_qpm <= 500.0:
        raise BadUsage("line.tempo", tempo_qpm=tempo_qpm)
    lengths = column("length_s", 60.0 / tempo_qpm if length_s is None else length_s, count)
    if onset_s is None:
        onsets = np.concatenate(([0.0], np.cumsum(lengths)[:-1]))
    else:
        onsets = column("onset_s", onset_s, count)
    joins = [
        # The last note has nothing to go to.
        [*column(name, False if value is None else value, count, np.bool_)[:-1].tolist(), False]
        for name, value in (("slur", slur), ("gliss", gliss))
    ]
    return make_line([p.midi for p in pitches], onsets.tolist(), lengths.tolist(), *joins)


def inside(book: core.PlaceBook, pitch: Pitch, place: Place) -> core.Place:
    """A place as the core has it. Raises BadData where the note has no such place."""
    for one in book.places(pitch.midi):
        near = abs(1000.0 * one.extension_m - place.extension_mm) <= _SAME_MM
        if near and (one.valves, one.partial) == (place.valves, place.partial):
            return one
    raise BadData("api.no_such_place", pitch=pitch, place=place.mark)


def route_of(horn: Horn, routed: Routed, line: Line) -> Route:
    """What was chosen for the written notes of a line, as it is given out."""
    count = len(routed.pitches)
    # Of a note that is played several times the first time counts.
    times = np.full((2, count), np.nan)
    times[:, list(reversed(routed.written))] = (line.onset_s[::-1], line.length_s[::-1])
    chosen = np.full(count, -1)
    effort = least = 0.0
    if routed.solution is not None and routed.first is not None:
        chosen[routed.routed_written] = routed.solution.chosen
        effort, least = routed.solution.total, routed.first.total
    return Route(
        horn,
        tuple(pitch.name for pitch in routed.pitches),
        fixed([pitch.midi for pitch in routed.pitches], np.int64),
        fixed(times[0]),
        fixed(times[1]),
        fixed(chosen, np.int64),
        effort,
        least,
        routed.exact,
        tuple(replace(one, note=routed.written[one.note]) for one in routed.cleared.obstacles),
        routed,
    )
