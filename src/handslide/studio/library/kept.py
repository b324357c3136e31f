"""What was seen of scores and how parts are graded: files beside the database.

They are made again wherever they are missing, so no backup and no archive has them. Grades are in a
file for each student, without a name in it, that goes with the student.
"""

from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from handslide.edges.manifest.manifest import Manifest
from handslide.edges.store.copies import remove_database
from handslide.edges.store.database import telling
from handslide.ground.errors import StoreError
from handslide.studio.studio import Studio

FOLDER = "library"
_MADE_ANEW = ("library.not_ours", "library.newer")


def looks_file(studio: Studio) -> Path:
    """Where it is kept what was seen of scores."""
    return studio.folder / FOLDER / "looks.db"


def grades_file(studio: Studio, student_id: int) -> Path:
    """Where a student's grades are kept."""
    return studio.folder / FOLDER / f"student-{student_id}.db"


@contextmanager
def kept(path: Path, *, begin: bool = False) -> Iterator[Manifest]:
    """One of these files, open for the block. ``begin``: whoever works on it begins to.

    Raises StoreError, as where the disk is full.
    """
    with telling("library.manifest", file=str(path)):
        path.parent.mkdir(mode=0o700, exist_ok=True)
    way = Manifest.open if begin else Manifest.beside
    try:
        manifest = way(path)
    except StoreError as error:
        trouble = error.fact.values.get("trouble")
        if error.fact.kind not in _MADE_ANEW and (
            trouble is None or trouble.kind != "store.file_damaged"
        ):
            raise
        remove_database(path)
        manifest = way(path)
    with closing(manifest):
        yield manifest
