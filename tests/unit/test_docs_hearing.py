"""The manual's page about hearing against the program: the numbers that it states."""

import math
import re
from pathlib import Path

import pytest

from handslide.ground.hearing import IN_TUNE_CENTS, TRAINED_EAR_CENTS
from handslide.instrument.habits import LEAST_NOTES
from handslide.jobs.setup import make_setup
from handslide.sound import refine, segments, track
from handslide.sound.follow import RIGHT_SEMITONES

PAGE = (Path(__file__).parents[2] / "docs" / "hearing.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "values"),
    [
        (r"Every (\d+) ms the pitch", [1000 * track.HOP_S]),
        (r"between (\d+) and (\d+) Hz", [track.LOWEST_HZ, track.HIGHEST_HZ]),
        (r"more than (\d+) dB below the loudest", [segments._BELOW_LOUDEST_DB]),
        (r"it is (\d+) dB above what sounds between", [segments._ABOVE_FLOOR_DB]),
        (r"more than (\d+) cents and stays", [segments._STEP_CENTS]),
        (r"stays for (\d+) ms", [1000 * track.HOP_S * segments._STEP_FRAMES]),
        (r"vibrato of (\d) to ([\d.]+) Hz", [segments._VIBRATO_HZ[0], segments._VIBRATO_HZ[-1]]),
        (r"up to (\d+) harmonics", [refine.MOST_HARMONICS]),
        (r"A group has (\d) notes or more", [LEAST_NOTES]),
        (r"is within (\d+) cents", [IN_TUNE_CENTS]),
        (r"; (\d) cents are\nwhat a trained ear", [TRAINED_EAR_CENTS]),
    ],
)
def test_numbers_of_the_text(words, values):
    (found,) = re.findall(words, PAGE)
    assert [float(one) for one in ([found] if isinstance(found, str) else found)] == values


def test_numbers_in_words():
    assert "Within half a semitone a\nnote is the right one" in PAGE
    assert RIGHT_SEMITONES == 0.5
    horn = make_setup("tenor-f").horn
    words = r"millimetre is ([\d.]+) cents in 1st position on a tenor and ([\d.]+) in 7th"
    for position, shown in zip((1, 7), re.search(words, PAGE).groups()):
        x = horn.extension_m(position)
        ratio = horn.frequency_hz(2, x, ()) / horn.frequency_hz(2, x + 0.001, ())
        assert 1200.0 * math.log2(ratio) == pytest.approx(float(shown), abs=0.05)
