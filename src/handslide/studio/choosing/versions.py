"""What was learnt, step by step: each is a version that can be gone back to.

A part keeps the version that it was put on the stand with, so that its marks don't change by
themselves.
"""

from dataclasses import replace

from handslide.edges.files.profiles import BY_HORN
from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.learnt import (
    FactorTable,
    LearntRow,
    Told,
    delete_unused_learnt,
    find_learnt,
    find_learnt_numbered,
    insert_learnt,
    span_of_learnt,
)
from handslide.edges.store.settings import find_setting, put_setting
from handslide.edges.store.stands import Stand
from handslide.edges.store.students import Student
from handslide.instrument.learning.weights import Factors
from handslide.jobs.setup import Setup
from handslide.studio.people.students import setup_for
from handslide.studio.studio import Studio

_NUMBER = "learnt"  # a setting: the number of the version in force; 0: none
_ALL_HORNS = ""


def factors_of(row: LearntRow | None) -> Factors:
    """The factors of a version; those of none change nothing."""
    if row is None:
        return Factors()
    by_kind = dict(row.factors)
    return Factors(by_kind.pop(_ALL_HORNS, {}), by_kind)


def table_of(factors: Factors) -> FactorTable:
    """Factors as they are stored."""
    return {_ALL_HORNS: dict(factors.shared), **{k: dict(v) for k, v in factors.by_kind.items()}}


def in_force(studio: Studio) -> LearntRow | None:
    """The version that new parts are marked with; None: nothing is learnt."""
    with studio.store.read() as db:
        return find_learnt_numbered(db, int(find_setting(db, _NUMBER) or 0))


def can_undo_learnt(studio: Studio) -> bool:
    """Whether there is a version to leave."""
    return in_force(studio) is not None


def can_redo_learnt(studio: Studio) -> bool:
    """Whether a version was left that can come again."""
    with studio.store.read() as db:
        return _next(int(find_setting(db, _NUMBER) or 0), *span_of_learnt(db)) is not None


def undo_learnt(studio: Studio) -> None:
    """Go back to the version before; before the first, to nothing learnt."""
    with studio.store.write() as db:
        now = int(find_setting(db, _NUMBER) or 0)
        first, _ = span_of_learnt(db)
        put_setting(db, _NUMBER, str(now - 1 if now > first else 0))


def redo_learnt(studio: Studio) -> None:
    """Come again to the version that was left last."""
    with studio.store.write() as db:
        later = _next(int(find_setting(db, _NUMBER) or 0), *span_of_learnt(db))
        if later is not None:
            put_setting(db, _NUMBER, str(later))


def _next(now: int, first: int, last: int) -> int | None:
    later = max(now + 1, first)
    return later if later <= last else None


def keep_learnt(studio: Studio, factors: Factors, told: Told) -> None:
    """Keep something learnt as the version in force."""
    with studio.store.write() as db:
        number = int(find_setting(db, _NUMBER) or 0) + 1
        insert_learnt(db, number, table_of(factors), told)
        put_setting(db, _NUMBER, str(number))
        delete_unused_learnt(db)


def nothing_in_force(studio: Studio) -> None:
    """Let new parts be marked as if nothing had been learnt."""
    with studio.store.write() as db:
        put_setting(db, _NUMBER, "0")


def learnt_of(studio: Studio, stand: Stand) -> LearntRow | None:
    """What a stand's part is marked with; None: the student's profile as it is."""
    if stand.learnt_id is None:
        return None
    with studio.store.read() as db:
        return find_learnt(db, stand.learnt_id)


def for_stand(student: Student, horn: StudentHorn, row: LearntRow | None) -> LearntRow | None:
    """A version if it says anything of this student's horn: who has a profile of another name
    keeps that.
    """
    if student.profile != BY_HORN or row is None:
        return None
    return row if factors_of(row).on(setup_for(student, horn).horn) else None


def setup_with(student: Student, horn: StudentHorn, row: LearntRow | None) -> Setup:
    """The setup of a student with a horn, chosen by something learnt."""
    setup = setup_for(student, horn)
    if row is None or student.profile != BY_HORN:
        return setup
    return replace(setup, profile=factors_of(row).profile(setup.profile, setup.horn))
