"""What a person said instead, by spot."""

from handslide.edges.pdfparts.pitches import ReadClef, ReadKey, clef_named, key_of_fifths
from handslide.edges.pdfparts.reading import Corrections, Spot
from handslide.ground.errors import ScoreError
from handslide.ground.pitch import Pitch, parse_pitch


class Corrector:
    """Gives for each spot what was said of it; a correction of what a whole system begins with
    holds on as long as the same thing is read."""

    def __init__(self, corrections: Corrections) -> None:
        """Raises ScoreError for a clef that nobody knows, PitchError for a note."""
        self._clefs = {spot: _clef(name) for spot, name in corrections.clefs}
        self._keys = {spot: ReadKey(key_of_fifths(fifths)) for spot, fifths in corrections.keys}
        self.notes: dict[Spot, Pitch | None] = {
            spot: parse_pitch(name) if name else None for spot, name in corrections.notes
        }
        self._clef_now: ReadClef | None = None
        self._key_now: tuple[dict[int, int], ReadKey] | None = None

    def clef(self, spot: Spot, shown: ReadClef | None) -> ReadClef | None:
        """The clef from a spot on, or None where what is shown holds."""
        given = self._clefs.get(spot)
        if given is not None:
            self._clef_now = given
        elif shown is not None and shown.sure:
            self._clef_now = None
        return self._clef_now

    def key(self, spot: Spot, shown: ReadKey) -> ReadKey | None:
        """The key from a system on, or None where what is shown holds."""
        given = self._keys.get(spot)
        if given is not None:
            self._key_now = shown.alters, given
        elif self._key_now is not None and self._key_now[0] != shown.alters:
            self._key_now = None
        return None if self._key_now is None else self._key_now[1]


def _clef(name: str) -> ReadClef:
    clef = clef_named(name)
    if clef is None:
        raise ScoreError("pdfparts.no_such_clef", name=name)
    return clef
