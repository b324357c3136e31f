"""Note names: spelling, octaves, signs, and the hint for what can't be read."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handslide.ground.errors import PitchError
from handslide.ground.pitch import STEPS, Pitch, from_midi, parse_pitch, pretty_name
from handslide.ground.units import cents, cents_to_ratio, midi_to_hz

pitches = st.builds(
    Pitch, st.sampled_from(sorted(STEPS)), st.integers(-4, 4), st.integers(-2, 9)
)  # fmt: skip


@pytest.mark.parametrize(
    ("text", "midi"),
    [
        # Scientific pitch (Young, JASA 11:134, 1939, from memory): middle C is C4, A4 the tuning A.
        ("C4", 60), ("A4", 69), ("Bb1", 34), ("E2", 40), ("C-1", 0), ("G9", 127),
        # The octave belongs to the letter.
        ("Cb4", 59), ("B#3", 60), ("Cbb4", 58), ("B##3", 61), ("E#3", 53), ("Fb3", 52),
        # Enharmonics, many signs, double sharps.
        ("D#3", 51), ("Eb3", 51), ("Fbb3", 51), ("Cx4", 62), ("Dbbb4", 59), ("F###2", 44),
        ("Abbbb3", 53), ("Ebn2", 39), ("B♭1", 34), ("F♯3", 54), ("E♮2", 40), ("A𝄫3", 55),
        ("G𝄪2", 45), ("CX4", 62), ("b♭2", 46), ("eb2", 39), ("  Eb2  ", 39),
    ],
)  # fmt: skip
def test_names_give_midi_numbers(text, midi):
    assert parse_pitch(text).midi == midi


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("Eb", "the octave is missing: did you mean Eb2 or Eb3"),
        ("F♯", "the octave is missing"),
        ("H2", "H is the German name: write B"),
        ("h", "H is the German name"),
        ("Sib2", "si is B"),
        ("sol3", "sol is G"),
        ("do4", "do is C"),
        ("", "a letter A to G"),
        ("   ", "a letter A to G"),
        ("Q2", "a letter A to G"),
        ("2Eb", "a letter A to G"),
        ("Eb 2", "a letter A to G"),
        ("Eb2.5", "a letter A to G"),
        ("E-b2", "a letter A to G"),
        ("Eb123", "a letter A to G"),
        ("Eb2 F2", "a letter A to G"),
    ],
)
def test_what_is_not_a_note_gets_a_hint(text, hint):
    with pytest.raises(PitchError, match=hint):
        parse_pitch(text)


def test_a_pitch_needs_a_letter():
    with pytest.raises(PitchError, match="'H' is not a letter from A to G"):
        Pitch("H", 0, 2)


@given(pitches)
def test_names_read_back(pitch):
    assert parse_pitch(pitch.name) == pitch
    assert parse_pitch(pitch.pretty) == pitch
    assert parse_pitch(pitch.name.lower()) == pitch


@given(st.integers(0, 127))
def test_midi_numbers_read_back(midi):
    pitch = from_midi(midi)
    assert pitch.midi == midi
    assert pitch.alter in (-1, 0)  # brass spelling: flats


@given(pitches, st.integers(-9, 9), st.integers(-14, 14))
def test_transposing_there_and_back(pitch, diatonic, chromatic):
    there = pitch.transposed(diatonic, chromatic)
    assert there.midi == pitch.midi + chromatic
    assert there.transposed(-diatonic, -chromatic) == pitch


@pytest.mark.parametrize(
    ("written", "sounding"),
    [
        # Tenor trombone in B♭ treble clef, as brass bands write it: a major ninth lower, so that
        # the written middle C is the open B♭2 (common practice).
        ("C4", "Bb2"), ("E4", "D3"), ("F#4", "E3"), ("Bb4", "Ab3"), ("Cb5", "Bbb3"),
    ],
)  # fmt: skip
def test_a_major_ninth_lower(written, sounding):
    assert parse_pitch(written).transposed(-8, -14) == parse_pitch(sounding)


@pytest.mark.parametrize(
    ("text", "hz"),
    [
        # Equal temperament at A4 = 440 Hz, hz = 440·2^((m-69)/12); 0.001 Hz is 0.03 cent at B♭1.
        ("A4", 440.0), ("Bb1", 58.270), ("Bb2", 116.541), ("F3", 174.614), ("D4", 293.665),
        ("Bb4", 466.164), ("C5", 523.251), ("F5", 698.456), ("Bb5", 932.328),
    ],
)  # fmt: skip
def test_frequencies(text, hz):
    assert parse_pitch(text).hz() == pytest.approx(hz, abs=0.0006)


def test_another_tuning_pitch():
    # 1200·log2 of the ratios: A4 = 442, 443 and 437 Hz against 440.
    for a4, want in ((442.0, 7.85), (443.0, 11.76), (437.0, -11.84)):
        ratio = parse_pitch("Bb2").hz(a4) / parse_pitch("Bb2").hz()
        assert cents(ratio) == pytest.approx(want, abs=0.006)


@given(st.floats(-4800.0, 4800.0))
def test_cents_and_ratios_are_inverse(value):
    assert cents(cents_to_ratio(value)) == pytest.approx(value, abs=1e-9)


def test_cents_by_hand():
    assert cents(2.0) == 1200.0
    assert cents(1.0) == 0.0
    assert cents(1.5) == pytest.approx(701.955, abs=0.0005)  # the pure fifth
    assert midi_to_hz(69.5) == pytest.approx(440.0 * math.sqrt(2.0 ** (1 / 12)), rel=1e-12)


@pytest.mark.parametrize(("name", "pretty"), [("Gb", "G♭"), ("F", "F"), ("C#", "C♯"), ("b", "b")])
def test_pretty_names(name, pretty):
    assert pretty_name(name) == pretty
