"""The page of a take: its texts keep apart, in the shapes and in the PDF, and say what is so."""

from dataclasses import replace

import numpy as np
import pytest
from invented import DEMO
from pdf_boxes import outside, overlaps, read_pages
from played import follow_samples, placed, play_part

from handslide.edges.typesetting.drawing import render
from handslide.ground.papers import PAPERS
from handslide.jobs.hear.partreport import part_report
from handslide.jobs.hear.sheet import take_sheet
from handslide.jobs.setup import make_setup
from handslide.sheets.frame import Head
from handslide.sheets.shapes import MARKS, Line, Rect, Sheet, leaving_page, overlapping_texts
from handslide.sheets.takecontent import PageTexts, TakeNote, TakePage
from handslide.sheets.takereport import take_pages
from handslide.words.speech import speech
from handslide.words.takepage import SHEET

POSITIONS = tuple((str(n), 1479.0 * (2 ** ((n - 1) / 12) - 1)) for n in range(1, 8))
MARKS_OF = ("1", "T1", "♭2", "T3½", "T7½", "♯4", "6", "T♭2")
CLOSING = "Nothing left this machine; for recordings of minors follow your local rules."


def note(rng, number):
    played = str(rng.choice(["right", "wrong", "missing", "octave", "unsure"],
                            p=[0.7, 0.1, 0.1, 0.05, 0.05]))  # fmt: skip
    place = float(rng.uniform(0, 640))
    off = float(rng.normal(0, 18))
    right = played == "right"
    return TakeNote(
        measure=str(1 + number // 4),
        name=str(rng.choice(["B♭2", "D♭3", "C3", "F♯3", "G♭2"])),
        mark=str(rng.choice(MARKS_OF)),
        played=played,
        cents=-off if played in ("right", "octave") else None,
        cents_se=float(rng.uniform(0, 6)) if right else None,
        place_mm=place,
        slide_mm=place + off if right else None,
        fix_mm=-off if right and abs(off) > 10 else None,
        heard="D♭3" if played == "wrong" else "",
    )


def report(count, seed=0, habits=3, practice=3):
    rng = np.random.default_rng(seed)
    habit = "After a move out the slide stops about 19 mm too short (on 36 of 37 notes)."
    texts = PageTexts(**{key: text.text for key, text in SHEET.items()}, closing=CLOSING)
    what = ("F3 to E♭3 (1 to 3)", "about 19 mm too short on 36 of 37 notes: slowly, then in time.")
    return TakePage(
        tuple(note(rng, k) for k in range(count)), (habit,) * habits, (what,) * practice,
        POSITIONS, texts,
    )  # fmt: skip


def pages_of(content, paper="a4"):
    legend = (("dot:0", "as played"), ("×", "another note (its name below)"))
    lines = ("Tenor trombone · A4 = 440 Hz · slide 650 mm", "49 of 54 notes right · 2 wrong")
    return take_pages(Head("How it sounded: a piece", lines, paper, legend=legend), content)


@pytest.mark.parametrize("paper", tuple(PAPERS))
@pytest.mark.parametrize("count", [0, 1, 3, 17, 54, 125, 400])
def test_nothing_collides_or_leaves_the_page(count, paper):
    for page in pages_of(report(count, seed=count), paper):
        assert overlapping_texts(page) == []
        assert leaving_page(page, 8.0) == []
        for shape in page.shapes:
            if isinstance(shape, Rect):
                assert shape.x_mm + shape.width_mm <= page.width_mm - 8
                assert shape.y_mm + shape.height_mm <= page.height_mm - 8
            if isinstance(shape, Line):
                assert max(shape.x1_mm, shape.x2_mm) <= page.width_mm - 8
                assert max(shape.y1_mm, shape.y2_mm) <= page.height_mm - 8


@pytest.mark.parametrize(("count", "pages"), [(10, 1), (54, 1), (125, 2)])
def test_a_page_for_a_usual_take(count, pages):
    content = report(count)
    plain = tuple(
        replace(note, mark="T1" if k % 5 else "4") for k, note in enumerate(content.notes)
    )
    assert len(pages_of(replace(content, notes=plain))) == pages


def test_type_is_large_enough():
    for page in pages_of(report(125)):
        for text in page.texts:
            assert text.size_pt >= (8.0 if text.face == MARKS else 7.0), text


def test_every_note_is_there_with_its_mark():
    content = report(125)
    texts = [text.text for page in pages_of(content) for text in page.texts]
    for one in content.notes:
        assert texts.count(one.name) >= 1
    wanted = sum(one.mark == "T3½" for one in content.notes)
    assert texts.count("T3½") == wanted


def test_long_advice_leaves_room_for_the_picture():
    for page in pages_of(report(60, habits=6)):
        assert overlapping_texts(page) == []
        assert leaving_page(page, 8.0) == []


@pytest.mark.parametrize("count", [54, 125])
def test_the_pdf_keeps_the_texts_apart(count):
    (data,) = render(Sheet("take", pages_of(report(count))))
    for page in read_pages(data):
        assert overlaps(page) == []
        assert outside(page, 8.0) == []


def test_the_sheet_of_a_real_take_says_what_was_played():
    setup = make_setup("tenor-f")
    rows = placed(setup, DEMO, 12)

    def slip(number, place, before):
        if number == 9:
            return None
        return -15.0 if abs(place.position - 3) < 0.2 else 0.0

    sheet = take_sheet(
        part_report(follow_samples(play_part(setup, rows, slip), DEMO, setup)), speech("en")
    )
    assert len(sheet.pages) == 1
    said = " ".join(text.text for text in sheet.pages[0].texts)
    assert "3rd position: about 15 mm too short" in said
    assert "not heard" in said
    assert said.count("↓15") >= 4
    assert "minors" in said
    assert "25 °C" in said
