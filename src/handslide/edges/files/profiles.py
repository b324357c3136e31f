"""Profiles as TOML files: ours and the user's own by name, any other by path.

A file has weights, or what a teacher's choices made of another profile's: ``began_from`` its name,
or ``by-horn``; ``[factors]`` by what its weights are multiplied, with a table ``partials``; and
``[factors_on."Bb+1"]`` the same for a kind of horn, in their place.
"""

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, fields, replace
from typing import Any

from handslide.edges.files.named import FileKind
from handslide.edges.files.toml import toml_string
from handslide.ground.errors import BadData
from handslide.ground.wholenumber import whole_number
from handslide.instrument.horn import Horn
from handslide.instrument.learning.weights import (
    MOST_FACTOR,
    PARTIALS,
    PLAIN,
    Factors,
)
from handslide.instrument.profile import Profile

BY_HORN = "by-horn"
"""The profile of those who name none: ``bass`` for two valves, else ``classical``."""


PROFILE_FILES = FileKind(
    folder="profiles",
    error=BadData,
    unknown="profile.unknown",
    unknown_near="profile.unknown_near",
    unknown_here="profile.unknown_here",
    is_folder="profile.is_folder",
    too_large="profile.too_large",
    missing="profile.missing",
    not_text="profile.not_text",
    unreadable="profile.unreadable",
    not_toml="profile.not_toml",
    unknown_key="profile.unknown_key",
    unknown_key_near="profile.unknown_key_near",
)
_KEYS = tuple(item.name for item in fields(Profile) if item.name != "name")
_LEARNT_KEYS = ("title", "began_from", "factors", "factors_on")
_KIND = re.compile(r"[A-G][b#]?(-?\d)?\+\d", re.ASCII)
# Rounding may carry a factor at its limit a little beyond.
_ROUNDED = 1e-6


@dataclass(frozen=True, slots=True)
class LearntProfile:
    """What a teacher's choices made of the profile called ``began_from``."""

    name: str
    title: str
    began_from: str
    factors: Factors


def load_profile(name: str, horn: Horn) -> Profile:
    """The profile called ``name``, or the profile file at that path, for a horn.

    ``by-horn`` is that which the horn has by itself.

    Raises
    ------
    BadData
        When there is none, or it can't be read, or it began from itself.
    """
    names, learnt = [name], list[LearntProfile]()
    found = _named(name, horn)
    while isinstance(found, LearntProfile):
        learnt.append(found)
        if found.began_from in names:
            raise BadData("profile.circle", name=name, chain=(*names, found.began_from))
        names.append(found.began_from)
        found = _named(found.began_from, horn)
    for one in reversed(learnt):
        found = replace(one.factors.profile(found, horn), name=one.name, title=one.title)
    return found


def _named(name: str, horn: Horn) -> Profile | LearntProfile:
    if name == BY_HORN:
        name = "bass" if len(horn.valves) > 1 else "classical"
    return PROFILE_FILES.load(name, read_profile)


def read_profile(text: str, source: str) -> Profile | LearntProfile:
    """A profile from TOML text; weights left out keep their defaults. Raises BadData."""
    table = dict(PROFILE_FILES.parse(text, source))
    name = source.removesuffix(".toml")
    with _inside(source):
        if "began_from" in table:
            return _learnt(name, table)
        if "factors" in table or "factors_on" in table:
            raise BadData("profile.factors_of_nothing")
        PROFILE_FILES.check_keys(table, _KEYS)
        if not isinstance(table.get("title", ""), str):
            raise BadData("profile.not_text_value", key="title")
        partials = _partials(table.pop("partials", {}))
        return Profile(name=name, partials=partials, **table)


@contextmanager
def _inside(source: str) -> Iterator[None]:
    """Says of an error in which file it is."""
    try:
        yield
    except BadData as error:
        raise BadData("profile.in_file", source=source, cause=error.fact) from None


def learnt_toml(learnt: LearntProfile) -> str:
    """A learnt profile as the text of its file, which reads back the same (but for its name)."""
    lines = [
        f"title = {toml_string(learnt.title)}",
        f"began_from = {toml_string(learnt.began_from)}",
    ]
    lines += _factor_lines("factors", learnt.factors.shared)
    for kind, factors in sorted(learnt.factors.by_kind.items()):
        # A kind without factors keeps those of all horns away.
        table = f'factors_on."{kind}"'
        lines += _factor_lines(table, factors) or ["", f"[{table}]"]
    return "\n".join(lines) + "\n"


def _factor_lines(table: str, factors: Mapping[str, float]) -> list[str]:
    plain = [f"{name} = {factors[name]!r}" for name in PLAIN if name in factors]
    partials = [
        f"{number} = {factors[f'partials.{number}']!r}"
        for number in PARTIALS
        if f"partials.{number}" in factors
    ]
    lines = ["", f"[{table}]", *plain] if plain else []
    return lines + (["", f"[{table}.partials]", *partials] if partials else [])


def _learnt(name: str, table: Mapping[str, Any]) -> LearntProfile:
    PROFILE_FILES.check_keys(table, _LEARNT_KEYS)
    for key in ("title", "began_from"):
        if not isinstance(table.get(key, ""), str):
            raise BadData("profile.not_text_value", key=key)
    began_from = table["began_from"]
    if began_from != BY_HORN and began_from not in PROFILE_FILES.known:
        known = ", ".join((BY_HORN, *PROFILE_FILES.known))
        raise BadData("profile.began_from", name=began_from, known=known)
    kinds = table.get("factors_on", {})
    if not isinstance(kinds, dict):
        raise BadData("profile.factors_on")
    for kind in kinds:
        if not _KIND.fullmatch(kind):
            raise BadData("profile.kind_of_horn", kind=kind)
    factors = Factors(
        _factors(table.get("factors", {})), {kind: _factors(row) for kind, row in kinds.items()}
    )
    return LearntProfile(name, table.get("title", ""), began_from, factors)


def _factors(table: Any) -> dict[str, float]:
    if not isinstance(table, dict):
        raise BadData("profile.factors")
    plain = {key: value for key, value in table.items() if key != "partials"}
    PROFILE_FILES.check_keys(plain, PLAIN)
    partials = table.get("partials", {})
    if not isinstance(partials, dict):
        raise BadData("profile.factors")
    for key in partials:
        if whole_number(key) not in PARTIALS:
            raise BadData("profile.factor_partial", key=key, low=PARTIALS[0], high=PARTIALS[-1])
    named = plain | {f"partials.{whole_number(key)}": value for key, value in partials.items()}
    return {key: _factor(key, value) for key, value in named.items()}


def _factor(key: str, value: Any) -> float:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    most = MOST_FACTOR * (1.0 + _ROUNDED)
    if not number or not 1.0 / most <= value <= most:
        raise BadData("profile.factor", key=key, value=repr(value), most=MOST_FACTOR)
    return float(value)


def _partials(table: Any) -> dict[int, float]:
    if not isinstance(table, dict):
        raise BadData("profile.partials")
    worth = {}
    for key, points in table.items():
        number = isinstance(points, int | float) and not isinstance(points, bool)
        partial = whole_number(key)
        if partial is None or not 1 <= partial <= 16 or not number or not 0 <= points < 1e6:
            raise BadData("profile.partial", key=key, value=repr(points))
        worth[partial] = float(points)
    return worth
