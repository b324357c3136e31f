"""How likely a teacher's places are among all routes: a conditional random field on the lattice.

p(route) = exp(-BETA·effort) / sum over all routes (Lafferty, McCallum and Pereira, ICML 2001). The
states are the places of two neighbouring notes, as in the exact search; sums are by the
forward-backward recursion, gradients are exact. Notes that weren't looked at are summed over, so
that what is wanted of them doesn't matter.

Long lines are cut into blocks of ``BLOCK`` notes with ``MARGIN`` more on both sides, which lie
where the teacher has them: all blocks run side by side.
"""

from collections.abc import Sequence
from dataclasses import dataclass

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

BETA = 3.0
"""How sure a teacher is: of two routes one point apart he takes the better one e^BETA : 1 times."""
BLOCK = 24
MARGIN = 2
WIDTH = 8
"""Places of a note that are weighed up: those he chose, and the best others by where he began."""
_CLOSED = 1e4
"""Added to -log p of what isn't open; nothing of it is left in a sum."""


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Notes ``low`` to ``high`` of a passage, of which those from ``inner`` to ``outer`` are its
    own; ``features`` of K places, ``open`` (N, K) those that are there, ``his`` those he may mean,
    ``torn`` (N-1, K, K) the moves that a glissando forbids.
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
        blocks.append(Block(*reach, features, _torn(line, at), open_, his[low:high] & open_))
    return blocks


def _torn(line: Line, at: Spots) -> NDArray[np.bool_]:
    other = np.zeros((len(line) - 1, at.partial.shape[1], at.partial.shape[1]), bool)
    for column in (at.partial, at.valves):
        other |= column[:-1, :, None] != column[1:, None, :]
    return np.asarray(other & line.gliss[:-1, None, None])


class Chain:
    """Blocks of one width of places, run side by side.

    Arrays run over the notes of a block (padded to N), twice P lanes (all routes, then those that
    he may mean) and K places.
    """

    def __init__(self, blocks: Sequence[Block]) -> None:
        count, lanes = max(b.high - b.low for b in blocks), len(blocks)
        width = max(b.open.shape[1] for b in blocks)
        self.shape = max(count, 3), lanes, width
        notes, lanes, width = self.shape
        self.stand = np.zeros((notes, lanes, width, len(WEIGHTS)))
        self.move = np.zeros((notes - 1, lanes, width, width, len(MOVES)))
        self.torn = np.zeros((notes - 1, lanes, width, width))
        self.turn = np.zeros((notes - 2, lanes, width, width, width))
        self.wander = np.zeros((notes - 2, lanes, width, width))
        self.closed = np.full((2, notes, lanes, width), _CLOSED)
        # Notes beyond the end of a block have one place, which costs nothing.
        self.closed[..., 0] = 0.0
        for lane, block in enumerate(blocks):
            size, places = block.open.shape
            part = block.features
            self.stand[:size, lane, :places] = part.stand
            self.move[: size - 1, lane, :places, :places] = part.move
            self.torn[: size - 1, lane, :places, :places] = _CLOSED * block.torn
            if size > 2:
                self.turn[: size - 2, lane, :places, :places, :places] = part.turn
                self.wander[: size - 2, lane, :places, :places] = part.wander
            for which, allowed in enumerate((block.open, block.his)):
                self.closed[which, :size, lane] = _CLOSED
                self.closed[which, :size, lane, :places] = np.where(allowed, 0.0, _CLOSED)

    def __call__(self, weights: Floats) -> tuple[float, Floats]:
        """-log likelihood of his places, and its gradient (F,) in the weights."""
        stand = BETA * (self.stand @ weights)
        move = BETA * (self.move @ weights[MOVE_INDEX]) + self.torn
        bend = BETA * weights[TURN] * self.turn
        bend += BETA * weights[WANDER] * self.wander[:, :, :, None, :]
        every, his = (self._summed(stand + closed, move, bend) for closed in self.closed)
        return every[0] - his[0], BETA * (his[1] - every[1])

    def _summed(self, stand: Floats, move: Floats, bend: Floats) -> tuple[float, Floats]:
        """log of the sum over all routes, and the expected features (F,)."""
        notes, lanes, _ = self.shape
        arrive = -(move + stand[1:, :, None, :])
        ahead = np.empty_like(move)
        ahead[0] = arrive[0] - stand[0][:, :, None]
        for t in range(notes - 2):
            ahead[t + 1] = _log_sum(ahead[t][..., None] - bend[t], 1) + arrive[t + 1]
        behind = np.zeros_like(move)
        for t in range(notes - 3, -1, -1):
            behind[t] = _log_sum((behind[t + 1] + arrive[t + 1])[:, None] - bend[t], 3)
        total = _log_sum(ahead[-1].reshape(lanes, -1), 1)
        pair = np.exp(ahead + behind - total[:, None, None])
        three = ahead[:-1, ..., None] - bend + (arrive[1:] + behind[1:])[:, :, None]
        np.exp(three - total[:, None, None, None], out=three)
        node = np.concatenate((pair[:1].sum(axis=3), pair.sum(axis=2)))
        expected = node.reshape(-1) @ self.stand.reshape(-1, len(WEIGHTS))
        np.add.at(expected, MOVE_INDEX, pair.reshape(-1) @ self.move.reshape(-1, len(MOVES)))
        expected[TURN] += float((three * self.turn).sum())
        expected[WANDER] += float((three.sum(axis=3) * self.wander).sum())
        return float(total.sum()), expected


def _log_sum(values: Floats, axis: int) -> Floats:
    most = values.max(axis=axis, keepdims=True)
    summed = np.exp(values - most).sum(axis=axis)
    return np.asarray(np.log(summed) + most.squeeze(axis))
