"""Engraving: what is drawn, what is left out, and where the marks stand."""

import itertools
import re

import pytest
from engraving_scores import (
    RUN,
    dense_measures,
    engraved,
    mark_all,
    note,
    rest_measure,
    score,
    sixteenths,
    words,
)
from lxml import etree

from handslide.edges.engraving.engrave import STAFF_MM, paper_named
from handslide.edges.engraving.marks import mark_width_em
from handslide.ground.errors import ScoreError

A4, LETTER = paper_named("a4"), paper_named("letter")

SVG = "{http://www.w3.org/2000/svg}"


def marks_of(page: str) -> list[tuple[float, float, float, str]]:
    """Return (left, right, baseline, text) of the marks of a page, in engraver's units."""
    found = []
    for group in etree.fromstring(page).findall(f"{SVG}g"):
        down = float(re.findall(r"-?\d+", group.get("transform"))[1])
        for text in group.iter(f"{SVG}text"):
            if text.get("class") == "mark":
                size = float(text.get("font-size").removesuffix("px"))
                left, y = float(text.get("x")), float(text.get("y")) + down
                found.append((left, left + mark_width_em(text.text) * size, y, text.text))
    return found


def group_count(page: str, kind: str) -> int:
    return sum(1 for group in etree.fromstring(page).iter(f"{SVG}g") if group.get("class") == kind)


def test_every_note_and_mark_is_drawn():
    tree = score(dense_measures())
    marks = mark_all(tree)
    result = engraved(tree, "P1", marks, A4)
    assert result.warnings == ()
    drawn = [text for page in result.pages for *_, text in marks_of(page)]
    assert sorted(drawn) == sorted(marks.values())


def test_neighbouring_marks_never_meet():
    tree = score(dense_measures())
    for page in engraved(tree, "P1", mark_all(tree), LETTER).pages:
        rows: dict[float, list[tuple[float, float]]] = {}
        for left, right, baseline, _ in marks_of(page):
            rows.setdefault(baseline, []).append((left, right))
        for row in rows.values():
            row.sort()
            gaps = [b[0] - a[1] for a, b in itertools.pairwise(row)]
            assert all(gap >= 60 for gap in gaps), min(gaps)  # 0.6 mm


def test_marks_stand_centred_over_their_notes():
    tree = score([sixteenths(RUN), sixteenths(RUN)])
    (page,) = engraved(tree, "P1", mark_all(tree), A4).pages
    heads = {}
    for group in etree.fromstring(page).iter(f"{SVG}g"):
        if (group.get("id") or "").startswith("hs-n"):
            use = next(group.iter(f"{SVG}use"))
            heads[group.get("id")] = float(re.findall(r"-?\d+", use.get("transform"))[0])
    texts = [t for t in etree.fromstring(page).iter(f"{SVG}text") if t.get("class") == "mark"]
    assert len(texts) == 32
    for text in texts:
        size = float(text.get("font-size").removesuffix("px"))
        centre = float(text.get("x")) + mark_width_em(text.text) * size / 2
        head_half = 0.59 * STAFF_MM / 4 * 100  # a black head is 1.18 staff spaces wide
        assert centre == pytest.approx(heads[text.get("data-note")] + head_half, abs=25)


def test_the_tree_is_left_as_it_was():
    tree = score(dense_measures(), parts=2)
    before = etree.tostring(tree)
    engraved(tree, "P1", mark_all(tree), A4)
    assert etree.tostring(tree) == before


def test_same_input_same_pages_and_nothing_printed(capfd):
    tree = score(dense_measures())
    first = engraved(tree, "P1", mark_all(tree), A4)
    assert engraved(tree, "P1", mark_all(tree), A4) == first
    assert capfd.readouterr() == ("", "")


def test_only_the_chosen_part():
    tree = score([sixteenths(RUN)] * 3, parts=2)
    (page,) = engraved(tree, "P2", {}, A4).pages
    assert group_count(page, "note") == 0
    assert group_count(page, "multiRest") == 1


def test_unknown_part_is_named():
    with pytest.raises(ScoreError, match="no part 'P7' in the score"):
        engraved(score([sixteenths(RUN)]), "P7", {}, A4)


def test_a_timewise_document_is_refused():
    with pytest.raises(ScoreError, match="score-partwise"):
        engraved(etree.fromstring("<score-timewise/>"), "P1", {}, A4)


def test_part_without_measures_is_refused(capfd):
    with pytest.raises(ScoreError, match="can't be engraved"):
        engraved(score([]), "P1", {}, A4)
    assert capfd.readouterr() == ("", "")


def test_empty_measures_are_gathered_up_to_what_is_printed():
    rests = [rest_measure()] * 300
    rests[200] = words("Allegro") + rest_measure()
    tree = score([sixteenths(RUN), *rests, sixteenths(RUN)])
    (page,) = engraved(tree, "P1", mark_all(tree), A4).pages
    assert group_count(page, "multiRest") == 2
    assert group_count(page, "measure") == 4


def test_double_bar_ends_a_multiple_rest():
    bar = '<barline location="right"><bar-style>light-light</bar-style></barline>'
    tree = score([rest_measure(), rest_measure() + bar, rest_measure(), rest_measure()])
    (page,) = engraved(tree, "P1", {}, A4).pages
    assert group_count(page, "multiRest") == 2


def test_our_old_marks_go_and_the_users_fingering_stays():
    own = "<technical><?handslide mark?><fingering>T1</fingering></technical>"
    users = "<technical><fingering>4</fingering></technical>"
    tree = score([note("Bb3", "half", notations=own) + note("F3", "half", notations=users)])
    (page,) = engraved(tree, "P1", {0: "6"}, A4).pages
    assert group_count(page, "fing") == 1
    texts = "".join(etree.fromstring(page).itertext())
    assert "T1" not in texts
    assert "4" in texts


def test_hidden_notes_stay_hidden_and_get_no_mark():
    hidden = note("F3", "half").replace("<note>", '<note print-object="no">')
    (page,) = engraved(score([note("Bb3", "half") + hidden]), "P1", {0: "1", 1: "6"}, A4).pages
    assert [text for *_, text in marks_of(page)] == ["1"]
    assert etree.fromstring(page).xpath("count(//*[@id='hs-n1']//*[local-name()='use'])") == 0


def test_only_the_asked_staff():
    upper = note("C5", "whole", extra="<staff>1</staff>")
    lower = note("C3", "whole", extra="<staff>2</staff>")
    tree = score([f"{upper}<backup><duration>96</duration></backup>{lower}"] * 2)
    attributes = tree.find("part/measure/attributes")
    etree.SubElement(attributes, "staves").text = "2"
    result = engraved(tree, "P1", {1: "6", 3: "6"}, A4, staff="2")
    (page,) = result.pages
    assert group_count(page, "note") == 2
    assert [text for *_, text in marks_of(page)] == ["6", "6"]
    assert result.warnings == ()


def test_a_note_without_a_head_keeps_its_mark():
    headless = note("C3", "quarter").replace("</type>", "</type><notehead>none</notehead>")
    result = engraved(score([headless * 4]), "P1", {0: "6", 3: "T1"}, A4)
    assert result.warnings == ()


def test_users_lyrics_stay_below_and_the_row_above():
    sung = note("F3", "half").replace("</note>", "<lyric><text>slide</text></lyric></note>")
    (page,) = engraved(score([sung * 2] * 2), "P1", {0: "1", 1: "T3½"}, A4).pages
    assert group_count(page, "verse") == 4
    assert "slide" in "".join(etree.fromstring(page).itertext())


def test_a_cadenza_wider_than_the_page_is_cut():
    tree = score([sixteenths(" ".join([RUN] * 5)), sixteenths(RUN)])
    marks = dict.fromkeys(mark_all(tree), "T3½")
    (page,) = engraved(tree, "P1", marks, A4).pages
    assert group_count(page, "system") >= 4
    right = (A4.music_width_mm + A4.hang_mm) * 100
    assert all(left > 0 and end < right for left, end, *_ in marks_of(page))


def test_no_measure_stands_alone_in_a_short_last_line():
    for count in range(4, 12):
        tree = score([sixteenths(RUN)] * count + [note("Bb2", "whole")])
        page = engraved(tree, "P1", mark_all(tree), A4).pages[-1]
        last = [g for g in etree.fromstring(page).iter(f"{SVG}g") if g.get("class") == "system"][-1]
        measures = [g for g in last.iter(f"{SVG}g") if g.get("class") == "measure"]
        lines = group_count(page, "system")
        assert len(measures) > 1 or lines * 2 > count


def test_staff_size_is_that_of_a_printed_part():
    (page,) = engraved(score([sixteenths(RUN)]), "P1", {}, A4).pages
    staff = next(g for g in etree.fromstring(page).iter(f"{SVG}g") if g.get("class") == "staff")
    lines = [path.get("d") for path in staff.findall(f"{SVG}path")]
    heights = sorted(float(line.split()[1]) for line in lines)
    assert len(heights) == 5
    assert heights[-1] - heights[0] == pytest.approx(STAFF_MM * 100, abs=5)
    assert 6.3 <= STAFF_MM <= 7.7


def test_words_that_look_like_what_the_engraver_writes_stay_words():
    says = ['a id="b" stroke="currentColor"', '<g id="hs-room1" class="harm" />', "> <g> </g>"]
    measure = sixteenths(RUN)
    for text in says:
        escaped = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
        (page,) = engraved(score([words(escaped) + measure]), "P1", {0: "1"}, A4).pages
        drawn = ["".join(one.itertext()) for one in etree.fromstring(page).iter(f"{SVG}text")]
        assert text.split() in [one.split() for one in drawn]
        assert len(marks_of(page)) == 1
