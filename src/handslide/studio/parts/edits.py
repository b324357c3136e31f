"""Choices on a stand: lock, unlock, what was looked at, undo, redo; kept at once, so that a restart
loses none.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from handslide.edges.store.connection import Connection
from handslide.edges.store.learnt import put_learnt
from handslide.edges.store.stands import (
    Aside,
    Change,
    Wish,
    find_edit,
    insert_edit,
    put_locks,
    put_seen_to,
    select_locks,
    update_edits_done,
)
from handslide.ground.errors import BadUsage, NotFound
from handslide.instrument.marks import mark
from handslide.studio.choosing.consent import collects, note_choices
from handslide.studio.choosing.versions import for_stand, in_force
from handslide.studio.parts.openpart import OpenPart, find_place, open_part, open_part_with
from handslide.studio.parts.stand import get_stand
from handslide.studio.studio import Studio


@dataclass(frozen=True, slots=True, eq=False)
class Edited:
    """A part before and after an edit; ``about`` are the written notes that it was made on."""

    before: OpenPart
    after: OpenPart
    about: tuple[int, ...] = ()


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
    """Give several written notes the places that a sheet means, which one undo takes back.

    They aren't choices of the teacher's: nothing is learnt from them. Raises NotFound.
    """
    before = open_part(studio, stand_id)
    for note in wishes:
        _check_note(before, note)
    return _edit(
        studio,
        before,
        lambda locks: [(note, locks.get(note), wish) for note, wish in sorted(wishes.items())],
        chosen=False,
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


def lock_alike(studio: Studio, stand_id: int, note: int) -> Edited:
    """Lock the present place of a written note wherever its figure comes; one undo takes it back.

    Raises NotFound, BadUsage.
    """
    before = open_part(studio, stand_id)
    _check_note(before, note)
    place = before.routed.places.get(note)
    if place is None:
        raise BadUsage("parts.nothing_to_lock")
    wish: Wish = (place.valves, place.partial)
    # The note that was pressed comes first: undo goes there.
    notes = sorted(before.routed.alike(note), key=lambda number: (number != note, number))
    return _edit(studio, before, lambda locks: [(n, locks.get(n), wish) for n in notes])


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


def look_to(studio: Studio, stand_id: int, note: int) -> Edited:
    """Say that all places up to a written note were looked at: those that stand are as they should.

    Raises NotFound, and BadUsage without the teacher's yes to learning.
    """
    if not collects(studio):
        raise BadUsage("learning.no_consent")
    before = open_part(studio, stand_id)
    _check_note(before, note)
    return _edit(studio, before, lambda locks: [Aside("seen_to", before.stand.seen_to, note)])


def take_newest(studio: Studio, stand_id: int) -> Edited:
    """Mark a part with what is learnt by now.

    Up to where it was looked at no place changes: where another would be chosen, the present one
    is locked. Raises NotFound.
    """
    before = open_part(studio, stand_id)
    newest = for_stand(before.student, before.horn, in_force(studio))
    if before.stand.learnt_id == (None if newest is None else newest.id):
        return Edited(before, before)
    kept = _places_to_keep(studio, before)

    def changes(locks: dict[int, Wish]) -> list[Change | Aside]:
        wanted = dict(locks)
        while True:
            routed = open_part_with(studio, stand_id, newest).with_locks(wanted)
            now = {n: (place.valves, place.partial) for n, place in routed.places.items()}
            other = {n: wish for n, wish in kept.items() if now.get(n) != wish and n not in wanted}
            if not other:
                break
            wanted |= other
        told = Aside("learnt", before.stand.learnt_id, None if newest is None else newest.id)
        return [told, *((n, locks.get(n), wish) for n, wish in sorted(wanted.items()))]

    return _edit(studio, before, changes)


def _places_to_keep(studio: Studio, part: OpenPart) -> dict[int, Wish]:
    """The places of the notes that were looked at and let stand."""
    seen_to = part.stand.seen_to
    if seen_to is None or not collects(studio):
        return {}
    return {
        number: (place.valves, place.partial)
        for number, place in part.routed.places.items()
        if number <= seen_to and number not in part.locks
    }


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
    studio: Studio,
    before: OpenPart,
    changes: Callable[[dict[int, Wish]], Sequence[Change | Aside]],
    *,
    chosen: bool = True,
) -> Edited:
    stand_id = before.stand.id
    with studio.store.write() as db:
        # Asked again inside the transaction: another window may have been quicker.
        rows = [row for row in changes(select_locks(db, stand_id)) if _is_change(row)]
        if rows:
            done = get_stand(studio, stand_id).edits_done + 1
            insert_edit(db, stand_id, done, rows)
            _put(db, stand_id, rows, back=False)
            note_choices(studio, stand_id, [row[0] for row in _locks_in(rows)], chosen=chosen)
            update_edits_done(db, stand_id, done)
    return Edited(before, open_part(studio, stand_id), _about(rows))


def _travel(studio: Studio, stand_id: int, *, back: bool) -> Edited:
    before = open_part(studio, stand_id)
    with studio.store.write() as db:
        done = get_stand(studio, stand_id).edits_done
        changes = find_edit(db, stand_id, done if back else done + 1)
        if changes is not None:
            _put(db, stand_id, changes, back=back)
            update_edits_done(db, stand_id, done - 1 if back else done + 1)
    return Edited(before, open_part(studio, stand_id), _about(changes or ()))


def _about(rows: Sequence[Change | Aside]) -> tuple[int, ...]:
    seen = [row for row in rows if isinstance(row, Aside) and row.what == "seen_to"]
    notes = [row[0] for row in _locks_in(rows)]
    notes += [int(row.after) for row in seen if row.after is not None]
    return tuple(notes)


def _is_change(row: Change | Aside) -> bool:
    return row.before != row.after if isinstance(row, Aside) else row[1] != row[2]


def _locks_in(rows: Sequence[Change | Aside]) -> list[Change]:
    return [row for row in rows if not isinstance(row, Aside)]


def _put(db: Connection, stand_id: int, rows: Sequence[Change | Aside], *, back: bool) -> None:
    """Let a stand be as it was before or after these changes."""
    put_locks(db, stand_id, {note: was if back else now for note, was, now in _locks_in(rows)})
    for row in rows:
        if isinstance(row, Aside):
            put = put_seen_to if row.what == "seen_to" else put_learnt
            put(db, stand_id, row.before if back else row.after)
