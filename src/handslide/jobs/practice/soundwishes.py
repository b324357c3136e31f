"""What can be asked of drones and play-alongs, and within which bounds; quick to load."""

import math
from dataclasses import dataclass

from handslide.ground.errors import BadUsage

CALM_LUFS = -23.0
"""The level of broadcasts (EBU R 128): soft enough to begin with."""
SOFTEST_LUFS, LOUDEST_LUFS = -40.0, -12.0
SOLO_GAINS = {"loud": 1.0, "quiet": 0.2, "off": 0.0}
MOST_COUNT_IN = 4
CLICKS_DB = (-24.0, 12.0)
MOST_PARTS = 4
"""Clicks of a beat."""
MOST_TIMES = 50
MOST_TEMPOS = 20
TAKE_ALONG = ("mp3", "ogg", "flac", "wav")
"""What a sound is written as to be taken along, the usual one first."""


@dataclass(frozen=True, slots=True)
class DroneWishes:
    """What to hold: note names, or one note with a ``chord`` above it.

    ``root`` is what just ratios are counted from (default: the lowest tone). ``length_s`` None is
    60 s, or for a ``loop``, which is at least as long as this, 10 s.
    """

    notes: tuple[str, ...]
    chord: str | None = None
    just: bool = False
    root: str | None = None
    length_s: float | None = None
    loop: bool = False
    level_lufs: float = CALM_LUFS
    a4_hz: float = 440.0


HARMONY_SOURCES = ("chords", "parts")
HELD_TONES = ("root", "fifth", "chord")


@dataclass(frozen=True, slots=True)
class HarmonyWishes:
    """A drone that follows the harmony of a score.

    ``source``: its chord symbols or what its parts play; None: symbols where there are some.
    ``tones`` of each chord: its root, root and fifth, or all. ``own``: also those that the part
    itself has at the time. ``low``: the lowest root. ``just`` above each root; the roots are just
    above ``base``, or, where it is None, in equal temperament.
    """

    source: str | None = None
    tones: str = "fifth"
    own: bool = True
    low: str = "F2"
    just: bool = True
    base: str | None = None


@dataclass(frozen=True, slots=True)
class PlayWishes:
    """What to play along to.

    ``tempo_qpm`` is the tempo at the start in quarter notes a minute, ``speed_percent`` one beside
    that of the part; other tempos of the part follow in proportion. ``solo``: loud, quiet or off.
    ``sounds``: how it sounds where its file states no transposition, as `Score.read_part` takes it.
    ``measures``: such as 5-12, or None for all. ``count_in`` counts whole measures.

    ``tempos_qpm``: the music in each of these tempos, one after the other. ``times``: how often it
    is played in each tempo, counted in every time. ``click_db``: clicks louder or softer;
    ``accent``: the first of a measure is stronger; ``click_parts`` of each beat.
    ``expression``: dynamics, changes of tempo, fermatas, breaths and swing are played, else all
    notes are equally loud and in strict time. ``life``: pitch drifts a little about the exact one,
    and wind is heard. ``room``: it sounds in a small room. ``drone``: one that follows the harmony
    sounds below; the part is tuned to it.
    """

    part: str | None = None
    voice: str | None = None
    small_notes: bool = False
    sounds: str | None = None
    tempo_qpm: float | None = None
    speed_percent: float | None = None
    count_in: int = 1
    clicks: bool = True
    click_db: float = 0.0
    accent: bool = True
    click_parts: int = 1
    tempos_qpm: tuple[float, ...] = ()
    times: int = 1
    expression: bool = True
    life: bool = True
    room: bool = True
    solo: str = "loud"
    others: bool = True
    measures: str | None = None
    drone: HarmonyWishes | None = None
    level_lufs: float = CALM_LUFS
    a4_hz: float = 440.0


def read_tempos(text: str) -> tuple[float, ...]:
    """Tempos as typed, one after the other: ``60, 66, 72``. Raises BadUsage."""
    words = text.replace(",", " ").replace(";", " ").split()
    try:
        tempos = tuple(float(word) for word in words)
    except ValueError:
        tempos = (math.nan,)
    if not all(map(math.isfinite, tempos)):
        raise BadUsage("practice.tempo_list", wish=text)
    return tempos
