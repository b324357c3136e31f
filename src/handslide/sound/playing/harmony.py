"""Which chord sounds when: of a score's own chord symbols, or found in what its parts play.

Finding compares what sounds, beat by beat, with templates of chords, as Pardo & Birmingham,
"Algorithms for chordal analysis", Computer Music Journal 26 (2002) 27, do: what of a chord is
there counts for it, what sounds beside it against it. Their search for where chords change is an
exact one here (dynamic programming over all beats at once, a change costing more on a weak beat).
From the same programme comes how much better the whole reading is than the best one with another
root there; how often that was right is measured (`benchmarks/harmony.py`), so that a stretch that
isn't sure can be left out.

Conventions: pitch classes 0 to 11 from C; places in played quarters.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np

from handslide.ground.chordkinds import KINDS, tones_of
from handslide.sound.playing.score import ChordMark, Course, Floats, Row

SOUGHT = (
    "major", "minor", "dominant", "minor-seventh", "major-seventh", "diminished",
    "half-diminished", "diminished-seventh", "augmented", "power",
)  # fmt: skip
"""The kinds of chords that are looked for."""
SURE = 0.7
"""How probable a root must be to be held. Of the pieces that nothing was tuned on so much is sure
and so much of that right: 82 and 95 % of beats in chorales, 85 and 91 % in madrigals. Where it
isn't sure the root before was right in a sixth of the beats, so that nothing is held there."""


class Chord(NamedTuple):
    """A chord: its root, its kind as MusicXML names it, and its semitones above the root."""

    root: int
    kind: str
    semitones: tuple[int, ...]


class Stretch(NamedTuple):
    """From where to where a chord lasts; None: no chord, or none that is sure.

    ``sure`` is how probable its root is; 1 where the score says it.
    """

    begin_p: float
    end_p: float
    chord: Chord | None
    sure: float = 1.0


@dataclass(frozen=True, slots=True)
class Weights:
    """How what sounds is weighed against a template, in shares of all that sounds in a cell.

    Found on half of the pieces of `benchmarks/harmony.py`, with ``scale`` and ``offset``, which
    lead from a margin to the probability of the root.
    """

    outside: float = 0.2
    """Against a chord: what sounds beside it."""
    missing: float = 0.3
    """For each of its tones that doesn't sound."""
    root: float = 0.25
    bass: float = 0.13
    """For it: its root sounding, and being the lowest."""
    seventh: float = 0.6
    rare: float = 0.33
    """Against it: four tones, or a diminished or augmented fifth."""
    change: float = 0.2
    weak: float = 0.28
    """Of another root, and what is added where no measure begins."""
    kind: float = 0.02
    """Of another chord on the same root."""
    late: float = 0.3
    """How much a note counts that begins within the cell."""
    scale: float = 2.83
    offset: float = 0.03


WEIGHTS = Weights()
_RARE = frozenset({"diminished", "augmented", "diminished-seventh", "half-diminished"})
_LONGEST_Q = 1.5
_LEAST_INSIDE, _LEAST_BESIDE = 0.55, 0.1
_EPS = 1e-6


def said_harmony(
    marks: Sequence[ChordMark], course: Course, ends_q: Sequence[float], end_p: float
) -> list[Stretch]:
    """What the chord symbols say, along the music as played.

    A symbol holds until the next one on the paper, or until its movement ends (``ends_q``): where
    the music goes back, that holds which stood last before there.
    """
    ends = [ChordMark(at_q, None, "none", ()) for at_q in ends_q]
    marks = sorted([*ends, *marks], key=lambda mark: mark.at_q)
    places = [mark.at_q for mark in marks]
    found: list[Stretch] = []
    for span in course.spans:
        first = bisect_right(places, span.first_q + _EPS) - 1
        last = bisect_left(places, span.last_q - _EPS)
        for number in range(first, last):
            mark = marks[number] if number >= 0 else None
            begin_q = max(span.first_q, places[number]) if number >= 0 else span.first_q
            to_q = places[number + 1] if number + 1 < last else span.last_q
            begin_p = span.begin_p + begin_q - span.first_q
            to_p = min(span.begin_p + to_q - span.first_q, end_p)
            if to_p > begin_p + _EPS:
                sure = 0.0 if mark and mark.unread else 1.0
                found.append(Stretch(begin_p, to_p, _chord_of(mark), sure))
    return joined(found)


def _chord_of(mark: ChordMark | None) -> Chord | None:
    if mark is None or mark.root is None:
        return None
    return Chord(mark.root, mark.kind, mark.semitones)


def joined(stretches: Iterable[Stretch]) -> list[Stretch]:
    """Neighbours with the same chord made one, as sure as the least sure of them."""
    found: list[Stretch] = []
    for one in stretches:
        last = found[-1] if found else None
        if last and last.chord == one.chord and abs(last.end_p - one.begin_p) < _EPS:
            found[-1] = last._replace(end_p=one.end_p, sure=min(last.sure, one.sure))
        else:
            found.append(one)
    return found


def sure_harmony(stretches: Iterable[Stretch]) -> list[Stretch]:
    """The same without the chords whose root isn't sure: nothing is held there."""
    return joined(one if one.sure >= SURE else one._replace(chord=None) for one in stretches)


def beats_to_cells(beats: Iterable[tuple[float, bool]], end_p: float) -> list[tuple[float, bool]]:
    """Where chords may change: at beats, and within those that are longer than a dotted quarter.

    ``beats`` are (played place, begins a measure).
    """
    found: list[tuple[float, bool]] = []
    given = [*beats, (end_p, True)]
    for (at_p, strong), (next_p, _) in pairwise(given):
        if next_p <= at_p + _EPS:
            continue
        count = int(np.ceil((next_p - at_p) / _LONGEST_Q - _EPS))
        step = (next_p - at_p) / count
        found += [(at_p + number * step, strong and number == 0) for number in range(count)]
    return found


def found_harmony(
    rows: Sequence[Row],
    cells: Sequence[tuple[float, bool]],
    end_p: float,
    weights: Weights = WEIGHTS,
) -> list[Stretch]:
    """The chord of each cell, all of them: one without sound goes on with what is before it.

    ``rows`` are the notes of all parts.
    """
    if not cells:
        return []
    begins = np.array([at_p for at_p, _ in cells])
    ends = np.append(begins[1:], end_p)
    heard, bass = _heard(rows, begins, ends, weights.late)
    scores = _scores(heard, bass, weights)
    strong = np.array([first for _, first in cells])
    path, margins = _best_path(
        scores, weights.change + np.where(strong, 0.0, weights.weak), weights.kind
    )
    kinds = [Chord(0, kind, tones_of(KINDS[kind])) for kind in SOUGHT]
    chords = [kinds[state % len(SOUGHT)]._replace(root=state // len(SOUGHT)) for state in path]
    sure = 1.0 / (1.0 + np.exp(-(weights.offset + weights.scale * margins)))
    found = [Stretch(*one) for one in zip(begins.tolist(), ends.tolist(), chords, sure.tolist())]
    return _without_unfit(found, chords, heard)


def _without_unfit(
    found: Sequence[Stretch], chords: Sequence[Chord], heard: Floats
) -> list[Stretch]:
    """Of clusters and unisons one root may fit better than all others, but it doesn't fit: while a
    root lasts, its chords' tones must be most of what sounds, and not all of it the root."""
    checked: list[Stretch] = []
    for root, run in groupby(range(len(found)), key=lambda cell: chords[cell].root):
        cells = list(run)
        total = heard[cells].sum()
        inside = sum(heard[cell, tone] for cell in cells for tone in _tones(chords[cell]))
        beside = inside - heard[cells, root].sum()
        fits = inside >= _LEAST_INSIDE * total and beside >= _LEAST_BESIDE * total
        checked += [
            one if fits else one._replace(sure=0.0) for one in map(found.__getitem__, cells)
        ]
    return checked


def _tones(chord: Chord) -> list[int]:
    return [(chord.root + above) % 12 for above in chord.semitones]


def _heard(rows: Sequence[Row], begins: Floats, ends: Floats, late: float) -> tuple[Floats, Floats]:
    """What sounds in each cell by pitch class, in shares of all, shape (cells, 12); and how much
    of the cell each pitch class is the lowest. What begins within a cell counts ``late`` times."""
    heard, bass = np.zeros((len(begins), 12)), np.zeros((len(begins), 12))
    lowest = np.full(len(begins), 1000)
    first_of = begins.tolist()
    for row in sorted(rows, key=lambda one: one.midi):
        if row.end_p <= row.begin_p:
            continue
        cell = max(0, bisect_left(first_of, row.begin_p + _EPS) - 1)
        while cell < len(begins) and begins[cell] < row.end_p - _EPS:
            long = min(row.end_p, ends[cell]) - max(row.begin_p, begins[cell])
            if long > _EPS:
                share = long / (ends[cell] - begins[cell])
                on_beat = row.begin_p <= begins[cell] + _EPS
                heard[cell, row.midi % 12] += share * (1.0 if on_beat else late)
                if row.midi < lowest[cell] and bass[cell].sum() < 1.0 - _EPS:
                    bass[cell, row.midi % 12] += share
            cell += 1
    total = heard.sum(axis=1, keepdims=True)
    return heard / np.maximum(total, _EPS), bass


def _scores(heard: Floats, bass: Floats, weights: Weights) -> Floats:
    """How well each chord fits each cell, shape (cells, 12 roots × kinds); 0 for all in silence."""
    sounding = heard.sum(axis=1, keepdims=True) > 0.5
    columns = []
    for root in range(12):
        for kind in SOUGHT:
            tones = [(root + above) % 12 for above in tones_of(KINDS[kind])]
            inside = heard[:, tones].sum(axis=1)
            fit = inside - weights.outside * (1.0 - inside)
            there = heard[:, tones] > 0.04
            fit -= weights.missing * (~there).sum(axis=1)
            fit += weights.root * np.minimum(heard[:, root], 0.5) + weights.bass * bass[:, root]
            fit -= weights.seventh * (len(tones) > 3) + weights.rare * (kind in _RARE)
            columns.append(fit)
    scores: Floats = np.where(sounding, np.stack(columns, axis=1), 0.0)
    return scores


def _best_path(scores: Floats, change: Floats, kind_change: float) -> tuple[list[int], Floats]:
    """The best chord of each cell over the whole music, and by how much it is better than the best
    whole reading with another root there.

    ``change`` is the cost of another root at each cell, ``kind_change`` that of another chord on
    the same one.
    """
    count, kinds = len(scores), len(SOUGHT)

    def moved(before: Floats, cost: float) -> Floats:
        same_root = np.repeat(before.reshape(12, kinds).max(axis=1), kinds) - kind_change
        best: Floats = np.maximum(np.maximum(before, same_root), before.max() - cost)
        return best

    forward, backward = scores.copy(), np.zeros_like(scores)
    for cell in range(1, count):
        forward[cell] += moved(forward[cell - 1], change[cell])
    for cell in range(count - 2, -1, -1):
        backward[cell] = moved(backward[cell + 1] + scores[cell + 1], change[cell + 1])
    path = [int(forward[-1].argmax())]
    for cell in range(count - 1, 0, -1):
        cost = np.full(12 * kinds, change[cell])
        first = path[-1] // kinds * kinds
        cost[first : first + kinds] = np.minimum(kind_change, change[cell])
        cost[path[-1]] = 0.0
        path.append(int((forward[cell - 1] - cost).argmax()))
    path.reverse()
    # The best whole reading through each root.
    through = (forward + backward).reshape(count, 12, kinds).max(axis=2)
    own = np.arange(count), np.array(path) // kinds
    best = through[own].copy()
    through[own] = -np.inf
    margins: Floats = best - through.max(axis=1)
    return path, margins
