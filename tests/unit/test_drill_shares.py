"""What a first year may ask, as a teacher would count it on paper: signs, leaps, breaths, loudness.

Common practice of brass methods for beginners: flat keys, steps and thirds, two bars to a breath.
A sample of horns, reaches and seeds; `make sweep` counts 200 seeds of each.
"""

import os
import random
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import pairwise

import pytest
from drill_words import SAY

from handslide.drills.finish import HARD_STEPS
from handslide.drills.kinds import DRILLS
from handslide.drills.levels import LEVELS
from handslide.drills.signs import count_signs
from handslide.edges.musicxml.write import score_of
from handslide.ground.errors import BadUsage
from handslide.jobs.practice.drill import DrillWishes, drill_pieces
from handslide.jobs.practice.music import struck
from handslide.jobs.setup import make_setup

HORNS = ("tenor", "tenor-f", "alto", "bass-dependent", "contrabass-f", "soprano")
REACHES = (None, 7.0, 6.0, 5.0, 4.0, 3.0)
SWEEP = int(os.environ.get("HANDSLIDE_SWEEP_SEEDS", "0"))
SEEDS = SWEEP or 1
KINDS = tuple(
    kind.name for kind in DRILLS.values() if not kind.from_report and kind.name != "alternates"
)
# Lip slurs go through all positions, whatever the key; a valve's new notes lie a half step apart.
CHROMATIC = ("lip-slurs",)


@dataclass
class Shares:
    """What is counted over many sheets."""

    notes: int = 0
    signs: int = 0
    steps: int = 0
    hard: int = 0
    sharp_a: int = 0
    breathless: int = 0
    silent: int = 0
    pieces: int = 0
    alike: int = 0
    refused: list = field(default_factory=list)

    def add(self, pieces):
        notes = [note for one in pieces for note in struck(one)]
        self.notes += len(notes)
        self.signs += sum(count_signs(one.bars, one.key.fifths) for one in pieces)
        steps = [abs(b.pitch.midi - a.pitch.midi) for a, b in pairwise(notes)]
        self.steps += len(steps)
        self.hard += sum(step in HARD_STEPS for step in steps)
        self.sharp_a += sum(note.pitch.step == "A" and note.pitch.alter == 1 for note in notes)
        for one in pieces:
            airy = [any(n.pitch is None or n.breath for n in bar) for bar in one.bars]
            self.breathless += not all(a or b for a, b in zip(airy, [*airy[1:], True]))
            self.silent += not any(note.dynamic for note in one.notes)
        self.pieces += len(pieces)
        self.alike += len(pieces) - len(
            {replace(one, title=None, instruction=()) for one in pieces}
        )


@cache
def setup_of(horn, reach):
    return make_setup(horn, reach=reach)


def shares(kind, level):
    """Of each horn every reach in a sweep; else half of them by turns, the shortest always."""
    found = Shares()
    seeds = random.Random(kind)
    for turn, horn in enumerate(HORNS):
        for reach in REACHES if SWEEP else (*REACHES[turn % 2 : -1 : 2], REACHES[-1]):
            for _ in range(SEEDS):
                setup = setup_of(horn, reach)
                try:
                    pieces, _ = drill_pieces(
                        setup, kind, DrillWishes(level=level), seeds.randrange(10**6)
                    )
                except BadUsage:
                    found.refused.append((horn, reach))
                    continue
                found.add(pieces)
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_a_first_year_reads_few_signs_small_steps_breathes_and_is_told_how_loud(kind):
    found = shares(kind, "first-year")
    if kind not in CHROMATIC:
        assert found.signs <= 0.05 * found.notes
    assert found.hard <= 0.005 * found.steps
    assert found.sharp_a == found.breathless == found.silent == found.alike == 0
    if kind != "register":
        # Only what a valve gives is refused, to a horn without one.
        assert found.refused == []


@pytest.mark.sample
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("level", tuple(LEVELS)[1:])
def test_later_years_read_no_wall_of_signs_and_find_every_exercise(kind, level):
    found = shares(kind, level)
    assert found.silent == found.alike == 0
    # Those that are written down go through half steps or positions, whatever the key.
    if not DRILLS[kind].written:
        chromatic = DRILLS[kind].in_key or kind == "register"
        assert found.signs <= (0.3 if chromatic else 0.2) * found.notes
        # Wide intervals are asked for of advanced players alone.
        assert found.hard <= (0.1 if level == "advanced" else 0.01) * found.steps


@pytest.mark.parametrize("kind", ["accuracy", "intonation", "lip-slurs", "scales"])
def test_signs_are_counted_as_they_are_written(kind):
    for seed in range(3):
        pieces, _ = drill_pieces(make_setup("tenor"), kind, DrillWishes(level="advanced"), seed)
        for one in pieces:
            data = score_of([one], "", "", "bass", SAY.fact).decode()
            assert data.count("<accidental") == count_signs(one.bars, one.key.fifths)


def test_the_signature_needs_the_fewest_signs():
    pieces, _ = drill_pieces(make_setup("tenor"), "intonation", DrillWishes(level="advanced"), 4)
    for one in pieces:
        own = count_signs(one.bars, one.key.fifths)
        assert all(own <= count_signs(one.bars, fifths) for fifths in range(-5, 5))
