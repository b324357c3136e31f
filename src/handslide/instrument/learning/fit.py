"""Fits log factors of weights to a teacher's places, so that these become the likely ones.

Of each kind of horns, log factor = shared + own; both have a Gaussian prior about 0 and bounds, so
that nothing goes further than ``MOST_FACTOR`` and what one kind of horns says of another is only
what they have in common. Minimised with L-BFGS-B (Byrd, Lu, Nocedal and Zhu, SIAM J. Sci. Comput.
16 (1995) 1190-1208), from factors of 1.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from threadpoolctl import threadpool_limits

from handslide.instrument.effort import Floats
from handslide.instrument.learning.chain import BETA, Block, Chain
from handslide.instrument.learning.passages import Pick
from handslide.instrument.learning.weights import MOST_FACTOR, WEIGHTS, start_of, weights_of
from handslide.instrument.profile import Profile

SHARED, OWN = 0.5, 0.35
"""Standard deviations of log factors: of all horns together, of one kind beside the others."""
_BOUND_SHARED = np.log(MOST_FACTOR) * SHARED / (SHARED + OWN)
_BOUND_OWN = np.log(MOST_FACTOR) - _BOUND_SHARED
_MOST_STEPS = 200


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What one kind of horns has to say: blocks, and picks; ``slips`` are reckoned with or not."""

    base: Profile
    blocks: tuple[Block, ...]
    picks: tuple[Pick, ...]
    slips: bool = False

    def only(self, blocks: Sequence[bool], picks: Sequence[bool]) -> "Evidence":
        """With some of its blocks and picks."""
        return replace(
            self,
            blocks=tuple(block for block, keep in zip(self.blocks, blocks) if keep),
            picks=tuple(pick for pick, keep in zip(self.picks, picks) if keep),
        )

    def __bool__(self) -> bool:
        return bool(self.blocks or self.picks)


class Objective:
    """-log posterior of log factors: of all horns (F,), then of each kind (F,) beside them."""

    def __init__(self, evidence: Mapping[str, Evidence], tight: float = 1.0) -> None:
        self.kinds = tuple(sorted(evidence))
        self.tight = tight
        rows = [evidence[kind] for kind in self.kinds]
        self.chains = [Chain(row.blocks, slips=row.slips) if row.blocks else None for row in rows]
        self.more = [np.array([pick.more for pick in row.picks]) for row in rows]
        self.start = [start_of(row.base) for row in rows]
        self.rises = [weights_of(row.base) == 0.0 for row in rows]

    @property
    def size(self) -> int:
        """How many log factors there are."""
        return len(WEIGHTS) * (1 + len(self.kinds))

    def __call__(self, logs: Floats) -> tuple[float, Floats]:
        """The value, and its gradient."""
        rows = logs.reshape(-1, len(WEIGHTS))
        spread = np.full((len(rows), 1), OWN)
        spread[0] = SHARED
        spread *= self.tight
        value = 0.5 * float(((rows / spread) ** 2).sum())
        gradient = rows / spread**2
        for number in range(len(self.kinds)):
            found, slope = self.of_kind(number, rows[0] + rows[1 + number])
            value += found
            gradient[0] += slope
            gradient[1 + number] += slope
        return value, gradient.reshape(-1)

    def of_kind(self, number: int, logs: Floats) -> tuple[float, Floats]:
        """-log likelihood of one kind's evidence, and its gradient in its log factors (F,)."""
        factors, start = np.exp(logs), self.start[number]
        rises = self.rises[number]
        weights = start * np.where(rises, np.maximum(0.0, factors - 1.0), factors)
        chain, more = self.chains[number], self.more[number]
        value, slope = (0.0, np.zeros(len(WEIGHTS))) if chain is None else chain(weights)
        if len(more):
            margins = BETA * (more @ weights)
            value += float(np.logaddexp(0.0, -margins).sum())
            slope = slope - BETA * (more.T @ (1.0 / (1.0 + np.exp(np.clip(margins, -500, 500)))))
        # Below a factor of 1 a weight that was 0 stays 0.
        live = ~rises | (factors >= 1.0)
        return value, np.where(live, slope * start * factors, 0.0)


def fit(
    evidence: Mapping[str, Evidence], tight: float = 1.0, start: Floats | None = None
) -> Floats:
    """(1 + kinds, F) the likeliest log factors: shared, then what each kind has beside them.

    Kinds are in the order of their names. ``tight`` scales the widths of the prior; ``start`` is
    where the search begins, of the same shape (default: factors of 1).
    """
    objective = Objective(evidence, tight)
    bounds = [(-_BOUND_SHARED, _BOUND_SHARED)] * len(WEIGHTS)
    bounds += [(-_BOUND_OWN, _BOUND_OWN)] * (objective.size - len(WEIGHTS))
    # Half a second of a start, and few learn anything.
    from scipy.optimize import minimize

    begin = np.zeros(objective.size) if start is None else start.reshape(-1)
    # On vectors this short the threads of BLAS only wait for each other.
    with threadpool_limits(1, "blas"):
        found = minimize(
            objective, begin, jac=True, method="L-BFGS-B", bounds=bounds,
            options={"maxiter": _MOST_STEPS, "ftol": 1e-6, "gtol": 1e-3},
        )  # fmt: skip
    return np.asarray(found.x).reshape(-1, len(WEIGHTS))
