"""Forgetting choices: they stay on their stands, but nothing is learnt from them."""

from handslide.edges.store.learnt import (
    delete_unused_learnt,
    forget_stand,
    insert_unlearnt,
    leave_behind,
    number_of_unlearnt,
    select_choice_counts,
)
from handslide.ground.errors import NotFound
from handslide.studio.choosing.versions import nothing_in_force
from handslide.studio.learning.background import learn_later
from handslide.studio.parts.stand import get_stand
from handslide.studio.studio import Studio


def forget_part(studio: Studio, stand_id: int) -> None:
    """Forget what was chosen on a stand up to now, with the answers about it. Raises NotFound."""
    get_stand(studio, stand_id)
    with studio.store.write() as db:
        forget_stand(db, stand_id)
    learn_later(studio)


def forget_note(studio: Studio, stand_id: int, note: int) -> None:
    """Forget what was chosen for a written note, or that it was let stand. Raises NotFound."""
    get_stand(studio, stand_id)
    if note < 0:
        raise NotFound("parts.no_note")
    with studio.store.write() as db:
        insert_unlearnt(db, stand_id, [note])
    learn_later(studio)


def forget_all(studio: Studio) -> None:
    """Forget all choices and all that was learnt; only parts that are marked with it keep it."""
    with studio.store.write() as db:
        for row in select_choice_counts(db):
            forget_stand(db, row.stand_id)
        leave_behind(db, 0)
        delete_unused_learnt(db)
        nothing_in_force(studio)


def forgotten_choices(studio: Studio) -> int:
    """How many locked places nothing is learnt from."""
    with studio.store.read() as db:
        return number_of_unlearnt(db)
