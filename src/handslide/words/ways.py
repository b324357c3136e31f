"""Two ways to play the same notes, in words."""

from collections.abc import Sequence

from handslide.ground.pitch import Pitch
from handslide.instrument.places import Place
from handslide.words.messages import N_
from handslide.words.speech import Speech

# Translators: how one note is played: "F4" + "in 6th", "D4" + "in 1st with the F valve".
_NOTE_IN = N_("{note} {place:in}")


def way_words(say: Speech, notes: Sequence[tuple[Pitch, Place]]) -> str:
    """How notes are played, one after the other: ``A3 in 2nd, D4 in 4th``."""
    return ", ".join(say(_NOTE_IN, note=note, place=place) for note, place in notes)
