"""Where notes begin, and that a room makes one note no two: made tones of known envelopes.

The expected moments are those of the envelopes themselves.
"""

import numpy as np
import pytest

from handslide.sound.notes import hear

RATE_HZ = 44_100


def tone(f0_hz, length_s, count=12):
    """A brassy tone (n,) of level 0.1."""
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    number = np.arange(1, count + 1)
    level = 0.1 * 10 ** (-0.25 * np.abs(number - 3) / 2)
    phase = 2 * np.pi * number[:, None] * f0_hz * time_s + number[:, None] ** 2
    return (level[:, None] * np.sin(phase)).sum(axis=0)


def rise(at_s, length_s, width_s):
    """From 0 to 1 over ``width_s`` about ``at_s``, a raised cosine."""
    along = np.clip((np.arange(round(length_s * RATE_HZ)) / RATE_HZ - at_s) / width_s + 0.5, 0, 1)
    return 0.5 - 0.5 * np.cos(np.pi * along)


def hissing(samples):
    return samples + 1e-5 * np.random.default_rng(3).standard_normal(len(samples))


@pytest.mark.parametrize("f0_hz", [58.3, 116.5, 233.1, 440.0])
def test_a_note_begins_where_it_rises(f0_hz):
    samples = hissing(tone(f0_hz, 2.0) * rise(0.7, 2.0, 0.03))
    (note,) = hear(samples, RATE_HZ).notes
    assert note.start_s == pytest.approx(0.697, abs=0.005)


@pytest.mark.parametrize("next_hz", [130.8, 146.8, 155.6, 220.0])
def test_a_note_begins_under_the_one_that_rings_on(next_hz):
    length_s, at_s = 2.5, 1.1
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    ring = 10 ** (-3.0 * np.maximum(time_s - 1.0, 0.0) / 0.9)  # 60 dB in 0.9 s, from 1.0 s on
    first = tone(174.6, length_s) * rise(0.2, length_s, 0.03) * ring
    second = 0.5 * tone(next_hz, length_s) * rise(at_s, length_s, 0.03)
    notes = hear(hissing(first + second), RATE_HZ).notes
    assert [round(note.f0_hz) for note in notes] == [175, round(next_hz)]
    assert notes[1].start_s == pytest.approx(at_s, abs=0.02)
    assert notes[0].end_s <= notes[1].start_s


@pytest.mark.parametrize("dip_db", [2.0, 3.5])
def test_a_soft_tongue_parts_two_notes_where_the_level_is_half_way_up_again(dip_db):
    length_s, lowest_s, width_s = 1.4, 0.8, 0.10
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    off = np.clip((time_s - lowest_s) / width_s, -0.5, 0.5)
    dip = 10 ** (-dip_db * (0.5 + 0.5 * np.cos(2 * np.pi * off)) / 20)
    samples = hissing(tone(146.8, length_s) * rise(0.3, length_s, 0.03) * dip)
    notes = hear(samples, RATE_HZ).notes
    assert len(notes) == 2
    assert notes[1].start_s == pytest.approx(lowest_s + width_s / 4, abs=0.012)


def test_dips_of_single_harmonics_are_no_tongues():
    length_s = 1.4
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    samples = np.zeros(len(time_s))
    for number in range(1, 13):
        depth = 6.0 if number in (2, 3, 4) else 0.0
        off = np.clip((time_s - 0.8) / 0.1, -0.5, 0.5)
        dip = 10 ** (-depth * (0.5 + 0.5 * np.cos(2 * np.pi * off)) / 20)
        samples += dip * 0.1 * np.sin(2 * np.pi * number * 146.8 * time_s + number**2)
    (note,) = hear(hissing(samples * rise(0.3, length_s, 0.03)), RATE_HZ).notes
    assert note.end_s > 1.3


@pytest.mark.parametrize(("numbers", "count"), [((1,), 1), ((8,), 1), ((1, 3, 5, 7), 0)])
def test_one_harmonic_beside_the_others_is_a_room_and_several_are_two_tones(numbers, count):
    time_s = np.arange(round(1.2 * RATE_HZ)) / RATE_HZ
    samples = np.zeros(len(time_s))
    for number in range(1, 9):
        off = 2 ** (12.0 * (number in numbers) / 1200)
        samples += 0.05 * np.sin(2 * np.pi * number * 155.6 * off * time_s + number**2)
    take = hear(hissing(samples * rise(0.2, 1.2, 0.03)), RATE_HZ)
    assert len(take.notes) == count
    assert all(abs(note.f0_hz / 155.6 - 1) < 0.002 for note in take.notes)
