"""The first lines of a long part are there before the others, and are those of the whole."""

import re

import pytest
import sampling
from engraving_scores import Tree, note, score
from lxml import etree
from musicxml_build import OWN_SCORES as SCORES

from handslide.edges.engraving import begin
from handslide.edges.engraving.begin import beginning, lines_begun, lines_started
from handslide.edges.engraving.copy import engraving_copy
from handslide.edges.engraving.engrave import engrave_column, engrave_part
from handslide.edges.engraving.marks import staff_lines
from handslide.edges.engraving.screen import WIDTHS_MM, screen_paper
from handslide.edges.engraving.shapes import is_kind
from handslide.edges.musicxml.read import open_score_data

SVG = "{http://www.w3.org/2000/svg}"
MARKS = {k: str(1 + k % 7) for k in range(3000)}
BODY = "".join(note(name, "quarter") for name in ("Bb2", "C3", "D3", "Eb3"))


def systems(svgs):
    """Of each line its measures, where every sign of it stands from left to right, and how far its
    top line is below that of the line before."""
    found, last = [], 0.0
    for svg in svgs:
        for moved in etree.fromstring(svg.encode()).findall(f"{SVG}g"):
            (group,) = moved
            names = [g.get("id") for g in group.iter(f"{SVG}g") if is_kind(g, "measure")]
            across = re.findall(r"translate\((\d+)", etree.tostring(group).decode())
            top = float(re.search(r", (-?\d+)", moved.get("transform"))[1]) + staff_lines(group)[0]
            found.append((names, across, pytest.approx(top - last, abs=1.0)))
            last = top
    assert all(len(across) > 5 for _, across, _ in found)
    return found


def both(tree, paper):
    whole = engrave_part(tree, "P1", MARKS, paper)
    return list(engrave_column(tree, "P1", MARKS, paper)), list(whole.pages)


def repeated(path, notes, *, numbered):
    root = etree.fromstring((SCORES / path).read_bytes())
    part = root.find("part")
    measures = part.findall("measure")
    each = len(part.findall("measure/note/pitch"))
    for _ in range(notes // each):
        for measure in measures:
            part.append(etree.fromstring(etree.tostring(measure)))
    if numbered:
        for number, measure in enumerate(part, 1):
            measure.set("number", str(number))
    return open_score_data(etree.tostring(root), path)


@pytest.mark.sample
@pytest.mark.parametrize(
    "path, numbered",
    [("Muller_TechIII_01_Cb.musicxml", True), ("Belcke_12_Etudes_08.musicxml", False)],
)
@pytest.mark.parametrize("width", ["wide", "narrow"])
def test_the_lines_are_those_of_the_whole(path, numbered, width):
    paper = screen_paper(WIDTHS_MM[width])
    tree = repeated(path, 900, numbered=numbered)
    pieces, pages = both(tree, paper)
    assert all(piece.more for piece in pieces[:-1]) and not pieces[-1].more
    assert systems(piece.svg for piece in pieces) == systems(pages)


def test_no_measure_is_lost_where_the_beginning_has_lines_of_its_own():
    # Its second movement happens to begin a line of the engraver's, a later one doesn't.
    tree = repeated("Galliard_Sonata1.musicxml", 900, numbered=False)
    pieces, pages = both(tree, screen_paper(190.0))
    early, whole = (
        [name for names, _, _ in systems(svgs) for name in names]
        for svgs in ([piece.svg for piece in pieces], pages)
    )
    assert early == whole == list(dict.fromkeys(early))


def copied(tree):
    return beginning(engraving_copy(tree, "P1", None, {}, 190.0), screen_paper(190.0))


def test_only_what_is_long_has_a_beginning():
    assert copied(score([BODY] * 150)) is None
    found = copied(score([BODY] * 250))
    assert len(etree.fromstring(found.document).findall("part/measure")) == 320 // 4


def test_movements_come_whole_and_at_least_two():
    tree = score([BODY] * 300)
    for length, measures in ((50, 100), (30, 90), (100, 200)):
        for number, measure in enumerate(tree.iter("measure")):
            measure.set("number", str(number % length + 1))
        found = copied(tree)
        assert len(etree.fromstring(found.document).findall("part/measure")) == measures
    for number, measure in enumerate(tree.iter("measure")):
        measure.set("number", str(number % 290 + 1))
    assert copied(tree) is None


@pytest.mark.parametrize("kind, inside", [
    ('<notations><slur type="{}" number="1"/></notations>', True),
    ('<notations><glissando type="{}" number="1" line-type="wavy"/></notations>', True),
    ("volta", False),
])  # fmt: skip
def test_what_ends_beyond_it_is_known(kind, inside):
    tree = score([BODY] * 250)
    measures = list(tree.iter("measure"))
    for at, side in ((3, "start"), (200, "stop")):
        if inside:
            measures[at].findall("note")[1].append(etree.fromstring(kind.format(side)))
        else:
            ending = f'<barline location="left"><ending number="1" type="{side}"/></barline>'
            measures[at].insert(0, etree.fromstring(ending))
    found = copied(tree)
    assert found.open_in == {"hs-m3"}
    assert found.holds(["hs-m0", "hs-m1"]) and not found.holds(["hs-m2", "hs-m3"])
    if "glissando" in kind and not sampling.ALL:
        return
    paper = screen_paper(190.0)
    pieces, pages = both(Tree(tree), paper)
    assert systems(piece.svg for piece in pieces) == systems(pages)


def test_lines_go_on_from_those_that_are_there():
    lines = [["a", "b"], ["c", "d"], ["e", "f"], ["g"]]
    assert lines_begun(lines, [["a", "b"], ["c", "d"]], "e") == []
    assert lines_begun(lines, [["a"], ["b", "c"]], "d") == ["b", "d", "e", "g"]
    assert lines_started(lines, ["b", "e"]) == [["a"], ["b", "c", "d"], ["e", "f", "g"]]
    assert begin._NOTES < begin._LONG
