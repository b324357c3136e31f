"""Typesetting, checked on the PDF itself: paper, text, sizes, and that no ink meets other ink."""

import io
import tempfile
from dataclasses import replace

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from engraving_scores import MARKS, dense_measures, engraved, mark_all, note, rest_measure, score
from lxml import etree

from handslide.edges.engraving.engrave import Paper, paper_named
from handslide.edges.typesetting.part import PartSheet, Section, render_png, typeset_part

A4, LETTER = paper_named("a4"), paper_named("letter")

SVG = "{http://www.w3.org/2000/svg}"
MM_PER_PT = 25.4 / 72

SHEET = PartSheet(
    title="Study for the Slide",
    composer="Ann Invented",
    part_name="Trombone",
    student_line="for Mira · reach: 6th position",
    horn_line="Tenor trombone in B♭ with F valve · A4 = 440 Hz · 25 °C",
    legend=(("T", "thumb valve (F)"), ("♭3", "a little further out than 3rd")),
    report=(
        Section(
            "Unusual places",
            tuple((str(bar), "E♭3", "T3½", "the slide would turn back 49 cm") for bar in range(9)),
            header=("bar", "note", "mark", "why"),
        ),
        Section("Warnings", (), note="None."),
    ),
    paper=A4,
)


def dense_pages(paper: Paper) -> tuple[str, ...]:
    tree = score(dense_measures() * 2)
    return engraved(tree, "P1", mark_all(tree), paper).pages


def text_of(document: pypdfium2.PdfDocument) -> str:
    return "\n".join(page.get_textpage().get_text_range() for page in document)


def only(pages: tuple[str, ...], *, marks: bool) -> tuple[str, ...]:
    """Return the pages with nothing but their marks, or with all but their marks."""
    result = []
    for page in pages:
        root = etree.fromstring(page)
        for element in list(root.iter(*(f"{SVG}{tag}" for tag in (
            "text", "use", "path", "rect", "polygon", "polyline", "ellipse",
        )))):  # fmt: skip
            inside_defs = any(True for _ in element.iterancestors(f"{SVG}defs"))
            if not inside_defs and (element.get("class") == "mark") != marks:
                element.getparent().remove(element)
        result.append(etree.tostring(root, encoding="unicode"))
    return tuple(result)


def ink(pdf: bytes) -> list[np.ndarray]:
    """Return where each page is dark, 6 pixels a mm."""
    document = pypdfium2.PdfDocument(pdf)
    return [page.render(scale=6 * MM_PER_PT).to_numpy().min(axis=2) < 160 for page in document]


def grown(dark: np.ndarray, pixels: int) -> np.ndarray:
    result = dark.copy()
    for shift in range(1, pixels + 1):
        for axis in (0, 1):
            result |= np.roll(dark, shift, axis) | np.roll(dark, -shift, axis)
    return result


@pytest.mark.parametrize("paper", [A4, LETTER])
def test_paper_pages_and_text(paper):
    pages = dense_pages(paper)
    document = pypdfium2.PdfDocument(typeset_part(replace(SHEET, paper=paper), pages))
    assert len(document) == len(pages) + 1
    for page in document:
        width, height = (side * MM_PER_PT for side in page.get_size())
        assert (width, height) == pytest.approx((paper.width_mm, paper.height_mm), abs=0.1)
    text = text_of(document)
    for wanted in (*MARKS, SHEET.title, SHEET.composer, SHEET.horn_line, SHEET.student_line):
        assert wanted in text
    for number in range(1, len(document) + 1):
        assert f"{number} / {len(document)}" in text
    assert document.get_metadata_value("Title") == SHEET.title


def test_all_type_is_at_least_8_points():
    document = pypdfium2.PdfDocument(typeset_part(SHEET, dense_pages(A4)))
    for page in document:
        textpage = page.get_textpage()
        for index in range(textpage.count_chars()):
            code = pdfium.FPDFText_GetUnicode(textpage, index)
            if code <= 32:
                continue
            matrix = pdfium.FS_MATRIX()
            pdfium.FPDFText_GetMatrix(textpage, index, matrix)
            size = pdfium.FPDFText_GetFontSize(textpage, index) * abs(matrix.d)
            # The hanging octave digits and tuplet numbers are glyphs, not text.
            assert size >= 7.99, (chr(code), size)


@pytest.mark.parametrize("paper", [A4, LETTER])
def test_marks_never_touch_other_ink(paper):
    pages = dense_pages(paper)
    sheet = replace(SHEET, report=(), paper=paper)
    marked = ink(typeset_part(sheet, only(pages, marks=True)))
    blank = ink(typeset_part(sheet, only((), marks=True) + tuple(_emptied(p) for p in pages)))
    rest = ink(typeset_part(sheet, only(pages, marks=False)))
    for marks, frame, others in zip(marked, blank, rest, strict=True):
        own = marks & ~frame
        assert own.sum() > 1000
        assert not (grown(own, 1) & others).any()


def _emptied(page: str) -> str:
    return only(only((page,), marks=True), marks=False)[0]


def test_nothing_leaves_the_page():
    for page in ink(typeset_part(SHEET, dense_pages(LETTER))):
        edge = 6 * 6  # 6 mm
        framed = page.copy()
        framed[edge:-edge, edge:-edge] = False
        assert not framed.any()


def test_the_same_sheet_gives_the_same_bytes():
    pages = dense_pages(A4)
    assert typeset_part(SHEET, pages) == typeset_part(SHEET, pages)


def test_nothing_is_written_that_a_killed_program_would_leave(monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", "/no/such/folder")
    assert typeset_part(SHEET, ()).startswith(b"%PDF")


def test_fonts_are_embedded_and_the_file_is_for_archives():
    pdf = typeset_part(SHEET, dense_pages(A4))
    assert b"pdfaid:part" in pdf
    assert b"/StructTreeRoot" in pdf
    for page in pypdfium2.PdfDocument(pdf):
        textpage = page.get_textpage()
        for index in range(0, textpage.count_chars(), 5):
            drawn = pdfium.FPDFText_GetTextObject(textpage, index)
            if drawn:
                font = pdfium.FPDFTextObj_GetFont(drawn)
                assert pdfium.FPDFFont_GetIsEmbedded(font) == 1


def test_characters_without_a_glyph_dont_stop_the_print():
    sheet = replace(SHEET, title="小品 🎺", student_line="\x00 \ufffe для Миры")
    document = pypdfium2.PdfDocument(typeset_part(sheet, dense_pages(A4)))
    assert "для Миры" in text_of(document)


@pytest.mark.parametrize(
    "text", ["#panic()", "*bold* _x_", "$x$ @ref <label>", '"] #{1/0}', "\\u{41} // c", "= A"]
)
def test_texts_never_act_as_markup(text):
    sheet = replace(
        SHEET,
        title=text,
        composer=text,
        part_name=text,
        student_line=text,
        horn_line=text,
        legend=((text, text),),
        report=(Section(text, ((text, text),), text, (text, text)),),
    )
    found = text_of(pypdfium2.PdfDocument(typeset_part(sheet, dense_pages(A4)[:1])))
    assert found.replace("\r\n", " ").count(text) >= 8


def test_long_titles_and_long_legends_stay_inside():
    tree = score([rest_measure(), note("Bb2", "whole")] * 60)
    pages = engraved(tree, "P1", mark_all(tree), A4).pages
    legend = tuple((f"T♭{n}", f"a little further out than position {n}") for n in range(1, 8))
    title = "A rather long title of a study that nobody ever wrote, for the lower positions alone"
    sheet = replace(
        SHEET,
        title=title,
        composer="Composed by " * 20,
        part_name="Trombone of a very long name " * 4,
        student_line="for a student " * 20,
        legend=legend,
        report=(),
    )
    document = pypdfium2.PdfDocument(typeset_part(sheet, pages))
    assert len(document) == len(pages)
    frame = ink(typeset_part(sheet, tuple(_emptied(page) for page in pages)))
    music = ink(typeset_part(sheet, pages))
    bare = replace(sheet, title="", composer="", part_name="", legend=(), student_line="")
    for framed, full, alone in zip(
        frame, music, ink(typeset_part(replace(bare, horn_line=""), pages)), strict=True
    ):
        assert full.sum() >= framed.sum()
        assert not (framed[: int(0.93 * len(framed))] & alone[: int(0.93 * len(alone))]).any()


def test_a_sheet_without_music_or_texts_still_sets():
    empty = PartSheet("", "", "", "", "", (), (Section("", (), "Nothing."),), A4)
    assert len(pypdfium2.PdfDocument(typeset_part(empty, ()))) == 1


def test_preview_pictures():
    pages = dense_pages(A4)
    pictures = render_png(SHEET, pages, ppi=72)
    assert len(pictures) == len(pages) + 1
    assert all(picture.startswith(b"\x89PNG") for picture in pictures)
    assert all(len(io.BytesIO(picture).getvalue()) > 1000 for picture in pictures)
