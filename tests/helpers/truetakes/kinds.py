"""The kinds of takes: what players record and hearing stumbles over.

Each kind draws a take from a generator of random numbers. Takes of even number are made of tones,
of odd number of recorded notes, where a kind allows both.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from . import rooms
from .phrases import (
    LEAD_S,
    TAIL_S,
    Drawn,
    Rng,
    changed,
    line,
    phrase,
    rhythm,
    slurred,
    sound,
    tongued,
    tuned,
)
from .truth import Floats, TrueNote, TrueTake
from .voices import RATE_HZ, Colour, Play, recordings, tones

DYNAMICS_DB = {"pp": -38.0, "p": -32.0, "mf": -24.0, "f": -16.0, "ff": -12.0}


def plain(rng: Rng, real: bool) -> Drawn:
    """An ordinary phrase in a quiet room."""
    return sound(phrase(rng, real), rng, real)


def softer(rng: Rng, real: bool) -> Drawn:
    """A loud note, then a softer one that is long, clean and dies away: an echo, the last note."""
    plays, at_s = [], LEAD_S
    for midi in line(rng, 5, again=0.0):
        loud_s, soft_s = float(rng.uniform(0.3, 0.8)), float(rng.uniform(0.8, 2.0))
        down_db = float(rng.uniform(6.0, 16.0))
        plays.append(Play(tuned(rng, midi), at_s, loud_s, level_db=-14.0, natural=real))
        at_s += loud_s + float(rng.uniform(0.03, 0.14))
        step = int(rng.choice([-12, -7, -5, -4, -2, 0, 2, 3, 5]))
        other = midi + step if 40 <= midi + step <= 68 else midi - 1
        plays.append(
            Play(
                tuned(rng, other),
                at_s,
                soft_s,
                level_db=-14.0 - down_db,
                rise_s=0.04,
                fall_s=0.1,
                sag_db=float(rng.uniform(3.0, 12.0)),
            )
        )
        at_s += soft_s + float(rng.uniform(0.15, 0.5))
    return sound(plays, rng, real)


def band(rng: Rng, real: bool) -> Drawn:
    """Through a telephone: 300 to 3400 Hz, the fundamentals of most notes are gone."""
    drawn = sound(phrase(rng, real), rng, real)
    return changed(drawn, rooms.band(drawn.samples))


def mute(rng: Rng, real: bool) -> Drawn:
    """A straight mute: little below 1 kHz; of tones also with weak first and third harmonics."""
    plays = phrase(rng, real)
    if real:
        drawn = sound(plays, rng, real)
        thin = rooms.band(drawn.samples, 900.0, 6000.0)
        return changed(drawn, 3.0 * thin + 0.05 * drawn.samples)
    weak = [0.0] * 9
    for number in (0, 2, 4, 6)[: int(rng.integers(2, 5))]:
        weak[number] = -float(rng.uniform(12.0, 24.0))
    return sound(plays, rng, real, colour=Colour(tuple(weak), mute=True))


def quick(rng: Rng, real: bool) -> Drawn:
    """Sixteenths at 120 to 144, or eighths of 0.2 s, in runs with a longer note at each end."""
    short_s = 0.2 if rng.random() < 0.4 else 15.0 / float(rng.uniform(120, 144))
    lengths = []
    for _ in range(3):
        lengths += [short_s] * 7 + [4.0 * short_s + 0.2]
    gap = float(rng.uniform(0.03, 0.2))
    plays = tongued(rng, line(rng, len(lengths)), lengths, real, gap=gap, late_s=0.006)
    unclean = float(rng.uniform(0.0, 50.0))  # few quick notes begin on their pitch
    plays = [
        replace(
            play,
            rise_s=min(play.rise_s, 0.02),
            fall_s=0.03,
            scoop_cents=float(rng.normal(0.0, unclean)),
            scoop_s=float(rng.uniform(0.03, 0.07)),
            natural=real and rng.random() < 0.6,
        )
        for play in plays
    ]
    if rng.random() < 0.3:
        plays = slurred(
            rng, plays, 0.5, transit_s=(0.015, 0.03), dip_db=(0.0, 4.0), dip_s=(0.02, 0.03)
        )
    drawn = sound(plays, rng, real, colour=Colour(wander_cents=5.0))
    answer = rooms.decaying_noise(float(rng.uniform(0.2, 0.35)), 5.0, rng)
    return changed(drawn, rooms.in_room(drawn.samples, answer))


def vibrato(rng: Rng, real: bool) -> Drawn:
    """Long notes with a vibrato of 45 to 100 cents each way at 3 to 8 Hz, from the first cycle."""
    count = 6
    lengths = [float(rng.uniform(0.9, 2.2)) for _ in range(count)]
    plays = tongued(rng, line(rng, count), lengths, False, gap=0.06)
    extent, speed = float(rng.uniform(45.0, 100.0)), float(rng.uniform(3.0, 8.0))
    plays = [
        replace(
            play,
            vibrato_cents=extent * float(rng.uniform(0.85, 1.1)),
            vibrato_hz=speed * float(rng.uniform(0.95, 1.05)),
            vibrato_phase=float(rng.uniform(0.0, 6.28)),
        )
        for play in plays
    ]
    plays = slurred(rng, plays, 0.3, transit_s=(0.02, 0.05), dip_db=(0.0, 5.0), dip_s=(0.03, 0.05))
    return sound(plays, rng, real)


def offset(rng: Rng, real: bool) -> Drawn:
    """A soft take with a constant offset from a cheap sound card."""
    plays = [
        replace(p, level_db=p.level_db - float(rng.uniform(14.0, 22.0))) for p in phrase(rng, real)
    ]
    drawn = sound(plays, rng, real)
    shift = float(rng.uniform(0.01, 0.2)) * float(rng.choice((-1, 1)))
    return changed(drawn, drawn.samples + shift, offset=shift)


def antiphase(rng: Rng, real: bool) -> Drawn:
    """Two channels, one of them turned over: their mean is silence."""
    drawn = sound(phrase(rng, real, 10), rng, real)
    other = -drawn.samples * float(rng.choice((1.0, 0.99, 0.97)))
    return changed(drawn, np.column_stack((drawn.samples, other)))


def metronome(rng: Rng, real: bool) -> Drawn:
    """A metronome's beeps: a count-in, and often on through the take; they are no notes."""
    beat_s = 60.0 / float(rng.integers(60, 112))
    count_in = int(rng.integers(2, 6))
    lengths = [float(x) * beat_s for x in rng.choice([0.5, 1.0, 2.0], 12, p=[0.3, 0.5, 0.2])]
    plays = tongued(rng, line(rng, 12), lengths, real, late_s=0.02)
    plays = [
        replace(
            p, onset_s=p.onset_s + count_in * beat_s, beat_s=(p.beat_s or 0.0) + count_in * beat_s
        )
        for p in plays
    ]
    drawn = sound(plays, rng, real)
    goes_on = rng.random() < 0.7
    low_hz = float(rng.choice((440.0, 600.0, 800.0, 880.0, 1000.0, 1046.5)))
    high_hz = low_hz * float(rng.choice((1.0, 1.335, 1.5, 2.0)))
    beep_s, beep_db = float(rng.uniform(0.03, 0.09)), float(rng.uniform(-32.0, -17.0))
    samples, beat = drawn.samples.copy(), 0
    while LEAD_S + beat * beat_s < drawn.notes[-1].offset_s:
        if beat < count_in or goes_on:
            _beep(
                samples,
                LEAD_S + beat * beat_s,
                high_hz if beat % 4 == 0 else low_hz,
                beep_s,
                beep_db,
            )
        beat += 1
    return changed(drawn, samples, beat_s=beat_s, beeps=float(beat if goes_on else count_in))


def _beep(samples: Floats, at_s: float, hz: float, length_s: float, level_db: float) -> None:
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    wave = np.sqrt(2.0) * np.sin(2.0 * np.pi * hz * time_s) * 10.0 ** (level_db / 20.0)
    edge = np.minimum(1.0, np.minimum(time_s, length_s - time_s) / 0.003)
    start = round(at_s * RATE_HZ)
    inside = samples[start : start + len(wave)]
    inside += (wave * edge)[: len(inside)]


def _echo(rt_s: float) -> Callable[[Rng, bool], Drawn]:
    def kind(rng: Rng, real: bool) -> Drawn:
        drawn = sound(phrase(rng, real), rng, real, tail_s=TAIL_S + 0.6 * rt_s)
        if rng.random() < 0.5:
            size = (
                float(rng.uniform(6, 10)),
                float(rng.uniform(5, 7)),
                float(rng.uniform(2.7, 3.5)),
            )
            answer = rooms.box_room(rt_s, size, float(rng.uniform(1.0, 2.5)), rng)
        else:
            answer = rooms.decaying_noise(rt_s, float(rng.uniform(-3.0, 4.0)), rng)
        return changed(drawn, rooms.in_room(drawn.samples, answer), rt_s=rt_s)

    kind.__doc__ = f"A room with a reverberation time of {rt_s} s."
    return kind


def repeats(rng: Rng, real: bool) -> Drawn:
    """The same note tongued softly again and again: dips of 1.5 to 5 dB, 30 to 80 ms wide."""
    plays, at_s = [], LEAD_S
    for midi in line(rng, 4, again=0.0):
        length_s, exact = float(rng.uniform(0.25, 0.6)), tuned(rng, midi)
        for number in range(int(rng.integers(3, 6))):
            plays.append(
                Play(
                    exact,
                    at_s,
                    length_s,
                    join="retongued" if number else "tongued",
                    dip_db=float(rng.uniform(1.5, 5.0)),
                    dip_s=float(rng.uniform(0.03, 0.08)),
                )
            )
            at_s += length_s
        plays[-1] = replace(plays[-1], length_s=0.85 * length_s)
        at_s += 0.1
    return sound(plays, rng, real)


def smeared(rng: Rng, real: bool) -> Drawn:
    """Legato without tongue on the slide: the way of the slide is heard, 60 to 140 ms of it."""
    beat_s = 60.0 / float(rng.uniform(60, 84))
    lengths = [float(x) * beat_s for x in rng.choice([0.5, 1.0, 2.0], 11, p=[0.3, 0.5, 0.2])]
    plays = tongued(rng, line(rng, 11, again=0.0), lengths, False)
    plays = slurred(rng, plays, 0.8, transit_s=(0.06, 0.14), dip_db=(0.0, 3.0), dip_s=(0.04, 0.08))
    plays = [replace(p, join="smeared") if p.join == "slurred" else p for p in plays]
    return sound(plays, rng, real)


def aac(rng: Rng, real: bool) -> Drawn:
    """A phone's file: AAC at 24 to 64 kbit a second, after some room and noise."""
    drawn = sound(phrase(rng, real), rng, real)
    wet = rooms.in_room(drawn.samples, rooms.decaying_noise(0.25, 8.0, rng))
    wet += rooms.pink_noise(len(wet), -55.0, rng)
    bits = int(rng.choice((24_000, 32_000, 48_000, 64_000)))
    return changed(drawn, rooms.through_aac(wet, bits), bits_per_s=float(bits))


def multiphonic(rng: Rng, real: bool) -> Drawn:
    """Notes, and some with a sung one above: these may be left out or heard as what was played."""
    plays = tongued(
        rng, line(rng, 7, 41, 58), [float(rng.uniform(0.7, 1.3)) for _ in range(7)], real
    )
    drawn = sound(plays, rng, real)
    samples, notes = drawn.samples.copy(), list(drawn.notes)
    sung = rng.choice(np.arange(1, 7), 2, replace=False)
    for number in sung.tolist():
        note, play = notes[number], plays[number]
        ratio = float(rng.choice((1.25, 4 / 3, 1.5, 5 / 3)))
        voice = replace(
            play,
            midi=play.midi + 12.0 * float(np.log2(ratio)) + float(rng.normal(0.0, 0.08)),
            level_db=play.level_db - float(rng.uniform(-2.0, 4.0)),
            natural=False,
        )
        added = tones([voice], len(samples) / RATE_HZ, rng)
        product = samples * added  # lips and voice beat on each other: sum and difference tones
        inside = slice(round(note.onset_s * RATE_HZ), round(note.offset_s * RATE_HZ))
        scale = 0.5 * float(np.std(added[inside])) / max(float(np.std(product[inside])), 1e-9)
        samples = samples + added + scale * product * (np.abs(added) > 0)
        notes[number] = replace(note, optional=True, also_hz=(voice.hz,))
    return replace(drawn, samples=samples, notes=tuple(notes))


def attacks(rng: Rng, real: bool) -> Drawn:
    """Attacks that begin on another pitch: scoops of a tone or so, and notes that crack first."""
    count = 8
    plays = tongued(
        rng, line(rng, count), [float(rng.uniform(0.5, 1.0)) for _ in range(count)], False
    )
    found: list[Play] = []
    for play in plays:
        fault = rng.random()
        if fault < 0.45:
            cents = float(rng.choice((-1, -1, 1))) * float(rng.uniform(60.0, 220.0))
            play = replace(play, scoop_cents=cents, scoop_s=float(rng.uniform(0.04, 0.12)))
        found.append(play)
    drawn = sound(found, rng, real)
    samples, notes = drawn.samples.copy(), list(drawn.notes)
    for number, play in enumerate(found):
        if not play.scoop_cents and rng.random() < 0.5:
            # A partial above or below speaks for 30 to 60 ms before the note.
            crack_s = float(rng.uniform(0.03, 0.06))
            step = float(rng.choice((-7.0, -5.0, 4.0, 5.0, 7.0, 12.0)))
            crack = Play(
                play.midi + step,
                play.onset_s - crack_s,
                crack_s,
                level_db=play.level_db - 6.0,
                rise_s=0.01,
                fall_s=0.015,
            )
            samples += tones([crack], len(samples) / RATE_HZ, rng)
            notes[number] = replace(notes[number], cracked=True)
    return replace(drawn, samples=samples, notes=tuple(notes))


def low_notes(rng: Rng, real: bool) -> Drawn:
    """Low single notes: weak fundamental and odd harmonics, sagging, running apart, soft, noise."""
    instrument = str(rng.choice(("tuba", "tenor trombone")))
    weak = [0.0] * 12
    if rng.random() < 0.6:
        weak[0] = -float(rng.uniform(3.0, 12.0))
        for number in (2, 4, 6, 8):
            weak[number] = -float(rng.uniform(3.0, 12.0))
    apart = float(rng.uniform(2.0, 5.0)) if rng.random() < 0.3 else 0.0
    colour = Colour(tuple(weak), instrument=instrument, runs_apart_cents=apart)
    plays, at_s = [], LEAD_S
    for _ in range(5):
        midi = tuned(rng, int(rng.integers(26 if instrument == "tuba" else 28, 46)))
        if rng.random() < 0.2:
            midi = 43.0 + float(rng.uniform(0.28, 0.4))  # G2, sharp: near the mains' 100 Hz
        level_db = float(rng.choice((-20.0, -26.0, -36.0)))
        length_s = float(rng.uniform(0.4, 1.6))
        sag = float(rng.uniform(5.0, 20.0)) if rng.random() < 0.3 else 0.0
        plays.append(
            Play(
                midi,
                at_s,
                length_s,
                level_db=level_db,
                rise_s=0.05,
                fall_s=float(rng.uniform(0.05, 0.2)),
                sag_cents=sag,
                sag_db=float(rng.uniform(0.0, 8.0)),
                natural=True,
            )
        )
        at_s += length_s + float(rng.uniform(0.4, 0.7))
    if real:
        return _low_recordings(rng)
    drawn = sound(plays, rng, False, colour=colour)
    if rng.random() < 0.4:
        noise = rooms.pink_noise(len(drawn.samples), -20.0 - float(rng.uniform(12.0, 20.0)), rng)
        drawn = changed(drawn, drawn.samples + noise)
    return drawn


def _low_recordings(rng: Rng) -> Drawn:
    """Recorded low notes as they are, from attack to release, one after another in a room."""
    low = [one for one in recordings() if one.hz < 180.0]
    tubas = [one for one in low if one.instrument == "tuba"]
    chosen = [tubas if tubas and rng.random() < 0.6 else low for _ in range(4)]
    pieces, notes, at_s = [np.zeros(round(LEAD_S * RATE_HZ))], [], LEAD_S
    for group in chosen:
        one = group[int(rng.integers(len(group)))]
        whole_s = len(one.samples) / RATE_HZ
        last_s = min(whole_s, float(rng.uniform(0.8, 2.5)) + one.onset_s)
        cut = one.samples[: round(last_s * RATE_HZ)].copy()
        fall = min(round(0.12 * RATE_HZ), len(cut) // 4)
        cut[len(cut) - fall :] *= np.linspace(1.0, 0.0, fall) ** 2
        cut *= 0.1 * 10.0 ** (float(rng.uniform(-8.0, 0.0)) / 20.0) / one.level
        rest_s = float(rng.uniform(0.4, 0.7))
        notes.append(
            TrueNote(at_s + one.onset_s, at_s + last_s - 0.06, one.hz, exact=False, level_db=-24.0)
        )
        pieces += [cut, np.zeros(round(rest_s * RATE_HZ))]
        at_s += len(cut) / RATE_HZ + round(rest_s * RATE_HZ) / RATE_HZ
    dry = np.concatenate(pieces)
    wet = rooms.in_room(dry, rooms.decaying_noise(0.3, 6.0, rng)) if rng.random() < 0.5 else dry
    if rng.random() < 0.4:
        wet = wet + rooms.pink_noise(len(wet), -24.0 - float(rng.uniform(14.0, 25.0)), rng)
    return Drawn(wet, tuple(notes), {}, "recordings")


def noise(rng: Rng, real: bool) -> Drawn:
    """A phrase in a noisy room with mains hum."""
    drawn = sound(phrase(rng, real), rng, real)
    count = len(drawn.samples)
    wet = drawn.samples + rooms.pink_noise(count, -20.0 - float(rng.uniform(12.0, 24.0)), rng)
    wet += rooms.hum(
        count, -20.0 - float(rng.uniform(15.0, 30.0)), float(rng.choice((50.0, 60.0))), rng
    )
    return changed(drawn, wet)


def dynamics(rng: Rng, real: bool) -> Drawn:
    """Written dynamics, from pp to ff, each for a few notes; short and long notes."""
    names = list(rng.permutation(list(DYNAMICS_DB))[:3])
    plays: list[Play] = []
    beat_s = 60.0 / float(rng.uniform(72, 100))
    midis = line(rng, 12)
    plays = tongued(rng, midis, rhythm(rng, 12, beat_s), real, late_s=0.015)
    plays = [
        replace(
            p,
            level_db=DYNAMICS_DB[names[n // 4]] + float(rng.normal(0.0, 1.0)),
            dynamic=str(names[n // 4]),
        )
        for n, p in enumerate(plays)
    ]
    return sound(plays, rng, real)


def slurs(rng: Rng, real: bool) -> Drawn:
    """Slurs of known transit time and dip, from clean to slow, all notes long enough to judge."""
    plays = tongued(
        rng, line(rng, 12, again=0.0), [float(rng.uniform(0.5, 0.9)) for _ in range(12)], False
    )
    plays = slurred(
        rng, plays, 0.75, transit_s=(0.012, 0.12), dip_db=(0.0, 9.0), dip_s=(0.03, 0.07)
    )
    return sound(plays, rng, real)


def beats(rng: Rng, real: bool) -> Drawn:
    """Tongued notes early or late against an even beat by known times, rushing or dragging."""
    beat_s = 60.0 / float(rng.uniform(60, 120))
    lengths = [float(x) * beat_s for x in rng.choice([0.5, 1.0], 18, p=[0.5, 0.5])]
    plays = tongued(rng, line(rng, 18), lengths, real, gap=0.15, late_s=0.025)
    plays = [replace(p, natural=False) for p in plays]
    return replace(sound(plays, rng, real), facts={"beat_s": beat_s})


def hum(rng: Rng, real: bool) -> Drawn:
    """Mains hum under all of it: 50 or 60 Hz and multiples, a little off, 24 to 34 dB below."""
    drawn = sound(phrase(rng, real), rng, real)
    mains_hz = float(rng.choice((50.0, 60.0))) + float(rng.uniform(-0.05, 0.05))
    level = float(np.max(np.abs(drawn.samples))) * 10.0 ** (-float(rng.uniform(24.0, 34.0)) / 20.0)
    time_s = np.arange(len(drawn.samples)) / RATE_HZ
    samples = drawn.samples.copy()
    for number in range(1, int(rng.integers(3, 9))):
        size = level / number * float(rng.uniform(0.5, 1.0))
        turn = 2.0 * np.pi * number * mains_hz * time_s + float(rng.uniform(0.0, 6.28))
        samples += size * np.sin(turn)
    return changed(drawn, samples, mains_hz=mains_hz)


@dataclass(frozen=True, slots=True)
class Kind:
    """How takes of a kind are drawn; ``floor_db`` is the hiss under all of them."""

    draw: Callable[[Rng, bool], Drawn]
    floor_db: float = -66.0


KINDS: dict[str, Kind] = {
    "plain": Kind(plain),
    "softer": Kind(softer),
    "band": Kind(band, -60.0),
    "mute": Kind(mute),
    "quick": Kind(quick),
    "vibrato": Kind(vibrato),
    "offset": Kind(offset, -76.0),
    "antiphase": Kind(antiphase),
    "metronome": Kind(metronome),
    "echo-0.3": Kind(_echo(0.3)),
    "echo-0.6": Kind(_echo(0.6)),
    "echo-0.9": Kind(_echo(0.9)),
    "repeats": Kind(repeats),
    "smeared": Kind(smeared),
    "aac": Kind(aac),
    "multiphonic": Kind(multiphonic),
    "attacks": Kind(attacks),
    "low": Kind(low_notes),
    "noise": Kind(noise),
    "dynamics": Kind(dynamics),
    "slurs": Kind(slurs),
    "beats": Kind(beats),
    "hum": Kind(hum),
}
EACH = 8
"""Takes of a kind in each half."""


def make_take(kind: str, number: int, *, kept: bool = False, real: bool | None = None) -> TrueTake:
    """Take ``number`` of a kind; always the same one.

    ``kept`` draws from the half that nobody tunes on. ``real`` None alternates between tones and
    recorded notes.
    """
    names = list(KINDS)
    rng = np.random.default_rng([names.index(kind), number, int(kept), 13])
    real = bool(number % 2) if real is None else real
    drawn = KINDS[kind].draw(rng, real)
    hiss = 10.0 ** (KINDS[kind].floor_db / 20.0) * rng.standard_normal(len(drawn.samples))
    samples = drawn.samples + (hiss[:, None] * (1.0, -0.97) if drawn.samples.ndim == 2 else hiss)
    most = float(np.max(np.abs(samples)))
    if most > 0.98:
        samples = samples * (0.98 / most)
    return TrueTake(
        kind, number, kept, drawn.made_of, samples, float(RATE_HZ), drawn.notes, drawn.facts
    )


__all__ = ["EACH", "KINDS", "make_take"]
