"""What signs mean: by name, by shape, by what a person said."""

import math
from importlib import resources

import pytest
from fontTools.ttLib import TTFont

from handslide.edges.pdfparts.drawn import Glyph
from handslide.edges.pdfparts.outlines import FlatPen
from handslide.edges.pdfparts.raster import mark_of, shape_of, shape_of_mark
from handslide.edges.pdfparts.signnames import feta_kinds, kind_by_name, smufl_kinds
from handslide.edges.pdfparts.signs import Signs, music_fonts

FONT = resources.files("handslide") / "data" / "fonts" / "HandslideMusic-Regular.ttf"
# A sign that no font has: three bars in a row.
BARS = tuple(((x, 0.0), (x + 0.3, 0.0), (x + 0.3, 2.0), (x, 2.0)) for x in (0.0, 0.5, 1.4))


@pytest.fixture(scope="module")
def outlines():
    """Outlines of our own music font (Bravura's), in ems, by code point."""
    with FONT.open("rb") as file:
        font = TTFont(file)
        glyphs, names = font.getGlyphSet(), font.getBestCmap()
        found = {}
        for code, name in names.items():
            pen = FlatPen(glyphs)
            glyphs[name].draw(pen)
            found[code] = pen.outline(font["head"].unitsPerEm)
    return found


def glyph_of(code=0, em=20.0, font="0:Old", name="", text="", x=0.0, y=0.0):
    return Glyph(x, y, em, (em, 0, 0, em, x, y), font, code, name, text, em)


def moved(polygons, scale=1.0, x=0.0, y=0.0):
    return [[(scale * u + x, scale * v + y) for u, v in polygon] for polygon in polygons]


# The names are those of SMuFL 1.4 and of LilyPond's Notation Reference, A.8.
@pytest.mark.parametrize(
    ("text", "name", "font", "kind"),
    [
        ("\ue0a4", "", "", "head.black"),
        ("\ue062", "", "", "clef.F"),
        ("\ue064", "", "", "clef.F.8b"),
        ("\ue264", "", "", "acc.-2"),
        ("\ue4e3", "", "", "rest.1"),
        ("\ue4e6", "", "", "rest.8"),
        ("\ue243", "", "", "flag.2"),
        ("\ue511", "", "", "ottava.8a"),
        ("\ue51c", "", "", "ottava.8b"),
        ("\ue882", "", "", "tuplet.2"),
        ("\ueca5", "", "", "notevalue.4"),
        ("\ue5d9", "", "", "articulation.fall"),
        ("\ueeee", "", "", "other"),
        ("\uf0cf", "", "", ""),  # a letter of an older font
        ("", "uniE0A3", "", "head.half"),
        ("", "accidentalFlat", "", "acc.-1"),
        ("", "noteheads.s2", "", "head.black"),
        ("", "clefs.C_change", "", "clef.C"),
        ("", "flags.d4", "", "flag.2"),
        ("", "scripts.varcoda", "", "coda"),
        ("", "noteheads.s2doFunk", "", "other"),
        ("4", "four", "3:ABCDEF+Emmentaler-20", "digit.4"),
        ("f", "f", "3:ABCDEF+Emmentaler-20", "dynamic.f"),
        ("4", "four", "3:ABCDEF+Times-Roman", ""),
        ("&", "ampersand", "3:Old", ""),
    ],
)
def test_names(text, name, font, kind):
    assert kind_by_name(text, name, font) == kind


def test_every_kind_has_a_family_that_the_list_names():
    import handslide.edges.pdfparts.signnames as signnames

    kinds = {*smufl_kinds()[0].values(), *feta_kinds().values()}
    assert len(kinds) > 150
    assert {kind for kind in kinds if f"``{kind.split('.')[0]}" not in signnames.__doc__} <= {
        kind for kind in kinds if kind in signnames.__doc__
    }


def test_a_named_sign_has_the_fonts_own_origin_and_size(outlines):
    sign = Signs.load().of_glyph(glyph_of(text="\ue0a4", em=16), outlines[0xE0A4], 5.0)
    assert (sign.kind, sign.distance, sign.origin) == ("head.black", 0, (0, 0))
    assert sign.size == pytest.approx(16 / 20) and sign.sure


@pytest.mark.parametrize("size", [1.0, 0.62])
@pytest.mark.parametrize(
    ("code", "kind"),
    [
        (0xE0A4, "head.black"),
        (0xE0A3, "head.half"),
        (0xE0A2, "head.whole"),
        (0xE062, "clef.F"),
        (0xE05C, "clef.C"),
        (0xE050, "clef.G"),
        (0xE260, "acc.-1"),
        (0xE261, "acc.0"),
        (0xE262, "acc.1"),
        (0xE4E5, "rest.4"),
        (0xE240, "flag.1"),
    ],
)
def test_shapes_of_a_font_that_calls_them_letters(outlines, code, kind, size):
    # The same font's signs are left out, so that it is an unknown one.
    signs = Signs.load(without=["Bravura"])
    glyph = glyph_of(code=code & 255, text="A", name="A", em=20 * size)
    sign = signs.of_glyph(glyph, outlines[code], 5.0)
    assert sign.kind == kind and sign.known
    # A clef in mid-line is smaller in itself, and one font's is another's cue size.
    assert kind.startswith("clef") or sign.size == pytest.approx(size, rel=0.2)
    assert math.hypot(*sign.origin) < 0.35 * size


def test_shapes_without_a_font_have_their_origin_in_their_own_coordinates(outlines):
    signs = Signs.load()
    at = moved(outlines[0xE062], 4.0, 30.0, -7.0)
    sign = signs.of_outline(at)
    assert sign.kind == "clef.F" and sign.sure
    assert sign.origin == pytest.approx((30.0, -7.0), abs=0.05)


def test_whole_and_half_rests_are_told_by_their_side(outlines):
    signs = Signs.load()
    hangs = signs.of_glyph(glyph_of(code=1), outlines[0xE4E3], 5.0)
    sits = signs.of_glyph(glyph_of(code=2), outlines[0xE4E4], 5.0)
    assert (hangs.kind, sits.kind) == ("rest.1", "rest.2")
    assert signs.of_outline(moved(outlines[0xE4E4], 4.0)).margin == 0


def test_no_signs():
    signs = Signs.load()
    assert signs.of_outline([]) is None
    assert signs.of_outline([((0, 0), (1, 0), (1, 0))]) is None
    assert signs.of_outline(moved(BARS, 20)) is None
    assert not signs.of_outline(BARS).known


def test_a_mark_is_the_same_wherever_the_shape_stands(outlines):
    signs = Signs.load()
    one = signs.of_outline(BARS)
    other = signs.of_outline(moved(BARS, 0.9, 100, 50))
    drawn = signs.of_glyph(glyph_of(code=9), moved(BARS, 5.5 / 20, -0.3, 0.1), 5.0)
    assert one.mark == other.mark == drawn.mark
    marks = {signs.of_outline(moved(outlines[code], 4)).mark for code in (0xE062, 0xE05C, 0xE260)}
    assert len({*marks, one.mark}) == 4


@pytest.mark.parametrize("scale", [1.0, 0.65])
def test_what_a_person_said_counts_first(outlines, scale):
    mark = Signs.load().of_outline(BARS).mark
    signs = Signs.load({mark: "clef.F", "junk!": "clef.C"})
    sign = signs.of_outline(moved(BARS, scale, 10, 20))
    assert (sign.kind, sign.distance, sign.sure) == ("clef.F", 0, True)
    # The line of an F clef lies in its upper half.
    assert 20 + scale < sign.origin[1] < 20 + 2 * scale
    half = Signs.load().of_outline(moved(outlines[0xE0A3], 4)).mark
    said = Signs.load({half: "other"}).of_glyph(glyph_of(text="\ue0a3"), outlines[0xE0A3], 5.0)
    assert said.kind == "other"


def test_marks_tell_their_shape(outlines):
    shape = shape_of(moved(outlines[0xE062], 4))
    mark = mark_of(shape)
    again = shape_of_mark(mark)
    assert len(mark) < 60 and mark.isascii()
    assert again.width == pytest.approx(shape.width, rel=0.03)
    assert again.height == pytest.approx(shape.height, rel=0.03)
    assert abs(again.picture.astype(int) - shape.picture).mean() < 30
    assert mark_of(again) == mark
    assert shape_of_mark("") is None and shape_of_mark("ä") is None


def test_marks_tell_signs_of_a_font_apart(outlines):
    # Digits and meters, clefs, heads, dot, accidentals, rests, flags, accent, marcato.
    codes = [*range(0xE080, 0xE08C), 0xE050, 0xE05C, 0xE062, 0xE0A2, 0xE0A3, 0xE0A4, 0xE1E7]
    codes += [*range(0xE260, 0xE265), *range(0xE4E3, 0xE4E9), 0xE240, 0xE242, 0xE4A0, 0xE4AC]
    codes.remove(0xE4E4)  # a half rest is a whole rest upon its line
    shapes = {code: moved(outlines[code], 4) for code in codes}
    signs = Signs.load()
    marks = {signs.of_outline(shape).mark: code for code, shape in shapes.items()}
    assert len(marks) == len(codes) > 30
    said = Signs.load({mark: f"kind.{code}" for mark, code in marks.items()})
    for code, shape in shapes.items():
        assert said.of_outline(moved(shape, 0.97, 3, 4)).kind == f"kind.{code}"


def test_pictures_fill_by_either_rule():
    outer = ((0, 0), (4, 0), (4, 4), (0, 4))
    same_turn = ((1, 1), (3, 1), (3, 3), (1, 3))
    filled = shape_of([outer, same_turn]).picture
    holed = shape_of([outer, same_turn], even_odd=True).picture
    assert (filled == 255).all()
    assert (holed[6:18, 6:18] == 0).all() and holed.sum() == 255 * (24 * 24 - 12 * 12)
    assert (shape_of([outer, same_turn[::-1]]).picture == holed).all()
    corner = shape_of([((0, 0), (4, 0), (0, 4))]).picture
    assert corner[-1, 0] == 255 and corner[0, -1] == 0  # the top row comes first


def test_music_fonts_have_telling_signs(outlines):
    signs = Signs.load(without=["Bravura"])
    codes = {0x26: 0xE050, 0xCF: 0xE0A4, 0x62: 0xE260}
    music = [glyph_of(code=code, font="0:Old", text=chr(code)) for code in codes]
    seen = [(glyph, signs.of_glyph(glyph, outlines[codes[glyph.code]], 5.0)) for glyph in music]
    letters = [
        (glyph_of(code=1, font="1:Text", text="I"), signs.of_outline(moved([BARS[0]], 1))),
        (glyph_of(code=2, font="1:Text", text=" "), None),
    ]
    assert music_fonts([*seen, *letters]) == {"0:Old"}
