"""One instrument as it is now: tube lengths, slide travel, valves, measured deviations.

Conventions: all lengths are acoustic, in metres; end corrections are inside them, so a length
comes from a pitch and never from a ruler. Loop lengths of engaged valves add. A loop may be
negative: a valve that shortens the tube (an ascending valve, as on a horn in B♭ and C).
"""

import math
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import combinations

from handslide.ground.errors import HornError
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, from_midi
from handslide.ground.units import cents
from handslide.instrument.air import Air

MAX_VALVES = 4
DEFAULT_LIP_UP_CENTS = 20.0


@dataclass(frozen=True, slots=True)
class Closed:
    """Where the closed tube sounds its first partial: a ``pitch`` that it is tuned to, or ``hz``.

    A pitch follows the A4 and the air in force: the player has tuned the slide to it. A measured
    ``hz`` stays as it was measured, at ``temp_c``.
    """

    pitch: Pitch | None = None
    hz: float | None = None

    def __post_init__(self) -> None:
        if (self.pitch is None) == (self.hz is None):
            raise HornError("horn.closed_either")

    def length_m(self, a4_hz: float, speed_m_s: float, measured_speed_m_s: float) -> float:
        """Acoustic length c / (2·f) of the tube, in metres."""
        if self.hz is not None:
            return measured_speed_m_s / (2.0 * self.hz)
        assert self.pitch is not None
        return speed_m_s / (2.0 * self.pitch.hz(a4_hz))


@dataclass(frozen=True, slots=True)
class ValveDescription:
    """A valve as stored: ``closed`` is the first partial with it (and what it ``needs``) down."""

    name: str
    closed: Closed
    needs: str | None = None


@dataclass(frozen=True, slots=True)
class Deviation:
    """How far a partial sounds from the harmonic model, in cents at the closed slide.

    ``slope_cents_per_m`` is its change for each metre of extension.
    """

    valves: tuple[str, ...]
    partial: int
    cents: float
    slope_cents_per_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """How far the places of a fitted horn can be trusted, along its slide.

    A place on ``valves`` and ``partial`` (None: any partial without a row of its own) lies within
    ± ``half_width_mm`` in 95 % of cases; one value for each extension of ``at_mm``, rising.
    """

    valves: tuple[str, ...]
    partial: int | None
    at_mm: tuple[float, ...]
    half_width_mm: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.at_mm) != len(self.half_width_mm) or not self.at_mm:
            raise HornError(
                "horn.uncertainty_count",
                count=len(self.half_width_mm),
                extensions=len(self.at_mm),
            )
        if any(b <= a for a, b in zip(self.at_mm, self.at_mm[1:])):
            raise HornError("horn.uncertainty_order")

    def at(self, extension_m: float) -> float:
        """Half-width in mm at an extension; straight between the values, level beyond them."""
        x, grid = 1000.0 * extension_m, self.at_mm
        if x <= grid[0]:
            return self.half_width_mm[0]
        if x >= grid[-1]:
            return self.half_width_mm[-1]
        k = bisect_right(grid, x) - 1
        share = (x - grid[k]) / (grid[k + 1] - grid[k])
        return (1.0 - share) * self.half_width_mm[k] + share * self.half_width_mm[k + 1]


@dataclass(frozen=True, slots=True)
class HornDescription:
    """A horn as stored: by its closed pitches, at ``temp_c`` where these were measured in Hz.

    ``title`` is its owner's name for it; without one it is called as its ``model``, one of ours.
    ``speed_scale`` is the speed of sound that a mark on the slide asked for, divided by the
    formula's for that air: the scale of the millimetres. ``uncertainties`` come from a fit.
    ``bell_m`` is the extension at which the brace of the outer slide is level with the bell's rim.
    """

    name: str
    title: str
    closed: Closed
    travel_m: float
    valves: tuple[ValveDescription, ...] = ()
    deviations: tuple[Deviation, ...] = ()
    lip_up_cents: float = DEFAULT_LIP_UP_CENTS
    temp_c: float = 25.0
    speed_scale: float = 1.0
    uncertainties: tuple[Uncertainty, ...] = ()
    model: str = ""
    bell_m: float | None = None

    @property
    def called(self) -> str | Fact:
        """What it is called, to be put into a fact: its title, else its model."""
        return self.title or fact("horn.model", model=self.model or self.name)

    def tuned(self, a4_hz: float = 440.0, air: Air | None = None) -> "Horn":
        """The horn ready to play at ``a4_hz`` in ``air`` (default 25 °C).

        Raises
        ------
        HornError, AirError
            When the lengths don't make a horn or the air is out of range.
        """
        air = Air() if air is None else air
        if not 380.0 <= a4_hz <= 500.0:
            raise HornError("horn.a4", a4_hz=a4_hz)
        speed = self.speed_scale * air.speed_m_s
        measured = self.speed_scale * Air(temp_c=self.temp_c).speed_m_s
        length = self.closed.length_m(a4_hz, speed, measured)
        valves: list[Valve] = []
        for valve in self.valves:
            below = length + sum(v.loop_m for v in valves if v.name == valve.needs)
            loop = valve.closed.length_m(a4_hz, speed, measured) - below
            valves.append(Valve(valve.name, loop, valve.needs))
        return Horn(
            name=self.name,
            title=self.title,
            length_m=length,
            travel_m=self.travel_m,
            speed_m_s=speed,
            a4_hz=a4_hz,
            air=air,
            valves=tuple(valves),
            deviations=self.deviations,
            lip_up_cents=self.lip_up_cents,
            uncertainties=self.uncertainties,
            model=self.model,
            bell_m=self.bell_m,
        )


@dataclass(frozen=True, slots=True)
class Valve:
    """A valve and the acoustic length of its loop, in metres (negative: it shortens the tube)."""

    name: str
    loop_m: float
    needs: str | None = None


@dataclass(frozen=True, slots=True)
class Horn:
    """A horn in playing order, with the air and A4 that it is played at.

    Raises
    ------
    HornError
        When a length, the travel or a valve is impossible.
    """

    name: str
    title: str
    length_m: float
    travel_m: float
    speed_m_s: float
    a4_hz: float = 440.0
    air: Air = field(default_factory=Air)
    valves: tuple[Valve, ...] = ()
    deviations: tuple[Deviation, ...] = ()
    lip_up_cents: float = DEFAULT_LIP_UP_CENTS
    uncertainties: tuple[Uncertainty, ...] = ()
    model: str = ""
    bell_m: float | None = None

    def __post_init__(self) -> None:
        if not 0.5 <= self.length_m <= 12.0:
            raise HornError("horn.length", length_m=self.length_m)
        if not 0.05 <= self.travel_m <= 1.5:
            raise HornError("horn.travel", travel_mm=1000 * self.travel_m)
        if len(self.valves) > MAX_VALVES:
            raise HornError("horn.many_valves", count=len(self.valves), most=MAX_VALVES)
        names = [valve.name for valve in self.valves]
        for number, valve in enumerate(self.valves):
            _check_valve(self, valve, names[:number])
        for deviation in self.deviations:
            if deviation.valves not in self.valve_sets:
                raise HornError("horn.deviation_valves", valves=deviation.valves)
        for row in self.uncertainties:
            if row.valves not in self.valve_sets:
                raise HornError("horn.uncertainty_valves", valves=row.valves)

    @property
    def called(self) -> str | Fact:
        """What it is called, to be put into a fact: its title, else its model."""
        return self.title or fact("horn.model", model=self.model or self.name)

    @property
    def valve_sets(self) -> tuple[tuple[str, ...], ...]:
        """All sets of valves that can be engaged together, the open horn first."""
        return _sets_of(self.valves)

    def loops_m(self, valves: Iterable[str]) -> float:
        """Acoustic length in metres that the engaged valves add together."""
        engaged = set(valves)
        return sum(valve.loop_m for valve in self.valves if valve.name in engaged)

    def position(self, extension_m: float) -> float:
        """Position of an extension: 1 + 12·log2((L + 2x)/L), in open-horn semitones."""
        return 1.0 + 12.0 * math.log2((self.length_m + 2.0 * extension_m) / self.length_m)

    def extension_m(self, position: float) -> float:
        """Extension in metres of a position; the inverse of :meth:`position`."""
        return self.length_m * (math.pow(2.0, (position - 1.0) / 12.0) - 1.0) / 2.0

    def deviation(self, valves: tuple[str, ...], partial: int) -> tuple[float, float]:
        """(cents at the closed slide, cents per metre) of a partial; (0, 0) until measured."""
        for row in self.deviations:
            if row.partial == partial and row.valves == valves:
                return row.cents, row.slope_cents_per_m
        return 0.0, 0.0

    def half_width_mm(
        self, valves: tuple[str, ...], partial: int, extension_m: float
    ) -> float | None:
        """Half-width in mm of a place's 95 % interval; None on a horn that wasn't fitted."""
        other = None
        for row in self.uncertainties:
            if row.valves == valves and row.partial == partial:
                return row.at(extension_m)
            if row.valves == valves and row.partial is None:
                other = row.at(extension_m)
        return other

    def frequency_hz(self, partial: int, extension_m: float, valves: tuple[str, ...] = ()) -> float:
        """Frequency of a partial, n·c / (2·(L + ΣV + 2x)) · 2^(δ/1200), in Hz.

        All partials of an open tube as brass players use it; why one length holds for every slide
        position: R. D. Ayers, 134th meeting of the ASA (1997), paper 2aMU6.
        """
        dev, slope = self.deviation(valves, partial)
        tube = self.length_m + self.loops_m(valves) + 2.0 * extension_m
        ratio = math.pow(2.0, (dev + slope * extension_m) / 1200.0)
        return partial * self.speed_m_s / (2.0 * tube) * ratio

    def closed_name(self, valves: tuple[str, ...]) -> str:
        """Nearest note name, without octave, of the closed tube with ``valves``: ``F``, ``Gb``."""
        hz = self.speed_m_s / (2.0 * (self.length_m + self.loops_m(valves)))
        return from_midi(round(69 + cents(hz / self.a4_hz) / 100.0)).name.rstrip("-0123456789")


@lru_cache(maxsize=64)
def _sets_of(valves: tuple[Valve, ...]) -> tuple[tuple[str, ...], ...]:
    sets = []
    for size in range(len(valves) + 1):
        for chosen in combinations(valves, size):
            names = {valve.name for valve in chosen}
            if all(valve.needs is None or valve.needs in names for valve in chosen):
                sets.append(tuple(valve.name for valve in chosen))
    return tuple(sets)


def _check_valve(horn: Horn, valve: Valve, before: list[str]) -> None:
    if valve.name in before:
        raise HornError("horn.valve_twice", valve=valve.name)
    if valve.needs is not None and valve.needs not in before:
        raise HornError("horn.valve_needs", valve=valve.name, needs=valve.needs)
    if not 0.01 < abs(valve.loop_m) <= 1.5 * horn.length_m:
        raise HornError("horn.valve_loop", valve=valve.name, loop_m=valve.loop_m)
