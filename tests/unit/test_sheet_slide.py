"""The drawing of the slide, looked at as SVG: what moves, and where things are."""

import re
from pathlib import Path

import pytest
from lxml import etree

from handslide.jobs.mark.slideview import measures_of, slide_view
from handslide.jobs.setup import make_setup
from handslide.sheets.slide import (
    GREY,
    HEIGHT_MM,
    IN_PLACE_MM,
    LENS_MM,
    STOP_MM,
    Ruler,
    SlideMeasures,
    lens_svg,
    printed_height_mm,
    printed_slide,
    slide_svg,
)

SCRIPT = Path("src/handslide/data/scripts/slide.js")


def drawn(text):
    return etree.fromstring(f"<all>{text}</all>")


def shares(root, axis="x"):
    """Where the marks of the ruler on show stand, as shares of the drawing."""
    marks = root.xpath("//g[contains(@class, 'is-on')]/svg[@class='mark']")
    return [float(mark.get(axis).rstrip("%")) / 100 for mark in marks]


def test_positions_stand_at_their_millimetres():
    slide = SlideMeasures(650.0, (Ruler((), (0.0, 89.2, 182.4, 617.0)),))
    # By hand: 110 mm before the stop, the travel twice, 75 mm of overlap, bow and tip.
    assert slide.width_mm == 110 + 650 + 650 + 75
    assert shares(drawn(slide_svg(slide))) == pytest.approx(
        [(110 + mm) / 1485 for mm in (0.0, 89.2, 182.4, 617.0)], abs=1e-6
    )
    assert shares(drawn(slide_svg(slide, upright=True)), "y") == pytest.approx(
        [1 - (110 + mm) / 1485 for mm in (0.0, 89.2, 182.4, 617.0)], abs=1e-6
    )


@pytest.mark.parametrize("upright", [False, True])
def test_only_the_outer_slide_and_the_frames_have_groups_to_move(upright):
    root = drawn(slide_svg(measures_of(make_setup("bass-dependent", reach=6)), upright=upright))
    names = [one.get("data-slide") for one in root.iter() if one.get("data-slide")]
    for name in ("inner", "ghost", "outer", "next", "target", "soon", "here", "ruler", "tubes"):
        assert names.count(name) == 1, name
    # The open horn, F, and D only together with it.
    sets = [one.get("data-valves") for one in root.xpath("//*[@data-slide='marks']")]
    assert sets == ["", "F", "F+D"]


def test_the_legs_overlap_when_the_slide_is_all_out():
    slide = measures_of(make_setup("tenor-f"))
    root = drawn(slide_svg(slide))
    legs = root.xpath("//g[@data-slide='inner']/rect[@height='13']")
    inner_end = max(float(leg.get("x")) + float(leg.get("width")) for leg in legs)
    outer_begin = STOP_MM - 10 + slide.travel_mm
    assert inner_end - outer_begin >= 10


def test_what_lies_beyond_the_reach_is_dotted():
    near, far = (make_setup("tenor-f", reach=reach) for reach in (5, None))
    assert len(drawn(slide_svg(measures_of(near))).xpath("//path[@class='beyond']")) == 1
    assert drawn(slide_svg(measures_of(far))).xpath("//path[@class='beyond']") == []
    base = drawn(slide_svg(measures_of(near))).xpath("//path[@class='base']")[0]
    assert float(base.get("data-reach")) == slide_view(near)["reach_mm"]


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize(
    ("towards", "away"),
    [("in", "out"), ("hinein", "hinaus"), ("adentro", "afuera"), ("rentrer", "sortir")],
)
def test_words_of_the_lens_have_room(towards, away, upright):
    root = drawn(lens_svg(towards, away, upright=upright))
    *numbers, first, second = root.xpath("//text")
    assert {first.text, second.text} == {towards, away}
    if upright:
        # A quarter of the type's height is more than a letter of the face has on the mean.
        assert all(1 + 0.6 * 4.0 * len(word) < 42 for word in (towards, away))
        assert {float(one.get("y")) for one in numbers} & {4.0, 78.8} == set()
    else:
        assert {one.get("y") for one in numbers} == {"30.4"} and first.get("y") == "34.8"
        assert 0.6 * 3.1 * (len(towards) + len(away)) < 2 * LENS_MM - 2


def test_the_script_has_the_same_measures():
    script = SCRIPT.read_text(encoding="utf-8")
    for name, value in (("LENS_MM", LENS_MM), ("IN_PLACE_MM", IN_PLACE_MM)):
        assert float(re.search(rf"const {name} = (\d+);", script)[1]) == value


def test_for_print_it_is_dressed_in_grey_and_stands_where_the_page_shows_it():
    slide = measures_of(make_setup("bass-independent"))
    root = drawn(printed_slide(slide, 250.0, 270.0))
    svg, ns = root[0], {"s": "http://www.w3.org/2000/svg"}
    # No style sheet, no names that one could dress: only greys, in which brass differs from steel.
    assert not svg.xpath(".//@class[. = 'lit'] | .//@data-slide | .//s:style", namespaces=ns)
    colours = set(re.findall(r"#[0-9a-f]{6}", printed_slide(slide, 250.0, 270.0)))
    assert colours == {GREY.brass, GREY.steel, GREY.line, GREY.stay}
    assert all(colour[1:3] == colour[3:5] == colour[5:7] for colour in colours)
    assert int(GREY.brass[1:3], 16) + 40 < int(GREY.steel[1:3], 16)
    # The same outlines as on the page, moved by the extension; lines as wide as on the paper.
    (moved,) = svg.xpath(".//s:g[starts-with(@transform, 'translate(250')]", namespaces=ns)
    page = drawn(slide_svg(slide)).xpath("//g[@data-slide='outer']/path")[0]
    assert moved[0].get("d") == page.get("d")
    wide = float(svg.get("viewBox").split()[2])
    assert float(moved.get("stroke-width")) * 270.0 / wide == pytest.approx(GREY.line_mm, rel=0.01)
    assert printed_height_mm(slide, 270.0) == pytest.approx(270.0 * (HEIGHT_MM + 16) / wide)
