"""What a report lists: paces, one reason a place and kind, measures by movement, no idle news."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from handslide.edges.musicxml.read import open_score
from handslide.edges.musicxml.scorepart import PlayedMeasure
from handslide.instrument.pace import EASY_M_S, PACES, TOO_QUICK_M_S, pace
from handslide.jobs.mark.mark import MarkOptions, choose_for
from handslide.jobs.mark.measures import MeasureNames, measure_names
from handslide.jobs.mark.report import unusual_groups
from handslide.jobs.setup import make_setup
from handslide.words import report as words
from handslide.words.reasons import reason_words, shared_words
from handslide.words.speech import speech

SAY = speech("en")
SCORES = Path(__file__).parents[1] / "scores"


def marked(name="Galliard_Sonata1.musicxml", horn="tenor-f", **limits):
    return choose_for(open_score(SCORES / name), make_setup(horn, **limits), MarkOptions())


def section(part, title):
    return next((s for s in part.report(SAY) if s.heading == SAY(title)), None)


def test_paces():
    assert [pace(v) for v in (0.0, EASY_M_S, 2.1, 4.9, TOO_QUICK_M_S, 9.0)] == [
        "easy", "easy", "quick", "quick", "too_quick", "too_quick",
    ]  # fmt: skip
    assert [SAY.named("pace", name) for name in PACES] == [
        "easy", "quick", "too quick for this tempo",
    ]  # fmt: skip


def test_speeds_are_told_in_words_beside_the_number():
    part = marked()
    rows = section(part, words.QUICKEST).rows
    assert rows
    for row in rows:
        told, number = re.fullmatch(r"(.*), ([\d.]+) m/s", row[-1]).groups()
        assert told == SAY.named("pace", pace(float(number)))


def test_all_is_well_is_no_news():
    part = marked()
    assert len(part.routed.places) == len(part.part.notes)
    said = " ".join(s.note for s in part.report(SAY))
    assert "have a place" not in said
    missing = marked(horn="tenor", reach=4.0)
    assert len(missing.routed.places) < len(missing.part.notes)
    assert "notes have a place" in section(missing, words.IN_SHORT).note


def test_measures_are_unique_across_movements():
    """Sonata no. 1 has five movements, each counted from 1."""
    part = marked()
    names = measure_names(part.part)
    assert set(names.movements.values()) == {1, 2, 3, 4, 5}
    indices = {note.measure_index for note in part.part.notes}
    assert len({names.name(index) for index in indices}) == len(indices)
    assert SAY(words.MOVEMENTS) in section(part, words.IN_SHORT).note
    for title in (words.QUICKEST, words.UNUSUAL):
        assert all(re.match("[IV]+: ", row[0]) for row in section(part, title).rows)


def test_one_movement_has_plain_numbers():
    names = measure_names(marked("Slama_01.musicxml").part)
    assert names.movements == {}
    assert names.name(2) == "3"


def test_lists_of_measures():
    names = MeasureNames({0: "1", 1: "2", 2: "1", 3: "2"}, {0: 1, 1: 1, 2: 2, 3: 2})
    assert names.listed(SAY, [0, 1, 1, 3]) == "I: 1, 2; II: 2"
    assert names.listed(SAY, [0, 1, 3], 2) == "I: 1, 2 and 1 more"
    assert MeasureNames({0: "1", 5: "6"}, {}).listed(SAY, [0, 5]) == "1, 6"


def test_a_number_that_stands_twice_in_a_movement_is_counted():
    part = marked("Slama_01.musicxml").part
    notes = tuple(
        note._replace(measure="3") if note.measure_index == 8 else note for note in part.notes
    )
    measures = tuple(
        m._replace(number="3") if isinstance(m, PlayedMeasure) and m.index == 8 else m
        for m in part.measures
    )
    names = measure_names(replace(part, notes=notes, measures=measures))
    assert (names.name(2), names.name(8), names.name(3)) == ("3 (#3)", "3 (#9)", "4")


@pytest.mark.parametrize("name", ["Galliard_Sonata1.musicxml", "School_for_Trombone_026.mxl"])
def test_one_reason_for_a_place_and_kind_true_in_each_measure(name):
    routed = marked(name).routed
    groups = unusual_groups(routed, routed.places)
    keys = [
        (routed.pitches[g.numbers[0]].name, routed.marks[g.numbers[0]], g.reasons[0].kind)
        for g in groups
    ]
    assert len(keys) == len(set(keys))
    told = [number for group in groups for number in group.numbers]
    assert sorted(told) == [n for n in sorted(routed.places) if routed.is_unusual(n)]
    for group in groups:
        said = shared_words(SAY, group.reasons)
        single = {reason_words(SAY, reason) for reason in group.reasons}
        assert said in single if len(single) == 1 else not re.search(r"\d+ cm", said)


def test_json_has_no_reason_where_none_is_printed():
    routed = marked().routed
    for number in routed.places:
        reason = routed.note(number).reason
        if not routed.is_unusual(number):
            assert reason is None
