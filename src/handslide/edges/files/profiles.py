"""Profiles as TOML files: ours and the user's own by name, any other by path."""

from dataclasses import fields
from typing import Any

from handslide.edges.files.named import FileKind
from handslide.ground.errors import BadData
from handslide.ground.wholenumber import whole_number
from handslide.instrument.profile import Profile

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


def load_profile(name: str) -> Profile:
    """The profile called ``name``, or the profile file at that path. Raises BadData."""
    return PROFILE_FILES.load(name, read_profile)


def read_profile(text: str, source: str) -> Profile:
    """A profile from TOML text; keys left out keep their defaults. Raises BadData."""
    table = dict(PROFILE_FILES.parse(text, source))
    try:
        PROFILE_FILES.check_keys(table, _KEYS)
        partials = _partials(table.pop("partials", {}))
        return Profile(name=source.removesuffix(".toml"), partials=partials, **table)
    except BadData as error:
        raise BadData("profile.in_file", source=source, cause=error.fact) from None


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
