"""Learning in a process of its own, where it holds nobody up, within limits of time and memory."""

import contextlib
import logging
import os
from collections.abc import Sequence
from dataclasses import dataclass

from handslide.edges.files.profiles import BY_HORN, load_profile
from handslide.edges.leash.leash import Fallen, Leash, Limits
from handslide.edges.store.learnt import AnswerRow
from handslide.ground.errors import BadData
from handslide.ground.limits import LEARNING_BYTES, LEARNING_S, MB
from handslide.instrument.horn import Horn
from handslide.instrument.learning.clashes import Clash, clashes
from handslide.instrument.learning.example import Examples
from handslide.instrument.learning.learn import Learnt, lay_out_all, learn, left_by
from handslide.instrument.learning.showing import Change, changes
from handslide.instrument.learning.weights import Factors
from handslide.instrument.profile import Profile
from handslide.studio.learning.examples import Source, examples_of

_LEASH = Leash(
    Limits(seconds=LEARNING_S, memory_mb=LEARNING_BYTES // MB, children=1, kept=0),
    preload=("handslide.studio.learning.apart", "scipy.optimize"),
)
_log = logging.getLogger("handslide.studio")
_NICE = 10  # who clicks meanwhile comes first


@dataclass(frozen=True)
class Noticed:
    """What can be said of something learnt: from which examples, what changed, what contradicts."""

    examples: Examples
    learnt: Learnt
    changes: tuple[Change, ...]
    clashes: tuple[Clash, ...]


def learn_apart(
    sources: Sequence[Source], answered: Sequence[AnswerRow], factors: Factors | None = None
) -> Noticed:
    """What is learnt from these stands and answers; with ``factors``, what can be said of those.

    Raises BadData where it takes too long or too much memory.
    """
    try:
        return _LEASH.call(_learn, tuple(sources), tuple(answered), factors)
    except Fallen as fallen:
        if fallen.why == "raised":
            _log.error("learning failed: %s", fallen.detail)
        raise BadData("learning.fallen") from fallen


def _learn(
    sources: tuple[Source, ...], answered: tuple[AnswerRow, ...], factors: Factors | None
) -> Noticed:
    with contextlib.suppress(OSError, AttributeError):  # some systems have no such thing
        os.nice(_NICE)
    examples = examples_of(sources, answered)
    if factors is None:
        learnt = learn(examples, base_of)
    else:
        learnt = Learnt(factors, (), left_by(lay_out_all(examples, base_of), factors))
    return Noticed(examples, learnt, changes(examples, learnt, base_of), clashes(examples))


def base_of(horn: Horn) -> Profile:
    """The profile that all began from: that of the horn."""
    return load_profile(BY_HORN, horn)
