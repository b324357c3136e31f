"""Marking a whole library: scan, read, choose, mark, tell; as often as one likes.

Everything that was done is known by what it depends on, so that a run makes only what is new, and
one that was cut off at any moment is gone on with.
"""

import contextlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from handslide.edges.files.filelock import hold
from handslide.edges.files.outfile import check_free, sweep_unfinished, write_result
from handslide.edges.files.partchoice import FILE_NAME as PARTS_FILE
from handslide.edges.files.partchoice import read_part_choices
from handslide.edges.files.plainfile import is_there, read_plain
from handslide.edges.files.tree import Tree, TreeFile, walk_tree
from handslide.edges.manifest.manifest import (
    FILE_NAME,
    Manifest,
    MarkedRow,
    SourceRow,
    TargetRow,
)
from handslide.ground.errors import BadData, OutputError
from handslide.ground.facts import Fact
from handslide.ground.limits import SCORE_BYTES
from handslide.ground.progress import ProgressCallback, silent
from handslide.ground.system import system_reason
from handslide.jobs.library.choosing import Chosen
from handslide.jobs.library.doing import Work
from handslide.jobs.library.planning import Plan, plan_targets, reading_key
from handslide.jobs.library.tables import write_tables
from handslide.jobs.library.wishes import LibraryWishes, check_folders, check_readers
from handslide.jobs.library.work import (
    Input,
    Made,
    Marking,
    Put,
    Reading,
    content_hash,
    put,
)
from handslide.jobs.library.workers import Here, Outcome, Task, Workers
from handslide.words.speech import Speech

LOCK_NAME = "library.lock"


@dataclass(frozen=True, slots=True)
class LibraryRun:
    """What a run came to.

    ``made`` parts were marked now and ``copied`` put into place without; ``counts`` says how all
    parts that are wanted stand. ``chosen`` are all parts of the files that could be read,
    ``problems`` files that couldn't be, or of which a person asked for what isn't there; ``failed``
    are parts that couldn't be marked.
    ``stopped``: somebody ended it before its time.
    """

    folder: Path
    files: int
    odd: int
    closed: int
    made: int
    copied: int
    counts: dict[str, int]
    chosen: tuple[tuple[str, Chosen], ...]
    problems: tuple[tuple[str, Fact], ...]
    failed: tuple[tuple[MarkedRow, Fact], ...]
    stopped: bool = False
    rehearsed: bool = False


def mark_library(
    wishes: LibraryWishes,
    say: Speech,
    *,
    progress: ProgressCallback | None = None,
    stop: Callable[[], bool] = lambda: False,
    rehearse: bool = False,
) -> LibraryRun:
    """Mark what isn't marked yet. ``stop`` says whether somebody wants to end it: then what is
    under way is still finished. ``rehearse``: read the files, and say what would be made.

    Raises
    ------
    BadUsage, BadData
        Folders that don't fit, files whose reader isn't installed, a library that can't be opened,
        a wrong file of parts; a cluster that can't be reached, or no longer: what was under way is
        to do again.
    OutputError
        When the folder can't be written to, or another run is in it.
    StoreError
        When the manifest can't be used.
    """
    check_folders(wishes.source, wishes.folder)
    choices = read_part_choices(wishes.source / PARTS_FILE).and_then(
        read_part_choices(wishes.folder / PARTS_FILE)
    )
    tree = walk_tree(wishes.source, wishes.endings, without=wishes.folder)
    with _manifest(wishes.folder, rehearse) as manifest:
        run = _Run(wishes, manifest, progress or silent, stop, rehearse)
        with contextlib.closing(run):
            run.sweep()
            if wishes.retry_errors:
                manifest.retry_errors()
            sources = run.look(tree)
            run.read()
            read = {row.key: found for row in sources if (found := manifest.result(row.key))}
            plan = plan_targets(wishes, sources, read, choices)
            manifest.plan(plan.targets, {player.label: player.json for player in wishes.players})
            run.restore()
            if not rehearse:
                run.mark(plan)
            return run.result(say, tree, plan)


@contextlib.contextmanager
def _manifest(folder: Path, rehearse: bool) -> Iterator[Manifest]:
    with contextlib.ExitStack() as stack:
        path = folder / FILE_NAME
        if rehearse:
            manifest = Manifest.rehearse(path)
        else:
            try:
                stack.enter_context(hold(folder / LOCK_NAME, 0.0))
            except OutputError as error:
                if error.fact.kind != "files.held":
                    raise
                raise OutputError("library.second", folder=str(folder)) from None
            manifest = Manifest.open(path)
        yield stack.enter_context(contextlib.closing(manifest))


@dataclass
class _Run:
    wishes: LibraryWishes
    manifest: Manifest
    progress: ProgressCallback
    stop: Callable[[], bool]
    rehearse: bool
    made: int = 0
    copied: int = 0
    stopped: bool = False
    _workers: Workers | None = None
    _written: set[Path] = field(default_factory=set)

    def close(self) -> None:
        """End the workers, and take away what they left unfinished."""
        if self._workers is not None:
            self._workers.close()
        for folder in self._written:
            sweep_unfinished(folder)

    def sweep(self) -> None:
        """Take away what a run that was killed left unfinished."""
        if self.rehearse:
            return
        folders = {self._file(target.path).parent for target in self.manifest.targets(placed=False)}
        for folder in {self.wishes.folder, *folders}:
            sweep_unfinished(folder)

    # Reading.

    def look(self, tree: Tree) -> list[SourceRow]:
        """The files as they are now, read only where they have changed."""
        known = self.manifest.sources()
        rows, errors = [], {}
        for done, file in enumerate(tree.files):
            self.progress("looking", done, len(tree.files))
            row = known.get(file.path)
            if (
                row is None
                or (row.size, row.mtime_ns) != (file.size, file.mtime_ns)
                or not row.hash
            ):
                row, error = self._looked_at(file)
                if error is not None:
                    errors[row.key] = error
            rows.append(row)
        self.manifest.keep_sources(rows)
        self.manifest.add_tasks("read", (row.key for row in rows))
        for key, why in errors.items():
            self.manifest.fail(key, why, passing=True)
        return rows

    def _looked_at(self, file: TreeFile) -> tuple[SourceRow, Fact | None]:
        try:
            content = content_hash(read_plain(self.wishes.source / file.path, SCORE_BYTES))
            key = reading_key(content, file.path)
            return SourceRow(file.path, file.size, file.mtime_ns, content, key), None
        except OSError as error:
            told = BadData("library.gone", file=file.path, reason=system_reason(error)).fact
            key = reading_key(f"? {file.path}", file.path)
            return SourceRow(file.path, file.size, file.mtime_ns, "", key), told

    def read(self) -> None:
        """Read every content that isn't known."""
        rows = self.manifest.reads_to_do()
        if self.wishes.scheduler is None:
            check_readers([row.path for row in rows])
        tasks = (Reading(row.key, self._input(row.path, row.hash)) for row in rows)
        self._work("reading", tasks, len(rows), self._was_read)

    def _was_read(self, outcome: Outcome) -> None:
        self.manifest.finish(outcome.task.key, outcome.value)

    def _input(self, path: str, content: str) -> Input:
        whole = self.wishes.source.absolute() / path
        return Input(str(whole), PurePosixPath(path).name, content)

    # Marking.

    def restore(self) -> None:
        """Put what is marked already where it is missing: moved files, files of equal content."""
        gone = [
            target.path
            for target in self.manifest.targets(wanted=True, placed=True)
            if not self._are_there(target.path, self._endings(target.key))
        ]
        self.manifest.place(gone, placed=False)
        lost = set()
        for target in self.manifest.targets(wanted=True, placed=False):
            endings = self._endings(target.key)
            if endings and not self._fill(target, endings):
                lost.add(target.key)
        self.manifest.undo(lost)

    def _endings(self, key: str) -> tuple[str, ...]:
        """The endings of a marked part's files; none where it isn't done."""
        found = self.manifest.result(key)
        return () if found is None else tuple(found["endings"])

    def _fill(self, target: TargetRow, endings: tuple[str, ...]) -> bool:
        """Bring the files of a target from another place; False where there is none."""
        others = [
            other
            for other in self.manifest.targets(target.key, placed=True)
            if self._are_there(other.path, endings)
        ]
        if not others:
            return False
        wanted = {row.path for row in self.manifest.targets(target.key, wanted=True)}
        old = next((other for other in others if other.path not in wanted), None)
        self.copied += 1
        if self.rehearse:
            return True
        ours = target.ours or self.wishes.force
        try:
            for ending in endings:
                new = self._file(target.path + ending)
                check_free(new, force=ours)
            self.manifest.claim([target.path])
            for ending in endings:
                new = self._file(target.path + ending)
                source = self._file((old or others[0]).path + ending)
                write_result(new, source.read_bytes(), force=ours)
        except OutputError as error:
            self.copied -= 1
            self.manifest.refuse(target.path, error.fact)
            return True
        except OSError:  # it went away under our hands
            self.copied -= 1
            return False
        self.manifest.place([target.path])
        if old is not None:
            self._clear(old.path, endings)
        return True

    def _clear(self, path: str, endings: tuple[str, ...]) -> None:
        """Take away the files of a source that was moved."""
        self.manifest.place([path], placed=False)
        with contextlib.suppress(OSError):
            for ending in endings:
                self._file(path + ending).unlink(missing_ok=True)
            for folder in self._file(path).parents:
                if folder == self.wishes.folder:
                    break
                folder.rmdir()

    def mark(self, plan: Plan) -> None:
        """Mark every part that is to do."""
        keys = self.manifest.marks_to_do()
        hashes = {row.path: row.hash for row in self.manifest.sources().values()}
        players = {player.label: player.played for player in self.wishes.players}

        def tasks() -> Iterator[Task]:
            for key in keys:
                target = self._open_target(key)
                if target is not None:
                    self.manifest.claim([target.path])
                    # A worker that dies may leave something, also one that is replaced unasked.
                    self._written.add(self._file(target.path).parent)
                    source = self._input(target.source, hashes[target.source])
                    yield Marking(
                        key, source, players[target.player], plan.options[key], self.wishes.pdf,
                        str(self._file(target.path).absolute()),
                    )  # fmt: skip

        self._work("marking", tasks(), len(keys), self._was_marked)

    def _open_target(self, key: str) -> TargetRow | None:
        """Where a task's files are to be written first; None where everything is taken."""
        for target in self.manifest.targets(key, wanted=True, placed=False):
            if target.ours or self.wishes.force:
                return target
            try:
                for ending in self._possible_endings(target):
                    check_free(self._file(f"{target.path}-marked{ending}"))
            except OutputError as error:
                self.manifest.refuse(target.path, error.fact)
            else:
                return target
        return None

    def _possible_endings(self, target: TargetRow) -> tuple[str, ...]:
        print_ = (".pdf", "-report.pdf") if self.wishes.pdf else ()
        return (PurePosixPath(target.source).suffix, ".musicxml", *print_)

    def _was_marked(self, outcome: Outcome) -> None:
        task, value = outcome.task, outcome.value
        assert isinstance(task, Marking)
        if isinstance(value, Made):
            value = put(value, task.target)
        assert isinstance(value, Put)
        kept = {"endings": list(value.endings), "grade": value.grade}
        self.manifest.finish(task.key, kept, value.figures)
        self.made += 1
        waiting = self.manifest.targets(task.key, wanted=True, placed=False)
        written = [row for row in waiting if str(self._file(row.path).absolute()) == task.target]
        self.manifest.place([row.path for row in written])
        for row in waiting:
            if row not in written:
                self._fill(row, value.endings)

    def _file(self, path: str) -> Path:
        return self.wishes.folder / path

    def _are_there(self, path: str, endings: Iterable[str]) -> bool:
        return all(is_there(self._file(path + ending)) for ending in endings)

    # Work.

    def _work(
        self, stage: str, tasks: Iterator[Task], count: int, done: Callable[[Outcome], None]
    ) -> None:
        if count:
            work = Work(self.manifest, self._hired(), self.progress, self.stop)
            work.do(stage, tasks, count, done)
            self.stopped = self.stopped or work.stopped

    def _hired(self) -> Workers:
        if self._workers is None:
            if self.wishes.scheduler is not None:
                from handslide.jobs.library.remote import There

                self._workers = There(self.wishes.scheduler)
            else:
                self._workers = Here(self.wishes.workers, pdf=self.wishes.pdf)
        return self._workers

    # The end.

    def result(self, say: Speech, tree: Tree, plan: Plan) -> LibraryRun:
        """What came of it; its tables are written."""
        found = [*self.manifest.unreadable(), *plan.problems]
        problems = tuple(sorted(found, key=lambda row: row[0]))
        if not self.rehearse:
            write_tables(say, self.wishes.folder, self.manifest, plan.chosen, problems)
        failed = tuple(
            (row, row.error)
            for row in self.manifest.marked()
            if row.state == "error" and row.error is not None
        )
        return LibraryRun(
            self.wishes.folder, len(tree.files), tree.odd, tree.closed, self.made, self.copied,
            self.manifest.counts(), plan.chosen, problems, failed, self.stopped, self.rehearse,
        )  # fmt: skip
