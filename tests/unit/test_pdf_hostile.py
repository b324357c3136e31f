"""PDFs that are no part, or harm: one sentence each, in a few milliseconds and little memory."""

import zlib

import pikepdf
import pytest
from pdf_build import composite_font, drawn_font, font_file, pdf_of, simple_font, with_font
from pikepdf import Array, Dictionary, Name, Stream

from handslide.edges.pdfparts.content import draw
from handslide.ground import limits
from handslide.ground.errors import ScoreError
from handslide.words.speech import speech


def refused(data, kind):
    with pytest.raises(ScoreError) as caught:
        draw(data)
    assert caught.value.fact.kind == kind
    assert speech("en").fact(caught.value)


PLAIN = pdf_of(b"0 0 5 5 re f")


@pytest.mark.parametrize("data", [b"", b"<?xml?>", b"\x89PNG", b"x" * 2000 + PLAIN])
def test_what_is_no_pdf(data):
    refused(data, "pdfparts.not_pdf")


def test_lines_of_mail_before_it_are_stepped_over():
    assert len(draw(b"Content-Type: application/pdf\r\n\r\n" + PLAIN).pages[0].paths) == 1


@pytest.mark.parametrize("data", [b"%PDF-1.7", b"%PDF-1.4\n" + b"junk " * 99])
def test_what_is_damaged_beyond_repair(data):
    refused(data, "pdfparts.broken")


def test_what_is_cut_off_is_read_as_far_as_it_goes():
    cut = PLAIN[: PLAIN.rindex(b"xref")]
    assert len(draw(cut).pages[0].paths) == 1


def test_passwords():
    locked = pdf_of(b"0 0 5 5 re f", encryption=pikepdf.Encryption(owner="o", user="u"))
    refused(locked, "pdfparts.password")
    opened = pdf_of(b"0 0 5 5 re f", encryption=pikepdf.Encryption(owner="o", user=""))
    assert len(draw(opened).pages[0].paths) == 1


def test_pages():
    refused(pdf_of(), "pdfparts.no_pages")
    with pytest.raises(ScoreError) as caught:
        draw(pdf_of(b"", b"", b""), pages_most=2)
    assert caught.value.fact.values == {"count": 3, "most": 2}


def written(*objects):
    """A PDF of objects as they are written, the first its catalog."""
    data, places = b"%PDF-1.4\n", []
    for number, each in enumerate(objects, 1):
        places.append(len(data))
        data += b"%d 0 obj%s endobj\n" % (number, each)
    table = b"".join(b"%010d 00000 n \n" % place for place in places)
    end = (
        b"xref\n0 %d\n0000000000 65535 f \n%strailer<</Size %d/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF"
    )
    return data + end % (len(places) + 1, table, len(places) + 1, len(data))


def test_a_hundred_thousand_pages():
    # One page, listed over and over, so that the file is small.
    data = written(
        b"<</Type/Catalog/Pages 2 0 R>>",
        b"<</Type/Pages/Count 100000/Kids[%s]>>" % (b"3 0 R " * 100_000),
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 9 9]>>",
    )
    refused(data, "pdfparts.many_pages")


def test_a_tree_of_pages_that_leads_back_to_itself():
    data = written(
        b"<</Type/Catalog/Pages 2 0 R>>", b"<</Type/Pages/Count 1/Kids[2 0 R]/Parent 2 0 R>>"
    )
    with pytest.raises(ScoreError):
        draw(data)


def test_a_bomb():
    packed = zlib.compress(b"0 0 5 5 re f " * 3_000_000)
    assert len(packed) < 200_000

    def content(pdf):
        stream = Stream(pdf, packed)
        stream.Filter = Name.FlateDecode
        return stream

    refused(pdf_of((content,)), "pdfparts.unpacks_large")


def test_a_bomb_in_a_bomb():
    once = zlib.compress(b"\0" * 40_000_000, 9)
    twice = zlib.compress(once, 9)

    def content(pdf):
        stream = Stream(pdf, twice)
        stream.Filter = Array([Name.FlateDecode, Name.FlateDecode])
        return stream

    refused(pdf_of((content,)), "pdfparts.unpacks_large")


def test_forms_that_double_thirty_times(monkeypatch):
    monkeypatch.setattr(limits, "PDF_PAGE_FORMS", 500)

    def resources(pdf):
        form = pdf.make_indirect(Stream(pdf, b"0 0 1 1 re f"))
        for _ in range(30):
            outer = Stream(pdf, b"/X Do /X Do " * 8)
            outer.Resources = Dictionary(XObject=Dictionary(X=form))
            for each in (outer, form):
                each.Subtype = Name.Form
            form = pdf.make_indirect(outer)
        return {"/XObject": Dictionary(X=form)}

    # Forms within forms end at a depth; what they draw until then is counted.
    refused(pdf_of((b"/X Do " * 9, resources)), "pdfparts.crowded")


@pytest.mark.parametrize(
    ("limit", "content"),
    [
        ("PDF_PAGE_OPERATORS", b"q " * 600),
        ("PDF_OPERATORS", b"q " * 600),
        ("PDF_PAGE_POINTS", b"0 0 m " + b"1 1 2 2 3 3 c " * 80 + b"S"),
        ("PDF_PAGE_GLYPHS", b"BT /F 1 Tf -999 0 Td (" + b"A" * 600 + b") Tj"),
    ],
)
def test_a_page_that_draws_without_end(limit, content, monkeypatch):
    font = with_font(lambda pdf: simple_font(pdf, "TrueType", "FontFile2", font_file(False)))
    data = pdf_of((content, font))
    monkeypatch.setattr(limits, limit, 700)
    draw(data)
    monkeypatch.setattr(limits, limit, 500)
    refused(data, "pdfparts.crowded")


def test_very_many_fonts(monkeypatch):
    monkeypatch.setattr(limits, "PDF_FONTS", 20)

    def resources(pdf):
        made = [simple_font(pdf, "TrueType", "FontFile2", b"") for _ in range(limits.PDF_FONTS + 1)]
        return {"/Font": Dictionary({f"/F{n}": pdf.make_indirect(f) for n, f in enumerate(made)})}

    shown = b" ".join(b"/F%d 9 Tf" % number for number in range(limits.PDF_FONTS + 1))
    refused(pdf_of((shown, resources)), "pdfparts.many_fonts")


def test_a_font_that_shows_itself():
    def resources(pdf):
        font = pdf.make_indirect(drawn_font(pdf, b"0 0 9 9 re f BT /F 9 Tf (AA) Tj ET"))
        font.Resources = Dictionary(Font=Dictionary(F=font))
        return {"/Font": Dictionary(F=font)}

    assert len(draw(pdf_of((b"BT /F 9 Tf (A) Tj ET", resources))).pages[0].glyphs) == 1


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("/MediaBox", Array([0, 0, 10**12, 5])),
        ("/MediaBox", Array([0, 0])),
        ("/MediaBox", Name.None_),
        ("/CropBox", Array([900, 900, 901, 901])),
        ("/Rotate", 45),
        ("/Rotate", Name.X),
        ("/UserUnit", 10**9),
        ("/Resources", Array([])),
        ("/Contents", Dictionary()),
        ("/Parent", Dictionary()),
    ],
)
def test_odd_pages(key, value):
    page = draw(pdf_of((b"0 0 5 5 re f", {}, {key: value}))).pages[0]
    assert 0 < page.width < 1e9 and 0 < page.height < 1e9


@pytest.mark.parametrize(
    "change",
    [
        {"/Widths": Array([Name.X])},
        {"/Widths": 7},
        {"/FirstChar": Name.X},
        {"/Encoding": Dictionary(Differences=Array([10**12, Name.a, Name.b, "x"]))},
        {"/Encoding": Array([])},
        {"/ToUnicode": Name("/Identity-H")},
        {"/FontDescriptor": 3},
        {"/Subtype": Name.Type3},
        {"/Subtype": Name.Type0},
        {"/Subtype": 5},
    ],
)
def test_odd_fonts(change):
    def make(pdf):
        font = simple_font(pdf, "TrueType", "FontFile2", font_file(False))
        for key, value in change.items():
            font[key] = value
        return font

    draw(pdf_of((b"BT /F 9 Tf (AB) Tj ET 0 0 5 5 re f", with_font(make))))


def test_a_map_of_very_many_codes():
    ranges = b"".join(
        b"<%08x> <%08x> <0041>\n" % (at << 16, (at << 16) + 65_000) for at in range(999)
    )

    def make(pdf):
        font = composite_font(pdf, font_file(False))
        font.ToUnicode = Stream(pdf, b"999 beginbfrange " + ranges + b"endbfrange")
        font.DescendantFonts[0].W = Array([0, 10**9, 500] * 2000)
        return font

    drawing = draw(pdf_of((b"BT /F 9 Tf <0001> Tj ET", with_font(make))))
    assert drawing.pages[0].glyphs[0].text == "B"
