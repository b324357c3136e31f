"""What a version of a student's horn holds, in numbers, and what it changed."""

from dataclasses import dataclass

from handslide.edges.store.horns import HornVersion, StudentHorn
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, from_midi
from handslide.ground.units import A4_MIDI, cents
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
    """The tube with ``valves`` down (none: the open horn) and the slide closed.

    ``closed`` is the note nearest to its first partial, ``off_cents`` how far that is above it;
    None where the tube is tuned to the note.
    """

    valves: tuple[str, ...]
    closed: Pitch
    off_cents: float | None
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
    pitch, off_cents = closed.pitch, None
    if pitch is None:
        semitones = A4_MIDI + cents(hz / horn.a4_hz) / 100.0
        pitch, off_cents = from_midi(round(semitones)), 100.0 * (semitones - round(semitones))
    return TubeFacts(
        valves, pitch, off_cents, hz, closed.hz is not None, 1000.0 * own, 1000.0 * length
    )


@dataclass(frozen=True, slots=True)
class Change:
    """A value that two versions don't share; ``what`` is ``travel``, ``bell``, ``lip``, ``closed``,
    ``measured_temp``, ``speed_scale``, ``deviations``, ``uncertainties``, ``valves`` or ``title``.

    ``valve`` names the valve of a ``closed``. ``before`` and ``after`` are numbers in ``unit``, a
    note, a fact, or what the owner called it.
    """

    what: str
    valve: str
    before: float | str | Pitch | Fact
    after: float | str | Pitch | Fact
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
    if a.bell_m != b.bell_m:
        rows.append(Change("bell", "", _bell(a.bell_m), _bell(b.bell_m)))
    if a.title != b.title:
        rows.append(Change("title", "", a.called, b.called))
    return tuple(rows)


def _bell(bell_m: float | None) -> str | Fact:
    return "–" if bell_m is None else fact("people.millimetres", mm=round(1000.0 * bell_m, 1))


def _said(closed: Closed) -> Pitch | Fact:
    if closed.pitch is not None:
        return closed.pitch
    assert closed.hz is not None
    return fact("people.measured", hz=round(closed.hz, 3))


def _names(horn: HornDescription) -> Fact:
    return fact("people.valves", valves=tuple(valve.name for valve in horn.valves))
