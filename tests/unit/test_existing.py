"""Fingerings that are in a part already, after other programs too; notes that can't be played."""

import re
from dataclasses import replace

import musicxml_build as mx
import pytest
from command import run, run_json
from lxml import etree

from handslide.edges.musicxml.read import open_score, read_score
from handslide.ground.errors import BadUsage, ScoreError
from handslide.instrument.marks import UNPLAYABLE
from handslide.jobs.mark.mark import MarkOptions, choose_for
from handslide.jobs.mark.markjson import mark_json
from handslide.jobs.setup import make_setup
from handslide.words.speech import speech

SAY = speech("en")
KEEP = MarkOptions()


def finger(*texts):
    inside = "".join(f"<fingering>{text}</fingering>" for text in texts)
    return f"<technical>{inside}</technical>"


def score_of(*notes):
    """A part of quarter notes; each is a name, or a name and its fingerings."""
    line = "".join(
        mx.note(one) if isinstance(one, str) else mx.note(one[0], notations=finger(*one[1:]))
        for one in notes
    )
    return mx.score(mx.part(mx.attributes(beats=len(notes)) + line))


def marked(data, horn="tenor", options=KEEP, **limits):
    return choose_for(read_score(data, "test"), make_setup(horn, **limits), options)


def texts(one):
    """All that stands over each note of the written score."""
    root = etree.fromstring(one.musicxml())
    return [[f.text for f in note.iter("fingering")] for note in root.iter("note")]


def without_tags(data):
    """A score as a notation program gives it back: every hidden tag is gone."""
    return re.sub(rb"<\?handslide[^?]*\?>", b"", data)


@pytest.mark.sample
@pytest.mark.parametrize("path", mx.XML_FILES, ids=lambda path: path.stem)
@pytest.mark.parametrize("show", ["all", "new"])
def test_marking_again_after_another_program_doubles_none(path, show):
    setup, options = make_setup("tenor-f"), MarkOptions(show=show)
    first = choose_for(open_score(path), setup, options).musicxml()
    saved = read_score(first, path.name)
    for instruction in list(saved.root.iter(etree.ProcessingInstruction)):
        instruction.getparent().remove(instruction)
    saved = read_score(saved.to_bytes(), path.name)
    one = choose_for(saved, setup, options)
    again = one.musicxml()
    assert [f.text for f in etree.fromstring(_plain(again)).iter("fingering")] == [
        f.text for f in etree.fromstring(_plain(first)).iter("fingering")
    ]
    assert not [row for row in one.found if row.kind == "fingering"]


def _plain(data):
    if data[:2] != b"PK":
        return data
    return etree.tostring(read_score(data).root)


def test_what_reads_as_a_place_stays_and_the_route_goes_through_it():
    # D4 beside B flat 3 is in 1st (common practice); a teacher wants 4th.
    data = score_of("Bb3", ("D4", "4"), "Bb3", ("F3", "b6"))
    one = marked(data)
    assert one.routed.marks[1] == "4" and one.routed.places[3].partial == 4
    first, third = one.routed.marks[0], one.routed.marks[2]
    assert texts(one) == [[first], ["4"], [third], ["b6"]]
    assert one.shown == {0: first, 1: "4", 2: third} and one.kept == {3: "b6"}
    assert one.printed == {0: first, 1: "4", 2: third, 3: "b6"}
    assert one.found == ()
    note = mark_json(SAY, one)["notes"][3]
    assert (note["existing"], note["printed"], note["shown"]) == ("b6", "b6", True)


def test_what_is_no_place_of_its_note_is_named_and_stays_beside_the_mark():
    one = marked(score_of(("C3", "4"), ("Bb2", "legato"), ("F3", "T1"), "Bb2"))
    assert texts(one) == [["4", "6"], ["legato", "1"], ["T1", "1"], ["1"]]
    rows = [(row.number, SAY.fact(row.told)) for row in one.found if row.kind == "fingering"]
    assert rows == [
        (0, "C3 isn't in '4' on this horn"),
        (1, "'legato' over B♭2 isn't a slide position"),
        (2, "'T1' over F3 asks for a valve; this horn has none"),
    ]


def test_what_this_student_cant_use_stays_and_is_named():
    one = marked(score_of(("C3", "6"), ("F3", "1")), "tenor-f", reach=5)
    assert texts(one) == [["6"], ["1"]] and one.routed.marks[0] == "T1"
    (row,) = one.found
    assert "beyond the reach" in SAY.fact(row.told)
    (row,) = marked(score_of(("C3", "T1")), "tenor-f", learned=[]).found
    assert "valve" in SAY.fact(row.told)


def test_our_old_marks_and_the_same_text_are_made_anew():
    one = marked(score_of(("C3", "6", "6"), ("Bb2", "1"), ("F3", "1", "1", "1")))
    assert texts(one) == [["6"], ["1"], ["1"]]
    again = marked(one.score.to_bytes(), "tenor-f", MarkOptions(locks=("1:1=T1",)))
    assert texts(again) == [["T1"], ["1"], ["1"]]
    # A lock of now overrules what stood there.
    bare = without_tags(one.score.to_bytes())
    assert texts(marked(bare, "tenor-f", MarkOptions(locks=("1:1=T1",)))) == [["T1"], ["1"], ["1"]]


def test_a_valves_sign_may_stand_apart():
    one = marked(score_of(("E2", "T", "2"), ("C3", "1", "F")), "tenor-f")
    assert one.kept == {0: "T2", 1: "1F"} and texts(one) == [["T", "2"], ["1", "F"]]
    assert [one.routed.places[n].valves for n in (0, 1)] == [("F",), ("F",)]


def test_replace_takes_all_out():
    data = score_of(("C3", "4"), ("Bb2", "b1"), ("Bb3", "legato"))
    one = marked(data, options=MarkOptions(existing="replace"))
    assert texts(one) == [["6"], ["1"], ["1"]] and one.found == ()


def test_replace_leaves_another_voice_alone():
    other = "<backup><duration>1</duration></backup>" + mx.note(
        "Bb2", voice="2", notations=finger("9")
    )
    data = mx.score(mx.part(mx.note("C3", notations=finger("4")) + other + mx.notes("r r r")))
    assert texts(marked(data, options=MarkOptions(existing="replace")))[:2] == [["6"], ["9"]]


def test_lock_keeps_at_any_cost_and_an_impossible_one_is_an_error():
    lock = MarkOptions(existing="lock")
    one = marked(score_of("Bb3", ("D4", "4"), "Bb3"), options=lock)
    assert one.routed.marks[1] == "4" and one.routed.note(1).reason.kind == "written"
    for data, limits, match in (
        (score_of(("C3", "4")), {}, "measure 1: C3 isn't in '4' on this horn"),
        (score_of(("C3", "6")), {"reach": 5}, "beyond the reach"),
        (score_of(("C3", "T1")), {}, "this horn has none"),
    ):
        with pytest.raises(ScoreError, match=match):
            marked(data, options=lock, **limits)
    # What says nothing about a place is no lock.
    assert texts(marked(score_of(("Bb2", "sim.")), options=lock)) == [["sim.", "1"]]


def test_check_says_what_cant_be_and_what_costs_more():
    data = score_of(
        ("Bb2", "1"), ("F3", "4"), ("D4", "4"), ("Bb3", "1"), ("F3", "6"), ("Bb3", "x"),
        ("C3", "6"),
    )  # fmt: skip
    one = marked(data, "tenor", MarkOptions(existing="check"), reach=5)
    told = mark_json(SAY, one)
    rows = {row["index"]: row for row in told["checks"]}
    assert {index: row["kind"] for index, row in rows.items()} == {
        2: "no_place", 3: "costs_more", 5: "out_of_reach", 6: "unread", 7: "out_of_reach",
    }  # fmt: skip
    assert rows[3]["worse_by"] > 0.7 and rows[3]["best"] == "1" and rows[3]["reason"]
    assert all(row["worse_by"] is None for index, row in rows.items() if index != 3)
    assert rows[2] == rows[2] | {"measure": 1, "written": "4", "note": "F3"}
    assert told["checked"] == 7 and told["together_worse_by"] > 0
    # By hand: locked there, the whole route costs just so much more.
    free = marked(score_of(*["Bb2", "F3", "D4", "Bb3", "F3", "Bb3", "C3"]), "tenor", reach=5)
    there = marked(
        score_of(*["Bb2", "F3", "D4", "Bb3", "F3", "Bb3", "C3"]),
        "tenor",
        MarkOptions(locks=("1:3=4",)),
        reach=5,
    )
    more = there.routed.solution.total - free.routed.solution.total
    assert rows[3]["worse_by"] == pytest.approx(more, abs=1e-3)


def test_our_own_marks_pass_their_check():
    path = mx.OWN_SCORES / "Slama_01.musicxml"
    setup = make_setup("tenor-f")
    data = choose_for(open_score(path), setup, KEEP).musicxml()
    for again in (data, without_tags(data)):
        told = mark_json(SAY, choose_for(read_score(again), setup, replace(KEEP, existing="check")))
        assert told["checks"] == [] and told["checked"] == len(told["notes"]) > 50


def test_check_on_the_command_line_writes_nothing(tmp_path):
    path = tmp_path / "part.musicxml"
    path.write_bytes(score_of(("Bb2", "1"), ("F3", "4")))
    result = run("mark", path, "--existing", "check")
    assert "F3 isn't in '4' on this horn" in result.output
    assert "2 fingerings were read" in result.output
    assert [file.name for file in tmp_path.iterdir()] == ["part.musicxml"]
    (row,) = run_json("mark", path, "--existing", "check")["checks"]
    expected = {"measure": 1, "index": 2, "written": "4", "kind": "no_place", "worse_by": None}
    assert row == row | expected
    path.write_bytes(score_of("Bb2"))
    assert "no fingerings" in run("mark", path, "--existing", "check").output
    path.write_bytes(score_of(("Bb2", "1")))
    assert "nothing to say" in run("mark", path, "--existing", "check").output
    run("mark", path, "--replace-fingerings", code=2)
    path.write_bytes(score_of(("C3", "4")))
    assert "--existing keep" in run("mark", path, "--existing", "lock", "--no-pdf", code=1).stderr


def test_a_fingering_doesnt_tear_a_glissando():
    slide = '<slide line-type="solid" number="1" type="{}"/>'
    line = mx.note("C4", notations=slide.format("start") + finger("6")) + mx.note(
        "Bb3", notations=slide.format("stop")
    )
    one = marked(mx.score(mx.part(line + mx.notes("r r"))))
    assert one.routed.is_possible
    (row,) = [row for row in one.found if row.kind == "fingering"]
    assert "break the glissando" in SAY.fact(row.told)


def test_unknown_ways_are_refused():
    for options in (MarkOptions(existing="maybe"), MarkOptions(report="wall")):
        with pytest.raises(BadUsage):
            marked(score_of("Bb2"), options=options)


# Notes that can't be played


@pytest.mark.parametrize("show", ["all", "unusual", "new"])
def test_a_note_that_cant_be_played_has_its_sign(show):
    data = score_of("Bb2", "C2", ("B1", UNPLAYABLE), "C2")
    one = marked(data, options=MarkOptions(show=show))
    written = texts(one)
    assert [written[k] for k in (1, 2, 3)] == [[UNPLAYABLE]] * 3
    legend = dict(one._sheet(SAY).legend)
    assert legend[UNPLAYABLE] == "can't be played"
    # On a horn that has them the sign goes, with and without its tag.
    data = one.score.to_bytes()
    for again in (data, without_tags(data)):
        other = marked(again, "contrabass-f")
        assert all(UNPLAYABLE not in over for over in texts(other))
        assert UNPLAYABLE not in dict(other._sheet(SAY).legend)


def test_no_place_is_written_like_the_sign_of_the_unplayable():
    from handslide.instrument.markreading import says_position

    assert not says_position(UNPLAYABLE)


def test_the_report_offers_what_would_help():
    low = score_of("Bb2", "C2", "D2", "F2")
    told = mark_json(SAY, marked(low))["remedies"]
    assert told["horn"] == "tenor-f" and told["reach"] is None and told["valves"] == []
    up = marked(low).remedies.intervals
    for interval in up:
        moved = [n.sounding.midi + interval.semitones for n in marked(low).part.notes]
        assert all(make_setup("tenor").book.places(midi) for midi in moved)
    assert next(i.semitones for i in up) == 4  # C2 to E2, the lowest note of the slide
    near = mark_json(SAY, marked(score_of("C3", "Bb2"), reach=5))["remedies"]
    assert near["reach"] == 6.0 and near["horn"] == "tenor-f"
    learn = mark_json(SAY, marked(score_of("C2", "Bb2"), "tenor-f", learned=[]))["remedies"]
    assert learn["valves"] == ["F"]
    assert mark_json(SAY, marked(score_of("Bb2")))["remedies"] is None
    sections = {section.heading: section for section in marked(low).report(SAY)}
    rows = dict(sections["What would help"].rows)
    assert "a major third higher" in rows["transposing"] and "F" in rows["horn"]


# The report


def test_where_the_report_goes(tmp_path):
    pypdfium2 = pytest.importorskip("pypdfium2")
    path = tmp_path / "part.musicxml"
    path.write_bytes(score_of("Bb2", "C2"))
    pages = {}
    for report in ("page", "file", "none"):
        told = run_json("mark", path, "--report", report, "-o", tmp_path / report)
        names = [file.rpartition("/")[2] for file in told["files"]]
        pages[report] = len(pypdfium2.PdfDocument(tmp_path / report / "part-marked.pdf"))
        assert ("part-marked-report.pdf" in names) == (report == "file")
    assert pages == {"page": 2, "file": 1, "none": 1}
    alone = pypdfium2.PdfDocument(tmp_path / "file" / "part-marked-report.pdf")
    assert "can't be played" in alone[0].get_textpage().get_text_bounded()
