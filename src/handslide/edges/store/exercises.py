"""The table ``exercises``: a teacher's own exercises, as the text of their files."""

from dataclasses import dataclass

from handslide.edges.store.connection import Connection
from handslide.edges.store.database import now


@dataclass(frozen=True, slots=True)
class ExercisesRow:
    """A file of exercises; its ``title`` is the one in its ``text``."""

    id: int
    title: str
    text: str
    archived_at: str | None
    created_at: str
    changed_at: str


def insert_exercises(db: Connection, title: str, text: str) -> int:
    """A new file of exercises; its id."""
    when = now()
    done = db.execute(
        "INSERT INTO exercises (title, text, created_at, changed_at) VALUES (?, ?, ?, ?)",
        (title, text, when, when),
    )
    return int(done.lastrowid or 0)


def find_exercises(db: Connection, exercises_id: int) -> ExercisesRow | None:
    """A file of exercises, None where there is none of that number."""
    row = db.execute("SELECT * FROM exercises WHERE id = ?", (exercises_id,)).fetchone()
    return None if row is None else ExercisesRow(**dict(row))


def select_exercises(db: Connection, *, archived: bool) -> tuple[ExercisesRow, ...]:
    """All in use, or those that were put away, by title."""
    rows = db.execute(
        "SELECT * FROM exercises WHERE (archived_at IS NOT NULL) = ? ORDER BY title, id",
        (archived,),
    )
    return tuple(ExercisesRow(**dict(row)) for row in rows)


def update_exercises(db: Connection, exercises_id: int, title: str, text: str) -> None:
    """Put another text in the place of the one that is there."""
    db.execute(
        "UPDATE exercises SET title = ?, text = ?, changed_at = ? WHERE id = ?",
        (title, text, now(), exercises_id),
    )


def update_exercises_archived(db: Connection, exercises_id: int, *, archived: bool) -> None:
    """Put a file of exercises away, or take it out again."""
    when = now() if archived else None
    db.execute("UPDATE exercises SET archived_at = ? WHERE id = ?", (when, exercises_id))
