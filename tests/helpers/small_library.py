"""A small library of invented parts, workers in this process, and what a run left."""

from pathlib import Path

import musicxml_build as xml

from handslide.ground.errors import HandslideError
from handslide.jobs.library.library import mark_library
from handslide.jobs.library.players import players_of
from handslide.jobs.library.wishes import LibraryWishes
from handslide.jobs.library.work import Reading
from handslide.jobs.library.workers import Outcome, done_here
from handslide.words.speech import speech

SAY = speech()
OURS = ("library.db", "library.db-wal", "library.db-shm", "library.lock", "report.html",
        "parts.csv", "grades.csv", "errors.csv")  # fmt: skip


class Inline:
    """Workers in this process: each task is done when it is asked for.

    ``before`` sees each task first: it may spoil its file, raise, or give a fact by which the
    worker is lost.
    """

    def __init__(self, before=lambda task: None):
        self.room = 2
        self.before = before
        self.asked = []
        self.closed = False
        self._waiting = []

    def start(self, task):
        assert len(self._waiting) < self.room
        self.asked.append(task)
        self._waiting.append(task)

    def done(self, patience_s):
        task = self._waiting.pop(0)
        try:
            lost = self.before(task)
            if lost is not None:
                return [Outcome(task, lost=lost)]
            return [Outcome(task, done_here(task))]
        except HandslideError as error:
            return [Outcome(task, error=error)]

    def close(self):
        self.closed = True

    @property
    def marked(self):
        """The names of the sources of the parts that were marked, in order."""
        return [task.source.name for task in self.asked if not isinstance(task, Reading)]


def tune(*names, title="", part="Trombone", clef="F"):
    line = {"F": 4, "C": 4, "G": 2}[clef]
    more = f"<clef><sign>{clef}</sign><line>{line}</line></clef>"
    first, *rest = names
    measures = [xml.attributes(more=more) + xml.notes(first), *map(xml.notes, rest)]
    head = f"<work><work-title>{title}</work-title></work>" if title else ""
    return xml.score(xml.part(*measures), names=(part,), more=head)


def write_library(folder: Path, count=3):
    """``count`` parts in two folders, each with other notes."""
    steps = ["F", "G", "A", "E", "A", "G"]
    for number in range(count):
        notes = " ".join(f"{steps[(number + k) % 6]}{3 if k % 2 else 2}" for k in range(4))
        path = folder / ("a" if number % 2 else "b/c") / f"tune{number}.musicxml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(tune(notes, "F3 D3 Bb2 F3", title=f"Tune {number}"))
    return folder


def run_library(
    source,
    folder,
    workers=None,
    *,
    horns=("tenor-f",),
    roster=None,
    reach=None,
    profile=None,
    rehearse=False,
    stop=lambda: False,
    **wishes,
):
    """A run with workers in this process; gives the run and the workers."""
    from handslide.jobs.library import library

    workers = workers or Inline()
    players, _ = players_of(horns, roster, SAY, reach=reach, profile=profile)
    before = library.Here
    library.Here = lambda count, pdf: workers
    try:
        asked = LibraryWishes(source, folder, players, **{"pdf": False, **wishes})
        return mark_library(asked, SAY, rehearse=rehearse, stop=stop), workers
    finally:
        library.Here = before


def outputs(folder):
    """The bytes of all marked files by their path in the folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name not in OURS
    }
