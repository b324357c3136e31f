"""Exercises that are written down: ours and a teacher's own, on every level, within any reach."""

from itertools import pairwise

import pytest
from command import one_sentence, run, run_json
from drill_words import SAY

from handslide.drills.exercise import ROADS
from handslide.drills.kinds import DRILLS, WRITTEN
from handslide.drills.levels import LEVELS
from handslide.edges.files.exercises import EXERCISE_FILES, load_series, read_series
from handslide.ground.errors import BadData, BadUsage
from handslide.jobs.practice.drill import DrillWishes, make_drill
from handslide.jobs.practice.music import struck
from handslide.jobs.setup import make_setup
from handslide.words.names import names

OWN = """
title = "Monday"
[[exercise]]
title = "Home and away"
text = "Slowly."
meter = "3/4"
bars = ["mf 1:1 5:1( 1:1'", "0:1 1:1 r:1"]
ending = ["1:3"]
"""


def notes_of(sheet):
    return [note for one in sheet.pieces for note in struck(one.piece)]


def test_ours_are_the_kinds_and_every_one_has_words():
    assert EXERCISE_FILES.ours == WRITTEN
    used = {one.name for kind in WRITTEN for one in load_series(kind).exercises}
    assert used == set(names()["exercise"])
    assert set(names()["exercise_about"]) == set(WRITTEN)
    assert all(DRILLS[kind].written for kind in WRITTEN)


@pytest.mark.sample
@pytest.mark.parametrize("kind", WRITTEN)
@pytest.mark.parametrize("level", LEVELS)
def test_each_of_ours_can_be_played_at_its_level(kind, level):
    series = load_series(kind)
    sheet = make_drill(make_setup("tenor-f"), kind, DrillWishes(level=level, pieces=24))
    made = {dict(one.piece.title.items).get("name") for one in sheet.pieces}
    made |= {
        dict(dict(one.piece.title.items)["exercise"].items)["name"]
        for one in sheet.pieces
        if one.piece.title.kind == "drills.in_key"
    }
    assert {one.name for one in series.at(level)} <= made


@pytest.mark.sample
@pytest.mark.parametrize("kind", WRITTEN)
@pytest.mark.parametrize("reach", [3, 4, 5])
def test_a_short_arm_has_a_first_year_too(kind, reach):
    sheet = make_drill(make_setup("tenor", reach=reach), kind, DrillWishes(level="first-year"))
    assert sheet.pieces
    assert max(place.position for place in sheet.places) <= reach + 0.3


def test_lip_slurs_are_the_partials_of_the_series_with_the_slide_still():
    """The partials of a tube of B flat: every handbook of the trombone (2nd B flat, 3rd F, 4th
    B flat, 5th D, 6th F); a half step down with each position."""
    sheet = make_drill(make_setup("tenor"), "lip-slurs", DrillWishes(level="advanced", pieces=24))
    row = next(
        one
        for one in sheet.pieces
        if dict(one.piece.title.items).get("partials") == (3, 4, 5, 6, 5, 4, 3)
    )
    first, second = (bar[:7] for bar in row.piece.bars[:2])
    assert [n.pitch.name for n in first] == ["F3", "Bb3", "D4", "F4", "D4", "Bb3", "F3"]
    assert [n.pitch.name for n in second] == ["E3", "A3", "C#4", "E4", "C#4", "A3", "E3"] or [
        n.pitch.midi for n in second
    ] == [52, 57, 61, 64, 61, 57, 52]
    places = row.marked.routed.places
    for k in range(0, 7 * 7, 7):
        ways = [places[k + n].extension_m for n in range(7)]
        assert max(ways) - min(ways) <= 0.03
        assert {round(places[k + n].position) for n in range(7)} == {k // 7 + 1}


@pytest.mark.parametrize("kind", [kind for kind in WRITTEN if kind != "lip-slurs"])
def test_a_first_year_reads_few_signs_small_steps_and_breathes(kind):
    """Common practice of a first year; lip slurs go through all positions, whatever the key."""
    signs, count, steps = 0, 0, list[int]()
    for seed in range(1, 5):
        wishes = DrillWishes(level="first-year")
        sheet = make_drill(make_setup("tenor", reach=3 + seed % 4), kind, wishes, seed)
        notes = notes_of(sheet)
        signs += sheet.musicxml(SAY).decode().count("<accidental")
        count += len(notes)
        steps += [abs(b.pitch.midi - a.pitch.midi) for a, b in pairwise(notes)]
        assert not any(note.pitch.name.startswith("A#") for note in notes)
        for one in sheet.pieces:
            airy = [any(n.pitch is None or n.breath for n in bar) for bar in one.piece.bars]
            assert all(a or b for a, b in zip(airy, [*airy[1:], True])), one.title(SAY)
    assert signs <= 0.05 * count
    assert sum(step in (6, 10, 11, 13, 14) for step in steps) <= 0.005 * len(steps)


def test_it_runs_there_and_back_and_as_far_as_the_arm_goes():
    wishes = DrillWishes(level="first-year", pieces=24)
    sheet = make_drill(make_setup("tenor", reach=4), "lip-slurs", wishes)
    row = next(
        one for one in sheet.pieces if dict(one.piece.title.items).get("partials") == (2, 3, 2)
    )
    stops = [round(row.marked.routed.places[k].position) for k in range(0, 21, 3)]
    assert stops == [1, 2, 3, 4, 3, 2, 1]
    short = make_drill(make_setup("tenor"), "lip-slurs", DrillWishes(level="first-year", bars=5))
    assert all(len(one.piece.bars) <= 6 for one in short.pieces)


@pytest.mark.parametrize("level", LEVELS)
def test_lip_slurs_come_home(level):
    sheet = make_drill(make_setup("tenor-f"), "lip-slurs", DrillWishes(level=level, pieces=24))
    for one in sheet.pieces:
        places = one.marked.routed.places
        stops = [places[k].position for k in sorted(places)]
        assert stops[0] == pytest.approx(stops[-1], abs=0.3)
        assert max(stops) > stops[0] + 1.5 or len({p.partial for p in places.values()}) > 2


def test_a_key_asked_for_is_the_key_of_all():
    wishes = DrillWishes(level="second-year", key="Ab", pieces=6)
    sheet = make_drill(make_setup("tenor-f"), "patterns", wishes)
    assert {one.piece.key.fifths for one in sheet.pieces} == {-4}
    with pytest.raises(BadUsage):
        make_drill(make_setup("tenor-f"), "lip-slurs", DrillWishes(key="Ab"))
    with pytest.raises(BadUsage):
        make_drill(make_setup("tenor-f"), "patterns", DrillWishes(rhythm="dotted"))


def test_with_the_valve_only_where_there_is_one():
    wishes = DrillWishes(level="advanced", pieces=24)
    valves = {
        horn: any(p.valves for p in make_drill(make_setup(horn), "lip-slurs", wishes).places)
        for horn in ("tenor", "tenor-f")
    }
    assert valves == {"tenor": False, "tenor-f": True}


def test_dynamics_and_breaths_are_printed():
    data = make_drill(
        make_setup("tenor"), "long-tones", DrillWishes(level="advanced", pieces=24)
    ).musicxml(SAY)
    for sign in (b"<wedge", b"<pp", b"<ff", b"<breath-mark", b"<mf"):
        assert sign in data


def test_a_file_of_ones_own(tmp_path):
    path = tmp_path / "monday.toml"
    path.write_text(OWN, encoding="utf-8")
    found = run_json("drill", path, "--key", "F", "--no-pdf", "-o", tmp_path)
    assert found["title"] == "Monday"
    (one,) = found["exercises"]
    assert one["title"] == "Home and away: F major"
    assert one["instruction"] == "Slowly."
    assert [note["note"] for note in one["notes"]] == ["F3", "C4", "F3", "E3", "F3", "F3"]
    assert (tmp_path / "monday.musicxml").exists()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            ("1:1 5:1( 1:1'", "1:1 5:1( 1:2'"),
            "exercise 1: bar 1 lasts 4 quarter notes instead of 3",
        ),
        (("0:1 1:1", "0;1 1:1"), "bar 2: '0;1' isn't a note"),
        (("0:1 1:1", "0:1 1:1/0"), "bar 2: '1:1/0' isn't a note"),
        (("0:1 1:1", "Bb2:1 1:1"), "'Bb2:1' can't be where degrees are counted"),
        (('meter = "3/4"', 'meter = "5/4"'), "meter = '5/4': choose one of"),
        (('meter = "3/4"', 'metre = "3/4"'), "unknown key 'metre': did you mean meter?"),
        (
            ('meter = "3/4"', 'meter = "3/4"\ntempo_qpm = 900'),
            "tempo_qpm = 900 must be a number from 20 to 300",
        ),
        (
            ('meter = "3/4"', 'meter = "3/4"\nfrom = 2'),
            "from means nothing where an exercise goes through keys",
        ),
        (
            ('meter = "3/4"', 'meter = "3/4"\nthrough = "positions"'),
            "can't go through positions: give keys",
        ),
        (('meter = "3/4"', 'meter = "3/4"\nlevels = ["third"]'), "levels = 'third': choose one of"),
        (('meter = "3/4"', 'meter = "3/4"\nkeys = ["H"]'), "H is the German name"),
        (("bars = [", "bras = ["), "unknown key 'bras': did you mean bars?"),
        (("[[exercise]]", "[exercise]"), "there is no exercise in it"),
        (("[[exercise]]", "[[exercises]]"), "did you mean exercise?"),
        (("ending =", "ending ="), ""),
    ],
)  # fmt: skip
def test_a_slip_gets_one_sentence_with_its_place(change, words, tmp_path):
    text = OWN.replace(*change)
    if not words:
        assert read_series(text, "monday.toml").title == "Monday"
        return
    with pytest.raises(BadData):
        read_series(text, "monday.toml")
    path = tmp_path / "monday.toml"
    path.write_text(text, encoding="utf-8")
    said = one_sentence(run("drill", path, "--no-pdf", "-o", tmp_path, code=1))
    assert words in said and "monday.toml" in said


@pytest.mark.parametrize(("name", "code"), [("no-such", 2), ("missing.toml", 1)])
def test_what_isn_t_there_is_said(name, code, tmp_path):
    assert name in one_sentence(run("drill", name, "-o", tmp_path, code=code))


def test_each_way_of_counting_has_a_road():
    assert all(ROADS.values())
    for counted, through, bar in (
        ("partials", "partials", "+0:1 +1:1 2:2"),
        ("half-steps", "half-steps", "0:1 -1:1 +2:2"),
        ("notes", "once", "Bb2:1 F3:1 Bb3:2"),
    ):
        text = f'[[exercise]]\ncounted = "{counted}"\nthrough = "{through}"\nbars = ["{bar}"]\n'
        (row,) = read_series(text, "x.toml").exercises
        assert (row.counted, row.through) == (counted, through)
