"""Choices on a stand: lock, unlock, undo, redo; kept at once, so that a restart loses none."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from handslide.edges.store.stands import (
    Change,
    Wish,
    find_edit,
    insert_edit,
    put_locks,
    select_locks,
    update_edits_done,
)
from handslide.ground.errors import BadUsage, NotFound
from handslide.instrument.marks import mark
from handslide.studio.parts.openpart import OpenPart, find_place, open_part
from handslide.studio.parts.stand import get_stand
from handslide.studio.studio import Studio


@dataclass(frozen=True, slots=True, eq=False)
class Edited:
    """A part before and after an edit."""

    before: OpenPart
    after: OpenPart


def lock_place(
    studio: Studio, stand_id: int, note: int, valves: Iterable[str], partial: int
) -> Edited:
    """Give a written note a place of its own; the rest of the line adapts.

    Raises NotFound, and BadUsage when the note has no such place.
    """
    wish: Wish = (tuple(valves), partial)
    before = open_part(studio, stand_id)
    _check_note(before, note)
    if find_place(before.prepared, note, wish) is None:
        setup, pitch = before.routed.setup, before.routed.pitches[note]
        has = [mark(setup.horn, p, setup.style) for p in setup.book.places(pitch.midi)]
        if not has:
            raise BadUsage("parts.nothing_to_lock")
        raise BadUsage("parts.no_place", pitch=pitch, has=", ".join(has))
    return _edit(studio, before, lambda locks: [(note, locks.get(note), wish)])


def lock_places(studio: Studio, stand_id: int, wishes: Mapping[int, Wish]) -> Edited:
    """Give several written notes places of their own in one choice, which one undo takes back.

    Raises NotFound.
    """
    before = open_part(studio, stand_id)
    for note in wishes:
        _check_note(before, note)
    return _edit(
        studio,
        before,
        lambda locks: [(note, locks.get(note), wish) for note, wish in sorted(wishes.items())],
    )


def lock_here(studio: Studio, stand_id: int, note: int) -> Edited:
    """Lock a written note where the route has it now. Raises NotFound, BadUsage."""
    before = open_part(studio, stand_id)
    _check_note(before, note)
    place = before.routed.places.get(note)
    if place is None:
        raise BadUsage("parts.nothing_to_lock")
    wish: Wish = (place.valves, place.partial)
    return _edit(studio, before, lambda locks: [(note, locks.get(note), wish)])


def unlock(studio: Studio, stand_id: int, note: int) -> Edited:
    """Let the route choose the place of a note again. Raises NotFound."""
    before = open_part(studio, stand_id)
    _check_note(before, note)
    return _edit(studio, before, lambda locks: [(note, locks.get(note), None)])


def unlock_all(studio: Studio, stand_id: int) -> Edited:
    """Let the route choose all places again; one undo brings the locks back. Raises NotFound."""
    before = open_part(studio, stand_id)
    return _edit(
        studio, before, lambda locks: [(note, was, None) for note, was in sorted(locks.items())]
    )


def undo(studio: Studio, stand_id: int) -> Edited:
    """Take back the last choice; without one nothing changes. Raises NotFound."""
    return _travel(studio, stand_id, back=True)


def redo(studio: Studio, stand_id: int) -> Edited:
    """Bring back the choice that was taken back last. Raises NotFound."""
    return _travel(studio, stand_id, back=False)


def _check_note(part: OpenPart, note: int) -> None:
    if not 0 <= note < len(part.routed.pitches):
        raise NotFound("parts.no_note")


def _edit(
    studio: Studio, before: OpenPart, changes: Callable[[dict[int, Wish]], list[Change]]
) -> Edited:
    stand_id = before.stand.id
    with studio.store.write() as db:
        # Asked again inside the transaction: another window may have been quicker.
        rows = [row for row in changes(select_locks(db, stand_id)) if row[1] != row[2]]
        if rows:
            done = get_stand(studio, stand_id).edits_done + 1
            insert_edit(db, stand_id, done, rows)
            put_locks(db, stand_id, {note: after for note, _, after in rows})
            update_edits_done(db, stand_id, done)
    return Edited(before, open_part(studio, stand_id))


def _travel(studio: Studio, stand_id: int, *, back: bool) -> Edited:
    before = open_part(studio, stand_id)
    with studio.store.write() as db:
        done = get_stand(studio, stand_id).edits_done
        changes = find_edit(db, stand_id, done if back else done + 1)
        if changes is not None:
            locks = {note: was if back else after for note, was, after in changes}
            put_locks(db, stand_id, locks)
            update_edits_done(db, stand_id, done - 1 if back else done + 1)
    return Edited(before, open_part(studio, stand_id))
