"""Written parts played with faults: what was left out, what was wrong, what was tried again.

A part is a line in four-four; the player keeps the tempo roughly, leaves notes out (their time
passes in silence), plays some a step off, and may stop and go back to the beginning of a measure.
The first and the last two notes are always played, so that every missing note is inside the take.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from handslide.sound.follow import Expected, Followed, Heard

from . import rooms
from .phrases import Drawn, Rng, line, rhythm, slurred, sound, tongued
from .truth import Floats, TrueNote
from .voices import RATE_HZ, Play

_HISS_DB = -64.0
_NEAR_S = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class PlayedPart:
    """A part, and a take of it.

    ``played[i]`` is what became of note i: ``right``, ``wrong`` or ``missing``; ``attempts[i]``
    the onsets in the take at which it was played, the last one last.
    """

    part: tuple[Expected, ...]
    samples: Floats
    rate_hz: float
    notes: tuple[TrueNote, ...]
    played: tuple[str, ...]
    attempts: tuple[tuple[float, ...], ...]


def play_part(number: int, *, real: bool = True, kept: bool = False, count: int = 24) -> PlayedPart:
    """Take ``number`` of a part of its own; always the same one."""
    rng = np.random.default_rng([number, int(kept), 29])
    beat_s = 60.0 / float(rng.uniform(69, 104))
    midis = line(rng, count, 43, 64)
    lengths = rhythm(rng, count, 1.0)
    part = _written(midis, lengths)
    faulty = 2 + rng.permutation(count - 5)[:4]
    missing, wrong = set(faulty[:2].tolist()), set(faulty[2 : 2 + int(rng.integers(0, 3))].tolist())
    order = list(range(count))
    if rng.random() < 0.6:
        stop = int(rng.integers(6, count - 3))
        back = max(n for n in range(stop) if part[n].begins)
        order = [*range(stop + 1), -1, *range(back, count)]
    drawn, attempts = _sounded(rng, order, midis, lengths, beat_s, missing, wrong, real)
    samples = drawn.samples
    if rng.random() < 0.5:
        samples = rooms.in_room(samples, rooms.decaying_noise(0.25, 5.0, rng))
    samples = samples + 10.0 ** (_HISS_DB / 20.0) * rng.standard_normal(len(samples))
    became = (
        "missing" if n in missing else "wrong" if n in wrong else "right" for n in range(count)
    )
    return PlayedPart(part, samples, float(RATE_HZ), drawn.notes, tuple(became), attempts)


def _written(midis: list[int], lengths: list[float]) -> tuple[Expected, ...]:
    """The part as it is written, a beat a second; a measure begins every four beats."""
    rows, at, measure = [], 0.0, -1
    for midi, length in zip(midis, lengths):
        begins = int(at // 4) != measure
        measure = int(at // 4)
        rows.append(Expected(midi, at, length, begins))
        at += length
    return tuple(rows)


def _sounded(
    rng: Rng,
    order: list[int],
    midis: list[int],
    lengths: list[float],
    beat_s: float,
    missing: set[int],
    wrong: set[int],
    real: bool,
) -> tuple[Drawn, tuple[tuple[float, ...], ...]]:
    """The take, and when each note of the part was played in it; -1 in ``order`` is a stop."""
    pace = beat_s * np.exp(np.cumsum(rng.normal(0.0, 0.01, len(order))))
    lasts = [1.5 if n < 0 else lengths[n] for n in order]
    whole = tongued(
        rng,
        [midis[max(n, 0)] for n in order],
        [float(p * x) for p, x in zip(pace, lasts)],
        real,
        late_s=0.015,
    )
    plays: list[Play] = []
    attempts: list[list[float]] = [[] for _ in midis]
    for n, play in zip(order, whole):
        if n < 0 or n in missing:
            continue
        if n in wrong:
            play = replace(play, midi=play.midi + float(rng.choice((-2, -1, 1, 2))))
        attempts[n].append(play.onset_s)
        plays.append(play)
    plays = _joined_where_near(rng, plays)
    return sound(plays, rng, real), tuple(tuple(row) for row in attempts)


def _joined_where_near(rng: Rng, plays: list[Play]) -> list[Play]:
    """Some notes slurred to the one before, where no missing note or stop lies between."""
    found = plays[:1]
    for play in plays[1:]:
        before = found.pop()
        gap_s = play.onset_s - before.onset_s - before.length_s
        share = 0.2 if gap_s < 0.25 * before.length_s + 0.05 else 0.0
        found += slurred(
            rng,
            [before, play],
            share,
            transit_s=(0.02, 0.05),
            dip_db=(0.0, 5.0),
            dip_s=(0.03, 0.05),
        )
    return found


@dataclass(slots=True)
class FollowTally:
    """How a follower did over takes: counts of notes of the parts."""

    takes: int = 0
    played: int = 0
    matched: int = 0
    missing: int = 0
    named: int = 0
    wrong: int = 0
    wrong_named: int = 0
    alarms: int = 0
    unsure: int = 0

    def add(self, take: PlayedPart, followed: Followed, heard: Sequence[Heard]) -> None:
        """Count a take.

        A note that was played is matched when it is given the sound of one of its attempts; a
        false alarm is a note that was played right and is called missing, wrong or in another
        octave. Which of several equal notes in a row is missing can't be told: any of them will do.
        """
        self.takes += 1
        for rows in _equal_runs(take.part):
            told = [followed.matches[n] for n in rows]
            missing = sum(take.played[n] == "missing" for n in rows)
            named = sum(one.played == "missing" and not one.outside for one in told)
            self.missing += missing
            self.named += min(missing, named)
            if missing:
                attempts = [at for n in rows for at in take.attempts[n]]
                self.alarms += max(0, named - missing)
            for n, one in zip(rows, told):
                became = take.played[n]
                if became == "missing" or (missing and one.played == "missing"):
                    continue
                own = attempts if missing else take.attempts[n]
                at_s = None if one.heard is None else heard[one.heard].start_s
                near = at_s is not None and any(abs(at_s - at) < _NEAR_S for at in own)
                self.played += 1
                # Equal notes that ran together share a sound, which began with the first of them.
                self.matched += near or one.joined
                if became == "wrong":
                    self.wrong += 1
                    self.wrong_named += one.played == "wrong"
                else:
                    self.alarms += one.played in ("missing", "wrong", "octave") or one.outside
                    self.unsure += one.played == "unsure"


def _equal_runs(part: Sequence[Expected]) -> list[list[int]]:
    """The part's notes in runs of equal ones."""
    runs: list[list[int]] = []
    for number, note in enumerate(part):
        if runs and part[runs[-1][-1]].midi == note.midi:
            runs[-1].append(number)
        else:
            runs.append([number])
    return runs


__all__ = ["FollowTally", "PlayedPart", "play_part"]
