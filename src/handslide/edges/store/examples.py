"""What belongs to the example, and what is the teacher's own."""

from handslide.edges.store.connection import Connection


def has_example_rows(db: Connection) -> bool:
    """Whether anything of the example is in the studio."""
    return _exists(db, 1)


def has_own_rows(db: Connection) -> bool:
    """Whether anything of the teacher's own is in the studio."""
    return _exists(db, 0)


def _exists(db: Connection, example: int) -> bool:
    found = db.execute(
        "SELECT EXISTS (SELECT 1 FROM student WHERE example = ?1) "
        "OR EXISTS (SELECT 1 FROM score WHERE example = ?1)",
        (example,),
    )
    return bool(found.fetchone()[0])


def delete_example(db: Connection) -> None:
    """Remove the invented students, and the example's parts that nobody else plays."""
    db.execute("DELETE FROM student WHERE example = 1")
    db.execute(
        "UPDATE score SET example = 0 WHERE example = 1 AND (id IN (SELECT score_id FROM stand)"
        " OR id IN (SELECT score_id FROM take WHERE score_id IS NOT NULL))"
    )
    db.execute("DELETE FROM score WHERE example = 1")


def begin_earlier(db: Connection, student_id: int, when: str) -> None:
    """Date a student with horns and stands back."""
    db.execute("UPDATE student SET created_at = ? WHERE id = ?", (when, student_id))
    db.execute("UPDATE horn SET created_at = ? WHERE student_id = ?", (when, student_id))
    db.execute("UPDATE stand SET created_at = ? WHERE student_id = ?", (when, student_id))
    db.execute(
        "UPDATE horn_version SET created_at = ? "
        "WHERE horn_id IN (SELECT id FROM horn WHERE student_id = ?)",
        (when, student_id),
    )
