"""The notes of a read part as examples have them."""

from collections import Counter
from itertools import pairwise

from handslide.edges.musicxml.scorepart import ScorePart
from handslide.instrument.learning.example import ChosenNote
from handslide.jobs.mark.measures import measure_names


def plain_notes(part: ScorePart) -> tuple[ChosenNote, ...]:
    """Every written note that is played, in the order of its first playing, without a choice.

    A slur or glissando leads to the next note only where that is played next.
    """
    first: dict[int, int] = {}
    for played, number in enumerate(part.played):
        first.setdefault(number, played)
    order = list(first.values())
    joined = [later == now + 1 for now, later in pairwise(order)] + [False]
    named = _names(part)
    return tuple(
        ChosenNote(
            midi=note.sounding.midi,
            spelled=note.sounding.name,
            onset_s=part.onset_s[at],
            length_s=part.length_s[at],
            slur=part.slur[at] and goes_on,
            gliss=part.gliss[at] and goes_on,
            measure=named[note.measure_index],
            index=note.number,
            number=note.index,
        )
        for at, goes_on in zip(order, joined)
        for note in (part.notes[part.played[at]],)
    )


def _names(part: ScorePart) -> dict[int, str]:
    """What measures are called; where several have a number, with their place in the part, by
    which a lock names them."""
    labels = {note.measure_index: note.measure for note in part.notes}
    count, names = Counter(labels.values()), measure_names(part)
    return {
        index: name if count[label] == 1 or name.endswith(")") else f"{name} (#{index + 1})"
        for index, label in labels.items()
        for name in (names.name(index),)
    }
