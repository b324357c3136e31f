"""Tied notes: which segment continues which note."""

from collections.abc import Callable, Sequence
from typing import Any, TypeAlias

from handslide.edges.musicxml.values import Sounding, Warn
from handslide.ground.facts import fact

Sign: TypeAlias = tuple[str, str | None, Any]
"""Tag, ``type`` and element of a tie, slur or glide."""


class Ties:
    """The ties that are open while a line is read, by the MIDI number of their note.

    Parameters
    ----------
    warn : callable
        Told of a tie that ends without a beginning.
    lost : callable
        Told the index of a note whose tie isn't continued.
    """

    def __init__(self, warn: Warn, lost: Callable[[int], None]) -> None:
        self._warn, self._lost = warn, lost
        self.open: dict[int, int] = {}
        self._before_ending: dict[int, int] = {}

    def note_of(self, signs: Sequence[Sign], pitch: Sounding, new: int, *, grace: bool) -> int:
        """The index of the note that a segment continues; ``new``, its own, where it begins one.

        The sounding ``tie`` counts, and the printed ``tied`` where there is none.
        """
        kinds = [kind for tag, kind, _ in signs if tag == "tie"]
        if not kinds:
            kinds = [kind for tag, kind, _ in signs if tag == "tied"]
        if not kinds and not self.open:
            return new
        midi, note = pitch[2], new
        if "stop" in kinds:
            before = self.open.pop(midi, None)
            if before is not None:
                note = before
            elif "start" not in kinds:
                self._warn("tie", fact("scores.tie_from_nowhere", note=pitch[0]))
        if self.open and not grace:
            self.drop()
        if "start" in kinds:
            self.open[midi] = note
        return note

    def drop(self) -> None:
        """Give up all open ties: another note has come, or the end."""
        for note in self.open.values():
            self._lost(note)
        self.open = {}

    def open_ending(self, *, again: bool) -> None:
        """An ending begins; ``again``: a later one continues what was open before the first."""
        if again:
            self.open = dict(self._before_ending)
        else:
            self._before_ending = dict(self.open)
