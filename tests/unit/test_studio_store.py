"""The studio's store: transactions, threads, migrations, damage, disks that don't take it."""

import gzip
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import threading
import zipfile
from contextlib import closing, suppress
from functools import partial
from pathlib import Path

import pytest
from studio_pages import studio
from studio_versions import FOLDER, content, dump, fill, undump

from handslide.edges.store import database as store_module
from handslide.edges.store.copies import backups_in
from handslide.edges.store.database import FILE_NAME, Store
from handslide.edges.store.oldreports import report_of_version_1
from handslide.edges.store.schema import APPLICATION_ID, migrate, migrations
from handslide.ground.errors import StoreError
from handslide.ground.facts import fact
from handslide.studio.care.archive import export_archive
from handslide.studio.care.archiveimport import add_students, read_archive
from handslide.studio.care.backups import make_backup, recover
from handslide.studio.people.students import get_student, list_versions, main_horn, setup_for
from handslide.studio.studio import get_setting, open_studio, set_setting
from handslide.studio.takes.takes import get_take, list_takes
from handslide.words.speech import speech

VERSIONS = sorted(FOLDER.glob("version-*.sql"))
# A version that doesn't exist yet: a table rebuilt, one more, rows moved.
NEXT = """
CREATE TABLE setting_new (key TEXT PRIMARY KEY, value TEXT NOT NULL, since TEXT) STRICT;
INSERT INTO setting_new (key, value) SELECT key, value FROM setting; -- a remark; with this
DROP TABLE setting;
ALTER TABLE setting_new RENAME TO setting;
ALTER TABLE student ADD COLUMN phone TEXT;
CREATE TABLE lesson (id INTEGER PRIMARY KEY, student_id INTEGER NOT NULL
    REFERENCES student (id) ON DELETE CASCADE, held_on TEXT NOT NULL) STRICT;
INSERT INTO lesson (student_id, held_on) SELECT id, substr(created_at, 1, 10) FROM student;
"""
WITH_NEXT = [*migrations(), NEXT]

__all__ = ["studio"]


def run(code, *args, **options):
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, args)],
        capture_output=True, text=True, timeout=120, **options,
    )  # fmt: skip


def version_of(path):
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        return db.execute("PRAGMA user_version").fetchone()[0]


def settings(store):
    with store.read() as db:
        return dict(map(tuple, db.execute("SELECT key, value FROM setting")))


# Blocks.


def test_a_block_is_kept_whole_or_not_at_all(studio):
    set_setting(studio, "a", "1")
    with pytest.raises(KeyError), studio.store.write() as db:
        db.execute("INSERT INTO setting VALUES ('b', '2')")
        raise KeyError
    assert settings(studio.store) == {"a": "1"}


def test_an_inner_block_that_fails_is_undone_by_itself(studio):
    with studio.store.write() as db:
        db.execute("INSERT INTO setting VALUES ('a', '1')")
        with pytest.raises(KeyError), studio.store.write() as inner:
            inner.execute("INSERT INTO setting VALUES ('b', '2')")
            raise KeyError
        set_setting(studio, "c", "3")
    assert settings(studio.store) == {"a": "1", "c": "3"}


def test_threads_that_come_and_go_leave_no_connections_open(studio):
    errors = []

    def work(k):
        try:
            set_setting(studio, f"k{k}", str(k))
            assert get_setting(studio, f"k{k}", "") == str(k)
        except BaseException as error:
            errors.append(error)

    for start in range(0, 60, 20):
        threads = [threading.Thread(target=work, args=(k,)) for k in range(start, start + 20)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert errors == []
    assert len(settings(studio.store)) == 60
    # The file, its log and the log's index for each of the twenty that were there at once: SQLite
    # puts off closing a file while a neighbour holds a lock on it. Sixty would be a leak.
    assert len(open_files(studio.folder)) <= 3 * 20


def open_files(folder):
    """This process's open files in ``folder``; none where the system doesn't list them."""
    handles = Path("/proc/self/fd")
    found = []
    for handle in handles.iterdir() if handles.is_dir() else ():
        with suppress(OSError):  # the handle of this very listing
            found.append(handle.readlink())
    return [path for path in found if path.is_relative_to(folder)]


def test_a_closed_store_says_so(studio):
    studio.close()
    with pytest.raises(StoreError, match="was closed"):
        set_setting(studio, "a", "1")


def test_only_the_owner_may_read_the_files(studio):
    set_setting(studio, "a", "1")
    fill(studio)
    made = make_backup(studio)
    for path in [studio.store.path, studio.store.path.with_name("studio.db-wal"), made]:
        assert path.stat().st_mode & 0o077 == 0, path


# Schema versions.


def test_there_is_a_file_of_every_version():
    assert [path.stem for path in VERSIONS] == [
        f"version-{k + 1}" for k in range(len(migrations()))
    ]


@pytest.mark.parametrize("file", VERSIONS, ids=lambda path: path.stem)
def test_studios_of_every_version_open(file, tmp_path):
    undump(file.read_text(encoding="utf-8"), tmp_path / FILE_NAME)
    opened = open_studio(tmp_path)
    try:
        student = get_student(opened, 1)
        assert (student.name, student.reach, student.keep_recordings) == ("Mira Holt", 6, True)
        assert setup_for(student, main_horn(opened, 1)).horn.called
        assert get_setting(opened, "language", "") == "de"
        with opened.store.read() as db:
            assert db.execute("SELECT count(*) FROM recording").fetchone()[0] == 1
            assert db.execute("SELECT cents FROM take_note").fetchone()[0] == -3.5
    finally:
        opened.close()
    assert version_of(tmp_path / FILE_NAME) == len(migrations())


@pytest.mark.parametrize("file", VERSIONS, ids=lambda path: path.stem)
def test_what_stands_there_stays_and_another_part_can_stand_beside_it(file, tmp_path):
    path = undump(file.read_text(encoding="utf-8"), tmp_path / FILE_NAME)
    kept = "SELECT id, student_id, horn_id, score_id, part, tempo_qpm, edits_done FROM stand"
    of_it = [f"SELECT * FROM {name}" for name in ("stand_lock", "stand_edit")]
    with closing(sqlite3.connect(path)) as old:
        before = [old.execute(one).fetchall() for one in (kept, *of_it)]
    Store(path).close()
    with closing(sqlite3.connect(path, isolation_level=None)) as new:
        new.execute("PRAGMA foreign_keys = ON")
        assert [new.execute(one).fetchall() for one in (kept, *of_it)] == before
        assert before[0] and all(before)
        names = "student_id, horn_id, score_id, created_at, opened_at"
        beside = f"INSERT INTO stand (part, {names}) SELECT 'P2', {names} FROM stand WHERE id = 1"
        new.execute(beside)
        with pytest.raises(sqlite3.IntegrityError, match="UNIQUE"):
            new.execute(beside)
        # What belongs to a stand still goes with it.
        new.execute("DELETE FROM stand WHERE id = 1")
        assert [new.execute(one).fetchall() for one in of_it] == [[], []]


@pytest.mark.parametrize("file", VERSIONS, ids=lambda path: path.stem)
def test_a_released_migration_is_never_changed(file, tmp_path):
    number = int(file.stem.removeprefix("version-"))
    tables = "SELECT name, sql FROM sqlite_schema ORDER BY name"
    with (
        closing(
            sqlite3.connect(undump(file.read_text(encoding="utf-8"), tmp_path / "a.db"))
        ) as old,
        closing(sqlite3.connect(":memory:", isolation_level=None)) as new,
    ):
        migrate(new, migrations()[:number])
        assert old.execute(tables).fetchall() == new.execute(tables).fetchall()


def test_a_new_database_is_as_if_all_steps_had_been_gone():
    """One after the other, on an empty database each, against the tables that are made at once."""
    tables = "SELECT name, tbl_name, type, sql FROM sqlite_schema ORDER BY rowid"
    with (
        closing(sqlite3.connect(":memory:", isolation_level=None)) as slowly,
        closing(sqlite3.connect(":memory:", isolation_level=None)) as once,
    ):
        for number in range(1, len(migrations()) + 1):
            migrate(slowly, migrations()[:number])
        migrate(once, migrations())
        assert slowly.execute(tables).fetchall() == once.execute(tables).fetchall()
        assert content(slowly) == content(once)
        assert not any(content(slowly).values())  # a step that puts rows in needs another way


def old_studio(folder):
    return undump(VERSIONS[-1].read_text(encoding="utf-8"), folder / FILE_NAME)


# From version 1 to version 2: sentences become facts.


@pytest.fixture
def first(tmp_path):
    """A studio of version 1 with takes of every kind, and horns with a history."""
    path = undump(VERSIONS[0].read_text(encoding="utf-8"), tmp_path / "first" / FILE_NAME)
    reports = old_reports()
    with closing(sqlite3.connect(path)) as db:
        db.executemany(
            "INSERT INTO take (student_id, title, source, a4_hz, length_s, report, recorded_at, "
            "created_at) VALUES (1, 'x', 'file', 440, 1, ?, '2026-01-01', '2026-01-01')",
            [(json.dumps(report),) for report in reports],
        )
        db.executemany(
            "INSERT INTO horn_version (horn_id, number, toml, origin, words, created_at) "
            "SELECT horn_id, ?, toml, ?, ?, created_at FROM horn_version WHERE number = 1",
            [(2, "edit", "slide measured; again"), (3, "restored", "1"), (4, "edit", "")],
        )
        db.commit()
    return path


def old_reports():
    data = json.loads(gzip.decompress((FOLDER / "example-form-1.json.gz").read_bytes()))
    return [take["report"] for student in data["students"] for take in student["takes"]]


def test_what_version_1_told_in_sentences_is_told_as_facts(first):
    opened = open_studio(first.parent)
    try:
        versions = list_versions(opened, 1)
        assert [version.told for version in versions] == [
            None, fact("people.restored", number=1),
            fact("people.as_told", text="slide measured; again"), None,
        ]  # fmt: skip
        takes = [get_take(opened, line.id).report for line in list_takes(opened, 1)]
        for old in old_reports():
            assert report_of_version_1(old) in takes
        assert get_student(opened, 1).language is None
    finally:
        opened.close()


def test_version_1_is_kept_among_the_backups(first):
    before = content(first)
    open_studio(first.parent).close()
    (backup,) = backups_in(first.parent)
    assert content(backup.path) == before and version_of(backup.path) == 1
    after = content(first)
    # What came later: how the part sounds, up to where it was looked at, what was learnt.
    assert after["stand"] == [
        (*row[:5], "", *row[5:8], None, row[8], None, None, *row[9:]) for row in before["stand"]
    ]
    # And what a PDF reads as: this is none; and which parts are a slide player's.
    assert after["score"] == [(*row, 0, 0, None) for row in before["score"]]
    for table in ("horn", "stand_lock", "stand_edit", "take_note", "recording"):
        assert after[table] == before[table]
    assert version_of(first) == len(migrations())


def test_an_archive_of_version_1_is_taken_in(first, tmp_path):
    opened = open_studio(first.parent)
    packed = tmp_path / "archive.zip"
    with packed.open("wb") as file:
        export_archive(opened, file, speech())
    opened.close()
    (backup,) = backups_in(first.parent)
    with closing(sqlite3.connect(backup.path)) as db:
        db.execute("DELETE FROM recording")
        db.execute("UPDATE take SET report = (SELECT min(report) FROM take) WHERE id = 1")
        db.commit()
    old = tmp_path / "old.zip"
    with zipfile.ZipFile(packed) as source, zipfile.ZipFile(old, "w") as target:
        for name in source.namelist():
            data = backup.path.read_bytes() if name == "studio.db" else source.read(name)
            target.writestr(name, data)
    other = open_studio(tmp_path / "other")
    try:
        with old.open("rb") as file:
            waiting = read_archive(other, file)
        assert add_students(other, waiting.token).students == 1
        reports = [get_take(other, line.id).report for line in list_takes(other, 1)]
        assert all(report_of_version_1(one) in reports for one in old_reports())
        assert list_versions(other, 1)[1].told == fact("people.restored", number=1)
    finally:
        other.close()


def test_the_way_to_version_2_is_undone_when_it_is_killed(first, tmp_path):
    before = content(first)
    for left in (2, 5, 8, 11, 20, 31):
        folder = tmp_path / str(left)
        folder.mkdir()
        shutil.copy(first, folder / FILE_NAME)
        killed = run(KILLED, folder / FILE_NAME, left)
        assert killed.returncode == -9, killed.stderr
        assert content(folder / FILE_NAME) == before
        assert version_of(folder / FILE_NAME) == 1
        open_studio(folder).close()
        assert version_of(folder / FILE_NAME) == len(migrations())


# A version more.


def test_a_migration_keeps_all_and_a_copy_of_what_was(tmp_path):
    path = old_studio(tmp_path)
    before = content(path)
    store = Store(path, steps=WITH_NEXT)
    try:
        assert settings(store) == {"language": "de", "learning": "yes"}
        with store.read() as db:
            held = db.execute("SELECT student_id, held_on FROM lesson").fetchall()
        assert [row["student_id"] for row in held] == [1]
    finally:
        store.close()
    after = content(path)
    assert {name for name in after if name not in before} == {"lesson"}
    for table in ("horn", "horn_version", "score", "stand", "take", "take_note", "recording"):
        assert after[table] == before[table]
    (backup,) = backups_in(tmp_path)
    assert backup.before == "before-migration"
    assert version_of(backup.path) == len(migrations())
    assert content(backup.path) == before
    assert not list(tmp_path.rglob("*.part"))


def test_a_new_studio_has_no_backup_of_nothing(tmp_path):
    Store(tmp_path / FILE_NAME, steps=WITH_NEXT).close()
    assert backups_in(tmp_path) == []


@pytest.mark.parametrize(
    ("script", "words"),
    [
        (NEXT + "CREATE TABLE lesson (id INTEGER);", "already exists"),
        (NEXT + "INSERT INTO lesson (student_id, held_on) VALUES (99, 'x');", "isn't there"),
    ],
)
def test_a_migration_that_fails_leaves_the_studio_as_it_was(tmp_path, script, words):
    path = old_studio(tmp_path)
    before = content(path)
    with pytest.raises(StoreError, match=words):
        Store(path, steps=[*migrations(), script])
    assert content(path) == before
    assert version_of(path) == len(migrations())


KILLED = """
import os, signal, sys
from pathlib import Path
from handslide.edges.store import database, schema
from handslide.edges.store.database import Store
left = int(sys.argv[2])
def count(statement):
    global left
    if left == 0:
        os.kill(os.getpid(), signal.SIGKILL)
    left -= 1
def counted(db, steps):
    db.set_trace_callback(count)
    schema.migrate(db, steps)
database.migrate = counted
Store(Path(sys.argv[1]), steps=[*schema.migrations(), *sys.argv[3:]])
"""


def test_a_migration_that_is_killed_anywhere_is_undone_and_done_at_the_next_start(tmp_path):
    path = old_studio(tmp_path / "old")
    before = content(path)
    for left in range(1, 14, 3):
        folder = tmp_path / str(left)
        folder.mkdir()
        shutil.copy(path, folder / FILE_NAME)
        killed = run(KILLED, folder / FILE_NAME, left, NEXT)
        assert killed.returncode == -9, killed.stderr
        assert content(folder / FILE_NAME) == before
        assert version_of(folder / FILE_NAME) == len(migrations())
        store = Store(folder / FILE_NAME, steps=WITH_NEXT)
        store.close()
        assert version_of(folder / FILE_NAME) == len(WITH_NEXT)
        assert len(content(folder / FILE_NAME)["lesson"]) == 1


def test_two_programs_that_migrate_at_once_do_it_once(tmp_path):
    path = old_studio(tmp_path)
    code = """
import sys
from pathlib import Path
from handslide.edges.store import schema
from handslide.edges.store.database import Store
sys.stdin.readline()
Store(Path(sys.argv[1]), steps=[*schema.migrations(), sys.argv[2]]).close()
"""
    both = [
        subprocess.Popen(
            [sys.executable, "-c", code, str(path), NEXT], text=True,
            stdin=subprocess.PIPE, stderr=subprocess.PIPE,
        )
        for _ in range(2)
    ]  # fmt: skip
    for one in both:
        one.stdin.write("\n")
        one.stdin.flush()
    said = [one.communicate(timeout=60)[1] for one in both]
    assert [one.returncode for one in both] == [0, 0], said
    assert version_of(path) == len(WITH_NEXT)
    assert len(content(path)["lesson"]) == 1


def test_sqlite_may_refuse_at_once_while_another_program_begins(tmp_path, monkeypatch):
    """Of two that put a file in WAL mode at one moment one is refused without any waiting."""
    path = old_studio(tmp_path)
    other = sqlite3.connect(path, isolation_level=None)
    refused = []

    class Met(sqlite3.Connection):
        def execute(self, sql, *values):
            if sql != "PRAGMA journal_mode = WAL" or refused:
                return super().execute(sql, *values)
            other.execute("BEGIN EXCLUSIVE")
            super().execute("PRAGMA busy_timeout = 0")
            try:
                return super().execute(sql)
            except sqlite3.OperationalError as error:
                refused.append(error.sqlite_errorcode)
                raise
            finally:
                other.execute("ROLLBACK")

    with closing(other):
        monkeypatch.setattr(sqlite3, "connect", partial(sqlite3.connect, factory=Met))
        Store(path).close()
    assert refused == [sqlite3.SQLITE_BUSY]


def test_a_studio_of_a_newer_handslide_is_left_alone(tmp_path):
    path = old_studio(tmp_path)
    Store(path, steps=WITH_NEXT).close()
    before = path.read_bytes()
    with pytest.raises(StoreError, match="newer handslide"):
        Store(path)
    assert recover(tmp_path) == (None, None)
    assert path.read_bytes() == before


def test_another_programs_database_is_left_alone(tmp_path):
    path = tmp_path / FILE_NAME
    with closing(sqlite3.connect(path)) as db:
        db.execute("CREATE TABLE stamps (id INTEGER)")
    before = path.read_bytes()
    with pytest.raises(StoreError, match="not a studio of handslide"):
        Store(path)
    assert recover(tmp_path) == (None, None)
    assert path.read_bytes() == before
    assert int.from_bytes(b"hsst") == APPLICATION_ID


# Damage.


def hurt(path, first=4096, last=None):
    data = bytearray(path.read_bytes())
    data[first:last] = b"\xa5" * len(data[first:last])
    path.write_bytes(data)


def two_backups(folder):
    opened = open_studio(folder)
    fill(opened)
    make_backup(opened)
    set_setting(opened, "language", "es")
    make_backup(opened)
    set_setting(opened, "language", "en")
    opened.close()
    newest, older = backups_in(folder)
    return newest.path, older.path


@pytest.mark.parametrize("how", ["pages", "head", "empty", "text", "gone"])
def test_a_damaged_studio_names_its_newest_good_backup(tmp_path, how):
    newest, _ = two_backups(tmp_path)
    path = tmp_path / FILE_NAME
    if how == "pages":
        hurt(path)
    elif how == "head":
        hurt(path, 0, 100)
    elif how == "gone":
        path.unlink()
    else:
        path.write_text("" if how == "empty" else "not a database at all\n" * 400)
    damaged = path.read_bytes() if path.exists() else None
    with pytest.raises(StoreError, match="is damaged") as caught:
        open_studio(tmp_path)
    assert newest.name in str(caught.value)
    assert "\n" not in str(caught.value)
    assert (path.read_bytes() if path.exists() else None) == damaged

    aside, name = recover(tmp_path)
    assert name == newest.name
    assert (aside and aside.read_bytes()) == damaged
    opened = open_studio(tmp_path)
    assert get_student(opened, 1).name == "Mira Holt"
    assert get_setting(opened, "language", "") == "es"
    opened.close()
    assert recover(tmp_path) == (None, None)


def test_a_damaged_backup_is_passed_over(tmp_path):
    newest, older = two_backups(tmp_path)
    hurt(newest)
    hurt(tmp_path / FILE_NAME)
    with pytest.raises(StoreError, match=older.name.replace(".", r"\.")):
        open_studio(tmp_path)
    assert recover(tmp_path)[1] == older.name


def test_damage_without_a_backup_says_what_can_be_done(tmp_path):
    open_studio(tmp_path).close()
    hurt(tmp_path / FILE_NAME)
    with pytest.raises(StoreError, match="no good backup"):
        open_studio(tmp_path)
    aside, name = recover(tmp_path)
    assert aside.exists() and name is None
    open_studio(tmp_path).close()


# The disk, and other programs.


def test_a_folder_that_cant_be_a_folder(tmp_path):
    (tmp_path / "file").write_text("here already")
    with pytest.raises(StoreError, match="can't open the studio"):
        open_studio(tmp_path / "file" / "studio")


@pytest.mark.parametrize("what", ["folder", "folder and file"])
def test_a_folder_that_cant_be_written_to(what):
    code = """
import os, sys
from pathlib import Path
from handslide.ground.errors import StoreError
from handslide.words.speech import speech
from handslide.edges.store.database import Store, migrations
scripts = migrations()
if os.geteuid() == 0:  # root may write everywhere: be somebody else
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
try:
    Store(Path(sys.argv[1]), steps=scripts)
except StoreError as error:
    print(speech("en").fact(error))
"""
    # Not below pytest's folder, which nobody else may enter.
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        open_studio(folder).close()
        if os.geteuid() == 0:
            os.chown(folder, 65534, 65534)
            os.chown(folder / FILE_NAME, 65534, 65534)
        (folder / FILE_NAME).chmod(0o600 if what == "folder" else 0o400)
        folder.chmod(0o500)
        done = run(code, folder / FILE_NAME)
        folder.chmod(0o700)
    assert done.returncode == 0, done.stderr
    assert "can't open the studio" in done.stdout
    assert "rights" in done.stdout
    assert done.stdout.count("\n") == 1


def test_a_full_disk_keeps_what_was_saved_and_goes_on_when_there_is_room(tmp_path):
    code = """
import resource, sys
from pathlib import Path
from handslide.ground.errors import StoreError
from handslide.words.speech import speech
from handslide.studio.studio import open_studio, get_setting, set_setting
studio = open_studio(Path(sys.argv[1]))
saved = []
resource.setrlimit(resource.RLIMIT_FSIZE, (400_000, resource.RLIM_INFINITY))
for k in range(40):
    try:
        set_setting(studio, f"k{k:02}", "x" * 30_000)
        saved.append(k)
    except StoreError as error:
        print(speech("en").fact(error))
        break
assert 3 < len(saved) < 40, saved
assert all(get_setting(studio, f"k{k:02}", "") for k in saved)
assert not get_setting(studio, f"k{len(saved):02}", "")
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
set_setting(studio, "after", "room again")
studio.close()
print(len(saved))
"""
    done = run(code, tmp_path)
    assert done.returncode == 0, done.stderr
    sentence, saved = done.stdout.splitlines()
    assert "nothing of it was kept" in sentence and "disk" in sentence
    with closing(sqlite3.connect(tmp_path / FILE_NAME)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert db.execute("SELECT count(*) FROM setting").fetchone()[0] == int(saved) + 1


def test_a_full_database_undoes_the_whole_block(studio):
    with studio.store.read() as db:
        pages = db.execute("PRAGMA page_count").fetchone()[0]
        db.execute(f"PRAGMA max_page_count = {pages + 5}")
    with pytest.raises(StoreError, match="disk is full"), studio.store.write() as db:
        db.execute("INSERT INTO setting VALUES ('first', '1')")
        db.execute("INSERT INTO setting VALUES ('big', ?)", ("x" * 100_000,))
    assert settings(studio.store) == {}
    set_setting(studio, "small", "fits")
    assert settings(studio.store) == {"small": "fits"}


def test_another_program_that_holds_the_studio(studio, monkeypatch):
    with closing(sqlite3.connect(studio.store.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with studio.store.read() as db:
            db.execute("PRAGMA busy_timeout = 100")
        with pytest.raises(StoreError, match="another program holds it"):
            set_setting(studio, "a", "1")
        other.execute("ROLLBACK")
    set_setting(studio, "a", "1")
    assert store_module._BUSY_S >= 5


def test_two_programs_write_to_one_studio(tmp_path):
    open_studio(tmp_path).close()
    code = """
import sys
from pathlib import Path
from handslide.studio.studio import open_studio, set_setting
studio = open_studio(Path(sys.argv[1]))
for k in range(50):
    set_setting(studio, f"{sys.argv[2]}{k}", "x")
studio.close()
"""
    both = [
        subprocess.Popen([sys.executable, "-c", code, str(tmp_path), name], stderr=subprocess.PIPE)
        for name in "ab"
    ]
    said = [one.communicate(timeout=60)[1] for one in both]
    assert [one.returncode for one in both] == [0, 0], said
    assert len(content(tmp_path / FILE_NAME)["setting"]) == 100


def test_a_dump_is_the_studio(tmp_path):
    opened = open_studio(tmp_path / "a")
    fill(opened)
    opened.close()
    copy = undump(dump(opened.store.path), tmp_path / "b" / FILE_NAME)
    assert content(copy) == content(opened.store.path)
