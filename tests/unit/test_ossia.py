"""Ossias of lesson sheets: playable, in the same rhythm, an octave away or of the bar's harmony."""

import musicxml_build as mx
import pytest
from drill_words import SAY

from handslide.edges.musicxml.read import open_score, read_score
from handslide.jobs.mark.mark import MarkOptions, choose_for
from handslide.jobs.practice.lesson import LessonWishes, make_lesson
from handslide.jobs.practice.ossia import ossia_of
from handslide.jobs.setup import make_setup

LANTERNS = mx.HERE.parent / "examples" / "lanterns.musicxml"
SCORES = [LANTERNS, *(mx.HERE / "scores" / f"{name}.musicxml" for name in (
    "Belcke_12_Etudes_08", "Bordogni_Vocalise_01_PD", "Slama_01",
))]  # fmt: skip
# Semitones modulo an octave that two notes of one chord can be apart (common practice).
CHORDAL = {0, 3, 4, 5, 7, 8, 9}


def marked_of(data, horn="tenor", **limits):
    return choose_for(data, make_setup(horn, **limits), MarkOptions())


def of_notes(*measures, horn="tenor", **limits):
    bars = [mx.notes(text) for text in measures]
    data = mx.score(mx.part(mx.attributes() + mx.tempo(80) + bars[0], *bars[1:]))
    return marked_of(read_score(data), horn, **limits)


@pytest.mark.parametrize("path", SCORES, ids=lambda path: path.stem)
@pytest.mark.parametrize("reach", [6, 4])
def test_an_ossia_can_be_played_and_keeps_the_rhythm(path, reach):
    marked = marked_of(open_score(path), reach=reach)
    book = marked.routed.setup.book
    bad = {n.measure_index for n in marked.part.notes if n.index not in marked.routed.places}
    found = 0
    for measure in sorted(bad)[:12]:
        ossia = ossia_of(marked, measure, measure)
        if ossia is None:
            continue
        found += 1
        was = [n for n in marked.part.notes if n.measure_index == measure]
        now = ossia.marked.part.notes
        now = now[len(now) - len(was) :]
        assert [n.beats for n in now] == [n.beats for n in was]
        assert all(book.places(n.sounding.midi) for n in now)
        changed = [(a.sounding, b.sounding) for a, b in zip(was, now) if a.sounding != b.sounding]
        assert set(changed) == set(ossia.changed)
        for old, new in changed:
            assert abs(new.midi - old.midi) <= 12
            assert (new.midi - old.midi) % 12 in CHORDAL
    assert found or not bad


def test_a_figure_goes_up_or_down_an_octave_as_one():
    # No B1 nor C2 on a straight tenor: the whole figure goes up.
    ossia = ossia_of(of_notes("C2 D2 Eb2 D2", "G2 G2 G2 G2"), 0, 1)
    assert [(old.name, new.name) for old, new in ossia.changed] == [
        ("C2", "C3"), ("D2", "D3"), ("Eb2", "Eb3"),
    ]  # fmt: skip
    assert (ossia.first, ossia.last) == (0, 0)
    assert SAY.fact(ossia.told) == "Ossia, a suggestion: the figure an octave higher"
    assert list(ossia.marks.values()) == ["6", "4", "3", "4"]


def test_where_the_octave_would_leap_the_nearest_note_of_the_harmony_stands_in():
    # B3 is too far out; the figure an octave up would lie far above the part, an octave down it has
    # D3, which is too far out as well.
    ossia = ossia_of(of_notes("Bb3 D4 F4 B3", reach=3), 0, 0)
    assert ossia is not None
    ((old, new),) = ossia.changed
    assert old.name == "B3" and (new.midi - old.midi) % 12 in CHORDAL


def test_nothing_is_offered_where_all_can_be_played():
    assert ossia_of(of_notes("Bb2 C3 D3 Eb3"), 0, 0) is None


def test_a_lesson_prints_ossias_small_below_and_names_them():
    wishes = LessonWishes(level="first-year", drills=("scales",))
    lesson = make_lesson(open_score(LANTERNS), make_setup("tenor-f"), wishes)
    rows = [row for group in lesson.worksheet(SAY).groups for row in group.exercises if row.ossia]
    told = lesson.json(SAY)["ossias"]
    assert rows and len(rows) == len(told)
    for row, said in zip(rows, told):
        assert row.ossia_text == said["text"] and said["text"].startswith("Ossia, a suggestion")
    whole = make_lesson(
        open_score(LANTERNS), make_setup("bass-independent"), LessonWishes("advanced")
    )
    assert whole.json(SAY)["ossias"] == [] and whole.beyond == ()
