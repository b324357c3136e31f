"""What the pictures of progress show, on the sheet and on the page: places and where they lie."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from handslide.edges.screendrawing import screen_svg
from handslide.instrument.progress import GroupProgress
from handslide.instrument.progressfit import thirds
from handslide.jobs.progress import StudentProgress
from handslide.sheets.progressplot import (
    PlaceSeries,
    Strip,
    StripPlace,
    Words,
    cents_scale,
    place_picture,
    slide_picture,
    strip_height_mm,
)

Naming = Callable[[GroupProgress], str]
SCREEN_PLACES = 8
_WIDE_MM, _HIGH_MM, _STRIP_MM, _PX_PER_MM = 66.0, 44.0, 168.0, 4.6
_ENDS_MM = 1.0
_ONE_DAY = 1.0


def main_places(report: StudentProgress, most: int) -> tuple[GroupProgress, ...]:
    """The places to show: those that changed or come next, then those played most; by position."""
    told = [group.rows for verdict in ("improved", "worse") for group, _ in report.changed(verdict)]
    told += [thing.found.group.rows for thing in report.next]

    def rank(place: GroupProgress) -> tuple[bool, int]:
        hit = any(rows <= place.rows or rows == place.rows for rows in told)
        return not hit, -place.notes

    places = [place for place in report.progress.of_kind("place") if place.points]
    chosen = sorted(places, key=rank)[:most]
    return tuple(place for place in places if place in chosen)


def series_of(
    report: StudentProgress, place: GroupProgress, name: str, said: str = ""
) -> PlaceSeries:
    """A place over time, as its picture draws it."""
    days = max(report.progress.days, 1e-9)
    one_day = report.progress.days < _ONE_DAY
    points = tuple(
        (0.5 if one_day else p.when_days / days, p.cents, p.spread) for p in place.points
    )
    change = place.change("bias")
    line = None
    if change is not None and change.verdict in ("improved", "worse"):
        early, late = thirds([point.when_days for point in place.points])
        line = (early / days, change.early), (late / days, change.late)
    return PlaceSeries(name, report.mark_of(place), points, line, said)


def strip_of(report: StudentProgress, lane_name: Callable[[tuple[str, ...]], str]) -> Strip | None:
    """The main horn's slide with where each place away from the stop was played; None where no
    place is known, or no horn."""
    if report.setup is None:
        return None
    horn = report.setup.horn
    places = [
        place
        for place in report.progress.of_kind("place")
        if place.slide_mm is not None and place.spread is not None and _has(report, place)
    ]
    if not places:
        return None
    sets = [v for v in horn.valve_sets if any(place.valves == v for place in places)]
    rows = []
    for place in places:
        at = [report.rows[n].extension_mm for n in place.rows]
        middle = float(np.median([mm for mm in at if mm is not None]))
        spread = (place.spread or 0.0) * (place.mm_per_cent or 0.0)
        lane = sets.index(place.valves or ())
        played = middle + (place.slide_mm or 0.0)
        rows.append(StripPlace(report.mark_of(place), lane, middle, played, spread))
    travel = 1000.0 * horn.travel_m
    positions = [(str(n), 1000.0 * horn.extension_m(n)) for n in range(1, 13)]
    return Strip(
        positions_mm=tuple(row for row in positions if row[1] <= travel + _ENDS_MM),
        travel_mm=travel,
        places=tuple(rows),
        lanes=tuple(lane_name(valves) for valves in sets),
    )


def _has(report: StudentProgress, place: GroupProgress) -> bool:
    assert report.setup is not None
    return place.valves in report.setup.horn.valve_sets


# For a screen.


@dataclass(frozen=True, slots=True)
class Pictures:
    """SVG for a page: the tuning of the horn, main places over time, the slide; empty: nothing."""

    tuning: str
    places: tuple[str, ...]
    slide: str


def progress_pictures(
    report: StudentProgress,
    *,
    name: Naming,
    lane: Callable[[tuple[str, ...]], str],
    said: Callable[[str], str],
    days: tuple[str, str],
    words: Words,
    tuning: str,
    strip: str,
) -> Pictures:
    """The pictures for the page, in the reader's words.

    ``name`` says what a place is called, ``lane`` a set of valves, ``said`` a verdict; ``tuning``
    is the heading of the horn's tuning and ``strip`` the label of the slide's picture.
    """
    series = [
        series_of(report, place, name(place), _verdict(place, said))
        for place in main_places(report, SCREEN_PLACES)
    ]
    whole = _tuning_series(report, tuning)
    scale = cents_scale([*series, *([whole] if whole else [])])
    slide = strip_of(report, lane)

    def drawn(one: PlaceSeries) -> str:
        box = (0.0, 0.0, _WIDE_MM, _HIGH_MM)
        label = f"{one.name}: {one.said}" if one.said else one.name
        shapes = place_picture(one, box, scale, days, words)
        return screen_svg(shapes, _WIDE_MM, _HIGH_MM, label=label, px_per_mm=_PX_PER_MM)

    laid = ""
    if slide is not None:
        shapes = slide_picture(slide, 0.0, 0.5, _STRIP_MM, words)
        high = strip_height_mm(slide) + 1.0
        laid = screen_svg(shapes, _STRIP_MM, high, label=strip, px_per_mm=_PX_PER_MM)
    return Pictures(drawn(whole) if whole else "", tuple(map(drawn, series)), laid)


def _verdict(place: GroupProgress, said: Callable[[str], str]) -> str:
    change = place.change("bias")
    return "" if change is None or change.verdict == "unclear" else said(change.verdict)


def _tuning_series(report: StudentProgress, name: str) -> PlaceSeries | None:
    """The tuning of the horn, take by take; None where no take has closed notes enough."""
    days = max(report.progress.days, 1e-9)
    one_day = report.progress.days < _ONE_DAY
    points = tuple(
        (0.5 if one_day else one.when_days / days, one.cents, None)
        for one in report.progress.tuning
        if one.closed
    )
    return PlaceSeries(name, "", points) if points else None
