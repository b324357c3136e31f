"""Takes of known truth: the truth is right by outside measures, and hearing finds the notes.

Outside: Praat's autocorrelation (P. Boersma, 1993) for pitches, scipy's analytic signal for onsets,
the decay by M. R. Schroeder (1965) for rooms, mir_eval's rules of matching by worked examples. All
kinds and both halves are scored by benchmarks/hearing_takes.py.
"""

from functools import lru_cache

import numpy as np
import parselmouth
import pytest
from scipy.signal import hilbert
from truetakes import rooms
from truetakes.kinds import KINDS, make_take
from truetakes.peers import ours
from truetakes.played import played_phrases
from truetakes.score import Found, Tally, pairs
from truetakes.truth import TrueNote

from handslide.ground.units import cents
from handslide.sound.hum import without_hum
from handslide.sound.measure import measure_pieces
from handslide.sound.metronome import without_beeps
from handslide.sound.notes import hear
from handslide.sound.segments import envelope_db, gate_db
from handslide.sound.track import Tracker

# F (onset within 100 ms, pitch within 50 cents) of one take of tones of each kind.
LEAST_F = {
    "plain": 0.95,
    "softer": 0.95,
    "band": 0.95,
    "mute": 0.95,
    "quick": 0.9,
    "vibrato": 0.7,
    "offset": 0.95,
    "antiphase": 0.95,
    "echo-0.3": 0.95,
    "metronome": 0.95,
    "echo-0.6": 0.95,
    "echo-0.9": 0.9,
    "repeats": 0.9,
    "smeared": 0.95,
    "multiphonic": 0.95,
    "low": 0.95,
    "attacks": 0.95,
    "noise": 0.95,
    "dynamics": 0.95,
    "slurs": 0.95,
    "beats": 0.95,
    "hum": 0.95,
}


@lru_cache
def take_of(kind):
    return make_take(kind, 0, real=False)


@pytest.mark.parametrize("kind", LEAST_F)
def test_hearing_finds_the_notes_of_a_take(kind):
    take = take_of(kind)
    tally = Tally()
    tally.add(take.notes, ours(take))
    assert tally.f(1) >= LEAST_F[kind]
    assert tally.octaves == 0
    # Quick notes begin beside their pitch and are over before it settles.
    assert abs(np.median(tally.cents)) < (5.0 if kind == "quick" else 1.0)


@pytest.mark.sample
@pytest.mark.parametrize("kind", KINDS)
def test_what_sounds_with_a_pitch_is_a_note_or_left_out(kind):
    take = take_of(kind)
    tracker = Tracker(take.rate_hz)
    tracker.push(take.samples if take.samples.ndim == 1 else take.samples[:, 0])
    track, beeps = without_beeps(without_hum(tracker.finish()))
    notes, left_out = measure_pieces(track, beeps)
    level = envelope_db(track, track.f0_hz)
    sounds = (level >= gate_db(track, level)) & (track.clarity >= 0.6)
    time_s = np.arange(len(level)) * track.hop_s
    rows = np.array([(row.start_s, row.end_s) for row in (*notes, *left_out)])
    # A frame shows a tone half its length before the tone begins.
    told = (time_s[:, None] >= rows[:, 0] - 0.07) & (time_s[:, None] < rows[:, 1])
    assert sounds.sum() > 0.3 * len(sounds)
    assert not time_s[sounds & ~told.any(axis=1)].tolist()


@pytest.mark.parametrize("number", (2, 3, 4))
def test_what_is_sung_into_a_horn_is_no_lower_note(number):
    take = make_take("multiphonic", number)
    heard = hear(take.samples, take.rate_hz)
    sung = [note for note in take.notes if note.optional]
    assert sung
    for note in sung:
        said = [row.why.kind for row in heard.left_out if row.start_s < note.onset_s + 0.1
                and row.end_s > note.offset_s - 0.1]  # fmt: skip
        assert said == ["sounds.several_pitches"]
    assert len(heard.notes) == len(take.notes) - len(sung)


def test_hearing_finds_what_somebody_played():
    (take,) = played_phrases()
    found = pairs(take.notes, ours(take), 0.1)
    assert len(take.notes) == 15
    assert len(found) >= 13


def test_praat_hears_the_pitches_that_are_said_to_sound():
    take = make_take("plain", 2)
    sound = parselmouth.Sound(take.samples, take.rate_hz)
    pitch = sound.to_pitch_ac(0.005, pitch_floor=40.0, pitch_ceiling=900.0)
    time_s, hz = pitch.xs(), pitch.selected_array["frequency"]
    for note in take.notes:
        margin_s = 0.25 * (note.offset_s - note.onset_s)
        inside = (time_s > note.onset_s + margin_s) & (time_s < note.offset_s - margin_s) & (hz > 0)
        assert abs(cents(np.exp(np.mean(np.log(hz[inside]))) / note.hz)) < 2.5


def test_notes_begin_where_they_are_said_to():
    take = make_take("beats", 0)
    level = np.abs(hilbert(take.samples))
    width = round(0.012 * take.rate_hz)
    level = np.sqrt(np.convolve(level**2, np.ones(width) / width, "same"))
    for note in take.notes:
        begin, middle = (round(at * take.rate_hz) for at in (note.onset_s - 0.04, note.onset_s))
        full = np.median(level[middle + width * 4 : middle + width * 8])
        rise = begin + np.flatnonzero(level[begin : middle + width * 4] >= 0.5 * full)[0]
        assert abs(rise - middle) / take.rate_hz < 0.008
        assert note.onset_s == pytest.approx(note.beat_s + note.late_s)


@pytest.mark.parametrize("rt_s", (0.3, 0.6, 0.9))
def test_a_room_dies_away_in_the_time_that_is_said(rt_s):
    rng = np.random.default_rng(5)
    box = rooms.box_room(rt_s, (8.0, 6.0, 3.0), 1.5, rng)
    for answer in (box, rooms.decaying_noise(rt_s, 0.0, rng)):
        energy = np.cumsum(answer[:0:-1] ** 2)[::-1]
        db = 10.0 * np.log10(energy / energy[0] + 1e-30)
        from_db, to_db = np.argmax(db < -5.0), np.argmax(db < -35.0)
        assert 2.0 * (to_db - from_db) / rooms.RATE_HZ == pytest.approx(rt_s, rel=0.12)
        assert answer[0] == pytest.approx(1.0)


def test_a_slur_takes_the_time_that_is_said():
    take = make_take("smeared", 0)
    sound = parselmouth.Sound(take.samples, take.rate_hz)
    pitch = sound.to_pitch_ac(0.002, pitch_floor=75.0, pitch_ceiling=900.0)
    time_s, hz = pitch.xs(), pitch.selected_array["frequency"]
    judged = 0
    for before, note in zip(take.notes, take.notes[1:]):
        if note.transit_s is None:
            continue
        inside = (np.abs(time_s - note.onset_s) < 0.15) & (hz > 0)
        way = np.log(hz[inside] / before.hz) / np.log(note.hz / before.hz)
        tenth, rest = np.interp((0.1, 0.9), np.maximum.accumulate(way), time_s[inside])
        assert rest - tenth == pytest.approx(note.transit_s, abs=0.015)
        assert (rest + tenth) / 2.0 == pytest.approx(note.onset_s, abs=0.01)
        judged += 1
    assert judged == 8


def test_a_take_is_always_the_same_and_the_halves_differ():
    first, again, kept = make_take("low", 0), make_take("low", 0), make_take("low", 0, kept=True)
    assert np.array_equal(first.samples, again.samples)
    assert first.notes == again.notes
    assert first.notes != kept.notes
    assert len(KINDS) * 8 >= 160


def test_the_score_by_hand():
    true = [TrueNote(float(n), n + 0.8, 220.0) for n in range(5)]
    heard = [
        Found(0.02, 0.8, 220.0),
        Found(1.07, 1.8, 220.0 * 2 ** (40 / 1200)),
        Found(2.0, 2.8, 440.0),
        Found(3.0, 3.8, 220.0 * 2 ** (60 / 1200)),
        Found(6.0, 6.5, 220.0),
    ]
    tally = Tally()
    tally.add(true, heard)
    assert (tally.right, tally.heard, tally.true) == ([1, 2], [5, 5], 5)
    assert (tally.f(0), tally.f(1), tally.octaves) == (0.2, 0.4, 1)
    assert tally.false == 3
    assert tally.cents == pytest.approx([0.0, 40.0])


def test_of_two_notes_at_once_each_is_found_once():
    true = [TrueNote(0.0, 0.4, 220.0), TrueNote(0.09, 0.4, 220.0)]
    assert len(pairs(true, [Found(0.05, 0.4, 220.0)], 0.1)) == 1
    both = [Found(0.08, 0.4, 220.0), Found(0.17, 0.4, 220.0)]
    assert pairs(true, both, 0.1) == {0: 0, 1: 1}


def test_what_is_optional_neither_helps_nor_hurts():
    true = [TrueNote(0.0, 1.0, 110.0, optional=True, also_hz=(165.0,))]
    for heard, false in (([], 0), ([Found(0.0, 1.0, 165.0)], 0), ([Found(0.0, 1.0, 55.0)], 1)):
        tally = Tally()
        tally.add(true, heard)
        assert (tally.true, tally.false) == (0, false)
