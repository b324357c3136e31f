"""Ladders to the hardest spots of a part: their own notes, in their own places, a few at a time."""

from collections.abc import Callable, Sequence
from fractions import Fraction

from handslide.drills.ladder import SIZES, ladder_of
from handslide.drills.piece import DrillNote, Key
from handslide.drills.signs import in_best_key
from handslide.edges.musicxml.notevalues import value_of
from handslide.jobs.mark.excerpts import Excerpt
from handslide.jobs.mark.mark import MarkedPart
from handslide.jobs.practice.music import MarkedPiece, mark_pieces

_WORST = "practice.quickest_move"
_SAME_S = 1e-3
_EIGHTH = Fraction(1, 2)


def hardest(excerpts: Sequence[Excerpt], count: int) -> tuple[Excerpt, ...]:
    """So many excerpts, the hardest first."""
    order = sorted(excerpts, key=lambda one: all(r.kind != _WORST for r in one.spot.reasons))
    return tuple(order[:count])


def ladder_to(
    marked: MarkedPart, excerpt: Excerpt, tempo_qpm: float, usual_clef: str
) -> tuple[MarkedPiece, ...]:
    """The steps to an excerpt, with the places of the part; none where too few notes follow each
    other there."""
    core = core_of(marked, excerpt)
    if len(core) not in SIZES:
        return ()
    notes = [_drill_note(marked, number) for number in core]
    if any(value_of(note.beats) is None for note in notes[:-1]):
        # Tied or odd lengths: a ladder is of plain ones.
        notes = [_even(note) for note in notes]
    measures = marked.measures.told(excerpt.spot.first, excerpt.spot.last)
    clef, fifths = excerpt.cut.clef, excerpt.cut.fifths
    known = clef is not None and fifths is not None
    key = Key(fifths or 0, "major" if known else "none")
    pieces = ladder_of(notes, key, tempo_qpm, measures, clef)
    if not known:
        pieces = tuple(in_best_key(one, respelled=False) for one in pieces)
    return mark_pieces(marked.routed.setup, pieces, usual_clef)


def core_of(marked: MarkedPart, excerpt: Excerpt) -> tuple[int, ...]:
    """The notes around the worst of an excerpt: 7, 5 or 3 that follow each other without a rest,
    the last one on a beat where there is one."""
    spot = excerpt.spot
    first, second = spot.between
    follows = following(marked)
    inside = [
        note.index
        for note in marked.part.notes
        if spot.first <= note.measure_index <= spot.last and note.index in marked.routed.places
    ]
    if second not in inside:
        return ()
    begin = end = second
    while begin - 1 in inside and follows(begin - 1):
        begin -= 1
    while end + 1 in inside and follows(end):
        end += 1
    run = range(begin, end + 1)
    for size in SIZES:
        if len(run) < size:
            continue
        windows = [run[k : k + size] for k in range(len(run) - size + 1)]
        good = [w for w in windows if second in w and (first in w or first not in run)]
        if good:
            best = min(good, key=lambda w: (not _on_beat(marked, w[-1]), abs(w[-1] - second - 1)))
            return tuple(best)
    return ()


def following(marked: MarkedPart) -> Callable[[int], bool]:
    """Whether the note after one of a number begins as soon as that one ends."""
    part = marked.part
    when = {number: k for k, number in reversed(list(enumerate(part.played)))}

    def follows(number: int) -> bool:
        here, there = when.get(number), when.get(number + 1)
        if here is None or there is None or part.notes[number + 1].beats == 0:
            return False
        end = part.onset_s[here] + part.length_s[here]
        return there == here + 1 and abs(part.onset_s[there] - end) < _SAME_S

    return follows


def _on_beat(marked: MarkedPart, number: int) -> bool:
    part = marked.part
    if number not in part.played:
        return False
    onset = part.onset_s[part.played.index(number)]
    return any(abs(beat - onset) < _SAME_S for beat, _ in part.beats_s)


def _drill_note(marked: MarkedPart, number: int) -> DrillNote:
    note, place = marked.part.notes[number], marked.routed.places[number]
    slur = marked.part.slur[marked.part.played.index(number)]
    beats = Fraction(note.beats).limit_denominator(48)
    return DrillNote(note.sounding, beats, slur=slur, lock=(place.valves, place.partial))


def _even(note: DrillNote) -> DrillNote:
    return DrillNote(note.pitch, _EIGHTH, slur=note.slur, lock=note.lock)
