"""The notes of composed takes: every note, no other, and why the rest was left out."""

import numpy as np
import pytest
from scenes import (
    RATE_HZ,
    count_in,
    heard,
    hum,
    legato,
    metronome,
    midis,
    noise,
    note,
    pause,
    piano,
    reasons,
)  # fmt: skip

from handslide.ground.errors import TakeError
from handslide.ground.facts import Fact, fact
from handslide.ground.units import cents, midi_to_hz
from handslide.sound import measure
from handslide.sound.notes import hear
from handslide.sound.refine import _hop_for
from handslide.sound.segments import Piece
from handslide.sound.stream import Listener
from handslide.sound.tones import harmonic_tone, vibrato
from handslide.sound.track import Track


def test_every_note_from_pedal_e_to_high_f():
    for midi in (24, 28, 34, 40, 46, 53, 58, 65, 70, 77, 83):
        take = heard(pause(0.2), note(midi, 0.8, cents=7.0), pause(0.2))
        (one,) = take.notes
        assert (one.midi, one.vibrato_hz) == (midi, None)
        assert one.cents == pytest.approx(7.0, abs=0.02)
        assert one.cents_se < 0.2
        assert one.start_s == pytest.approx(0.2, abs=0.04)
        assert one.end_s == pytest.approx(1.0, abs=0.04)
        assert one.start_s - 0.02 <= one.steady_start_s < one.steady_end_s <= one.end_s + 0.02
        assert one.f0_hz == pytest.approx(midi_to_hz(midi) * 2 ** (7 / 1200), rel=1e-4)
        assert take.left_out == ()


@pytest.mark.parametrize("snr_db", [10, 0])
def test_notes_in_loud_noise(snr_db):
    take = heard(pause(1), note(34, 1), pause(0.3), note(58, 1), pause(1), floor_db=-20 - snr_db)
    assert midis(take) == [34, 58]
    assert max(abs(one.cents) for one in take.notes) < 0.2


def test_slurred_notes_are_parted_by_their_steps():
    line = [46, 50, 53, 58, 57, 53]
    take = heard(legato(line, 0.3))
    assert midis(take) == line
    assert [one.start_s for one in take.notes] == pytest.approx(0.3 * np.arange(6), abs=0.04)
    assert max(abs(one.cents) for one in take.notes) < 1.0


def test_quick_semitones_and_low_slurs():
    quick = [53, 54, 55, 56, 57, 58, 57, 56]
    assert midis(heard(legato(quick, 0.12, 0.015))) == quick
    low = [34, 36, 38, 39, 41]
    assert midis(heard(legato(low, 0.4, 0.03))) == low


def test_repeated_notes_are_notes_of_their_own():
    detached = [part for _ in range(5) for part in (note(53, 0.3, fade_s=0.01), pause(0.03))]
    assert midis(heard(*detached)) == [53] * 5
    time_s = np.arange(round(0.3 * RATE_HZ)) / RATE_HZ
    tongued = 1 - 0.6 * np.exp(-((time_s / 0.02) ** 2))
    assert midis(heard(*[note(53, 0.3, fade_s=0.0) * tongued for _ in range(5)])) == [53] * 5


def test_swells_and_vibrato_split_nothing():
    for extent, speed_hz in ((15, 5.0), (30, 6.0), (45, 5.5)):
        wave = vibrato(2.0, RATE_HZ, extent, speed_hz)
        (one,) = heard(note(58, 2.0, cents=wave) * (1 + wave / extent * 0.3)).notes
        assert one.vibrato_hz == pytest.approx(speed_hz, abs=0.2)
        assert one.vibrato_cents == pytest.approx(extent, rel=0.1)
        assert abs(one.cents) < 1.0
    assert midis(heard(note(58, 3.0) * np.linspace(0.02, 1, 3 * RATE_HZ))) == [58]


@pytest.mark.parametrize("length_s", [0.33, 0.6, 1.0, 2.0])
def test_a_glissando_is_no_staircase(length_s):
    slide = np.linspace(0, 500, round(length_s * RATE_HZ))
    cents_ = np.concatenate((np.zeros(RATE_HZ), slide, np.full(RATE_HZ, 500.0)))
    take = heard(note(53, len(cents_) / RATE_HZ, cents=cents_))
    assert midis(take) == [53, 58]
    assert reasons(take) <= {"sliding", "no_steady_pitch"}
    assert reasons(take)


def test_the_attack_is_not_in_the_mean():
    time_s = np.arange(RATE_HZ) / RATE_HZ
    (one,) = heard(note(58, 1.0, cents=-80 * np.exp(-time_s / 0.05))).notes
    assert abs(one.cents) < 0.7
    assert one.scoop_cents < -30
    assert one.steady_start_s > 0.05


def test_a_metronome_breath_and_hum_add_nothing():
    line = np.concatenate((pause(1), note(58, 2), pause(1)))
    take = heard(line + metronome(4.0))
    assert midis(take) == [58]
    assert reasons(take) <= {"beep", "too_short", "click"}
    take = heard(line + hum(4.0))
    assert midis(take) == [58]
    take = heard(noise(0.5, 0.01), note(46, 1), noise(0.5, 0.01, seed=2))
    assert midis(take) == [46]


def test_hum_ten_db_below_low_notes_changes_none():
    line = np.concatenate((pause(0.5), note(34, 1.4), pause(0.2), note(41, 1.4), pause(0.5)))
    take = heard(line + hum(4.0))
    assert midis(take) == [34, 41]
    assert max(abs(one.cents) for one in take.notes) < 0.2


def test_no_notes_where_there_are_none():
    assert (reasons(heard(hum(4.0))), midis(heard(hum(4.0)))) == ({"hum"}, [])
    rush = heard(noise(2.0, 0.1))
    assert (reasons(rush), midis(rush)) == ({"noise"}, [])
    assert midis(heard(metronome(4.0))) == []
    silent = hear(np.zeros(RATE_HZ), RATE_HZ)
    assert (silent.notes, silent.left_out) == ((), ())
    assert silent.warnings == (Fact("sounds.silent"),)
    assert hear(np.zeros(0), RATE_HZ).length_s == 0.0


@pytest.mark.parametrize("seed", [1, 2, 3, 4, 5])
def test_a_spoken_count_in_is_left_out(seed):
    take = heard(count_in(seed), note(46, 1), pause(0.2), note(50, 1))
    assert midis(take) == [46, 50]
    assert take.left_out


def test_a_piano_note_before_is_left_out():
    take = heard(piano(58, 1.5), note(58, 1.5))
    assert midis(take) == [58]
    assert take.notes[0].start_s == pytest.approx(1.5, abs=0.05)
    assert reasons(take) == {"struck_string"}
    assert midis(heard(piano(46, 1.5))) == midis(heard(piano(70, 1.5))) == []


@pytest.mark.parametrize("chord", [(46, 53, 62), (58, 62), (50, 54, 57), (58, 59)])
def test_several_players_are_said(chord):
    take = heard(sum(note(midi, 1.5) for midi in chord))
    assert take.notes == ()
    assert "several_pitches" in reasons(take)


def test_clipping_is_said_and_changes_no_pitch():
    take = heard(np.clip(note(58, 1, level=0.8), -0.5, 0.5) * 2)
    assert midis(take) == [58]
    assert abs(take.notes[0].cents) < 0.05
    assert take.warnings == (fact("sounds.clipped", count=1, total=1),)


def test_soft_notes_among_loud_ones():
    take = heard(note(58, 1, level=0.004), note(60, 1, level=0.2), note(58, 1, level=0.004),
                 floor_db=-80)  # fmt: skip
    assert midis(take) == [58, 60, 58]


def test_a4_is_estimated():
    ratio = 20.0  # cents above 440 Hz
    line = [note(midi, 0.5, cents=ratio + off) for midi, off in ((46, 3), (50, -3), (53, 0))]
    take = heard(*line, a4_hz=None)
    assert take.a4_estimated
    assert cents(take.a4_hz / 440) == pytest.approx(20.0, abs=1.5)
    assert [round(one.cents) for one in take.notes] == pytest.approx([3, -3, 0], abs=2)
    few = heard(note(46, 0.5), a4_hz=None)
    assert few.warnings == (fact("sounds.a4_of_few", count=1),)
    none = hear(np.zeros(1000), RATE_HZ, a4_hz=None)
    assert (none.a4_hz, none.a4_estimated) == (440.0, True)


def test_another_a4_moves_the_cents():
    (one,) = heard(note(58, 0.5), a4_hz=442.0).notes
    assert one.cents == pytest.approx(cents(440 / 442), abs=0.02)
    with pytest.raises(TakeError, match=r"A4 at 44 Hz is outside 380 to 500 Hz"):
        heard(note(58, 0.5), a4_hz=44.0)
    with pytest.raises(TakeError, match="aren't mono"):
        hear(np.zeros((10, 2)), RATE_HZ)


# The same on a stream


def line_of_all():
    return np.concatenate((pause(0.3), legato([46, 50, 53], 0.4), pause(0.2), note(34, 0.7)))


@pytest.mark.parametrize("size", [441, 960, 10_000])
def test_a_stream_hears_the_same_notes_as_the_file(size):
    sound = line_of_all() + noise(2.4, 1e-3)
    listener = Listener(RATE_HZ)
    for first in range(0, len(sound), size):
        listener.push(sound[first : first + size])
    streamed, whole = listener.close(), hear(sound, RATE_HZ)
    assert midis(streamed) == midis(whole) == [46, 50, 53, 34]
    for one, other in zip(streamed.notes, whole.notes):
        assert one.f0_hz == pytest.approx(other.f0_hz, rel=1e-7)
        assert one.start_s == other.start_s
    with pytest.raises(TakeError, match="stream is closed"):
        listener.push(sound[:10])


def test_the_pitch_of_the_moment_comes_within_a_tenth_of_a_second():
    sound = line_of_all()
    listener = Listener(RATE_HZ)
    seen, late = [], []
    for first in range(0, len(sound), 882):  # 20 ms
        for moment in listener.push(sound[first : first + 882]):
            late.append((first + 882) / RATE_HZ - moment.time_s)
            seen.append(moment)
    assert max(late) < 0.1
    assert listener.delay_s + 0.02 < 0.1
    at = {round(one.time_s, 2): one for one in seen}
    assert at[0.1].f0_hz is None
    assert cents(at[0.5].f0_hz / midi_to_hz(46)) == pytest.approx(0, abs=1)
    assert cents(at[1.3].f0_hz / midi_to_hz(53)) == pytest.approx(0, abs=1)


def test_octaves_at_ten_db():
    rng = np.random.default_rng(8)
    for midi in range(28, 78, 7):
        tone = 0.1 * harmonic_tone(midi_to_hz(midi), 0.7, RATE_HZ, fade_s=0.02)
        sound = np.concatenate((pause(0.3), tone, pause(0.3)))
        sound = sound + 0.1 * 10**-0.5 * rng.standard_normal(len(sound))
        assert midis(hear(sound, RATE_HZ)) == [midi]


@pytest.mark.parametrize("sink_cents", [-24.0, 0.0, 15.0])
@pytest.mark.parametrize("vibrato_cents", [0.0, 12.0])
def test_a_pitch_that_sinks_along_a_note_is_told(sink_cents, vibrato_cents):
    rate_hz, length_s = 22_050.0, 1.6
    time_s = np.arange(round(rate_hz * length_s)) / rate_hz
    bend = sink_cents * (time_s / length_s - 0.5)
    bend = bend + vibrato_cents * np.sin(2.0 * np.pi * 5.5 * time_s)
    phase = 2.0 * np.pi * np.cumsum(116.54 * 2.0 ** (bend / 1200.0)) / rate_hz
    tone = sum(np.sin(k * phase) / k for k in range(1, 9)) * 0.1
    fade = np.minimum(1.0, np.minimum(time_s, length_s - time_s) / 0.03)
    take = hear(np.pad(tone * fade, round(0.3 * rate_hz)), rate_hz)
    (note,) = take.notes
    # The steady part is a little shorter than the note.
    assert note.drift_cents == pytest.approx(0.92 * sink_cents, abs=2.5)


@pytest.mark.parametrize("gap_s", [0.0, 0.05, 0.12])
@pytest.mark.parametrize("softer_db", [6.0, 12.0])
def test_a_softer_note_that_dies_away_stays_a_note(gap_s, softer_db):
    """It was taken for the release of the note before it, and named nowhere."""
    soft = note(55, 1.6, level=0.1 * 10 ** (-softer_db / 20)) * np.geomspace(1, 0.3, 70560)
    assert midis(heard(note(58, 1.0), pause(gap_s), soft, floor_db=-70)) == [58, 55]
    again = note(58, 1.6, level=0.1 * 10 ** (-softer_db / 20)) * np.geomspace(1, 0.3, 70560)
    if gap_s:
        assert midis(heard(note(58, 1.0), pause(gap_s), again, floor_db=-70)) == [58, 58]


def test_a_track_that_jumps_between_octaves_is_no_crash():
    """The median of as many high as low frames lies between them, where nothing sounded."""
    rng = np.random.default_rng(3)
    two = np.repeat([46, 58] * 8, 4)
    quick = np.concatenate([note(midi, 0.012, fade_s=0.001) for midi in two])
    take = heard(quick + 0.02 * rng.standard_normal(len(quick)))
    assert take.notes or take.left_out
    track = Track(11_025.0, 110, np.zeros(4400, np.float32), np.repeat([116.5, 233.1], 20),
                  np.ones(40), np.full(40, -20.0), np.zeros(40))  # fmt: skip
    path = measure._path(track, Piece(0, 40, True))
    assert set(np.round(path, 1)) <= {116.5, 233.1}


@pytest.mark.parametrize("offset", [0.05, -0.4])
def test_an_offset_changes_nothing(offset):
    line = [pause(0.3), note(46, 0.8, level=0.01), pause(0.3), note(34, 0.8, level=0.01)]
    plain = heard(*line)
    moved = heard(*[part + offset for part in line])
    assert midis(moved) == midis(plain) == [46, 34]
    assert [one.cents for one in moved.notes] == pytest.approx([0.0, 0.0], abs=0.3)


def test_of_a_drone_that_was_left_on_a_minute_is_measured():
    """Memory grows with the square of what is measured at once."""
    rate_hz = 8000.0
    time_s = np.arange(int(75 * rate_hz)) / rate_hz
    samples = sum(np.sin(2 * np.pi * 116.54 * k * time_s) / k for k in (1, 2, 3)) * 0.2
    listener = Listener(rate_hz)
    for block in np.array_split(samples, 75):
        listener.push(block)
    (note,) = listener.close().notes
    assert note.end_s > 74.0 and note.steady_end_s < 61.0
    assert abs(note.f0_hz - 116.54) < 1e-3


@pytest.mark.parametrize("period", [55.95, 55.95195655415676, 40.0 - 1e-3, 75.98])
def test_no_last_digit_of_a_pitch_decides_how_a_note_is_cut_into_blocks(period):
    """Half periods of 27.976 samples fit as badly four at a time as five at a time."""
    near = [period * (1.0 + tiny * 1e-12) for tiny in range(-20, 21)]
    assert len({_hop_for(one, 11_025.0, 8800) for one in near}) == 1
