"""A map of the slide: for each place a band as wide as what isn't known of it, to scale.

It lies under the slide (`slide`) and shares its x axis, as far as the hand goes. Lengths along the
slide are shares of the width, all others are px, so that names keep their size at any width.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from handslide.sheets.slide import STOP_MM, SlideMeasures

_ROOM_MM = 34.0  # beyond the end of the slide
_ROW_PX, _BAND_Y, _BAND_PX, _NAME_Y = 30, 17, 9, 13


@dataclass(frozen=True, slots=True)
class MapBand:
    """A place at ``at_mm`` ± ``half_mm``; ``before_mm``: where it was, None for no sign of that."""

    key: str
    name: str
    at_mm: float
    half_mm: float
    fine: bool
    before_mm: float | None = None


@dataclass(frozen=True, slots=True)
class MapRow:
    """The places of one partial on one valve set."""

    name: str
    bands: tuple[MapBand, ...]


def map_width_mm(slide: SlideMeasures) -> float:
    """How much of the slide's drawing the map lies under."""
    return STOP_MM + slide.travel_mm + _ROOM_MM


def place_map_svg(slide: SlideMeasures, rows: Sequence[MapRow], hand_mm: float | None) -> str:
    """The rows of one valve set; ``hand_mm``: where the hand is held, None for nowhere."""
    high = _ROW_PX * len(rows)
    drawn = "".join(_row(slide, row, k * _ROW_PX) for k, row in enumerate(rows))
    hand = "" if hand_mm is None else _upright(slide, hand_mm, 0, high, "hand")
    return (
        f'<svg class="fitmap" width="100%" height="{high}" aria-hidden="true">'
        f"{_upright(slide, 0.0, 0, high, 'stop')}{hand}{drawn}</svg>"
    )


def _row(slide: SlideMeasures, row: MapRow, y: float) -> str:
    middle = y + _BAND_Y + _BAND_PX / 2
    ends = (_share(slide, 0.0), _share(slide, slide.travel_mm))
    bands = "".join(_band(slide, band, y) for band in row.bands)
    return (
        f'<line class="rail" x1="{ends[0]}" x2="{ends[1]}" y1="{middle:g}" y2="{middle:g}"/>'
        f'{bands}<text class="row" x="2" y="{middle + 5:g}">{escape(row.name)}</text>'
    )


def _band(slide: SlideMeasures, band: MapBand, y: float) -> str:
    whole = map_width_mm(slide) - STOP_MM
    low, high = max(band.at_mm - band.half_mm, -STOP_MM), min(band.at_mm + band.half_mm, whole)
    wide = 100.0 * (high - low) / map_width_mm(slide)
    at, top = _share(slide, band.at_mm), y + _BAND_Y
    then = band.before_mm
    before = "" if then is None else _upright(slide, then, top - 4, top + _BAND_PX + 4, "before")
    return (
        f'<g class="band{" is-fine" if band.fine else ""}" data-key="{escape(band.key)}">'
        f'<rect x="{_share(slide, low)}" width="{wide:.3f}%" y="{top}" height="{_BAND_PX}" rx="2"/>'
        f"{before}{_upright(slide, band.at_mm, top - 1, top + _BAND_PX + 1, 'mid')}"
        f'<text x="{at}" y="{y + _NAME_Y}">{escape(band.name)}</text></g>'
    )


def _upright(slide: SlideMeasures, mm: float, top: float, bottom: float, what: str) -> str:
    at = _share(slide, mm)
    return f'<line class="{what}" x1="{at}" x2="{at}" y1="{top:g}" y2="{bottom:g}"/>'


def _share(slide: SlideMeasures, mm: float) -> str:
    return f"{100.0 * (STOP_MM + mm) / map_width_mm(slide):.3f}%"
