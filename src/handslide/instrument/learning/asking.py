"""Which two ways to play a few notes to ask a teacher about next.

What a note's best and second-best whole routes differ in is a candidate. Asked is the one whose
answer promises to change most elsewhere. Log factors are as uncertain as the examples leave them: a
normal distribution with the curvature of the posterior (Laplace). What counts is the expected fall
of the variance of all candidates' differences, weighed by how near a tie each is. An answer is a
Bradley-Terry comparison (Biometrika 39 (1952) 324-345) of the two efforts.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from handslide.instrument.effort import Floats
from handslide.instrument.learning.chain import BETA
from handslide.instrument.learning.example import ChosenNote, Example, Examples, Question, Wish
from handslide.instrument.learning.features import difference
from handslide.instrument.learning.fit import OWN, SHARED, Evidence, Objective
from handslide.instrument.learning.learn import Learnt, gather, lay_out_all
from handslide.instrument.learning.passages import Bases, Passage, lay_out_example
from handslide.instrument.learning.weights import (
    WEIGHTS,
    start_of,
    weights_of,
    with_factors,
)
from handslide.instrument.profile import Profile
from handslide.instrument.route import lay_out, solve

CLOSE = 4.0
"""Points by which two ways may differ to be asked about: more, and the answer is known."""
MOST_NOTES = 12
BESIDE = 2
"""Notes that are shown on both sides of those that differ."""
CANDIDATES = 150
_STEP = 0.05
# A logistic curve over a normal spread (MacKay, Neural Computation 4 (1992) 720-736).
_MACKAY = np.pi / 8.0
_MOST_MARGIN = 30.0


@dataclass(frozen=True, slots=True, eq=False)
class _Candidate:
    """Two ways through notes ``low`` to ``high`` of a passage, the profile's own one ``first``;
    ``more`` (F,) is what the second has more of."""

    low: int
    high: int
    first: NDArray[np.intp]
    second: NDArray[np.intp]
    more: Floats


def question(
    examples: Examples,
    learnt: Learnt,
    part: Example,
    bases: Bases,
    skipped: Sequence[Question] = (),
) -> Question | None:
    """The question to ask next about a part; None where it has none left.

    What was answered, in ``examples`` or with neither, or ``skipped`` isn't asked again, nor is a
    note that the teacher chose a place for. Raises as :func:`~learn.learn`.
    """
    passage = lay_out_example(0, part, bases)
    if passage is None:
        return None
    asked = {_ways(row.question) for row in examples.answers} | {_ways(row) for row in skipped}
    factors = learnt.factors.on(passage.book.horn)
    row = np.array([factors.get(name, 1.0) for name in WEIGHTS])
    weights = with_factors(passage.base, row)
    profile = learnt.factors.profile(passage.base, passage.book.horn)
    found = [
        (candidate, asks)
        for candidate in _candidates(passage, profile)
        if _ways(asks := _asks(part, passage, candidate)) not in asked
    ]
    if not found:
        return None
    slopes = _slopes(passage, row, weights)
    more = np.array([candidate.more for candidate, _ in found])
    best = most_telling(more @ weights, more * slopes, _spread(examples, passage, bases, row))
    return found[best][1]


def _ways(row: Question) -> frozenset[object]:
    """What a question asks, whichever way is the first."""
    notes = tuple((note.midi, round(note.length_s, 3), note.slur, note.gliss) for note in row.notes)
    return frozenset(((notes, row.first), (notes, row.second)))


def _candidates(passage: Passage, profile: Profile) -> list[_Candidate]:
    choices = lay_out(passage.choices.line, passage.book, profile)
    solution = solve(choices, profile)
    count = len(solution.chosen)
    worse = solution.worse_by.copy()
    worse[np.arange(count), solution.chosen] = np.inf
    worse[~choices.usable] = np.inf
    worse[passage.seen] = np.inf
    second = worse.argmin(axis=1)
    margins = worse[np.arange(count), second]
    found: dict[tuple[int, bytes], _Candidate] = {}
    for note in np.argsort(margins, kind="stable").tolist():
        if margins[note] > CLOSE or len(found) >= CANDIDATES:
            break
        start, stretch = solution.through(note, int(second[note]))
        other = solution.chosen.copy()
        other[start : start + len(stretch)] = stretch
        differs = np.flatnonzero(other != solution.chosen)
        low = max(0, int(differs[0]) - BESIDE)
        high = min(count, int(differs[-1]) + 1 + BESIDE)
        if high - low > MOST_NOTES or (differs[0], other[differs].tobytes()) in found:
            continue
        window = np.arange(low, high)
        more = difference(passage.base, choices.line, choices.at, (solution.chosen, other), window)
        found[int(differs[0]), other[differs].tobytes()] = _Candidate(
            low, high, solution.chosen, other, more
        )
    return list(found.values())


def _asks(part: Example, passage: Passage, candidate: _Candidate) -> Question:
    window = range(candidate.low, candidate.high)
    rows = [int(passage.notes[row]) for row in window]
    notes = tuple(_plain(part.notes[number]) for number in rows)

    def way(route: NDArray[np.intp]) -> tuple[Wish, ...]:
        places = (passage.choices.places[row][int(route[row])] for row in window)
        return tuple((place.valves, place.partial) for place in places)

    begins = candidate.low == 0
    ways = way(candidate.first), way(candidate.second)
    # The profile's own way isn't always the first one: who always takes the first says nothing.
    if sum(note.number + note.midi for note in notes) % 2:
        ways = ways[1], ways[0]
    return Question(part.key, part.title, part.stand, notes, begins, *ways)


def _plain(note: ChosenNote) -> ChosenNote:
    return replace(note, how=None, places=())


def _slopes(passage: Passage, factors: Floats, weights: Floats) -> Floats:
    """(F,) how fast each weight grows with its log factor."""
    rises = weights_of(passage.base) == 0.0
    return np.asarray(np.where(rises, start_of(passage.base) * factors, weights))


def _spread(examples: Examples, passage: Passage, bases: Bases, factors: Floats) -> Floats:
    """(F, F) the covariance of the log factors of this kind of horns."""
    evidence = gather(lay_out_all(examples, bases), examples, bases)
    mine = evidence.get(passage.kind, Evidence(passage.base, (), ()))
    objective = Objective({passage.kind: mine})
    logs, size = np.log(factors), len(WEIGHTS)
    curve = np.zeros((size, size))
    for k in range(size):
        step = np.zeros(size)
        step[k] = _STEP
        ahead, behind = (objective.of_kind(0, logs + sign * step)[1] for sign in (1.0, -1.0))
        curve[k] = (ahead - behind) / (2.0 * _STEP)
    curve = 0.5 * (curve + curve.T)
    # Where notes weren't looked at, the likelihood may curve the other way: it knows less there.
    value, vector = np.linalg.eigh(curve)
    curve = (vector * np.maximum(value, 0.0)) @ vector.T
    return np.asarray(np.linalg.inv(curve + np.eye(size) / (SHARED**2 + OWN**2)))


def most_telling(margins: Floats, slopes: Floats, spread: Floats) -> int:
    """The candidate whose answer takes most of the variance of all away.

    ``margins`` (C,) in points, ``slopes`` (C, F) of them in log factors.
    """
    steep, margin = BETA * slopes, BETA * margins
    shared = steep @ spread @ steep.T
    own = np.diag(shared)
    near = np.exp(-np.abs(margin) / np.sqrt(1.0 + _MACKAY * own))
    noise = 2.0 + np.exp(np.minimum(np.abs(margin), _MOST_MARGIN))
    return int(((near[:, None] * shared**2).sum(axis=0) / (own + noise)).argmax())
