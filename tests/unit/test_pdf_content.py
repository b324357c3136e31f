"""What a PDF's pages draw: small PDFs, each with one thing above the plainest one."""

import base64
import io
import zlib

import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from pdf_build import (
    SQUARE,
    bare_cff,
    composite_font,
    drawn_font,
    font_file,
    pdf_of,
    simple_font,
    type_one,
    with_font,
)
from pikepdf import Array, Dictionary, Name, Stream

from handslide.edges.pdfparts.content import draw
from handslide.edges.pdfparts.geometry import through
from handslide.edges.pdfparts.operators import operations
from handslide.edges.pdfparts.unpack import Unpacker

BOX = b"20 30 40 10 re f"
SHOWN = b"BT /F 10 Tf 20 30 Td (A) Tj ET"


def page_of(*page):
    return draw(pdf_of(page if len(page) > 1 else page[0])).pages[0]


def boxes(page):
    """The boxes of all paths, rounded."""
    found = []
    for path in page.paths:
        points = [point for polygon in path.polygons for point in polygon]
        xs, ys = zip(*points)
        found.append(tuple(round(v, 3) for v in (min(xs), min(ys), max(xs), max(ys))))
    return found


# Paths.


def test_an_area_and_a_line():
    page = page_of(b"q 2 0 0 2 5 5 cm 10 10 20 10 re f Q 3 w 10 10 m 60 10 l S")
    area, line = page.paths
    assert (page.width, page.height) == (200, 100)
    assert area.filled and not area.stroked and area.closed and area.width == 0
    assert boxes(page) == [(25, 25, 65, 45), (10, 10, 60, 10)]
    assert line.stroked and not line.filled and not line.closed and line.width == 3
    assert line.polygons == (((10, 10), (60, 10)),)


def test_curves_are_flattened():
    # A quarter of a circle by the usual four thirds of (sqrt 2 - 1).
    page = page_of(b"10 0 m 10 5.5228 5.5228 10 0 10 c S")
    (path,) = page.paths
    assert path.curved
    assert all(x * x + y * y == pytest.approx(100, rel=2e-3) for x, y in path.polygons[0])
    assert page_of(b"10 0 m 10 10 0 10 y S").paths[0].polygons[0][4] == pytest.approx((5, 8.75))
    assert page_of(b"10 0 m 10 10 0 10 v S").paths[0].polygons[0][4] == pytest.approx((8.75, 5))


@pytest.mark.parametrize(
    "white",
    [
        b"1 g", b"1 1 1 rg", b"0 0 0 0 k", b"/DeviceCMYK cs 0 0 0 0 sc", b"/C cs 1 1 1 scn",
        b"/S cs 0 scn", b"/Clear gs",
    ],
)  # fmt: skip
def test_white_and_clear_things_are_left_out(white):
    def resources(pdf):
        profile = pdf.make_indirect(Stream(pdf, b""))
        profile.N = 3
        spaces = Dictionary(
            C=Array([Name.ICCBased, profile]),
            S=Array([Name.Separation, Name.Black, Name.DeviceGray, Dictionary()]),
        )
        return {"/ColorSpace": spaces, "/ExtGState": Dictionary(Clear=Dictionary(ca=0))}

    data = b"q " + white + b" " + BOX + b" Q 60 60 5 5 re f"
    assert boxes(page_of(data, resources)) == [(60, 60, 65, 65)]


def test_a_dark_separation_is_seen():
    space = Dictionary(S=Array([Name.Separation, Name.Black, Name.DeviceGray, Dictionary()]))
    assert len(page_of(b"/S cs 1 scn " + BOX, {"/ColorSpace": space}).paths) == 1


def test_clips_cut_and_hide():
    clipped = b"10 10 m 90 10 l S 60 60 5 5 re f 40 40 20 20 re f"
    page = page_of(b"q 0 0 50 50 re W n " + clipped + b" Q " + BOX)
    assert boxes(page) == [(10, 10, 50, 10), (40, 40, 50, 50), (20, 30, 60, 40)]


def test_what_lies_off_the_page_is_left_out():
    assert boxes(page_of(b"300 300 5 5 re f " + b"9" * 300 + b" 0 m 5 5 l S " + BOX)) == [
        (20, 30, 60, 40)
    ]


# Pages.


@pytest.mark.parametrize("turn", [0, 90, 180, 270, -90, 450, -45, 135])
@pytest.mark.parametrize(
    "more",
    [
        {},
        {"/MediaBox": Array([-30, 10, 170, 110])},
        {"/CropBox": Array([10, 20, 100, 90])},
        {"/MediaBox": Array([200, 100, 0, 0]), "/UserUnit": 2},
    ],
)
def test_the_page_is_as_a_reader_sees_it(turn, more):
    data = pdf_of((BOX, {}, {"/Rotate": turn, **more}))
    page = draw(data).pages[0]
    # As PDFium (BSD-3-Clause) renders it.
    image = pypdfium2.PdfDocument(data)[0].render(scale=4, grayscale=True).to_pil()
    assert (page.width, page.height) == (image.width / 4, image.height / 4)
    x0, y0, x1, y1 = image.point(lambda v: 255 if v < 128 else 0).getbbox()
    seen = (x0 / 4, page.height - y1 / 4, x1 / 4, page.height - y0 / 4)
    assert boxes(page)[0] == pytest.approx(seen, abs=0.3)
    corners = [through(page.to_page, *point) for point in page.paths[0].polygons[0]]
    assert min(corners) == pytest.approx((20, 30)) and max(corners) == pytest.approx((60, 40))


def test_boxes_and_resources_come_from_above():
    pdf = pikepdf.new()
    pdf.add_blank_page(page_size=(200, 100))
    page = pdf.pages[0].obj
    page.Contents = Array([Stream(pdf, b"q /X"), Stream(pdf, b"Do Q")])
    del page.MediaBox
    form = Stream(pdf, BOX)
    form.Type, form.Subtype, form.BBox = Name.XObject, Name.Form, Array([0, 0, 99, 99])
    pdf.Root.Pages.MediaBox = Array([0, 0, 80, 70])
    pdf.Root.Pages.Resources = Dictionary(XObject=Dictionary(X=pdf.make_indirect(form)))
    if "/Resources" in page:
        del page.Resources
    out = io.BytesIO()
    pdf.save(out)
    drawn = draw(out.getvalue()).pages[0]
    assert (drawn.width, drawn.height) == (80, 70) and boxes(drawn) == [(20, 30, 60, 40)]


# Text.


@pytest.mark.parametrize(
    "text",
    [
        b"/F 10 Tf 20 30 Td (AAA) Tj",
        b"/F 10 Tf 2 Tc 20 30 Td (AA) Tj (A) Tj",
        b"/F 10 Tf 150 Tz 3 Tc 20 30 Td [(A) -500 (A) 1000 (A)] TJ",
        b"/F 10 Tf 4 Ts 20 30 Td (A) Tj 0 Ts (A) Tj",
        b"/F 10 Tf 1 0.5 -0.5 2 20 30 Tm (AA) Tj",
        b"/F 10 Tf 12 TL 20 60 Td (A) Tj T* (A) Tj (A) ' 5 1 (A) \" 10 -5 TD (A) Tj T* (A) Tj",
        b"/F -10 Tf 100 30 Td (AA) Tj",
    ],
)
def test_signs_stand_where_pdfium_has_them(text):
    font = with_font(lambda pdf: simple_font(pdf, "TrueType", "FontFile2", font_file(False)))
    data = pdf_of((b"1.5 0 0 1 3 4 cm BT " + text + b" ET", font))
    page = draw(data).pages[0]
    opened = pypdfium2.PdfDocument(data)
    reader = opened[0].get_textpage()
    found = []
    for place in range(reader.count_chars()):
        if pdfium.FPDFText_GetUnicode(reader, place) == 0x41:
            x, y = pdfium.c_double(), pdfium.c_double()
            pdfium.FPDFText_GetCharOrigin(reader, place, x, y)
            found.append((x.value, y.value))
    assert [(glyph.x, glyph.y) for glyph in page.glyphs] == [pytest.approx(at) for at in found]


def test_word_spacing_and_size():
    font = with_font(lambda pdf: simple_font(pdf, "TrueType", "FontFile2", font_file(False)))
    page = page_of(b"2 0 0 2 0 0 cm BT /F 10 Tf 7 Tw 1 5 Td (A A) Tj ET", font)
    first, space, last = page.glyphs
    assert first.em == pytest.approx(20) and first.advance == pytest.approx(12)
    assert space.advance == pytest.approx(14) and last.x == pytest.approx(2 + 12 + 14)
    assert first.matrix == pytest.approx((20, 0, 0, 20, 2, 10))


@pytest.mark.parametrize("mode", [b"3 Tr", b"7 Tr", b"1 g", b"1 Tr 1 G"])
def test_unseen_text_is_left_out(mode):
    font = with_font(lambda pdf: simple_font(pdf, "TrueType", "FontFile2", font_file(False)))
    assert page_of(mode + b" " + SHOWN, font).glyphs == ()
    assert len(page_of(SHOWN, font).glyphs) == 1


_SQUARE_PROC = b"600 0 100 0 500 400 d1 100 0 400 400 re f"
_MASK_PROC = (
    b"600 0 100 0 500 400 d1 q 400 0 0 400 100 0 cm BI /W 2 /H 2 /IM true /BPC 1 ID \0\0 EI Q"
)
_CID_MAP = (
    b"begincmap 1 begincodespacerange <00> <7f> endcodespacerange "
    b"1 begincidrange <40> <42> 0 endcidrange endcmap"
)


_FONTS = {
    "TrueType": lambda pdf: simple_font(pdf, "TrueType", "FontFile2", font_file(False)),
    "Type 1": lambda pdf: simple_font(pdf, "Type1", "FontFile", type_one()),
    "CFF": lambda pdf: simple_font(
        pdf, "Type1", "FontFile3", bare_cff(), "Type1C",
        Encoding=Dictionary(Differences=Array([65, Name.square])),
    ),
    "OpenType": lambda pdf: simple_font(
        pdf, "TrueType", "FontFile3", font_file(True), "OpenType", Encoding=Name.WinAnsiEncoding
    ),
    "composite": lambda pdf: composite_font(pdf, font_file(False)),
    "composite CFF": lambda pdf: composite_font(pdf, bare_cff(), "FontFile3", "CIDFontType0C"),
    "with a map": lambda pdf: composite_font(
        pdf, font_file(False), encoding=Stream(pdf, _CID_MAP)
    ),
    "Type 3": lambda pdf: drawn_font(pdf, _SQUARE_PROC),
    "stencil": lambda pdf: drawn_font(pdf, _MASK_PROC),
}  # fmt: skip
_SHOWN = {"composite": b"<0001>", "composite CFF": b"<0001>", "with a map": b"<41>"}
_NAMES = {"OpenType": "A", "Type 1": "square", "CFF": "square", "Type 3": "square"}


@pytest.mark.parametrize("sort", _FONTS)
def test_outlines_of_every_sort_of_font(sort):
    shown = SHOWN.replace(b"(A)", _SHOWN.get(sort, b"(A)"))
    drawing = draw(pdf_of((shown, with_font(_FONTS[sort]))))
    (glyph,) = drawing.pages[0].glyphs
    (outline,) = drawing.outlines[glyph.font, glyph.code]
    corners = {(round(1000 * x), round(1000 * y)) for x, y in outline}
    assert corners == set(SQUARE)
    assert glyph.advance == pytest.approx(6)
    assert sort == "stencil" or glyph.name == _NAMES.get(sort, "")


@pytest.mark.parametrize(
    ("to_unicode", "text"),
    [
        (b"1 beginbfchar <41> <E0A4> endbfchar", "\ue0a4"),
        (b"1 beginbfrange <40> <42> <E0A3> endbfrange", "\ue0a4"),
        (b"1 beginbfrange <40> <42> [<0030> <E0A4> <0031>] endbfrange", "\ue0a4"),
        (b"1 beginbfchar <41> <D834DD1E> endbfchar", "\U0001d11e"),
        (b"", "A"),
    ],
)
def test_texts_of_codes(to_unicode, text):
    def make(pdf):
        font = simple_font(pdf, "TrueType", "FontFile2", font_file(False))
        font.Encoding = Name.WinAnsiEncoding
        if to_unicode:
            font.ToUnicode = pdf.make_indirect(Stream(pdf, to_unicode))
        return font

    assert page_of(SHOWN, with_font(make)).glyphs[0].text == text


@pytest.mark.parametrize(
    ("name", "widths"),
    # Adobe's metrics of the core fonts: A and a space.
    [
        ("Helvetica", (667, 278)),
        ("Arial,Bold", (722, 278)),
        ("Times-BoldItalic", (667, 250)),
        ("TimesNewRoman", (722, 250)),
        ("Courier-Oblique", (600, 600)),
        ("Unheard", (0, 0)),
    ],
)
def test_standard_fonts_need_no_widths(name, widths):
    def make(pdf):
        return Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name(f"/{name}"))

    glyphs = page_of(SHOWN.replace(b"(A)", b"(A )"), with_font(make)).glyphs
    assert [glyph.text for glyph in glyphs] == ["A", " "]
    assert [100 * glyph.advance for glyph in glyphs] == pytest.approx(widths)


def test_a_predefined_map_is_read_by_its_codec():
    def make(pdf):
        font = composite_font(pdf, font_file(False), encoding=Name("/90ms-RKSJ-H"))
        del font.DescendantFonts[0].FontDescriptor["/FontFile2"]
        return font

    shown = "Aトロ".encode("shift_jis").hex().encode()
    glyphs = page_of(SHOWN.replace(b"(A)", b"<" + shown + b">"), with_font(make)).glyphs
    assert [glyph.text for glyph in glyphs] == ["A", "ト", "ロ"]


@pytest.mark.parametrize(
    ("platform", "coding", "key", "encoding"),
    [
        (3, 0, 0xF041, None),  # a symbol font, as older music fonts are
        (3, 0, 0x41, None),
        (1, 0, 0x41, None),
        (1, 0, 0x80, Dictionary(Differences=Array([65, Name.Adieresis]))),  # its code on a Mac
        (3, 1, 0xC4, Dictionary(Differences=Array([65, Name.Adieresis]))),
        (3, 1, 0x41, Name.MacRomanEncoding),
    ],
)
def test_codes_of_truetype_fonts(platform, coding, key, encoding):
    data = font_file(False, code=key, coding=(platform, coding), decoy=0xC4)

    def make(pdf):
        more = {} if encoding is None else {"Encoding": encoding}
        return simple_font(pdf, "TrueType", "FontFile2", data, **more)

    drawing = draw(pdf_of((SHOWN, with_font(make))))
    (glyph,) = drawing.pages[0].glyphs
    assert len(drawing.outlines[glyph.font, glyph.code]) == 1


def test_a_font_within_the_resources_is_one_font():
    def resources(pdf):
        font = simple_font(pdf, "TrueType", "FontFile2", font_file(False))
        return {"/Font": Dictionary(F=font, G=Dictionary(font))}

    shown = b"BT /F 10 Tf 20 30 Td (A) Tj /F 9 Tf (A) Tj /G 10 Tf (A) Tj ET"
    assert len({glyph.font for glyph in page_of(shown, resources).glyphs}) == 1


def test_a_broken_font_costs_its_outlines_only():
    font = with_font(lambda pdf: simple_font(pdf, "Type1", "FontFile3", b"\1\0junk", "Type1C"))
    drawing = draw(pdf_of((SHOWN, font)))
    (glyph,) = drawing.pages[0].glyphs
    assert drawing.outlines[glyph.font, glyph.code] == ()


# Forms, layers, pictures.


def form_of(pdf, content, **more):
    form = Stream(pdf, content)
    form.Type, form.Subtype = Name.XObject, Name.Form
    form.BBox = Array([0, 0, 30, 30])
    for key, value in more.items():
        form[f"/{key}"] = value
    return pdf.make_indirect(form)


def test_forms_have_their_place_and_their_clip():
    def resources(pdf):
        return {"/XObject": Dictionary(X=form_of(pdf, BOX, Matrix=Array([1, 0, 0, 1, 50, 0])))}

    page = page_of(b"2 0 0 2 0 0 cm /X Do 0 0 1 1 re f", resources)
    assert boxes(page) == [(140, 60, 160, 60), (0, 0, 2, 2)]


def test_a_form_that_draws_itself_comes_to_an_end():
    def resources(pdf):
        form = form_of(pdf, b"0 0 5 5 re f /X Do /X Do")
        form.Resources = Dictionary(XObject=Dictionary(X=form))
        return {"/XObject": Dictionary(X=form)}

    assert boxes(page_of(b"/X Do", resources)) == [(0, 0, 5, 5)]


def test_layers_that_are_off_are_left_out():
    pdf = pikepdf.new()
    off = pdf.make_indirect(Dictionary(Type=Name.OCG, Name="off"))
    on = pdf.make_indirect(Dictionary(Type=Name.OCG, Name="on"))
    pdf.Root.OCProperties = Dictionary(OCGs=Array([off, on]), D=Dictionary(OFF=Array([off])))
    page = pdf.add_blank_page(page_size=(200, 100)).obj
    both = Dictionary(Type=Name.OCMD, OCGs=Array([off, on]), P=Name.AllOn)
    content = b"/OC /A BDC 0 0 1 1 re f EMC /OC /B BDC 0 0 2 2 re f EMC /OC /C BDC 0 0 3 3 re f EMC"
    page.Contents = Stream(pdf, content + b" /X Do /Span <</MCID 0>> BDC 0 0 4 4 re f EMC")
    page.Resources = Dictionary(
        Properties=Dictionary(A=off, B=on, C=both),
        XObject=Dictionary(X=form_of(pdf, b"0 0 5 5 re f", OC=off)),
    )
    out = io.BytesIO()
    pdf.save(out)
    assert boxes(draw(out.getvalue()).pages[0]) == [(0, 0, 2, 2), (0, 0, 4, 4)]


def test_inline_pictures_are_stepped_over():
    data = (
        b"q 50 0 0 20 10 10 cm BI /W 4 /H 4 /BPC 8 /CS /G ID \xff EI \x80 Q\xfe\n (ab\nEI Q " + BOX
    )
    page = page_of(data)
    assert boxes(page) == [(20, 30, 60, 40)]
    (picture,) = page.pictures
    assert (picture.x0, picture.y0, picture.x1, picture.y1) == (10, 10, 60, 30)


@pytest.mark.parametrize("ink", [(b"\x00", b""), (b"\x80", b"/D [1 0]")])
def test_a_stencil_of_one_field_is_a_line(ink):
    bits, decode = ink
    mask = b"q 100 0 0 -0.5 10 50 cm BI /IM true /W 1 /H 1 /BPC 1 %s ID %s EI Q" % (decode, bits)
    page = page_of(mask)
    assert boxes(page) == [(10, 49.5, 110, 50)] and page.pictures == ()


# How content is written.


@pytest.mark.parametrize(
    "data",
    [
        b"20 30 40 10 re%comment\rf",
        b"+20. 30 4--0 10 re f",  # a minus among digits: what stands before it counts
        b"<</A [1 2 <</B (x)>>]>> (a\\)b(c)) <4> /N#20x 20 30 40 10 re f",
        b"] >> } 20 30 40 10 re f",
        b"1 2 m l 5 Tj (x) cm q Q Q Q /None Do /None gs 20 30 40 10 re f",
    ],
)
def test_odd_writing_is_read(data):
    found = boxes(page_of(data))
    assert found[-1][:2] == (20, 30) and found[-1][3] == 40


def test_strings_with_escapes():
    written = rb"(a\(b\)\\ \101\7\r\n" + b"\\\n(c)\r\n) <4 1 4> [(x) -1.5 /N] Tj"
    ((operator, operands),) = operations(written)
    assert operator == b"Tj"
    assert operands == [b"a(b)\\ A\x07\r\n(c)\n", b"A@", [b"x", -1.5, "N"]]


def test_packed_streams():
    pdf = pikepdf.new()
    # The example of ISO 32000-1, 7.4.4.2.
    lzw = Stream(pdf, bytes.fromhex("800B6050220C0C8501"))
    lzw.Filter = Name.LZWDecode
    assert Unpacker().bytes_of(lzw) == bytes([45, 45, 45, 45, 45, 65, 45, 45, 45, 66])
    both = Stream(pdf, base64.a85encode(zlib.compress(BOX)) + b"~>")
    both.Filter = Array([Name.A85, Name.Fl])
    assert Unpacker().bytes_of(both) == BOX
    lengths = Stream(pdf, b"\x02abc\xfed\x80")
    lengths.Filter = Name.RunLengthDecode
    assert Unpacker().bytes_of(lengths) == b"abcddd"
    digits = "".join(map(str, range(5000))).encode()
    cut = Stream(pdf, zlib.compress(digits)[:-3000] + b"junk" * 99)
    cut.Filter = Name.FlateDecode
    found = Unpacker().bytes_of(cut)
    assert len(found) > 4000 and digits.startswith(found[:4000])
