"""What can be asked of drones and play-alongs, and within which bounds; quick to load."""

from dataclasses import dataclass

CALM_LUFS = -23.0
"""The level of broadcasts (EBU R 128): soft enough to begin with."""
SOFTEST_LUFS, LOUDEST_LUFS = -40.0, -12.0
SOLO_GAINS = {"loud": 1.0, "quiet": 0.2, "off": 0.0}
MOST_COUNT_IN = 4


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


@dataclass(frozen=True, slots=True)
class PlayWishes:
    """What to play along to.

    ``tempo_qpm`` is the tempo at the start in quarter notes a minute, ``speed_percent`` one beside
    that of the part; other tempos of the part follow in proportion. ``solo``: loud, quiet or off.
    ``sounds``: how it sounds where its file states no transposition, as `Score.read_part` takes it.
    ``measures``: such as 5-12, or None for all. ``count_in`` counts whole measures.
    """

    part: str | None = None
    voice: str | None = None
    small_notes: bool = False
    sounds: str | None = None
    tempo_qpm: float | None = None
    speed_percent: float | None = None
    count_in: int = 1
    clicks: bool = True
    solo: str = "loud"
    others: bool = True
    measures: str | None = None
    level_lufs: float = CALM_LUFS
    a4_hz: float = 440.0
