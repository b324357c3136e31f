"""What a version of a student's horn holds, in numbers, and what it changed."""

from dataclasses import dataclass

from handslide.edges.store.horns import HornVersion, StudentHorn
from handslide.ground.pitch import from_midi, pretty_name
from handslide.ground.units import cents
from handslide.instrument.horn import Closed, Horn, HornDescription, ValveDescription
from handslide.jobs.setup import load_tuned


def closed_text(closed: Closed) -> str:
    """A closed pitch as it is typed: ``Bb1``, or a frequency such as ``58.12``."""
    if closed.pitch is not None:
        return closed.pitch.name
    assert closed.hz is not None
    return f"{closed.hz:.3f}".rstrip("0").rstrip(".")


@dataclass(frozen=True, slots=True)
class TubeFacts:
    """The tube with ``valves`` down (none: the open horn) and the slide closed."""

    valves: tuple[str, ...]
    closed: str
    hz: float
    measured: bool
    loop_mm: float
    length_mm: float


@dataclass(frozen=True, slots=True)
class HornFacts:
    """A horn in numbers: acoustic lengths in mm, as it is played at its A4 in its air."""

    horn: Horn
    description: HornDescription
    tubes: tuple[TubeFacts, ...]
    furthest: float
    positions_mm: tuple[tuple[int, float], ...]
    half_width_mm: float | None

    @property
    def travel_mm(self) -> float:
        """How far the slide goes out."""
        return 1000.0 * self.horn.travel_m


def horn_facts(horn: StudentHorn, version: HornVersion | None = None) -> HornFacts:
    """The numbers of a horn, in its newest version unless another is given.

    Raises
    ------
    HornError, AirError
        When the version can't be read any more.
    """
    description = (version or horn.version).description
    tuned = load_tuned(description, horn.a4_hz, horn.temp_c)
    tubes = [_tube((), description.closed, tuned)]
    tubes += [_tube(_down(valve), valve.closed, tuned) for valve in description.valves]
    furthest = tuned.position(tuned.travel_m)
    positions = tuple(
        (number, 1000.0 * tuned.extension_m(number)) for number in range(1, int(furthest) + 1)
    )
    widths = [width for row in description.uncertainties for width in row.half_width_mm]
    return HornFacts(
        tuned, description, tuple(tubes), furthest, positions, max(widths, default=None)
    )


def _down(valve: ValveDescription) -> tuple[str, ...]:
    return (valve.name,) if valve.needs is None else (valve.needs, valve.name)


def _tube(valves: tuple[str, ...], closed: Closed, horn: Horn) -> TubeFacts:
    length = horn.length_m + horn.loops_m(valves)
    hz = horn.speed_m_s / (2.0 * length)
    own = horn.loops_m(valves[-1:])
    name = closed.pitch.pretty if closed.pitch is not None else _nearest(hz, horn.a4_hz)
    return TubeFacts(valves, name, hz, closed.hz is not None, 1000.0 * own, 1000.0 * length)


def _nearest(hz: float, a4_hz: float) -> str:
    semitones = 69.0 + cents(hz / a4_hz) / 100.0
    off = 100.0 * (semitones - round(semitones))
    sign = "−" if off < 0 else "+"
    return f"{from_midi(round(semitones)).pretty} {sign}{abs(off):.0f} ¢"


@dataclass(frozen=True, slots=True)
class Change:
    """A value that two versions don't share; ``what`` is ``travel``, ``lip``, ``closed``,
    ``measured_temp``, ``speed_scale``, ``deviations``, ``uncertainties``, ``valves`` or ``title``.

    ``valve`` names the valve of a ``closed``. ``before`` and ``after`` are numbers in ``unit``, or
    text where ``unit`` is empty.
    """

    what: str
    valve: str
    before: float | str
    after: float | str
    unit: str = ""


def changes_between(old: HornVersion, new: HornVersion) -> tuple[Change, ...]:
    """What ``new`` changed of ``old``, most important first. Raises HornError."""
    a, b = old.description, new.description
    rows: list[Change] = []
    if a.closed != b.closed:
        rows.append(Change("closed", "", _said(a.closed), _said(b.closed)))
    was = {valve.name: valve for valve in a.valves}
    if [(v.name, v.needs) for v in a.valves] != [(v.name, v.needs) for v in b.valves]:
        rows.append(Change("valves", "", _names(a), _names(b)))
    for valve in b.valves:
        if valve.name in was and was[valve.name].closed != valve.closed:
            before, after = _said(was[valve.name].closed), _said(valve.closed)
            rows.append(Change("closed", valve.name, before, after))
    numbers = (
        ("travel", 1000.0 * a.travel_m, 1000.0 * b.travel_m, "mm"),
        ("lip", a.lip_up_cents, b.lip_up_cents, "¢"),
        ("measured_temp", a.temp_c, b.temp_c, "°C"),
        ("speed_scale", a.speed_scale, b.speed_scale, "×"),
        ("deviations", float(len(a.deviations)), float(len(b.deviations)), ""),
        ("uncertainties", float(len(a.uncertainties)), float(len(b.uncertainties)), ""),
    )
    for what, low, high, unit in numbers:
        same = abs(low - high) < 1e-9
        if what in ("deviations", "uncertainties"):
            same = getattr(a, what) == getattr(b, what)
        if not same:
            rows.append(Change(what, "", low, high, unit))
    if a.title != b.title:
        rows.append(Change("title", "", a.title, b.title))
    return tuple(rows)


def _said(closed: Closed) -> str:
    return closed.pitch.pretty if closed.pitch is not None else f"{closed_text(closed)} Hz"


def _names(horn: HornDescription) -> str:
    return ", ".join(pretty_name(valve.name) for valve in horn.valves) or "–"
