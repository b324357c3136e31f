"""Duets for student and teacher: part writing, reach, keys, both parts marked, one system."""

from itertools import pairwise

import music21
import pytest
from command import one_sentence, run, run_json
from drill_words import SAY
from voiceleading import faults

from handslide.drills.levels import LEVELS
from handslide.edges.engraving.engrave import paper_named
from handslide.edges.files.exercises import load_series
from handslide.edges.musicxml.read import read_score
from handslide.ground.errors import BadUsage
from handslide.jobs.practice.drill import DrillWishes, make_drill
from handslide.jobs.setup import make_setup

OWN = """
[[exercise]]
title = "Ours"
keys = ["Bb"]
bars = ["1:2 2:1 0:1", "1:4"]
teacher = ["-6:2 -3:1 -2:1", "-6:4"]
"""


def tonic_of(one):
    return dict(dict(one.piece.title.items)["scale"].items)["tonic"].midi


def name_of(one):
    return dict(dict(one.piece.title.items)["exercise"].items)["name"]


def each_tune():
    """Every duet once, by name."""
    return {
        name_of(one): one
        for level in LEVELS
        for one in make_drill(
            make_setup("tenor-f"), "duets", DrillWishes(level=level, pieces=9)
        ).pieces
    }


def test_every_duet_keeps_the_rules_of_part_writing_in_every_key():
    seen = set()
    for key in ("Bb", "Eb", "F", "G"):
        for level in LEVELS:
            try:
                wishes = DrillWishes(level=level, key=key, pieces=24)
                sheet = make_drill(make_setup("tenor-f"), "duets", wishes)
            except BadUsage as error:
                assert error.fact.kind == "drills.no_exercise"
                continue
            for one in sheet.pieces:
                assert faults(one.piece, tonic_of(one)) == []
                seen.add(name_of(one))
    assert seen == {one.name for one in load_series("duets").exercises}


@pytest.mark.parametrize(
    "teacher, what",
    [
        ('["-3:2 -2:1 -2:1", "-6:4"]', "parallels"),
        ('["-6:2 -5:1 -2:1", "-6:4"]', "parallels"),
        ('["-6:2 -6:1 2:1", "1:4"]', "cross"),
        ('["-6:2 -3:1 -2:1", "-5:4"]', "doesn't end on the tonic"),
    ],
)
def test_the_rules_find_what_is_against_them(tmp_path, teacher, what):
    file = tmp_path / "own.toml"
    file.write_text(OWN.replace('["-6:2 -3:1 -2:1", "-6:4"]', teacher))
    (one,) = make_drill(make_setup("tenor"), str(file), DrillWishes(pieces=1)).pieces
    assert any(what in fault for fault in faults(one.piece, tonic_of(one)))


def _at(voice, moment):
    """What sounds of music21's notes; None for a rest."""
    return next((n for n in voice if n.offset <= moment < n.offset + n.quarterLength), None)


def test_music21_finds_no_parallels_either():
    """A second opinion: music21's VoiceLeadingQuartet on what it reads of the written score."""
    for one in each_tune().values():
        score = music21.converter.parse(one.scored(SAY).decode(), format="musicxml")
        voices = [list(part.stripTies().flatten().notes) for part in score.parts]
        moments = sorted({note.offset for voice in voices for note in voice})
        heard = [[_at(voice, moment) for voice in voices] for moment in moments]
        for a, b in pairwise(heard):
            if None not in (*a, *b):
                quartet = music21.voiceLeading.VoiceLeadingQuartet(a[0], b[0], a[1], b[1])
                assert not (quartet.parallelFifth() or quartet.parallelOctave())


@pytest.mark.parametrize("horn", ["tenor", "alto", "bass-independent"])
@pytest.mark.parametrize("reach", [None, 5, 3])
def test_a_student_finds_a_duet_within_reach_and_the_teacher_plays_the_rest(horn, reach):
    setup = make_setup(horn, reach=reach)
    sheet = make_drill(setup, "duets", DrillWishes(level="first-year"))
    tunes = {name_of(one) for one in sheet.pieces}
    assert len(tunes) >= (1 if reach == 3 else 2)
    for one in sheet.pieces:
        assert 8 <= len(one.piece.bars) <= 16 and len(one.piece.teacher) == len(one.piece.bars)
        assert None not in one.marked.routed.marks.values()
        assert len(one.teacher.routed.places) == len(one.teacher.part.notes)
    if reach is not None:
        assert max(place.position for place in sheet.places) <= reach + 0.3


def test_each_part_is_written_for_its_own_horn():
    wishes = DrillWishes(level="first-year", teacher_horn="bass-independent", pieces=1)
    sheet = make_drill(make_setup("alto"), "duets", wishes)
    score = read_score(sheet.musicxml(SAY))
    student, teacher = (score.read_part(name) for name in ("P1", "P2"))
    assert [n.sounding.midi for n in student.notes] == [
        n.pitch.midi for n in sheet.pieces[0].piece.notes if n.pitch
    ]
    assert "C</sign>" in sheet.musicxml(SAY).decode() and "F</sign>" in sheet.musicxml(SAY).decode()
    data = sheet.json(SAY)["exercises"][0]
    assert data["teacher"]["horn"] == "bass-independent"
    assert len(data["teacher"]["notes"]) == len(teacher.notes)
    assert all(note["mark"] for note in data["teacher"]["notes"])


def test_both_staves_have_their_marks_in_print():
    (one,) = make_drill(make_setup("tenor"), "duets", DrillWishes("first-year", pieces=1)).pieces
    svg = "".join(one.exercise("1", paper_named("a4"), SAY).music)
    assert svg.count('class="mark"') == len(one.marked.shown) + len(one.teacher.shown)
    assert "Student" in svg and "Teacher" in svg


def test_a_teacher_writes_duets(tmp_path):
    file = tmp_path / "own.toml"
    file.write_text(OWN)
    data = run_json("drill", str(file), "--no-pdf", "-o", str(tmp_path))
    assert [note["note"] for note in data["exercises"][0]["teacher"]["notes"]] == [
        "Bb2", "Eb3", "F3", "Bb2",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "was, now, said",
    [
        ('"-6:4"]', '"-6:3"]', "teacher: bar 2 lasts 3"),
        (', "-6:4"]', "]", "teacher has one bar and bars has 2"),
        ('keys = ["Bb"]', 'counted = "half-steps"', "can't have a teacher's voice"),
        ('keys = ["Bb"]', 'ending = ["1:4"]', "has no ending"),
    ],
)
def test_slips_in_a_duet_are_said_in_one_sentence(tmp_path, was, now, said):
    file = tmp_path / "own.toml"
    file.write_text(OWN.replace(was, now))
    assert said in one_sentence(run("drill", str(file), "-o", str(tmp_path), code=1))
