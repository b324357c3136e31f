"""The slide strip: a paper ruler at true scale that lies along the slide of one horn.

Everything along the strip is in millimetres of extension from the closed stop. The strip is printed
in parts, which are cut out and glued end to end; a part ends at a whole centimetre.
"""

import math
from dataclasses import replace
from itertools import pairwise

from handslide.ground.notenames import class_name
from handslide.ground.pitch import from_midi, pretty_name
from handslide.ground.units import cents, midi_to_hz
from handslide.instrument.horn import Horn
from handslide.instrument.marks import MarkStyle, mark, ordinal, position_text
from handslide.instrument.places import find_place
from handslide.sheets.frame import Area, Head, framed, free_area
from handslide.sheets.prose import wrapped
from handslide.sheets.shapes import Line, Page, Shape, Text, pt
from handslide.sheets.strippart import (
    RULER_WIDTH_MM,
    TAB_MM,
    TAIL_MM,
    Lane,
    Part,
    Strip,
    Tick,
    draw_part,
)

CHECK_MM, CHECK_WIDTH_MM = 100.0, 0.3
_GAP_MM, _BEST_GAP_MM = 4.0, 9.0
_SAY_PT, _SMALL_PT = 9.5, 7.5
_LEADING = 1.3


def strip_pages(
    head: Head,
    horn: Horn,
    style: MarkStyle,
    *,
    language: str = "english",
    reach: float | None = None,
) -> tuple[Page, ...]:
    """The strip of a horn, in as few pages and parts as the paper allows.

    ``head.landscape`` is chosen here. ``language`` is that of the note names; ``reach`` a position.
    """
    lanes = strip_lanes(horn, style, language)
    small = _partials_note(horn)
    choices = []
    for landscape in (True, False):
        turned = replace(head, landscape=landscape)
        area = free_area(turned)
        parts = strip_parts(horn, lanes, area.width_mm)
        strip = Strip(horn, lanes, parts, reach)
        choices.append((turned, strip, _share_out(strip, area, (_how_to(strip), small))))
    turned, strip, shares = min(choices, key=lambda one: (len(one[2]), len(one[1].parts)))
    area = free_area(turned)
    pages = [
        _page(strip, area, share, (_how_to(strip), small) if number == 0 else ("", ""))
        for number, share in enumerate(shares)
    ]
    return framed(turned, pages)


# What stands where.


def strip_lanes(horn: Horn, style: MarkStyle, language: str = "english") -> tuple[Lane, ...]:
    """The open positions and, for each set of valves, the notes of its second partial."""
    lanes = [Lane("open horn", tuple(_position_ticks(horn, style)))]
    for valves in horn.valve_sets[1:]:
        names = " and ".join(pretty_name(name) for name in valves)
        title = f"{names} valve{'s' if len(valves) > 1 else ''}"
        lanes.append(Lane(title, tuple(_valve_ticks(horn, valves, style, language))))
    return tuple(lanes)


def _position_ticks(horn: Horn, style: MarkStyle) -> list[Tick]:
    ticks = []
    for number in range(1, 8):
        at = _octave_mm(horn, number)
        if at is not None:
            text = position_text(float(number), style.numerals)
            ticks.append(Tick(at, "", text, f"{at:.0f} mm"))
    return ticks


def _octave_mm(horn: Horn, number: int) -> float | None:
    """Extension in mm of an open position on the second partial; None beyond the slide."""
    place = find_place(horn, _partial_hz(horn, 2, number), 2, ())
    return None if place is None else 1000.0 * place.extension_m


def _partial_hz(horn: Horn, partial: int, number: int) -> float:
    # In tempered semitones from the closed horn, so that a measured horn keeps its own 1st.
    semitones = round(12.0 * math.log2(partial)) - (number - 1)
    return horn.speed_m_s / (2.0 * horn.length_m) * math.pow(2.0, semitones / 12.0)


def _valve_ticks(
    horn: Horn, valves: tuple[str, ...], style: MarkStyle, language: str
) -> list[Tick]:
    closed_hz = horn.speed_m_s / (horn.length_m + horn.loops_m(valves))
    top = round(69 + cents(closed_hz / horn.a4_hz) / 100.0)
    ticks = []
    for midi in range(top, top - 24, -1):
        place = find_place(horn, midi_to_hz(midi, horn.a4_hz), 2, valves)
        if place is None:
            continue
        at = 1000.0 * place.extension_m
        lip = f", lipped up {place.lip_cents:.0f} cents" if place.lip_cents >= 0.5 else ""
        name = class_name(from_midi(midi), language)
        ticks.append(Tick(at, name, mark(horn, place, style), f"{at:.0f} mm{lip}"))
    return ticks


def strip_parts(horn: Horn, lanes: tuple[Lane, ...], room_mm: float) -> tuple[Part, ...]:
    """The fewest parts that fit ``room_mm``; seams keep clear of ticks where they can."""
    travel = 1000.0 * horn.travel_m
    longest = math.floor((room_mm - TAB_MM) / 10.0) * 10.0
    spare = longest + TAB_MM - TAIL_MM
    count = max(math.ceil((travel - spare) / longest) + 1, 1)
    ticks = [tick.at_mm for lane in lanes for tick in lane.ticks]
    seams = [0.0]
    for left in range(count - 1, 0, -1):
        least = max(travel - spare - (left - 1) * longest, seams[-1] + longest / 2)
        here = [seams[-1] + longest - 10.0 * step for step in range(int(longest // 10))]
        fits = [seam for seam in here if seam >= least and seam < travel]
        seams.append(max(fits or here[:1], key=lambda seam: (_clearance(seam, ticks), seam)))
    seams.append(travel)
    return tuple(Part(n, start, end) for n, (start, end) in enumerate(pairwise(seams), 1))


def _clearance(seam_mm: float, ticks_mm: list[float]) -> int:
    # Labels stand right of their ticks: 30 mm before a seam is as good as any distance.
    before = min((seam_mm - tick for tick in ticks_mm if tick <= seam_mm), default=99.0)
    after = min((tick - seam_mm for tick in ticks_mm if tick >= seam_mm), default=99.0)
    return min(int(before // 10), 3) + min(int(after // 5), 1)


# What is said.


def _how_to(strip: Strip) -> str:
    cut = "Cut the strip out along the dashed lines."
    if len(strip.parts) > 1:
        cut = (
            "Cut the parts out along the dashed lines and glue each hatched tab under the next "
            "part, so that the points of the black arrows meet."
        )
    lower = ", the notes with a valve below" if len(strip.lanes) > 1 else ""
    return (
        f"{cut} Close the slide against the stop, lay the strip beside it with the zero end at "
        "the cross brace of the outer slide, and read where this brace stands as the slide moves "
        f"out: open positions along the upper edge{lower}."
    )


def _partials_note(horn: Horn) -> str:
    offs = []
    for partial in (3, 5, 6):
        off = _largest_offset_mm(horn, partial)
        if off is not None:
            way = "further out" if off > 0 else "further in"
            offs.append(f"{ordinal(partial)} partial {abs(off):.0f} mm {way}")
    others = f" Other partials lie beside these places, at most: {', '.join(offs)}." if offs else ""
    if any(row.partial == 2 for row in horn.deviations):
        source = "The places are for the 2nd partial as it was measured on this horn."
    else:
        source = "The places are for the partials 2, 4 and 8."
    valves = " Valve notes are named for the 2nd partial, in tune with A4." if horn.valves else ""
    return source + valves + others


def _largest_offset_mm(horn: Horn, partial: int) -> float | None:
    """How far a partial lies from the second on the open horn, in mm, where that is most."""
    offs = []
    for number in range(1, 8):
        place = find_place(horn, _partial_hz(horn, partial, number), partial, ())
        octave = _octave_mm(horn, number)
        if place is not None and octave is not None and not place.lip_cents:
            offs.append(1000.0 * place.extension_m - octave)
    return max(offs, key=abs) if offs else None


# Pages.


def _share_out(strip: Strip, area: Area, notes: tuple[str, str]) -> list[tuple[Part, ...]]:
    """The parts of each page, evenly over the fewest pages."""
    step = strip.height_mm + _GAP_MM
    room = area.height_mm - _top_mm(area, notes[0]) - _foot_mm(area, notes[1]) + _GAP_MM
    most = max(int(room // step), 1)
    pages = math.ceil(len(strip.parts) / most)
    each = math.ceil(len(strip.parts) / pages)
    return [strip.parts[first : first + each] for first in range(0, len(strip.parts), each)]


def _page(strip: Strip, area: Area, parts: tuple[Part, ...], notes: tuple[str, str]) -> list[Shape]:
    shapes = _check_line(area)
    y = area.top_mm + 9.0
    for row in wrapped(notes[0], _SAY_PT, area.width_mm):
        y += pt(_SAY_PT) * _LEADING
        shapes.append(Text(area.left_mm, y, row, _SAY_PT))
    top = area.top_mm + _top_mm(area, notes[0])
    bottom = area.bottom_mm - _foot_mm(area, notes[1])
    spare = bottom - top - len(parts) * strip.height_mm
    gap = min(max(spare / max(len(parts), 1), _GAP_MM), _BEST_GAP_MM)
    for part in parts:
        shapes.extend(draw_part(strip, part, area.left_mm, top))
        top += strip.height_mm + gap
    y = top - gap + 2.0
    for row in wrapped(notes[1], _SMALL_PT, area.width_mm):
        y += pt(_SMALL_PT) * _LEADING
        shapes.append(Text(area.left_mm, y, row, _SMALL_PT))
    return shapes


def _top_mm(area: Area, how_to: str) -> float:
    rows = len(wrapped(how_to, _SAY_PT, area.width_mm))
    return 9.0 + rows * pt(_SAY_PT) * _LEADING + 4.0


def _foot_mm(area: Area, note: str) -> float:
    rows = len(wrapped(note, _SMALL_PT, area.width_mm))
    return 2.0 + rows * pt(_SMALL_PT) * _LEADING + 1.0


def _check_line(area: Area) -> list[Shape]:
    left, y = area.left_mm, area.top_mm + 4.0
    right = left + CHECK_MM
    shapes: list[Shape] = [Line(left, y, right, y, CHECK_WIDTH_MM)]
    shapes += [Line(x, y - 1.5, x, y + 1.5, RULER_WIDTH_MM) for x in (left, right)]
    # In two rows wherever it must be, so that "100 mm" doesn't stand alone.
    said = ["Print at 100 %, not fitted to the page:", "this line must measure 100 mm."]
    room = area.right_mm - right - 4.0
    rows = said if len(wrapped(" ".join(said), _SAY_PT, room, 600)) > 1 else [" ".join(said)]
    y += 1.1 - (len(rows) - 1) * pt(_SAY_PT) * 0.6
    for row in rows:
        shapes.append(Text(right + 4.0, y, row, _SAY_PT, weight=600))
        y += pt(_SAY_PT) * 1.2
    return shapes
