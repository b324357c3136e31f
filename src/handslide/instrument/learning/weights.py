"""The weights that can be learnt, and what a teacher's choices make of those he began from.

A learnt profile is the one that it began from with each weight w multiplied by a factor f; a weight
that is 0 there becomes ``START[w] * (f - 1)``, with f at least 1. All factors 1: nothing is learnt.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from handslide.instrument.effort import LINEAR, Floats
from handslide.instrument.horn import Horn
from handslide.instrument.places import TOP_PARTIAL
from handslide.instrument.profile import Profile

FIRST_PARTIAL = 7
PARTIALS = tuple(range(FIRST_PARTIAL, TOP_PARTIAL + 1))
"""Partials whose points are learnt; all below are where a note is learnt first."""

_TABLE = "partials."
PLAIN = tuple(name for name in LINEAR if name != "partials")
WEIGHTS = PLAIN + tuple(f"{_TABLE}{partial}" for partial in PARTIALS)
"""Names of all weights that are learnt: keys of a profile, ``partials.9`` for a partial's."""

MOST_FACTOR = 8.0
# What a weight that was 0 gets for a factor of 2: a small one of its kind in our own profiles.
_START_PARTIAL = 0.2
_START = {"vibrato": 0.2}
_START_ELSE = 0.1
# Learnt factors are kept to so many digits: more say nothing, and hide how the sum was rounded.
DIGITS = 6


def kind_of(horn: Horn) -> str:
    """The kind of horns that are learnt together: the open horn's note and its number of valves."""
    return f"{horn.closed_name(())}+{len(horn.valves)}"


def weights_of(profile: Profile) -> Floats:
    """(F,) the weights of a profile in the order of :data:`WEIGHTS`."""
    plain = [getattr(profile, name) for name in PLAIN]
    return np.array(plain + [profile.partials.get(partial, 0.0) for partial in PARTIALS], float)


def start_of(profile: Profile) -> Floats:
    """(F,) what is multiplied: the weight, or for one that is 0 what it starts with."""
    weights = weights_of(profile)
    small = [_START.get(name, _START_ELSE) for name in PLAIN] + [_START_PARTIAL] * len(PARTIALS)
    return np.where(weights > 0.0, weights, small)


def with_factors(profile: Profile, factors: Floats) -> Floats:
    """(F,) the weights that ``factors`` (F,) make of a profile's."""
    start = start_of(profile)
    grown = np.maximum(0.0, factors - 1.0)
    return np.asarray(start * np.where(weights_of(profile) > 0.0, factors, grown))


def profile_with(profile: Profile, weights: Floats) -> Profile:
    """A profile with other ``weights`` (F,); times, shapes and limits stay."""
    plain: dict[str, Any] = dict(zip(PLAIN, weights.tolist()))
    partials = dict(profile.partials)
    for partial, points in zip(PARTIALS, weights[len(PLAIN) :].tolist()):
        if points > 0.0 or partial in partials:
            partials[partial] = points
    return replace(profile, partials=partials, **plain)


def unit(profile: Profile) -> Profile:
    """A profile's times and shapes with all weights 1; no points for partials."""
    plain: dict[str, Any] = dict.fromkeys(PLAIN, 1.0)
    return replace(profile, partials={}, **plain)


@dataclass(frozen=True, slots=True)
class Factors:
    """Factors by the names of :data:`WEIGHTS`; one that is missing is 1.

    ``shared`` are for any horn, ``by_kind`` for horns of a kind that there were examples of, in
    their place.
    """

    shared: Mapping[str, float] = field(default_factory=dict)
    by_kind: Mapping[str, Mapping[str, float]] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self.shared) or any(self.by_kind.values())

    def on(self, horn: Horn) -> Mapping[str, float]:
        """The factors for a horn."""
        return self.by_kind.get(kind_of(horn), self.shared)

    def profile(self, base: Profile, horn: Horn) -> Profile:
        """What they make of the profile that it began from, for a horn."""
        chosen = self.on(horn)
        if not chosen:
            return base
        row = np.array([chosen.get(name, 1.0) for name in WEIGHTS])
        learnt, before = with_factors(base, row), weights_of(base)
        return profile_with(base, np.where(row == 1.0, before, learnt))


def named(log_factors: Floats) -> dict[str, float]:
    """Factors by name from their logarithms (F,), rounded; those that round to 1 are left out."""
    rounded = {
        name: float(f"{factor:.{DIGITS}g}")
        for name, factor in zip(WEIGHTS, np.exp(log_factors).tolist())
    }
    return {name: factor for name, factor in rounded.items() if factor != 1.0}
