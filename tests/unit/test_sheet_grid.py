"""The harmonic grid: points on their curves, bands where no tube sounds, texts that keep apart."""

import math

import pypdfium2 as pdfium
import pytest
from chart_notes import HORNS, RANGES, TAUGHT, chart_notes
from command import run

from handslide.edges.files.horns import load_horn
from handslide.edges.typesetting.drawing import render
from handslide.ground.errors import BadUsage
from handslide.ground.notenames import full_name
from handslide.ground.pitch import from_midi, parse_pitch
from handslide.ground.units import midi_to_hz
from handslide.instrument.horn import Closed, Deviation, HornDescription, ValveDescription
from handslide.instrument.markstyle import MarkStyle
from handslide.instrument.places import Limits
from handslide.jobs.chart.kinds import grid_texts
from handslide.sheets import grid
from handslide.sheets.frame import Head, free_area
from handslide.sheets.gridbands import missing_bands
from handslide.sheets.shapes import (
    MARKS,
    Circle,
    Path,
    Rect,
    Sheet,
    Text,
    leaving_page,
    overlapping_texts,
)
from handslide.words.marks import legend
from handslide.words.speech import speech

ENGLISH = speech("en")


def grid_axes(head, horn, notes, **options):
    return grid.grid_axes(head, horn, notes, grid_texts(ENGLISH, horn), **options)


def grid_pages(head, horn, notes, **options):
    return grid.grid_pages(head, horn, notes, grid_texts(ENGLISH, horn), **options)


def head_of(horn, notes, paper="a4", landscape=False):
    places = [row.place for note in notes for row in note.places]
    return Head(
        "All that this horn can play",
        (f"{horn.title} · A4 = 440 Hz · air in the horn 25 °C · slide 650 mm",),
        paper,
        landscape,
        legend(ENGLISH, horn, places, MarkStyle()),
    )


def drawn(name, paper="a4", landscape=False, limits=TAUGHT, **span):
    horn = load_horn(name).tuned()
    notes = chart_notes(horn, limits=limits, **span)
    head = head_of(horn, notes, paper, landscape)
    return (
        horn,
        notes,
        grid_axes(head, horn, notes, limits=limits),
        grid_pages(head, horn, notes, limits=limits),
    )


def centre(shape):
    """Where a dot is: its centre, for a polygon the middle of its box."""
    if isinstance(shape, Circle):
        return shape.x_mm, shape.y_mm
    if isinstance(shape, Rect):
        return shape.x_mm + shape.width_mm / 2, shape.y_mm + shape.height_mm / 2
    xs, ys = zip(*shape.points_mm)
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def dots(page):
    small = []
    for shape in page.shapes:
        dot = isinstance(shape, Circle) or (isinstance(shape, Path) and shape.closed)
        square = isinstance(shape, Rect) and shape.stroke_mm is not None
        if dot or square:
            small.append(centre(shape))
    return small


def curves(page):
    return [shape for shape in page.shapes if isinstance(shape, Path) and not shape.closed]


def words(page):
    return " | ".join(text.text for text in page.texts)


def off_curve_mm(spot, curve):
    """How far above or below a curve a spot lies, in mm; infinity beside it."""
    x, y = spot
    for (x1, y1), (x2, y2) in zip(curve.points_mm, curve.points_mm[1:]):
        if x1 - 1e-6 <= x <= x2 + 1e-6 and x2 > x1:
            return abs(y - (y1 + (y2 - y1) * (x - x1) / (x2 - x1)))
    return math.inf


def check_page(page):
    assert overlapping_texts(page) == []
    assert leaving_page(page, 6.0) == []
    for text in page.texts:
        assert text.size_pt >= (8.0 if text.face == MARKS else 7.0), text


@pytest.mark.sample
@pytest.mark.parametrize("landscape", [False, True])
@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", HORNS)
def test_texts_keep_apart_and_on_the_page(name, paper, landscape):
    _, notes, axes, pages = drawn(name, paper, landscape)
    assert len(pages) == len(axes)
    for page in pages:
        check_page(page)
    shown = [text.text for page in pages for text in page.texts if text.face == MARKS]
    for note in notes:
        assert any(text.text == note.name for page in pages for text in page.texts)
    usual = [row.mark for note in notes for row in note.places if row.usual]
    assert len(usual) == len(notes)
    for mark in set(usual):
        assert shown.count(mark) >= usual.count(mark), mark


@pytest.mark.sample
@pytest.mark.parametrize("name", HORNS)
def test_texts_keep_apart_over_the_whole_compass_without_limits(name):
    low, high = RANGES.get(name, (40, 70))
    for landscape in (False, True):
        _, _, axes, pages = drawn(name, "letter", landscape, Limits(), low=low - 12, high=high + 7)
        for page, ax in zip(pages, axes):
            check_page(page)
            assert ax.y_mm(60) - ax.y_mm(61) >= 2.99


@pytest.mark.parametrize("language", ["german", "do"])
def test_names_of_other_languages_have_room(language):
    horn = load_horn("bass-independent").tuned()
    notes = chart_notes(horn, language=language)

    def named(midi):
        return full_name(from_midi(midi), language), "dis′"

    for page in grid_pages(head_of(horn, notes), horn, notes, named=named):
        check_page(page)


@pytest.mark.sample
@pytest.mark.parametrize("name", HORNS)
def test_dots_lie_at_their_extension_and_on_their_curve(name):
    horn, notes, (axes,), (page,) = drawn(name)
    found, lines = dots(page), curves(page)
    area = free_area(head_of(horn, notes))
    assert area.left_mm < axes.left_mm < axes.right_mm < area.right_mm
    for note in notes:
        for row in note.places:
            x = axes.left_mm + (axes.right_mm - axes.left_mm) * row.place.extension_m / (
                horn.travel_m
            )
            y = axes.y_mm(note.pitch.midi)
            assert axes.x_mm(row.place.extension_m) == pytest.approx(x)
            # Triangles are measured by the middle of their box, a little off their centre.
            near = min(math.hypot(x - a, (y - b) if abs(y - b) > 0.4 else 0.0) for a, b in found)
            assert near < 0.1, note.name
            lip = row.place.lip_cents / 100.0 * (axes.y_mm(60) - axes.y_mm(61))
            nearest = min(off_curve_mm((x, y + lip), line) for line in lines)
            assert nearest < 0.1, (note.name, row.place)


def test_axes_are_linear_in_extension_and_in_semitones():
    horn, _, (axes,), _ = drawn("tenor")
    assert axes.x_mm(0.0) == axes.left_mm
    assert axes.x_mm(horn.travel_m) == pytest.approx(axes.right_mm)
    assert axes.x_mm(horn.travel_m / 2) == pytest.approx((axes.left_mm + axes.right_mm) / 2)
    steps = {round(axes.y_mm(midi) - axes.y_mm(midi + 1), 9) for midi in range(40, 70)}
    assert len(steps) == 1 and steps.pop() > 3.0


def test_positions_stand_at_their_extensions_and_only_where_the_slide_goes():
    for name, last in (("tenor", 7), ("tenor-c-bb", 6)):
        horn, _, (axes,), (page,) = drawn(name)
        numbers = {t.text: t.x_mm for t in page.texts if t.size_pt == 10.0 and t.face == MARKS}
        assert set(numbers) == {str(n) for n in range(1, last + 1)}
        for number, x in numbers.items():
            extension = horn.length_m * (2 ** ((int(number) - 1) / 12) - 1) / 2
            share = extension / horn.travel_m
            assert x == pytest.approx(axes.left_mm + share * (axes.right_mm - axes.left_mm))


def test_measured_deviations_bend_the_curves():
    bent = HornDescription(
        "bent",
        "Bent",
        load_horn("tenor").closed,
        0.65,
        deviations=(Deviation((), 5, 12.0), Deviation((), 4, 0.0, 60.0)),
    ).tuned()
    notes = chart_notes(bent, 46, 62)
    head = head_of(bent, notes)
    (axes,) = grid_axes(head, bent, notes)
    (page,) = grid_pages(head, bent, notes)
    for partial, extension in ((5, 0.0), (5, 0.3), (4, 0.0), (4, 0.6)):
        hz = bent.frequency_hz(partial, extension)
        y = axes.y_mm(69 + 12 * math.log2(hz / 440.0))
        lines = curves(page)
        assert min(off_curve_mm((axes.x_mm(extension), y), line) for line in lines) < 0.05


def test_low_b_is_a_gap_of_the_f_valve_and_none_of_the_e_pull():
    _, _, _, (page,) = drawn("tenor-f", low=36, high=60)
    assert "not on this horn: B1" in words(page)
    _, _, _, (page,) = drawn("tenor-e", low=35, high=60)
    assert "not on this horn" not in words(page)
    _, _, _, (page,) = drawn("tenor-e", low=36, high=60)
    assert "not on this horn" not in words(page)


def test_the_straight_horn_has_its_gap_below_the_seventh_position():
    _, _, _, (page,) = drawn("tenor")
    assert "not on this horn: B1 to E♭2" in words(page)


@pytest.mark.parametrize("name", HORNS)
def test_bands_are_exactly_the_notes_without_places(name):
    horn = load_horn(name).tuned()
    low, high = 20, 80
    bands = missing_bands(horn, low - 0.5, high + 0.5)
    for midi in range(low, high + 1):
        has = bool(chart_notes(horn, midi, midi, limits=Limits()))
        banded = any(band.low < midi < band.high for band in bands)
        # The sixteen partials end above; there the horn has no top.
        if midi_to_hz(midi) < horn.frequency_hz(16, horn.travel_m):
            assert banded is not has, midi


def test_curves_end_at_the_slide_above_low_b():
    _, _, (axes,), (page,) = drawn("tenor-f", low=36, high=60)
    ends = [line.points_mm[-1] for line in curves(page) if line.dash_mm]
    lowest = max(y for x, y in ends if x == pytest.approx(axes.right_mm, abs=0.01))
    assert axes.y_mm(36) - 0.01 <= lowest < axes.y_mm(35) - 2.0


def test_a_reach_is_drawn_and_what_it_forbids_is_told_from_the_gap():
    limits = Limits(reach=5.0, top_partial=12, top_partial_valve=6)
    horn, _, (axes,), (page,) = drawn("tenor-f", limits=limits, low=34)
    check_page(page)
    text = words(page)
    assert "beyond reach" in text and "not on this horn: B1" in text
    assert "not yet for this student: C2 to D♭2" in text
    far = axes.x_mm(horn.extension_m(5.2))
    assert all(x <= far + 0.01 for x, y in dots(page) if axes.top_mm < y < axes.bottom_mm)
    _, _, _, (page,) = drawn("tenor-f", low=34)
    assert "beyond reach" not in words(page) and "not yet" not in words(page)


def test_valve_sets_differ_in_dash_and_the_partials_are_numbered():
    _, _, (axes,), (page,) = drawn("bass-independent")
    assert len({line.dash_mm for line in curves(page) if line.points_mm[0][0] >= 20.0}) == 4
    titles = {text.text for text in page.texts if text.x_mm < axes.left_mm}
    assert {"open", "F", "G♭", "F+G♭", "2", "6"} <= titles
    assert {"open", "F valve", "G♭ valve", "F and G♭ valves"} <= {t.text for t in page.texts}


def test_a_wide_range_takes_several_pages_with_every_row_once():
    _, notes, axes, pages = drawn("contrabass-f", "letter", True, low=20, high=75)
    assert len(pages) > 1
    names = [t.text for page in pages for t in page.texts if t.anchor == "end"]
    for note in notes:
        assert names.count(note.name) == 1
    rows = [(ax.low, ax.high) for ax in axes]
    # The highest notes come first.
    assert rows == sorted(rows, reverse=True)


@pytest.mark.parametrize("landscape", [False, True])
def test_four_independent_valves_still_keep_their_texts_apart(landscape):
    valves = tuple(
        ValveDescription(name, Closed(pitch=parse_pitch(f"{name}1")))
        for name in ("F", "Gb", "G", "A")
    )
    closed = Closed(pitch=parse_pitch("Bb1"))
    horn = HornDescription("four", "Four valves", closed, 0.65, valves).tuned()
    notes = chart_notes(horn, 30, 70)
    for page in grid_pages(head_of(horn, notes, "a4", landscape), horn, notes):
        check_page(page)


def test_without_notes_there_is_no_grid():
    horn = load_horn("tenor").tuned()
    with pytest.raises(BadUsage, match="at least one note"):
        grid_pages(Head("x", ()), horn, ())


def test_the_pdf_can_be_searched():
    _, _, _, pages = drawn("tenor-f")
    (data,) = render(Sheet("Grid", pages))
    document = pdfium.PdfDocument(data)
    try:
        text = document[0].get_textpage().get_text_range()
    finally:
        document.close()
    assert "not on this horn: B1" in text
    assert "end of the slide" in text and "T3½" in text


def test_the_sheet_is_a_pure_function():
    assert drawn("alto-bb")[3] == drawn("alto-bb")[3]
    assert all(isinstance(text, Text) for text in drawn("alto")[3][0].texts)


def test_a_lowest_note_that_was_asked_for_is_the_lowest_row(tmp_path):
    said = {}
    for name, options in {"asked": ("--range", "E2-F3"), "usual": ("--no-pedals",)}.items():
        page = tmp_path / f"{name}.pdf"
        run("chart", "--horn", "tenor", "--sheet", "grid", *options, "-o", page)
        said[name] = pdfium.PdfDocument(page)[0].get_textpage().get_text_range()
    assert "not on this horn" in said["usual"] and "D♯2" in said["usual"]
    assert "not on this horn" not in said["asked"] and "D♯2" not in said["asked"]
    assert "not on this sheet" in said["asked"] and "E2" in said["asked"]
