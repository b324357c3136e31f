"""Learns a profile from examples, and takes it only where it does better on passages left out.

The blocks of each kind of horns are dealt into ``FOLDS`` parts; each part is chosen by what is
learnt from the others, and compared with what the teacher has there. What was learnt from all horns
together is taken for a kind where it agrees at least as well as the profile that it began from, and
as what was learnt from this kind alone; else that; else, closer and closer to where it began; else
the kind stays as it began. Whether his places may be slips is decided in the same way.

A teacher's places are settled (see ``settle``), the likelihood is of exact routes. So what habit
explains isn't asked of the weights: it is fitted ``ROUNDS`` times, and where the settled route by
the weights so far goes where he does and the exact one doesn't, he may mean both.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from handslide.ground.limits import LEARNT_BLOCKS
from handslide.instrument.effort import Floats
from handslide.instrument.learning.chain import blocks_of
from handslide.instrument.learning.example import Examples
from handslide.instrument.learning.fit import Evidence, fit
from handslide.instrument.learning.passages import (
    Bases,
    Passage,
    lay_out_answer,
    lay_out_example,
)
from handslide.instrument.learning.weights import (
    WEIGHTS,
    Factors,
    named,
    profile_with,
    weights_of,
    with_factors,
)
from handslide.instrument.places import Place
from handslide.instrument.profile import Profile
from handslide.instrument.route import lay_out
from handslide.instrument.settle import Settled, choose_from

Ints = NDArray[np.intp]
FOLDS = 5
SHORT_BLOCK = 8
"""Where there are fewer blocks than folds, they have so many notes."""
ROUNDS = 2
TIGHT = (0.5, 0.25)
"""Narrower widths of the prior, as shares, that are tried where nothing was taken."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """Of ``notes`` choices on one kind of horns, left out in turn: how many the profile that it
    began from makes alike, and how many what was learnt from the rest does.

    ``taken`` says whether what was learnt holds for this kind.
    """

    kind: str
    notes: int
    base: int
    learnt: int
    taken: bool


@dataclass(frozen=True, slots=True)
class Spot:
    """A note of an example, by their numbers: where he has it, and where the profile would."""

    example: int
    note: int
    his: Place
    ours: Place


@dataclass(frozen=True, slots=True)
class Learnt:
    """What was learnt: ``agreement`` by kind of horns, ``left`` what it can't explain."""

    factors: Factors
    agreement: tuple[Agreement, ...]
    left: tuple[Spot, ...]

    @property
    def accepted(self) -> bool:
        """Whether anything was learnt that holds."""
        return any(row.taken for row in self.agreement)


def learn(examples: Examples, bases: Bases) -> Learnt:
    """The profile that explains a teacher's choices. A function of them alone.

    Raises HornError, AirError, BadData for a horn or a profile that can't be.
    """
    passages = lay_out_all(examples, bases)
    evidence = gather(passages, examples, bases)
    kinds = tuple(sorted(evidence))
    if not kinds:
        return Learnt(Factors(), (), ())
    tries = [_tried(evidence, passages)]
    if left_by(passages, Factors({}, {kind: named(row) for kind, row in tries[0].logs.items()})):
        tries.append(_tried(_with_slips(evidence), passages))
    whole = max(tries, key=lambda row: sum(held.learnt for held in row.held.values()))
    best = {kind: _best(tries, kind) for kind in kinds}
    for kind in kinds if len(kinds) > 1 else ():
        best[kind] = _best([best[kind], _tried({kind: evidence[kind]}, passages)], kind)
    for kind, tight in product(kinds, TIGHT):
        if not best[kind].held[kind].taken:
            best[kind] = _tried({kind: evidence[kind]}, passages, tight)
    agreement = tuple(best[kind].held[kind] for kind in kinds)
    any_taken = any(row.taken for row in agreement)
    factors = Factors(
        named(whole.shared) if any_taken else {},
        {
            kind: named(best[kind].logs[kind]) if best[kind].held[kind].taken else {}
            for kind in kinds
        },
    )
    return Learnt(factors, agreement, left_by(passages, factors))


@dataclass(frozen=True, slots=True, eq=False)
class _Try:
    """Log factors (F,), ``shared`` and by kind, and how far they agreed with what was left out."""

    held: Mapping[str, Agreement]
    shared: Floats
    logs: Mapping[str, Floats]


def _tried(
    evidence: Mapping[str, Evidence], passages: Sequence[Passage], tight: float = 1.0
) -> _Try:
    rows = _fitted(evidence, passages, tight)
    logs = {kind: rows[0] + own for kind, own in zip(sorted(evidence), rows[1:])}
    return _Try(_held_out(evidence, passages, tight), rows[0], logs)


def _best(tries: Sequence[_Try], kind: str) -> _Try:
    """The one that agrees most, of equals the first."""
    return max(tries, key=lambda row: row.held[kind].learnt)


def _with_slips(evidence: Mapping[str, Evidence]) -> dict[str, Evidence]:
    return {kind: replace(row, slips=True) for kind, row in evidence.items()}


def lay_out_all(examples: Examples, bases: Bases) -> tuple[Passage, ...]:
    """The passages of all examples that can be played."""
    found = (lay_out_example(number, row, bases) for number, row in enumerate(examples.examples))
    return tuple(passage for passage in found if passage is not None)


def gather(passages: Sequence[Passage], examples: Examples, bases: Bases) -> dict[str, Evidence]:
    """What there is to learn from, by kind of horns."""
    rows = (lay_out_answer(number, row, bases) for number, row in enumerate(examples.answers))
    picks = [pick for pick in rows if pick is not None]
    cut = [blocks_of(number, passage) for number, passage in enumerate(passages)]
    if sum(map(len, cut)) < FOLDS:
        cut = [blocks_of(number, passage, SHORT_BLOCK) for number, passage in enumerate(passages)]
    kinds = {passage.kind: passage.base for passage in passages}
    kinds |= {pick.kind: pick.base for pick in picks}
    evidence = {}
    for kind, base in kinds.items():
        blocks = [b for row, passage in zip(cut, passages) for b in row if passage.kind == kind]
        blocks = blocks[-LEARNT_BLOCKS:]
        mine = [pick for pick in picks if pick.kind == kind]
        if blocks or mine:
            evidence[kind] = Evidence(base, tuple(blocks), tuple(mine))
    return evidence


def _fitted(evidence: Mapping[str, Evidence], passages: Sequence[Passage], tight: float) -> Floats:
    """Log factors as :func:`fit` gives them, (1 + kinds, F)."""
    rows: Floats = np.zeros((1 + len(evidence), len(WEIGHTS)))
    for _ in range(ROUNDS):
        eased = {
            kind: _eased(evidence[kind], passages, rows[0] + own)
            for kind, own in zip(sorted(evidence), rows[1:])
        }
        rows = fit(eased, tight, rows)
    return rows


def _eased(evidence: Evidence, passages: Sequence[Passage], logs: Floats) -> Evidence:
    """With the exact route's places beside his where the settled one goes where he does."""
    profile = profile_with(evidence.base, with_factors(evidence.base, np.exp(logs)))
    blocks = []
    more: dict[int, NDArray[np.bool_]] = {}
    for block in evidence.blocks:
        if block.passage not in more:
            passage = passages[block.passage]
            notes = np.arange(len(passage.seen))
            settled = _settled(passage, profile)
            chosen, first = settled.solution.chosen, settled.first.chosen
            eased = passage.seen & passage.his[notes, chosen] & ~passage.his[notes, first]
            more[block.passage] = np.zeros_like(passage.his)
            more[block.passage][notes[eased], first[eased]] = True
        blocks.append(block.eased(more[block.passage]))
    return replace(evidence, blocks=tuple(blocks))


def _held_out(
    evidence: Mapping[str, Evidence], passages: Sequence[Passage], tight: float
) -> dict[str, Agreement]:
    """How far what was learnt agrees with what was left out, by kind."""
    kinds = tuple(sorted(evidence))
    counts = {kind: np.zeros(3, int) for kind in kinds}
    dealt = {kind: _deal(evidence[kind]) for kind in kinds}
    for fold in range(FOLDS):
        rest = {
            kind: evidence[kind].only(dealt[kind][0] != fold, dealt[kind][1] != fold)
            for kind in kinds
        }
        out = {
            kind: evidence[kind].only(dealt[kind][0] == fold, dealt[kind][1] == fold)
            for kind in kinds
        }
        rest = {kind: row for kind, row in rest.items() if row}
        if not rest or not any(out.values()):
            continue
        rows = _fitted(rest, passages, tight)
        own = dict(zip(sorted(rest), rows[1:]))
        for kind in kinds:
            logs = rows[0] + own.get(kind, np.zeros(len(WEIGHTS)))
            counts[kind] += _agreeing(out[kind], passages, np.exp(logs))
    return {kind: _agreement(kind, *counts[kind].tolist()) for kind in kinds}


def _agreement(kind: str, notes: int, base: int, learnt: int) -> Agreement:
    return Agreement(kind, notes, base, learnt, notes > 0 and learnt >= base)


def _deal(evidence: Evidence) -> tuple[Ints, Ints]:
    """The fold of each block and of each pick."""
    blocks, picks = len(evidence.blocks), len(evidence.picks)
    return np.arange(blocks) % FOLDS, (blocks + np.arange(picks)) % FOLDS


def _agreeing(out: Evidence, passages: Sequence[Passage], factors: Floats) -> Ints:
    """Choices that were left out: all, those alike by the base, those alike by what was learnt."""
    counts = np.zeros(3, int)
    weights = with_factors(out.base, factors)
    for number in sorted({block.passage for block in out.blocks}):
        passage = passages[number]
        real = passage.seen & (passage.choices.usable.sum(axis=1) > 1)
        ours = np.zeros(len(real), bool)
        for block in out.blocks:
            if block.passage == number:
                ours[block.inner : block.outer] = True
        for column, profile in enumerate((passage.base, profile_with(passage.base, weights)), 1):
            counts[column] += int((agrees(passage, profile) & real & ours).sum())
        counts[0] += int((real & ours).sum())
    for pick in out.picks:
        counts += (1, pick.more @ weights_of(pick.base) > 0.0, pick.more @ weights > 0.0)
    return counts


def chosen_by(passage: Passage, profile: Profile) -> Ints:
    """(N,) the places that a profile chooses for a passage, nothing locked."""
    return _settled(passage, profile).solution.chosen


def _settled(passage: Passage, profile: Profile) -> Settled:
    return choose_from(lay_out(passage.choices.line, passage.book, profile), profile)


def agrees(passage: Passage, profile: Profile) -> NDArray[np.bool_]:
    """(N,) whether a profile chooses what the teacher has, as far as he said."""
    return passage.his[np.arange(len(passage.seen)), chosen_by(passage, profile)]


def left_by(passages: Sequence[Passage], factors: Factors) -> tuple[Spot, ...]:
    """The notes that these factors put elsewhere than where the teacher has them."""
    spots = []
    for passage in passages:
        chosen = chosen_by(passage, factors.profile(passage.base, passage.book.horn))
        for row in np.flatnonzero(passage.seen).tolist():
            ours = int(chosen[row])
            if not passage.his[row, ours]:
                places = passage.choices.places[row]
                his = places[int(passage.his[row].argmax())]
                spots.append(Spot(passage.example, int(passage.notes[row]), his, places[ours]))
    return tuple(spots)
