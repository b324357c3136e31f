"""Which part of a score is meant, and how it is read."""

from dataclasses import dataclass

from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart
from handslide.ground.errors import BadUsage


@dataclass(frozen=True, slots=True)
class PartWishes:
    """A part and its voice (None: the first), and what its file may leave open.

    ``tempo_qpm`` holds where the score gives none. ``small_notes``: notes that are only printed
    small are the player's own. ``sounds``: how a part without a transposition in its file sounds
    (``as-written``, ``Bb-treble``; None: as written, with a warning where its name says otherwise).
    """

    part: str | None = None
    voice: str | None = None
    tempo_qpm: float = 80.0
    small_notes: bool = False
    sounds: str | None = None


def read_wished(score: Score, wishes: PartWishes) -> ScorePart:
    """The part that is wished for. Raises ScoreError, BadUsage."""
    if not 10.0 <= wishes.tempo_qpm <= 500.0:
        raise BadUsage("line.tempo", tempo_qpm=wishes.tempo_qpm)
    return score.read_part(
        wishes.part,
        wishes.voice,
        wishes.tempo_qpm,
        small_notes=wishes.small_notes,
        sounds=wishes.sounds,
    )
