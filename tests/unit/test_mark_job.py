"""Marking a part as a job: what is chosen, what the report says, what doesn't change."""

from pathlib import Path

import musicxml_build as mx
import pypdfium2 as pdfium
import pytest
from lxml import etree

from handslide.edges.musicxml.read import open_score, read_score
from handslide.jobs.mark.mark import MarkOptions, choose_for
from handslide.jobs.setup import make_setup
from handslide.words.hints import TERMINAL
from handslide.words.speech import speech

SAY = speech("en")


def marked(data, horn="tenor-f", options=None, **limits):
    return choose_for(
        read_score(data, "test"), make_setup(horn, **limits), options or MarkOptions()
    )


def marks(one):
    return [one.routed.marks.get(note.index) for note in one.part.notes]


def test_brass_band_treble_sounds_a_major_ninth_lower():
    # British brass bands write the trombone in treble clef, B flat: written C4 is the open second
    # partial B flat 2 (common practice), so written C4 D4 E4 F4 lie in 1, 6 (or T1), 4, 3.
    transpose = (
        "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic>"
        "<octave-change>-1</octave-change></transpose>"
    )
    data = mx.score(mx.part(mx.attributes(more=transpose) + mx.notes("C4 D4 E4 F4")))
    one = marked(data, "tenor")
    assert [note.sounding.name for note in one.part.notes] == ["Bb2", "C3", "D3", "Eb3"]
    assert marks(one) == ["1", "6", "4", "3"]


def test_a_cadenza_in_small_notes_is_marked_when_asked_for():
    # Story: the cadenza of Guilmant's Morceau symphonique is printed in small notes.
    small = [
        mx.note(name, kind="").replace(
            "<voice>1</voice>", '<voice>1</voice><type size="cue">quarter</type>'
        )
        for name in ("C3", "D3")
    ]
    data = mx.score(mx.part(mx.notes("Bb2 Bb2") + "".join(small)))
    assert marks(marked(data)) == ["1", "1"]
    assert [row.kind for row in marked(data).found] == ["cue"]
    one = marked(data, options=MarkOptions(small_notes=True))
    assert [note.sounding.name for note in one.part.notes] == ["Bb2", "Bb2", "C3", "D3"]
    assert one.found == ()


def test_a_repeated_note_has_one_place_in_both_passes():
    measure = mx.tempo(80) + mx.notes("D3 Db3 C3 D3")
    data = mx.score(mx.part(mx.attributes() + measure + mx.repeat()))
    one = marked(data)
    assert len(one.part.played) == 2 * len(one.part.notes)
    assert one.routed.exact
    for notes in one.routed.passes.values():
        assert len({one.routed.solution.chosen[n] for n in notes}) == 1


def test_the_turn_across_a_repeat_counts():
    # common practice: after D3 D flat 3 the line is moving out, so C3 goes on to 6th; when the
    # repeat leads straight back to B flat 2 in 1st, the way back is part of the line.
    plain = marked(mx.score(mx.part(mx.attributes() + mx.tempo(160) + mx.notes("Bb2 Bb2 Bb2 C3"))))
    there_and_back = marked(
        mx.score(
            mx.part(mx.attributes() + mx.tempo(160) + mx.notes("Bb2 Bb2 Bb2 C3") + mx.repeat())
        )
    )
    assert len(there_and_back.routed.moves()) == 2 * 4 - 1
    assert len(plain.routed.moves()) == 3
    assert there_and_back.routed.solution.total > 2 * plain.routed.solution.total


def test_an_unplayable_note_is_named_and_the_others_are_still_routed():
    one = marked(mx.score(mx.part(mx.notes("C3 B1 D3 E3"))))
    assert marks(one)[1] is None
    assert all(mark is not None for k, mark in enumerate(marks(one)) if k != 1)
    (found,) = one.found
    assert (found.measure, found.note, found.kind) == ("1", "B1", "unplayable")
    assert "15 cm further" in SAY.fact(found.told)  # 823 mm against a slide of 670 mm


def test_a_glissando_keeps_one_partial_or_says_why_not():
    slide = '<glissando type="{}" number="1" line-type="wavy"/>'
    measure = mx.note("F3", notations=slide.format("start")) + mx.note(
        "Bb3", notations=slide.format("stop")
    )
    one = marked(mx.score(mx.part(measure + mx.notes("r r"))), "tenor")
    first, second = (one.routed.places[k] for k in (0, 1))
    assert first.partial == second.partial == 4
    # A tritone is the widest glissando (common practice); Bartók's B1 to F2 needs an F horn.
    wide = mx.note("B1", notations=slide.format("start")) + mx.note(
        "F2", notations=slide.format("stop")
    )
    data = mx.score(mx.part(wide + mx.notes("r r")))
    assert {row.kind for row in marked(data).found} == {"unplayable", "glissando"}
    assert marked(data, "contrabass-f").found == ()


def test_show_new_marks_first_times_and_changes():
    # D4 is in 4th beside E flat 4 and in 1st beside B flat 3 (common practice).
    line = mx.notes("Bb3 D4 Bb3 Eb4") + mx.notes("D4 Eb4 D4 Eb4")
    one = marked(mx.score(mx.part(mx.attributes(beats=8) + line)), "tenor", MarkOptions(show="new"))
    assert marks(one) == ["1", "1", "1", "3", "4", "3", "4", "3"]
    assert one.shown == {0: "1", 1: "1", 3: "3", 4: "4"}
    unusual = marked(
        mx.score(mx.part(mx.attributes(beats=8) + line)), "tenor", MarkOptions(show="unusual")
    )
    assert unusual.shown == {4: "4", 6: "4"}


def test_the_report_has_a_section_for_each_question():
    data = mx.score(mx.part(mx.tempo(120) + mx.notes("Bb2 C3 B1 Gb2"), mx.notes("F2 Gb2 E2 D4")))
    sections = {section.heading: section for section in marked(data).report(SAY)}
    assert list(sections) == [
        "In short",
        "Notes that can't be played",
        "What would help",
        "Quickest slide moves",
        "Notes with a valve",
        "Unusual places, and why",
        "Caution",
    ]
    quickest = sections["Quickest slide moves"].rows
    speeds = [float(row[-1].split()[-2]) for row in quickest]
    assert speeds == sorted(speeds, reverse=True)
    assert "hurts" in sections["Caution"].note


def test_with_a_reach_set_there_is_no_caution_and_nothing_beyond():
    data = mx.score(mx.part(mx.notes("Bb2 C3 F2 Gb2")))
    one = marked(data, "tenor", reach=6)
    assert "Caution" not in {section.heading for section in one.report(SAY)}
    assert all(place.position <= 6.2 for place in one.routed.places.values())


@pytest.mark.sample
@pytest.mark.parametrize("path", mx.XML_FILES, ids=lambda path: path.stem)
def test_marking_a_real_file_changes_nothing_but_our_marks(path: Path):
    score = open_score(path)
    before = etree.tostring(score.root, method="c14n")
    valid_before = mx.schema().validate(score.root)
    one = choose_for(score, make_setup("bass-dependent"), MarkOptions())
    first = one.musicxml()
    again = choose_for(read_score(first, path.name), make_setup("bass-dependent"), MarkOptions())
    assert again.musicxml() == first
    written = read_score(first, path.name)
    assert mx.schema().validate(written.root) or not valid_before
    ours = [pi for pi in written.root.iter(etree.ProcessingInstruction) if pi.target == "handslide"]
    assert len(ours) == len(one.shown) > 0
    from handslide.edges.musicxml.marks import remove_marks

    remove_marks(written, one.part.part_id)
    assert etree.tostring(written.root, method="c14n") == before


def test_on_paper_no_option_is_named_and_blanks_that_dont_break_stay():
    """Who reads the print has no command line before them."""
    cue = mx.note("C3", kind="").replace(
        "<voice>1</voice>", '<voice>1</voice><type size="cue">quarter</type>'
    )
    one = marked(mx.score(mx.part(mx.notes("Bb2 Bb2") + cue)))
    say = speech("fr", face=TERMINAL)
    assert "--small-notes" in said(one.report(say))
    page = pdfium.PdfDocument(one.pdf(say))[1].get_textpage().get_text_range()
    assert "--small-notes" not in page
    first = pdfium.PdfDocument(one.pdf(say))[0].get_textpage().get_text_range()
    assert "25\u00a0°C" in first


def said(sections):
    return " ".join(cell for one in sections for row in one.rows for cell in row)
