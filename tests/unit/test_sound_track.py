"""The coarse track: octaves, blocks of any size, other rates, noise."""

import numpy as np
import pytest
from scenes import RATE_HZ

from handslide.ground.errors import BadData
from handslide.ground.units import midi_to_hz
from handslide.sound.tones import brass_levels, fades, harmonic_tone
from handslide.sound.track import Thinner, Tracker, thinning_factor


def tracked(sound, rate_hz=RATE_HZ):
    tracker = Tracker(rate_hz)
    tracker.push(sound)
    return tracker.finish()


def off_cents(track, f0_hz):
    return 1200 * np.log2(track.f0_hz[8:-8] / f0_hz)


@pytest.mark.parametrize("snr_db", [60, 10])
def test_no_octave_error_from_below_the_pedals_to_above_high_f(snr_db):
    rng = np.random.default_rng(2)
    for midi in range(20, 85):
        f0_hz = midi_to_hz(midi)
        phases = rng.uniform(0, 2 * np.pi, len(brass_levels(f0_hz, RATE_HZ)))
        tone = harmonic_tone(f0_hz, 0.5, RATE_HZ, phases=phases)
        track = tracked(tone + 10 ** (-snr_db / 20) * rng.standard_normal(len(tone)))
        assert np.abs(off_cents(track, f0_hz)).max() < 1.0, midi


@pytest.mark.parametrize("missing", [(1,), (1, 2), (1, 2, 3), (2, 4, 6)])
@pytest.mark.parametrize("midi", [28, 34, 41, 46])
def test_missing_harmonics_change_no_octave(midi, missing):
    levels = brass_levels(midi_to_hz(midi), RATE_HZ)
    levels[np.array(missing) - 1] = 0.0
    track = tracked(harmonic_tone(midi_to_hz(midi), 0.5, RATE_HZ, levels=levels))
    assert np.abs(off_cents(track, midi_to_hz(midi))).max() < 2.0


@pytest.mark.parametrize("rate_hz", [8000, 11_025, 16_000, 22_050, 48_000, 96_000, 192_000])
def test_any_rate(rate_hz):
    track = tracked(harmonic_tone(116.54, 0.5, rate_hz), rate_hz)
    assert 8000 <= track.rate_hz <= 20_000
    assert np.abs(off_cents(track, 116.54)).max() < 1.0
    assert track.length_s == pytest.approx(0.5, abs=0.001)


@pytest.mark.parametrize("size", [1, 100, 4097])
def test_blocks_of_any_size_give_the_same_track(size):
    sound = np.concatenate((harmonic_tone(87.3, 0.15, RATE_HZ), harmonic_tone(220, 0.15, RATE_HZ)))
    whole = tracked(sound)
    tracker = Tracker(RATE_HZ)
    for first in range(0, len(sound), size):
        tracker.push(sound[first : first + size])
    parts = tracker.finish()
    assert np.allclose(parts.samples, whole.samples, atol=1e-12)
    assert np.allclose(parts.f0_hz, whole.f0_hz, rtol=1e-6, equal_nan=True)
    assert np.allclose(parts.level_db, whole.level_db, atol=1e-6)


def test_noise_and_silence_have_no_clear_pitch():
    assert tracked(np.random.default_rng(0).standard_normal(RATE_HZ)).clarity.max() < 0.45
    assert np.isnan(tracked(np.zeros(RATE_HZ)).f0_hz).all()
    assert len(tracked(np.zeros(0)).f0_hz) <= 1


def test_thinning_has_no_delay_and_lets_nothing_fold_back():
    time_s = np.arange(RATE_HZ) / RATE_HZ
    thinner = Thinner(4)
    thin = np.concatenate((thinner.push(np.sin(2 * np.pi * 1000 * time_s)), thinner.finish()))
    assert np.abs(thin - np.sin(2 * np.pi * 1000 * time_s[::4]))[50:-50].max() < 1e-3
    thinner = Thinner(4)
    assert np.abs(thinner.push(np.sin(2 * np.pi * 7000 * time_s)))[50:-50].max() < 2e-3
    assert [thinning_factor(rate) for rate in (8000, 44_100, 48_000, 96_000)] == [1, 4, 4, 9]


def test_tones_are_what_they_say():
    tone = harmonic_tone(100.0, 1.0, 8000)
    assert np.mean(tone**2) == pytest.approx(1.0, rel=0.01)
    assert harmonic_tone(100.0, 0.5, 8000, fade_s=0.01)[[0, -1]] == pytest.approx(0, abs=0.01)
    assert len(fades(10, 20)) == 10
    with pytest.raises(BadData, match=r"can't be made at 8000 samples a second"):
        harmonic_tone(5000.0, 1.0, 8000)
