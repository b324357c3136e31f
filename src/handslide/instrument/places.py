"""All ways to play a note on a horn.

Conventions: extensions in metres from the closed stop, pitch as MIDI numbers in equal temperament
at the horn's A4, positions in open-horn semitones (1 = closed).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

from handslide.ground.hearing import TRAINED_EAR_CENTS
from handslide.ground.units import cents, midi_to_hz
from handslide.instrument.horn import Horn

TOP_PARTIAL = 16
# "Reach 6" means whatever is written as 6th position: the mark's own tolerance.
REACH_TOLERANCE = 0.2
# Two extensions closer than this are one spot to a player's arm.
SAME_SPOT_M = 0.005
# Up to here the open horn is nobody's reason to take a valve: 5th with the mark's tolerance.
NEAR_POSITION = 5.2
# The same for the first valve and any valve after it: its long 3rd, written 3½.
NEAR_VALVE_POSITION = 3.7
# From here on valves spare the open horn: what is written 7th.
SEVENTH_POSITION = 6.5
# From here on more valves spare a valve: what is written 5th with the F valve. They have the note
# near up to 4th, with the mark's tolerance.
FAR_VALVE_POSITION = 4.5
NEAR_BOTH_POSITION = 4.2
# Up to 4th, it is hardly ever one.
HOME_POSITION = 4.2
# Up to its long 2nd, a later valve saves nothing beside the first.
HOME_VALVE_POSITION = 2.5
# Steps that a valve is away from plain where the horn does without it, and does so up to 4th.
SPARE_STEPS = 3
HOME_STEPS = 8
# Between two semitones: nobody learns a note there first.
_ODD_PARTIALS = (11, 13)
_STOP_M = 1e-9


@dataclass(frozen=True, slots=True)
class Place:
    """One way to play a note: ``valves`` engaged, ``partial``, ``extension_m`` from the stop.

    ``lip_cents`` is how far the note must be lipped up where it is flat on the closed slide.
    ``alternate`` is 0 for the plain places of a note, 1 and more for its alternates: the number of
    partials above the lowest on which the note lies in tune with these valves, and three more for a
    valve where the open horn has the note in 5th position (eight where it has it nearer, or for
    two valves), or for a later valve where the first one has it in 3½ or nearer (eight up to its
    long 2nd). ``spared``: far out (in 7th, or 5th with a valve), though more valves, all learned,
    have the note near, or an alternate in 7th though the open horn has it in 4th or nearer.
    """

    valves: tuple[str, ...]
    partial: int
    extension_m: float
    position: float
    lip_cents: float = 0.0
    alternate: int = 0
    spared: bool = False


@dataclass(frozen=True, slots=True)
class Limits:
    """What a student can use: furthest ``reach`` (a position), ``learned`` valves, partials.

    None means no limit of that kind.
    """

    reach: float | None = None
    learned: frozenset[str] | None = None
    top_partial: int = TOP_PARTIAL
    top_partial_valve: int = TOP_PARTIAL

    def allows(self, place: Place) -> bool:
        """Whether the student can use ``place``."""
        if self.reach is not None and place.position > self.reach + REACH_TOLERANCE:
            return False
        if not self.learned_all(place.valves):
            return False
        top = self.top_partial_valve if place.valves else self.top_partial
        return place.partial <= top

    def learned_all(self, valves: tuple[str, ...]) -> bool:
        """Whether the student has learned all of ``valves``."""
        return self.learned is None or self.learned.issuperset(valves)


def find_place(
    horn: Horn, frequency_hz: float, partial: int, valves: tuple[str, ...]
) -> Place | None:
    """The place of a frequency on one partial and valve set, or None where there is none.

    x = (n·c·2^(δ/1200)/(2f) - L - ΣV)/2. A place exists where 0 ≤ x ≤ travel, and at the closed
    stop where the note is flat by at most the horn's ``lip_up_cents``.
    """
    return _on_tube(horn, frequency_hz, partial, valves, horn.length_m + horn.loops_m(valves))


def _on_tube(
    horn: Horn, frequency_hz: float, partial: int, valves: tuple[str, ...], tube: float
) -> Place | None:
    dev, slope = horn.deviation(valves, partial)
    whole = partial * horn.speed_m_s / (2.0 * frequency_hz)
    x = (whole * math.pow(2.0, dev / 1200.0) - tube) / 2.0
    if slope and x > 0.0:
        x = _solve_sloped(whole, tube, dev, slope, horn.travel_m)
    if x > horn.travel_m + _STOP_M:
        return None
    if x < -_STOP_M:
        lip = cents(frequency_hz / horn.frequency_hz(partial, 0.0, valves))
        if lip > horn.lip_up_cents:
            return None
        return Place(valves, partial, 0.0, 1.0, lip)
    x = min(max(x, 0.0), horn.travel_m)
    return Place(valves, partial, x, horn.position(x))


def _solve_sloped(whole: float, tube: float, dev: float, slope: float, travel: float) -> float:
    # tube + 2x = whole·2^((δ + s·x)/1200): the deviation itself moves with the slide. At x = 0 the
    # left side is the shorter one; if it still is at the end of the slide, the note lies beyond.
    rate = math.log(2.0) / 1200.0 * slope

    def ratio(x: float) -> float:
        return math.pow(2.0, (dev + slope * x) / 1200.0)

    x = travel + _STOP_M
    if tube + 2.0 * x < whole * ratio(x):
        return math.inf
    for _ in range(20):
        now = whole * ratio(x)
        step = (tube + 2.0 * x - now) / (2.0 - now * rate)
        x = min(max(x - step, 0.0), travel + _STOP_M)
        if abs(step) < 1e-12:
            break
    return x


def find_places(horn: Horn, midi: float, limits: Limits | None = None) -> tuple[Place, ...]:
    """All places of a note that ``limits`` allow, shortest slide first.

    Ties go to fewer valves, then to the lower partial.
    """
    limits = Limits() if limits is None else limits
    hz = midi_to_hz(midi, horn.a4_hz)
    found = []
    spare = later = 0
    first = horn.valve_sets[1:2]
    for valves in horn.valve_sets:
        lowest = None
        tube = horn.length_m + horn.loops_m(valves)
        for partial in range(1, TOP_PARTIAL + 1):
            place = _on_tube(horn, hz, partial, valves, tube)
            if place is None:
                continue
            # A note that must be lipped here leaves its next place as plain as this one.
            in_tune = place.lip_cents <= TRAINED_EAR_CENTS and partial not in _ODD_PARTIALS
            if lowest is None and in_tune:
                lowest = partial
            above = int(partial in _ODD_PARTIALS) if lowest is None else partial - lowest
            steps = 0 if not valves else max(spare, 0 if valves in first else later)
            if spare and len(valves) > 1:
                steps = HOME_STEPS
            if limits.allows(place):
                alternate = above + steps
                found.append(replace(place, alternate=alternate) if alternate else place)
            if above > 0:
                continue
            if not valves and place.position <= NEAR_POSITION:
                home = place.position <= HOME_POSITION
                spare = max(spare, HOME_STEPS if home else SPARE_STEPS)
            elif valves in first and place.position <= NEAR_VALVE_POSITION:
                home = place.position <= HOME_VALVE_POSITION
                later = max(later, HOME_STEPS if home else SPARE_STEPS)
    found = [replace(p, spared=True) if _is_spared(p, found) else p for p in found]
    return tuple(sorted(found, key=_shortest_first))


# Books of one horn and student are opened again and again.
_known_places = lru_cache(maxsize=4096)(find_places)


def _is_spared(place: Place, others: Sequence[Place]) -> bool:
    far, near = SEVENTH_POSITION, NEAR_VALVE_POSITION
    if not place.valves and place.alternate and place.position > far:
        return any(not p.valves and p.position <= HOME_POSITION for p in others)
    if not place.valves and place.partial == 1:
        return False  # a pedal sounds on the whole tube; with the valve it is stuffy
    if place.valves:
        far, near = FAR_VALVE_POSITION, NEAR_BOTH_POSITION
    return place.position > far and any(
        len(p.valves) > len(place.valves) and not p.alternate and p.position <= near for p in others
    )


def _shortest_first(place: Place) -> tuple[float, float, int, int]:
    return round(place.extension_m, 9), place.lip_cents, len(place.valves), place.partial


def shortest(places: Sequence[Place]) -> Place:
    """The shortest-slide place; of those within 5 mm of it, the one with fewest valves."""
    least = min(place.extension_m for place in places)
    near = [place for place in places if place.extension_m <= least + SAME_SPOT_M]
    return min(near, key=lambda p: (len(p.valves), p.lip_cents, p.extension_m))


@dataclass(frozen=True, slots=True, eq=False)
class PlaceBook:
    """The places of every note asked for, on one horn within one student's limits."""

    horn: Horn
    limits: Limits = field(default_factory=Limits)
    _pages: dict[int, tuple[Place, ...]] = field(default_factory=dict)

    def places(self, midi: int) -> tuple[Place, ...]:
        """All allowed places of a MIDI note, shortest slide first; empty where there are none."""
        if midi not in self._pages:
            # Whose horn it is stays out of what is kept.
            horn = replace(self.horn, name="", title="", model="", uncertainties=())
            self._pages[midi] = _known_places(horn, midi, self.limits)
        return self._pages[midi]

    def has(self, midi: int) -> bool:
        """Whether a MIDI note has a place: sooner told than which."""
        if midi in self._pages:
            return bool(self._pages[midi])
        horn, hz = self.horn, midi_to_hz(midi, self.horn.a4_hz)
        every = (
            find_place(horn, hz, partial, valves)
            for valves in horn.valve_sets
            for partial in range(1, TOP_PARTIAL + 1)
        )
        return any(place is not None and self.limits.allows(place) for place in every)

    def with_places(self, more: Iterable[tuple[int, Place]]) -> "PlaceBook":
        """The same book with some places in it whatever the limits: (MIDI note, place)."""
        pages: dict[int, tuple[Place, ...]] = {}
        for midi, place in more:
            known = pages.get(midi, self.places(midi))
            if all((p.valves, p.partial) != (place.valves, place.partial) for p in known):
                pages[midi] = tuple(sorted((*known, place), key=lambda p: p.extension_m))
        return replace(self, _pages=pages) if pages else self

    def out_of_limits(self, midi: int) -> tuple[Place, ...]:
        """Places that the horn has and the limits forbid, shortest slide first."""
        allowed = {(place.valves, place.partial) for place in self.places(midi)}
        return tuple(
            p for p in find_places(self.horn, midi) if (p.valves, p.partial) not in allowed
        )
