"""Folders that parts are taken in from: named by the teacher, or sent by a browser."""

import os
import secrets
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from handslide.edges.files.outfile import write_result
from handslide.edges.manifest.manifest import Manifest
from handslide.edges.store.folders import (
    FileRow,
    FolderRow,
    delete_folder,
    delete_gone,
    find_file,
    find_folder,
    put_folder,
    select_files,
    select_folders,
    update_file_takes,
)
from handslide.edges.store.scores import find_score_by_digest, select_digests, update_takes
from handslide.ground.cleantext import clean_line
from handslide.ground.errors import BadData, BadUsage, NotFound
from handslide.ground.facts import Fact
from handslide.ground.limits import FOLDERS_NAMED, MB, NAME_LETTERS, SENT_FOLDER_BYTES
from handslide.ground.system import system_reason
from handslide.jobs.library.choosing import Chosen
from handslide.jobs.library.planning import reading_key
from handslide.studio.library.kept import kept, looks_file
from handslide.studio.library.parts import chosen_of, looks_at
from handslide.studio.studio import Studio

SENT = "sent"  # in the studio's folder: what browsers sent


@dataclass(frozen=True, slots=True)
class FolderFile:
    """A file of a folder, and how it stands.

    ``state``: ``new``; ``changed`` since it was taken in; ``in``; ``left`` out by the teacher, or
    deleted among the parts; ``none`` of its parts is for a slide; ``error``, for what ``why`` says;
    ``gone``; ``unread`` as yet.
    """

    row: FileRow
    state: str
    parts: tuple[Chosen, ...] = ()
    why: Fact | None = None

    @property
    def taken(self) -> tuple[Chosen, ...]:
        """Its slide players' parts."""
        return tuple(part for part in self.parts if part.taken)


@dataclass(frozen=True, slots=True)
class Folder:
    """A folder with its files by path."""

    row: FolderRow
    files: tuple[FolderFile, ...]

    def of(self, *states: str) -> tuple[FolderFile, ...]:
        """Its files that stand so."""
        return tuple(file for file in self.files if file.state in states)


def name_folder(studio: Studio, text: str) -> int:
    """A folder of this machine, by its path as typed. Gives its id.

    Raises
    ------
    BadUsage, BadData
        A path that isn't whole, isn't a folder's or is the studio's own; too many folders.
    """
    typed = text.strip().strip("\"'")
    path = Path(os.path.normpath(Path(typed).expanduser())) if typed else Path()
    if not path.is_absolute() or "\0" in typed:
        raise BadUsage("library.whole_path", text=typed[:NAME_LETTERS])
    try:
        next(path.iterdir(), None)
    except OSError as error:
        reason = system_reason(error)
        raise BadData("library.folder", folder=str(path), reason=reason) from None
    ours, there = studio.folder.resolve(), path.resolve()
    if there == ours or ours in there.parents:
        raise BadUsage("library.own_folder", folder=str(path))
    return _put(studio, str(path), path.name or str(path), sent=False)


def begin_sent(studio: Studio, title: str) -> int:
    """A folder for what a browser is about to send. Gives its id. Raises BadData."""
    title = clean_line(title)[:NAME_LETTERS].strip() or "-"
    return _put(studio, secrets.token_hex(8), title, sent=True)


def _put(studio: Studio, path: str, title: str, *, sent: bool) -> int:
    with studio.store.write() as db:
        folder_id = put_folder(db, path, title, sent=sent)
        if len(select_folders(db)) > FOLDERS_NAMED:
            raise BadData("library.many_folders", most=FOLDERS_NAMED)
    return folder_id


def keep_sent(studio: Studio, folder_id: int, names: Sequence[str], data: bytes) -> None:
    """Keep a file that was sent under the ``names`` of its folders and its own, all cleaned.

    Raises BadData, NotFound, OutputError.
    """
    row = get_folder(studio, folder_id)
    if not row.sent:
        raise NotFound("library.no_such_folder")
    root = folder_path(studio, row)
    root.mkdir(mode=0o700, parents=True, exist_ok=True)
    room = SENT_FOLDER_BYTES - sum(file.stat().st_size for file in root.rglob("*"))
    if len(data) > room:
        raise BadData("library.sent_too_much", most_mb=SENT_FOLDER_BYTES // MB)
    place = root.joinpath(*names)
    place.parent.mkdir(parents=True, exist_ok=True)
    write_result(place, data, force=True)


def folder_path(studio: Studio, row: FolderRow) -> Path:
    """Where a folder lies."""
    return studio.folder / SENT / row.path if row.sent else Path(row.path)


def get_folder(studio: Studio, folder_id: int) -> FolderRow:
    """A folder. Raises NotFound."""
    with studio.store.read() as db:
        found = find_folder(db, folder_id)
    if found is None:
        raise NotFound("library.no_such_folder")
    return found


def list_folders(studio: Studio, *, sent_only: bool = False) -> tuple[FolderRow, ...]:
    """All folders, or only those that were sent."""
    with studio.store.read() as db:
        return tuple(row for row in select_folders(db) if row.sent or not sent_only)


def forget_folder(studio: Studio, folder_id: int) -> None:
    """Forget a folder; what was taken in stays, and so do its files, unless they were sent.

    Raises NotFound.
    """
    row = get_folder(studio, folder_id)
    with studio.store.write() as db:
        delete_folder(db, folder_id)
    if row.sent:
        shutil.rmtree(folder_path(studio, row), ignore_errors=True)


def forget_gone(studio: Studio, folder_id: int) -> None:
    """Forget the files of a folder that are gone. Raises NotFound."""
    get_folder(studio, folder_id)
    with studio.store.write() as db:
        delete_gone(db, folder_id)


def look_into(studio: Studio, folder_id: int) -> Folder:
    """A folder as it was last looked at. Raises NotFound, StoreError."""
    row = get_folder(studio, folder_id)
    with studio.store.read() as db:
        files, known = select_files(db, folder_id), select_digests(db)
    with kept(looks_file(studio)) as looked:
        return Folder(row, tuple(_file(studio, looked, file, known) for file in files))


def look_at_file(studio: Studio, file_id: int) -> tuple[FolderRow, FolderFile]:
    """A file with its folder. Raises NotFound, StoreError."""
    with studio.store.read() as db:
        file, known = find_file(db, file_id), select_digests(db)
    if file is None:
        raise NotFound("library.no_such_file")
    with kept(looks_file(studio)) as looked:
        return get_folder(studio, file.folder_id), _file(studio, looked, file, known)


def file_key(file: FileRow) -> str:
    """What looking at a file is known by."""
    return reading_key(file.digest or f"? {file.folder_id} {file.path}", file.path)


def _file(studio: Studio, looked: Manifest, file: FileRow, known: frozenset[str]) -> FolderFile:
    if not file.there:
        return FolderFile(file, "gone")
    key = file_key(file)
    looks = looks_at(studio, looked, key)
    why = looked.error(key) if looks is None else None
    parts = () if looks is None else chosen_of(looks, file.takes)
    if file.digest is not None and file.taken == file.digest:
        return FolderFile(file, "in" if file.digest in known else "left", parts)
    if why is not None:
        return FolderFile(file, "error", (), why)
    if looks is None:
        return FolderFile(file, "unread")
    if file.takes == ():
        return FolderFile(file, "left", parts)
    if not any(part.taken for part in parts):
        return FolderFile(file, "none", parts)
    return FolderFile(file, "new" if file.taken is None else "changed", parts)


def correct_file(studio: Studio, file_id: int, part_ids: Sequence[str]) -> int:
    """Say which parts of a file are a slide player's; none: it is left out. Gives its folder's id.

    Of a file that was taken in, the part among the parts is changed too. Raises NotFound.
    """
    with studio.store.write() as db:
        file = find_file(db, file_id)
        if file is None:
            raise NotFound("library.no_such_file")
        update_file_takes(db, file_id, part_ids)
        score = None if file.taken is None else find_score_by_digest(db, file.taken)
        if score is not None and part_ids:
            update_takes(db, score.id, part_ids)
    return file.folder_id


def leave_out(studio: Studio, file_ids: Sequence[int]) -> None:
    """These files aren't wanted: they aren't offered again."""
    with studio.store.write() as db:
        for file_id in file_ids:
            update_file_takes(db, file_id, ())


def own_name(file: FileRow) -> str:
    """The name of a file without its folders."""
    return PurePosixPath(file.path).name
