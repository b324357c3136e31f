"""Drones: pitch, temperament, loops and loudness, measured back from the sound."""

import io
from itertools import pairwise

import numpy as np
import pytest
import soundfile
from command import one_sentence, run, run_json
from drill_words import SAY
from hypothesis import given, settings
from hypothesis import strategies as st
from sound_meter import db, ebur128, hiss_db, line_hz

from handslide.edges.audio.write import audio_bytes
from handslide.faces.cli.drone import CHORDS as SHOWN_CHORDS
from handslide.ground.errors import BadData, BadUsage, PitchError
from handslide.ground.pitch import from_midi, parse_pitch
from handslide.ground.temperament import (
    CHORDS,
    JUST,
    chord_on,
    just_offset_cents,
    just_ratio,
    tempered,
)
from handslide.ground.units import cents
from handslide.jobs.practice.drone import make_drone
from handslide.jobs.practice.soundwishes import DroneWishes
from handslide.sound.loudness import k_weighting, loudness_lufs, set_level, true_peak_dbtp
from handslide.sound.notes import hear
from handslide.sound.synth import RATE_HZ, sustained


def drone(*notes, **wishes):
    wishes.setdefault("length_s", 3.0)
    return make_drone(DroneWishes(notes, **wishes))


def sine(level_db, length_s, hz=1000.0, rate_hz=RATE_HZ, phase=0.0):
    time_s = np.arange(round(length_s * rate_hz)) / rate_hz
    return 10 ** (level_db / 20) * np.sin(2 * np.pi * hz * time_s + phase)


# Temperament


@pytest.mark.parametrize(
    ("semitones", "offset"),
    # A partial lies above its octave's root where a just interval does: partials 3, 5, 9, 15.
    [(7, 1.955), (4, -13.686), (2, 3.910), (11, -11.731), (0, 0.0), (12, 0.0), (19, 1.955)],
)
def test_just_intervals_lie_where_the_harmonic_series_has_them(semitones, offset):
    assert just_offset_cents(semitones) == pytest.approx(offset, abs=5e-4)


@pytest.mark.parametrize(
    ("semitones", "ratio"),
    [(3, "6/5"), (4, "5/4"), (5, "4/3"), (7, "3/2"), (8, "8/5"), (9, "5/3"), (12, "2"),
     (-12, "1/2"), (-5, "3/4"), (16, "5/2")],
)  # fmt: skip
def test_just_ratios(semitones, ratio):
    assert str(just_ratio(semitones)) == ratio


@pytest.mark.parametrize("semitones", range(1, 12))
def test_an_interval_and_its_inversion_make_an_octave(semitones):
    product = just_ratio(semitones) * just_ratio(12 - semitones)
    # The tritone and the seconds have two sizes; what they lack are small known commas.
    expected = {1: 2, 2: "81/40", 6: "2025/1024", 10: "81/40"}.get(semitones, 2)
    assert str(product) == str(expected)
    assert abs(just_offset_cents(semitones)) < 18.0


def test_ratios_rise_with_the_semitones():
    assert all(low < high for low, high in pairwise([*JUST, 2]))


def test_just_tones_stand_on_any_root_in_any_octave():
    pitches = [parse_pitch(name) for name in ("D3", "F4", "Bb1")]
    low, high = (
        tempered(pitches, just=True, root=parse_pitch(root), a4_hz=442.0) for root in ("Bb1", "Bb5")
    )
    for one, other in zip(low, high):
        assert one.hz == pytest.approx(other.hz, rel=1e-12)
        assert cents(one.hz / one.pitch.hz(442.0)) == pytest.approx(one.offset_cents, abs=1e-9)
    assert [round(tone.offset_cents, 2) for tone in low] == [-13.69, 1.96, 0.0]
    assert low[2].hz == parse_pitch("Bb1").hz(442.0)


def test_the_root_is_the_lowest_note_unless_another_is_named():
    pitches = [parse_pitch("F3"), parse_pitch("Bb2")]
    assert [str(tone.ratio) for tone in tempered(pitches, just=True)] == ["3/2", "1"]
    above_g = tempered(pitches, just=True, root=parse_pitch("G2"))
    assert [str(tone.ratio) for tone in above_g] == ["9/5", "6/5"]


def test_equal_tones_are_equal():
    for tone in tempered([from_midi(40), from_midi(47)], just=False, a4_hz=438.0):
        assert (tone.hz, tone.offset_cents, tone.ratio) == (tone.pitch.hz(438.0), 0.0, None)


def test_chords_are_spelled_on_their_root():
    assert [pitch.name for pitch in chord_on(parse_pitch("F#2"), "major")] == ["F#2", "A#2", "C#3"]
    assert [pitch.name for pitch in chord_on(parse_pitch("Eb2"), "minor")] == ["Eb2", "Gb2", "Bb2"]
    for name, intervals in CHORDS.items():
        found = chord_on(parse_pitch("Db2"), name)
        assert [pitch.midi - 37 for pitch in found] == [semitones for _, semitones in intervals]
    assert set(SHOWN_CHORDS) == set(CHORDS)
    with pytest.raises(BadUsage, match="the chords are unison"):
        chord_on(parse_pitch("C3"), "sus")


# Pitch, measured back


@pytest.mark.sample
@pytest.mark.parametrize("note", ["E1", "Bb1", "F2", "Bb2", "D3", "Gb3", "A3", "D4", "Bb4", "F5"])
@pytest.mark.parametrize("level", [-30.0, -14.0])
def test_a_tone_is_heard_at_its_pitch_by_two_trackers(note, level):
    made = drone(note, level_lufs=level, a4_hz=441.0)
    samples = np.asarray(made.sound.samples, float)
    want_hz = parse_pitch(note).hz(441.0)
    heard = hear(samples, RATE_HZ).notes
    assert len(heard) == 1
    assert abs(cents(heard[0].f0_hz / want_hz)) < 0.02
    parselmouth = pytest.importorskip("parselmouth")
    pitch = parselmouth.Sound(samples, RATE_HZ).to_pitch_ac(
        0.01, pitch_floor=30, pitch_ceiling=1000
    )
    found_hz = pitch.selected_array["frequency"]
    # Praat's own accuracy on tones of a second and more.
    assert abs(cents(np.median(found_hz[found_hz > 0]) / want_hz)) < 0.05


@pytest.mark.sample
@pytest.mark.parametrize("just", [True, False])
@pytest.mark.parametrize("loop", [True, False])
@pytest.mark.parametrize("chord", [name for name in CHORDS if name != "unison"])
def test_each_tone_of_a_chord_has_its_pitch(chord, just, loop):
    made = drone("Ab2", chord=chord, just=just, loop=loop, length_s=8.0)
    middle = made.sound.samples[RATE_HZ : 7 * RATE_HZ]
    want_hz = [
        parse_pitch("Ab2").hz() * (float(just_ratio(above)) if just else 2 ** (above / 12))
        for _, above in CHORDS[chord]
    ]
    lines = sorted(n * hz for hz in want_hz for n in range(1, 12))
    for hz in want_hz:
        # The lowest harmonic with no other line within 15 Hz, or within the same 0.01 Hz.
        number = next(
            n for n in range(1, 12) if all(not 0.01 < abs(n * hz - x) < 15 for x in lines)
        )
        assert abs(cents(line_hz(middle, RATE_HZ, number * hz) / (number * hz))) < 0.06


def test_a_measurement_would_notice_a_tenth_of_a_cent():
    off = sustained([110.0 * 2 ** (0.1 / 1200)], 0.5, 3 * RATE_HZ)
    assert cents(line_hz(off, RATE_HZ, 220.0) / 220.0) == pytest.approx(0.1, abs=0.005)
    assert hear(np.asarray(off, float), RATE_HZ).notes[0].f0_hz > 110.0 * 2 ** (0.08 / 1200)


# The voice


def test_louder_is_brighter_all_the_way():
    for hz in (58, 116, 233, 466):
        # Whole periods in a second: harmonics lie in the bins of their frequencies.
        sounds = [sustained([float(hz)], dynamic, RATE_HZ) for dynamic in np.linspace(0, 1, 11)]
        levels = [np.abs(np.fft.rfft(sound))[hz::hz] for sound in sounds]
        number = np.arange(1, len(levels[0]) + 1)
        centre = [np.sum(number * row**2) / np.sum(row**2) for row in levels]
        assert all(soft < loud for soft, loud in pairwise(centre))
        assert centre[-1] > 1.2 * centre[0]


def test_a_louder_drone_is_brighter_in_its_sound():
    def centre(level):
        samples = drone("Bb2", level_lufs=level).sound.samples
        power = np.abs(np.fft.rfft(samples)) ** 2
        return float(np.sum(np.fft.rfftfreq(len(samples), 1 / RATE_HZ) * power) / power.sum())

    assert centre(-35) < centre(-28) < centre(-20) < centre(-12)


@pytest.mark.parametrize("periods", [440, 1234, 2793])
def test_nothing_folds_back(periods):
    # Whole periods in a second: all that isn't a harmonic is between the bins of harmonics.
    spectrum = np.abs(np.fft.rfft(sustained([float(periods)], 1.0, RATE_HZ))) ** 2
    harmonics = np.arange(periods, RATE_HZ // 2, periods)
    rest = np.delete(spectrum, harmonics)
    assert db(rest.max() / spectrum.max()) < -85
    assert db(spectrum[round(0.46 * RATE_HZ) :].max() / spectrum.max()) < -85


def test_a_drone_begins_and_ends_without_a_click():
    for level in (-35.0, -12.0):
        made = drone("Bb1", "F2", level_lufs=level)
        assert hiss_db(made.sound.samples, RATE_HZ).max() < -80
        assert abs(made.sound.samples[[0, -1]]).max() < 1e-5
    cut = np.concatenate([made.sound.samples[:70_001], np.zeros(9600, np.float32)])
    assert hiss_db(cut, RATE_HZ).max() > -50


# Loops


def seam_faults(loop):
    """How much larger value and slope step over the seam than anywhere else in the loop."""
    around = np.concatenate([loop, loop[:3]]).astype(float)
    faults = []
    for order in (1, 2, 3):
        steps = np.abs(np.diff(around, order))
        seam = steps[len(loop) - order : len(loop)]
        faults.append(seam.max() / steps[: len(loop) - order].max())
    return faults


LOOPS = [
    (("Bb2",), None, False),
    (("E1",), None, False),
    (("F#4",), None, False),
    (("Bb2",), "major", True),
    (("Bb2",), "major", False),
    (("A2",), "minor-sixth", False),
    (("Bb1", "F2", "D3", "Bb3", "C4"), None, False),
    (("Bb1", "F2", "D3", "Ab3", "C4"), None, True),
]


@pytest.mark.sample
@pytest.mark.parametrize(("notes", "chord", "just"), LOOPS)
@pytest.mark.parametrize("ending", [".wav", ".flac"])
def test_a_loop_goes_on_without_a_step(notes, chord, just, ending):
    made = drone(*notes, chord=chord, just=just, loop=True, length_s=5.0)
    loop, rate = soundfile.read(io.BytesIO(made.data(ending, 24)))
    assert rate == RATE_HZ and len(loop) == len(made.sound.samples)
    assert made.sound.length_s >= 5.0
    for tone, hz in zip(made.tones, made.hz):
        assert abs(cents(hz / tone.hz)) < 0.051
        periods = hz * len(loop) / RATE_HZ
        assert periods == pytest.approx(round(periods), abs=1e-6)
    # In value, slope and bend.
    assert max(seam_faults(loop)) < 1.001
    # A sound that repeats has all its power in the bins of its tones: nothing leaks anywhere.
    spectrum = np.abs(np.fft.rfft(loop)) ** 2
    lines = np.zeros(len(spectrum), bool)
    for hz in made.hz:
        lines[:: round(hz * len(loop) / RATE_HZ)] = True
    assert db(spectrum[~lines].sum() / spectrum[lines].sum()) < -75
    # And over the seam it sounds as it does elsewhere.
    twice = np.concatenate([loop[-RATE_HZ:], loop[:RATE_HZ]])
    over, elsewhere = (hiss_db(x, RATE_HZ)[20:-20].max() for x in (twice, loop[: 2 * RATE_HZ]))
    assert over < elsewhere + 1


def test_the_seam_is_looked_at_with_sharp_eyes():
    made = drone("Bb2", loop=True, length_s=5.0)
    short = made.sound.samples[:-206]  # half a period
    spectrum = np.abs(np.fft.rfft(short)) ** 2
    lines = np.zeros(len(spectrum), bool)
    lines[:: round(made.hz[0] * len(short) / RATE_HZ)] = True
    assert db(spectrum[~lines].sum() / spectrum[lines].sum()) > -40
    assert max(seam_faults(short)) > 1.1


def test_a_loop_that_can_t_be_is_refused():
    from handslide.sound.synth import loop_count

    with pytest.raises(BadData, match="whole periods of all 3 tones"):
        loop_count([100.1234, 141.4213, 173.2051], 1.0, 1e-9)


# Loudness


def test_the_filters_are_the_standard_s():
    # ITU-R BS.1770-4, tables 1 and 2.
    expected = [
        [1.53512485958697, -2.69169618940638, 1.19839281085285,
         1, -1.69065929318241, 0.73248077421585],
        [1, -2, 1, 1, -1.99004745483398, 0.99007225036621],
    ]  # fmt: skip
    assert np.allclose(k_weighting(48_000), expected, atol=1e-11)


# EBU Tech 3341, minimum requirements 1 to 5: (level in dBFS, seconds), for both channels.
EBU = [
    ([(-23, 20)], -23.0),
    ([(-33, 20)], -33.0),
    ([(-36, 10), (-23, 60), (-36, 10)], -23.0),
    ([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], -23.0),
    ([(-26, 20), (-20, 20.1), (-26, 20)], -23.0),
]


@pytest.mark.parametrize(("parts", "expected"), EBU)
@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
def test_the_meter_reads_the_reference_signals(parts, expected, rate_hz):
    samples = np.concatenate([sine(level, length, rate_hz=rate_hz) for level, length in parts])
    # One channel of the two that the signals have: 3.01 LU less.
    both = loudness_lufs(samples * np.sqrt(2), rate_hz)
    assert both == pytest.approx(expected, abs=0.1)


def test_silence_has_no_loudness_and_can_t_be_made_louder():
    silent = np.zeros(RATE_HZ, np.float32)
    assert loudness_lufs(silent, RATE_HZ) == true_peak_dbtp(silent, RATE_HZ) == -np.inf
    assert loudness_lufs(silent[:0], RATE_HZ) == -np.inf
    with pytest.raises(BadData, match="silent"):
        set_level(silent, RATE_HZ, -23.0)


@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
@pytest.mark.parametrize("seed", range(4))
def test_both_meters_agree_with_another_on_any_sound(rate_hz, seed):
    rng = np.random.default_rng(seed)
    colour = np.cumsum(rng.standard_normal(6 * rate_hz)) if seed % 2 else rng.standard_normal(
        6 * rate_hz
    )  # fmt: skip
    samples = 0.3 * (colour - colour.mean()) / np.abs(colour).max()
    samples[2 * rate_hz : 3 * rate_hz] *= 0.05
    lufs, peak = ebur128(samples, rate_hz)
    assert loudness_lufs(samples, rate_hz) == pytest.approx(lufs, abs=0.05)
    # Up to half the rate no filter is perfect; ours may rather read too high than too low.
    assert peak - 0.1 < true_peak_dbtp(samples, rate_hz) < peak + 0.4


def test_the_peak_between_the_samples_is_found():
    between = sine(-6.0, 1.0, hz=RATE_HZ / 4, phase=np.pi / 4)
    assert np.abs(between).max() < 10 ** (-8.9 / 20)
    middle = between * np.hanning(len(between))
    assert true_peak_dbtp(middle, RATE_HZ) == pytest.approx(-6.0, abs=0.1)


@pytest.mark.sample
@pytest.mark.parametrize("loop", [True, False])
@pytest.mark.parametrize("level", [-36.0, -23.0, -14.0])
@pytest.mark.parametrize(("notes", "chord", "just"), LOOPS)
def test_drones_have_the_level_that_they_state(notes, chord, just, level, loop):
    made = drone(*notes, chord=chord, just=just, level_lufs=level, loop=loop, length_s=4.0)
    lufs, peak = ebur128(made.sound.samples, RATE_HZ)
    assert lufs == pytest.approx(made.sound.lufs, abs=0.1)
    assert peak <= -1.0 + 0.05
    assert peak == pytest.approx(made.sound.peak_dbtp, abs=0.2)
    if made.warnings:
        assert made.sound.peak_dbtp == pytest.approx(-1.0, abs=1e-6)
        assert "peaks would be clipped" in SAY.fact(made.warnings[0])
    else:
        assert made.sound.lufs == pytest.approx(level, abs=0.05)


@settings(deadline=None, max_examples=25)
@given(
    midi=st.sets(st.integers(28, 76), min_size=1, max_size=6),
    just=st.booleans(),
    loop=st.booleans(),
    level=st.floats(-40.0, -12.0),
    a4_hz=st.floats(415.0, 466.0),
)
def test_no_drone_clips_whatever_is_asked_for(midi, just, loop, level, a4_hz):
    notes = [from_midi(one).name for one in midi]
    try:
        made = drone(*notes, just=just, loop=loop, level_lufs=level, a4_hz=a4_hz, length_s=1.5)
    except BadData as error:
        # Whole periods of low semitones side by side hardly ever meet.
        assert error.fact.kind == "sounds.no_loop" and loop and len(midi) > 1
        return
    samples = made.sound.samples
    assert np.abs(samples).max() < 10 ** (-0.9 / 20)
    assert loudness_lufs(samples, RATE_HZ) == pytest.approx(made.sound.lufs, abs=0.05)
    assert made.sound.lufs <= level + 0.05
    for tone, hz in zip(made.tones, made.hz):
        assert abs(cents(hz / tone.hz)) < 0.051


# Files


@pytest.mark.parametrize("ending", [".wav", ".flac"])
@pytest.mark.parametrize("bits", [16, 24])
def test_a_file_holds_the_samples(ending, bits):
    made = drone("Bb2")
    data = made.data(ending, bits)
    info = soundfile.info(io.BytesIO(data))
    assert (info.samplerate, info.channels, info.subtype) == (RATE_HZ, 1, f"PCM_{bits}")
    back, _ = soundfile.read(io.BytesIO(data))
    off = back - made.sound.samples
    assert len(back) == len(made.sound.samples)
    assert np.abs(off).max() <= 0.501 * 2.0 ** (1 - bits)
    assert abs(off.mean()) < 0.01 * 2.0 ** (1 - bits)


def test_full_scale_stays_within_the_file():
    loud = np.array([1.0, -1.0, 1.2, -1.2, 0.0], np.float32)
    for bits in (16, 24):
        back, _ = soundfile.read(io.BytesIO(audio_bytes(loud, RATE_HZ, ".wav", bits)))
        assert back == pytest.approx([1, -1, 1, -1, 0], abs=1e-4)


@pytest.mark.parametrize("level", [-23.0, -12.0])
def test_ogg_keeps_length_and_level(level):
    made = make_drone(DroneWishes(("F3", "A3"), length_s=4.0, level_lufs=level), -2.0)
    back, rate = soundfile.read(io.BytesIO(made.data(".ogg")))
    assert (rate, len(back)) == (RATE_HZ, len(made.sound.samples))
    lufs, peak = ebur128(back, rate)
    assert lufs == pytest.approx(made.sound.lufs, abs=0.3)
    assert peak <= -1.0
    heard = line_hz(back[rate : 3 * rate], rate, made.hz[0])
    assert abs(cents(heard / made.hz[0])) < 0.1


# The command


def test_the_command_writes_and_says_what_it_wrote(tmp_path):
    path = tmp_path / "d.flac"
    told = run("drone", "Bb2", "--chord", "major", "--just", "--length", 2, "-o", path).stdout
    assert "D3      145.676 Hz     5/4  −13.7 cents from equal" in told
    assert "drone of 2.00 s at −23.0 LUFS" in told
    assert str(path) in told and "harms hearing" in told
    assert soundfile.info(str(path)).frames == 2 * RATE_HZ


def test_the_command_s_json(tmp_path):
    path = tmp_path / "d.wav"
    found = run_json(
        "drone", "Bb2", "F3", "--loop", "--just", "--root", "Bb1", "--level", -30, "--a4", 442,
        "-o", path,
    )  # fmt: skip
    assert found["files"] == [str(path)]
    assert (found["root"], found["loop"], found["temperament"]) == ("Bb1", True, "just")
    assert [tone["ratio"] for tone in found["tones"]] == ["2", "3"]
    assert found["level_lufs"] == -30.0
    assert soundfile.info(str(path)).frames == found["samples"]
    assert "hearing" in found["caution"]


def test_without_a_name_the_file_tells_what_is_in_it(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run("drone", "F#2", "--chord", "fifth", "--just", "--length", 1)
    assert [path.name for path in tmp_path.iterdir()] == ["drone-Fs2-fifth-just.wav"]


@pytest.mark.parametrize(
    ("words", "what"),
    [
        (("H2",), "H is the German name"),
        (("Bb",), "octave is missing"),
        (("C9",), "8372.0 Hz"),
        (("Bb2", "A#2"), "twice"),
        (("Bb2", "F3", "--chord", "major"), "a chord stands on one note"),
        (("Bb2", "--length", "0.2"), "outside 1 to 600 s"),
        (("Bb2", "--length", "nan"), "outside 1 to 600 s"),
        (("Bb2", "--loop", "--length", "90"), "outside 1 to 60 s"),
        (("Bb2", "--level", "-3"), "outside −40 to −12"),
        (("Bb2", "--a4", "600"), "A4 at 600 Hz"),
        (("C2", "D2", "E2", "F2", "G2", "A2", "B2", "C3", "D3"), "8 tones at most"),
        (("Bb2", "-o", "x.mid"), "'.mid'"),
        (("Bb2", "-o", "x"), "needs an ending"),
        (("Bb2", "--loop", "-o", "x.ogg"), "take WAV or FLAC for a loop"),
    ],
)
def test_slips_are_told_in_one_sentence(words, what, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run("drone", *words, code=1 if what.startswith(("H is", "octave", "A4")) else 2)
    assert what in one_sentence(result)
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_there_is_kept(tmp_path):
    path = tmp_path / "d.wav"
    path.write_bytes(b"mine")
    assert "exists already" in one_sentence(run("drone", "Bb2", "--length", 1, "-o", path, code=1))
    assert path.read_bytes() == b"mine"
    run("drone", "Bb2", "--length", 1, "-o", path, "--force")
    assert path.read_bytes()[:4] == b"RIFF"


def test_a_note_without_a_name_raises():
    with pytest.raises(PitchError):
        drone("x")
    with pytest.raises(BadUsage, match="needs a note"):
        drone()
