"""Intervals with a direction, against a general music library."""

import pytest
from music21 import interval as m21
from music21 import key as m21key
from music21 import pitch as m21pitch

from handslide.ground.errors import BadUsage
from handslide.ground.intervals import Interval, of_semitones, parse_interval
from handslide.ground.pitch import Pitch
from handslide.words.intervals import interval_words
from handslide.words.speech import speech

NAMES = [
    f"{sign}{quality}{number}"
    for number in range(1, 29)
    for quality in ("P" if (number - 1) % 7 in (0, 3, 4) else "Mm") + "Ad"
    for sign in ("", "-")
    if (quality, number) != ("d", 1) and (sign, quality, number) != ("-", "P", 1)
]


@pytest.mark.parametrize("name", NAMES)
def test_names_sizes_and_spelling_are_those_of_the_library(name):
    found = parse_interval(name)
    other = m21.Interval(_m21(name))
    assert found.name == name
    assert found.semitones == other.semitones
    for step in "CDEFGAB":
        for alter in (-1, 0, 1):
            sign = {-1: "-", 0: "", 1: "#"}[alter]
            there = other.transposePitch(m21pitch.Pitch(f"{step}{sign}4"), maxAccidental=None)
            moved = Pitch(step, alter, 4).transposed(found.letters, found.semitones)
            mine = (moved.step, moved.alter, moved.octave)
            assert mine == (there.step, int(there.alter), there.octave), (step, alter)


@pytest.mark.parametrize("name", ["P5", "-P5", "m3", "-m3", "M2", "-m2", "A4", "d5", "-m7", "P12"])
def test_keys_go_round_the_circle_of_fifths(name):
    interval = parse_interval(name)
    for fifths in range(-7, 8):
        spelled, new = interval.into_key(fifths)
        there = m21key.KeySignature(fifths).transpose(m21.Interval(_m21(name))).sharps
        assert abs(new) <= 6
        assert (new - there) % 12 == 0 and spelled.semitones == interval.semitones
        assert spelled.fifths + fifths == new
        if abs(fifths + interval.fifths) <= 6:
            assert spelled == interval and new == fifths + interval.fifths


def _m21(name):
    return f"{name[1]}-{name[2:]}" if name.startswith("-") else name


def test_octaves_keep_any_key():
    for fifths in range(-7, 8):
        assert parse_interval("-P15").into_key(fifths)[1] == fifths
        assert parse_interval("-12").into_key(fifths)[1] == fifths


def test_semitones_take_the_key_with_the_fewest_signs():
    for semitones in range(-30, 31):
        interval = of_semitones(semitones)
        assert interval.semitones == semitones and interval.free
        for fifths in range(-6, 6):
            spelled, new = interval.into_key(fifths)
            assert spelled.semitones == semitones
            assert -6 <= new <= 5 or (interval.is_octaves and new == fifths)
    # from B flat (two flats) a semitone up is B, five sharps, not C flat
    assert parse_interval("1").into_key(-2)[1] == 5
    # six of both: flats
    assert parse_interval("6").into_key(0)[1] == -6


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("-P8", "an octave lower"),
        ("-12", "an octave lower"),
        ("−12", "an octave lower"),
        ("P5", "a fifth higher"),
        ("-m3", "a minor third lower"),
        ("A4", "an augmented fourth higher"),
        ("P12", "an octave and a fifth higher"),
        ("-M9", "an octave and a major second lower"),
        ("-A8", "an augmented octave lower"),
        ("24", "two octaves higher"),
        ("0", "at the same pitch"),
        ("P1", "at the same pitch"),
        ("-A1", "an augmented unison lower"),
    ],
)
def test_words(text, words):
    assert interval_words(speech("en"), parse_interval(text)) == words


@pytest.mark.parametrize(
    "text", ["", "-", "x", "P3", "M5", "d1", "m8", "--3", "P0", "H4", "1.5", "49", "P30", "P 8",
             "- P8", "8ve", "P8 down", "٣"],
)  # fmt: skip
def test_nonsense_gets_one_sentence(text):
    with pytest.raises(BadUsage) as caught:
        parse_interval(text)
    said = str(caught.value)
    assert repr(text) in said and "\n" not in said and ". " not in said


def test_there_and_back_is_nothing():
    for name in NAMES:
        there = parse_interval(name)
        back = there.inverse
        assert (there.letters + back.letters, there.semitones + back.semitones) == (0, 0)
        assert back == Interval(-there.letters, -there.semitones, there.free)
