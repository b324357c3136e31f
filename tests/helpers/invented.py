"""Invented takes of a part, row by row, with faults whose place is known."""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from handslide.edges.musicxml.read import open_score
from handslide.sound.follow import Expected, Heard

DEMO = Path(__file__).parents[2] / "examples" / "lanterns.musicxml"


@dataclass
class Take:
    """What was played.

    ``truth[i]`` is the status of note i of the part and the heard notes that may be taken for it:
    the last attempt, or the same note struck twice in a row. Empty: it was never played.
    """

    heard: list[Heard] = field(default_factory=list)
    truth: list[tuple[str, tuple[int, ...]]] = field(default_factory=list)


@dataclass(frozen=True)
class Faults:
    """How often each fault happens, for each note of the part."""

    wrong: float = 0.04
    missing: float = 0.03
    skipped: float = 0.01
    octave: float = 0.02
    extra: float = 0.02
    again: float = 0.02
    restart: float = 0.015
    pause: float = 0.02
    joined: float = 0.1
    tempo: tuple[float, float] = (0.5, 2.0)
    cents: float = 12.0
    offset: float = 10.0


def demo_part() -> list[Expected]:
    part = open_score(DEMO).read_part()
    rows, measure = [], None
    for number, onset, length in zip(part.played, part.onset_s, part.length_s):
        note = part.notes[number]
        rows.append(Expected(note.sounding.midi, onset, length, note.measure_index != measure))
        measure = note.measure_index
    return rows


def own_part(rng: np.random.Generator, count: int) -> list[Expected]:
    """A line that moves mostly by step, with leaps, equal notes and rests; bars of four beats."""
    rows, midi, beat, bar = [], 53, 0.0, -1
    for _ in range(count):
        step = rng.choice([0, 1, 2, 3, 4, 5, 7], p=[0.12, 0.2, 0.33, 0.12, 0.1, 0.08, 0.05])
        midi += int(step * rng.choice([-1, 1]))
        midi = midi - 12 if midi > 67 else midi + 12 if midi < 40 else midi
        length = float(rng.choice([0.5, 1.0, 2.0, 1.5], p=[0.35, 0.45, 0.12, 0.08]))
        rows.append(Expected(midi, beat * 0.6, length * 0.6, int(beat // 4) != bar))
        bar = int(beat // 4)
        beat += length + float(rng.choice([0.0, 1.0], p=[0.93, 0.07]))
    return rows


class _Player:
    def __init__(self, part, rng, faults):
        self.part, self.rng, self.faults = part, rng, faults
        self.take = Take(truth=[("missing", ())] * len(part))
        low, high = np.log(faults.tempo)
        self.stretch = float(np.exp(rng.uniform(low, high)))
        self.drift = float(rng.uniform(-0.12, 0.12)) / max(len(part), 1)
        self.offset = float(rng.normal(0.0, faults.offset)) / 100.0
        self.now = float(rng.uniform(0.2, 3.0))

    def play(self) -> Take:
        number, restarted = 0, set()
        while number < len(self.part):
            number = self.note(number)
            if number < len(self.part) and number not in restarted:
                if self.rng.random() < self.faults.restart:
                    restarted.add(number)
                    self.now += float(self.rng.uniform(0.4, 2.5))
                    number = self.bar_of(number - 1)
                elif self.rng.random() < self.faults.pause:
                    self.now += float(self.rng.uniform(0.5, 3.0))
        return self.take

    def bar_of(self, number):
        while number > 0 and not self.part[number].begins:
            number -= 1
        return number

    def sound(self, midi, length_s):
        cents = self.rng.normal(0.0, self.faults.cents) / 100.0
        start = self.now + self.rng.normal(0.0, 0.02)
        share = self.rng.uniform(0.6, 0.98)
        self.take.heard.append(
            Heard(start, start + max(share * length_s, 0.06), midi + self.offset + cents)
        )
        return len(self.take.heard) - 1

    def due_s(self, number):
        note = self.part[number]
        after = (
            self.part[number + 1].onset_s - note.onset_s
            if number + 1 < len(self.part)
            else note.length_s
        )
        self.stretch *= float(np.exp(self.drift + self.rng.normal(0.0, 0.01)))
        return after * self.stretch * float(np.exp(self.rng.normal(0.0, 0.04)))

    def note(self, number):
        note, faults, roll = self.part[number], self.faults, self.rng.random
        due = self.due_s(number)
        length = note.length_s * self.stretch
        if roll() < faults.missing:
            self.now += due
            return number + 1
        if roll() < faults.skipped:
            return number + 1
        if roll() < faults.extra:
            self.sound(note.midi + float(self.rng.choice([-7, -5, -3, 3, 4, 5])), 0.2)
            self.now += 0.22
        twice: tuple[int, ...] = ()
        if roll() < faults.again:
            twice = (self.sound(note.midi, 0.25),)
            self.now += float(self.rng.uniform(0.3, 0.6))
        if self.joins(number):
            more = self.due_s(number + 1)
            start = self.sound(note.midi, due + self.part[number + 1].length_s * self.stretch)
            self.take.truth[number] = self.take.truth[number + 1] = (
                "right",
                (*twice, start),
            )
            self.now += due + more
            return number + 2
        status, midi = "right", float(note.midi)
        if roll() < faults.wrong:
            shifts = [-1, 1, -2, 2, -4, 4, -5, 5, 3, -3, 7]
            status, midi = "wrong", midi + float(self.rng.choice(shifts))
        elif roll() < faults.octave:
            status, midi = "octave", midi + float(self.rng.choice([-12, 12]))
        self.take.truth[number] = (
            status,
            (*(twice if status == "right" else ()), self.sound(midi, length)),
        )
        self.now += due
        return number + 1

    def joins(self, number):
        return (
            number + 1 < len(self.part)
            and self.part[number + 1].midi == self.part[number].midi
            and self.rng.random() < self.faults.joined
        )


def play(part: list[Expected], rng: np.random.Generator, faults: Faults | None = None) -> Take:
    """A take of ``part``; notes heard as their own row, in order of time."""
    return _Player(part, rng, faults or Faults()).play()
