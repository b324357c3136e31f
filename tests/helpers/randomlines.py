"""Lines, profiles and limits by chance, from seeded generators."""

from dataclasses import replace
from functools import cache

import numpy as np
from anyhorn import load_profile

from handslide.edges.files.horns import load_horn
from handslide.instrument.line import make_line
from handslide.instrument.places import Limits
from handslide.instrument.profile import Profile

HORNS = ("tenor", "tenor-f", "bass-independent", "alto-bb", "tenor-c-bb")
# Low enough for pedals, with and without a valve; lines with an unplayable note are drawn again.
LOWEST = {"tenor": 34, "tenor-f": 28, "bass-independent": 28, "alto-bb": 34, "tenor-c-bb": 34}


@cache
def horn_of(name):
    return load_horn(name).tuned()


def random_profile(rng):
    """One of the two profiles, at times with every weight moved by up to half."""
    profile = load_profile(("classical", "beginner")[rng.integers(2)])
    if rng.random() < 0.6:
        return profile
    fixed = {"name", "title", "partials", "top_partial", "top_partial_valve"}
    moved = {
        name: getattr(profile, name) * float(rng.uniform(0.5, 1.5))
        for name in Profile.__dataclass_fields__
        if name not in fixed
    }
    return replace(profile, **moved)


def random_limits(rng, horn, profile):
    reach = None if rng.random() < 0.7 else float(rng.integers(4, 8))
    learned = None
    if horn.valves and rng.random() < 0.2:
        learned = frozenset(v.name for v in horn.valves if rng.random() < 0.5)
    return Limits(reach, learned, profile.top_partial, profile.top_partial_valve)


def random_line(rng, lowest, count):
    """Notes with steps, leaps, repeats, rests, slurs, glissandi and overlaps, at all speeds."""
    steps = rng.choice([0, 0, 1, -1, 2, -2, 3, -3, 5, -5, 7, -7, 12], count)
    midi = lowest + (int(rng.integers(0, 30)) + np.cumsum(steps)) % 34
    beat = float(rng.choice([0.06, 0.12, 0.25, 0.5, 1.0, 2.0]))
    length = beat * rng.choice([0.0, 0.5, 1.0, 1.0, 1.0, 2.0, 3.0], count, p=[0.04] + [0.16] * 6)
    rest = np.where(rng.random(count) < 0.25, rng.choice([0.05, 0.3, 0.9, 2.5], count), 0.0)
    onset = np.concatenate([[0.0], np.cumsum(length + rest)[:-1]])
    sounding = length * np.where(rng.random(count) < 0.1, 1.3, 1.0)  # held into the next note
    slur = rng.random(count) < 0.3
    gliss = rng.random(count) < 0.08
    return make_line(midi, onset, sounding, slur, gliss)


def long_line(count, seed=7):
    rng = np.random.default_rng(seed)
    midi = 40 + np.clip(np.abs(np.cumsum(rng.integers(-4, 5, count))) % 36, 0, 34)
    length = rng.choice([0.1, 0.2, 0.4, 0.8], count)
    rest = np.where(rng.random(count) < 0.1, 0.7, 0.0)
    onset = np.concatenate([[0.0], np.cumsum(length + rest)[:-1]])
    return make_line(midi, onset, length, rng.random(count) < 0.2)
