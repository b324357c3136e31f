"""What the pictures of progress show, on the sheet and on the page: places and where they lie."""

from dataclasses import dataclass

import numpy as np

from handslide.edges.typesetting.screen import screen_svg
from handslide.instrument.progress.estimate import thirds
from handslide.instrument.progress.judge import GroupProgress
from handslide.sheets.progressplot import (
    PictureTexts,
    PlaceSeries,
    Strip,
    StripPlace,
    cents_scale,
    place_picture,
    slide_picture,
    strip_height_mm,
)
from handslide.studio.progress.progress import StudentProgress
from handslide.words.progress import (
    FURTHER,
    HIGH,
    LOW,
    SLIDE_PICTURE,
    TUNING_PICTURE,
    lane_words,
    picture_words,
)
from handslide.words.speech import Speech

SCREEN_PLACES = 7
_WIDE_MM, _HIGH_MM, _STRIP_MM, _PX_PER_MM = 66.0, 40.0, 168.0, 4.6
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


def picture_texts(say: Speech) -> PictureTexts:
    """The words in the pictures."""
    return PictureTexts(say(HIGH), say(LOW), say(FURTHER))


def ends_of_time(report: StudentProgress, say: Speech) -> tuple[str, str]:
    """The first and the last day, as they stand below a picture; empty without takes."""
    if report.first_day is None or report.last_day is None:
        return "", ""
    return say.day(report.first_day), say.day(report.last_day)


def strip_of(report: StudentProgress, say: Speech) -> Strip | None:
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
        lanes=tuple(lane_words(say, valves) for valves in sets),
    )


def _has(report: StudentProgress, place: GroupProgress) -> bool:
    assert report.setup is not None
    return place.valves in report.setup.horn.valve_sets


# For a screen.


@dataclass(frozen=True, slots=True)
class Pictures:
    """SVG for a page: places over time, each with its group; the tuning of the horn (empty where
    no take tells it); the slide (empty where no place is known)."""

    places: tuple[tuple[GroupProgress, str], ...]
    tuning: str
    slide: str


def progress_pictures(report: StudentProgress, say: Speech) -> Pictures:
    """The pictures for the page, as ``say`` speaks and without heads: the page has its own."""
    days, texts = ends_of_time(report, say), picture_texts(say)
    places = main_places(report, SCREEN_PLACES)
    series = [_bare(series_of(report, place, "")) for place in places]
    whole = _tuning_series(report)
    scale = cents_scale([*series, *([whole] if whole else [])])

    def drawn(one: PlaceSeries, said: str) -> str:
        box = (0.0, 0.0, _WIDE_MM, _HIGH_MM)
        shapes = place_picture(one, box, scale, days, texts)
        return screen_svg(shapes, _WIDE_MM, _HIGH_MM, label=said, px_per_mm=_PX_PER_MM)

    slide, laid = strip_of(report, say), ""
    if slide is not None:
        shapes = slide_picture(slide, 0.0, 0.5, _STRIP_MM, texts)
        high = strip_height_mm(slide) + 1.0
        laid = screen_svg(shapes, _STRIP_MM, high, label=say(SLIDE_PICTURE), px_per_mm=_PX_PER_MM)
    return Pictures(
        tuple((place, drawn(one, picture_words(say, place))) for place, one in zip(places, series)),
        drawn(whole, say(TUNING_PICTURE)) if whole else "",
        laid,
    )


def _bare(series: PlaceSeries) -> PlaceSeries:
    return PlaceSeries("", "", series.points, series.line)


def _tuning_series(report: StudentProgress) -> PlaceSeries | None:
    """The tuning of the horn, take by take; None where no take has closed notes enough."""
    days = max(report.progress.days, 1e-9)
    one_day = report.progress.days < _ONE_DAY
    points = tuple(
        (0.5 if one_day else one.when_days / days, one.cents, None)
        for one in report.progress.tuning
        if one.closed
    )
    return PlaceSeries("", "", points) if points else None
