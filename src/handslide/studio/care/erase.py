"""Erasing for good: out of the studio, out of every backup, without remains in any file.

The backups come first and the studio last: when the program is killed in between, what was to go is
still there to be erased again. Archives that were exported elsewhere can't be reached.
"""

from contextlib import closing
from dataclasses import dataclass

from handslide.edges.store.checks import check_file, damage_of
from handslide.edges.store.connection import connect_file
from handslide.edges.store.copies import backups_in, clear_parts, damaged_in, remove_database
from handslide.edges.store.database import telling
from handslide.edges.store.erasing import (
    Deletion,
    delete_in_file,
    recording_deletion,
    recordings_deletion,
    student_deletion,
    take_deletion,
)
from handslide.edges.store.horns import select_horns
from handslide.edges.store.recordings import number_of_recordings
from handslide.edges.store.stands import number_of_stands
from handslide.edges.store.students import has_student
from handslide.edges.store.takes import TakeKey, find_take_key, number_of_takes
from handslide.ground.errors import NotFound, StoreError
from handslide.studio.care.backups import CARE, make_backup
from handslide.studio.learning.background import learn_later
from handslide.studio.library.grading import forget_grades
from handslide.studio.people.students import get_student
from handslide.studio.studio import Studio
from handslide.studio.takes.sound import forget_sound, forget_sounds


@dataclass(frozen=True, slots=True)
class ErasePreview:
    """What goes when a student is erased."""

    horns: int
    stands: int
    takes: int
    recordings: int
    backups: int
    """Backup files that the student is taken out of."""


def erase_preview(studio: Studio, student_id: int) -> ErasePreview:
    """What would go with a student. Raises NotFound."""
    uid = _uid(studio, student_id)
    with studio.store.read() as db:
        horns = len(select_horns(db, student_id, archived=False))
        horns += len(select_horns(db, student_id, archived=True))
        stands = number_of_stands(db, student_id)
        takes = number_of_takes(db, student_id)
        recordings = number_of_recordings(db, student_id)
    backups = 0
    for found in backups_in(studio.folder):
        try:
            check_file(found.path)
            with closing(connect_file(found.path)) as db:
                backups += has_student(db, uid)
        except StoreError:
            backups += 1  # a damaged one goes as a whole
    return ErasePreview(horns, stands, takes, recordings, backups)


def erase_student(studio: Studio, student_id: int) -> None:
    """Erase a student with all horns, stands, takes and recordings, here and in every backup.

    Damaged files that were put aside are removed whole. Raises NotFound, StoreError.
    """
    with CARE:
        uid = _uid(studio, student_id)
        make_backup(studio, "erasing")
        _erase(studio, student_deletion(uid))
        studio.caches.forget_student(student_id)
        forget_grades(studio, student_id)
    learn_later(studio)


def erase_take(studio: Studio, take_id: int) -> None:
    """Erase a take with its recording, in memory, here and in every backup.

    Raises NotFound, StoreError.
    """
    forget_sound(studio, take_id)
    _erase(studio, take_deletion(_key_of(studio, take_id)))


def erase_recording(studio: Studio, take_id: int) -> None:
    """Erase the recording of a take, in memory, here and in every backup; the take stays.

    Raises NotFound, StoreError.
    """
    forget_sound(studio, take_id)
    _erase(studio, recording_deletion(_key_of(studio, take_id)))


def erase_recordings(studio: Studio, student_id: int | None = None) -> None:
    """Erase all recordings of a student, or of all students; the takes stay.

    What is only in memory, for playing notes back, goes too.

    Raises NotFound, StoreError.
    """
    forget_sounds(studio, all_of_them=student_id is None, student_id=student_id)
    uid = None if student_id is None else _uid(studio, student_id)
    _erase(studio, recordings_deletion(uid))


def _uid(studio: Studio, student_id: int) -> str:
    return get_student(studio, student_id).uid


def _key_of(studio: Studio, take_id: int) -> TakeKey:
    with studio.store.read() as db:
        key = find_take_key(db, take_id)
    if key is None:
        raise NotFound("takes.gone")
    return key


def _erase(studio: Studio, delete: Deletion) -> None:
    with telling("studio.not_all_erased"), CARE:
        clear_parts(studio.folder)
        for path in damaged_in(studio.folder):
            remove_database(path)
        for found in backups_in(studio.folder):
            if damage_of(found.path) is not None:
                remove_database(found.path)  # what can't be read can't be cleaned
                continue
            check_file(found.path)  # one of a newer form isn't ours to change
            delete_in_file(found.path, delete)
        with studio.store.write() as db:
            delete(db)
        forget_sounds(studio)
        studio.caches.empty()
        if not studio.store.tidy():
            raise StoreError("studio.remains_in_log")
