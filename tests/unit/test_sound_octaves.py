"""Octaves, a metronome's beeps, wide vibrato: what made notes wrong or too many."""

import numpy as np
import pytest
from scenes import RATE_HZ, heard, legato, midis, note, pause

from handslide.ground.units import cents, midi_to_hz
from handslide.sound.octaves import octave_of
from handslide.sound.stream import Listener
from handslide.sound.tones import brass_levels, harmonic_tone, vibrato


def with_odd(midi, odd_db, length_s=0.8):
    """A tone whose odd harmonics are that much weaker than they are."""
    levels = brass_levels(midi_to_hz(midi), RATE_HZ)
    levels[::2] *= 10 ** (odd_db / 20)
    return 0.1 * harmonic_tone(midi_to_hz(midi), length_s, RATE_HZ, levels=levels, fade_s=0.02)


@pytest.mark.parametrize("midi", [34, 41, 48, 53, 58])
@pytest.mark.parametrize("odd_db", [-10.0, -16.0, -18.0])
def test_weak_odd_harmonics_are_asked(midi, odd_db):
    take = heard(pause(0.2), with_odd(midi, odd_db), pause(0.2))
    assert midis(take) == [midi]
    assert abs(take.notes[0].cents) < 0.1


@pytest.mark.parametrize("midi", [48, 53, 58])
def test_a_quick_note_with_weak_odd_harmonics_is_in_its_octave(midi):
    low, high = midi_to_hz(midi), 2.0 * midi_to_hz(midi)
    levels = brass_levels(low, RATE_HZ)
    levels[::2] *= 10 ** (-10.0 / 20)
    quick = harmonic_tone(low, 0.13, 11_025.0, levels=levels[:8], fade_s=0.01)
    assert octave_of(quick, 11_025.0, high) == pytest.approx(low)
    above = harmonic_tone(high, 0.13, 11_025.0, levels=brass_levels(high, RATE_HZ)[:5], fade_s=0.01)
    assert octave_of(above, 11_025.0, high) == high


@pytest.mark.parametrize("midi", [46, 58, 70])
def test_an_octave_is_not_taken_down_for_noise_or_the_end_of_a_lower_note(midi):
    rng = np.random.default_rng(4)
    tone = 0.1 * harmonic_tone(midi_to_hz(midi), 0.5, 11_025.0)
    noisy = tone + 0.02 * rng.standard_normal(len(tone))
    assert octave_of(noisy, 11_025.0, midi_to_hz(midi)) == midi_to_hz(midi)
    low = harmonic_tone(midi_to_hz(midi - 12), 0.5, 11_025.0)
    dying = tone + 0.05 * low * np.exp(-np.arange(len(low)) / 11_025.0 / 0.05)
    assert octave_of(dying, 11_025.0, midi_to_hz(midi)) == midi_to_hz(midi)


def beeps(length_s, beat_s, low_hz, high_hz, count, beep_s=0.06):
    """A metronome as programs have it: short sines, the first of four higher."""
    clicks = pause(length_s)
    time_s = np.arange(round(beep_s * RATE_HZ)) / RATE_HZ
    edge = np.minimum(1.0, np.minimum(time_s, beep_s - time_s) / 0.003)
    for beat in range(count):
        wave = 0.05 * edge * np.sin(2 * np.pi * (low_hz if beat % 4 else high_hz) * time_s)
        first = round((0.3 + beat * beat_s) * RATE_HZ)
        clicks[first : first + len(wave)] += wave[: len(clicks) - first]
    return clicks


@pytest.mark.parametrize(("low_hz", "high_hz"), [(880.0, 880.0), (440.0, 660.0), (1000.0, 1500.0)])
def test_a_metronome_that_goes_on_is_left_out_and_changes_no_note(low_hz, high_hz):
    line = [pause(2.3), note(46, 1.4), pause(0.1), note(50, 0.6), note(53, 1.5), pause(0.4)]
    sound = np.concatenate(line)
    ticks = beeps(len(sound) / RATE_HZ, 0.5, low_hz, high_hz, 11)
    take, plain = heard(sound + ticks), heard(sound)
    assert midis(take) == midis(plain) == [46, 50, 53]
    for one, other in zip(take.notes, plain.notes):
        assert one.cents == pytest.approx(other.cents, abs=0.5)
        assert one.start_s == pytest.approx(other.start_s, abs=0.03)
    said = [row for row in take.left_out if row.why.kind == "sounds.beep"]
    assert len(said) >= 4  # under the notes some drown
    assert said[0].start_s == pytest.approx(0.3, abs=0.02)


def test_a_players_own_short_notes_are_no_metronome():
    line = [part for midi in (65, 67, 69, 70) for part in (note(midi, 0.15), pause(0.25))]
    assert midis(heard(pause(0.2), *line)) == [65, 67, 69, 70]


@pytest.mark.parametrize("extent", [50.0, 75.0, 100.0])
@pytest.mark.parametrize("speed_hz", [3.5, 5.5, 7.5])
def test_a_wide_vibrato_from_the_first_cycle_is_one_note(extent, speed_hz):
    (one,) = heard(note(53, 1.6, cents=vibrato(1.6, RATE_HZ, extent, speed_hz))).notes
    assert one.midi == 53
    assert one.vibrato_hz == pytest.approx(speed_hz, abs=0.2)
    assert one.vibrato_cents == pytest.approx(extent, rel=0.15)


def test_a_trill_stays_its_notes():
    trill = [58, 60] * 5
    assert midis(heard(legato(trill, 0.12, 0.02))) == trill


def test_a_soft_tongue_parts_and_a_swell_does_not():
    time_s = np.arange(round(0.4 * RATE_HZ)) / RATE_HZ
    dip = 10 ** (-2.5 / 20 * np.exp(-(((time_s - 0.4) / 0.02) ** 2)))
    dips = np.concatenate([note(53, 1.6, fade_s=0.0)])
    level = np.tile(dip, 4)[: len(dips)]
    assert midis(heard(dips * level)) == [53] * 4
    swell = 10 ** (2.5 / 20 * np.sin(2 * np.pi * 1.0 * np.arange(len(dips)) / RATE_HZ))
    assert midis(heard(dips * swell)) == [53]


def test_a_moment_has_a_pitch_once_two_frames_agree():
    listener = Listener(RATE_HZ)
    moments = listener.push(np.concatenate((pause(0.3), note(46, 0.4), note(58, 0.4), pause(0.2))))
    told = [one for one in moments if one.f0_hz is not None]
    off = [min(abs(cents(one.f0_hz / midi_to_hz(midi))) for midi in (46, 58)) for one in told]
    assert max(off) < 30
    assert len(told) > 65


@pytest.mark.parametrize("off_cents", [33.0, 36.0])
def test_a_sharp_g_is_no_hum(off_cents):
    """G2 played a third of a semitone sharp is at the 100 Hz of the mains."""
    take = heard(pause(0.3), note(43, 0.8, cents=off_cents), pause(0.3))
    assert midis(take) == [43]


@pytest.mark.parametrize("midi", [50, 58, 62])
def test_a_release_whose_periods_differ_by_turns_is_no_lower_note(midi):
    half_hz, length_s = midi_to_hz(midi) / 2.0, 1.4
    levels = brass_levels(half_hz, RATE_HZ)
    odd, even = levels.copy(), levels.copy()
    odd[1::2] = even[::2] = 0.0
    # The odd harmonics of the half have 5.5 % of the power for the last quarter of a second.
    odd *= np.sqrt(0.055 / 0.945 * np.sum(even**2) / np.sum(odd**2))
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    comes = np.clip((time_s - length_s + 0.25) / 0.01, 0.0, 1.0)
    tone = harmonic_tone(half_hz, length_s, RATE_HZ, levels=even, fade_s=0.02)
    below = harmonic_tone(half_hz, length_s, RATE_HZ, levels=odd, fade_s=0.02)
    take = heard(pause(0.2), 0.1 * (tone + comes * below), pause(0.3))
    assert midis(take) == [midi]
    assert take.notes[0].end_s > 1.5


def test_a_slur_down_an_octave_is_two_notes_however_short_the_second():
    assert midis(heard(pause(0.2), legato([62, 62, 62, 50], 0.25), pause(0.3))) == [62, 50]
