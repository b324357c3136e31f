"""A horn after one of its tuning slides was moved.

A tuning slide moved out by d makes every closed tube that runs through it 2·d longer (two legs):
the main slide all of them, a loop's slide those with its valve. A closed tube of length L then
sounds f·L/(L + 2·d).

What a description names by a note is tuned to that note by its player: moving a slide to get there
keeps it true. Only what it holds as a measured frequency changes.
"""

import math
from dataclasses import replace

from handslide.ground.errors import BadData
from handslide.instrument.air import Air
from handslide.instrument.horn import Closed, Horn, HornDescription, Uncertainty, ValveDescription

MAIN = "main"
# How far a slide that was set by eye with a ruler may be off: half-width of a 95 % interval.
SETTING_MM = 1.0
MOST_MOVED_MM = 300.0


def after_move(description: HornDescription, slide: str, out_mm: float) -> HornDescription:
    """``description`` after ``slide`` (``main`` or a valve's name) was moved out by ``out_mm``.

    Negative: in. Closed tubes named by a note stay; the places of measured ones are known a little
    less, because the slide was set by eye.

    Raises
    ------
    BadData
        When there is no such slide, or it can't have moved so far.
    HornError
        When the lengths don't make a horn any more.
    """
    names = [valve.name for valve in description.valves]
    if slide != MAIN and slide not in names:
        raise BadData("tuning.no_such_slide", horn=description.called, slide=slide)
    if not (math.isfinite(out_mm) and abs(out_mm) <= MOST_MOVED_MM):
        raise BadData("tuning.moved_too_far", moved_mm=out_mm, most_mm=MOST_MOVED_MM)
    speed = description.speed_scale * Air(temp_c=description.temp_c).speed_m_s
    change_m = 0.002 * out_mm
    closed = description.closed
    if slide == MAIN:
        closed = _longer(closed, speed, change_m)
    through = [name for name in names if _runs_through(description, (name,), slide)]
    moved = replace(
        description,
        closed=closed,
        valves=tuple(
            replace(valve, closed=_longer(valve.closed, speed, change_m))
            if valve.name in through
            else valve
            for valve in description.valves
        ),
    )
    if moved == description:
        return description
    moved = replace(
        moved, uncertainties=tuple(_wider(row, slide) for row in description.uncertainties)
    )
    moved.tuned()
    return moved


def as_measured(description: HornDescription, horn: Horn) -> HornDescription:
    """``description`` with every closed tube as the frequency that it sounds on ``horn`` now.

    For a slide that leaves its note on purpose: then no note's name says where it stands.
    """
    valves = []
    for valve, built in zip(description.valves, horn.valves):
        names = (valve.name,) if built.needs is None else (built.needs, valve.name)
        tube = horn.length_m + horn.loops_m(names)
        valves.append(ValveDescription(valve.name, _hz(horn, tube), valve.needs))
    return replace(
        description,
        closed=_hz(horn, horn.length_m),
        valves=tuple(valves),
        temp_c=horn.air.temp_c,
    )


def _hz(horn: Horn, tube_m: float) -> Closed:
    return Closed(hz=round(horn.speed_m_s / (2.0 * tube_m), 5))


def _longer(closed: Closed, speed_m_s: float, change_m: float) -> Closed:
    if closed.hz is None:
        return closed
    tube = speed_m_s / (2.0 * closed.hz)
    if tube + change_m <= 0.0:
        raise BadData("tuning.tube_too_short", tube_mm=1000.0 * tube, by_mm=-1000.0 * change_m)
    return Closed(hz=round(closed.hz * tube / (tube + change_m), 5))


def _runs_through(description: HornDescription, valves: tuple[str, ...], slide: str) -> bool:
    """Whether the tube with ``valves``, and what they need, runs through ``slide``."""
    needed = {valve.needs for valve in description.valves if valve.name in valves}
    return slide == MAIN or slide in valves or slide in needed


def _wider(row: Uncertainty, slide: str) -> Uncertainty:
    if slide != MAIN and slide not in row.valves:
        return row
    widths = tuple(round(math.hypot(width, SETTING_MM), 2) for width in row.half_width_mm)
    return replace(row, half_width_mm=widths)
