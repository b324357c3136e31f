"""The notes of a read part as examples have them."""

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
    names = measure_names(part)
    return tuple(
        ChosenNote(
            midi=note.sounding.midi,
            spelled=note.sounding.name,
            onset_s=part.onset_s[at],
            length_s=part.length_s[at],
            slur=part.slur[at] and goes_on,
            gliss=part.gliss[at] and goes_on,
            measure=names.name(note.measure_index),
            index=note.number,
            number=note.index,
        )
        for at, goes_on in zip(order, joined)
        for note in (part.notes[part.played[at]],)
    )
