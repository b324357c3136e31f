"""Phrases to be played: melodies, rhythms, how notes join, and the sound of it all."""

from dataclasses import dataclass, replace

import numpy as np

from .truth import Floats, TrueNote
from .voices import Colour, Play, recorded, tones, truth

Rng = np.random.Generator
LEAD_S = 0.4
TAIL_S = 0.8


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """A take before its noise: samples, what is known, what else to say."""

    samples: Floats
    notes: tuple[TrueNote, ...]
    facts: dict[str, float]
    made_of: str


def line(rng: Rng, count: int, low: int = 41, high: int = 67, again: float = 0.08) -> list[int]:
    """A melody of MIDI numbers: mostly steps, some leaps, some notes twice."""
    found = [int(rng.integers(low + 4, high - 4))]
    while len(found) < count:
        step = int(rng.choice([1, 2, 3, 4, 5, 7, 12], p=[0.24, 0.38, 0.12, 0.1, 0.08, 0.06, 0.02]))
        step = 0 if rng.random() < again else step * int(rng.choice((-1, 1)))
        after = found[-1] + step
        found.append(after if low <= after <= high else found[-1] - step)
    return found


def tuned(rng: Rng, midi: int) -> float:
    """A note as a player has it: within some cents."""
    return midi + float(np.clip(rng.normal(0.0, 10.0), -30.0, 30.0)) / 100.0


def rhythm(rng: Rng, count: int, beat_s: float) -> list[float]:
    """Lengths in seconds of notes of half a beat to two beats."""
    return [
        float(one) * beat_s
        for one in rng.choice([0.5, 1.0, 1.5, 2.0], count, p=[0.4, 0.4, 0.1, 0.1])
    ]


def tongued(
    rng: Rng,
    midis: list[int],
    lengths_s: list[float],
    real: bool,
    *,
    gap: float = 0.1,
    level_db: float = -20.0,
    late_s: float = 0.0,
) -> list[Play]:
    """Notes one by one, each a little shorter than written, each early or late by chance."""
    plays, beat_s = [], LEAD_S
    for midi, length_s in zip(midis, lengths_s):
        late = float(rng.normal(0.0, late_s)) if late_s else 0.0
        sounds_s = length_s * (1.0 - gap * rng.uniform(0.6, 1.4)) - abs(late)
        plays.append(
            Play(
                tuned(rng, midi),
                beat_s + late,
                max(sounds_s, 0.06),
                level_db=level_db + float(rng.normal(0.0, 1.5)),
                rise_s=float(rng.uniform(0.012, 0.03)),
                fall_s=min(float(rng.uniform(0.03, 0.06)), 0.3 * length_s),
                beat_s=beat_s,
                late_s=late,
                natural=real and length_s > 0.3 and rng.random() < 0.5,
            )
        )
        beat_s += length_s
    return plays


def slurred(rng: Rng, plays: list[Play], share: float, **how: tuple[float, float]) -> list[Play]:
    """The same notes with some of them slurred to the note before: figures drawn from ranges."""
    found = plays[:1]
    for play in plays[1:]:
        before = found[-1]
        if rng.random() < share and round(play.midi) != round(before.midi):
            drawn = {name: float(rng.uniform(*span)) for name, span in how.items()}
            found[-1] = replace(before, length_s=play.onset_s - before.onset_s)
            play = replace(play, join="slurred", natural=False, **drawn)
        found.append(play)
    return found


def sound(
    plays: list[Play],
    rng: Rng,
    real: bool,
    *,
    colour: Colour | None = None,
    instrument: str = "trombone",
    tail_s: float = TAIL_S,
) -> Drawn:
    """The phrase, of tones or of recorded notes."""
    last = plays[-1]
    length_s = last.onset_s + last.length_s + tail_s
    if real:
        return Drawn(
            recorded(plays, length_s, rng, instrument), truth(plays, False), {}, "recordings"
        )
    return Drawn(tones(plays, length_s, rng, colour), truth(plays, True), {}, "tones")


def phrase(rng: Rng, real: bool, count: int = 12) -> list[Play]:
    """An ordinary phrase: moderate, some notes slurred."""
    beat_s = 60.0 / rng.uniform(66, 100)
    plays = tongued(rng, line(rng, count), rhythm(rng, count, beat_s), real, late_s=0.012)
    return slurred(rng, plays, 0.3, transit_s=(0.02, 0.06), dip_db=(0.0, 6.0), dip_s=(0.03, 0.05))


def changed(drawn: Drawn, samples: Floats, **facts: float) -> Drawn:
    """A take whose samples something was done to, and what is to be said of that."""
    return replace(drawn, samples=samples, facts={**drawn.facts, **facts})
