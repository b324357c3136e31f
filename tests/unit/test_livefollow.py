"""Following a part live: place by place, and silence where the place isn't known."""

from itertools import pairwise
from math import pi, sin

import pytest

from handslide.sound.livefollow import LiveFollower, PartNote

HOP_S = 0.01
# A made-up line in quarter notes at 120: a repeated note, steps, leaps.
LINE = (46, 48, 50, 50, 51, 53, 58, 53, 50, 48, 46, 45, 43, 41, 46)
BEAT_S = 0.5


def follower(line=LINE, first=0):
    return LiveFollower([PartNote(midi, BEAT_S * k) for k, midi in enumerate(line)], first)


def play(on, tones, start_s=0.0):
    """Frames of tones (MIDI or None, seconds); gives where it thought it was after each, and what
    was passed."""
    now, after, passed = start_s, [], []
    for pitch, length_s in tones:
        for _ in range(round(length_s / HOP_S)):
            on.push(now, pitch, -20.0 if pitch is not None else -70.0)
            now += HOP_S
        after.append(on.at if on.sure and not on.other else None)
        passed += on.take_passed()
    return after, dict(passed)


def line_of(pitches, length_s=0.4, gap_s=0.1):
    return [tone for pitch in pitches for tone in ((pitch, length_s), (None, gap_s))]


def test_it_goes_from_note_to_note():
    after, passed = play(follower(), [*line_of(LINE), (None, 0.5)])
    assert after[0::2][: len(LINE)] == list(range(len(LINE)))
    assert passed == dict.fromkeys(range(len(LINE)), "heard")


@pytest.mark.parametrize("rate", [0.6, 1.7])
@pytest.mark.parametrize("off", [-0.45, 0.45])
def test_in_another_tempo_and_badly_out_of_tune(rate, off):
    tones = line_of([midi + off for midi in LINE], 0.4 * rate, 0.1 * rate)
    assert play(follower(), tones)[0][0::2] == list(range(len(LINE)))


def test_slurred_without_gaps():
    line = [midi for k, midi in enumerate(LINE) if k != 3]
    after, _ = play(follower(line), [(midi, 0.4) for midi in line])
    assert after == list(range(len(line)))


@pytest.mark.parametrize("moving", [6, 10, 15, 30])
def test_slurred_by_the_slide(moving):
    """From note to note over so many frames, so that no frame is far from the one before it."""
    line = [midi for k, midi in enumerate(LINE) if k != 3]
    after, passed = play(follower(line), [*glides(line, moving), (None, 0.5)])
    ends = range(33 + moving, len(after), 34 + moving)
    assert [after[k] for k in ends] == list(range(len(line)))
    assert passed == dict.fromkeys(range(len(line)), "heard")


def glides(line, moving):
    for before, midi in pairwise([line[0], *line]):
        for k in range(moving):
            yield before + (midi - before) * (k + 0.5) / moving, HOP_S
        yield from ((midi, HOP_S) for _ in range(34))


@pytest.mark.parametrize("cents", [15, 30, 45])
def test_a_vibrato_is_no_second_note(cents):
    on = follower()
    play(on, line_of(LINE[:2]))
    waves = [50 + 0.01 * cents * sin(2 * pi * 5.5 * k * HOP_S) for k in range(200)]
    after, _ = play(on, [(pitch, HOP_S) for pitch in waves], 1.0)
    assert set(after[6:]) == {2}


def test_two_notes_of_one_pitch_that_ran_together():
    after, passed = play(follower(), [*line_of(LINE[:2]), (50, 0.9), *line_of(LINE[4:])])
    assert after[5] == 4
    assert passed[2] == "heard" and passed[3] == "gone"


def test_a_note_that_flickers_is_no_second_note():
    on = follower()
    play(on, [*line_of(LINE[:2]), (50, 0.1), (None, 0.05), (50, 0.1)])
    assert on.at == 2


def test_struck_again_without_a_gap():
    on = follower()
    play(on, line_of(LINE[:2]))
    now = 1.0
    for level in [-20.0] * 40 + [-32.0] * 3 + [-20.0] * 20:
        on.push(now, 50.0, level)
        now += HOP_S
    assert on.at == 3


def test_a_wrong_note_is_told_once_the_next_one_is_right():
    on = follower()
    after, passed = play(on, line_of([46, 48, 50, 50, 55, 53, 58]))
    assert after[8] is None and passed[4] == "other" and after[-2] == 6


@pytest.mark.parametrize("at_frame, note", [(47, 3), (20, 2)])
def test_struck_softly_when_the_next_note_is_due(at_frame, note):
    """A fall by 4 dB, as between soft notes of one pitch: at its time it is one, else none."""
    on = follower()
    play(on, line_of(LINE[:2]))
    levels = [-24.0 if at_frame <= k < at_frame + 4 else -20.0 for k in range(at_frame + 20)]
    for k, level in enumerate(levels):
        on.push(1.0 + k * HOP_S, 50.0, level)
    assert on.at == note


@pytest.mark.parametrize("octave", [-12.0, -19.02, -24.0, 12.0])
def test_periods_that_are_counted_wrongly_are_no_other_tone(octave):
    on = follower()
    after, _ = play(on, [*line_of(LINE[:5]), (53, 0.2), (53 + octave, 0.2), (53, 0.2)])
    assert after[-3:] == [5, 5, 5]


@pytest.mark.parametrize("wrong", [58, 45])
def test_a_wrong_note_is_not_looked_for_elsewhere_however_long_it_is_held(wrong):
    on = follower()
    after, _ = play(on, [*line_of(LINE[:4]), (wrong, 2.0), (None, 0.1)])
    assert after[-2] is None and on.at == 3
    # Together with the next one it may be found there.
    elsewhere = {58: 7}.get(wrong, 5)
    assert play(on, line_of([53, 58]), 4.1)[0][0] == elsewhere


def test_an_added_note_moves_nothing():
    after, passed = play(follower(), line_of([46, 48, 43, 50, 50, 51]))
    assert after[6] == 2 and passed[2] == "heard"


def test_notes_left_out_are_borne_out_by_two():
    after, passed = play(follower(), line_of([46, 48, 53, 58, 53]))
    assert after[4] is None and after[6] == 6
    assert all(passed[k] == "gone" for k in (2, 3, 4)) and passed[5] == "heard"


def test_lost_and_found_again():
    on = follower()
    after, passed = play(on, line_of([46, 48, 70, 71, 72]))
    assert not on.sure and after[-1] is None
    assert "other" not in passed.values()
    after, _ = play(on, line_of([48, 46, 45, 43]), 3.0)
    assert after[-2] == 12 and on.sure


@pytest.mark.parametrize("rate", [0.2, 1.0, 2.0])
def test_how_long_a_note_lasts_in_the_tempo_so_far(rate):
    on = follower()
    play(on, line_of(LINE[:6], 0.4 * rate, 0.1 * rate))
    assert on.lasts_s(7) == pytest.approx(BEAT_S * rate, rel=0.1)
    assert on.lasts_s(len(LINE) - 1) is None


def test_begun_anew_in_the_middle():
    on = follower()
    play(on, line_of(LINE[:4]))
    on.begin(8)
    assert on.at is None and on.next == 8
    assert play(on, line_of(LINE[8:]), 9.0)[0][0::2] == list(range(8, len(LINE)))


def test_going_back_to_the_beginning_is_found():
    on = follower()
    play(on, line_of(LINE[:7]))
    after, _ = play(on, line_of([46, 48, 50, 50, 51, 53]), 5.0)
    assert after[-2] == 5


def test_after_a_stop_nothing_is_taken_for_sure():
    on = follower()
    play(on, line_of(LINE[:5]))
    after, _ = play(on, line_of([53, 58, 53]), 8.0)
    # The first tone is in three places, the first two are in one.
    assert after[:2] == [None] * 2 and after[2::2] == [6, 7]


def test_after_a_stop_an_earlier_place_counts_as_well():
    on = follower()
    play(on, line_of(LINE[:9]))
    after, _ = play(on, line_of([48, 50, 50, 51]), 10.0)
    # Next would have been 48, 46; the 48 of the beginning goes on with 50.
    assert after[0] is None and after[-2] == 4


def test_other_music_is_nowhere():
    on = follower()
    after, passed = play(on, line_of([60, 62, 64, 65, 67, 69, 71, 72, 67, 64, 60]))
    assert set(after[2:]) == {None} and "heard" not in passed.values()


def test_after_the_last_note_nothing_is_next():
    on = follower()
    play(on, line_of([*LINE, 46, 48, 50]))
    assert on.next == len(LINE) or on.next == 3


@pytest.mark.parametrize("line", [(), (46,)])
def test_no_notes_or_one(line):
    on = follower(line)
    play(on, line_of([46, 47, 48, 46]))
    assert on.next <= len(line)
