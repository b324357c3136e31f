"""Whether a teacher's choices may be collected: nothing is, until he has said so."""

from collections.abc import Iterable

from handslide.edges.store.learnt import (
    delete_unlearnt,
    insert_unlearnt,
    learn_all_locks,
    unlearn_locks,
)
from handslide.edges.store.settings import find_setting, put_setting
from handslide.studio.studio import Studio

_KEY = "learning"
_YES, _NO = "yes", "no"


def consent(studio: Studio) -> bool | None:
    """Whether choices may be collected; None: not asked yet."""
    with studio.store.read() as db:
        said = find_setting(db, _KEY)
    return None if said is None else said == _YES


def collects(studio: Studio) -> bool:
    """Whether choices are collected."""
    return consent(studio) is True


def give_consent(studio: Studio, *, earlier: bool) -> None:
    """Collect choices from now on; ``earlier``: those too that were made before."""
    with studio.store.write() as db:
        if earlier:
            learn_all_locks(db)
        elif find_setting(db, _KEY) is None:
            unlearn_locks(db)
        put_setting(db, _KEY, _YES)


def withdraw_consent(studio: Studio) -> None:
    """Collect no more choices; what was learnt stays."""
    with studio.store.write() as db:
        if find_setting(db, _KEY) is None:
            unlearn_locks(db)
        put_setting(db, _KEY, _NO)


def note_choices(studio: Studio, stand_id: int, notes: Iterable[int], *, chosen: bool) -> None:
    """Notes of a stand got other locks: is to be learnt from these?

    ``chosen``: the teacher chose them. To be called in the transaction that does it.
    """
    said = consent(studio)
    with studio.store.write() as db:
        if chosen and said is True:
            delete_unlearnt(db, stand_id, notes)
        elif not chosen or said is False:
            insert_unlearnt(db, stand_id, notes)
