"""Written parts played with faults: what was left out is named, what was played is found.

The whole set, of recorded notes too, is benchmarks/following.py. Here tones, and for the follower
alone the notes as they were played.
"""

from functools import lru_cache

import pytest
from truetakes.parts import FollowTally, play_part

from handslide.ground.units import A4_MIDI, cents
from handslide.jobs.hear.followed import heard_rows
from handslide.sound.follow import Expected, Heard, follow
from handslide.sound.notes import hear


@lru_cache
def take_of(number):
    return play_part(number, real=False)


def test_a_part_played_with_faults_is_followed_from_its_sound():
    tally = FollowTally()
    for number in range(4):
        take = take_of(number)
        rows = heard_rows(hear(take.samples, take.rate_hz))
        tally.add(take, follow(take.part, rows), rows)
    assert tally.played == 88
    assert tally.matched >= 0.97 * tally.played
    assert tally.named >= tally.missing - 1
    assert tally.alarms < tally.takes


def test_the_follower_loses_hardly_anything_itself():
    tally = FollowTally()
    for number in range(4):
        take = take_of(number)
        rows = [
            Heard(note.onset_s, note.offset_s, A4_MIDI + cents(note.hz / 440.0) / 100.0)
            for note in take.notes
        ]
        tally.add(take, follow(take.part, rows), rows)
    assert tally.matched >= tally.played - 1
    assert tally.named >= tally.missing - 1
    assert tally.alarms == 0


@pytest.mark.parametrize(("sounds_s", "played", "joined"), [(0.9, "missing", 0), (1.4, "right", 1)])
def test_an_equal_note_is_left_out_unless_the_one_before_sounds_into_it(sounds_s, played, joined):
    midis, onsets = (50, 53, 53, 55, 57, 58), (0.0, 1.0, 2.0, 2.5, 3.5, 4.5)
    lengths = (1.0, 1.0, 0.5, 1.0, 1.0, 1.0)
    part = [Expected(m, at, long, at == 0.0) for m, at, long in zip(midis, onsets, lengths)]
    heard = [
        Heard(at + 0.3, at + 0.3 + (sounds_s if at == 1.0 else 0.9 * long), float(midi))
        for midi, at, long in zip(midis, onsets, lengths)
        if at != 2.0
    ]
    match = follow(part, heard).matches[2]
    assert (match.played, match.joined) == (played, bool(joined))
