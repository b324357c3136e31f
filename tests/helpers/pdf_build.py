"""Small PDFs, page by page, and small fonts, for tests of what a PDF draws."""

import io

import pikepdf
from fontTools.fontBuilder import FontBuilder
from fontTools.misc import eexec
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib.tables._c_m_a_p import CmapSubtable
from pikepdf import Array, Dictionary, Name, Stream

SQUARE = ((100, 0), (500, 0), (500, 400), (100, 400))
"""What the only glyph of the fonts here looks like, in thousandths of an em."""
SQUARE_WIDTH = 600


def pdf_of(*pages, **saved):
    """A PDF of pages: each a content stream, or (content stream, resources, more of the page) as
    functions of the PDF or plain."""
    pdf = pikepdf.new()
    for page in pages:
        content, *more = page if isinstance(page, tuple) else (page,)
        resources, *rest = [each(pdf) if callable(each) else each for each in more] or [{}]
        made = pdf.add_blank_page(page_size=(200, 100))
        made.obj.Contents = content(pdf) if callable(content) else Stream(pdf, content)
        made.obj.Resources = Dictionary(resources)
        for key, value in (rest[0] if rest else {}).items():
            made.obj[key] = value
    out = io.BytesIO()
    pdf.save(out, **saved)
    return out.getvalue()


def with_font(make):
    """Resources of one font, ``/F``, made by ``make`` of the PDF."""
    return lambda pdf: {"/Font": Dictionary(F=pdf.make_indirect(make(pdf)))}


def _draw_square(pen):
    pen.moveTo(SQUARE[0])
    for point in SQUARE[1:]:
        pen.lineTo(point)
    pen.closePath()


def font_file(cff, name="square", code=0x41, coding=(3, 1), decoy=None):
    """A font of one sign, as TrueType or OpenType. ``coding`` is the platform and encoding of its
    only map of codes; ``decoy`` a code that leads to an empty glyph there."""
    builder = FontBuilder(1000, isTTF=not cff)
    builder.setupGlyphOrder([".notdef", name])
    builder.setupCharacterMap({code: name})
    (table, *others) = builder.font["cmap"].tables
    table.platformID, table.platEncID = coding
    for each in others:
        builder.font["cmap"].tables.remove(each)
    if coding[0] == 1:
        old = CmapSubtable.newSubtable(0)
        old.platformID, old.platEncID, old.language = 1, 0, 0
        old.cmap = {code: name}
        builder.font["cmap"].tables[:] = [old]
        table = old
    if decoy is not None and decoy != code:
        table.cmap[decoy] = ".notdef"
    if cff:
        pen = T2CharStringPen(SQUARE_WIDTH, None)
        _draw_square(pen)
        empty = T2CharStringPen(SQUARE_WIDTH, None).getCharString()
        builder.setupCFF("Square", {}, {".notdef": empty, name: pen.getCharString()}, {})
    else:
        pen = TTGlyphPen(None)
        _draw_square(pen)
        builder.setupGlyf({".notdef": TTGlyphPen(None).glyph(), name: pen.glyph()})
    builder.setupHorizontalMetrics({".notdef": (SQUARE_WIDTH, 0), name: (SQUARE_WIDTH, 100)})
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Square", "styleName": "Regular"})
    builder.setupOS2()
    builder.setupPost()
    out = io.BytesIO()
    builder.save(out)
    return out.getvalue()


def bare_cff(name="square"):
    """The CFF table alone, as most PDFs embed it."""
    from fontTools.ttLib import TTFont

    return TTFont(io.BytesIO(font_file(True, name))).reader["CFF "]


def type_one(name="square"):
    """The same as Type 1, its glyph with a subroutine (Adobe Type 1 Font Format, 6 and 7)."""

    def number(value):
        if -107 <= value <= 107:
            return bytes([value + 139])
        value, sign = (value - 108, 247) if value > 0 else (-value - 108, 251)
        return bytes([sign + value // 256, value % 256])

    def program(*words):
        code = b"".join(bytes([w[1]]) if isinstance(w, tuple) else number(w) for w in words)
        return eexec.encrypt(b"\0\0\0\0" + code, 4330)[0]

    hlineto, vlineto, closepath, callsubr, ret = (0, 6), (0, 7), (0, 9), (0, 10), (0, 11)
    hsbw, endchar, rmoveto = (0, 13), (0, 14), (0, 21)
    side = program(400, hlineto, ret)
    square = program(0, SQUARE_WIDTH, hsbw, 100, 0, rmoveto, 0, callsubr, 400, vlineto, -400,
                     hlineto, closepath, endchar)  # fmt: skip
    hidden = (
        b"/lenIV 4 def /Subrs 1 array dup 0 %d RD %s NP /CharStrings 1 dict begin "
        b"/%s %d RD %s ND end"
    )
    hidden = b"\0\0\0\0" + hidden % (len(side), side, name.encode(), len(square), square)
    clear = b"%!PS-AdobeFont-1.0\n/FontMatrix [0.001 0 0 0.001 0 0] def\n/Encoding 256 array\n"
    clear += b"dup 65 /%s put readonly def\ncurrentfile eexec\n" % name.encode()
    return clear + eexec.encrypt(hidden, 55665)[0]


def simple_font(pdf, kind, key, data, subtype=None, **more):
    """A simple font with its program under ``key``; code 65 is its sign."""
    file = Stream(pdf, data)
    if subtype:
        file.Subtype = Name(f"/{subtype}")
    descriptor = pdf.make_indirect(
        Dictionary(Type=Name.FontDescriptor, FontName=Name("/AAAAAA+Square"), Flags=4)
    )
    descriptor[f"/{key}"] = file
    return Dictionary(
        Type=Name.Font, Subtype=Name(f"/{kind}"), BaseFont=Name("/AAAAAA+Square"), FirstChar=65,
        LastChar=65, Widths=Array([SQUARE_WIDTH]), FontDescriptor=descriptor, **more,
    )  # fmt: skip


def composite_font(pdf, data, key="FontFile2", subtype=None, encoding=None, **more):
    """A composite font, its glyph number 1 the sign."""
    inner = simple_font(pdf, "CIDFontType2", key, data, subtype)
    inner.W = Array([1, Array([SQUARE_WIDTH])])
    return Dictionary(
        Type=Name.Font, Subtype=Name.Type0, BaseFont=Name("/AAAAAA+Square"),
        Encoding=encoding or Name("/Identity-H"),
        DescendantFonts=Array([pdf.make_indirect(inner)]), **more,
    )  # fmt: skip


def drawn_font(pdf, proc, **more):
    """A font of Type 3, its sign drawn by ``proc``."""
    return Dictionary(
        Type=Name.Font, Subtype=Name.Type3, FontBBox=Array([0, 0, 1000, 1000]),
        FontMatrix=Array([0.001, 0, 0, 0.001, 0, 0]), FirstChar=65, LastChar=65,
        Widths=Array([SQUARE_WIDTH]), CharProcs=Dictionary(square=Stream(pdf, proc)),
        Encoding=Dictionary(Differences=Array([65, Name.square])), **more,
    )  # fmt: skip


def redrawn(drawing):
    """A PDF of areas and lines only, as a `Drawing` says that they are."""
    pdf = pikepdf.new()
    for page in drawing.pages:
        lines = [
            f"{each.width:.4f} w {_path(each.polygons)} {_operator(each)}" for each in page.paths
        ]
        for glyph in page.glyphs:
            a, b, c, d, x, y = glyph.matrix
            placed = [
                [(a * u + c * v + x, b * u + d * v + y) for u, v in polygon]
                for polygon in drawing.outlines[glyph.font, glyph.code]
            ]
            lines.append(f"{_path(placed)} f")
        made = pdf.add_blank_page(page_size=(page.width, page.height))
        made.obj.Contents = Stream(pdf, "\n".join(lines).encode())
    out = io.BytesIO()
    pdf.save(out)
    return out.getvalue()


def _path(polygons):
    return " ".join(
        f"{x:.4f} {y:.4f} {'l' if place else 'm'}"
        for polygon in polygons
        for place, (x, y) in enumerate(polygon)
    )


def _operator(path):
    if path.stroked:
        return "B" if path.filled else "S"
    return "f*" if path.even_odd else "f"
