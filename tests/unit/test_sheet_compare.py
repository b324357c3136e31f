"""Two horns compared: the numbers of the table against direct computation, and its typography."""

import math

import pypdfium2 as pdfium
import pytest
from chart_notes import HORNS, chart_notes

from handslide.edges.files.horns import load_horn
from handslide.edges.typesetting.drawing import render
from handslide.ground.errors import BadUsage
from handslide.instrument.air import Air
from handslide.instrument.horn import Deviation, HornDescription
from handslide.instrument.markstyle import MarkStyle
from handslide.jobs.chart.kinds import compare_texts
from handslide.sheets import compare
from handslide.sheets.compare import ComparedHorn, compared_rows, signed
from handslide.sheets.frame import Head, free_area
from handslide.sheets.shapes import MARKS, Circle, Sheet, leaving_page, overlapping_texts
from handslide.words.marks import legend
from handslide.words.speech import speech

PAIRS = (
    ("tenor", "tenor-f"),
    ("tenor-f", "tenor-e"),
    ("bass-independent", "bass-dependent"),
    ("alto", "tenor"),
    ("tenor-c-bb", "tenor"),
    ("soprano", "contrabass-f"),
)


def compare_pages(head, one, other, names=None):
    texts = compare_texts(speech("en", names), one, other)
    return compare.compare_pages(head, one, other, texts)


def compared(horn, label=None, **span):
    return ComparedHorn(label or horn.title, horn, chart_notes(horn, **span))


def horn_of(name, a4=440.0, temp=25.0):
    return load_horn(name).tuned(a4, Air(temp_c=temp))


def head_of(first, second, paper="a4", landscape=False):
    places = [row.place for note in first.notes for row in note.places]
    signs = legend(speech("en"), first.horn, places, MarkStyle())
    return Head("Two horns side by side", (first.label, second.label), paper, landscape, signs)


def measured_tenor():
    return HornDescription(
        "tenor-m",
        "Measured tenor",
        load_horn("tenor").closed,
        0.65,
        deviations=(Deviation((), 5, 8.0), Deviation((), 6, -6.0, 10.0)),
    ).tuned()


def words(page):
    return [text.text for text in page.texts]


def line_of(page, name):
    """The texts of a note's row from left to right."""
    left = free_area(Head("x", ())).left_mm
    # The block over the table has its words in the same column ("A4").
    start = max((t for t in page.texts if (t.text, t.x_mm) == (name, left)), key=lambda t: t.y_mm)
    row = [t for t in page.texts if t.y_mm == start.y_mm]
    return [t.text for t in sorted(row, key=lambda t: t.box_mm[0])]


def check_page(page):
    assert overlapping_texts(page) == []
    assert leaving_page(page, 6.0) == []
    for text in page.texts:
        assert text.size_pt >= (8.0 if text.face == MARKS else 7.5), text


@pytest.mark.parametrize("landscape", [False, True])
@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("second", HORNS)
def test_every_horn_against_the_straight_tenor(second, paper, landscape):
    one, other = compared(horn_of("tenor")), compared(horn_of(second))
    for pair in ((one, other), (other, one)):
        for page in compare_pages(head_of(*pair, paper, landscape), *pair):
            check_page(page)


@pytest.mark.parametrize("names", PAIRS)
def test_numbers_against_direct_computation(names):
    first, second = (compared(horn_of(name)) for name in names)
    usual = [
        {n.pitch.midi: next(p for p in n.places if p.usual) for n in side.notes}
        for side in (first, second)
    ]
    rows = compared_rows(first, second)
    assert [row.pitch.midi for row in rows] == sorted({**usual[0], **usual[1]}, reverse=True)
    for row in rows:
        one, other = (side.get(row.pitch.midi) for side in usual)
        assert (row.first, row.second) == (one, other)
        if one is None or other is None:
            assert row.further_mm is None and row.cents is None
            continue
        there, here = 1000 * other.place.extension_m, 1000 * one.place.extension_m
        assert row.further_mm == round(there) - round(here)
        x, valves = one.place.extension_m, one.place.valves
        if valves not in second.horn.valve_sets or x > second.horn.travel_m:
            assert row.cents is None
            continue
        loops = sum(v.loop_m for v in second.horn.valves if v.name in valves)
        tube = second.horn.length_m + loops + 2 * x
        hz = one.place.partial * second.horn.speed_m_s / (2 * tube)
        wanted = 440.0 * 2 ** ((row.pitch.midi - 69) / 12)
        expected = 1200 * math.log2(hz / wanted) + one.place.lip_cents
        assert row.cents == pytest.approx(expected, abs=1e-6)


def test_the_table_prints_these_numbers():
    first, second = compared(horn_of("alto")), compared(horn_of("tenor"))
    (page, *_) = compare_pages(head_of(first, second), first, second)
    for row in compared_rows(first, second)[:25]:
        texts = line_of(page, row.name)
        if row.first is None or row.second is None:
            assert texts[-2:] == ["–", "–"]
            continue
        whole = [round(1000 * place.place.extension_m) for place in (row.first, row.second)]
        cents = "–" if row.cents is None else signed(row.cents)
        marks = row.first.mark, row.second.mark
        assert texts == [
            row.name, marks[0], str(whole[0]), marks[1], str(whole[1]),
            signed(whole[1] - whole[0]), cents,
        ]  # fmt: skip


@pytest.mark.parametrize("name", HORNS)
def test_a_horn_against_itself_is_all_zeros(name):
    one = compared(horn_of(name))
    for row in compared_rows(one, one):
        assert row.further_mm == 0
        assert row.cents == pytest.approx(0.0, abs=1e-6)
        assert not row.parts
    head = head_of(one, one)
    texts = [text for page in compare_pages(head, one, one) for text in words(page)]
    assert "only on this horn" not in texts
    assert not any(text[0] in "+−" for text in texts if text[1:].isdigit())


def test_measured_deviations_show_as_cents_and_millimetres():
    plain, measured = compared(horn_of("tenor")), compared(measured_tenor())
    rows = {row.pitch.midi: row for row in compared_rows(plain, measured)}
    d_flat, f, b_flat = rows[61], rows[65], rows[58]
    # The 5th partial is 8 cents sharp there: the slide goes out by L·(2^(8/1200) - 1)/2 and more.
    assert d_flat.cents == pytest.approx(8.0, abs=1e-6)
    assert d_flat.further_mm in (7, 8)
    assert f.cents == pytest.approx(-6.0 + 10.0 * f.first.place.extension_m, abs=1e-6)
    assert (b_flat.further_mm, round(b_flat.cents)) == (0, 0)
    (page,) = compare_pages(head_of(plain, measured), plain, measured)
    check_page(page)
    assert "none: exact harmonics" in words(page) and "5: +8 c, 6: −6 c" in words(page)


def test_tuning_and_air_are_compared():
    cold = compared(horn_of("tenor", 442.0, 18.0))
    warm = compared(horn_of("tenor"))
    (page,) = compare_pages(head_of(warm, cold), warm, cold)
    assert {"440 Hz", "442 Hz", "25 °C", "18 °C"} <= set(words(page))
    bold = {text.text for text in page.texts if text.weight == 600}
    assert {"442 Hz", "18 °C"} <= bold and "none" not in bold


def test_notes_of_one_horn_only_are_named():
    one, other = compared(horn_of("tenor")), compared(horn_of("tenor-f"))
    (page,) = compare_pages(head_of(one, other), one, other)
    assert "C2 to E♭2" in words(page)
    assert line_of(page, "D2") == ["D2", "not on this horn", "T5", "376", "–", "–"]
    german = compare_pages(
        head_of(one, other),
        compared(horn_of("tenor"), language="german"),
        compared(horn_of("tenor-f"), language="german"),
        names="german",
    )
    assert "C to Es" in words(german[0])


def test_a_note_that_is_only_left_out_is_not_called_missing():
    one = compared(horn_of("tenor"), low=46, high=60)
    other = compared(horn_of("tenor"), low=46, high=58)
    (page,) = compare_pages(head_of(one, other), one, other)
    assert "not in its chart" in words(page)
    assert "not on this horn" not in words(page) and "only on this horn" not in words(page)


def test_a_slide_beyond_the_second_horns_travel_has_no_cents():
    one, other = compared(horn_of("tenor")), compared(horn_of("tenor-c-bb"))
    rows = {row.pitch.midi: row for row in compared_rows(one, other)}
    assert rows[47].first.mark == "7" and rows[47].cents is None


def test_dots_stand_to_scale():
    one, other = compared(horn_of("alto")), compared(horn_of("tenor"))
    (page, *_) = compare_pages(head_of(one, other), one, other)
    rows = [row for row in compared_rows(one, other) if row.first and row.second][:10]
    by_line = {}
    for shape in page.shapes:
        if isinstance(shape, Circle):
            by_line.setdefault(round(shape.y_mm, 3), []).append(shape)
    head = next(text.y_mm for text in page.texts if text.text == "note")
    pairs = [dots for y, dots in sorted(by_line.items()) if len(dots) == 2 and y > head][:10]
    scales = []
    for row, (ring, dot) in zip(rows, pairs):
        assert ring.radius_mm > dot.radius_mm
        apart = 1000 * (row.second.place.extension_m - row.first.place.extension_m)
        if abs(apart) > 10:
            scales.append((ring.x_mm - dot.x_mm) / apart)
    assert len(scales) > 4
    assert max(scales) == pytest.approx(min(scales), rel=1e-6)


def test_a_long_table_repeats_its_head_on_every_page():
    one = compared(horn_of("contrabass-f"), low=20, high=70)
    pages = compare_pages(head_of(one, one, "letter", True), one, one)
    assert len(pages) >= 2
    shown = []
    for page in pages:
        check_page(page)
        assert {"note", "further", "cents"} <= set(words(page))
        head = next(text.y_mm for text in page.texts if text.text == "note")
        names = {note.name for note in one.notes}
        shown += [
            t.text for t in page.texts if t.text in names and t.face != MARKS and t.y_mm > head
        ]
    assert shown == [note.name for note in reversed(one.notes)]


def test_long_labels_are_wrapped_or_cut():
    long = "Grandfather's Instrument-with-an-extraordinarily-long-undivided-name " * 3
    one, other = compared(horn_of("tenor"), long), compared(horn_of("tenor-f"), "B")
    for page in compare_pages(Head("x", ("y",)), one, other):
        check_page(page)


def test_without_notes_there_is_no_comparison():
    empty = ComparedHorn("x", horn_of("tenor"), ())
    with pytest.raises(BadUsage, match="at least one note"):
        compare_pages(Head("x", ()), empty, empty)


@pytest.mark.parametrize("number, text", [(0.4, "0"), (-0.4, "0"), (2.6, "+3"), (-12.2, "−12")])
def test_numbers_have_their_sign(number, text):
    assert signed(number) == text


def test_the_pdf_can_be_searched():
    one, other = compared(horn_of("tenor")), compared(horn_of("tenor-f"))
    (data,) = render(Sheet("Compare", compare_pages(head_of(one, other), one, other)))
    document = pdfium.PdfDocument(data)
    try:
        text = document[0].get_textpage().get_text_range()
    finally:
        document.close()
    assert "not on this horn" in text and "acoustic length" in text and "T3½" in text
