"""Profiles of plain weights, the same on every horn, and those that horns have by themselves."""

from handslide.edges.files import profiles
from handslide.edges.files.horns import load_horn


def load_profile(name):
    """A profile by name or path, as a tenor has it."""
    return profiles.load_profile(name, load_horn("tenor").tuned())


def bases(horn):
    """The profile that a horn has by itself."""
    return profiles.load_profile(profiles.BY_HORN, horn)
