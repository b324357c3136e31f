"""What a teacher listens for, beside takes of which it is known; all of it heard from sound.

More takes, recorded notes and rooms are in benchmarks/listening.py.
"""

import numpy as np
import pytest
from truetakes import figures
from truetakes.kinds import make_take

from handslide.sound.stream import Listener

OPEN = [(0, False), (1, False)]


def test_when_tongued_notes_begin_is_known_to_five_milliseconds():
    error = figures.onsets(OPEN)
    assert len(error.off) >= error.wanted - 1
    assert np.percentile(np.abs(error.off), 95) < 5.0
    assert abs(np.median(error.off)) < 1.0


def test_slurs_take_the_time_they_take():
    transit = figures.slurs("slurs", "transit", OPEN)
    assert len(transit.off) == transit.wanted == 15
    assert np.percentile(np.abs(transit.off), 95) < 10.0
    assert abs(np.median(figures.slurs("slurs", "moment", OPEN).off)) < 1.0
    assert np.median(np.abs(figures.slurs("slurs", "dip", OPEN).off)) < 0.6


def test_written_dynamics_differ_by_what_they_differ():
    error = figures.differences(OPEN)
    assert len(error.off) == error.wanted == 4
    assert np.max(np.abs(error.off)) < 0.5


def test_the_live_view_shows_no_hum_between_the_notes():
    take = make_take("hum", 0)
    listener = Listener(take.rate_hz)
    block = round(0.02 * take.rate_hz)
    told = [
        moment
        for at in range(0, len(take.samples), block)
        for moment in listener.push(take.samples[at : at + block])
    ]
    near = [
        any(note.onset_s - 0.08 < moment.time_s < note.offset_s + 0.25 for note in take.notes)
        for moment in told
    ]
    between = [moment for moment, beside in zip(told, near, strict=True) if not beside]
    assert len(between) > 40
    assert sum(moment.f0_hz is not None for moment in between) < 0.05 * len(between)


def test_the_live_view_names_a_note_and_stays():
    for kind in ("attacks", "hum"):
        shown = figures.live(kind, [(0, False)])
        assert shown.right >= 0.98 * shown.frames
        assert shown.changes <= 1


@pytest.mark.parametrize(
    ("kind", "number", "right"),
    [
        ("quick", 0, 0.9), ("smeared", 0, 0.97), ("vibrato", 0, 0.9), ("metronome", 0, 0.97),
        ("part", 0, 0.85),
    ],
)  # fmt: skip
def test_a_line_is_followed_while_it_sounds(kind, number, right):
    one = figures.followed(kind, [(number, False)])
    assert one.frames > 50
    assert one.right >= right * one.frames
    assert one.wrong <= 0.02 * one.frames


@pytest.mark.parametrize(("kind", "number"), [("band", 2), ("mute", 2)])
def test_the_live_view_asks_the_odd_harmonics(kind, number):
    shown = figures.live(kind, [(number, False)], real=True)
    assert shown.frames > 200
    assert shown.right >= 0.99 * shown.frames
    assert shown.changes == 0


def test_notes_that_crack_are_named_and_scoops_are_not():
    named, false = figures.cracks(OPEN)
    assert named[0] >= 0.8 * named[1] > 0
    assert false[0] == 0 < false[1]
