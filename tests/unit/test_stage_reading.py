"""The stage is read from two metres, and without colour: worked out from the style sheets."""

import re
from itertools import combinations
from math import atan, degrees, sqrt

import pytest
from studio_colours import DARK, LIGHT, SCRIPTS, STATIC, contrast, linear

STAGE = (STATIC / "stage.css").read_text(encoding="utf-8")
SHAPES = (SCRIPTS / "heard.js").read_text(encoding="utf-8")
THEMES = {"light": LIGHT, "dark": {**LIGHT, **DARK}}
CSS_PX_MM = 25.4 / 96
# Height of a figure in the reading's face, as a share of its size (Hyperlegible: 668 of 1000).
FIGURE = 0.668
# Of a capital of the marks' face (DejaVu Sans Condensed: 1493 of 2048).
CAPITAL = 0.729
AWAY_MM = 2000.0


# Red-green blindness: G. M. Machado, M. M. Oliveira and L. A. F. Fernandes, IEEE Trans. Vis.
# Comput. Graph. 15 (2009) 1291-1298, matrices of severity 1.0, in linear light.
SEEN = {
    "normal": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "protan": (
        (0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deutan": (
        (0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
}  # fmt: skip


def lab(light):
    """CIE L*a*b* under D65 (CIE 15:2004)."""
    r, g, b = (min(max(p, 0.0), 1.0) for p in light)
    x = (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.95047
    y = 0.2126 * r + 0.7152 * g + 0.0722 * b
    z = (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.08883
    fx, fy, fz = (
        t ** (1 / 3) if t > (6 / 29) ** 3 else t / (3 * (6 / 29) ** 2) + 4 / 29 for t in (x, y, z)
    )
    return 116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)


def distance(one, other, matrix):
    """ΔE*ab of 1976."""
    seen = [
        lab([sum(m * p for m, p in zip(row, linear(colour))) for row in matrix])
        for colour in (one, other)
    ]
    return sqrt(sum((a - b) ** 2 for a, b in zip(*seen)))


def test_the_measures_are_those_of_the_standards():
    assert lab(linear("#ffffff")) == pytest.approx((100, 0, 0), abs=0.02)
    # Red of sRGB: 53.24, 80.09, 67.20.
    assert lab(linear("#ff0000")) == pytest.approx((53.24, 80.09, 67.20), abs=0.1)


def sizes():
    """The least sizes, in px, that the reading's number is given anywhere."""
    found = re.findall(r"--far:\s*(?:clamp\()?([\d.]+)rem", STAGE)
    assert len(found) >= 4
    return [16 * float(size) for size in found]


def test_the_number_is_never_lower_than_120_px():
    assert min(sizes()) >= 120
    font = re.findall(r"^\.far \.n \{ font-size: ([^;]+);", STAGE, re.MULTILINE)
    assert font == ["var(--far)"]
    # Less only where it would leave a narrow window: the browser's test measures what it is there.
    others = re.findall(r"\.n \{[^}]*font-size: (min\(var\(--far\), [^;]+);", STAGE)
    assert len(re.findall(r"\.n(?::not\(:empty\))? \{[^}]*font-size", STAGE)) == 1 + len(others)


def test_its_figures_are_large_enough_at_two_metres():
    # ISO 9241-303 recommends 20 to 22 minutes of arc for what is read; 16 are the least.
    tall_px = min(sizes()) * FIGURE
    assert minutes_of_arc(tall_px) > 30


def minutes_of_arc(tall_px):
    return 60 * degrees(atan(tall_px * CSS_PX_MM / AWAY_MM))


def test_the_place_and_its_valves_are_read_from_two_metres_too():
    """On windows that stand so far away; a phone on the stand is nearer."""
    place = 16 * float(re.search(r"figcaption \{ --place: ([\d.]+)rem", STAGE)[1])
    mark = r"figcaption \.mark \{ font-size: calc\(var\(--place\) \* ([\d.]+)\)"
    assert minutes_of_arc(place * float(re.search(mark, STAGE)[1]) * CAPITAL) > 20
    assert ".stage-valves { --lever: var(--place);" in STAGE
    box = re.search(r'"viewBox", "-16 -29 32 (\d+)"', (SCRIPTS / "slide.js").read_text("utf-8"))
    letter = re.search(r"\.lever text \{[^}]*font: 700 (\d+)px", STAGE)
    disc, wedge, capital = (
        place * mm / float(box[1]) for mm in (30, 9, CAPITAL * float(letter[1]))
    )
    # The disc that is filled, and the wedge over it: a gap of 1 minute is seen (acuity 1.0).
    assert minutes_of_arc(disc) > 16 and minutes_of_arc(wedge) > 5
    # Which valve it is: twice what an eye of acuity 1.0 reads (ISO 8596: 5 minutes).
    assert minutes_of_arc(capital) > 10


@pytest.mark.parametrize("theme", THEMES)
def test_strokes_stand_out_from_the_floor(theme):
    tokens = THEMES[theme]
    for sign in ("hit", "off", "gone", "muted", "ink"):
        grounds = ["paper", "hit-tint"] if sign in ("hit", "ink") else ["paper"]
        for ground in grounds:
            assert contrast(tokens[sign], tokens[ground]) >= 4.5, (sign, ground)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("eyes", SEEN)
def test_in_place_and_off_differ_for_all_eyes(theme, eyes):
    # About 2.3 can just be told apart side by side (Mahy et al., Color Res. Appl. 19, 1994, 105).
    tokens = THEMES[theme]
    assert distance(tokens["hit"], tokens["off"], SEEN[eyes]) > 10 * 2.3
    assert distance(tokens["hit-tint"], tokens["paper"], SEEN[eyes]) > 2 * 2.3


def area(points):
    """Of the polygon, by the shoelace formula."""
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, points[1:] + points[:1]))) / 2


def outlines():
    """The signs' corners, as heard.js draws them; a disc is told by its radius."""
    text = SHAPES[SHAPES.index("const SHAPES") : SHAPES.index("};", SHAPES.index("const SHAPES"))]
    return dict(re.findall(r'(\w+): "([^"]+)"', text))


def test_every_state_has_a_shape_of_its_own():
    """In grey they are told apart by their form: no two outlines are alike."""
    shapes = outlines()
    assert set(shapes) == {"hit", "in", "out", "gone", "other"}
    assert len(set(shapes.values())) == 5
    assert "a190" in shapes["hit"]
    # The wedges point opposite ways; all are as large as a note's head (204 by 172) or larger.
    tips = {way: int(re.match(r"M(-?\d+)", shapes[way])[1]) for way in ("in", "out")}
    assert tips["in"] < 0 < tips["out"] and tips["in"] == -tips["out"]
    square, lozenge = (2 * 180) ** 2, area([(0, -270), (270, 0), (0, 270), (-270, 0)])
    assert "-180" in shapes["gone"] and "-270" in shapes["other"]
    assert min(square, lozenge) > 204 * 172


def test_signs_of_the_reading_are_alike_in_nothing_but_the_ring():
    """Filled or open, and which sign: the states of the big sign can be told apart in grey."""
    script = (STATIC / "reading.js").read_text(encoding="utf-8")
    drawn = dict(re.findall(r"(\w+): \"(hit|in|out|gone|other)\"", script))
    rule = re.search(r"\.reading:is\((.*)\) \.big \{ fill: none", STAGE)[1]
    opened = set(re.findall(r'data-sign="(\w+)"', rule))
    looks = {sign: (drawn[sign], sign in opened) for sign in ("hit", "in", "out", "gone", "other")}
    looks["quiet"] = (drawn["quiet"], "quiet" in opened)
    for one, other in combinations(looks, 2):
        assert looks[one] != looks[other], (one, other)
