"""Looking into folders and taking parts in, in the background: one thing after the other.

A page shows how far it is, and can stop it; what was taken in by then stays. A file that can't be
read costs itself alone and is named.
"""

import hashlib
import logging
import threading
import time
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from handslide.edges.files.plainfile import TooLarge, read_plain
from handslide.edges.files.tree import TreeFile, walk_tree
from handslide.edges.manifest.manifest import Manifest
from handslide.edges.store.folders import (
    FileRow,
    FolderRow,
    Seen,
    find_file,
    put_seen,
    select_files,
    take_what_is_here,
    update_taken,
)
from handslide.edges.store.scores import find_score_by_digest, is_in_use, update_takes
from handslide.ground.errors import BadData, HandslideError
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import (
    FOLDER_ENTRIES,
    FOLDER_FILES,
    LOOK_AGAIN_S,
    MB,
    STORED_SCORE_BYTES,
)
from handslide.ground.system import system_reason
from handslide.jobs.library.doing import Work
from handslide.jobs.library.wishes import KNOWN, processors
from handslide.jobs.library.work import Input, Reading
from handslide.jobs.library.workers import Here
from handslide.studio.library.folders import (
    file_key,
    folder_path,
    get_folder,
    list_folders,
    look_into,
    own_name,
)
from handslide.studio.library.kept import kept, looks_file
from handslide.studio.parts.scores import add_score, archive_score
from handslide.studio.studio import Studio

ENDINGS = (*KNOWN, ".pdf")
_BROKEN = fact("library.worker", why="raised")
_log = logging.getLogger("handslide.studio")


@dataclass
class Job:
    """What is being done: ``stage`` (``looking``, ``reading``, ``taking``), ``done`` of ``total``,
    and with which file."""

    stage: str
    done: int = 0
    total: int = 0
    file: str = ""
    stop: threading.Event = field(default_factory=threading.Event)

    def tell(self, stage: str, done: int, total: int) -> None:
        """It is so far."""
        self.stage, self.done, self.total = stage, done, total


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What came of taking files of a folder in: how many, those that couldn't be, and whether
    somebody stopped it."""

    folder_id: int
    count: int
    errors: tuple[tuple[str, Fact], ...]
    stopped: bool


class Shelf:
    """What a studio does with its folders, and what came of it last.

    ``changes`` counts how often a folder was found to be another than before.
    """

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._job: Job | None = None
        self._thread: threading.Thread | None = None
        self._looked_at_s: float | None = None
        self.troubles: dict[int, Fact] = {}
        self.news: dict[int, int] = {}
        self.last: TakenIn | None = None
        self.changes = 0

    @property
    def job(self) -> Job | None:
        """What is being done now."""
        with self._guard:
            return self._job

    def begin(self, job: Job, work: Callable[[Job], None]) -> bool:
        """Begin to do something in the background; False where something is being done."""
        with self._guard:
            if self._job is not None:
                return False
            self._job = job
            self._thread = threading.Thread(
                target=self._run, args=(job, work), name="folders", daemon=True
            )
        self._thread.start()
        return True

    def stop(self) -> None:
        """End it after the file that is under way. Doesn't wait."""
        job = self.job
        if job is not None:
            job.stop.set()

    def wait(self, patience_s: float) -> None:
        """Wait until nothing is being done."""
        thread = self._thread
        if thread is not None:
            thread.join(patience_s)

    def is_due(self) -> bool:
        """Whether the folders weren't looked at for a while."""
        with self._guard:
            at_s = self._looked_at_s
        return at_s is None or time.monotonic() - at_s > LOOK_AGAIN_S

    def looked(self) -> None:
        """The folders were looked at now."""
        with self._guard:
            self._looked_at_s = time.monotonic()

    def forget(self, folder_id: int) -> None:
        """A folder was forgotten."""
        self.troubles.pop(folder_id, None)
        self.news.pop(folder_id, None)
        if self.last is not None and self.last.folder_id == folder_id:
            self.last = None

    def forget_student(self, student_id: int) -> None:
        """Nothing is held here."""

    def _run(self, job: Job, work: Callable[[Job], None]) -> None:
        try:
            work(job)
        except HandslideError:
            pass  # the studio was closed meanwhile, its disk is full: another time
        except Exception:
            _log.exception("looking into folders failed")
        finally:
            with self._guard:
                self._job = None


def shelf_of(studio: Studio) -> Shelf:
    """The shelf of a studio."""
    return studio.caches.one(Shelf)


def look_again(studio: Studio, *, only_if_due: bool = False) -> None:
    """Look into all folders, in the background. ``only_if_due``: not again within half a minute."""
    shelf = shelf_of(studio)
    if (only_if_due and not shelf.is_due()) or not list_folders(studio):
        return
    shelf.begin(Job("looking"), lambda job: look(studio, job))


def take_in(studio: Studio, folder_id: int, file_ids: Sequence[int]) -> None:
    """Take files of a folder in, in the background. Raises NotFound, BadData."""
    row = get_folder(studio, folder_id)
    job = Job("taking", 0, len(file_ids))
    if not shelf_of(studio).begin(job, lambda job: _take(studio, row, file_ids, job)):
        raise BadData("library.busy")


def look(studio: Studio, job: Job) -> None:
    """Look into all folders: what is new, changed or gone; read what wasn't read."""
    shelf = shelf_of(studio)
    for row in list_folders(studio):
        if job.stop.is_set():
            return
        try:
            _look_into(studio, row, job)
            shelf.changes += shelf.troubles.pop(row.id, None) is not None
        except BadData as error:  # it isn't there now: what is known of it stays
            shelf.changes += shelf.troubles.get(row.id) != error.fact
            shelf.troubles[row.id] = error.fact
    _read(studio, job)
    for row in list_folders(studio):
        shelf.news[row.id] = len(look_into(studio, row.id).of("new", "changed"))
    shelf.looked()


def _look_into(studio: Studio, row: FolderRow, job: Job) -> None:
    root = folder_path(studio, row)
    own = None if row.sent else studio.folder
    if row.sent and not root.exists():
        return  # all of it was taken in
    tree = walk_tree(root, ENDINGS, own, FOLDER_ENTRIES)
    if len(tree.files) > FOLDER_FILES:
        raise BadData("library.many_files", count=len(tree.files), most=FOLDER_FILES)
    with studio.store.read() as db:
        known = {file.path: file for file in select_files(db, row.id)}
    seen: list[Seen] = []
    errors: dict[str, Fact] = {}
    for number, file in enumerate(tree.files):
        job.tell("looking", number, len(tree.files))
        before = known.get(file.path)
        if _is_as_before(before, file):
            assert before is not None
            seen.append(Seen(file.path, file.size, file.mtime_ns, before.digest))
            continue
        try:
            data = read_plain(root / file.path, STORED_SCORE_BYTES)
            digest = hashlib.sha256(data).hexdigest()
            seen.append(Seen(file.path, file.size, file.mtime_ns, digest))
        except OSError as error:
            errors[file.path] = _unread(file.path, error)
            seen.append(Seen(file.path, file.size, file.mtime_ns, None))
    with studio.store.write() as db:
        # A folder that was forgotten meanwhile isn't there any more.
        get_folder(studio, row.id)
        _put_seen(studio, row, known, seen)
    _tell_unread(studio, row, errors)


def _put_seen(
    studio: Studio, row: FolderRow, known: dict[str, FileRow], seen: Sequence[Seen]
) -> None:
    """Keep what was found, where it is another than before. What was sent goes as it is taken in,
    and isn't gone."""
    now = [(one.path, one.size, one.mtime_ns, one.digest) for one in seen]
    before = [(f.path, f.size, f.mtime_ns, f.digest) for f in known.values() if f.there]
    with studio.store.write() as db:
        if row.sent:
            paths = {one.path for one in seen}
            seen = [
                *seen,
                *(
                    Seen(f.path, f.size, f.mtime_ns, f.digest)
                    for f in known.values()
                    if f.taken is not None and f.path not in paths
                ),
            ]
        changed = sorted(now, key=str) != sorted(before, key=str)
        if changed or row.sent:
            put_seen(db, row.id, seen)
        shelf_of(studio).changes += changed and not row.sent
        take_what_is_here(db, row.id)


def _is_as_before(before: FileRow | None, file: TreeFile) -> bool:
    return (
        before is not None
        and before.digest is not None
        and (before.size, before.mtime_ns) == (file.size, file.mtime_ns)
    )


def _unread(path: str, error: OSError) -> Fact:
    if isinstance(error, TooLarge):
        return fact("parts.too_large", file=path, most_mb=STORED_SCORE_BYTES // MB)
    return fact("library.gone", file=path, reason=system_reason(error))


def _tell_unread(studio: Studio, row: FolderRow, errors: dict[str, Fact]) -> None:
    if not errors:
        return
    with studio.store.read() as db:
        files = [file for file in select_files(db, row.id) if file.path in errors]
    with kept(looks_file(studio)) as looked:
        looked.add_tasks("read", map(file_key, files))
        for file in files:
            looked.fail(file_key(file), errors[file.path], passing=True)


def _read(studio: Studio, job: Job) -> None:
    """Read every file that wasn't read yet, in processes beside: a hostile one ends its own."""
    with kept(looks_file(studio), begin=True) as looked:
        todo = _unread_files(studio, looked)
        if not todo:
            return
        shelf_of(studio).changes += 1
        looked.add_tasks("read", todo)
        workers = Here(max(1, processors() - 1), pdf=False)
        try:
            work = Work(looked, workers, job.tell, job.stop.is_set)
            tasks = (Reading(key, source) for key, source in todo.items())
            work.do("reading", tasks, len(todo), lambda o: looked.finish(o.task.key, o.value))
        finally:
            workers.close()


def _unread_files(studio: Studio, looked: Manifest) -> dict[str, Input]:
    found: dict[str, Input] = {}
    for row in list_folders(studio):
        root = folder_path(studio, row).absolute()
        with studio.store.read() as db:
            files = select_files(db, row.id)
        for file in files:
            if file.digest is None or not file.there:
                continue
            key = file_key(file)
            if looked.result(key) is None and looked.error(key) is None:
                found[key] = Input(str(root / file.path), own_name(file), file.digest)
    return found


# Taking in.


def _take(studio: Studio, row: FolderRow, file_ids: Sequence[int], job: Job) -> None:
    shelf = shelf_of(studio)
    shelf.last = None
    count, errors = 0, list[tuple[str, Fact]]()
    for number, file_id in enumerate(file_ids):
        if job.stop.is_set():
            break
        with studio.store.read() as db:
            file = find_file(db, file_id)
        if file is None or file.folder_id != row.id:
            continue
        job.tell("taking", number, len(file_ids))
        job.file = file.path
        try:
            take_file(studio, row, file)
            count += 1
        except HandslideError as error:
            errors.append((file.path, error.fact))
        except Exception:
            _log.exception("%s could not be taken in", file.path)
            errors.append((file.path, _BROKEN))
    shelf.last = TakenIn(row.id, count, tuple(errors), job.stop.is_set())
    shelf.changes += 1
    shelf.news[row.id] = len(look_into(studio, row.id).of("new", "changed"))


def take_file(studio: Studio, row: FolderRow, file: FileRow) -> None:
    """Take a file into the studio, with what was said of its parts.

    Of a file that has changed, what it was before is put away, unless it is on a stand or played in
    a take. Raises ScoreError, BadData, StoreError.
    """
    path = folder_path(studio, row) / file.path
    try:
        data = read_plain(path, STORED_SCORE_BYTES)
    except OSError as error:
        raise BadData("library.gone", file=file.path, reason=system_reason(error)) from None
    digest = hashlib.sha256(data).hexdigest()
    if digest != file.digest:
        raise BadData("library.changed_since", file=file.path)
    added = add_score(studio, data, PurePosixPath(file.path).name)
    with studio.store.write() as db:
        if file.takes:
            update_takes(db, added.score.id, file.takes)
        before = None if file.taken is None else find_score_by_digest(db, file.taken)
        if before is not None and before.id != added.score.id and not is_in_use(db, before.id):
            archive_score(studio, before.id)
        update_taken(db, {file.id: digest})
    if row.sent:
        path.unlink(missing_ok=True)


def sort_wanted(
    studio: Studio, folder_id: int, shown: Collection[int], ticked: Collection[int]
) -> tuple[list[int], list[int]]:
    """Of the files that a page showed: those to be taken in, and those left out by the teacher."""
    folder = look_into(studio, folder_id)
    open_ = [file.row.id for file in folder.of("new", "changed") if file.row.id in shown]
    return [one for one in open_ if one in ticked], [one for one in open_ if one not in ticked]
