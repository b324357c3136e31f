"""Where the slide is from moment to moment: moves of the least jerk, in the time that there is."""

import numpy as np
import pytest

from handslide.ground.minimumjerk import minimum_jerk
from handslide.instrument.slidemotion import GLIDE, slide_motion

NAN = float("nan")


def test_the_move_is_that_of_the_paper():
    # Flash and Hogan, J. Neurosci. 5 (1985) 1688-1703: speed 1.875 at the middle of a move of 1 in
    # 1, no speed and no acceleration at its ends, 10/sqrt(3) at most between.
    t = np.linspace(0.0, 1.0, 20_001)
    way = minimum_jerk(t)
    speed = np.gradient(way, t)
    acceleration = np.gradient(speed, t)
    assert (way[0], way[-1], minimum_jerk(0.5)) == (0.0, 1.0, 0.5)
    assert speed.max() == pytest.approx(1.875, abs=1e-5)
    assert np.abs(speed[[0, -1]]).max() < 1e-3
    assert np.abs(acceleration).max() == pytest.approx(10 / np.sqrt(3), rel=1e-3)


def test_a_move_is_over_when_its_note_begins():
    motion = slide_motion([0, 1, 2], [1, 1, 1], [0.1, 0.3, 0.2], [NAN, 0.2, 0.4], [False] * 3)
    found = motion.at([-5, 0, 0.8, 0.9, 1.0, 1.6, 1.8, 2.0, 9])
    assert found == pytest.approx([0.1, 0.1, 0.1, 0.2, 0.3, 0.3, 0.25, 0.2, 0.2])


def test_no_move_begins_before_the_note_that_it_leaves():
    motion = slide_motion([0, 0.05, 0.1], [0.05] * 3, [0, 0.5, 0], [NAN, 0.2, 0.2], [False] * 3)
    assert motion.begin_s == pytest.approx([0.0, 0.05])
    assert motion.at([0, 0.05, 0.1]) == pytest.approx([0, 0.5, 0])


def test_a_glissando_glides_over_most_of_its_note_and_not_over_a_rest():
    for length, begins in ((1.0, 1 - GLIDE), (0.5, 0.75)):
        motion = slide_motion([0, 1], [length, 1], [0.1, 0.5], [NAN, 0.25], [True, False])
        assert motion.begin_s == pytest.approx([begins]), length


def test_what_cannot_be_played_moves_nothing():
    motion = slide_motion([0, 1, 2, 3], [1] * 4, [NAN, 0.2, NAN, 0.4], [NAN] * 4, [False] * 4)
    assert motion.at([0, 0.5, 1, 2, 2.74, 3]) == pytest.approx([0.2, 0.2, 0.2, 0.2, 0.2, 0.4])
    nothing = slide_motion([0, 1], [1, 1], [NAN, NAN], [NAN, NAN], [False] * 2)
    assert nothing.at([0, 1.5]).tolist() == [0, 0]
    assert slide_motion([0], [1], [0.3], [NAN], [False]).at([-1, 2]).tolist() == [0.3, 0.3]
