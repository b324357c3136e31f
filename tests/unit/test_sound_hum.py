"""Mains hum under notes: it changes none, is none, and takes none away that has its pitch."""

import numpy as np
import pytest
from scenes import RATE_HZ, heard, midis, noise, note, pause

from handslide.sound.hum import without_hum
from handslide.sound.track import Track, Tracker


def mains(length, mains_hz, seed, *, level=0.02, lines=4, wander_hz=0.002):
    """Lines of 1/k at the multiples of mains whose frequency wanders, of random phases."""
    rng = np.random.default_rng(seed)
    seconds = np.arange(length / RATE_HZ + 1.0)
    walk = wander_hz * np.cumsum(rng.standard_normal(len(seconds)))
    turn = np.cumsum(mains_hz + np.interp(np.arange(length) / RATE_HZ, seconds, walk)) / RATE_HZ
    parts = [np.sin(2 * np.pi * (k * turn + rng.random())) / k for k in range(1, lines + 1)]
    return level * np.sum(parts, axis=0)


def tracked(samples) -> Track:
    tracker = Tracker(RATE_HZ)
    tracker.push(samples)
    return tracker.finish()


@pytest.mark.parametrize("seed", range(6))
def test_hum_changes_no_note_and_is_none(seed):
    rng = np.random.default_rng(seed)
    midi = [int(one) for one in rng.choice(np.arange(28, 78), 3, replace=False)]
    midi.append((48, 51, 53, 62)[seed % 4])  # three times one of the lines' multiples is near
    parts = [pause(0.4)]
    for one in midi:
        parts += [note(one, float(rng.uniform(0.5, 1.2))), pause(0.5)]
    line = np.concatenate(parts)
    line += noise(len(line) / RATE_HZ, 1e-4, seed)[: len(line)]
    mains_hz = (50.0, 60.0)[seed % 2] + float(rng.uniform(-0.05, 0.05))
    clean = heard(line)
    take = heard(line + mains(len(line), mains_hz, seed, lines=3 + seed))
    assert midis(take) == midis(clean) == midi
    for one, other in zip(take.notes, clean.notes):
        assert one.cents == pytest.approx(other.cents, abs=0.5)
        assert one.start_s == pytest.approx(other.start_s, abs=0.04)
        assert one.end_s == pytest.approx(other.end_s, abs=0.06)


@pytest.mark.parametrize("midi", range(28, 78, 7))
@pytest.mark.parametrize("off_cents", [-35.0, 0.0])
def test_no_note_is_lost_beside_hum(midi, off_cents):
    """From E1 to F5."""
    line = np.concatenate((pause(0.5), note(midi, 0.9, cents=off_cents), pause(0.5)))
    assert midis(heard(line + mains(len(line), 50.0, midi))) == [midi]


@pytest.mark.parametrize(
    ("midi", "off_cents", "mains_hz"),
    [
        (31, 0.0, 50.0),  # G1, 49 Hz
        (31, 35.0, 50.0),  # at 50 Hz
        (35, 0.0, 60.0),  # B1, 61.7 Hz
        (35, -49.0, 60.0),  # at 60 Hz
        (43, 0.0, 50.0),  # G2, 98 Hz
        (43, 35.0, 50.0),  # at 100 Hz
        (47, -49.0, 60.0),  # at 120 Hz
        (50, 37.0, 50.0),  # at 150 Hz
        (55, 35.0, 50.0),  # at 200 Hz
    ],
)
@pytest.mark.parametrize("level", [0.0, 0.01])
def test_a_note_at_the_pitch_of_the_mains_stays(midi, off_cents, mains_hz, level):
    line = np.concatenate((pause(0.5), note(midi, 1.2, cents=off_cents), pause(0.6)))
    line += noise(len(line) / RATE_HZ, 1e-4)[: len(line)]
    take = heard(line + mains(len(line), mains_hz, 1, level=level, wander_hz=0.0))
    assert midis(take) == [midi]
    assert take.notes[0].cents == pytest.approx(off_cents, abs=1.0)
    assert take.notes[0].end_s - take.notes[0].start_s == pytest.approx(1.2, abs=0.1)


@pytest.mark.parametrize("level_db", [-12.0, -20.0, -32.0])
@pytest.mark.parametrize(("midi", "off_cents"), [(43, 30.0), (43, 38.0), (47, -49.0), (35, -49.0)])
def test_a_soft_note_at_the_pitch_of_the_mains_stays_among_loud_ones(midi, off_cents, level_db):
    soft = 10 ** (level_db / 20) * note(midi, 1.0, cents=off_cents)
    for line in (
        (note(50, 0.8), soft, note(53, 0.8)),
        (soft,),
        (pause(0.5), note(50, 0.8), pause(0.4), soft, pause(0.4), note(53, 0.8), pause(0.5)),
    ):
        (found,) = [one for one in heard(*line, floor_db=-75.0).notes if one.midi == midi]
        assert found.cents == pytest.approx(off_cents, abs=1.0)
        assert found.end_s - found.start_s == pytest.approx(1.0, abs=0.1)


@pytest.mark.sample
@pytest.mark.parametrize("midi", [31, 35, 43, 47, 50])
@pytest.mark.parametrize("off_cents", [-20.0, 0.0, 20.0, 35.0])
def test_a_soft_note_that_is_all_the_quiet_there_is_stays(midi, off_cents):
    loud, soft = note(58, 1.0), note(midi, 1.0, cents=off_cents, level=0.02)
    take = tracked(np.concatenate((loud, soft, loud, soft)))
    assert without_hum(take) is take
    if off_cents < 35.0:
        assert midis(heard(loud, soft, loud, soft)) == [58, midi, 58, midi]


def test_what_is_taken_out_is_the_hum():
    line = np.concatenate((pause(0.5), note(58, 1.5), pause(0.5), note(65, 1.5), pause(0.5)))
    added = mains(len(line), 50.03, 3)
    clean, take = tracked(line), tracked(line + added)
    before, after = (
        float(np.mean((one.samples - clean.samples) ** 2)) for one in (take, without_hum(take))
    )
    assert after < 0.003 * before
