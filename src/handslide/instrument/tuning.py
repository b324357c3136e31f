"""Tuning advice: which slide to move, which way and how far.

A tube that sounds Δ cents too sharp is too short. With L the sounding tube (loops and extension
included) it must grow by

    ΔL = L·(2^(Δ/1200) - 1),     pull = ΔL/2   (a tuning slide has two legs)

which is f = n·c/(2·L) solved for L. The lengths come from the pitches that were heard, so that the
horn needn't be in tune before. Out makes flatter, in makes sharper.
"""

import math
from dataclasses import dataclass

from handslide.ground.errors import BadData
from handslide.ground.hearing import TRAINED_EAR_CENTS
from handslide.ground.units import KELVIN_AT_0_C, cents
from handslide.instrument.horn import Horn
from handslide.instrument.places import TOP_PARTIAL

DEFAULT_SE_CENTS = 2.0
# A pull smaller than this is none: nobody sets a slide so finely.
LEAST_PULL_MM = 0.05
# Two notes further apart than this aren't the same note, nor a partial of the horn as described.
SAME_NOTE_CENTS = 70.0


@dataclass(frozen=True, slots=True)
class TuningSlideMove:
    """What to do with one tuning slide.

    ``slide`` is ``main`` or a valve's name. ``difference_cents`` is how far the note sounds above
    its target, ``se_cents`` its standard error, ``tube_m`` the sounding tube now and ``change_m``
    what it must grow by (negative: shrink).
    """

    slide: str
    difference_cents: float
    se_cents: float
    tube_m: float
    change_m: float

    @property
    def pull_mm(self) -> float:
        """How far the slide moves, mm, never negative."""
        return 500.0 * abs(self.change_m)

    @property
    def pull_se_mm(self) -> float:
        """Standard error of the pull in mm."""
        return 500.0 * self.tube_m * math.log(2.0) / 1200.0 * self.se_cents

    @property
    def direction(self) -> str:
        """``out``, ``in`` or ``none``."""
        if self.pull_mm < LEAST_PULL_MM:
            return "none"
        return "out" if self.change_m > 0.0 else "in"

    @property
    def matters(self) -> bool:
        """Whether listeners can hear the difference."""
        return abs(self.difference_cents) >= TRAINED_EAR_CENTS

    @property
    def sure(self) -> bool:
        """Whether the difference is larger than twice its standard error."""
        return abs(self.difference_cents) > 2.0 * self.se_cents


@dataclass(frozen=True, slots=True)
class EPull:
    """The loop pulled so that a low note lies at the end of the slide.

    ``semitones`` is what the loop then lowers the closed horn by, ``lowered_cents`` how much
    flatter its closed notes get; ``extension_m`` where the low note then lies.
    """

    valve: str
    partial: int
    change_m: float
    semitones: float
    lowered_cents: float
    extension_m: float

    @property
    def pull_mm(self) -> float:
        """How far the loop's slide comes out, mm."""
        return 500.0 * max(self.change_m, 0.0)


def move(slide: str, difference_cents: float, se_cents: float, tube_m: float) -> TuningSlideMove:
    """The move of ``slide`` that takes a difference away: ΔL = L·(2^(Δ/1200) - 1)."""
    change = tube_m * (math.pow(2.0, difference_cents / 1200.0) - 1.0)
    return TuningSlideMove(slide, difference_cents, se_cents, tube_m, change)


def nearest_partial(horn: Horn, hz: float, valves: tuple[str, ...]) -> tuple[int, float]:
    """(partial, cents above it) of the closed slide's note that ``hz`` comes nearest to."""
    _check_hz(hz)
    offs = [(n, cents(hz / horn.frequency_hz(n, 0.0, valves))) for n in range(1, TOP_PARTIAL + 1)]
    return min(offs, key=lambda row: abs(row[1]))


def sounding_tube_m(horn: Horn, hz: float, valves: tuple[str, ...]) -> float:
    """Length of the tube that sounds ``hz`` on the closed slide with ``valves`` down.

    L = n·c·2^(δ/1200)/(2f) with the partial n that comes nearest.

    Raises
    ------
    BadData
        When no partial comes within 70 cents.
    """
    partial, off = nearest_partial(horn, hz, valves)
    if abs(off) > SAME_NOTE_CENTS:
        raise BadData(
            "tuning.no_closed_note", hz=hz, off_cents=abs(off), valves=valves, partial=partial
        )
    return (horn.length_m + horn.loops_m(valves)) * math.pow(2.0, -off / 1200.0)


def tune_loop(
    horn: Horn,
    valves: tuple[str, ...],
    open_hz: float,
    valve_hz: float,
    se_cents: tuple[float, float] = (DEFAULT_SE_CENTS, DEFAULT_SE_CENTS),
    slide: str | None = None,
) -> TuningSlideMove:
    """A loop against the open horn: the same note without and with the valves, slide closed.

    ``slide`` is the loop to move (default: the last of ``valves``). The air's temperature cancels
    in the difference and enters the millimetres with 0.17 % a degree.

    Raises
    ------
    BadData
        When the two aren't the same note or not notes of the closed slide.
    """
    for hz in (open_hz, valve_hz):
        _check_hz(hz)
    difference = cents(valve_hz / open_hz)
    if abs(difference) > SAME_NOTE_CENTS:
        apart = {"open_hz": open_hz, "valve_hz": valve_hz, "apart_cents": abs(difference)}
        if round(difference / 1200.0):
            raise BadData("tuning.pair_octaves", **apart)
        raise BadData("tuning.no_pair", **apart)
    sounding_tube_m(horn, open_hz, ())
    tube = sounding_tube_m(horn, valve_hz, valves)
    return move(slide or valves[-1], difference, math.hypot(*se_cents), tube)


def tune_note(
    horn: Horn,
    valves: tuple[str, ...],
    hz: float,
    target_hz: float,
    se_cents: float = DEFAULT_SE_CENTS,
    slide: str | None = None,
) -> TuningSlideMove:
    """A note of the closed slide against its target: the main slide, or a loop.

    Raises
    ------
    BadData
        When the note is more than 70 cents from its target or not one of the closed slide.
    """
    _check_hz(hz)
    difference = cents(hz / target_hz)
    if abs(difference) > SAME_NOTE_CENTS:
        octaves = round(difference / 1200.0)
        off = {"hz": hz, "off_cents": abs(difference), "target_hz": target_hz}
        if octaves and abs(difference - 1200.0 * octaves) < SAME_NOTE_CENTS:
            raise BadData("tuning.octave_off", **off)
        raise BadData("tuning.other_note", **off)
    tube = sounding_tube_m(horn, hz, valves)
    return move(slide or (valves[-1] if valves else "main"), difference, se_cents, tube)


def loop_after_main(horn: Horn, valves: tuple[str, ...], change_m: float) -> float:
    """How far a loop in tune before is off against the open horn once the main slide has moved.

    Cents, positive: the valve's notes are sharp. Open notes fall by 1200·log2((L + Δ)/L), those
    with the loop by less, because their tube is longer.
    """
    tube = horn.length_m + horn.loops_m(valves)
    return cents((horn.length_m + change_m) / horn.length_m) - cents((tube + change_m) / tube)


def note_after_loop(horn: Horn, valves: tuple[str, ...], change_m: float) -> float:
    """How far the closed notes with ``valves`` move when ``change_m`` is added, in cents."""
    tube = horn.length_m + horn.loops_m(valves)
    return cents(tube / (tube + change_m))


def cents_per_kelvin(temp_c: float) -> float:
    """How much sharper a horn sounds for each degree: 600/(ln 2·T) cents (ideal gas)."""
    return 600.0 / (math.log(2.0) * (temp_c + KELVIN_AT_0_C))


def pull_for_low_note(
    horn: Horn, valves: tuple[str, ...], target_hz: float, max_pull_mm: float | None = None
) -> EPull:
    """How far a loop must come out so that ``target_hz`` lies at the end of the slide.

    ``valves`` are down; the loop of the last is moved. V = n·c·2^(δ/1200)/(2f) - L - 2·travel on
    the 2nd partial (other loops are in L). When the slide reaches the note already the pull is 0.

    Raises
    ------
    BadData
        When the loop's slide can't come out so far; the fact says how far the note is missed.
    """
    found = next(item for item in horn.valves if item.name == valves[-1])
    partial, x = 2, horn.travel_m
    tube_now = horn.length_m + horn.loops_m(valves)
    dev, slope = horn.deviation(valves, partial)
    wanted = partial * horn.speed_m_s / (2.0 * target_hz) * 2.0 ** ((dev + slope * x) / 1200.0)
    change = wanted - tube_now - 2.0 * x
    if change <= 0.0:
        change, x = 0.0, (wanted - tube_now) / 2.0
        if x < 0.0:
            raise BadData("tuning.low_note_too_high", target_hz=target_hz, valves=valves)
    limit = 500.0 * abs(found.loop_m) if max_pull_mm is None else max_pull_mm
    if 500.0 * change > limit:
        missing_mm = 1000.0 * (change - 0.002 * limit) / 2.0
        short = cents((tube_now + 0.002 * limit + 2.0 * x) / wanted)
        raise BadData(
            "tuning.loop_too_short",
            valve=valves[-1],
            pull_mm=500.0 * change,
            most_mm=limit,
            missing_mm=missing_mm,
            missing_cents=abs(short),
        )
    lowered = cents((tube_now + change) / tube_now)
    semitones = cents((tube_now + change) / horn.length_m) / 100.0
    return EPull(valves[-1], partial, change, semitones, lowered, x)


def _check_hz(hz: float) -> None:
    if not (math.isfinite(hz) and hz > 0.0):
        raise BadData("tuning.no_frequency", hz=hz)
