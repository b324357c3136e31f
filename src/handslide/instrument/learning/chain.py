"""How likely a teacher's places are among all routes: a conditional random field on the lattice.

p(route) = exp(-BETA·effort) / sum over all routes (Lafferty, McCallum and Pereira, ICML 2001). The
states are the places of two neighbouring notes, as in the exact search; sums are by the
forward-backward recursion, gradients are exact. Notes that weren't looked at are summed over, so
that what is wanted of them doesn't matter. Where slips are reckoned with, a place that he gave may
be one, so that one of them doesn't outweigh the rest (labels with noise: Angluin and Laird, Machine
Learning 2 (1988) 343-370).

A teacher's places are settled (see ``settle``): from an alternate or a far place a note goes home
for a near tie. So such a place costs him ``NEAR_TIE`` points more than its effort.

Long lines are cut into blocks of ``BLOCK`` notes with ``MARGIN`` more on both sides, which lie
where the teacher has them: all blocks run side by side.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from handslide.instrument.effort import Floats, Spots, timing
from handslide.instrument.learning.features import (
    MOVE_INDEX,
    MOVES,
    TURN,
    WANDER,
    Tensors,
    tensors,
)
from handslide.instrument.learning.passages import Passage
from handslide.instrument.learning.weights import WEIGHTS
from handslide.instrument.line import Line
from handslide.instrument.route import NEAR_TIE
from handslide.instrument.settle import QUICK_S

BETA = 2.0
"""How sure a teacher is: of two routes one point apart he takes the better one e^BETA : 1 times."""
BLOCK = 24
MARGIN = 2
WIDTH = 6
"""Places of a note that are weighed up: those he chose, and the best others by where he began."""
SLIP = 4.0
"""-log p of a place that he gave by a slip, where the note lies in another one for him."""
_CLOSED = 1e4
"""Added to -log p of what isn't open."""
_UNLIKELY = 200.0
"""-log p of what is as good as impossible beside the best."""


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Notes ``low`` to ``high`` of a passage, of which those from ``inner`` to ``outer`` are its
    own; ``features`` of K places, ``open`` (N, K) those that are there, ``his`` those he may mean,
    ``away`` (N, K) the points that settling asks of a place beside its effort,
    ``torn`` (N-1, K, K) the moves that a glissando forbids, ``kept`` (N, K) the places' numbers in
    the passage.
    """

    passage: int
    low: int
    high: int
    inner: int
    outer: int
    features: Tensors
    torn: NDArray[np.bool_]
    open: NDArray[np.bool_]
    his: NDArray[np.bool_]
    away: Floats
    kept: NDArray[np.intp]

    def eased(self, more: NDArray[np.bool_]) -> "Block":
        """With ``more`` of the passage's places that he may mean."""
        notes = np.arange(self.low, self.high)[:, None]
        his = (self.his | more[notes, self.kept]) & self.open
        return replace(self, his=his)


def blocks_of(number: int, passage: Passage, size: int = BLOCK) -> list[Block]:
    """The blocks of ``size`` notes of a passage in which something was chosen.

    A note's places are the WIDTH best by their min-marginals on the route he began from, and his.
    """
    choices, seen, base = passage.choices, passage.seen, passage.base
    worse = np.where(choices.usable, passage.first.worse_by, np.inf)
    worse = np.where(passage.his & seen[:, None], -1.0, worse)
    width = min(WIDTH, worse.shape[1])
    kept = np.argsort(worse, axis=1, kind="stable")[:, :width]
    rows = np.arange(len(seen))[:, None]
    usable = choices.usable[rows, kept] & np.isfinite(worse[rows, kept])
    his = passage.his[rows, kept] & usable
    single = seen & (his.sum(axis=1) == 1)
    away = NEAR_TIE * _unsettled(passage)[rows, kept]
    real = choices.usable.sum(axis=1) > 1
    blocks = []
    for inner in range(0, len(seen), size):
        outer = min(inner + size, len(seen))
        if not (seen & real)[inner:outer].any():
            continue
        low, high = max(0, inner - MARGIN), min(len(seen), outer + MARGIN)
        open_ = usable[low:high].copy()
        for note in (*range(low, inner), *range(outer, high)):
            if single[note]:
                open_[note - low] = his[note]
        window = np.arange(low, high)
        line = choices.line.only(window)
        at = choices.at.take((window[:, None], kept[low:high]))
        when = timing(base, line)
        features = tensors(base, line, at, when, kept[low:high], low == 0)
        reach = number, low, high, inner, outer
        blocks.append(
            Block(
                *reach,
                features,
                _torn(line, at),
                open_,
                his[low:high] & open_,
                away[low:high],
                kept[low:high],
            )
        )
    return blocks


def _unsettled(passage: Passage) -> NDArray[np.bool_]:
    """(N, K) the places from which a note goes home for a near tie, see ``settle``."""
    choices = passage.choices
    home = (choices.stand + choices.held).argmin(axis=1)
    away = (choices.at.alternate > 0) | choices.at.spared
    away &= np.arange(away.shape[1]) != home[:, None]
    return np.asarray(away & (choices.line.length_s >= QUICK_S)[:, None])


def _torn(line: Line, at: Spots) -> NDArray[np.bool_]:
    other = np.zeros((len(line) - 1, at.partial.shape[1], at.partial.shape[1]), bool)
    for column in (at.partial, at.valves):
        other |= column[:-1, :, None] != column[1:, None, :]
    return np.asarray(other & line.gliss[:-1, None, None])


class Chain:
    """Blocks run side by side, in P lanes of N notes with K places (padded).

    Of a block in which he said of each note where it lies, his places are one route: its features
    are summed ahead. Of the others the routes that he may mean are summed like all routes; with
    ``slips`` all routes of all blocks, by how likely each makes the places that he gave.
    """

    def __init__(self, blocks: Sequence[Block], *, slips: bool = False) -> None:
        self.every = _Lanes(blocks, [np.zeros(block.his.shape) for block in blocks])
        told = [] if slips else [b for b in blocks if (b.his.sum(axis=1) == 1).all()]
        vague = [b for b in blocks if slips or (b.his.sum(axis=1) != 1).any()]
        wrong = SLIP if slips else _CLOSED
        self.vague = _Lanes(vague, [wrong * ~block.his for block in vague]) if vague else None
        self.tied = BETA * sum(float((block.away * block.his).sum()) for block in told)
        self.told = np.sum([_observed(block) for block in told], axis=0) + np.zeros(len(WEIGHTS))

    def __call__(self, weights: Floats) -> tuple[float, Floats]:
        """-log likelihood of his places, and its gradient (F,) in the weights."""
        value, every = self.every(weights)
        his = self.told
        value += BETA * float(self.told @ weights) + self.tied
        if self.vague is not None:
            summed, expected = self.vague(weights)
            value -= summed
            his = his + expected
        return value, BETA * (his - every)


def _observed(block: Block) -> Floats:
    """The features (F,) of the one route that he may mean."""
    route, part = block.his.argmax(axis=1), block.features
    notes = np.arange(len(route))
    total = part.stand[notes, route].sum(axis=0)
    moves = part.move[notes[:-1], route[:-1], route[1:]].sum(axis=0)
    total[MOVE_INDEX] += moves
    total[TURN] += part.turn[notes[:-2], route[:-2], route[1:-1], route[2:]].sum()
    total[WANDER] += part.wander[notes[:-2], route[:-2], route[2:]].sum()
    return np.asarray(total)


class _Lanes:
    """The sum over all routes of each block, in which places cost so much ``more`` (-log p).

    Arrays of three notes are (N-2, P, K, K, K): the middle note, the first, the last. Products of
    probabilities are scaled to a largest one of 1 at each note.
    """

    def __init__(self, blocks: Sequence[Block], more: Sequence[Floats]) -> None:
        notes = max(3, *(len(block.open) for block in blocks))
        lanes, width = len(blocks), max(block.open.shape[1] for block in blocks)
        self.shape = notes, lanes, width
        self.stand = np.zeros((notes, lanes, width, len(WEIGHTS)))
        self.move = np.zeros((notes - 1, lanes, width, width, len(MOVES)))
        self.torn = np.zeros((notes - 1, lanes, width, width))
        self.turn = np.zeros((notes - 2, lanes, width, width, width))
        self.wander = np.zeros((notes - 2, lanes, width, width))
        # Notes beyond the end of a block have one place, which costs nothing.
        self.closed = np.full((notes, lanes, width), _CLOSED)
        self.closed[..., 0] = 0.0
        for lane, (block, costs) in enumerate(zip(blocks, more)):
            size, places = costs.shape
            part = block.features
            self.stand[:size, lane, :places] = part.stand
            self.move[: size - 1, lane, :places, :places] = part.move
            self.torn[: size - 1, lane, :places, :places] = _CLOSED * block.torn
            if size > 2:
                turn = part.turn.transpose(0, 2, 1, 3)
                self.turn[: size - 2, lane, :places, :places, :places] = turn
                self.wander[: size - 2, lane, :places, :places] = part.wander
            self.closed[:size, lane] = _CLOSED
            self.closed[:size, lane, :places] = np.where(
                block.open, np.minimum(BETA * block.away + costs, _CLOSED), _CLOSED
            )

    def __call__(self, weights: Floats) -> tuple[float, Floats]:
        """log of the sum of exp(-BETA·effort) over all routes, and the expected features (F,)."""
        stand = BETA * _weighed(self.stand, weights) + self.closed
        arrive = BETA * _weighed(self.move, weights[MOVE_INDEX]) + self.torn
        arrive += stand[1:, :, None, :]
        arrive[0] += stand[0][:, :, None]
        least = arrive.min(axis=(2, 3), keepdims=True)
        arrives = _likely(arrive - least)
        bend = BETA * weights[TURN] * self.turn
        bend += BETA * weights[WANDER] * self.wander[:, :, None]
        bends = _likely(bend)
        ahead, behind, scale = self._both_ways(arrives, bends)
        total = float(scale.sum() - least.sum())
        pair = ahead * behind
        pair /= pair.sum(axis=(2, 3), keepdims=True)
        node = np.concatenate((pair[:1].sum(axis=3), pair.sum(axis=2)))
        expected = np.einsum("npk,npkf->f", node, self.stand)
        expected[MOVE_INDEX] += np.einsum("npjk,npjkm->m", pair, self.move)
        three = bends * ahead[:-1].transpose(0, 1, 3, 2)[..., None]
        three *= (arrives[1:] * behind[1:])[:, :, :, None]
        three /= three.sum(axis=(2, 3, 4), keepdims=True)
        expected[TURN] += float(np.einsum("npbac,npbac->", three, self.turn))
        expected[WANDER] += float((three.sum(axis=2) * self.wander).sum())
        return total, expected

    def _both_ways(self, arrives: Floats, bends: Floats) -> tuple[Floats, Floats, Floats]:
        """Of each pair of notes what comes before it (with it) and after it, and (N-1, P) the
        logarithms of the scales of what comes before."""
        notes, lanes, _ = self.shape
        ahead, behind = np.empty_like(arrives), np.ones_like(arrives)
        scale = np.zeros((notes - 1, lanes))
        now = arrives[0]
        for t in range(notes - 1):
            most = now.max(axis=(1, 2))
            ahead[t] = now / most[:, None, None]
            scale[t] = np.log(most)
            if t < notes - 2:
                turned = ahead[t].transpose(0, 2, 1)[:, :, None] @ bends[t]
                now = turned[:, :, 0] * arrives[t + 1]
        scale[-1] += np.log(ahead[-1].sum(axis=(1, 2)))
        for t in range(notes - 3, -1, -1):
            turned = bends[t] @ (arrives[t + 1] * behind[t + 1])[..., None]
            now = turned[..., 0].transpose(0, 2, 1)
            behind[t] = now / now.max(axis=(1, 2), keepdims=True)
        return ahead, behind, scale


def _weighed(features: Floats, weights: Floats) -> Floats:
    # Not by BLAS: its threads wait for each other, and no sum must depend on their number.
    return np.asarray(np.einsum("...f,f->...", features, weights))


def _likely(cost: Floats) -> Floats:
    """exp(-cost), but never so little that a product of some is nothing."""
    return np.asarray(np.exp(-np.minimum(cost, _UNLIKELY)))
