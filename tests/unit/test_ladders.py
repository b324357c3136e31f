"""Ladders to hard spots: the excerpt's own notes and places, ending on a held note, on one page."""

from fractions import Fraction

import musicxml_build as mx
import pytest
from drill_words import SAY

from handslide.drills.ladder import SIZES
from handslide.edges.musicxml.read import open_score
from handslide.jobs.practice.ladders import core_of, hardest
from handslide.jobs.practice.lesson import LessonWishes, make_lesson
from handslide.jobs.setup import make_setup

SCORES = [
    mx.HERE.parent / "examples" / "lanterns.musicxml",
    mx.HERE / "scores" / "Galliard_Sonata1.musicxml",
    mx.HERE / "scores" / "Belcke_12_Etudes_08.musicxml",
    mx.HERE / "scores" / "Bordogni_Vocalise_01_PD.musicxml",
]


def lesson_of(path, level="second-year", ladders=6):
    wishes = LessonWishes(level=level, drills=("scales",), ladders=ladders)
    return make_lesson(open_score(path), make_setup("tenor-f"), wishes)


def heard(bar):
    return [note.pitch.midi for note in bar if note.pitch is not None]


def struck_of(bars):
    """What is struck in bars: of tied notes the first."""
    found, tied = [], False
    for bar in bars:
        for note in bar:
            if note.pitch is not None and not tied:
                found.append(note.pitch.midi)
            tied = note.tie
    return found


@pytest.mark.parametrize("path", SCORES, ids=lambda path: path.stem)
@pytest.mark.parametrize("level", ["first-year", "advanced"])
def test_a_ladder_is_made_of_the_excerpt_s_notes_in_their_places(path, level):
    lesson = lesson_of(path, level)
    assert lesson.ladders
    for one in lesson.excerpts:
        steps = lesson.ladders.get(one.spot.first, ())
        if not steps:
            continue
        core = core_of(lesson.marked, one)
        notes = [lesson.marked.part.notes[n] for n in core]
        assert len(core) in SIZES and one.spot.between[1] in core
        assert list(core) == list(range(core[0], core[-1] + 1))
        assert all(one.spot.first <= n.measure_index <= one.spot.last for n in notes)
        midis = [n.sounding.midi for n in notes]
        rhythms, more, end = (step.piece for step in steps)
        # The same notes in each rhythm, and no rhythm twice.
        assert all(heard(bar) == midis for bar in rhythms.bars)
        assert len({tuple(n.beats for n in bar) for bar in rhythms.bars}) == len(rhythms.bars)
        # One more note each time, from the third on.
        assert [heard(bar) for bar in more.bars] == [midis[:k] for k in range(3, len(midis) + 1)]
        # From the end: always on to the last note.
        rows, at = struck_of(end.bars), 0
        counts = range(3, len(midis) + 1)
        if len(rows) != sum(counts):
            counts = (3, len(midis))
        for count in counts:
            assert rows[at : at + count] == midis[-count:]
            at += count
        assert at == len(rows)
        places = [lesson.marked.routed.places[n] for n in core]
        used = {(p.valves, p.partial) for p in places}
        assert {(p.valves, p.partial) for step in steps for p in step.places} == used
        for step in steps:
            assert len(step.piece.bars) <= 14
            *_, last = [n for n in step.piece.notes if n.pitch is not None]
            assert last.beats >= 1 and last.breath and not last.slur
            assert step.piece.tempo_qpm <= lesson.tempos(one)[0]


def test_the_last_note_from_the_end_falls_on_a_beat():
    seen = 0
    for steps in lesson_of(SCORES[0]).ladders.values():
        end = steps[-1].piece
        for bar in end.bars:
            onset = Fraction(0)
            for note in bar:
                if note.breath:
                    assert onset.denominator == 1
                    seen += 1
                onset += note.beats
            assert onset == end.bar_beats
    assert seen


def test_the_hardest_come_first_and_as_many_as_asked():
    lesson = lesson_of(SCORES[1])
    (first,) = hardest(lesson.excerpts, 1)
    assert any(reason.kind == "practice.quickest_move" for reason in first.spot.reasons)
    assert len(lesson_of(SCORES[1], ladders=1).ladders) == 1
    assert not lesson_of(SCORES[1], ladders=0).ladders


def test_a_ladder_stands_below_its_excerpt():
    lesson = lesson_of(SCORES[0], ladders=1)
    rows = [row for group in lesson.worksheet(SAY).groups for row in group.exercises]
    numbers = [row.number for row in rows]
    at = next(k for k, number in enumerate(numbers) if number.endswith(".1"))
    own = numbers[at - 1]
    assert numbers[at : at + 3] == [f"{own}.{step}" for step in (1, 2, 3)]
    assert all(row.problem is None and row.music for row in rows)
    assert "in other rhythms" in rows[at].title
    found = [one for one in lesson.json(SAY)["excerpts"] if one["ladder"]]
    assert len(found) == 1 and len(found[0]["ladder"]) == 3
