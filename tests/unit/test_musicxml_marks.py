"""Marks go into the tree at the right place, and out again without a trace."""

from pathlib import Path

import pytest
from lxml import etree
from musicxml_build import (
    OTHER_FILES,
    OWN_SCORES,
    XML_FILES,
    attributes,
    note,
    notes,
    part,
    schema,
    score,
)

from handslide.edges.musicxml.marks import TARGET, remove_marks, write_marks
from handslide.edges.musicxml.read import Score, ScorePart, open_score, read_score

SCHEMA = schema()
LYRIC = '<lyric number="1"><syllabic>single</syllabic><text>la</text></lyric>'


def canonical(opened: Score) -> bytes:
    return etree.tostring(opened.root, method="c14n")


def all_marks(found: ScorePart) -> dict[int, str]:
    return {one.index: f"{one.index % 7 + 1}" for one in found.notes}


def errors(data: bytes) -> list[str]:
    tree = etree.fromstring(data)
    SCHEMA.validate(tree)
    return sorted(f"{one.path}: {one.message}" for one in SCHEMA.error_log)


def without_marks(root: etree._Element) -> bytes:
    """Canonical form after our marks were cut out by plain means, blanks left aside."""
    for instruction in list(root.iter(etree.ProcessingInstruction)):
        if instruction.target == TARGET:
            technical = instruction.getparent()
            technical.remove(instruction.getnext())
            technical.remove(instruction)
            for element in (technical, technical.getparent()):
                if len(element) == 0 and element.getparent() is not None:
                    element.getparent().remove(element)
    for element in root.iter():
        element.text = (element.text or "").strip() or None
        element.tail = (element.tail or "").strip() or None
    return etree.tostring(root, method="c14n")


@pytest.mark.sample
@pytest.mark.parametrize("path", XML_FILES, ids=lambda path: path.name)
def test_every_file_is_marked_and_restored(path: Path) -> None:
    opened = open_score(path)
    found = opened.read_part()
    before, before_bytes = canonical(opened), opened.to_bytes()
    known_errors = errors(before)
    plain = without_marks(etree.fromstring(before))
    write_marks(opened, found, all_marks(found))
    marked = opened.to_bytes()
    assert canonical(opened).count(b"<?handslide ") == len(found.notes)
    assert without_marks(etree.fromstring(canonical(opened))) == plain
    assert [one.split(":")[-1] for one in errors(canonical(opened))] == [
        one.split(":")[-1] for one in known_errors
    ]
    write_marks(opened, found, all_marks(found))
    assert opened.to_bytes() == marked
    again = read_score(marked, path.name)
    read_again = again.read_part(found.part_id, found.voice)
    assert read_again.notes == found.notes and read_again.onset_s == found.onset_s
    write_marks(again, read_again, all_marks(read_again))
    assert again.to_bytes() == marked
    assert remove_marks(again, found.part_id) == len(found.notes)
    assert again.to_bytes() == before_bytes
    assert remove_marks(opened, found.part_id) == len(found.notes)
    assert canonical(opened) == before and opened.to_bytes() == before_bytes


@pytest.mark.sample
@pytest.mark.parametrize("path", XML_FILES, ids=lambda path: path.name)
def test_each_mark_is_on_its_own_note(path: Path) -> None:
    opened = open_score(path)
    found = opened.read_part()
    write_marks(opened, found, {one.index: f"{one.sounding.name}." for one in found.notes})
    elements = opened.note_elements(found.part_id)
    for one in found.notes:
        element = elements[one.ordinal]
        assert element.findtext("pitch/step") == one.written.step
        assert element.findtext("notations/technical/fingering") is not None
        texts = [each.text for each in element.iterfind("notations/technical/fingering")]
        assert texts[-1] == f"{one.sounding.name}."


def marked(content: str, text: str = "6") -> str:
    opened = read_score(score(part(content)))
    found = opened.read_part()
    write_marks(opened, found, {0: text})
    assert errors(canonical(opened)) == []
    return etree.tostring(opened.note_elements(found.part_id)[0]).decode()


OURS = '<fingering placement="above">6</fingering>'


def test_place_in_the_note() -> None:
    plain = marked(
        note("C3").replace("</note>", '<stem>up</stem><beam number="1">begin</beam></note>')
    )
    assert plain.endswith(
        "</beam><notations><technical><?handslide mark notations?>"
        f"{OURS}</technical></notations></note>"
    )
    sung = marked(note("C3").replace("</note>", f"{LYRIC}</note>"))
    assert f"{OURS}</technical></notations><lyric" in sung


def test_place_in_the_notations() -> None:
    bowed = marked(note("C3", notations='<slur type="start"/>') + notes("D3"))
    assert (
        '<notations><slur type="start"/><technical><?handslide mark technical?>'
        f"{OURS}</technical></notations>" in bowed
    )
    two = note("C3", notations='<tied type="start"/>').replace(
        "</note>", f"<notations><fermata/></notations>{LYRIC}</note>"
    )
    first, second = marked(two).split("<notations><fermata")
    assert OURS in first and OURS not in second
    empty = marked(note("C3").replace("</note>", "<notations/></note>"))
    assert (
        f"<notations><technical><?handslide mark technical?>{OURS}</technical></notations>" in empty
    )


def test_fingering_of_the_user_stays() -> None:
    own = note("C3", notations="<technical><fingering>4</fingering><up-bow/></technical>")
    assert f"<fingering>4</fingering><up-bow/><?handslide mark?>{OURS}</technical>" in marked(own)


def test_what_a_user_adds_beside_a_mark_stays() -> None:
    opened = read_score(score(part(notes("C3 D3"))))
    found = opened.read_part()
    write_marks(opened, found, {0: "6", 1: "4"})
    first, second = opened.note_elements("P1")
    technical = first.find("notations/technical")
    etree.SubElement(technical, "up-bow")
    assert remove_marks(opened, "P1") == 2
    assert etree.tostring(technical.getparent()) == (
        b"<notations><technical><up-bow/></technical></notations>"
    )
    assert second.find("notations") is None


def test_new_marks_take_the_place_of_old_ones() -> None:
    opened = read_score(score(part(notes("C3 D3"))))
    found = opened.read_part()
    write_marks(opened, found, {0: "6", 1: "4"})
    write_marks(opened, found, {1: "♭3"})
    assert [one.text for one in opened.root.iter("fingering")] == ["♭3"]
    write_marks(opened, found, {})
    assert opened.to_bytes() == score(part(notes("C3 D3")))


def test_other_parts_are_left_alone() -> None:
    opened = read_score(
        score(
            part(notes("C3")), part(notes("D3"), part_id="P2"), names=("Trombone 1", "Trombone 2")
        )
    )
    for place in ("1", "2"):
        found = opened.read_part(place)
        write_marks(opened, found, {0: place})
    assert [one.text for one in opened.root.iter("fingering")] == ["1", "2"]
    assert remove_marks(opened, "P1") == 1
    assert [one.text for one in opened.root.iter("fingering")] == ["2"]


def test_marks_are_escaped() -> None:
    assert "&lt;6&amp;&gt;" in marked(note("C3"), "<6&>")


def test_layout_of_the_file_goes_on() -> None:
    """The blanks of a file with closing tags set back, and of one where they aren't."""
    source = (OWN_SCORES / "Slama_01.musicxml").read_bytes()
    opened = read_score(source)
    found = opened.read_part()
    write_marks(opened, found, all_marks(found))
    expected = b"""
        <beam number="1">begin</beam>
        <notations>
          <technical>
            <?handslide mark notations?><fingering placement="above">1</fingering>
            </technical>
          </notations>
        </note>
"""
    assert expected in opened.to_bytes()
    tree = etree.fromstring(score(part(notes("C3 D3"))))
    etree.indent(tree, "\t")
    opened = read_score(etree.tostring(tree))
    found = opened.read_part()
    write_marks(opened, found, all_marks(found))
    again = etree.fromstring(opened.to_bytes())
    written = etree.tostring(again)
    etree.indent(again, "\t")
    joined = etree.tostring(again).replace(b"?>\n\t\t\t\t\t\t<finger", b"?><finger")
    assert joined == written


def test_timewise_is_marked_in_place() -> None:
    content = attributes() + notes("C3 D3 E3 F3")
    data = (
        '<score-timewise version="4.0"><part-list><score-part id="P1"><part-name>Trombone'
        "</part-name></score-part></part-list>"
        f'<measure number="1"><part id="P1">{content}</part></measure>'
        f'<measure number="2"><part id="P1">{notes("G3")}</part></measure></score-timewise>'
    ).encode()
    opened = read_score(data)
    found = opened.read_part()
    write_marks(opened, found, all_marks(found))
    assert errors(canonical(opened)) == []
    assert opened.root.tag == "score-timewise" and opened.to_bytes().count(b"<fingering") == 5
    assert remove_marks(opened, "P1") == 5 and opened.to_bytes() == data


@pytest.mark.sample
@pytest.mark.parametrize("path", OTHER_FILES, ids=lambda path: path.name)
def test_converted_scores_are_marked(path: Path) -> None:
    opened = open_score(path)
    known = errors(canonical(opened))
    found = opened.read_part()
    write_marks(opened, found, all_marks(found))
    assert len(errors(canonical(opened))) == len(known)
