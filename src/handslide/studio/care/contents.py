"""What a studio holds, where it lies and how large it is."""

from dataclasses import dataclass
from pathlib import Path

from handslide.studio.studio import Studio


@dataclass(frozen=True, slots=True)
class StudioFacts:
    """What is in the studio; sizes in bytes. ``students`` are those in lessons and archived."""

    folder: Path
    students: int
    scores: int
    takes: int
    recordings: int
    recordings_bytes: int
    database_bytes: int
    backups_bytes: int


@dataclass(frozen=True, slots=True)
class RecordingsOf:
    """The kept recordings of a student, with the note of consent that they were kept by."""

    student_id: int
    student: str
    count: int
    length_s: float
    size_bytes: int
    consent_note: str | None
    consent_on: str | None


def studio_facts(studio: Studio) -> StudioFacts:
    """The facts of a studio as it is now."""
    with studio.store.read() as db:
        students, scores, takes = (
            db.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
            for table in ("student", "score", "take")
        )
        count, size = db.execute(
            "SELECT count(*), coalesce(sum(length(data)), 0) FROM recording"
        ).fetchone()
    path = studio.store.path
    # The log beside it belongs to the database.
    database = sum(_size(path.with_name(path.name + side)) for side in ("", "-wal"))
    backups = sum(_size(file) for file in (studio.folder / "backups").glob("*.db"))
    return StudioFacts(
        studio.folder.absolute(), students, scores, takes, count, size, database, backups
    )


def recordings_of_all(studio: Studio) -> tuple[RecordingsOf, ...]:
    """Who has recordings in the studio, by name."""
    with studio.store.read() as db:
        rows = db.execute(
            "SELECT student.id, student.name, count(*), sum(take.length_s), "
            "sum(length(recording.data)), student.consent_note, student.consent_on "
            "FROM recording JOIN take ON take.id = take_id JOIN student ON student.id = student_id "
            "GROUP BY student.id ORDER BY student.name COLLATE NOCASE, student.id"
        ).fetchall()
    return tuple(RecordingsOf(*row) for row in rows)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0
