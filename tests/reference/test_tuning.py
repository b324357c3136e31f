"""Tuning advice against the closed formula, hand-worked numbers and published statements."""

import math

import pytest

from handslide.edges.files.horns import load_horn
from handslide.ground.errors import BadData
from handslide.ground.units import cents, cents_to_ratio
from handslide.instrument.air import Air
from handslide.instrument.horn import Horn, Valve
from handslide.instrument.tuning import (
    cents_per_kelvin,
    loop_after_main,
    move,
    note_after_loop,
    pull_for_low_note,
    sounding_tube_m,
    tune_loop,
    tune_note,
)

# The tables of facts are for dry air at 20 °C.
C = 343.2
L = C / (2.0 * 58.2705)


def tenor_f(travel_m=0.67, semitones=5.0, **more):
    return Horn(
        name="t", title="t", length_m=L, travel_m=travel_m, speed_m_s=C,
        valves=(Valve("F", L * (2 ** (semitones / 12) - 1)),), **more,
    )  # fmt: skip


def bass(second="Gb", semitones=4.0):
    return Horn(
        name="b", title="b", length_m=L, travel_m=0.67, speed_m_s=C,
        valves=(
            Valve("F", L * (2 ** (5 / 12) - 1)),
            Valve(second, L * (2 ** (semitones / 12) - 1)),
        ),
    )  # fmt: skip


def test_a_loop_20_cents_flat_on_f_by_hand():
    # F tube 3.931 m (facts A55). 20 cents flat: 3.931·2^(20/1200) = 3.977 m, 45.7 mm too long,
    # on two legs 22.8 mm in.
    horn = tenor_f()
    f3 = horn.frequency_hz(4, 0.0, ("F",))
    advice = tune_loop(horn, ("F",), f3, f3 * cents_to_ratio(-20.0))
    assert advice.direction == "in"
    assert advice.difference_cents == pytest.approx(-20.0)
    assert 1000 * advice.change_m == pytest.approx(-45.7, abs=0.1)
    assert advice.pull_mm == pytest.approx(22.8, abs=0.1)
    assert advice.se_cents == pytest.approx(math.hypot(2.0, 2.0))
    assert advice.matters
    assert advice.sure


@pytest.mark.parametrize("off", [-60.0, -20.0, -3.0, 0.0, 3.0, 20.0, 60.0])
@pytest.mark.parametrize("partial", [2, 3, 4, 8])
def test_after_the_pull_the_loop_is_in_tune(off, partial):
    horn = tenor_f()
    open_hz = horn.frequency_hz(partial, 0.0, ("F",))
    # A loop off by that much, sounding on any partial; the open note is the same pitch.
    tube = (L + horn.valves[0].loop_m) * cents_to_ratio(-off)
    valve_hz = partial * C / (2.0 * tube)
    advice = move("F", cents(valve_hz / open_hz), 2.0, sounding_tube_m(horn, valve_hz, ("F",)))
    then = partial * C / (2.0 * (tube + advice.change_m))
    assert cents(then / open_hz) == pytest.approx(0.0, abs=1e-6)
    assert advice.direction == ("none" if off == 0 else "out" if off > 0 else "in")
    assert advice.matters == (abs(off) >= 5.0)


def test_main_slide_by_hand():
    # Bb3 10 cents flat at 2.945 m: 2.945·2^(10/1200) is 17.1 mm too long, 8.5 mm in (facts A33:
    # 0.851 mm for each cent).
    horn = tenor_f()
    target = 233.082
    advice = tune_note(horn, (), target * cents_to_ratio(-10.0), target)
    assert (advice.slide, advice.direction) == ("main", "in")
    assert advice.pull_mm == pytest.approx(8.51, abs=0.05)
    assert advice.pull_se_mm == pytest.approx(2 * 0.851, abs=0.02)


def test_both_valves_together_add_lengths():
    # Facts B31 to B33: F+Gb is D 8.0 c flat, F+G is Eb 29.5 c flat, E+Gb Db 7.9 c sharp.
    for first, second, whole, flat in ((5, 4, 8, 8.0), (5, 3, 7, 29.5), (6, 4, 9, -7.9)):
        tube = 1.0 + (2 ** (first / 12) - 1) + (2 ** (second / 12) - 1)
        assert cents(tube) - 100 * whole == pytest.approx(flat, abs=0.1)


def test_the_loop_of_a_pair_moves_the_single_note_too():
    # Facts B34: with Gb tuned so that F+Gb is exactly D, Gb alone is 10 cents sharp.
    horn = bass()
    both = ("F", "Gb")
    d3 = 146.832
    advice = tune_note(horn, both, horn.frequency_hz(4, 0.0, both), d3, slide="Gb")
    assert advice.direction == "in"
    assert advice.difference_cents == pytest.approx(-8.0, abs=0.1)
    assert note_after_loop(horn, ("Gb",), advice.change_m) == pytest.approx(10.2, abs=0.3)
    new_loop = horn.valves[1].loop_m + advice.change_m
    assert new_loop / L == pytest.approx(0.25256, abs=2e-4)


def test_the_main_slide_takes_open_notes_further_than_valve_notes():
    horn = tenor_f()
    # 20 mm more on 2.945 m and on 3.931 m: 11.7 and 8.8 cents.
    assert loop_after_main(horn, ("F",), 0.020) == pytest.approx(11.72 - 8.79, abs=0.02)
    assert loop_after_main(horn, ("F",), 0.0) == 0.0


@pytest.mark.parametrize(
    ("travel_m", "semitones", "pull_mm"),
    [(0.65, 6.39, 164.0), (0.63, 6.55, None), (0.68, 6.14, None)],
)
def test_e_pull_from_the_real_travel(travel_m, semitones, pull_mm):
    # Facts B28: 65 cm of travel need v = 6.39, some 16.4 cm of pull; 63: 6.55; 68: 6.14.
    pull = pull_for_low_note(tenor_f(travel_m), ("F",), 61.735)
    assert pull.semitones == pytest.approx(semitones, abs=0.01)
    assert pull.extension_m == travel_m
    if pull_mm is not None:
        assert pull.pull_mm == pytest.approx(pull_mm, abs=1.0)
    tube = L + tenor_f().valves[0].loop_m + pull.change_m + 2 * travel_m
    assert 2 * C / (2 * tube) == pytest.approx(61.735, abs=1e-6)


def test_an_exact_e_needs_697_mm_for_low_b():
    # Facts B28: v = 6 exactly still needs 69.7 cm; the loop then needs no pull.
    pull = pull_for_low_note(tenor_f(0.70, semitones=6.0), ("F",), 61.735)
    assert pull.pull_mm == 0.0
    assert pull.extension_m == pytest.approx(0.697, abs=0.0005)


def test_low_c_with_short_slides_facts_b26():
    # To reach C2 with 65, 63, 60 cm the valve must be 7, 25, 51 cents flat of F.
    for travel, flat in ((0.65, 7), (0.63, 25), (0.60, 51)):
        pull = pull_for_low_note(tenor_f(travel), ("F",), 65.406)
        assert pull.lowered_cents == pytest.approx(flat, abs=0.6)


def test_a_loop_that_cannot_come_out_so_far_says_by_how_much():
    with pytest.raises(BadData, match=r"164 mm and has at most 120: .* missed by 44 mm of slide"):
        pull_for_low_note(tenor_f(0.65), ("F",), 61.735, max_pull_mm=120.0)
    with pytest.raises(BadData, match="missed by"):
        pull_for_low_note(tenor_f(0.30), ("F",), 55.0)
    with pytest.raises(BadData, match="above the closed slide with the F valve"):
        pull_for_low_note(tenor_f(), ("F",), 200.0)


def test_zero_is_a_limit_and_not_none():
    with pytest.raises(BadData, match="at most 0"):
        pull_for_low_note(tenor_f(0.65), ("F",), 61.735, max_pull_mm=0.0)


def test_temperature_moves_open_and_valve_notes_alike():
    description = load_horn("tenor-f")
    # Facts A88: 2.953 (20 °C), 2.903 (25 °C) cents for each degree.
    assert cents_per_kelvin(20.0) == pytest.approx(2.953, abs=0.001)
    assert cents_per_kelvin(25.0) == pytest.approx(2.903, abs=0.001)
    pulls = []
    for temp_c in (10.0, 25.0):
        horn = description.tuned(440.0, Air(temp_c=temp_c))
        pulls.append(tune_loop(horn, ("F",), 174.0, 172.0).pull_mm)
    assert pulls[0] / pulls[1] == pytest.approx(
        Air(temp_c=10.0).speed_m_s / Air(temp_c=25.0).speed_m_s, abs=1e-4
    )


@pytest.mark.parametrize(
    ("open_hz", "valve_hz", "why"),
    [
        (174.0, 348.0, "an octave higher"),
        (174.0, 185.0, "is it the same note"),
        (150.0, 149.0, "was the slide closed"),
        (0.0, 170.0, "isn't a frequency"),
        (174.0, math.nan, "isn't a frequency"),
        (174.0, -3.0, "isn't a frequency"),
    ],
)
def test_pairs_that_can_not_be(open_hz, valve_hz, why):
    with pytest.raises(BadData, match=why):
        tune_loop(tenor_f(), ("F",), open_hz, valve_hz)


def test_a_wrong_octave_against_a_note_is_named():
    with pytest.raises(BadData, match="an octave off"):
        tune_note(tenor_f(), (), 116.5, 233.08)


@pytest.mark.parametrize("off_cents", [90.0, -90.0, 1290.0, -1110.0])
def test_another_note_is_no_wrong_octave(off_cents):
    with pytest.raises(BadData) as refused:
        tune_note(tenor_f(), (), 233.08 * cents_to_ratio(off_cents), 233.08)
    assert refused.value.fact.kind == "tuning.other_note"


def test_a_measured_deviation_counts():
    from handslide.instrument.horn import Deviation

    horn = tenor_f(deviations=(Deviation((), 4, 12.0),))
    assert sounding_tube_m(horn, horn.frequency_hz(4, 0.0), ()) == pytest.approx(L)
