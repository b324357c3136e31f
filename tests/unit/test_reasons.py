"""Reasons: facts of each kind, whose words are whole sentences and say what the facts are."""

from dataclasses import replace

import numpy as np
import pytest
from anyhorn import load_profile
from reason_truth import lies

from handslide.edges.files.horns import load_horn
from handslide.ground.pitch import parse_pitch
from handslide.instrument.effort import route_terms, timing
from handslide.instrument.line import parse_line
from handslide.instrument.places import Limits, Place, PlaceBook
from handslide.instrument.reasons import GROUPS, KINDS, Reasons
from handslide.instrument.rivalry import Reason, Rivalry
from handslide.instrument.route import NEAR_TIE, lay_out, solve_line, usual_place
from handslide.words.catalogues import languages
from handslide.words.reasons import REASONS, SHARED, against_words, reason_words, shared_words
from handslide.words.speech import speech

SAY = speech("en")
SIXTH = Place((), 3, 0.495, 6.02)
FIRST = Place(("F",), 3, 0.0, 1.0, 12.4)
HALF = Place((), 3, 0.21, 3.5)
FIFTH = Place((), 3, 0.38, 4.99)
# Kinds that say something of the note's own place alone.
ALONE = ("locked", "written")
C3, DB3 = parse_pitch("C3"), parse_pitch("Db3")
MOVED = Reason("moving_out", SIXTH, FIRST, DB3, FIFTH, FIFTH, C3, 0.1, -0.49)


def reasons_of(text, horn="tenor-f", locked=(), **limits):
    typed = parse_line(text)
    book = PlaceBook(load_horn(horn).tuned(), Limits(**limits))
    solution = solve_line(typed.line, book, load_profile("classical")).solution
    return Reasons(solution, book, typed.pitches, frozenset(locked))


def test_every_kind_has_words_and_the_reverse():
    assert {*REASONS, "locked", "written", "would_do", "nearly"} == set(KINDS)
    assert set(SHARED) <= set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_a_sentence_about_its_places(kind):
    reason = replace(MOVED, kind=kind)
    said = reason_words(SAY, reason)
    assert said.startswith("6th") and "{" not in said and "  " not in said
    if kind not in ALONE:
        assert not against_words(SAY, reason).startswith("6th")


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        (
            MOVED,
            "6th, because the line is already moving out; in 1st with the F valve the slide would "
            "turn back 49 cm",
        ),
        (
            replace(MOVED, rival_neighbour_place=HALF),
            "6th, because the line is already moving out; in 1st with the F valve (D♭3 then "
            "halfway between 3rd and 4th) the slide would turn back 49 cm",
        ),
        (
            replace(MOVED, kind="on_the_way"),
            "6th, because it lies on the way from D♭3 to C3; in 1st with the F valve the slide "
            "would turn back 49 cm",
        ),
        (
            replace(MOVED, kind="nearer", rival=HALF, rival_way_m=0.285, rival_speed_m_s=2.34),
            "6th, because it is 10 cm from D♭3; halfway between 3rd and 4th the slide would travel "
            "28 cm at 2.3 m/s",
        ),
        (
            replace(MOVED, kind="nearer"),
            "6th, because it is 10 cm from D♭3; in 1st with the F valve the slide would come back "
            "49 cm",
        ),
        (
            replace(MOVED, kind="next_nearer"),
            "6th, because D♭3 in 5th comes next, 10 cm away; from 1st with the F valve it would be "
            "49 cm",
        ),
        (
            replace(MOVED, kind="flat"),
            "6th, because in 1st with the F valve it is 12 cents flat",
        ),
        (
            replace(MOVED, kind="neighbour_worse", rival_neighbour_place=HALF),
            "6th, because 1st with the F valve would put D♭3 halfway between 3rd and 4th",
        ),
        (
            Reason("moves_less", SIXTH, FIRST, way_m=0.2, rival_way_m=0.55),
            "6th, because in 1st with the F valve the slide would go 35 cm further in all",
        ),
        (
            Reason("changes_less", SIXTH, FIRST, more=2),
            "6th, because 1st with the F valve takes 2 more moves of a valve",
        ),
        (
            replace(MOVED, kind="goes_elsewhere", later=True, rival_speed_m_s=2.34),
            "6th, because in 1st with the F valve the slide would have 49 cm at 2.3 m/s to go "
            "from D♭3 to C3 after it, not 10 cm",
        ),
        (
            replace(MOVED, kind="turns_elsewhere", later=False),
            "6th, because in 1st with the F valve the slide would turn at D♭3 before it and go "
            "back 49 cm to C3",
        ),
        (
            Reason("costs_more", SIXTH, FIRST, points=1.26),
            "6th, because in 1st with the F valve the whole line would cost 1.3 points more",
        ),
        (
            Reason("room_to_shake", SIXTH, replace(FIRST, valves=())),
            "6th, because the slide has room to shake the long note; in 1st it is closed",
        ),
        (Reason("locked", SIXTH), "6th, as it was given"),
        (Reason("written", SIXTH), "6th, as written in the part"),
        (Reason("would_do", SIXTH, FIRST), "6th; 1st with the F valve would do as well"),
        (Reason("nearly", SIXTH, FIRST), "6th; 1st with the F valve would do nearly as well"),
    ],
)
def test_words(reason, said):
    assert reason_words(SAY, reason) == said


@pytest.mark.parametrize("code", [code for code in languages() if code != "en"])
def test_every_kind_is_said_in_every_language(code):
    say = speech(code)
    for kind in KINDS:
        for neighbour in (FIFTH, HALF):
            reason = replace(MOVED, kind=kind, rival_neighbour_place=neighbour, more=2)
            said = reason_words(say, reason)
            assert said != reason_words(SAY, reason) and "{" not in said
            assert kind in ALONE or "{" not in against_words(say, reason)
            changed = {"rival_way_m": -0.3, "more": 3, "later": True, "points": 2.0}
            other = replace(reason, rival_neighbour_place=SIXTH, **changed)
            assert kind not in SHARED or shared_words(say, [reason, other]) != said


def test_notes_that_share_a_kind_are_told_in_words_true_of_each():
    other = replace(MOVED, rival_way_m=-0.3)
    assert shared_words(SAY, [MOVED, MOVED]) == reason_words(SAY, MOVED)
    assert shared_words(SAY, [MOVED, other]) == (
        "6th, because the line is already moving out; in 1st with the F valve the slide would turn "
        "back"
    )
    for kind in SHARED:
        told = [replace(row, kind=kind, more=k) for k, row in enumerate((MOVED, other), 1)]
        assert "{" not in shared_words(SAY, told)


def test_a_note_is_named_as_its_reader_names_notes():
    said = reason_words(speech("en", "german"), replace(MOVED, kind="stays"))
    assert "where it was for des" in said


def test_a_line_that_moves_out_has_its_reason():
    reasons = reasons_of("Eb3 D3 Db3 C3")
    reason = reasons.of(3)
    assert (reason.kind, reason.rival.valves) == ("moving_out", ("F",))
    assert reason.rival_way_m < -0.3 < 0 < reason.way_m
    # Asked about that very place, it is the same reason.
    assert reasons.against(reason.rival, 3) == reason


def test_locked_and_none():
    assert reasons_of("C3", locked=(0,)).of(0).kind == "locked"
    # What a student plays on the plain place within his limits needs no reason.
    assert reasons_of("C3", learned=frozenset()).of(0) is None
    assert reasons_of("Bb2").of(0) is None


def test_a_near_tie_has_no_reason_and_is_said_to_be_one():
    line = "Ab3:0.5 F3:0.5 Db3:0.5 Eb3:0.5 C3:0.5 D3:0.5 C3:0.5 Db3:0.5 F3:0.5 A3:0.5"
    reasons = reasons_of(line)
    solution = reasons.solution
    near = 0
    for note, row in enumerate(solution.choices.places):
        for choice, place in enumerate(row):
            if choice == solution.chosen[note]:
                continue
            close = 1e-9 < solution.worse_by[note, choice] <= NEAR_TIE
            near += close
            assert (reasons.against(place, note).kind == "nearly") == close
    assert near


def test_a_glissando_stays_on_its_partial():
    gliding = reasons_of("F3~Bb3~F3")
    kinds = {
        gliding.against(place, 1).kind
        for place in gliding.solution.choices.places[1]
        if gliding.solution.worse_by[1, gliding.solution.choices.places[1].index(place)] > 1e9
    }
    assert kinds == {"glissando"}


def test_every_term_of_effort_has_a_group_and_every_group_can_be_told():
    profile = load_profile("classical")
    book = PlaceBook(load_horn("bass-independent").tuned())
    line = parse_line("(C3 D3) D3 r Bb1 (Bb2 C3) C3 C3~Db3").line
    choices = lay_out(line, book, profile)
    at = choices.at.take((slice(None), 0))
    parts = route_terms(profile, line, at, timing(profile, line))
    assert {name for part in parts for name in part} == set(GROUPS)
    told = Rivalry(
        0,
        (SIXTH,),
        (FIRST,),
        (C3,),
        (False,),
        (),
        {},
        np.zeros(1),
        np.zeros(0),
        np.zeros(0),
        np.zeros(0),
        0.0,
        {},
        SIXTH,
        "F",
    )
    for group in set(GROUPS.values()):
        reason = told.reason(group)
        assert reason is None or reason.kind in KINDS


@pytest.mark.parametrize(
    ("group", "place", "rival", "kind"),
    [
        ("colour", SIXTH, FIRST, "freer"),
        # Never for a place that uses a valve itself, never beside an open rival.
        ("colour", FIRST, replace(FIRST, partial=4), None),
        ("colour", FIRST, replace(FIRST, valves=("F", "Gb")), "fewer_valves"),
        ("colour", SIXTH, HALF, None),
        ("valve", SIXTH, HALF, None),
        ("lip", SIXTH, FIRST, "flat"),
        ("lip", FIRST, SIXTH, None),
        ("between", SIXTH, HALF, "between"),
        ("between", HALF, replace(HALF, position=2.3), None),
        ("partial", SIXTH, replace(SIXTH, partial=7), "unsure"),
        ("partial", replace(SIXTH, partial=7), SIXTH, None),
        # The plain place is nothing that has to be looked for.
        ("plain", replace(SIXTH, alternate=2), replace(FIRST, alternate=3), "looked_for"),
        ("plain", replace(SIXTH, alternate=2), replace(HALF, alternate=3), None),
        ("far", FIRST, SIXTH, "further_out"),
        ("far", SIXTH, FIRST, None),
        ("high", SIXTH, replace(FIRST, partial=5), "high_with_valve"),
        ("high", replace(FIRST, partial=6), replace(FIRST, partial=5), None),
        ("pedal", SIXTH, replace(FIRST, partial=1), "pedal_with_valve"),
        ("pedal", SIXTH, replace(SIXTH, partial=1), None),
        ("second", FIRST, replace(FIRST, valves=("Gb",)), "first_valve"),
        ("second", SIXTH, replace(FIRST, valves=("Gb",)), None),
        ("repeat", SIXTH, FIRST, None),
        ("smear", SIXTH, FIRST, None),
        ("vibrato", SIXTH, replace(FIRST, valves=()), "room_to_shake"),
        ("vibrato", SIXTH, FIFTH, None),
        ("vibrato", FIRST, replace(FIRST, partial=4), None),
    ],
)
def test_each_kind_has_its_condition_on_both_places(group, place, rival, kind):
    usual = replace(HALF, alternate=3)
    told = Rivalry(
        0, (place,), (rival,), (C3,), (False,), (), {}, np.zeros(1),
        *np.zeros((3, 0)), 1.0,
        {7: 0.2}, usual, "F",
    )  # fmt: skip
    reason = told.reason(group)
    assert (None if reason is None else reason.kind) == kind


@pytest.mark.parametrize(
    ("pitches", "ours", "theirs", "kind"),
    [
        (("C3", "C3"), (SIXTH, SIXTH), (SIXTH, FIRST), "repeated"),
        (("C3", "Db3", "C3"), (SIXTH, FIFTH, SIXTH), (SIXTH, FIFTH, FIRST), "returns"),
        (("C3", "Db3", "C3"), (FIRST, FIFTH, SIXTH), (FIRST, FIFTH, FIRST), None),
        (("C3", "C3"), (SIXTH, SIXTH), (FIRST, FIRST), None),
    ],
)
def test_a_note_that_keeps_its_place(pitches, ours, theirs, kind):
    count = len(pitches)
    told = Rivalry(
        count - 1, ours, theirs, tuple(map(parse_pitch, pitches)), (False,) * count,
        (0.2,) * (count - 1), {}, np.zeros(count), np.zeros(count - 1), np.zeros(count - 1),
        np.zeros(max(0, count - 2)), 0.0, {}, FIRST, "F",
    )  # fmt: skip
    reason = told.reason("repeat")
    assert (None if reason is None else reason.kind) == kind


def test_the_checker_finds_what_is_not_true():
    """Each reason of a line, said of another kind or with another number, is found out."""
    setup_horn, profile = load_horn("tenor-f").tuned(), load_profile("classical")
    typed = parse_line("D4:0.25 B3:0.25 D4:0.25 C4:0.25 E4:0.25 D4:0.25 C4:0.25 B3:0.25 C3:1")
    book = PlaceBook(setup_horn)
    solution = solve_line(typed.line, book, profile).solution
    reasons = Reasons(solution, book, typed.pitches)
    found = 0
    for note, row in enumerate(solution.choices.places):
        for place in row:
            if place == solution.places[note]:
                continue
            route = reasons.rival_route(note, place).tolist()
            theirs = [options[k] for options, k in zip(solution.choices.places, route)]
            told = reasons.against(place, note)
            usual = usual_place(solution.choices, note)

            def wrong(reason, note=note, theirs=theirs, usual=usual):
                args = setup_horn, profile, typed.line, solution.places, theirs, note, reason
                return lies(*args, usual)

            assert wrong(told) == []
            if told.neighbour is not None and told.kind != "neighbour_worse":
                found += 1
                assert wrong(replace(told, rival_way_m=told.rival_way_m + 0.02))
                assert wrong(replace(told, neighbour=parse_pitch("A1")))
                other = "moving_in" if told.kind == "moving_out" else "moving_out"
                assert wrong(replace(told, kind=other))
    assert found > 5
