"""What is heard besides pitch, on tones whose truth is known: slurs, attacks, rhythm, loudness."""

import numpy as np
import pytest
from truetakes.kinds import make_take

from handslide.sound.attacks import attack_of
from handslide.sound.change import mean_figure, smallest_change
from handslide.sound.colour import colour_of
from handslide.sound.dynamics import brightness_slope, contrasts, loudness_range_db
from handslide.sound.findings import told_apart
from handslide.sound.notes import hear
from handslide.sound.rhythm import Struck, noticed_ms, rhythm_of
from handslide.sound.slurs import transition
from handslide.sound.tones import brass_levels, fades, harmonic_tone, vibrato
from handslide.sound.track import Tracker
from handslide.sound.vibrato import find_vibrato

RATE_HZ = 22_050.0


def track_of(samples):
    tracker = Tracker(RATE_HZ)
    tracker.push(samples)
    return tracker.finish()


def with_noise(samples, seed=1, noise=1e-4):
    return samples + noise * np.random.default_rng(seed).standard_normal(len(samples))


# Slurs. The truth is a ramp of the pitch and a dip of the level, both as functions of time.


def slurred(f0_hz, cents, length_s, *, dip_db=0.0, linear=False):
    """Two tones tied at 1.1 s: 0.8 s each, the pitch going over in ``length_s``."""
    time_s = np.arange(round(1.6 * RATE_HZ)) / RATE_HZ - 0.8
    share = np.clip(time_s / length_s + 0.5, 0.0, 1.0)
    way = share if linear else share**3 * (10.0 - 15.0 * share + 6.0 * share**2)
    phases = np.random.default_rng(3).uniform(0, 6.28, 30)
    levels = brass_levels(f0_hz, RATE_HZ)
    tone = harmonic_tone(f0_hz, 1.6, RATE_HZ, cents=cents * way, phases=phases, levels=levels)
    tone *= 10.0 ** (-dip_db / 20.0 * np.exp(-((time_s / 0.04) ** 2)))
    rest = np.zeros(round(0.3 * RATE_HZ))
    return with_noise(np.concatenate((rest, 0.1 * tone * fades(len(tone), 330), rest)))


def way_of(f0_hz, cents, length_s, **more):
    half = 0.5 * length_s + 0.02
    first = (0.32, 1.1 - half, f0_hz)
    second = (1.1 + half, 1.88, f0_hz * 2.0 ** (cents / 1200.0))
    track = track_of(slurred(f0_hz, cents, length_s, **more))
    return transition(track, 0, first, second)


@pytest.mark.sample
@pytest.mark.parametrize("f0_hz", [58.3, 116.5, 233.1, 350.0])
@pytest.mark.parametrize("cents", [-200.0, 100.0, 400.0])
@pytest.mark.parametrize("length_s", [0.04, 0.08, 0.12])
def test_the_time_of_a_slur(f0_hz, cents, length_s):
    # 10 to 90 % of a minimum-jerk ramp takes 0.5064 of its length, of a straight one 0.8.
    found = way_of(f0_hz, cents, length_s)
    # A pedal's frame is 43 ms long, and a wide slur passes within it.
    times = 1.0 if f0_hz > 100.0 else 1.0 + abs(cents) / 200.0
    assert found.transit_ms == pytest.approx(506.4 * length_s, abs=6.0 * times)
    assert found.at_s == pytest.approx(1.1, abs=0.003)
    straight = way_of(f0_hz, cents, length_s, linear=True)
    assert straight.transit_ms == pytest.approx(800.0 * length_s, abs=12.0 * times)


@pytest.mark.parametrize("f0_hz", [58.3, 116.5, 233.1])
def test_a_jump_takes_no_time_and_smears_nothing(f0_hz):
    found = way_of(f0_hz, 400.0, 0.004)
    assert found.transit_ms < 6.0
    assert found.smear_cents == 0.0
    assert found.at_s == pytest.approx(1.1, abs=0.005)


@pytest.mark.parametrize("dip_db", [0.0, 3.0, 6.0, 12.0])
def test_the_dip_of_a_slur(dip_db):
    found = way_of(116.5, 200.0, 0.08, dip_db=dip_db)
    assert found.dip_db == pytest.approx(dip_db, abs=0.7)


def test_what_glides_while_it_sounds_is_smeared():
    # Eight tenths of the interval lie between 10 and 90 %.
    assert way_of(116.5, 200.0, 0.12).smear_cents == pytest.approx(160.0, abs=6.0)
    assert way_of(116.5, 200.0, 0.12, dip_db=19.0).smear_cents < 80.0
    stopped = way_of(116.5, 200.0, 0.08, dip_db=30.0)
    assert stopped.transit_ms is stopped.smear_cents is stopped.at_s is None


def test_notes_with_a_rest_between_are_no_slur():
    track = track_of(slurred(116.5, 200.0, 0.05))
    assert transition(track, 0, (0.3, 0.6, 116.5), (1.2, 1.8, 130.8)) is None


# Attacks.


def tongued(f0_hz, fade_s, *, start_s=0.5, length_s=0.6):
    samples = np.zeros(round((start_s + length_s + 0.3) * RATE_HZ))
    phases = np.random.default_rng(5).uniform(0, 6.28, 30)
    tone = harmonic_tone(f0_hz, length_s, RATE_HZ, phases=phases)
    first = round(start_s * RATE_HZ)
    samples[first : first + len(tone)] += 0.1 * tone * fades(len(tone), round(fade_s * RATE_HZ))
    return samples


@pytest.mark.parametrize("f0_hz", [58.3, 116.5, 233.1, 350.0])
@pytest.mark.parametrize("fade_s", [0.005, 0.02, 0.05])
def test_when_a_note_begins(f0_hz, fade_s):
    # A raised cosine is at half its height in the middle.
    track = track_of(with_noise(tongued(f0_hz, fade_s)))
    found = attack_of(track, 0.53, 1.08, f0_hz)
    period_s = 1.0 / f0_hz
    assert found.at_s == pytest.approx(0.5 + fade_s / 2.0, abs=max(0.003, 0.25 * period_s))
    assert found.kind == "clean"
    if fade_s >= 0.02:
        # From 20 to 90 % of the height: 0.2952 to 0.7952 of the fade.
        assert found.rise_ms == pytest.approx(500.0 * fade_s, abs=max(4.0, 400.0 * period_s))


def test_a_cracked_note_and_a_late_one():
    f0_hz = 174.6
    cracked = tongued(f0_hz, 0.01)
    cracked[: round(0.56 * RATE_HZ)] *= 0.0
    first = round(0.5 * RATE_HZ)
    other = 0.1 * harmonic_tone(f0_hz * 4.0 / 3.0, 0.07, RATE_HZ)
    cracked[first : first + len(other)] += other * fades(len(other), 100)
    assert attack_of(track_of(with_noise(cracked)), 0.52, 1.08, f0_hz).kind == "cracked"
    slow = tongued(f0_hz, 0.29)
    late = attack_of(track_of(with_noise(slow)), 0.55, 1.08, f0_hz)
    assert late.kind == "late" and late.speak_ms > 120.0


def test_a_tied_note_has_no_attack():
    track = track_of(slurred(116.5, 200.0, 0.05))
    assert attack_of(track, 1.1, 1.9, 130.8, (1.1, 116.5)).at_s is None


# Steadiness and brightness.


def test_a_still_tone_is_steady_and_a_swelling_one_is_not():
    still = tongued(116.5, 0.02, length_s=1.0)
    found = colour_of(track_of(with_noise(still)), 0.52, 1.48, 116.5)
    assert found.level_sd_db < 0.05 and abs(found.level_drift_db) < 0.1
    time_s = np.arange(len(still)) / RATE_HZ
    swung = still * 10.0 ** (2.0 * np.sin(2.0 * np.pi * 5.0 * time_s) / 20.0)
    # A sine of 2 dB has a standard deviation of 2/√2.
    found = colour_of(track_of(with_noise(swung)), 0.52, 1.48, 116.5)
    assert found.level_sd_db == pytest.approx(np.sqrt(2.0), abs=0.12)


def test_brightness_is_the_centre_of_the_spectrum():
    levels = np.array([1.0, 0.5, 0.25])
    tone = 0.1 * harmonic_tone(200.0, 1.0, RATE_HZ, levels=levels)
    found = colour_of(track_of(tone), 0.05, 0.95, 200.0)
    # Σ f·a / Σ a = 200·(1 + 1 + 0.75) / 1.75
    assert found.centroid_hz == pytest.approx(200.0 * 2.75 / 1.75, rel=0.01)
    assert found.first_db == pytest.approx(0.0, abs=0.1)


def test_brightness_against_loudness():
    level = np.linspace(-40.0, -20.0, 12)
    pitch = 100.0 * 2.0 ** (np.arange(12) % 5 / 12.0)
    bright = 400.0 * 1.25 ** ((level + 30.0) / 10.0) * (pitch / 100.0) ** 0.3
    found = brightness_slope(list(level), list(bright), list(pitch))
    assert found.value == pytest.approx(25.0, abs=0.1)
    assert brightness_slope([-30.0] * 12, list(bright), list(pitch)) is None


# Rhythm.


def played(late_ms, *, count=64, stretch=1.1, curve=0.0, sd_ms=4.0, seed=0):
    """Eighths of 0.375 s in the part; ``late_ms`` gives what each is late by."""
    rng = np.random.default_rng(seed)
    rows = []
    for number in range(count):
        onset = 0.375 * number
        late = (late_ms(number) + rng.normal(0.0, sd_ms)) / 1000.0
        at = stretch * (onset - curve * onset**2 / (0.375 * count))
        beat = str(1 + number // 2 % 4) if number % 2 == 0 else ""
        rows.append(Struck(onset, at + late, beat, 0.5, number // 8))
    return rows


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("ms", [-35.0, 30.0])
def test_notes_off_the_beat_that_are_late(ms, seed):
    found = rhythm_of(played(lambda n: ms if n % 2 else 0.0, seed=seed))
    beats = {one.name: one.mean_ms for one in found.beats}
    assert beats.pop("off") == pytest.approx(ms, abs=5.0)
    assert list(beats) == ["1", "2", "3", "4"]
    assert all(abs(mean) < 5.0 for mean in beats.values())


@pytest.mark.parametrize("seed", range(4))
def test_one_beat_that_is_always_late(seed):
    found = rhythm_of(played(lambda n: 40.0 if n % 8 == 4 else 0.0, seed=seed))
    beats = {one.name: one.mean_ms for one in found.beats}
    assert beats["3"] - beats["1"] == pytest.approx(40.0, abs=5.0)
    assert beats["3"] == pytest.approx(40.0, abs=5.0)


def test_rushing_is_a_tempo_and_no_lateness():
    found = rhythm_of(played(lambda n: 0.0, curve=0.04))
    # The derivative of the time goes from 1 to 0.92: the end is 8 % quicker.
    assert found.trend_percent == pytest.approx(8.0, abs=1.0)
    assert found.trend_percent > 5.0 * found.trend_se
    assert found.measures[0].percent < 98.0 and found.measures[-1].percent > 102.0
    assert all(abs(one.mean_ms) < 5.0 for one in found.beats)
    steady = rhythm_of(played(lambda n: 0.0))
    assert abs(steady.trend_percent) < 1.5
    assert steady.spread_ms == pytest.approx(4.0, abs=1.0)


def test_a_stop_begins_the_beat_anew():
    rows = played(lambda n: 0.0)
    moved = [Struck(r.onset_s, r.at_s + (2.0 if n >= 32 else 0.0), r.beat, r.kind, r.measure,
                    n == 32) for n, r in enumerate(rows)]  # fmt: skip
    found = rhythm_of(moved)
    assert max(abs(late) for late in found.late_ms if late is not None) < 20.0


def test_too_few_notes_have_no_rhythm():
    assert rhythm_of(played(lambda n: 0.0, count=5)) is None
    assert rhythm_of([]) is None


def test_what_is_noticed_of_a_displacement():
    # Friberg and Sundberg (1995): 6 ms below 240 ms between tones, 2.5 % above.
    assert noticed_ms(0.1) == noticed_ms(0.239) == 6.0
    assert noticed_ms(0.8) == pytest.approx(20.0)


# Loudness, change.


def test_written_dynamics_told_apart_and_not():
    rng = np.random.default_rng(2)
    groups = {"p": rng.normal(-36.0, 1.5, 12), "mf": rng.normal(-35.5, 1.5, 12),
              "f": rng.normal(-28.0, 1.5, 12), "ff": [-20.0]}  # fmt: skip
    first, second = contrasts(groups, ("pp", "p", "mf", "f", "ff"))
    assert (first.soft, first.loud, second.loud) == ("p", "mf", "f")
    assert not told_apart(first) and told_apart(second)
    assert second.difference_db == pytest.approx(7.5, abs=3.0 * second.se_db)
    assert second.share > 0.95
    assert loudness_range_db(list(np.linspace(-40.0, -20.0, 101))) == pytest.approx(17.0)
    assert loudness_range_db([-20.0]) is None


def test_the_smallest_change_holds_for_nineteen_of_twenty():
    rng = np.random.default_rng(7)
    beyond = 0
    for _ in range(400):
        a, b = (mean_figure("x", rng.normal(10.0, 3.0, 40).tolist()) for _ in (0, 1))
        beyond += abs(a.value - b.value) > smallest_change(a.se, b.se)
    assert 0.02 <= beyond / 400 <= 0.09
    assert mean_figure("x", [1.0, 2.0]) is None


# A take as a whole.


def test_a_recording_says_how_far_it_can_be_trusted():
    tones = [harmonic_tone(hz, 0.6, RATE_HZ, levels=brass_levels(hz, RATE_HZ, 80))
             * fades(round(0.6 * RATE_HZ), 300)
             for hz in (116.5, 130.8, 146.8, 155.6, 174.6)]  # fmt: skip
    rest = np.zeros(round(0.7 * RATE_HZ))
    clean = 0.1 * np.concatenate([part for tone in tones for part in (rest, tone)] + [rest])
    take = hear(with_noise(clean), RATE_HZ, closely=True).listened
    assert set(dict(take.trust.believed).values()) == {"good"}
    # The tones have a power of 1/100, the noise of 1e-8, of which 0.43 lies below the band's end.
    assert take.trust.signal_db == pytest.approx(63.7, abs=1.0)
    assert take.trust.echo_s < 0.1

    noisy = hear(with_noise(clean, noise=0.03), RATE_HZ, closely=True).listened.trust
    assert noisy.signal_db == pytest.approx(14.2, abs=1.0)
    assert noisy.of("steadiness") == "not" and noisy.of("pitch") == "rough"

    room = np.random.default_rng(4).standard_normal(round(1.2 * RATE_HZ))
    room *= 10.0 ** (-3.0 * np.arange(len(room)) / RATE_HZ / 0.8)  # 60 dB in 0.8 s
    room *= 0.7 / np.sqrt(np.sum(room**2))
    size = 1 << (len(clean) + len(room)).bit_length()
    wet = np.fft.irfft(np.fft.rfft(clean, size) * np.fft.rfft(room, size), size)[: len(clean)]
    echoing = hear(with_noise(0.3 * clean + wet), RATE_HZ, closely=True).listened.trust
    assert echoing.echo_s == pytest.approx(0.8, abs=0.25)
    assert echoing.of("slurs") == "rough"

    loud = hear(np.clip(12.0 * clean, -1.0, 1.0), RATE_HZ, closely=True).listened.trust
    assert loud.clipped == 1.0 and loud.of("loudness") == "not" and loud.of("pitch") == "good"
    assert hear(with_noise(clean + 0.05), RATE_HZ, closely=True).listened.trust.offset == (
        pytest.approx(0.05, abs=0.001)
    )


def test_a_telephone_has_no_brightness():
    tones = [harmonic_tone(hz, 0.5, RATE_HZ, levels=brass_levels(hz, RATE_HZ, 60)) for hz in
             (116.5, 130.8, 138.6, 146.8, 155.6, 164.8)]  # fmt: skip
    clean = np.concatenate([0.1 * tone * fades(len(tone), 300) for tone in tones])
    spectrum = np.fft.rfft(clean)
    hz = np.fft.rfftfreq(len(clean), 1.0 / RATE_HZ)
    band = np.fft.irfft(np.where((hz > 300.0) & (hz < 3400.0), spectrum, 0.0), len(clean))
    trust = hear(with_noise(band, noise=1e-5), RATE_HZ, closely=True).listened.trust
    assert trust.low_cut and trust.of("brightness") == "not"
    assert trust.high_hz == pytest.approx(3300.0, abs=500.0)


def test_vibrato_isnt_unsteadiness():
    from handslide.jobs.hear.listening import listening_of

    samples = [harmonic_tone(hz, 1.2, RATE_HZ, cents=vibrato(1.2, RATE_HZ, 30.0, 5.0))
               for hz in (116.5, 146.8, 174.6, 233.1)]  # fmt: skip
    rest = np.zeros(round(0.4 * RATE_HZ))
    parts = [rest] + [p for tone in samples for p in (0.1 * tone * fades(len(tone), 300), rest)]
    take = hear(with_noise(np.concatenate(parts)), RATE_HZ, closely=True)
    heard = listening_of(take)
    assert heard.figures["steadiness"]["pitch_sd_cents"] < 6.0
    assert heard.findings == ()


def test_silence_and_nothing_are_no_crash():
    for samples in (np.zeros(0), np.zeros(5000), np.zeros(round(2.0 * RATE_HZ))):
        trust = hear(samples, RATE_HZ, closely=True).listened.trust
        assert set(dict(trust.believed).values()) == {"not"}


# Takes of known truth, made by others of our helpers.


@pytest.mark.parametrize("number", [0, 2])
@pytest.mark.parametrize("kind", ["slurs", "smeared"])
def test_the_slurs_of_takes_of_known_truth(kind, number):
    made = make_take(kind, number)
    ways = [way for way in hear(made.samples, made.rate_hz, closely=True).listened.transitions
            if way.at_s is not None]  # fmt: skip
    slurs = [note for note in made.notes if note.transit_s is not None]
    assert len(slurs) >= 6
    dips = []
    for note in slurs:
        way = min(ways, key=lambda one: abs(one.at_s - note.onset_s))
        assert way.at_s == pytest.approx(note.onset_s, abs=0.005)
        assert way.transit_ms == pytest.approx(1000.0 * note.transit_s, abs=10.0)
        dips.append(abs(way.dip_db - note.dip_db))
    # Where the pitch jumps, the two tones weaken each other for a moment, whatever the player did.
    assert np.median(dips) < 1.0 and max(dips) < 3.0


@pytest.mark.parametrize("number", [0, 2])
def test_the_beginnings_of_takes_of_known_truth(number):
    made = make_take("beats", number)
    attacks = [attack.at_s for attack in hear(made.samples, made.rate_hz, closely=True)
               .listened.attacks if attack.at_s is not None]  # fmt: skip
    off = [min(attacks, key=lambda at: abs(at - note.onset_s)) - note.onset_s
           for note in made.notes]  # fmt: skip
    assert max(map(abs, off)) < 0.005


@pytest.mark.parametrize("speed_hz", [4.63, 5.37, 6.21])
def test_the_speed_of_a_vibrato_is_found_between_the_speeds_that_are_tried(speed_hz):
    time_s = np.arange(0.0, 2.0, 0.01)
    cents = 20.0 * np.sin(2.0 * np.pi * speed_hz * time_s + 0.4) + 3.0 * time_s
    assert find_vibrato(cents, 0.01) == pytest.approx(speed_hz, abs=0.02)
