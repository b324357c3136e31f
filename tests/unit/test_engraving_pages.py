"""Pages a player can use: movements begin lines, turns fall on rests, cues are small."""

import itertools
import re

import leashed
import pytest
from engraving_scores import RUN as NAMES
from engraving_scores import Tree, engraved, note, rest_measure, score, sixteenths, words
from lxml import etree
from musicxml_build import OWN_SCORES as SCORES

from handslide.edges.engraving import engrave
from handslide.edges.engraving.breaks import movement_starts
from handslide.edges.engraving.copy import engraving_copy
from handslide.edges.engraving.engrave import engrave_column, paper_named
from handslide.edges.engraving.marks import staff_lines
from handslide.edges.engraving.pages import System, distribute
from handslide.edges.engraving.screen import for_screen, joined
from handslide.edges.engraving.shapes import Box, is_kind
from handslide.edges.engraving.turns import ENOUGH_Q, MeasureRests, rest_at_turn
from handslide.edges.engraving.values import Paper
from handslide.ground.errors import ScoreError

A4 = paper_named("a4")
ENDLESS = Paper("screen", 80.0, 1e6, side_mm=0.0, top_mm=0.0, foot_mm=0.0, title_mm=0.0)
RUN = sixteenths(NAMES)
SVG = "{http://www.w3.org/2000/svg}"
FINAL = '<barline location="right"><bar-style>light-heavy</bar-style></barline>'


def copied(tree):
    copy = engraving_copy(tree, "P1", None, {}, A4.music_width_mm)
    return copy, etree.fromstring(copy.document)


def movements(*lengths, content=None):
    """Movements of so many measures, each counted from 1."""
    body = content or "".join(note(name, "quarter") for name in ("Bb2", "C3", "D3", "Eb3"))
    tree = score([body + FINAL * (k == n) for n in lengths for k in range(1, n + 1)])
    numbers = [k for n in lengths for k in range(1, n + 1)]
    for measure, number in zip(tree.iter("measure"), numbers):
        measure.set("number", str(number))
    return tree


def test_a_movement_begins_a_line():
    tree = movements(7, 11, 5, 2)
    pages = engraved(tree, "P1", dict.fromkeys(range(100), "1"), A4).pages
    lines = [
        [group.get("id") for group in system.iter(f"{SVG}g") if is_kind(group, "measure")]
        for page in pages
        for system in etree.fromstring(page.encode()).iter(f"{SVG}g")
        if is_kind(system, "system")
    ]
    firsts = {line[0] for line in lines}
    assert {"hs-m7", "hs-m18", "hs-m23"} <= firsts
    assert [name for line in lines for name in line] == [f"hs-m{k}" for k in range(25)]
    # Lines of one movement are about equally full.
    counts = [len(line) for line in lines]
    assert max(counts) <= 5


@pytest.mark.sample
@pytest.mark.parametrize("second", [False, True], ids=["one row", "two rows"])
@pytest.mark.parametrize("name", ["Belcke_12_Etudes_08", "Galliard_Sonata1"])
def test_pieces_of_an_endless_page_are_that_page_byte_for_byte(name, second):
    tree = etree.parse(SCORES / f"{name}.musicxml").getroot()
    marks = dict.fromkeys(range(900), "5")
    options = {"second": dict.fromkeys(range(0, 900, 3), "T♭3")} if second else {}
    pieces = list(engrave_column(Tree(tree), "P1", marks, ENDLESS, **options))
    assert len(pieces) > 2
    assert [piece.more for piece in pieces] == [True] * (len(pieces) - 1) + [False]
    (page,) = engraved(tree, "P1", marks, ENDLESS, **options).pages
    whole = joined(for_screen(piece.svg) for piece in pieces)
    assert re.sub(r' data-ink="[^"]*"', "", whole) == for_screen(page)
    # Each stands where the one before ends, and its ink in it.
    top = -100
    for piece in pieces:
        root = etree.fromstring(piece.svg.encode())
        _, begins, _, height = (int(number) for number in root.get("viewBox").split())
        assert begins == top
        for system in (g for g in root.iter(f"{SVG}g") if is_kind(g, "system")):
            first, last = (int(number) for number in system.get("data-ink").split())
            lines = staff_lines(system)
            assert first < lines[0] < lines[-1] <= last
            down = int(system.getparent().get("transform")[len("translate(0, ") : -1])
            assert begins <= first + down and last + down <= begins + height
        top += height


def test_what_falls_amid_its_pieces_is_told_behind_them(monkeypatch):
    tree = etree.parse(SCORES / "Belcke_12_Etudes_08.musicxml").getroot()
    monkeypatch.setattr(engrave, "render_column", leashed.one_piece_then_sigsegv)
    pieces = engrave_column(Tree(tree), "P1", {0: "1"}, ENDLESS)
    assert next(pieces).more
    with pytest.raises(ScoreError):
        next(pieces)


def test_a_line_is_no_fuller_than_it_can_be():
    names = [f"m{k}" for k in range(20)]
    widths = {name: 30.0 + 7.0 * (k % 4) for k, name in enumerate(names)}
    starts = movement_starts([names], {"m7"}, widths, 180.0)
    assert "m7" in starts
    cuts = [0, *(names.index(start) for start in starts), 20]
    for first, last in itertools.pairwise(cuts):
        assert sum(widths[name] for name in names[first:last]) <= 180.0


def test_a_turn_falls_on_a_rest_where_there_is_one():
    systems = [System(etree.Element("g"), Box(0, 0, 100, 1000), 200.0) for _ in range(14)]
    plain = [len(page) for page in distribute(systems, 8000, 12000)]
    assert len(plain) == 2
    for turn in (5, 6):
        rests = [ENOUGH_Q if k == turn - 1 else 0.0 for k in range(13)]
        pages = distribute(systems, 8000, 12000, turn_rests_q=rests)
        assert [len(page) for page in pages] == [turn, 14 - turn]
    # Never for one page more.
    rests = [ENOUGH_Q if k == 0 else 0.0 for k in range(13)]
    assert len(distribute(systems, 8000, 12000, turn_rests_q=rests)) == 2


def test_how_long_a_player_rests_at_a_turn():
    tree = score(
        [
            note("Bb2", "half") + note("rest", "half"),
            rest_measure(),
            rest_measure(),
            note("rest", "quarter") + "".join(note("C3", "quarter") for _ in range(3)),
        ]
    )
    copy, _ = copied(tree)
    assert copy.rests["hs-m0"] == MeasureRests(0.0, 2.0, None)
    assert copy.rests["hs-m1"].all_q == 8.0  # a multiple rest of two measures
    assert copy.rests["hs-m3"] == MeasureRests(1.0, 0.0, None)
    assert rest_at_turn(["hs-m0", "hs-m1"], ["hs-m3"], copy.rests, ()) == 11.0
    assert rest_at_turn(["hs-m0"], ["hs-m3"], copy.rests, ()) == 3.0
    assert rest_at_turn(["hs-m3"], ["hs-m0"], copy.rests, ()) == 0.0
    assert rest_at_turn(["hs-m3"], ["hs-m0"], copy.rests, {"hs-m0"}) == ENOUGH_Q


def cue_measure(stem):
    cue = note("D3", "half").replace("<voice>1", "<voice>2")
    cue = cue.replace("<type>", '<type size="cue">').replace(
        "</type>", f"</type><stem>{stem}</stem>"
    )
    back = "<backup><duration>96</duration></backup>"
    rest = rest_measure().replace("</duration>", "</duration><voice>1</voice>")
    return rest + back + cue + cue


def test_cues_are_small_and_their_rests_close_to_the_staff():
    for stem, step, octave in (("up", "F", "2"), ("down", "B", "3")):
        copy, tree = copied(score([cue_measure(stem), RUN]))
        first = tree.find(".//measure")
        cues = [one for one in first.iter("note") if one.find("cue") is not None]
        assert len(cues) == 2
        (rest,) = first.iter("rest")
        assert rest.findtext("display-step") == step
        assert rest.findtext("display-octave") == octave
        assert copy.rests["hs-m0"].all_q == 4.0
    tree = score([cue_measure("up"), RUN])
    before = etree.tostring(tree)
    page = engraved(tree, "P1", {}, A4).pages[0]
    assert etree.tostring(tree) == before
    sizes = {}
    for group in etree.fromstring(page).iter(f"{SVG}g"):
        if group.get("class") == "notehead":
            ordinal = next(g.get("id") for g in group.iterancestors() if g.get("id"))
            scale = re.findall(r"scale\(([\d.]+)", group.find(f"{SVG}use").get("transform"))
            sizes[ordinal] = float(scale[0])
    assert sizes["hs-n1"] == sizes["hs-n2"] < 0.8 * max(sizes.values())


def test_pieces_of_one_tempo_text_keep_a_blank_between_them():
    split = words("Hornpipe\n").replace("</words>", "</words><words>Allegro</words>")
    _, tree = copied(score([split + RUN, RUN]))
    first, second = tree.iter("words")
    assert (first.text, second.text) == ("Hornpipe\u00a0", "Allegro")
    page = engraved(score([split + RUN, RUN]), "P1", {}, A4).pages[0]
    text = "".join(etree.fromstring(page).itertext())
    assert "Hornpipe\u00a0Allegro" in re.sub(r" *\n *", "", text)
