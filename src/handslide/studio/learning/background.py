"""Learning soon after a choice, when no other has followed: nobody waits for it."""

import hashlib
import logging
import threading
from collections.abc import Sequence
from typing import Literal, TypeAlias

from handslide.edges.store.learnt import AgreementRow, AnswerRow, Told, select_answers
from handslide.edges.store.settings import find_setting, put_setting
from handslide.ground.errors import HandslideError
from handslide.instrument.learning.weights import Factors
from handslide.studio.cache import CacheKind
from handslide.studio.choosing.consent import collects
from handslide.studio.choosing.versions import factors_of, in_force, keep_learnt
from handslide.studio.learning.apart import Noticed, learn_apart
from handslide.studio.learning.examples import Source, read_sources, with_files
from handslide.studio.studio import Studio

QUIET_S = 2.0
"""After the last choice, before it is learnt from."""
Outcome: TypeAlias = Literal["learnt", "same", "no_better", "nothing", "fallen"]
"""What came of the last learning: a new version, the one that is in force, one that was no better
on passages left out, nothing to learn from, too slow or large."""
_SEAL = "learnt_from"  # a setting: names the choices that were learnt from last
_OUTCOME = "learning_outcome"
# By the choices and the factors that are told of; None: those that were learnt from them.
_NOTICED: CacheKind[tuple[str, str | None], Noticed] = CacheKind(2)
_log = logging.getLogger("handslide.studio")


class Learner:
    """Learns for a studio, one time after the other."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._at_work = threading.Lock()
        self._timer: threading.Timer | None = None

    @property
    def busy(self) -> bool:
        """Whether it learns, or soon will."""
        with self._guard:
            return self._timer is not None

    def soon(self, studio: Studio) -> None:
        """Learn when nothing has been chosen for a while."""
        with self._guard:
            if self._timer is not None:
                self._timer.cancel()
            self._timer = threading.Timer(QUIET_S, self._run, (studio,))
            self._timer.daemon = True
            mine = self._timer
        mine.start()

    def _run(self, studio: Studio) -> None:
        mine = threading.current_thread()
        try:
            with self._at_work:
                learn_now(studio)
        except HandslideError:
            pass  # the studio was closed meanwhile, its disk is full: it is learnt another time
        except Exception:
            _log.exception("learning failed")
        finally:
            with self._guard:
                if self._timer is mine:
                    self._timer = None

    def forget_student(self, student_id: int) -> None:
        """Nothing is held here."""


def learn_later(studio: Studio) -> None:
    """Learn from the choices soon, if they may be collected. Doesn't wait."""
    if collects(studio):
        studio.caches.one(Learner).soon(studio)


def learn_if_needed(studio: Studio) -> None:
    """Learn soon, where choices were made that weren't learnt from. Doesn't wait."""
    if collects(studio) and _seal_of(*_all(studio)) != _last_seal(studio):
        learn_later(studio)


def is_learning(studio: Studio) -> bool:
    """Whether something is being learnt, or soon will be."""
    return studio.caches.one(Learner).busy


def last_outcome(studio: Studio) -> Outcome | None:
    """What came of the last learning; None before the first."""
    with studio.store.read() as db:
        found: Outcome | None = find_setting(db, _OUTCOME)  # type: ignore[assignment]
    return found


def learn_now(studio: Studio) -> Outcome | None:
    """Learn from all choices, and keep it as a new version if it is better and another.

    None without the teacher's yes. What was learnt from already isn't learnt from again.
    """
    if not collects(studio):
        return None
    sources, answered = _all(studio)
    seal = _seal_of(sources, answered)
    if _last_seal(studio) == seal:
        return last_outcome(studio)
    try:
        noticed = _noticed(studio, sources, answered, None)
    except HandslideError:
        return _ended(studio, seal, "fallen")
    with studio.store.write():
        if not collects(studio):
            return None
        outcome = _keep(studio, noticed)
        return _ended(studio, seal, outcome)


def what_is_noticed(studio: Studio) -> Noticed | None:
    """What can be said of what is in force, from the choices as they are now; None: nothing is.

    Raises BadData where that takes too long.
    """
    row = in_force(studio)
    if row is None or not collects(studio):
        return None
    return _noticed(studio, *_all(studio), factors_of(row))


def _all(studio: Studio) -> tuple[tuple[Source, ...], tuple[AnswerRow, ...]]:
    with studio.store.read() as db:
        return read_sources(studio), select_answers(db)


def _last_seal(studio: Studio) -> str | None:
    with studio.store.read() as db:
        return find_setting(db, _SEAL)


def _seal_of(sources: Sequence[Source], answered: Sequence[AnswerRow]) -> str:
    told = [source.seal for source in sources], answered
    return hashlib.sha256(repr(told).encode()).hexdigest()


def _noticed(
    studio: Studio,
    sources: Sequence[Source],
    answered: Sequence[AnswerRow],
    factors: Factors | None,
) -> Noticed:
    key = _seal_of(sources, answered), None if factors is None else repr(factors)
    return studio.caches.of(_NOTICED).get(
        key, lambda: learn_apart(with_files(studio, sources), answered, factors)
    )


def _keep(studio: Studio, noticed: Noticed) -> Outcome:
    told, now = _told(noticed), in_force(studio)
    chosen, before = noticed.learnt.factors, factors_of(now)
    if not noticed.learnt.accepted:
        # Where something was forgotten, what was learnt from it goes too.
        gone = now is not None and _count(told) < _count(now.told)
        if gone and before != Factors():
            keep_learnt(studio, Factors(), told)
        return "no_better" if _count(told) else "nothing"
    if chosen == before:
        return "same"
    keep_learnt(studio, chosen, told)
    return "learnt"


def _count(told: Told) -> int:
    return told.changed + told.kept + told.answers


def _told(noticed: Noticed) -> Told:
    hows = [note.how for one in noticed.examples.examples for note in one.notes]
    answers = noticed.examples.answers
    keys = {one.key for one in noticed.examples.examples} | {one.question.key for one in answers}
    return Told(
        changed=hows.count("changed"),
        kept=hows.count("kept"),
        answers=len(answers),
        parts=len(keys),
        agreement=tuple(
            AgreementRow(row.kind, row.notes, row.base, row.learnt, row.taken)
            for row in noticed.learnt.agreement
        ),
    )


def _ended(studio: Studio, seal: str, outcome: Outcome) -> Outcome:
    with studio.store.write() as db:
        put_setting(db, _SEAL, seal)
        put_setting(db, _OUTCOME, outcome)
    return outcome
