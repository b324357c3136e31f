"""The slide strip, measured in its PDF against closed formulas."""

import math
from dataclasses import dataclass
from itertools import pairwise

import pypdfium2 as pdfium
import pypdfium2.raw as raw
import pytest

from handslide.edges.files.horns import HORN_FILES, load_horn, read_horn
from handslide.edges.typesetting.drawing import render
from handslide.ground.papers import PAPERS
from handslide.instrument.markstyle import parse_style
from handslide.jobs.chart.kinds import strip_texts
from handslide.sheets.frame import Head
from handslide.sheets.shapes import MARKS, Line, Rect, Sheet, Text, leaving_page, overlapping_texts
from handslide.sheets.strip import CHECK_WIDTH_MM, strip_pages
from handslide.sheets.strippart import POSITION_WIDTH_MM, RULER_WIDTH_MM, VALVE_WIDTH_MM
from handslide.words.speech import speech

MM = 25.4 / 72.0
SPEED_M_S = 347.1268  # Cramer 1993: 25 °C, half saturated, 101325 Pa, 0.04 % CO2
# Closed first partial (MIDI), travel in mm, sets of valves by their semitones. Loops add.
HORNS = {
    "tenor": (34, 650, []),
    "tenor-f": (34, 670, [(5,)]),
    "bass-independent": (34, 670, [(5,), (4,), (5, 4)]),
    "alto": (39, 480, []),
    "soprano": (46, 320, []),
    "contrabass-f": (29, 830, [(5,), (4,), (5, 4)]),
}


def pages_of(horn, paper="a4", *, marks="", **wishes):
    tuned = load_horn(horn).tuned() if isinstance(horn, str) else horn
    head = Head("Slide strip", (f"{tuned.title} · A4 = 440 Hz · air in the horn 25 °C",), paper)
    texts = strip_texts(speech("en"), tuned, wishes.get("reach"))
    return strip_pages(head, tuned, parse_style(marks), texts, **wishes)


def tube_mm(midi):
    return 1000.0 * SPEED_M_S / (2.0 * 440.0 * 2.0 ** ((midi - 69) / 12))


def open_mm(midi, travel):
    length = tube_mm(midi)
    places = [length / 2 * (2 ** (k / 12) - 1) for k in range(7)]
    return [x for x in places if x <= travel]


def valve_mm(midi, travel, valves):
    """Places of the notes from the closed tube downwards, until the slide ends."""
    length = tube_mm(midi)
    if len(valves) == 1:
        (v,) = valves
        places = [length / 2 * 2 ** (v / 12) * (2 ** (n / 12) - 1) for n in range(12)]
    else:
        # Two loops together are a little longer than any note's tube: the first is lipped up.
        tube = length * (1 + sum(2 ** (v / 12) - 1 for v in valves))
        top = round(12 * math.log2(tube / length))
        places = [max(length * 2 ** ((top + n) / 12) - tube, 0) / 2 for n in range(12)]
    return [x for x in places if x <= travel]


# Reading the strip out of the PDF.


@dataclass(frozen=True)
class PdfLine:
    """A straight line of a PDF page, in mm from the top left."""

    width: float
    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True)
class PdfPart:
    """A part of the strip: the millimetres that stand at its ticks."""

    ruler: list[float]
    first_cm: int
    positions: list[float]
    valves: list[tuple[float, float]]  # (depth of the lane below the ruler, mm)


def pdf_lines(page):
    _, height = page.get_size()
    lines = []
    for item in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH]):
        if raw.FPDFPath_CountSegments(item.raw) != 2:
            continue
        ends = []
        a, b, c, d, e, f = item.get_matrix().get()
        for number in range(2):
            segment = raw.FPDFPath_GetPathSegment(item.raw, number)
            x, y = raw.c_float(), raw.c_float()
            raw.FPDFPathSegment_GetPoint(segment, x, y)
            ends += [
                (a * x.value + c * y.value + e) * MM,
                (height - (b * x.value + d * y.value + f)) * MM,
            ]
        width = raw.c_float()
        raw.FPDFPageObj_GetStrokeWidth(item.raw, width)
        lines.append(PdfLine(width.value * MM * math.hypot(a, b), *ends))
    return lines


def upright(lines, width):
    return [
        line for line in lines if abs(line.width - width) < 0.01 and abs(line.x1 - line.x2) < 0.01
    ]


def pdf_parts(data):
    parts = []
    document = pdfium.PdfDocument(data)
    for page in document:
        reader = page.get_textpage()
        parts += page_parts(pdf_lines(page), reader, page.get_height())
        reader.close()
        page.close()
    document.close()
    return parts


def page_parts(lines, reader, height_pt):
    tops = {}
    for line in upright(lines, RULER_WIDTH_MM):
        tops.setdefault(round(min(line.y1, line.y2), 1), []).append(line)
    # The upper ticks of a ruler hang from one line; the lower ones start at three heights.
    rulers = sorted(top for top, ticks in tops.items() if len({length(t) for t in ticks}) == 3)
    parts = []
    for top, next_top in pairwise([*rulers, math.inf]):
        ticks = sorted(tops[top], key=lambda line: line.x1)
        first = first_number(reader, ticks[0].x1, top, height_pt)
        zero = ticks[0].x1 - 10.0 * first
        positions = [
            line.x1 - zero
            for line in upright(lines, POSITION_WIDTH_MM)
            if abs(max(line.y1, line.y2) - top) < 0.1
        ]
        valves = [
            (round(min(line.y1, line.y2) - top, 1), line.x1 - zero)
            for line in upright(lines, VALVE_WIDTH_MM)
            if top < min(line.y1, line.y2) < next_top
        ]
        parts.append(PdfPart([tick.x1 - zero for tick in ticks], first, positions, valves))
    return parts


def length(line):
    return round(abs(line.y1 - line.y2), 1)


def first_number(reader, left, top, height_pt):
    """The centimetre that is printed at the first tick of a ruler."""
    said = reader.get_text_bounded(
        (left - 0.3) / MM, height_pt - (top + 5.6) / MM, (left + 7.0) / MM,
        height_pt - (top + 2.9) / MM,
    )  # fmt: skip
    return int(said.split()[0])


@pytest.mark.sample
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("horn", HORNS)
def test_ticks_of_the_pdf_lie_where_the_formula_says(horn, paper):
    midi, travel, valve_sets = HORNS[horn]
    (data,) = render(Sheet("Strip", pages_of(horn, paper)))
    parts = pdf_parts(data)
    positions = sorted(mm for part in parts for mm in part.positions)
    assert positions == pytest.approx(open_mm(midi, travel), abs=0.1)
    lanes = {}
    for part in parts:
        for depth, mm in part.valves:
            lanes.setdefault(depth, []).append(mm)
    found = [sorted(lanes[depth]) for depth in sorted(lanes)]
    wanted = [valve_mm(midi, travel, valves) for valves in valve_sets]
    assert len(found) == len(wanted)
    for one, other in zip(found, wanted, strict=True):
        assert one == pytest.approx(other, abs=0.1)


@pytest.mark.sample
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("horn", HORNS)
def test_millimetres_go_on_over_the_seams(horn, paper):
    _, travel, _ = HORNS[horn]
    (data,) = render(Sheet("Strip", pages_of(horn, paper)))
    parts = pdf_parts(data)
    assert len(parts) > 1
    assert parts[0].first_cm == 0
    for part in parts:
        whole = [part.first_cm * 10 + k for k in range(len(part.ruler))]
        assert part.ruler == pytest.approx(whole, abs=0.02)
    for part, following in pairwise(parts):
        assert part.ruler[-1] == pytest.approx(10 * following.first_cm, abs=0.02)
    assert parts[-1].ruler[-1] == pytest.approx(travel, abs=0.02)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("horn", ["bass-independent", "contrabass-f", "soprano"])
def test_the_check_line_is_100_mm_on_every_page(horn, paper):
    (data,) = render(Sheet("Strip", pages_of(horn, paper)))
    document = pdfium.PdfDocument(data)
    for page in document:
        lines = [line for line in pdf_lines(page) if abs(line.width - CHECK_WIDTH_MM) < 0.01]
        (check,) = [line for line in lines if abs(line.y1 - line.y2) < 0.01]
        assert abs(check.x2 - check.x1) == pytest.approx(100.0, abs=0.005)
        reader = page.get_textpage()
        text = " ".join(reader.get_text_range().split())
        assert "Print at 100 %" in text
        assert "this line must measure 100 mm" in text
        reader.close()
        page.close()
    document.close()


# What stands on the pages.


@pytest.mark.sample
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("horn", HORN_FILES.ours)
@pytest.mark.parametrize(
    ("reach", "marks", "language"),
    [(None, "", "english"), (6, "number roman", "german"), (4.5, "letter valve", "do")],
)
def test_nothing_collides_or_leaves_the_page(horn, paper, reach, marks, language):
    pages = pages_of(horn, paper, reach=reach, marks=marks, names=language)
    assert 1 <= len(pages) <= 2
    for page in pages:
        size = PAPERS[paper]
        assert sorted((page.width_mm, page.height_mm)) == sorted((size.width_mm, size.height_mm))
        assert overlapping_texts(page) == []
        assert leaving_page(page, 8.0) == []
        for line in page.shapes:
            if isinstance(line, Line):
                assert min(line.x1_mm, line.x2_mm, line.y1_mm, line.y2_mm) >= 8.0
                assert max(line.x1_mm, line.x2_mm) <= page.width_mm - 8.0
                assert max(line.y1_mm, line.y2_mm) <= page.height_mm - 8.0
        for text in page.texts:
            assert text.size_pt >= (8.0 if text.face == MARKS else 7.0)
            if text.face == MARKS:
                assert line_crossings(page, text) == []


def line_crossings(page, text):
    """Upright lines that go through a mark."""
    left, top, right, bottom = text.box_mm
    return [
        line
        for line in page.shapes
        if isinstance(line, Line)
        and line.x1_mm == line.x2_mm
        and left + 0.1 < line.x1_mm < right - 0.1
        and min(line.y1_mm, line.y2_mm) < bottom
        and max(line.y1_mm, line.y2_mm) > top
    ]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("horn", HORN_FILES.ours)
def test_every_place_has_its_mark(horn, paper):
    pages = pages_of(horn, paper)
    tuned = load_horn(horn).tuned()
    marks = [text.text for page in pages for text in page.texts if text.face == MARKS]
    reached = [str(k) for k in range(1, 8) if tuned.extension_m(k) <= tuned.travel_m]
    assert [mark for mark in marks if mark.isdigit()] == reached
    ticks = [
        line
        for page in pages
        for line in page.shapes
        if isinstance(line, Line) and line.width_mm in (POSITION_WIDTH_MM, VALVE_WIDTH_MM)
    ]
    assert len(marks) == len(ticks)


def said(pages):
    return " ".join(text.text for page in pages for text in page.texts)


def test_the_texts_of_a_strip():
    pages = pages_of("tenor-f")
    words = said(pages)
    for text in ("closed slide, against the stop", "end of the slide", "670 mm", "F valve"):
        assert words.count(text) >= 1
    for number in (1, 2, 3):
        assert f"part {number} of 3 · Tenor trombone in B♭ with F valve · A4 = 440 Hz" in words
    assert "glue under part 2" in words
    assert "glue under part 3" in words
    assert "glue under part 4" not in words
    assert "reach" not in words


def test_the_instructions_are_two_sentences():
    for horn in ("tenor", "bass-independent", "soprano"):
        (page, *_) = pages_of(horn)
        rows = [text.text for text in page.texts if text.size_pt == 9.5 and text.weight == 400]
        words = " ".join(row for row in rows if len(row) > 12)
        assert words.count(". ") == 1
        assert words.endswith(".")


def test_valve_places_by_name_and_mark():
    words = [text.text for text in pages_of("tenor-f")[0].texts]
    for name, sign, mm in (
        ("E", "T♭2", "118 mm"),
        ("E♭/D♯", "T3½", "243 mm"),
        ("C", "T7½", "666 mm"),
    ):
        number = words.index(sign)
        assert words[number - 1 : number + 2] == [name, sign, mm]


@pytest.mark.parametrize(
    ("language", "names"), [("german", {"Es/Dis", "Des/Cis"}), ("do", {"mi♭/re♯", "re♭/do♯"})]
)
def test_note_names_in_other_languages(language, names):
    assert names <= {text.text for text in pages_of("tenor-f", names=language)[0].texts}


@pytest.mark.parametrize(("horn", "midi"), [("tenor", 34), ("alto", 39), ("contrabass-f", 29)])
def test_how_far_other_partials_lie_from_the_strip(horn, midi):
    far = tube_mm(midi) * 2 ** (6 / 12) / 2
    fifth = abs(far * (5 / 2 ** (28 / 12) - 1))
    third = far * (3 / 2 ** (19 / 12) - 1)
    words = said(pages_of(horn))
    assert "partials 2, 4 and 8" in words
    assert f"3rd partial {third:.0f} mm further out" in words
    assert f"5th partial {fifth:.0f} mm further in" in words
    assert f"6th partial {third:.0f} mm further out" in words


def test_the_reach_is_drawn_to_what_is_written_as_this_position():
    pages = pages_of("tenor-f", reach=6)
    end = tube_mm(34) / 2 * (2 ** (5.2 / 12) - 1)
    assert f"reach: 6th position, to {end:.0f} mm" in said(pages)
    tints = [shape for shape in pages[0].shapes if isinstance(shape, Rect) and shape.fill == 0.88]
    assert sum(tint.width_mm for tint in tints) == pytest.approx(670 - end, abs=0.01)


def test_a_reach_beyond_the_slide_is_not_drawn():
    pages = pages_of("tenor", reach=7)
    assert "reach" in said(pages)
    assert "reach" not in said(pages_of("tenor", reach=8))


def test_the_octave_partial_as_measured():
    text = 'closed = "Bb1"\ntravel_mm = 670\n[[deviations]]\npartial = 2\ncents = 10\n'
    horn = read_horn(text, "measured").tuned()
    pages = pages_of(horn)
    assert "2nd partial as it was measured on this horn" in said(pages)
    (data,) = render(Sheet("Strip", pages))
    found = sorted(mm for part in pdf_parts(data) for mm in part.positions)
    length = tube_mm(34)
    wanted = [length / 2 * (2 ** (k / 12 + 10 / 1200) - 1) for k in range(7)]
    assert found == pytest.approx(wanted, abs=0.1)


def test_a_short_slide_is_one_part_without_a_tab():
    horn = read_horn('closed = "Bb3"\ntravel_mm = 160\n', "small").tuned()
    words = said(pages_of(horn))
    assert "glue" not in words
    assert "Cut the strip out along the dashed lines." in words


def test_seven_sets_of_valves_have_a_lane_each():
    valves = "".join(f'[[valves]]\nname = "{n}"\nclosed = "{n}1"\n' for n in ("F", "Gb", "D"))
    horn = read_horn(f'closed = "Bb1"\ntravel_mm = 670\n{valves}', "many").tuned()
    pages = pages_of(horn, reach=5)
    titles = {text.text for page in pages for text in page.texts if text.italic}
    assert len(titles) == 1 + 7
    for page in pages:
        assert overlapping_texts(page) == []
        assert leaving_page(page, 8.0) == []


def test_turned_texts_stand_inside_their_part():
    for page in pages_of("soprano"):
        for text in page.texts:
            assert isinstance(text, Text)
            if text.turned:
                assert text.width_mm < 23.5
