"""What a studio holds, where it lies and how large it is."""

from dataclasses import dataclass
from pathlib import Path

from handslide.edges.store.recordings import (
    RecordingsOf,
    number_of_recordings,
    select_recordings_by_student,
    size_of_recordings,
)
from handslide.edges.store.scores import number_of_scores
from handslide.edges.store.students import number_of_students
from handslide.edges.store.takes import number_of_takes
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


def studio_facts(studio: Studio) -> StudioFacts:
    """The facts of a studio as it is now."""
    with studio.store.read() as db:
        students, scores = number_of_students(db), number_of_scores(db)
        takes, count = number_of_takes(db), number_of_recordings(db)
        size = size_of_recordings(db)
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
        return select_recordings_by_student(db)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0
