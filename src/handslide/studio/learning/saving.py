"""What was learnt as a profile file that every command takes."""

from pathlib import Path

from handslide.ground.errors import BadUsage
from handslide.jobs.profile.kept import put_learnt
from handslide.studio.choosing.versions import factors_of, in_force
from handslide.studio.studio import Studio


def save_profile(studio: Studio, name: str) -> Path:
    """Write what is in force as the user's profile ``name``; nothing of a student goes there.

    Raises BadUsage, BadData, OutputError as `put_learnt`; BadUsage too where nothing is learnt.
    """
    factors = factors_of(in_force(studio))
    if not factors.shared and not any(factors.by_kind.values()):
        raise BadUsage("learning.nothing")
    return put_learnt(name, factors)
