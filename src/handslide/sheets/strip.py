"""The slide strip: a paper ruler at true scale that lies along the slide of one horn.

Everything along the strip is in millimetres of extension from the closed stop. The strip is printed
in parts, which are cut out and glued end to end; a part ends at a whole centimetre.
"""

import math
from dataclasses import replace
from itertools import pairwise

from handslide.ground.notenames import class_name
from handslide.ground.pitch import from_midi, respelled
from handslide.ground.units import cents, midi_to_hz
from handslide.instrument.horn import Horn
from handslide.instrument.marks import mark, position_text
from handslide.instrument.markstyle import MarkStyle
from handslide.instrument.places import find_place
from handslide.sheets.content import both_names
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
    StripTexts,
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
    texts: StripTexts,
    *,
    names: str = "english",
    reach: float | None = None,
) -> tuple[Page, ...]:
    """The strip of a horn, in as few pages and parts as the paper allows.

    ``head.landscape`` is chosen here. ``names``: how notes are named, as in
    `handslide.ground.notenames`; ``reach`` is a position.
    """
    lanes = strip_lanes(horn, style, texts, names)
    choices = []
    for landscape in (True, False):
        turned = replace(head, landscape=landscape)
        area = free_area(turned)
        parts = strip_parts(horn, lanes, area.width_mm)
        strip = Strip(horn, texts, lanes, parts, reach)
        choices.append((turned, strip, _share_out(strip, area)))
    turned, strip, shares = min(choices, key=lambda one: (len(one[2]), len(one[1].parts)))
    area = free_area(turned)
    pages = [
        _page(strip, area, share, _notes(strip) if number == 0 else ("", ""))
        for number, share in enumerate(shares)
    ]
    return framed(turned, pages)


# What stands where.


def strip_lanes(
    horn: Horn, style: MarkStyle, texts: StripTexts, names: str = "english"
) -> tuple[Lane, ...]:
    """The open positions and, for each set of valves, the notes of its second partial."""
    ticks = [_position_ticks(horn, style)]
    ticks += [_valve_ticks(horn, valves, style, texts, names) for valves in horn.valve_sets[1:]]
    return tuple(Lane(title, tuple(row)) for title, row in zip(texts.lanes, ticks))


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
    horn: Horn, valves: tuple[str, ...], style: MarkStyle, texts: StripTexts, names: str
) -> list[Tick]:
    closed_hz = horn.speed_m_s / (horn.length_m + horn.loops_m(valves))
    top = round(69 + cents(closed_hz / horn.a4_hz) / 100.0)
    ticks = []
    for midi in range(top, top - 24, -1):
        place = find_place(horn, midi_to_hz(midi, horn.a4_hz), 2, valves)
        if place is None:
            continue
        at = 1000.0 * place.extension_m
        lipped = place.lip_cents >= 0.5
        small = texts.lipped(at, place.lip_cents) if lipped else f"{at:.0f} mm"
        pitch = from_midi(midi)
        other = respelled(pitch)
        name = both_names(
            class_name(pitch, names), "" if other is None else class_name(other, names)
        )
        ticks.append(Tick(at, name, mark(horn, place, style), small))
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


def _notes(strip: Strip) -> tuple[str, str]:
    """What stands over the parts and what under them."""
    texts = strip.texts
    return texts.how_to_glue if len(strip.parts) > 1 else texts.how_to, texts.partials


def offsets_mm(horn: Horn) -> tuple[tuple[int, float], ...]:
    """(partial, mm) of the partials beside the octaves: how far their places lie from the strip.

    On the open horn, where it is most; negative: further in.
    """
    found = [(partial, _largest_offset_mm(horn, partial)) for partial in (3, 5, 6)]
    return tuple((partial, off) for partial, off in found if off is not None)


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


def _share_out(strip: Strip, area: Area) -> list[tuple[Part, ...]]:
    """The parts of each page, evenly over the fewest pages."""
    above, below = _notes(strip)
    step = strip.height_mm + _GAP_MM
    room = area.height_mm - _top_mm(strip.texts, area, above) - _foot_mm(area, below) + _GAP_MM
    most = max(int(room // step), 1)
    pages = math.ceil(len(strip.parts) / most)
    each = math.ceil(len(strip.parts) / pages)
    return [strip.parts[first : first + each] for first in range(0, len(strip.parts), each)]


def _page(strip: Strip, area: Area, parts: tuple[Part, ...], notes: tuple[str, str]) -> list[Shape]:
    shapes = _check_line(strip.texts, area)
    y = area.top_mm + _check_mm(strip.texts, area)
    for row in wrapped(notes[0], _SAY_PT, area.width_mm):
        y += pt(_SAY_PT) * _LEADING
        shapes.append(Text(area.left_mm, y, row, _SAY_PT))
    top = area.top_mm + _top_mm(strip.texts, area, notes[0])
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


def _top_mm(texts: StripTexts, area: Area, how_to: str) -> float:
    rows = len(wrapped(how_to, _SAY_PT, area.width_mm))
    return _check_mm(texts, area) + rows * pt(_SAY_PT) * _LEADING + 4.0


def _foot_mm(area: Area, note: str) -> float:
    rows = len(wrapped(note, _SMALL_PT, area.width_mm))
    return 2.0 + rows * pt(_SMALL_PT) * _LEADING + 1.0


def _check_mm(texts: StripTexts, area: Area) -> float:
    """Height of the line to measure with the rows beside it."""
    return 9.0 + max(len(_check_rows(texts, area)) - 2, 0) * pt(_SAY_PT) * 1.2


def _check_rows(texts: StripTexts, area: Area) -> list[str]:
    # In two rows wherever it must be, so that "100 mm" doesn't stand alone.
    room = area.width_mm - CHECK_MM - 4.0
    whole = wrapped(" ".join(texts.check), _SAY_PT, room, 600)
    return (
        whole
        if len(whole) == 1
        else [row for said in texts.check for row in wrapped(said, _SAY_PT, room, 600)]
    )


def _check_line(texts: StripTexts, area: Area) -> list[Shape]:
    rows = _check_rows(texts, area)
    more = max(len(rows) - 2, 0) * pt(_SAY_PT) * 0.6
    left, y = area.left_mm, area.top_mm + 4.0 + more
    right = left + CHECK_MM
    shapes: list[Shape] = [Line(left, y, right, y, CHECK_WIDTH_MM)]
    shapes += [Line(x, y - 1.5, x, y + 1.5, RULER_WIDTH_MM) for x in (left, right)]
    y += 1.1 - (len(rows) - 1) * pt(_SAY_PT) * 0.6
    for row in rows:
        shapes.append(Text(right + 4.0, y, row, _SAY_PT, weight=600))
        y += pt(_SAY_PT) * 1.2
    return shapes
