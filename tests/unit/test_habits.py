"""Where the slide was, and habits: planted errors come back, chance makes none."""

from dataclasses import replace

import numpy as np
import pytest

from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import parse_pitch
from handslide.ground.units import cents, midi_to_hz
from handslide.instrument.habits import PlayedNote, find_habits
from handslide.instrument.heardplace import (
    extension_of,
    heard_place,
    m_per_cent,
    why_not_there,
)
from handslide.instrument.horn import Deviation
from handslide.instrument.marks import mark
from handslide.instrument.places import find_place
from handslide.jobs.setup import make_setup
from handslide.words.speech import speech

SETUP = make_setup("tenor-f")
HORN = SETUP.horn
X = parse_pitch("D3")
ENGLISH = speech("en")


def place_of(midi, text):
    found = [p for p in SETUP.book.places(midi) if mark(HORN, p, SETUP.style) == text]
    return found[0]


def rows(rng, count, sd_cents, slip_mm=lambda place, move: 0.0, cents_off=lambda place: 0.0):
    """Random notes in random places with random errors and one planted habit."""
    found, before = [], None
    for _ in range(count):
        places = SETUP.book.places(int(rng.integers(40, 66)))
        place = places[0] if rng.random() < 0.8 else places[int(rng.integers(len(places)))]
        apart = before is None or rng.random() < 0.1
        move = None if apart else 1000 * (place.extension_m - before.extension_m)
        per_cent = 1000 * m_per_cent(HORN, place)
        off = rng.normal(0, sd_cents) - slip_mm(place, move) / per_cent + cents_off(place)
        found.append(
            PlayedNote(X, place, mark(HORN, place, SETUP.style), off, 0.5, per_cent, move,
                       None if apart else before, X)
        )  # fmt: skip
        before = place
    return found


def third(place, move):
    return -15.0 if abs(place.position - 3) < 0.2 and not place.valves else 0.0


# Where the slide was.


@pytest.mark.parametrize("slope", [0.0, 60.0, -80.0])
@pytest.mark.parametrize("x_m", [-0.03, 0.0, 0.1, 0.45, 0.7])
def test_the_extension_is_the_inverse_of_the_frequency(slope, x_m):
    rows = (Deviation((), 5, -14.0, slope), Deviation(("F",), 3, 6.0, slope))
    horn = replace(HORN, deviations=rows)
    for partial, valves in ((5, ()), (3, ("F",)), (2, ())):
        hz = horn.frequency_hz(partial, x_m, valves)
        assert extension_of(horn, hz, partial, valves) == pytest.approx(x_m, abs=1e-9)


# mm for each cent, positions 1 to 7 of a tenor: (L_p · ln 2 / 1200) / 2, table A33 of our notes.
@pytest.mark.parametrize(("number", "mm"), [(1, 0.851), (2, 0.901), (3, 0.955), (4, 1.011),
                                            (5, 1.072), (6, 1.135), (7, 1.203)])  # fmt: skip
def test_millimetres_for_a_cent(number, mm):
    # The table is for air of 20 °C.
    horn = make_setup("tenor", temp_c=20.0).horn
    place = find_place(horn, midi_to_hz(46 - (number - 1)), 2, ())
    assert 1000 * m_per_cent(horn, place) == pytest.approx(mm, abs=0.004)


def test_too_far_out_is_flat_and_positive():
    place = place_of(50, "4")
    target = midi_to_hz(50)
    hz = HORN.frequency_hz(place.partial, place.extension_m + 0.012, ())
    there = heard_place(HORN, place, hz, target)
    assert cents(hz / target) < 0
    assert 1000 * there.off_m == pytest.approx(12.0, abs=1e-6)


def test_a_lipped_place_isnt_blamed_for_its_lip():
    lipped = [p for m in range(40, 66) for p in SETUP.book.places(m) if p.lip_cents > 5]
    assert lipped
    midi = next(m for m in range(40, 66) if lipped[0] in SETUP.book.places(m))
    there = heard_place(HORN, lipped[0], midi_to_hz(midi), midi_to_hz(midi))
    assert there.off_m == pytest.approx(0.0, abs=1e-9)


def test_a_sharp_closed_slide_is_the_lip_or_the_tuning_slide():
    place = place_of(46, "1")
    target = midi_to_hz(46)
    why = why_not_there(HORN, place, target * 2 ** (12 / 1200), target, [])
    assert why == Fact("hearing.lip_or_tuning")
    assert "can't be shorter" in ENGLISH.fact(why)
    assert why_not_there(HORN, place, target * 2 ** (-12 / 1200), target, []) is None


def test_what_the_marked_place_cant_sound_is_looked_for_elsewhere():
    # F3 marked in 1st, 35 cents sharp: there the slide can't be; in 6th it may be 40 mm short.
    place, target = place_of(53, "1"), midi_to_hz(53)
    others = [p for p in SETUP.book.places(53) if p != place]
    why = why_not_there(HORN, place, target * 2 ** (35 / 1200), target, others)
    assert why.kind == "hearing.elsewhere"
    assert why["slide_mm"] == pytest.approx(-40.0, abs=0.5)
    assert "perhaps played in 6th, 40 mm too short" in ENGLISH.fact(why)


def test_a_closed_partial_is_recognised():
    # A flat 4 marked in 3rd, played on the flat 7th partial of the closed slide: 31 cents flat.
    place, target = place_of(68, "3"), midi_to_hz(68)
    why = why_not_there(HORN, place, HORN.frequency_hz(7, 0.0, ()), target, [])
    assert why == fact("hearing.closed_partial", partial=7, valves=())
    assert "7th partial with the slide closed" in ENGLISH.fact(why)


# Habits.


def test_a_short_third_position_is_named_in_millimetres():
    hits, sizes = 0, []
    for seed in range(60):
        found = find_habits(HORN, rows(np.random.default_rng(seed), 80, 4.0, third))
        assert [habit for habit in found if habit.kind != "place"] == []
        hits += bool(found)
        sizes += [habit.slide_mm for habit in found]
    assert hits >= 54
    assert np.median(sizes) == pytest.approx(-15.0, abs=1.0)
    words = ENGLISH.fact(found[0].fact)
    assert words.startswith("3rd position: about 1")
    assert "mm too short on" in words


@pytest.mark.parametrize(
    ("kind", "words", "slip", "off"),
    [
        ("out", "After a move out the slide stops about", lambda p, m: -18 * ((m or 0) > 30), None),
        ("away", "Away from 1st the slide is about", lambda p, m: -18 * (p.extension_m > 0.01),
         None),
        ("all", "main tuning slide", None, lambda p: 16.0),
        ("valve", "Notes with the F valve are about", None, lambda p: -20.0 * bool(p.valves)),
    ],
)  # fmt: skip
def test_a_planted_habit_is_found_and_is_the_only_one(kind, words, slip, off):
    nothing = (lambda p, m: 0.0), (lambda p: 0.0)
    hits = 0
    for seed in range(30):
        rng = np.random.default_rng(seed)
        found = find_habits(HORN, rows(rng, 60, 4.0, slip or nothing[0], off or nothing[1]))
        alone = [habit.kind for habit in found] == [kind]
        hits += alone and words in ENGLISH.fact(found[0].fact)
    assert hits >= 28


@pytest.mark.parametrize(("sd_cents", "most"), [(5.0, 0.01), (8.0, 0.06)])
def test_chance_makes_hardly_any_habit(sd_cents, most):
    false = sum(
        bool(find_habits(HORN, rows(np.random.default_rng(seed), 60, sd_cents)))
        for seed in range(150)
    )
    assert false <= most * 150


def test_below_the_hearing_threshold_nothing_is_said():
    def slip(place, move):
        return -7.0 if abs(place.position - 3) < 0.2 else 0.0

    assert find_habits(HORN, rows(np.random.default_rng(1), 200, 1.0, slip)) == ()


def test_two_notes_are_no_habit():
    row = rows(np.random.default_rng(1), 2, 0.0, lambda p, m: -30.0)
    assert find_habits(HORN, row) == ()
    assert find_habits(HORN, []) == ()


def test_a_closed_slide_that_is_sharp_isnt_told_to_go_in():
    place = place_of(46, "1")
    mixed = [PlayedNote(parse_pitch("Bb2"), place, "1", 18.0, 0.5, 0.85) for _ in range(20)]
    mixed += rows(np.random.default_rng(2), 30, 2.0, lambda p, m: 0.0)
    found = [habit for habit in find_habits(HORN, mixed) if habit.kind == "place"]
    assert [habit.fact.kind for habit in found] == ["habits.closed_place"]
    assert "too short" not in ENGLISH.fact(found[0].fact)


def test_scoops_and_falling_ends():
    base = rows(np.random.default_rng(5), 12, 1.0)
    low = [replace(row, scoop_cents=-45.0 if k % 2 else -5.0) for k, row in enumerate(base)]
    assert [habit.kind for habit in find_habits(HORN, low)] == ["scoop"]
    seldom = [replace(row, scoop_cents=-5.0 if k % 3 else -45.0) for k, row in enumerate(base)]
    assert find_habits(HORN, seldom) == ()
    sink = [replace(row, fall_cents=-18.0) for row in base]
    (habit,) = find_habits(HORN, sink)
    assert habit.kind == "fall"
    assert "Long notes sink about 18 cents to their end on 12 of 12 notes" in ENGLISH.fact(
        habit.fact
    )
