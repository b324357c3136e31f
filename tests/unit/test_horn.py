"""Horns: lengths from pitches, valve sets, what can't be a horn."""

import math
from dataclasses import replace

import pytest

from handslide.edges.files.horns import HORN_FILES, load_horn
from handslide.ground.errors import AirError, HornError
from handslide.ground.pitch import parse_pitch
from handslide.ground.units import cents
from handslide.instrument.air import Air
from handslide.instrument.horn import (
    Closed,
    Deviation,
    Horn,
    HornDescription,
    Valve,
    ValveDescription,
)

ISO_20_C = 343.2  # m/s


def note(name):
    return Closed(parse_pitch(name))


def tenor(**changes):
    fields = {"name": "t", "title": "", "length_m": 2.945, "travel_m": 0.65, "speed_m_s": ISO_20_C}
    return Horn(**{**fields, **changes})


@pytest.mark.parametrize(
    ("key", "length_m"),
    [
        # L = c/(2f), c = 343.2 m/s (20 °C), A4 = 440 Hz.
        ("Bb2", 1.472), ("Eb2", 2.206), ("C2", 2.624), ("Bb1", 2.945), ("G1", 3.502), ("F1", 3.931),
        ("Eb1", 4.412),
    ],
)  # fmt: skip
def test_acoustic_lengths(key, length_m):
    got = note(key).length_m(440.0, ISO_20_C, ISO_20_C)
    assert got == pytest.approx(length_m, abs=0.0006)


@pytest.mark.parametrize(
    ("speed", "length_m"), [(331.3, 2.843), (340.0, 2.917), (345.0, 2.960), (350.0, 3.003)]
)
def test_the_length_goes_with_the_speed_of_sound(speed, length_m):
    assert note("Bb1").length_m(440.0, speed, 300.0) == pytest.approx(length_m, abs=0.0005)


def test_a_horn_named_by_pitch_follows_a4_and_air():
    description = load_horn("tenor-f")
    for a4_hz in (430.0, 440.0, 443.0):
        for temp_c in (0.0, 15.0, 30.0):
            horn = description.tuned(a4_hz, Air(temp_c=temp_c))
            want = parse_pitch("Bb1").hz(a4_hz)
            assert horn.frequency_hz(1, 0.0) == pytest.approx(want, rel=1e-14)
            with_valve = horn.frequency_hz(1, 0.0, ("F",))
            assert with_valve == pytest.approx(parse_pitch("F1").hz(a4_hz), rel=1e-14)


def test_a_horn_measured_in_hz_keeps_its_length():
    # Measured at 20 °C; 10 K warmer it sounds 29 cents sharper (600·log2(303.15/293.15) = 29.05;
    # moist air adds 0.5), but stays as long.
    description = HornDescription("m", "", Closed(hz=58.0), 0.65, temp_c=20.0)
    cool, warm = (description.tuned(440.0, Air(temp_c=t)) for t in (20.0, 30.0))
    assert cool.length_m == warm.length_m
    assert cool.frequency_hz(1, 0.0) == pytest.approx(58.0, rel=1e-14)
    assert cents(warm.frequency_hz(1, 0.0) / 58.0) == pytest.approx(31.5, abs=0.5)
    assert description.tuned(443.0, Air(temp_c=20.0)).length_m == cool.length_m


def test_zero_degrees_is_a_temperature():
    description = HornDescription("m", "", Closed(hz=58.0), 0.65, temp_c=0.0)
    assert description.tuned(440.0, Air(temp_c=0.0)).frequency_hz(1, 0.0) == pytest.approx(58.0)
    assert load_horn("tenor").tuned(440.0, Air(temp_c=0.0)).speed_m_s < 332.0
    assert load_horn("tenor").tuned().speed_m_s == pytest.approx(347.127, abs=0.001)


@pytest.mark.parametrize(
    ("valves", "semitones"),
    [
        # Loops add, they don't compound: 12·log2(1 + Σ(2^(v/12) - 1)).
        (("F", "Gb"), 8.080), (("F", "G"), 7.295), (("E", "Gb"), 8.921),
    ],
)  # fmt: skip
def test_two_valves_together(valves, semitones):
    length = note("Bb1").length_m(440.0, ISO_20_C, ISO_20_C)
    loops = [Valve(v, note(f"{v}1").length_m(440.0, ISO_20_C, ISO_20_C) - length) for v in valves]
    horn = tenor(length_m=length, valves=tuple(loops))
    ratio = horn.frequency_hz(1, 0.0) / horn.frequency_hz(1, 0.0, valves)
    assert cents(ratio) / 100.0 == pytest.approx(semitones, abs=0.0005)


def test_a_g_flat_valve_for_an_exact_d():
    # L·(2^(8/12) - 2^(5/12)) = 0.25256·L makes F + G♭ an exact D; G♭ alone is then 10 cents sharp.
    length = 2.945
    second = length * (2 ** (8 / 12) - 2 ** (5 / 12))
    assert second / length == pytest.approx(0.25256, abs=5e-6)
    horn = tenor(valves=(Valve("F", length * (2 ** (5 / 12) - 1)), Valve("Gb", second)))
    open_hz = horn.frequency_hz(1, 0.0)
    both = cents(open_hz / horn.frequency_hz(1, 0.0, ("F", "Gb")))
    alone = cents(open_hz / horn.frequency_hz(1, 0.0, ("Gb",)))
    assert both == pytest.approx(800.0, abs=1e-9)
    assert 400.0 - alone == pytest.approx(10.0, abs=0.2)  # "10 cents" is rounded


@pytest.mark.parametrize(
    ("name", "sets"),
    [
        ("tenor", [()]),
        ("tenor-f", [(), ("F",)]),
        ("bass-independent", [(), ("F",), ("Gb",), ("F", "Gb")]),
        # The dependent valve does nothing alone.
        ("bass-dependent", [(), ("F",), ("F", "D")]),
    ],
)
def test_valve_sets(name, sets):
    assert list(load_horn(name).tuned().valve_sets) == sets


@pytest.mark.parametrize(
    ("name", "valves", "closed"),
    [
        ("tenor", (), "Bb"), ("tenor-f", ("F",), "F"), ("tenor-e", ("E",), "E"),
        ("bass-independent", ("Gb",), "Gb"), ("bass-independent", ("F", "Gb"), "D"),
        ("bass-dependent", ("F", "D"), "D"), ("alto-bb", ("Bb",), "Bb"), ("alto", (), "Eb"),
        ("tenor-c-bb", ("C",), "C"), ("contrabass-f", ("C", "Db"), "A"), ("soprano", (), "Bb"),
    ],
)  # fmt: skip
def test_the_note_of_the_closed_tube(name, valves, closed):
    assert load_horn(name).tuned().closed_name(valves) == closed


def test_the_dependent_valve_gives_an_exact_d_and_the_independent_pair_8_cents_less():
    for name, valves, want in (
        ("bass-dependent", ("F", "D"), 0.0),
        ("bass-independent", ("F", "Gb"), -8.0),
    ):
        hz = load_horn(name).tuned().frequency_hz(1, 0.0, valves)
        assert cents(hz / parse_pitch("D1").hz()) == pytest.approx(want, abs=0.05)


def test_a_valve_that_shortens_the_tube():
    horn = load_horn("tenor-c-bb").tuned()
    assert horn.valves[0].loop_m == pytest.approx(horn.length_m * (2 ** (-2 / 12) - 1), rel=1e-12)


@pytest.mark.parametrize("name", HORN_FILES.ours)
def test_positions_and_extensions_are_inverse(name):
    horn = load_horn(name).tuned()
    assert horn.position(0.0) == 1.0
    assert horn.extension_m(1.0) == 0.0
    for position in (1.0, 1.5, 3.62, 7.0, 9.25):
        assert horn.position(horn.extension_m(position)) == pytest.approx(position, abs=1e-12)
    assert horn.extension_m(13.0) == pytest.approx(horn.length_m / 2.0, rel=1e-12)  # an octave


def test_deviations_default_to_none_and_zero_cents_is_a_measurement():
    rows = (Deviation((), 5, -4.0, 10.0), Deviation((), 6, 0.0), Deviation(("F",), 5, 3.0))
    horn = replace(load_horn("tenor-f"), deviations=rows).tuned()
    assert horn.deviation((), 5) == (-4.0, 10.0)
    assert horn.deviation((), 6) == (0.0, 0.0)
    assert horn.deviation((), 4) == (0.0, 0.0)
    assert horn.deviation(("F",), 5) == (3.0, 0.0)
    plain = load_horn("tenor-f").tuned()
    for x, want in ((0.0, -4.0), (0.5, 1.0)):
        ratio = horn.frequency_hz(5, x) / plain.frequency_hz(5, x)
        assert cents(ratio) == pytest.approx(want, abs=1e-9)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"length_m": 294.5}, "a tube of 294 m isn't a slide-brass horn"),
        ({"length_m": 0.4}, "in the right octave"),
        ({"length_m": math.nan}, "isn't a slide-brass horn"),
        ({"travel_m": 65.0}, "a slide travel of 65000 mm isn't possible"),
        ({"travel_m": 0.0}, "a slide travel of 0 mm isn't possible"),
        ({"valves": (Valve("F", 1.0), Valve("F", 1.1))}, "two valves are called 'F'"),
        ({"valves": (Valve("D", 1.0, "F"),)}, "needs valve 'F', which must be listed before"),
        ({"valves": (Valve("D", 1.0, "F"), Valve("F", 1.0))}, "must be listed before it"),
        ({"valves": (Valve("F", 0.0),)}, "'F' would change the tube by 0.000 m"),
        ({"valves": (Valve("F", 9.0),)}, "in the right octave"),
        ({"valves": tuple(Valve(n, 0.3) for n in "ABCDE")}, "5 valves; at most 4"),
        ({"deviations": (Deviation(("F",), 2, 1.0),)}, "valves F that this horn can't engage"),
    ],
)
def test_what_can_not_be_a_horn(changes, words):
    with pytest.raises(HornError, match=words):
        tenor(**changes)


def test_a_dependent_valve_alone_has_no_deviation():
    valves = (Valve("F", 1.0), Valve("D", 0.8, "F"))
    assert tenor(valves=valves, deviations=(Deviation(("F", "D"), 2, 1.0),)).deviations
    with pytest.raises(HornError, match="valves D that this horn can't engage"):
        tenor(valves=valves, deviations=(Deviation(("D",), 2, 1.0),))


@pytest.mark.parametrize("both", [{}, {"pitch": parse_pitch("Bb1"), "hz": 58.0}])
def test_a_closed_tube_is_given_once(both):
    with pytest.raises(HornError, match="either a note or a frequency in Hz"):
        Closed(**both)


@pytest.mark.parametrize("a4_hz", [379.9, 500.1, 0.0, math.nan])
def test_a4_out_of_range(a4_hz):
    with pytest.raises(HornError, match="outside 380 to 500 Hz"):
        load_horn("tenor").tuned(a4_hz)


def test_a_horn_may_have_four_valves():
    assert len(tenor(valves=tuple(Valve(n, 0.3) for n in "ABCD")).valves) == 4


def test_air_out_of_range():
    with pytest.raises(AirError, match="Fahrenheit"):
        load_horn("tenor").tuned(440.0, Air(temp_c=68.0))


def test_a_pitch_in_the_wrong_octave_is_found_out():
    with pytest.raises(HornError, match=r"valve .F. would change the tube .* right octave"):
        HornDescription("x", "", note("Bb1"), 0.65, (ValveDescription("F", note("F0")),)).tuned()
    with pytest.raises(HornError, match="isn't a slide-brass horn"):
        HornDescription("x", "", note("Bb4"), 0.65).tuned()
