"""Choices on a stand: lock, unlock, undo, redo; kept at once, so that a restart loses none."""

import json
import sqlite3
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from handslide.edges.store.database import now
from handslide.ground.errors import BadUsage, NotFound
from handslide.instrument.marks import mark
from handslide.studio.parts.openpart import OpenPart, Wish, find_place, open_part, stored_locks
from handslide.studio.studio import Studio

Change = tuple[int, Wish | None, Wish | None]
"""A written note, its lock before and after."""


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
        raise BadUsage(
            f"{pitch.pretty} has no such place on this horn (its places: "
            f"{', '.join(has) or 'none'}); load the page again"
        )
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
        raise BadUsage("a note that can't be played has no place to lock")
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
        raise NotFound("this part has no such note (any more): load the page again")


def _edit(
    studio: Studio, before: OpenPart, changes: Callable[[dict[int, Wish]], list[Change]]
) -> Edited:
    stand_id = before.stand.id
    with studio.store.write() as db:
        # Asked again inside the transaction: another window may have been quicker.
        locks = stored_locks(studio, stand_id)
        rows = [row for row in changes(locks) if row[1] != row[2]]
        if rows:
            done = _edits_done(db, stand_id)
            db.execute("DELETE FROM stand_edit WHERE stand_id = ? AND number > ?", (stand_id, done))
            db.execute(
                "INSERT INTO stand_edit (stand_id, number, changes, made_at) VALUES (?, ?, ?, ?)",
                (stand_id, done + 1, json.dumps(rows), now()),
            )
            _apply(db, stand_id, [(note, after) for note, _, after in rows], done + 1)
    return Edited(before, open_part(studio, stand_id))


def _travel(studio: Studio, stand_id: int, *, back: bool) -> Edited:
    before = open_part(studio, stand_id)
    with studio.store.write() as db:
        done = _edits_done(db, stand_id)
        row = db.execute(
            "SELECT changes FROM stand_edit WHERE stand_id = ? AND number = ?",
            (stand_id, done if back else done + 1),
        ).fetchone()
        if row is not None:
            which = 1 if back else 2
            values = [(change[0], _wish(change[which])) for change in json.loads(row["changes"])]
            _apply(db, stand_id, values, done - 1 if back else done + 1)
    return Edited(before, open_part(studio, stand_id))


def _apply(
    db: sqlite3.Connection, stand_id: int, values: Iterable[tuple[int, Wish | None]], done: int
) -> None:
    for note, wish in values:
        db.execute("DELETE FROM stand_lock WHERE stand_id = ? AND note = ?", (stand_id, note))
        if wish is not None:
            db.execute(
                "INSERT INTO stand_lock (stand_id, note, valves, partial) VALUES (?, ?, ?, ?)",
                (stand_id, note, json.dumps(wish[0]), wish[1]),
            )
    db.execute(
        "UPDATE stand SET edits_done = ?, opened_at = ? WHERE id = ?", (done, now(), stand_id)
    )


def _edits_done(db: sqlite3.Connection, stand_id: int) -> int:
    row = db.execute("SELECT edits_done FROM stand WHERE id = ?", (stand_id,)).fetchone()
    if row is None:
        raise NotFound("this part isn't on a stand (any more)")
    return int(row["edits_done"])


def _wish(stored: list[object] | None) -> Wish | None:
    if stored is None:
        return None
    valves, partial = stored
    return tuple(valves), partial  # type: ignore[return-value, arg-type]
