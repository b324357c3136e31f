"""Places on ideal horns against the harmonic series, slide tables and what players say.

The reference horn stands in 20 °C dry air (343.2 m/s, ISO 9613-1) at A4 = 440 Hz: the closed
length of a B♭ tenor is then 2.945 m. Tolerances: positions 0.005 (half a cent), extensions 0.5 mm
(half a cent too), both the rounding of the tables.
"""

import itertools
import math
import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handslide.edges.files.horns import HORN_FILES, load_horn
from handslide.ground.pitch import parse_pitch
from handslide.ground.units import cents, midi_to_hz
from handslide.instrument.air import Air
from handslide.instrument.horn import Deviation, Horn, Valve
from handslide.instrument.places import (
    Limits,
    Place,
    PlaceBook,
    find_place,
    find_places,
    shortest,
)

C_20 = 343.2
MIDI = {name: parse_pitch(name).midi for name in ("Bb1", "Bb2", "F3", "Bb3", "D4", "F4", "Ab4")}


def ideal(key="Bb1", travel_m=0.65, valves=(), **changes):
    """A horn at 20 °C; ``valves`` are (name, semitones that the valve lowers the closed horn)."""
    length = C_20 / (2.0 * parse_pitch(key).hz())
    loops = tuple(Valve(name, length * (2 ** (v / 12) - 1)) for name, v in valves)
    return Horn(
        name="ideal", title="", length_m=length, travel_m=travel_m, speed_m_s=C_20, valves=loops,
        **changes,
    )  # fmt: skip


def hz(name):
    return parse_pitch(name).hz()


def place_of(horn, name, partial, valves=()):
    return find_place(horn, hz(name), partial, valves)


# Harmonic series against equal temperament, 1200·log2(n): partial -> (note in 1st, cents above it).
SERIES = {
    1: ("Bb1", 0.0), 2: ("Bb2", 0.0), 3: ("F3", 1.955), 4: ("Bb3", 0.0), 5: ("D4", -13.686),
    6: ("F4", 1.955), 7: ("Ab4", -31.174), 8: ("Bb4", 0.0), 9: ("C5", 3.910), 10: ("D5", -13.686),
    11: ("E5", -48.682), 12: ("F5", 1.955), 13: ("Gb5", 40.528), 14: ("Ab5", -31.174),
    15: ("A5", -11.731), 16: ("Bb5", 0.0),
}  # fmt: skip


@pytest.mark.parametrize(("partial", "row"), SERIES.items())
def test_harmonic_series_of_the_closed_slide(partial, row):
    name, above = row
    got = cents(ideal().frequency_hz(partial, 0.0) / hz(name))
    assert got == pytest.approx(above, abs=0.0006)


@pytest.mark.parametrize(
    ("partial", "name", "mm"), [(3, "F3", 1.66), (6, "F4", 1.66), (9, "C5", 3.3), (12, "F5", 1.7)]
)
def test_how_far_out_1st_is_for_the_sharp_partials(partial, name, mm):
    assert 1000 * place_of(ideal(), name, partial).extension_m == pytest.approx(mm, abs=0.05)


@pytest.mark.parametrize(("partial", "name", "mm"), [(5, "D4", 11.6), (7, "Ab4", 26.3)])
def test_how_far_in_1st_would_have_to_be_for_the_flat_partials(partial, name, mm):
    horn = ideal(lip_up_cents=100.0)
    place = place_of(horn, name, partial)
    assert place.extension_m == 0.0
    missing = horn.length_m * (1 - 2 ** (-place.lip_cents / 1200.0)) / 2.0
    # (L/2)·(1 - 2^(-c/1200)) for 13.686 and 31.174 cents.
    assert 1000 * missing == pytest.approx(mm, abs=0.05)


# k semitones out: (L/2)·(2^(k/12) - 1), in cm at 343.2 m/s.
SEVEN = {
    "Bb2": (0, 4.38, 9.02, 13.93, 19.14, 24.65, 30.50),  # soprano
    "Eb2": (0, 6.56, 13.51, 20.87, 28.67, 36.94, 45.69),  # alto
    "C2": (0, 7.80, 16.06, 24.82, 34.10, 43.92, 54.34),  # tenor in C
    "Bb1": (0, 8.76, 18.03, 27.86, 38.27, 49.30, 60.99),  # tenor and bass
    "G1": (0, 10.41, 21.44, 33.13, 45.51, 58.63, 72.53),  # bass in G
    "F1": (0, 11.69, 24.07, 37.19, 51.09, 65.81, 81.41),  # contrabass in F
}


@pytest.mark.parametrize(("key", "cm"), SEVEN.items())
def test_seven_positions(key, cm):
    horn = ideal(key, travel_m=0.9)
    midi = parse_pitch(key).midi + 12
    for k, want in enumerate(cm):
        place = find_place(horn, midi_to_hz(midi - k), 2, ())
        assert place.position == pytest.approx(1.0 + k, abs=1e-12)
        # Half a millimetre; the tables are rounded to a tenth of one.
        assert 1000 * place.extension_m == pytest.approx(10 * want, abs=0.5)


def test_steps_between_positions_grow_by_a_semitone():
    x = [ideal().extension_m(p) for p in range(1, 8)]
    steps = [b - a for a, b in itertools.pairwise(x)]
    for got, want in zip(steps, (8.76, 9.28, 9.83, 10.41, 11.03, 11.69)):
        assert 100 * got == pytest.approx(want, abs=0.006)
    for a, b in itertools.pairwise(steps):
        assert b / a == pytest.approx(2 ** (1 / 12), rel=1e-12)


def test_positions_in_inches():
    inches = (0, 3.45, 7.10, 10.97, 15.07, 19.41, 24.01)
    for position, want in enumerate(inches, 1):
        assert ideal().extension_m(position) / 0.0254 == pytest.approx(want, abs=0.006)


@pytest.mark.parametrize(
    ("length_m", "cm"),
    [
        # The same formula for other lengths: which length is meant moves 7th by 5 cm.
        (2.70, (0, 8.0, 16.5, 25.5, 35.1, 45.2, 55.9)),
        (2.90, (0, 8.6, 17.8, 27.4, 37.7, 48.6, 60.1)),
    ],
)
def test_positions_for_other_lengths(length_m, cm):
    horn = replace(ideal(), length_m=length_m)
    for position, want in enumerate(cm, 1):
        assert 100 * horn.extension_m(position) == pytest.approx(want, abs=0.06)


def test_a_worked_table_of_another_author():
    # C. Bell, "An overview of the trombone" (2025): f1 = 58.27 Hz, c = 331 m/s; mm printed as cm.
    horn = replace(ideal(), length_m=331.0 / (2 * 58.27))
    for position, mm in enumerate((0, 84, 174, 269, 369, 476, 588), 1):
        assert 1000 * horn.extension_m(position) == pytest.approx(mm, abs=1.0)


def test_slide_length_of_low_e():
    # E1 needs 4.165 m of tube at 343.2 m/s: 7th position.
    place = place_of(ideal(), "E1", 1)
    assert ideal().length_m + 2 * place.extension_m == pytest.approx(4.165, abs=0.0006)
    assert place.position == pytest.approx(7.0, abs=1e-12)


@pytest.mark.parametrize(
    ("position", "mm_per_cent"),
    [(1, 0.851), (2, 0.901), (3, 0.955), (4, 1.011), (5, 1.072), (6, 1.135), (7, 1.203)],
)
def test_slide_per_cent(position, mm_per_cent):
    horn, h = ideal(), 0.005
    slope = horn.extension_m(position + h) - horn.extension_m(position - h)
    assert 1000 * slope == pytest.approx(mm_per_cent, abs=0.0006)  # 2h is one cent


def test_half_a_centimetre_of_slide():
    # 5.9 cents in 1st and 4.2 in 7th, both outward.
    for position, want in ((1, 5.9), (7, 4.2)):
        horn = ideal()
        x = horn.extension_m(position)
        got = cents(horn.frequency_hz(2, x) / horn.frequency_hz(2, x + 0.005))
        assert got == pytest.approx(want, abs=0.06)


def test_not_the_closed_cylinder():
    # A textbook exercise takes the 2nd mode of a closed cylinder, L = 3c/(4f): 2.214 m at 344 m/s,
    # A2 at 6.58 cm. Players' slides disagree; the harmonic model gives 8.78 and 11.71 cm.
    horn = replace(ideal(), length_m=344.0 / (2 * parse_pitch("Bb1").hz()), speed_m_s=344.0)
    x = [100 * horn.extension_m(p) for p in range(1, 8)]
    assert x[1] == pytest.approx(8.78, abs=0.006)
    assert x[6] - x[5] == pytest.approx(11.71, abs=0.006)
    assert abs(x[1] - 6.58) > 2.0


@pytest.mark.parametrize(
    ("travel_cm", "furthest"),
    [(45, 5.62), (50, 6.06), (55, 6.49), (60, 6.92), (65, 7.33), (70, 7.73)],
)
def test_furthest_position_of_a_travel(travel_cm, furthest):
    assert ideal().position(travel_cm / 100.0) == pytest.approx(furthest, abs=0.005)


# Positions of n semitones below the closed note with a valve that lowers by v:
# 1 + 12·log2(1 + 2^(v/12)·(2^(n/12) - 1)), on the open horn's scale.
VALVES = {
    "G": (3, (1.000, 2.183, 3.354, 4.513, 5.663, 6.803, 7.934, 9.057)),
    "Gb": (4, (1.000, 2.251, 3.484, 4.702, 5.904, 7.093, 8.270, 9.435)),
    "F": (5, (1.000, 2.322, 3.621, 4.899, 6.156, 7.396, 8.620, 9.828)),
    "E": (6, (1.000, 2.398, 3.765, 5.105, 6.420, 7.711, 8.982, 10.234)),
    "Eb": (7, (1.000, 2.478, 3.917, 5.321, 6.694, 8.039, 9.359)),
    "D": (8, (1.000, 2.562, 4.075, 5.547, 6.980, 8.380, 9.748)),
    "Db": (9, (1.000, 2.650, 4.242, 5.783, 7.278, 8.733)),
    "Ab": (2, (1.000, 2.119, 3.230, 4.334, 5.432, 6.524, 7.610, 8.691)),
}


@pytest.mark.parametrize("name", VALVES)
def test_positions_with_a_valve(name):
    semitones, positions = VALVES[name]
    horn = ideal(travel_m=1.2, valves=((name, semitones),))
    closed = parse_pitch("Bb2").midi - semitones
    for n, want in enumerate(positions):
        place = find_place(horn, midi_to_hz(closed - n), 2, (name,))
        assert place.position == pytest.approx(want, abs=0.0006)


@pytest.mark.parametrize(
    ("name", "cm"),
    [
        ("F", (0, 11.7, 24.1, 37.2, 51.1, 65.8, 81.4)),
        ("E", (0, 12.4, 25.5, 39.4, 54.1, 69.7)),
        ("D", (0, 13.9, 28.6, 44.2, 60.8, 78.3)),
        ("Gb", (0, 11.0, 22.7, 35.1, 48.2, 62.1, 76.8)),
    ],
)
def test_extensions_with_a_valve(name, cm):
    semitones = VALVES[name][0]
    horn = ideal(travel_m=0.9, valves=((name, semitones),))
    closed = parse_pitch("Bb2").midi - semitones
    for n, want in enumerate(cm):
        place = find_place(horn, midi_to_hz(closed - n), 2, (name,))
        assert 1000 * place.extension_m == pytest.approx(10 * want, abs=0.5)


@pytest.mark.parametrize(
    ("horn", "valves", "like"),
    [
        # L·2^(v/12): a horn with a valve is exactly the horn in the key of the valve.
        (ideal("Bb1", 0.6, (("F", 5),)), ("F",), ideal("F1", 0.6)),
        (ideal("Eb2", 0.6, (("Bb", 5),)), ("Bb",), ideal("Bb1", 0.6)),
        (ideal("C2", 0.6, (("Bb", 2),)), ("Bb",), ideal("Bb1", 0.6)),
    ],
)
def test_a_valve_makes_the_horn_of_its_key(horn, valves, like):
    for midi in range(28, 60):
        for partial in range(1, 9):
            got = find_place(horn, midi_to_hz(midi), partial, valves)
            want = find_place(like, midi_to_hz(midi), partial, ())
            assert (got is None) == (want is None)
            if got is not None:
                assert got.extension_m == pytest.approx(want.extension_m, abs=1e-12)
                assert got.lip_cents == pytest.approx(want.lip_cents, abs=1e-9)


def test_distances_with_the_f_valve_are_a_third_longer():
    # 1.3348 times (common practice: "a third longer").
    horn = ideal(valves=(("F", 5),))
    open_step = place_of(horn, "A2", 2).extension_m
    valve_step = place_of(horn, "E2", 2, ("F",)).extension_m
    assert valve_step / open_step == pytest.approx(2 ** (5 / 12), rel=1e-12)
    assert horn.loops_m(("F",)) == pytest.approx(0.986, abs=0.0006)  # "about 1 m"


@pytest.mark.parametrize(
    ("travel_cm", "semitones"), [(58, 4.48), (60, 4.61), (65, 4.95), (68, 5.14), (70, 5.27)]
)
def test_how_far_below_f_a_slide_reaches(travel_cm, semitones):
    horn = ideal(travel_m=travel_cm / 100.0, valves=(("F", 5),))
    got = cents(horn.frequency_hz(2, 0.0, ("F",)) / horn.frequency_hz(2, horn.travel_m, ("F",)))
    assert got / 100.0 == pytest.approx(semitones, abs=0.0055)
    assert (place_of(horn, "C2", 2, ("F",)) is not None) == (travel_cm >= 66)
    assert place_of(horn, "B1", 2, ("F",)) is None


@pytest.mark.parametrize(("travel_cm", "flat"), [(65, 7), (63, 25), (60, 51)])
def test_how_flat_the_valve_must_be_for_low_c(travel_cm, flat):
    for extra, found in ((1.5, True), (-1.5, False)):
        horn = ideal(travel_m=travel_cm / 100.0, valves=(("F", 5 + (flat + extra) / 100.0),))
        assert (place_of(horn, "C2", 2, ("F",)) is not None) == found


@pytest.mark.parametrize(("travel_cm", "semitones"), [(65, 6.39), (63, 6.55), (68, 6.14)])
def test_how_far_the_valve_must_be_pulled_for_low_b(travel_cm, semitones):
    for extra, found in ((0.01, True), (-0.01, False)):
        horn = ideal(travel_m=travel_cm / 100.0, valves=(("E", semitones + extra),))
        assert (place_of(horn, "B1", 2, ("E",)) is not None) == found


def test_an_exact_e_valve_needs_a_long_slide_for_low_b():
    place = place_of(ideal(travel_m=0.72, valves=(("E", 6),)), "B1", 2, ("E",))
    assert place.position == pytest.approx(7.711, abs=0.0006)
    assert place.extension_m == pytest.approx(0.697, abs=0.0006)
    # From F to E the loop grows by 23.4 cm: 11.7 cm of tuning-slide pull.
    f, e = (ideal(valves=((n, v),)).loops_m((n,)) for n, v in (("F", 5), ("E", 6)))
    assert e - f == pytest.approx(0.234, abs=0.0006)


# Positions on an ideal horn; None: the note is flat in 1st (position below 1).
ALTERNATES = {
    "Bb3": {4: 1.00, 5: 4.86}, "B3": {5: 3.86, 6: 7.02}, "C4": {5: 2.86, 6: 6.02},
    "Db4": {5: 1.86, 6: 5.02}, "D4": {5: None, 6: 4.02, 7: 6.69}, "Eb4": {6: 3.02, 7: 5.69},
    "E4": {6: 2.02, 7: 4.69, 8: 7.00}, "F4": {6: 1.02, 7: 3.69, 8: 6.00},
    "Gb4": {7: 2.69, 8: 5.00, 9: 7.04}, "G4": {7: 1.69, 8: 4.00, 9: 6.04},
    "Ab4": {8: 3.00, 9: 5.04, 10: 6.86}, "A4": {8: 2.00, 9: 4.04, 10: 5.86},
    "Bb4": {8: 1.00, 9: 3.04, 10: 4.86, 11: 6.51}, "B4": {9: 2.04, 10: 3.86, 11: 5.51, 12: 7.02},
    "C5": {9: 1.04, 10: 2.86, 11: 4.51, 12: 6.02}, "Db5": {10: 1.86, 11: 3.51, 12: 5.02},
    "D5": {10: None, 11: 2.51, 12: 4.02}, "Eb5": {11: 1.51, 12: 3.02, 13: 4.41, 14: 5.69},
    "E5": {12: 2.02, 13: 3.41, 14: 4.69}, "F5": {12: 1.02, 13: 2.41, 14: 3.69, 16: 6.00},
}  # fmt: skip


@pytest.mark.parametrize("name", ALTERNATES)
def test_all_places_of_a_note_and_no_others(name):
    wanted = ALTERNATES[name]
    got = {p.partial: p for p in find_places(ideal(), parse_pitch(name).midi)}
    # Above the 13th the table leaves out far places that nobody uses.
    tabled = {n for n in got if n in wanted or n < 13}
    assert tabled == set(wanted)
    for partial, position in wanted.items():
        if position is None:
            assert got[partial].position == 1.0
            assert got[partial].lip_cents == pytest.approx(13.686, abs=0.0006)
        else:
            assert got[partial].position == pytest.approx(position, abs=0.0055)
            assert got[partial].lip_cents == 0.0


def test_f4_and_b_flat_3_as_charts_have_them():
    # F4 in 1st, 4th (7th partial) or 6th; B♭3 in 1st or 5th; F3 in 1st or 6th (common practice).
    for name, whole in (("F4", [1, 4, 6]), ("Bb3", [1, 5]), ("F3", [1, 6])):
        places = find_places(ideal(), MIDI[name])
        assert [round(p.position) for p in places] == whole


def test_the_sign_of_the_corrections():
    # G4 is raised from 2nd, G♭4 from 3rd, D4 in 4th is a little further out, and A♭4 isn't in 1st
    # (common practice).
    assert place_of(ideal(), "G4", 7).position < 2.0
    assert place_of(ideal(), "Gb4", 7).position < 3.0
    assert 4.0 < place_of(ideal(), "D4", 6).position < 4.1
    assert place_of(ideal(), "Ab4", 7) is None
    assert place_of(ideal(), "Ab4", 8).position == pytest.approx(3.0, abs=1e-12)


@pytest.mark.parametrize(
    ("partial", "low", "high"),
    [
        # What one partial spans from 7th to 1st: a tritone, the longest glissando.
        (1, "E1", "Bb1"), (2, "E2", "Bb2"), (3, "B2", "F3"), (4, "E3", "Bb3"), (5, "Ab3", "Db4"),
        (6, "B3", "F4"), (7, "D4", "G4"), (8, "E4", "Bb4"), (9, "Gb4", "C5"), (10, "Ab4", "Db5"),
        (12, "B4", "F5"),
    ],
)  # fmt: skip
def test_what_one_partial_spans(partial, low, high):
    # With 7th as the end of the slide. The 5th, 7th and 10th partials are flat: their top notes
    # D4, A♭4 and D5 would be the rest of the tritone, but aren't in tune in 1st.
    horn = ideal(travel_m=ideal().extension_m(7.05), lip_up_cents=0.0)
    span = [
        midi
        for midi in range(20, 90)
        if find_place(horn, midi_to_hz(midi), partial, ()) is not None
    ]
    assert (span[0], span[-1]) == (parse_pitch(low).midi, parse_pitch(high).midi)
    assert span == list(range(span[0], span[-1] + 1))
    assert span[-1] - span[0] <= 6


def test_the_spans_of_a_valve():
    # With the F valve a fourth (C2 to F2), with D a major third (D2 to B♭1); common practice.
    for name, v, below, travel in (("F", 5, 5, 0.67), ("D", 8, 4, 0.67)):
        horn = ideal(travel_m=travel, valves=((name, v),))
        closed = parse_pitch("Bb2").midi - v
        reached = [find_place(horn, midi_to_hz(closed - n), 2, (name,)) for n in range(8)]
        assert sum(place is not None for place in reached) == below + 1


def test_d4_in_1st_is_lipped_and_a_flat_4_in_1st_is_no_place():
    horn = load_horn("tenor").tuned()
    place = place_of(horn, "D4", 5)
    assert (place.extension_m, place.position) == (0.0, 1.0)
    assert place.lip_cents == pytest.approx(1200 * math.log2(2 ** (4 / 12) / 1.25), abs=1e-9)
    assert place_of(horn, "Ab4", 7) is None
    for limit, found in ((31.1, False), (31.2, True)):
        assert (place_of(replace(horn, lip_up_cents=limit), "Ab4", 7) is not None) == found
    assert place_of(replace(horn, lip_up_cents=0.0), "D4", 5) is None


@pytest.mark.parametrize("name", HORN_FILES.ours)
def test_the_closed_notes_are_in_1st_and_need_no_lip(name):
    horn = load_horn(name).tuned()
    midi = load_horn(name).closed.pitch.midi
    for partial, up in ((1, 0), (2, 12), (4, 24), (8, 36)):
        place = find_place(horn, midi_to_hz(midi + up), partial, ())
        assert place is not None
        assert place.position == pytest.approx(1.0, abs=1e-12)
        assert place.lip_cents == pytest.approx(0.0, abs=1e-6)


def all_notes(name):
    book = PlaceBook(load_horn(name).tuned())
    return {m for m in range(20, 80) if book.places(m)}


def test_what_each_horn_lacks():
    def lacks(name, low, high):
        have = all_notes(name)
        return set(range(parse_pitch(low).midi, parse_pitch(high).midi + 1)) - have

    def notes(*names):
        return {parse_pitch(n).midi for n in names}

    # The straight tenor has nothing from B1 to E♭2; one F valve lacks low B; two valves nothing.
    assert lacks("tenor", "E1", "Bb4") == notes("B1", "C2", "Db2", "D2", "Eb2")
    assert lacks("tenor-f", "C1", "Bb4") == notes("B1")
    assert lacks("tenor-f-long", "C1", "Bb4") == notes("B1")
    assert lacks("tenor-e", "C1", "Bb4") == set()
    assert lacks("bass-independent", "Bb0", "Bb4") == set()
    assert lacks("bass-dependent", "Bb0", "Bb4") == set()


def test_low_c_by_travel():
    # At 25 °C low C lies 664 mm out: 670 mm reach it, 650 mm don't.
    horn = load_horn("tenor-f").tuned()
    place = place_of(horn, "C2", 2, ("F",))
    assert 1000 * place.extension_m == pytest.approx(664, abs=3)  # air of 20 to 30 °C: ± 2 %
    assert place_of(replace(horn, travel_m=0.65), "C2", 2, ("F",)) is None


def test_low_b_on_the_pulled_valve():
    place = place_of(load_horn("tenor-e").tuned(), "B1", 2, ("E",))
    assert 1000 * place.extension_m == pytest.approx(703, abs=3)


def test_the_compact_horn():
    # C and B natural lie in 1st and 2nd with the valve; there is no 7th position (common practice).
    horn = load_horn("tenor-c-bb").tuned()
    c, b = place_of(horn, "C3", 2, ("C",)), place_of(horn, "B2", 2, ("C",))
    assert c.position == pytest.approx(1.0, abs=1e-9)
    assert 1.75 < b.position < 2.0
    assert horn.position(horn.travel_m) < 6.8
    assert place_of(horn, "E2", 2) is None
    assert place_of(horn, "F2", 2).position == pytest.approx(6.0, abs=1e-9)


def test_bass_with_d_has_low_b_flat_in_almost_7th():
    # "5th = 6.98, nearly open 7th": B♭1 with both valves of a dependent bass.
    place = place_of(load_horn("bass-dependent").tuned(), "Bb1", 2, ("F", "D"))
    assert place.position == pytest.approx(6.98, abs=0.005)


@pytest.mark.parametrize("name", HORN_FILES.ours)
def test_every_place_sounds_its_note(name):
    horn = load_horn(name).tuned(442.0)
    for midi in range(22, 84):
        for place in find_places(horn, midi):
            sounding = horn.frequency_hz(place.partial, place.extension_m, place.valves)
            off = cents(midi_to_hz(midi, 442.0) / sounding)
            assert off == pytest.approx(place.lip_cents, abs=1e-6)
            assert 0.0 <= place.extension_m <= horn.travel_m
            assert 0.0 <= place.lip_cents <= horn.lip_up_cents
            assert place.position == pytest.approx(horn.position(place.extension_m), abs=1e-12)
            assert place.extension_m == 0.0 or place.lip_cents == 0.0


@settings(max_examples=150, deadline=None)
@given(
    st.integers(30, 75),
    st.floats(-60.0, 60.0),
    st.floats(-150.0, 150.0),
    st.sampled_from(["tenor-f", "bass-independent", "alto-bb", "contrabass-f"]),
)
def test_places_with_deviations_sound_their_note(midi, dev, slope, name):
    description = load_horn(name)
    first = description.valves[0].name
    rows = tuple(Deviation(v, n, dev, slope) for v in ((), (first,)) for n in range(1, 17))
    horn = replace(description, deviations=rows).tuned()
    for place in find_places(horn, midi):
        sounding = horn.frequency_hz(place.partial, place.extension_m, place.valves)
        assert cents(midi_to_hz(midi) / sounding) == pytest.approx(place.lip_cents, abs=1e-6)


def test_find_places_misses_none():
    # Against asking for each of 16 partials, with deviations as large as a horn file may have.
    rng = random.Random(5)
    for _ in range(60):
        rows = tuple(
            Deviation(v, n, rng.uniform(-100, 100), rng.uniform(-300, 300))
            for v in ((), ("F",))
            for n in range(1, 17)
        )
        horn = replace(load_horn("tenor-f"), deviations=rows, lip_up_cents=100.0).tuned()
        midi = rng.randrange(36, 77)
        every = {
            (v, n)
            for v in horn.valve_sets
            for n in range(1, 17)
            if find_place(horn, midi_to_hz(midi), n, v) is not None
        }
        assert {(p.valves, p.partial) for p in find_places(horn, midi)} == every


def test_a_deviation_of_zero_is_the_ideal_horn():
    rows = tuple(Deviation((), n, 0.0, 0.0) for n in range(1, 17))
    plain = load_horn("tenor").tuned()
    zero = replace(load_horn("tenor"), deviations=rows).tuned()
    assert find_places(zero, MIDI["D4"]) == find_places(plain, MIDI["D4"])


def test_a_sharp_5th_partial_gives_d4_a_place_beyond_the_stop():
    # Teachers disagree whether D4 in 1st is flat or sharp: it is the horn's own deviation.
    sharp = replace(load_horn("tenor"), deviations=(Deviation((), 5, 20.0),)).tuned()
    place = place_of(sharp, "D4", 5)
    assert place.lip_cents == 0.0
    # 20 - 13.686 cents at 0.86 mm a cent in 1st (25 °C).
    assert 1000 * place.extension_m == pytest.approx(6.314 * 0.861, abs=0.05)


def test_order_and_ties():
    places = find_places(load_horn("tenor-f").tuned(), MIDI["F3"])
    assert [p.extension_m for p in places] == sorted(p.extension_m for p in places)
    assert places[0].valves == ("F",)  # exactly in 1st; the open 3rd partial lies 1.7 mm out
    assert shortest(places).valves == ()  # to the arm that is one spot, and the open horn is first
    assert shortest(places).partial == 3


@pytest.mark.parametrize(
    ("limits", "positions"),
    [
        (Limits(), [1, 1, 4, 6]),
        (Limits(reach=6.0), [1, 1, 4, 6]),
        (Limits(reach=5.0), [1, 1, 4]),
        (Limits(reach=3.0), [1, 1]),
        (Limits(learned=frozenset()), [1, 4, 6]),
        (Limits(learned=frozenset({"F"})), [1, 1, 4, 6]),
        (Limits(top_partial=6), [1, 1]),
        (Limits(top_partial_valve=6), [1, 4, 6]),
        (Limits(reach=0.0), []),
    ],
)
def test_limits(limits, positions):
    horn = load_horn("tenor-f").tuned()
    open_or_first = [
        p for p in find_places(horn, MIDI["F4"], limits) if not p.valves or p.partial == 8
    ]  # the F valve has F4 as its 8th partial in 1st
    assert [round(p.position) for p in open_or_first] == positions


def test_reach_means_what_is_written_as_that_position():
    place = Place((), 2, 0.5, 6.2)
    assert Limits(reach=6.0).allows(place)
    assert not Limits(reach=6.0).allows(replace(place, position=6.2001))


def test_out_of_limits_are_the_others():
    horn = load_horn("tenor-f").tuned()
    book = PlaceBook(horn, Limits(reach=4.0, learned=frozenset()))
    for midi in (MIDI["F4"], parse_pitch("C3").midi):
        everything = find_places(horn, midi)
        assert set(book.places(midi)) | set(book.out_of_limits(midi)) == set(everything)
        assert not set(book.places(midi)) & set(book.out_of_limits(midi))
    assert book.places(parse_pitch("C3").midi) == ()
    assert [round(p.position) for p in book.out_of_limits(48)] == [1, 6, 7]  # T1, 6, T7½


def test_alternates_are_counted_from_the_plain_place():
    horn = load_horn("tenor").tuned()
    got = {p.partial: p.alternate for p in find_places(horn, MIDI["F4"])}
    assert got == {6: 0, 7: 1, 8: 2}
    # D4 is lipped 13.7 cents in 1st: its 4th position is as plain.
    got = {p.partial: p.alternate for p in find_places(horn, MIDI["D4"])}
    assert got == {5: 0, 6: 0, 7: 1}
    # A valve where the open horn has the note near is three steps more, for C3 in 6th it isn't.
    f = load_horn("tenor-f").tuned()
    got = {(p.valves, p.partial): p.alternate for p in find_places(f, parse_pitch("C3").midi)}
    assert got == {((), 3): 0, (("F",), 3): 0, (("F",), 4): 1}
    got = {(p.valves, p.partial): p.alternate for p in find_places(f, MIDI["Bb2"])}
    assert got == {((), 2): 0, (("F",), 3): 8}
    # D♭3 is open in 5th: three steps. The 11th partial is never plain.
    got = {(p.valves, p.partial): p.alternate for p in find_places(f, parse_pitch("Db3").midi)}
    assert got == {((), 3): 0, (("F",), 4): 3}
    got = {p.partial: p.alternate for p in find_places(horn, parse_pitch("Eb5").midi)}
    assert got[11] == 1
    # The first valve has C3 in 1st and the second is spared; for D2 it would be far out.
    bass = load_horn("bass-independent").tuned()
    places = find_places(bass, parse_pitch("C3").midi)
    got = {p.valves: p.alternate for p in places if p.partial == 3}
    assert (got["F",], got["Gb",]) == (0, 8)
    got = {p.valves: (p.alternate, p.spared) for p in find_places(bass, parse_pitch("D2").midi)}
    assert got == {("F",): (0, True), ("Gb",): (0, True), ("F", "Gb"): (0, False)}


def test_7th_is_spared_only_by_a_learned_valve():
    horn = load_horn("tenor-f").tuned()
    for learned, spared in ((None, True), (frozenset(), False)):
        places = find_places(horn, parse_pitch("B2").midi, Limits(learned=learned))
        assert [p.spared for p in places if not p.valves] == [spared]


def test_limits_do_not_change_what_is_an_alternate():
    horn = load_horn("tenor-f").tuned()
    whole = {(p.valves, p.partial): p.alternate for p in find_places(horn, MIDI["F4"])}
    for limits in (Limits(reach=4.0), Limits(learned=frozenset()), Limits(top_partial=7)):
        for p in find_places(horn, MIDI["F4"], limits):
            assert p.alternate == whole[p.valves, p.partial]


@pytest.mark.parametrize("a4_hz", [415.0, 440.0, 443.0])
@pytest.mark.parametrize("temp_c", [0.0, 25.0])
def test_pitch_fixes_positions_and_millimetres_need_the_air(a4_hz, temp_c):
    horn = load_horn("tenor-f").tuned(a4_hz, Air(temp_c=temp_c))
    reference = load_horn("tenor-f").tuned()
    scale = (horn.speed_m_s / a4_hz) / (reference.speed_m_s / 440.0)
    for midi in (40, 45, 48, 53, 62):
        got, want = find_places(horn, midi), find_places(reference, midi)
        for a, b in zip(got, want):
            assert (a.valves, a.partial) == (b.valves, b.partial)
            assert a.position == pytest.approx(b.position, abs=1e-9)
            assert a.extension_m == pytest.approx(b.extension_m * scale, abs=1e-9)


@pytest.mark.parametrize("name", HORN_FILES.known)
def test_a_note_has_a_place_where_there_are_places(name):
    horn = load_horn(name).tuned()
    first = frozenset(horn.valve_sets[1] if len(horn.valve_sets) > 1 else ())
    for limits in (Limits(), Limits(4.0, frozenset()), Limits(5.0, first, 8, 4)):
        asked, book = PlaceBook(horn, limits), PlaceBook(horn, limits)
        for midi in range(12, 108):
            assert asked.has(midi) == bool(book.places(midi)) == book.has(midi), (limits, midi)
