"""Tones with a known answer: bias, spread against the Cramér–Rao bound, honest standard errors."""

import numpy as np
import pytest
from scenes import RATE_HZ, bound_cents

from handslide.ground.units import cents, midi_to_hz
from handslide.sound.refine import blocks_of, unlocked_cents
from handslide.sound.tones import brass_levels, harmonic_tone, vibrato
from handslide.sound.track import Thinner, Tracker
from handslide.sound.vibrato import mean_pitch

TRIALS = 25


def measured(sound, f0_hz, guess_cents=0.0):
    """Mean pitch and blocks of a whole sound without edges; the guess is off by some cents."""
    thinner = Thinner(4)
    thin = np.concatenate((thinner.push(sound), thinner.finish()))[20:-20]
    path = np.full(len(thin), f0_hz * 2 ** (guess_cents / 1200))
    blocks = blocks_of(thin, RATE_HZ / 4, path)
    mean = mean_pitch(blocks.time_s, blocks.step_s, blocks.turn, 2 * blocks.step_s)
    return mean, blocks


def trials(midi, snr_db, seed, count=TRIALS):
    """Errors and claimed standard errors in cents of many steady tones, and the bound."""
    rng = np.random.default_rng(seed)
    errors, claimed = [], []
    noise_sd = 10 ** (-snr_db / 20)
    for _ in range(count):
        f0_hz = midi_to_hz(midi) * 2 ** (rng.uniform(-50, 50) / 1200)
        phases = rng.uniform(0, 2 * np.pi, len(brass_levels(f0_hz, RATE_HZ)))
        tone = harmonic_tone(f0_hz, 0.5, RATE_HZ, phases=phases)
        tone = tone + noise_sd * rng.standard_normal(len(tone))
        mean, blocks = measured(tone, f0_hz, rng.normal(0, 2))
        errors.append(cents(mean.f0_hz / f0_hz))
        claimed.append(mean.se_cents)
    samples = round((len(blocks.time_s) + 1) * blocks.step_s * RATE_HZ)
    return np.array(errors), np.array(claimed), bound_cents(f0_hz, samples, RATE_HZ, noise_sd)


@pytest.mark.parametrize("snr_db", [20, 30, 40])
@pytest.mark.parametrize("midi", [28, 34, 46, 58, 70, 77])
def test_steady_tones_reach_the_bound(midi, snr_db):
    errors, _, bound = trials(midi, snr_db, seed=midi + snr_db)
    # 1.3 of the bound, and two standard errors of a standard deviation from this many trials.
    slack = 1 + 2 / np.sqrt(2 * TRIALS)
    assert abs(errors.mean()) < 0.2
    assert errors.std() < 1.3 * slack * bound
    assert np.abs(errors).max() < 0.02


@pytest.mark.parametrize("snr_db", [0, 10, 60])
@pytest.mark.parametrize("midi", [28, 46, 77])
def test_noisy_and_clean_tones_stay_far_below_a_cent(midi, snr_db):
    errors, _, bound = trials(midi, snr_db, seed=midi)
    assert abs(errors.mean()) < 0.01
    assert errors.std() < max(1.6 * bound, 2e-4)


@pytest.mark.parametrize("midi", [34, 58])
def test_the_claimed_error_is_that_of_noise_when_there_is_only_noise(midi):
    errors, claimed, _ = trials(midi, 20, seed=3, count=60)
    assert 0.7 < np.median(claimed) / errors.std() < 1.5


def test_the_claimed_error_covers_a_wandering_pitch():
    rng = np.random.default_rng(5)
    inside = 0
    for _ in range(50):
        steps = rng.standard_normal(round(1.5 * 50))
        walk = [0.0]
        for step in steps:  # first-order autoregression, 50 values a second, 5 cents
            walk.append(0.7 * walk[-1] + 5 * np.sqrt(1 - 0.49) * step)
        time_s = np.arange(round(1.5 * RATE_HZ)) / RATE_HZ
        curve = np.interp(time_s, np.arange(len(walk)) / 50, walk)
        tone = harmonic_tone(233.08, 1.5, RATE_HZ, cents=curve)
        mean, _ = measured(tone + 0.01 * rng.standard_normal(len(tone)), 233.08)
        inside += abs(cents(mean.f0_hz / 233.08)) < 2 * mean.se_cents
        assert 2.0 < mean.spread_cents < 9.0
    assert inside >= 43


@pytest.mark.parametrize(
    ("midi", "extent", "speed_hz"),
    [
        *((midi, *one) for midi in (34, 46, 58, 74) for one in ((15, 5.0), (30, 6.0), (20, 4.5))),
        *((midi, *one) for midi in (46, 58, 74) for one in ((75, 5.5), (100, 4.5))),
    ],
)
def test_vibrato_is_measured_and_its_mean_is_the_note(midi, extent, speed_hz):
    f0_hz = midi_to_hz(midi)
    tone = harmonic_tone(f0_hz, 2.13, RATE_HZ, cents=vibrato(2.13, RATE_HZ, extent, speed_hz))
    tracker = Tracker(RATE_HZ)
    tracker.push(tone)
    track = tracker.finish()
    middle = np.arange(len(track.f0_hz)) * track.hop
    path = np.interp(np.arange(len(track.samples)), middle[5:-5], track.f0_hz[5:-5])
    blocks = blocks_of(track.samples, track.rate_hz, path)
    mean = mean_pitch(blocks.time_s, blocks.step_s, blocks.turn, 2 * blocks.step_s)
    # The mean of the frequency is 0.8 and 1.4 cents higher with the wide ones.
    assert abs(cents(mean.f0_hz / f0_hz)) < 0.3
    assert mean.vibrato_hz == pytest.approx(speed_hz, abs=0.15)
    assert mean.vibrato_cents == pytest.approx(extent, rel=0.08)
    assert mean.spread_cents == pytest.approx(extent / np.sqrt(2), rel=0.1)


def test_a_steady_drift_gives_the_middle_and_says_that_it_is_unsure():
    time_s = np.arange(RATE_HZ) / RATE_HZ
    tone = harmonic_tone(174.6, 1.0, RATE_HZ, cents=20 * (time_s - 0.5))
    mean, _ = measured(tone, 174.6)
    assert abs(cents(mean.f0_hz / 174.6)) < 0.1
    assert 2 < mean.se_cents < 7


def test_clipping_moves_no_pitch():
    tone = np.clip(harmonic_tone(116.54, 1.0, RATE_HZ), -0.8, 0.8)
    mean, _ = measured(tone, 116.54)
    assert abs(cents(mean.f0_hz / 116.54)) < 0.01


def test_a_fundamental_that_is_missing_moves_no_pitch():
    levels = brass_levels(58.27, RATE_HZ)
    levels[:3] = 0.0
    mean, _ = measured(harmonic_tone(58.27, 1.0, RATE_HZ, levels=levels), 58.27, 5.0)
    assert abs(cents(mean.f0_hz / 58.27)) < 0.001


def test_harmonics_of_a_tone_are_locked():
    _, blocks = measured(harmonic_tone(116.54, 1.0, RATE_HZ), 116.54)
    number, off, _, power = unlocked_cents(blocks, 116.54)
    assert len(number) > 15
    assert np.abs(off).max() < 0.05
    assert power.sum() == pytest.approx(1.0, abs=0.05)


def test_a_sound_of_four_periods_is_too_short():
    assert blocks_of(np.ones(400), 11_025.0, np.full(400, 100.0)) is None
