"""Reasons: facts of each kind, whose words are whole sentences and say what the facts are."""

from dataclasses import replace

import pytest

from handslide.edges.files.horns import load_horn
from handslide.edges.files.profiles import load_profile
from handslide.ground.pitch import parse_pitch
from handslide.instrument.line import parse_line
from handslide.instrument.places import Limits, Place, PlaceBook
from handslide.instrument.reasons import KINDS, Reason, Reasons
from handslide.instrument.route import solve_line
from handslide.words.reasons import REASONS, against_words, reason_words
from handslide.words.speech import speech

SAY = speech("en")
SIXTH = Place((), 3, 0.495, 6.02)
FIRST = Place(("F",), 3, 0.0, 1.0, 12.4)
HALF = Place((), 3, 0.21, 3.5)
MOVED = Reason("moving_out", SIXTH, FIRST, parse_pitch("Db3"), SIXTH, 0.1, -0.49)


def reasons_of(text, horn="tenor-f", locked=(), **limits):
    typed = parse_line(text)
    book = PlaceBook(load_horn(horn).tuned(), Limits(**limits))
    solution = solve_line(typed.line, book, load_profile("classical")).solution
    return Reasons(solution, book, typed.pitches, frozenset(locked))


def test_every_kind_has_words_and_the_reverse():
    assert {*REASONS, "locked", "would_do"} == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_a_sentence_about_its_places(kind):
    reason = replace(MOVED, kind=kind)
    said = reason_words(SAY, reason)
    assert said.startswith("6th") and "{" not in said and "  " not in said
    if kind != "locked":  # of a locked note's place alone
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
            "6th, because D♭3 in 6th comes next, 10 cm away; from 1st with the F valve it would be "
            "49 cm",
        ),
        (
            replace(MOVED, kind="flat"),
            "6th, because in 1st with the F valve it is 12 cents flat",
        ),
        (Reason("locked", SIXTH), "6th, as locked"),
        (Reason("would_do", SIXTH, FIRST), "6th; 1st with the F valve would do as well"),
    ],
)
def test_words(reason, said):
    assert reason_words(SAY, reason) == said


def test_a_note_is_named_as_its_reader_names_notes():
    said = reason_words(speech("en", "german"), replace(MOVED, kind="stays"))
    assert "where it was for des" in said


def test_a_line_that_moves_out_has_its_reason():
    reasons = reasons_of("Eb3 D3 Db3 C3")
    reason = reasons.of(3)
    assert (reason.kind, reason.rival.valves) == ("moving_out", ("F",))
    assert reason.rival_way_m < -0.3 < 0 < reason.way_m
    # Asked about that very place, it is the same reason.
    assert reasons.against(3, reason.rival) == reason


def test_locked_unlearned_and_none():
    assert reasons_of("C3", locked=(0,)).of(0).kind == "locked"
    unlearned = reasons_of("C3", learned=frozenset()).of(0)
    assert (unlearned.kind, unlearned.rival.valves) == ("unlearned", ("F",))
    assert reasons_of("Bb2").of(0) is None


def test_a_glissando_stays_on_its_partial():
    kinds = {reason.kind for reason in map(reasons_of("F3~Bb3~F3").of, range(3)) if reason}
    assert kinds == {"glissando"}
