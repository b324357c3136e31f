"""Charts: pedals, names, what is left out, the bell as a landmark, papers and sheets for a wall."""

import math
from itertools import pairwise
from pathlib import Path

import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont

import handslide
from handslide.ground.errors import BadUsage
from handslide.ground.papers import CHART_PAPERS
from handslide.jobs.chart.chart import ChartOptions
from handslide.jobs.chart.chart import chart as chart_for
from handslide.jobs.chart.content import ChartRequest, chart_notes, default_clef
from handslide.jobs.chart.kinds import SHEETS
from handslide.jobs.mark.slideview import measures_of
from handslide.jobs.setup import make_setup, with_bell
from handslide.sheets.shapes import (
    MARKS,
    Circle,
    Picture,
    Rect,
    leaving_page,
    overlapping_texts,
    pt,
)
from handslide.words.speech import speech

FONTS = Path(handslide.__file__).parent / "data" / "fonts"
ENGLISH = speech("en")


def chart(setup, options):
    return chart_for(setup, options, ENGLISH)


def charted(setup, **wishes):
    request = ChartRequest("all", setup, ENGLISH, default_clef(setup.horn), "a4", **wishes)
    return chart_notes(request)


def test_the_pedals_of_the_open_horn_are_below_unless_they_are_left_away():
    # common practice: one pedal note in each position, B flat 1 in 1st to E1 in 7th
    places = {
        note.pitch.name: [place.mark for place in note.places]
        for note in charted(make_setup("tenor"))
    }
    pedals = ["E1", "F1", "Gb1", "G1", "Ab1", "A1", "Bb1"]
    assert list(places)[:8] == [*pedals, "E2"]
    assert [places[name] for name in pedals] == [[str(7 - k)] for k in range(7)]
    assert charted(make_setup("tenor", reach=3))[0].pitch.name == "Ab1"
    # Where valves reach below them there is no gap, and none comes twice.
    low = [note.pitch.midi for note in charted(make_setup("bass-independent"))]
    assert low == list(range(28, 71))


def lines_of(horn, **options):
    (first, *_) = chart(make_setup(horn), ChartOptions(**options)).pages
    return " ".join(text.text for text in first.texts)


def test_what_a_range_leaves_out_is_said():
    said = lines_of("tenor-f", low="E2", high="F4")
    assert "not on this sheet: C1 to B♭1, C2 to E♭2, G♭4 to F5" in said
    assert "not on this horn" not in said
    assert "not on this horn: B1 to E♭2" in lines_of("tenor")
    valve = lines_of("tenor-f", sheet="valve", low="D2")
    assert "not on this sheet: C1 to E♭1, C2, D♭2" in valve
    student = make_setup("tenor", reach=6)
    (page, *_) = chart(student, ChartOptions(low="E2", high="C3")).pages
    assert any("not yet for this student: E2, B2" in text.text for text in page.texts)


def test_what_is_left_out_is_named_as_it_is_written():
    # written C4 of the brass band's clef sounds B flat 2
    assert "not on this sheet: D2 to " in lines_of("tenor-f", clef="treble-bb", low="E2")


def test_both_names_of_a_black_key_stand_on_every_sheet():
    for sheet, both in (("all", ("E♭3", "D♯3")), ("grid", ("E♭3/D♯3",)), ("wall", ("D♯3",)),
                        ("blank", ("D♯3",)), ("strip", ("E♭/D♯",))):  # fmt: skip
        pages = chart(make_setup("tenor-f"), ChartOptions(sheet=sheet)).pages
        shown = {text.text for page in pages for text in page.texts}
        assert shown >= set(both), sheet
    # The brass band's clef writes sounding E3 as F sharp.
    shown = lines_of("tenor", clef="treble-bb", low="E3", high="E3")
    assert "F♯4" in shown and "G♭4" in shown


def test_no_small_figure_is_raised_beside_a_mark():
    for sheet in ("all", "alternates"):
        for page in chart(make_setup("tenor-f"), ChartOptions(sheet=sheet)).pages:
            marks = [t for t in page.texts if t.face == MARKS and t.size_pt in (12.0, 9.0)]
            beside = [
                (mark, text)
                for mark in marks
                for text in page.texts
                if text.face != MARKS
                and abs(text.left_mm - mark.box_mm[2] - 0.4) < 0.01
                and abs(text.y_mm - mark.y_mm) < 3.0
            ]
            assert len(beside) >= len(marks) > 20
            assert all(text.y_mm > mark.y_mm for mark, text in beside)
            assert not any(set(text.text) & set("¹²³⁴⁵⁶⁷⁸⁹") for text in page.texts)


def test_the_sheet_to_fill_in_gives_no_place_away():
    pages = chart(make_setup("bass-independent"), ChartOptions(sheet="blank")).pages
    positions = {str(number) for number in range(1, 8)}
    for page in pages:
        assert {text.text for text in page.texts if text.face == MARKS} <= positions
        assert not any(isinstance(shape, Circle) for shape in page.shapes)
    boxes = [
        shape
        for page in pages
        for shape in page.shapes
        if isinstance(shape, Rect) and shape.stroke_mm is not None
    ]
    assert len(boxes) == 70 - 28 + 1


def test_the_bell_is_a_landmark():
    setup = with_bell(make_setup("tenor-f"), 200.0)
    (page, *_) = chart(setup, ChartOptions()).pages
    said = " ".join(text.text for text in page.texts)
    # the 3rd position of a B flat horn, 182 mm, lies 18 mm before a rim at 200 mm
    assert "bell rim at 200 mm: 3rd 18 mm before it and 4th 82 mm beyond it" in said
    (strip,) = chart(setup, ChartOptions(sheet="strip")).pages
    assert "bell rim" in {text.text for text in strip.texts}
    assert "bell rim" not in lines_of("tenor-f")
    with pytest.raises(BadUsage, match="30 to 900 mm"):
        with_bell(make_setup("tenor"), 2.0)


# Papers for the wall


@pytest.mark.parametrize("paper", CHART_PAPERS)
@pytest.mark.parametrize("sheet", SHEETS)
def test_every_sheet_on_every_paper(sheet, paper):
    size = CHART_PAPERS[paper]
    against = make_setup("tenor") if sheet == "compare" else None
    pages = chart_for(
        make_setup("tenor-f"), ChartOptions(sheet=sheet, paper=paper), ENGLISH, against
    ).pages
    for page in pages:
        sides = sorted((page.width_mm, page.height_mm))
        assert sides == pytest.approx([size.width_mm, size.height_mm])
        assert leaving_page(page, 8.0) == []
        assert overlapping_texts(page) == []


def test_paper_for_the_wall_enlarges_all_but_the_strip():
    def sizes(sheet, paper):
        pages = chart(make_setup("tenor"), ChartOptions(sheet=sheet, paper=paper)).pages
        return {text.size_pt for page in pages for text in page.texts}

    assert max(sizes("grid", "a2")) == pytest.approx(2 * max(sizes("grid", "a4")))
    assert sizes("strip", "a2") == sizes("strip", "a4")


@pytest.mark.parametrize("paper", CHART_PAPERS)
def test_figures_of_the_wall_chart_are_readable_from_three_metres(paper):
    # ISO 9241-303: characters at least 16 minutes of arc high
    least_mm = 2 * 3000 * math.tan(math.radians(16 / 60) / 2)
    font = TTFont(FONTS / "HandslideMarks-Bold.ttf")
    glyphs, names = font.getGlyphSet(), font.getBestCmap()
    pen = BoundsPen(glyphs)
    glyphs[names[ord("1")]].draw(pen)
    digit = pen.bounds[3] / font["head"].unitsPerEm
    pages = chart(make_setup("bass-independent"), ChartOptions(sheet="wall", paper=paper)).pages
    largest = max(t.size_pt for page in pages for t in page.texts if t.face == MARKS)
    figures = [
        text
        for page in pages
        for text in page.texts
        if text.face == MARKS and text.size_pt == largest
    ]
    assert len(figures) == 70 - 28 + 1
    assert digit * pt(largest) >= least_mm
    # Neighbours must not read as one number.
    for page in pages:
        rows = {}
        for text in page.texts:
            if text in figures:
                rows.setdefault(text.y_mm, []).append(text)
        for row in rows.values():
            row.sort(key=lambda text: text.left_mm)
            for one, other in pairwise(row):
                assert other.left_mm - one.left_mm - one.width_mm >= 0.5 * least_mm


def test_the_wall_chart_ends_with_the_slide_to_scale():
    setup = make_setup("tenor-f")
    *before, last = chart(setup, ChartOptions(sheet="wall", paper="a3")).pages
    pictures = [shape for shape in last.shapes if isinstance(shape, Picture)]
    assert [s for page in before for s in page.shapes if isinstance(s, Picture)] == []
    (slide,) = pictures
    numbers = [t for t in last.texts if t.anchor == "middle" and t.y_mm > slide.y_mm]
    assert [t.text for t in numbers if t.face == MARKS] == [str(n) for n in range(1, 8)]
    # Each stands under the hand: 110 mm of the drawing before the stop, then the extension.
    view = measures_of(setup)
    for text, mm in zip((t for t in numbers if t.face == MARKS), view.rulers[0].marks_mm):
        there = slide.x_mm + slide.width_mm * (110.0 + mm) / view.width_mm
        assert text.x_mm == pytest.approx(there, abs=0.1)
    assert leaving_page(last, 8.0) == [] and overlapping_texts(last) == []
