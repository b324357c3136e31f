"""The data is the teacher's: archives, backups, erasing for good, and the page that does it."""

import csv
import io
import json
import re
import sqlite3
import time
import zipfile
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
import sampling
from shares import share_of
from studio_pages import client, studio, words
from studio_versions import SOUND, content, fill, small_report, small_score

from handslide.edges.files.horns import read_horn
from handslide.edges.files.safename import safe_name
from handslide.edges.store import copies as storefiles
from handslide.edges.store import rowforms
from handslide.edges.store.checks import tables_of
from handslide.edges.store.copies import BackupName, backups_in, put_aside
from handslide.edges.store.students import StudentValues
from handslide.ground.errors import BadData, NotFound, StoreError
from handslide.ground.limits import BACKUPS_BEFORE
from handslide.studio.care import archiveimport as archive_in
from handslide.studio.care.archive import export_archive
from handslide.studio.care.archiveimport import (
    add_students,
    forget_archive,
    read_archive,
    replace_all,
    waiting,
)
from handslide.studio.care.backups import (
    clear_unfinished,
    daily_backup,
    keep_backups,
    list_backups,
    make_backup,
    restore_backup,
    try_daily_backup,
)
from handslide.studio.care.daily import Daily
from handslide.studio.care.erase import (
    erase_preview,
    erase_recording,
    erase_recordings,
    erase_student,
    erase_take,
)
from handslide.studio.care.example import add_example
from handslide.studio.care.kept import kept_of
from handslide.studio.parts.scores import add_score
from handslide.studio.people.students import add_student, change_student, list_students
from handslide.studio.preferences import Preferences, prefer, preferences
from handslide.studio.studio import get_setting, open_studio, set_setting
from handslide.words.catalogues import languages
from handslide.words.speech import speech

__all__ = ["studio"]


@pytest.fixture
def other(tmp_path):
    made = open_studio(tmp_path / "other")
    yield made
    made.close()


def packed(studio, **options):
    file = io.BytesIO()
    export_archive(studio, file, speech(), **options)
    file.seek(0)
    return file


def repacked(file, change):
    """The archive with its entries changed: ``change`` maps a name to bytes or None (left out)."""
    made = io.BytesIO()
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        entries = {info.filename: old.read(info) for info in old.infolist()}
        for name, data in {**entries, **change}.items():
            if data is not None:
                new.writestr(name, data)
    made.seek(0)
    return made


def rows(studio):
    return content(studio.store.path)


def travels(studio):
    """All rows but those of folders, which are of one machine."""
    return rows(studio) | {"folder": [], "folder_file": []}


def names(studio):
    return [student.name for student in list_students(studio)]


def nothing_left(folder):
    """No work in progress, no log of a backup."""
    return not [p for p in folder.rglob("*") if p.name.endswith((".part", "-journal"))]


def found_in(folder, needle):
    """Files in which the bytes occur, in their name or in their content."""
    return [
        path for path in folder.rglob("*")
        if needle in path.name.encode() or (path.is_file() and needle in path.read_bytes())
    ]  # fmt: skip


# Archives.


def test_a_studio_comes_back_from_its_archive_as_it_was(studio, other):
    fill(studio)
    fill(studio, "Jonas Brand", "Five steps", SOUND[::-1])
    set_setting(studio, "language", "de")
    add_student(other, StudentValues("Somebody else"))
    assert rows(studio)["folder_file"]
    before = travels(studio)
    found = read_archive(other, packed(studio))
    assert found.students == ("Jonas Brand", "Mira Holt")
    assert (found.here, found.scores, found.takes, found.recordings) == ((), 2, 2, 2)
    made = replace_all(other, found.token)
    assert rows(other) == before
    assert [row[2] for row in content(made)["student"]] == ["Somebody else"]
    assert nothing_left(other.folder)


def test_the_archive_has_copies_that_people_can_read(studio):
    ids = fill(studio)
    with zipfile.ZipFile(packed(studio)) as archive:
        entries = archive.namelist()
        folder = f"students/Mira Holt-{ids['student']}"
        horn = archive.read(f"{folder}/horns/Horn of Mira Holt-{ids['horn']}.toml").decode()
        assert read_horn(horn, "x").valves[0].name == "F"
        take = f"{folder}/takes/{date.today()} Four steps by Mira Holt-{ids['take']}"
        assert archive.read(f"{take}.flac") == SOUND
        assert json.loads(archive.read(f"{take}.json"))["of"] == "Mira Holt"
        notes = list(csv.DictReader(io.StringIO(archive.read(f"{take}.csv").decode())))
        assert [note["cents"] for note in notes] == ["'-3.5"] or notes[0]["cents"] == "-3.5"
        assert archive.read(f"parts/Four steps-{ids['score']}.musicxml") == small_score(
            "Four steps"
        )
        students = list(csv.DictReader(io.StringIO(archive.read("students.csv").decode())))
        assert students[0]["name"] == "Mira Holt"
        stands = list(csv.DictReader(io.StringIO(archive.read(f"{folder}/stands.csv").decode())))
        assert (stands[0]["part_title"], stands[0]["chosen_places"]) == ("Four steps", "1")
        assert stands[0]["looked_at_to_note"] == "3"
        assert "SQLite" in archive.read("README.txt").decode()
        # The recording is there once, not in the database as well.
        assert SOUND not in archive.read("studio.db")
    assert all("-wal" not in entry for entry in entries)


def test_names_in_the_archive_are_safe(studio):
    nasty = "../../=evil\\x:*?<>|\u202e.txt"
    ids = fill(studio, "../../..")
    with studio.store.write() as db:
        db.execute("UPDATE student SET name = ? WHERE id = ?", (nasty, ids["student"]))
        db.execute("UPDATE horn SET title = ? WHERE id = ?", ("/etc/passwd", ids["horn"]))
        db.execute("UPDATE take SET title = '=1+1', recorded_at = '../../../x'")
        db.execute("UPDATE score SET file_name = '../../up.mxl/../..'")
    with zipfile.ZipFile(packed(studio)) as archive:
        for name in archive.namelist():
            assert re.fullmatch(r"[\w \-./]+", name), name
            assert ".." not in name and not name.startswith("/")
            assert all(part == part.strip() and part for part in name.split("/"))
        assert archive.read("students.csv").decode().count("'=") == 0
        with studio.store.write() as db:
            db.execute("UPDATE student SET name = '=HYPERLINK(1)'")
    with zipfile.ZipFile(packed(studio)) as archive:
        assert "'=HYPERLINK(1)" in archive.read("students.csv").decode()
    assert safe_name("COM1") != "COM1" and safe_name("///") == "x"


def test_an_archive_without_recordings(studio, other):
    fill(studio)
    found = read_archive(other, packed(studio, with_recordings=False))
    assert (found.takes, found.recordings) == (1, 0)


def test_students_are_added_beside_those_who_are_here(studio, other):
    # The part is known here already, under another number.
    add_score(other, small_score("Zeroth"), "zeroth.musicxml")
    add_score(other, small_score("Five steps"), "five.musicxml")
    fill(other, "Ada Quist", "Six steps")
    set_setting(other, "language", "es")
    fill(studio)
    fill(studio, "Jonas Brand", "Five steps", SOUND[::-1])
    set_setting(studio, "language", "de")
    add_example(studio)
    before = rows(other)

    came = add_students(other, read_archive(other, packed(studio)).token)
    assert (came.students, came.scores, came.here) == (2, 1, 0)
    assert names(other) == ["Ada Quist", "Jonas Brand", "Mira Holt"]
    assert get_setting(other, "language", "") == "es"
    after = rows(other)
    for table, kept in before.items():
        assert [row for row in kept if row not in after[table]] == [], table
    with other.store.read() as db:
        told = db.execute(
            "SELECT student.name, horn.title AS horn, score.title AS score, take.title AS take, "
            "stand.edits_done, stand_lock.note, recording.data, take_note.cents, horn_version.toml "
            "FROM student JOIN horn ON horn.student_id = student.id "
            "JOIN horn_version ON horn_version.horn_id = horn.id "
            "JOIN stand ON stand.student_id = student.id AND stand.horn_id = horn.id "
            "JOIN score ON score.id = stand.score_id JOIN stand_lock ON stand_id = stand.id "
            "JOIN take ON take.student_id = student.id AND take.score_id = score.id "
            "AND take.horn_version_id = horn_version.id "
            "JOIN take_note ON take_note.take_id = take.id "
            "JOIN recording ON recording.take_id = take.id ORDER BY student.name"
        ).fetchall()
        assert db.execute("SELECT count(*) FROM score WHERE example = 1").fetchone()[0] == 0
    assert [(row["name"], row["score"], row["take"]) for row in told] == [
        ("Ada Quist", "Six steps", "Six steps by Ada Quist"),
        ("Jonas Brand", "Five steps", "Five steps by Jonas Brand"),
        ("Mira Holt", "Four steps", "Four steps by Mira Holt"),
    ]
    assert told[1]["data"] == SOUND[::-1]

    # The same archive once more: all are here already, nothing is doubled.
    again = add_students(other, read_archive(other, packed(studio)).token)
    assert (again.students, again.scores, again.here) == (0, 0, 2)
    assert rows(other) == after


def test_adding_leaves_a_student_who_is_here_as_here(studio, other):
    ids = fill(studio)
    archive = packed(studio)
    replace_all(other, read_archive(other, archive).token)
    change_student(other, ids["student"], StudentValues("Mira Holt-Berg"))
    archive.seek(0)
    found = read_archive(other, archive)
    assert found.here == ("Mira Holt",)
    assert add_students(other, found.token).here == 1
    assert names(other) == ["Mira Holt-Berg"]


def test_an_archive_that_waits_can_be_forgotten(studio, other):
    fill(studio)
    token = read_archive(other, packed(studio)).token
    assert waiting(other, token).students == ("Mira Holt",)
    forget_archive(other, token)
    assert nothing_left(other.folder)
    for gone in (token, "../../x", "0" * 32, ""):
        with pytest.raises(NotFound):
            replace_all(other, gone)
    first = read_archive(other, packed(studio)).token
    second = read_archive(other, packed(studio)).token
    with pytest.raises(NotFound):
        waiting(other, first)
    assert waiting(other, second).takes == 1


def database(studio, tmp_path, *statements):
    """The studio's database as bytes, after some statements."""
    path = tmp_path / "changed.db"
    path.unlink(missing_ok=True)
    with zipfile.ZipFile(packed(studio)) as archive:
        path.write_bytes(archive.read("studio.db"))
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        for statement in statements:
            db.execute(statement)
    return path.read_bytes()


def bad_archives(studio, tmp_path):
    good = packed(studio)
    whole = good.getvalue()

    def changed(**change):
        return repacked(io.BytesIO(whole), change)

    def with_database(*statements):
        return changed(**{"studio.db": database(studio, tmp_path, *statements)})

    manifest = json.loads(zipfile.ZipFile(good).read("archive.json"))

    def with_manifest(**change):
        return changed(**{"archive.json": json.dumps({**manifest, **change})})

    with zipfile.ZipFile(stray := io.BytesIO(), "w") as archive:
        archive.writestr("photo.jpg", b"x")
    torn = bytearray(whole)
    middle = whole.index(b"studio.db") + 400
    torn[middle : middle + 200] = b"\xff" * 200
    recording = manifest["recordings"][0]
    yield "not a zip", io.BytesIO(b"PK nothing of the kind" * 100), "broken"
    yield "empty", io.BytesIO(), "broken"
    yield "cut", io.BytesIO(whole[: len(whole) // 2]), "broken"
    yield "torn", io.BytesIO(bytes(torn)), "broken"
    yield "another zip", stray, "lacks archive.json"
    yield "another kind", with_manifest(what="stamps"), "not one of a studio"
    yield "list", changed(**{"archive.json": "[" * 100_000}), "not one of a studio"
    yield "newer", with_manifest(archive_form=2), "newer handslide"
    yield "newer form", with_database("PRAGMA user_version = 99"), "newer handslide"
    yield "no database", changed(**{"studio.db": None}), "lacks studio.db"
    yield "text", changed(**{"studio.db": "no database" * 999}), "isn't a studio"
    yield "nothing", changed(**{"studio.db": b""}), "empty"
    yield "stranger", with_database("PRAGMA application_id = 7"), "not a studio of handslide"
    yield "table", with_database("CREATE TABLE extra (x)"), "isn't a studio of ours"
    yield "column", with_database("ALTER TABLE student ADD COLUMN x TEXT"), "isn't a studio of ours"
    yield "lost", with_database("DROP TABLE take_note"), "isn't a studio of ours"
    yield (
        "view",
        with_database(
            "DROP TABLE setting", "CREATE VIEW setting AS SELECT 'a' AS key, 'b' AS value"
        ),
        "isn't a studio of ours",
    )
    yield (
        "trigger",
        with_database("CREATE TRIGGER t AFTER INSERT ON student BEGIN DELETE FROM student; END"),
        "isn't a studio of ours",
    )
    yield "orphan", with_database("UPDATE horn SET student_id = 999"), "isn't there"
    yield (
        "rule",
        with_database("PRAGMA ignore_check_constraints = ON", "UPDATE student SET name = ''"),
        "CHECK constraint",
    )
    yield (
        "consent",
        with_database(
            "CREATE TABLE lax AS SELECT * FROM student",
            "DROP TABLE student",
            "ALTER TABLE lax RENAME TO student",
            "UPDATE student SET consent_note = NULL",
        ),
        "breaks a rule",
    )
    yield "report", with_database("UPDATE take SET report = '{'"), "can't be read"
    for number, told in enumerate(
        (
            '["a"]', '{"kind": "no.such"}', '{"kind": "people.restored"}',
            '{"kind": "people.restored", "values": {"number": {"kind": "people.as_told"}}}',
        )
    ):  # fmt: skip
        statement = f"UPDATE horn_version SET told = '{told}'"
        yield f"told {number}", with_database(statement), "can't be read"
    unknown = 'UPDATE take SET report = \'{"summary": [{"kind": "takes.unheard_of"}]}\''
    yield "unknown fact", with_database(unknown), "can't be read"
    yield "score", with_database("UPDATE score SET data = x'00'"), "isn't what was put in"
    yield "traversal", changed(**{"../../evil.toml": "x"}), "leads out of its folder"
    yield "backslash", changed(**{"..\\evil.toml": "x"}), "leads out of its folder"
    yield "rooted", changed(**{"/etc/evil": "x"}), "leads out of its folder"
    yield "drive", changed(**{"C:/evil": "x"}), "leads out of its folder"
    yield "bomb", changed(**{"studio.db": bytes(40 * 2**20)}), "far more than"
    yield "bomb in the list", changed(**{"archive.json": b" " * (33 * 2**20)}), "far more than"
    yield "no sound", with_manifest(recordings=[{**recording, "file": "no.flac"}]), "lacks no.flac"
    yield "no take", with_manifest(recordings=[{**recording, "take": 99}]), "none of its takes"
    yield "twice", with_manifest(recordings=[recording, recording]), "none of its takes"
    yield "media", with_manifest(recordings=[{**recording, "media_type": "text/html"}]), "no way"
    yield "odd list", with_manifest(recordings=7), "no way"


def test_bad_archives_get_one_sentence_and_leave_nothing(studio, other, tmp_path):
    fill(studio)
    add_student(other, StudentValues("Ada Quist"))
    before = rows(other)
    kinds = 0
    for kind, file, sentence in bad_archives(studio, tmp_path):
        with pytest.raises(StoreError) as caught:
            read_archive(other, file)
        assert sentence in str(caught.value), (kind, str(caught.value))
        assert "\n" not in str(caught.value)
        assert rows(other) == before
        assert nothing_left(other.folder), kind
        kinds += 1
    assert kinds > 30
    assert read_archive(other, packed(studio)).students == ("Mira Holt",)


TAMPERED = {
    "learned": (
        "UPDATE student SET learned = ?",
        ['"F"', "{}", "[1]", "[[]]", "[null]", "tru"],
    ),
    "clef": ("UPDATE student SET clef = ?", ["", "x", "../bass", "treble\n"]),
    "names": ("UPDATE student SET names = ?", ["klingon", "../../x"]),
    "marks": ("UPDATE student SET marks = ?", ["junk", "%s"]),
    "show": ("UPDATE student SET show = ?", ["", "some", "ALL"]),
    "profile": ("UPDATE student SET profile = ?", ["/etc/passwd", "..\\x", "", "a/b.toml"]),
    "language": ("UPDATE student SET language = ?", ["../de", "x" * 40]),
    "created_at": ("UPDATE student SET created_at = ?", ["", "today", "2026-13-01T00:00:00Z", "9"]),
    "archived_at": ("UPDATE student SET archived_at = ?", ["yes"]),
    "consent_on": ("UPDATE student SET consent_on = ?", ["2026-02-30", "x", "2026-01-01T0"]),
    "consent_note": ("UPDATE student SET consent_note = ?", ["x" * 5000]),
    "about": ("UPDATE student SET about = ?", ["x" * 100_000]),
    "uid": ("UPDATE student SET uid = ?", ["", "x' OR 1", "A" * 32]),
    "example": ("UPDATE student SET example = ?", [2, -1]),
    "base": ("UPDATE horn SET base = ?", ["/dev/zero", "../x", "c:\\x", ""]),
    "temp_c": ("UPDATE horn SET temp_c = ?", [1e308, -1e9]),
    "main": ("UPDATE horn SET main = ?", [7]),
    "number": ("UPDATE horn_version SET number = ?", [-1, 2**62]),
    "horn told": ("UPDATE horn_version SET told = ?", ["[]", '{"kind": 7}', "1"]),
    "file_name": ("UPDATE score SET file_name = ?", ["", "x" * 5000]),
    "title": ("UPDATE score SET title = ?", ["x" * 5000]),
    "part": ("UPDATE stand SET part = ?", ["x" * 5000]),
    "edits_done": ("UPDATE stand SET edits_done = ?", [-5, 2**62]),
    "opened_at": ("UPDATE stand SET opened_at = ?", ["soon"]),
    "valves": ("UPDATE stand_lock SET valves = ?", ["7", "{}", "[7]", '"F"', "[" * 9999]),
    "partial": ("UPDATE stand_lock SET partial = ?", [0, -3, 2**60]),
    "note": ("UPDATE stand_lock SET note = ?", [-1, 2**62]),
    "changes": (
        "UPDATE stand_edit SET changes = ?",
        [
            "[[1]]",
            '[{"what": "lock", "before": null, "after": 7}]',
            '[{"what": "learnt", "before": null, "after": -7}]',
            '[["x", null, null]]',
            "{}",
            "[[1, null, [[7], 5]]]",
        ],
    ),
    "seen_to": ("UPDATE stand SET seen_to = ?", [2**62]),
    "factors": (
        "UPDATE learnt SET factors = ?",
        ["[]", '{"": {"../x": 1}}', '{"": {"turn_per_m": 0}}', '{"": {"turn_per_m": 1e9}}'],
    ),
    "told": ("UPDATE learnt SET told = ?", ["[]", "{}", '{"changed": "x"}']),
    "notes": ("UPDATE answer SET notes = ?", ["[-1]", "{}", "[" + "1," * 300 + "1]"]),
    "first": ("UPDATE answer SET first = ?", ["[[[7], 3]]", "[[[], 0]]", "7"]),
    "length_s": ("UPDATE take SET length_s = ?", [float("inf"), -1.0]),
    "a4_hz": ("UPDATE take SET a4_hz = ?", [float("inf"), 0.0, -440.0]),
    "recorded_at": ("UPDATE take SET recorded_at = ?", ["", "x", "2026-99-99", "0000-00-00T0"]),
    "midi": ("UPDATE take_note SET midi = ?", [2**40, -500]),
    "cents": ("UPDATE take_note SET cents = ?", [float("inf"), float("-inf"), 1e300]),
    "slide_mm": ("UPDATE take_note SET slide_mm = ?", [float("inf")]),
    "f0_hz": ("UPDATE take_note SET f0_hz = ?", [0.0, -1.0, float("inf")]),
    "played": ("UPDATE take_note SET played = ?", ["well", ""]),
    "report": (
        "UPDATE take SET report = ?",
        ["[]", "7", "null", "{}", '{"form": 2}', '{"form": 9}', "[" * 5000 + "]" * 5000],
    ),
}


def tampered():
    for column, (statement, values) in TAMPERED.items():
        for k, value in enumerate(values):
            yield pytest.param(column, statement, value, id=f"{column}-{k}")


_FILLED = []


@pytest.fixture
def filled(tmp_path):
    """An archive of a filled studio, and the database of its backup, as bytes; made once."""
    if not _FILLED:
        made = open_studio(tmp_path / "filled")
        fill(made)
        _FILLED.append((packed(made).getvalue(), make_backup(made).read_bytes()))
        made.close()
    return _FILLED[0]


def with_row(filled, path, statement, value):
    """The archive of a filled studio after one statement."""
    archive, database_ = filled
    path.write_bytes(database_)
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA synchronous = OFF")
        db.execute(statement, (value,))
        db.commit()
    return repacked(io.BytesIO(archive), {"studio.db": path.read_bytes()})


@pytest.mark.parametrize(("column", "statement", "value"), list(tampered()))
def test_a_tampered_row_is_named_and_nothing_is_taken(
    filled, other, tmp_path, column, statement, value
):
    file = with_row(filled, tmp_path / "changed.db", statement, value)
    with pytest.raises(StoreError) as caught:
        read_archive(other, file)
    assert repr(column.split()[-1]) in str(caught.value) or "breaks a rule" in str(caught.value)
    assert names(other) == [] and nothing_left(other.folder)


def test_without_tampering_it_is_taken(filled, other, tmp_path):
    file = with_row(filled, tmp_path / "changed.db", "UPDATE student SET about = ?", "as ever")
    assert read_archive(other, file).students == ("Mira Holt",)


def report_fields():
    whole = small_report("x")
    for key in whole:
        for junk in ({}, [7], "x", -1, True, 1e300, None):
            if key == "doubt" and junk is None:
                continue
            yield key, junk


def test_every_field_of_a_report_is_looked_at(filled, other, tmp_path):
    right = [("title", "x"), ("horn_name", "x")]
    every = list(report_fields())
    assert all(one in every for one in right)
    passed, fields = [], [*right, *share_of([one for one in every if one not in right], 0, 3)]
    for key, junk in fields:
        text = json.dumps({**small_report("x"), key: junk})
        file = with_row(filled, tmp_path / "changed.db", "UPDATE take SET report = ?", text)
        try:
            read_archive(other, file)
        except StoreError:
            continue
        passed.append((key, junk))
    assert passed == right


@pytest.mark.parametrize(
    "entry",
    [
        {"file": "\ud800"}, {"file": 7}, {"take": 10**30}, {"take": True}, {"take": -1},
        {"created_at": "now"}, {"created_at": None}, {"media_type": "audio/\ud800"},
    ],
)  # fmt: skip
def test_a_list_of_recordings_of_any_content_is_one_sentence(studio, other, entry):
    fill(studio)
    listed = json.loads(zipfile.ZipFile(packed(studio)).read("archive.json"))
    listed["recordings"][0] |= entry
    answer = client(other).post(
        "/data/import",
        files={"archive": ("a.zip", repacked(packed(studio), {
            "archive.json": json.dumps(listed)}).read())},
    )  # fmt: skip
    assert answer.status_code == 409, answer.text


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_an_archive_is_stored_or_deflated(studio, other, method):
    fill(studio)
    made = io.BytesIO()
    with zipfile.ZipFile(packed(studio)) as old, zipfile.ZipFile(made, "w", method) as new:
        for name in old.namelist():
            new.writestr(name, old.read(name))
    with pytest.raises(StoreError, match="ours never are"):
        read_archive(other, made)


def test_an_archive_that_the_disk_cant_hold_is_refused_first(studio, other, monkeypatch):
    fill(studio)
    monkeypatch.setattr(archive_in.shutil, "disk_usage", lambda path: SimpleNamespace(free=1000))
    with pytest.raises(StoreError, match="no room"):
        read_archive(other, packed(studio))
    assert nothing_left(other.folder)


def hole(archive, name, size):
    """An entry of so many zeros that nobody reads, and that take no room on the disk."""
    info = zipfile.ZipInfo(name)
    info.file_size = info.compress_size = size
    info.CRC = 0
    info.header_offset = archive.fp.tell()
    archive.fp.write(info.FileHeader(zip64=True))
    archive.fp.seek(size, io.SEEK_CUR)
    archive.start_dir = archive.fp.tell()
    archive.filelist.append(info)
    archive.NameToInfo[name] = info


@pytest.mark.sample
@pytest.mark.parametrize(
    ("recording_mb", "hole_mb"), [(1, 4200), *([(370, 0)] if sampling.ALL else [])]
)
def test_an_archive_of_more_than_two_gigabytes_is_taken_in(
    studio, other, tmp_path, recording_mb, hole_mb
):
    """What is read lies beyond two and four gigabytes; in `make sweep` it also comes to as much."""
    ids = fill(studio)
    listed = json.loads(zipfile.ZipFile(packed(studio)).read("archive.json"))
    with studio.store.write() as db:
        takes = [ids["take"]]
        for _ in range(5):
            names_ = "student_id, horn_version_id, score_id, title, source, a4_hz, length_s, report"
            done = db.execute(
                f"INSERT INTO take ({names_}, recorded_at, created_at) SELECT {names_}, "
                "recorded_at, created_at FROM take WHERE id = ?", (takes[0],)
            )  # fmt: skip
            takes.append(done.lastrowid)
    whole = repacked(packed(studio, with_recordings=False), {"archive.json": None})
    path = tmp_path / "large.zip"
    with path.open("wb") as target, zipfile.ZipFile(target, "w") as new:
        for take in takes:
            if take == takes[-1] and hole_mb:
                hole(new, "photos", hole_mb * 2**20)
            with new.open(zipfile.ZipInfo(f"{take}.flac"), "w", force_zip64=True) as entry:
                for _ in range(recording_mb):
                    entry.write(bytes([take]) * 2**20)
        with zipfile.ZipFile(whole) as old:
            for name in old.namelist():
                new.writestr(name, old.read(name))
        one = listed["recordings"][0]
        listed["recordings"] = [{**one, "take": take, "file": f"{take}.flac"} for take in takes]
        new.writestr("archive.json", json.dumps(listed))
    assert path.stat().st_size > 2 * 2**30
    with path.open("rb") as file:
        found = read_archive(other, file)
    assert found.recordings == 6
    if hole_mb:
        replace_all(other, found.token)
        with other.store.read() as db:
            got = db.execute("SELECT take_id, data FROM recording").fetchall()
        assert dict(map(tuple, got)) == {t: bytes([t]) * 2**20 for t in takes}
    forget_archive(other, found.token)


def test_a_locked_archive_is_refused(studio, other):
    fill(studio)
    data = bytearray(packed(studio).getvalue())
    at = data.index(b"PK\x01\x02")
    data[at + 8] |= 1
    with pytest.raises(StoreError, match="password"):
        read_archive(other, io.BytesIO(bytes(data)))


def test_a_recording_may_not_be_larger_than_it_says(studio, other, monkeypatch):
    fill(studio)
    monkeypatch.setattr(archive_in, "ARCHIVE_RECORDING_BYTES", len(SOUND) - 1)
    with pytest.raises(StoreError, match="recording in the archive"):
        read_archive(other, packed(studio))


# Backups.


class Day(date):
    """Today, moved by the test."""

    passed = 0

    @classmethod
    def today(cls):
        return date.today() + timedelta(days=cls.passed)


@pytest.fixture
def days(monkeypatch):
    monkeypatch.setattr(Day, "passed", 0)
    monkeypatch.setattr(storefiles, "date", Day)
    monkeypatch.setattr("handslide.studio.care.backups.date", Day)
    return Day


def test_a_day_has_its_backup_when_something_changed(studio, days):
    assert daily_backup(studio) is None  # nothing of the teacher's yet
    ids = fill(studio)
    first = daily_backup(studio)
    assert first.name == f"{date.today()}-000001.db"
    assert content(first)["recording"] == []
    assert {k: v for k, v in content(first).items() if k != "recording"} == {
        k: v for k, v in rows(studio).items() if k != "recording"
    }
    change_student(studio, ids["student"], StudentValues("Mira Berg", consent_note="x"))
    assert daily_backup(studio) is None  # not twice a day
    days.passed = 1
    second = daily_backup(studio)
    assert second.name == f"{date.today() + timedelta(days=1)}-000002.db"
    days.passed = 2
    assert daily_backup(studio) is None  # nothing changed
    assert [backup.students for backup in list_backups(studio)] == [1, 1]
    assert nothing_left(studio.folder)


def test_what_a_killed_program_left_is_cleared_at_the_start(studio):
    (studio.folder / ".work-x.part").mkdir()
    (studio.folder / ".work-x.part" / "copy.db").write_bytes(b"half")
    clear_unfinished(studio)
    assert nothing_left(studio.folder)


def backups_of(*days):
    """Backups by their days, the newest first."""
    count = len(days)
    return [
        BackupName(str(day), count - k, 1, "", Path(f"{day}-{count - k:06d}.db"))
        for k, day in enumerate(days)
    ]


def kept_days(days, keep):
    return [backup.day for backup in kept_of(backups_of(*days), keep)]


def test_kept_are_the_last_of_days_weeks_and_months():
    end = date(2026, 11, 26)  # a Thursday
    days = [end - timedelta(days=k) for k in range(800)]
    kept = kept_days(days, 14)
    assert kept[:14] == [str(day) for day in days[:14]]
    # The fortnight begins on a Friday: its week has its backup, eight Sundays come before.
    assert kept[14:22] == [str(date(2026, 11, 8) - timedelta(weeks=k)) for k in range(8)]
    assert kept[22:] == [
        "2026-08-31", "2026-07-31", "2026-06-30", "2026-05-31", "2026-04-30", "2026-03-31",
        "2026-02-28", "2026-01-31", "2025-12-31", "2025-11-30", "2025-10-31", "2025-09-30",
    ]  # fmt: skip


def test_what_is_kept_day_by_day_is_what_is_kept_at_once():
    end = date(2026, 11, 26)
    days = [end - timedelta(days=k) for k in range(800)]
    left = []
    for backup in reversed(backups_of(*days)):
        left = kept_of([backup, *left], 14)
    at_once = kept_days(days, 14)
    assert [backup.day for backup in left][:22] == at_once[:22]
    # Of a month that was kept by weeks the last Sunday is left.
    assert [backup.day[:7] for backup in left] == [day[:7] for day in at_once]


def test_many_of_a_day_throw_no_other_day_away():
    days = ["2026-11-26"] * 50 + ["2026-11-25"] * 50 + ["2026-11-24"]
    assert kept_days(days, 3) == ["2026-11-26"] * 10 + ["2026-11-25", "2026-11-24"]
    assert kept_days([], 3) == []


def test_a_wrong_clock_costs_one_place_and_never_the_newest():
    days = ["1970-01-01", "9999-12-31", "2026-11-26", "2026-13-99", "2026-11-25"]
    kept = kept_days(days, 2)
    assert kept[:2] == ["1970-01-01", "9999-12-31"]
    future = ["2027-06-01"] * 14 + [f"2026-11-{k:02}" for k in range(20, 6, -1)]
    assert kept_days(["2026-11-21", *future], 14)[0] == "2026-11-21"


def test_the_oldest_backups_go(studio, days):
    fill(studio)
    keep_backups(studio, 3)
    for day in range(60):
        days.passed = day
        set_setting(studio, "day", str(day))
        assert daily_backup(studio) is not None
        if day % 4 == 0:
            make_backup(studio, "erasing")
    found = list_backups(studio)
    daily = [backup.day for backup in found if not backup.before]
    assert daily[:3] == [str(date.today() + timedelta(days=day)) for day in (59, 58, 57)]
    assert 7 <= len(daily) <= 3 + 8 + 2
    assert len([backup for backup in found if backup.before]) == BACKUPS_BEFORE
    keep_backups(studio, 1)
    assert list_backups(studio)[0].day == daily[0]
    with pytest.raises(BadData, match="from 1 to"):
        keep_backups(studio, 0)


def test_a_backup_of_the_future_doesnt_stop_the_daily_ones(studio, days):
    fill(studio)
    days.passed = 4000
    for k in range(14):
        set_setting(studio, "k", str(k))
        make_backup(studio)
    days.passed = 0
    set_setting(studio, "k", "now")
    made = make_backup(studio)
    assert made is not None and made.exists()
    assert list_backups(studio)[0].name == made.name
    for day in (1, 2, 3):
        days.passed = day
        set_setting(studio, "day", str(day))
        made = daily_backup(studio)
        assert made is not None and made.exists()
        assert list_backups(studio)[0].name == made.name
    # Older studios' names, of the future: still older than all that is made now.
    made.rename(made.with_name("2099-01-01-7.db"))
    set_setting(studio, "day", "x")
    days.passed = 4
    made = daily_backup(studio)
    assert made is not None and list_backups(studio)[0].name == made.name


def test_the_page_says_that_a_backup_was_not_made(studio, monkeypatch):
    fill(studio)
    asked = client(studio)
    assert "was not made" not in words(asked.get("/data"))

    def full(*_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(storefiles.os, "link", full)
        patched.setattr(storefiles.Path, "replace", full)
        assert try_daily_backup(studio) is not None
        assert "No space left" in words(asked.get("/data"))
        assert "was not made" in words(asked.get("/"))
        assert asked.post("/data/backups").status_code == 409
    asked.post("/data/backups")
    assert "was not made" not in words(asked.get("/data"))


def test_the_days_backup_is_made_while_the_studio_runs(studio, days):
    fill(studio)
    with Daily(studio, every_s=0.01):
        for day in (0, 1):
            days.passed = day
            set_setting(studio, "day", str(day))
            waited = time.monotonic() + 20
            while len(list_backups(studio)) <= day:
                assert time.monotonic() < waited
                time.sleep(0.01)
    count = len(list_backups(studio))
    days.passed = 2
    set_setting(studio, "day", "2")
    time.sleep(0.05)
    assert len(list_backups(studio)) == count


def test_backups_of_one_day_are_numbered(studio):
    fill(studio)
    for k in range(11):
        set_setting(studio, "k", str(k))
        make_backup(studio)
    assert [backup.name for backup in list_backups(studio)][:2] == [
        f"{date.today()}-000011.db", f"{date.today()}-000010.db",
    ]  # fmt: skip


def test_a_backup_is_restored_after_a_backup_of_the_present(studio):
    ids = fill(studio)
    old = make_backup(studio)
    before = rows(studio)
    fill(studio, "Jonas Brand", "Five steps", SOUND[::-1])
    change_student(studio, ids["student"], StudentValues("Mira Berg"))
    present = rows(studio)
    made = restore_backup(studio, old.name)
    # The recording isn't in the backup; it stays, since its take is.
    assert rows(studio) == before
    assert "before-restore" in made.name
    assert content(made) == present
    # And back again, with the recording of the take that was gone.
    restore_backup(studio, made.name)
    assert rows(studio) == present
    assert nothing_left(studio.folder)


@pytest.mark.parametrize("name", ["../studio.db", "/etc/passwd", "x.db", "2020-01-01.db", ""])
def test_only_backups_are_restored(studio, name):
    with pytest.raises(NotFound):
        restore_backup(studio, name)


def test_a_damaged_backup_is_said_to_be_and_not_restored(studio):
    fill(studio)
    path = make_backup(studio)
    path.write_bytes(path.read_bytes()[:8192])
    (backup,) = list_backups(studio)
    assert backup.students is None
    before = rows(studio)
    with pytest.raises(StoreError, match="damaged"):
        restore_backup(studio, backup.name)
    assert rows(studio) == before


# Erasing.

SECRET_NAME, SECRET_PART = "Zyxwina Quorp", "Private march"
SECRET_SOUND = b"fLaC" + b"\x01secret-sound\x02" * 3000


def secret_studio(studio):
    """A student in the studio, in old and new backups of both kinds, renamed in between."""
    fill(studio)
    ids = fill(studio, SECRET_NAME, SECRET_PART, SECRET_SOUND)
    make_backup(studio)
    make_backup(studio, "import", recordings=True)
    values = StudentValues(f"{SECRET_NAME} the second", consent_note="x", keep_recordings=True)
    change_student(studio, ids["student"], values)
    make_backup(studio)
    path = studio.folder / "broken.db"
    path.write_bytes(b"SQLite format 3\0" + SECRET_NAME.encode())
    put_aside(path)
    assert len(found_in(studio.folder, SECRET_NAME.encode())) >= 5
    assert len(found_in(studio.folder, b"secret-sound")) >= 2
    return ids


def test_an_erased_student_is_in_no_byte_of_any_file(studio):
    ids = secret_studio(studio)
    goes = erase_preview(studio, ids["student"])
    assert (goes.horns, goes.stands, goes.takes, goes.recordings, goes.backups) == (1, 1, 1, 1, 3)
    erase_student(studio, ids["student"])
    for needle in (SECRET_NAME.encode(), b"Zyxwina", b"Quorp", b"secret-sound"):
        assert found_in(studio.folder, needle) == []
    assert names(studio) == ["Mira Holt"]
    for backup in list_backups(studio):
        assert backup.students == 1
    with_recordings = [backup for backup in list_backups(studio) if backup.recordings]
    assert [backup.before for backup in with_recordings] == ["before-import"]
    assert nothing_left(studio.folder)
    # The part belongs to the studio, not to the student.
    assert len(rows(studio)["score"]) == 2
    with pytest.raises(NotFound):
        erase_student(studio, ids["student"])


def test_erasing_while_somebody_reads_says_what_is_left_to_do(studio, monkeypatch):
    ids = secret_studio(studio)
    monkeypatch.setattr("handslide.edges.store.database._BUSY_S", 0.05)
    reader = sqlite3.connect(studio.store.path, isolation_level=None)
    reader.execute("BEGIN")
    reader.execute("SELECT count(*) FROM student").fetchone()
    with pytest.raises(StoreError, match="start it again"):
        erase_student(studio, ids["student"])
    assert names(studio) == ["Mira Holt"]
    assert found_in(studio.folder / "backups", b"Quorp") == []
    reader.close()
    studio.close()
    again = open_studio(studio.folder)
    assert names(again) == ["Mira Holt"]
    assert found_in(studio.folder, b"Quorp") == []
    again.close()


def test_a_backup_of_a_newer_handslide_isnt_touched(studio):
    ids = secret_studio(studio)
    newest = backups_in(studio.folder)[0].path
    with closing(sqlite3.connect(newest)) as db:
        db.execute("PRAGMA user_version = 99")
    with pytest.raises(StoreError, match="newer handslide"):
        erase_student(studio, ids["student"])
    assert newest.exists()
    assert len(names(studio)) == 2


def test_a_student_under_another_number_in_a_backup_is_erased_there_too(studio, other):
    fill(other)  # takes the number
    ids = fill(studio, SECRET_NAME, SECRET_PART, SECRET_SOUND)
    add_students(other, read_archive(other, packed(studio)).token)
    make_backup(other)
    replace_all(other, read_archive(other, packed(studio)).token)
    assert {row[0] for b in backups_in(other.folder) for row in content(b.path)["student"]} == {
        1,
        2,
    }
    erase_student(other, ids["student"])
    assert found_in(other.folder, b"Quorp") == []
    assert [b.students for b in list_backups(other)].count(1) >= 2  # the other student is kept


def test_an_erased_take_and_an_erased_recording(studio):
    ids = secret_studio(studio)
    erase_recording(studio, ids["take"])
    assert found_in(studio.folder, b"secret-sound") == []
    assert found_in(studio.folder, f"by {SECRET_NAME}".encode())
    erase_take(studio, ids["take"])
    assert found_in(studio.folder, f"by {SECRET_NAME}".encode()) == []
    assert found_in(studio.folder, SECRET_NAME.encode())
    assert len(rows(studio)["take"]) == 1
    for gone in (erase_take, erase_recording):
        with pytest.raises(NotFound):
            gone(studio, ids["take"])


def test_a_result_that_nobody_read_to_its_end_is_in_nobodys_way(studio):
    ids = fill(studio)
    old = make_backup(studio)
    with studio.store.read() as db:
        left = db.execute("SELECT * FROM take_note JOIN student")
        left.fetchone()
    fill(studio, "Ada Quist", "Six steps")
    restore_backup(studio, old.name)
    left.close()
    with studio.store.read() as db:
        left = db.execute("SELECT 1 FROM student UNION ALL SELECT 2 FROM student")
        left.fetchone()
    make_backup(studio, "import", recordings=True)
    assert ids["student"] in [student.id for student in list_students(studio)]
    left.close()


def test_all_recordings_are_erased_at_once(studio):
    ids = secret_studio(studio)
    erase_recordings(studio, ids["student"])
    assert found_in(studio.folder, b"secret-sound") == []
    assert len(rows(studio)["recording"]) == 1
    erase_recordings(studio)
    assert rows(studio)["recording"] == []
    assert found_in(studio.folder, SOUND) == []
    assert len(rows(studio)["take"]) == 2


# The page.


def test_the_page_says_what_is_here(studio):
    fill(studio)
    fill(studio, "<script>alert(1)</script>", "Five steps")
    make_backup(studio)
    answer = client(studio).get("/data")
    text = words(answer)
    assert str(studio.folder) in text
    assert "Students 2 Parts 2 Takes 2 Recordings 2" in text
    assert "mother, by letter" in text and "0:04" in text
    assert "<script>alert(1)" not in answer.text
    assert "Remove the example" not in text and "Add the example" in text
    for path in ("/data/privacy", "/data/recordings/delete", "/data/recordings/delete?student=2"):
        shown = client(studio).get(path)
        assert shown.status_code == 200
        assert "<script>alert(1)" not in shown.text
    assert "your local rules come first" in words(client(studio).get("/data/privacy")).lower()


def test_the_page_is_whole_in_an_empty_studio(studio):
    text = words(client(studio).get("/data"))
    assert "No backups yet" in text and "No recordings are kept" in text


@pytest.mark.parametrize(
    ("language", "title"), [("de", "Daten"), ("es", "Datos"), ("en", "Data"), ("", "Data")]
)
def test_language_theme_and_paper_are_chosen(studio, language, title):
    asked = client(studio)
    answer = asked.post(
        "/data/settings", data={"language": language, "theme": "dark", "paper": "letter"}
    )
    assert (answer.status_code, answer.headers["location"]) == (303, "/data?done=settings")
    shown = asked.get(answer.headers["location"])
    assert f"<h1>{title}</h1>" in shown.text
    assert 'data-theme="dark"' in shown.text
    chosen = preferences(studio)
    assert (chosen.language, chosen.theme, chosen.paper) == (language, "dark", "letter")


@pytest.mark.parametrize(
    "wrong", [{"language": "xx"}, {"theme": "pink"}, {"paper": "a3"}, {"theme": ""}]
)
def test_what_cant_be_chosen_is_refused(studio, wrong):
    typed = {"language": "de", "theme": "dark", "paper": "a4", **wrong}
    answer = client(studio).post("/data/settings", data=typed)
    assert answer.status_code == 400
    assert "choose one of the list" in words(answer)
    assert preferences(studio) == Preferences()


def test_all_languages_can_be_chosen(studio):
    page = client(studio).get("/data").text
    for code, each in languages().items():
        assert re.search(f'<option value="{code}" lang="{code}"[^>]*>{each.name}</option>', page)
        prefer(studio, Preferences(language=code))
        assert preferences(studio).language == code


def test_out_of_one_studio_and_into_another_by_the_pages(studio, other):
    fill(studio)
    answer = client(studio).post("/data/export", data={"recordings": "1"})
    assert answer.headers["content-type"] == "application/zip"
    assert int(answer.headers["content-length"]) == len(answer.content)
    assert f'"studio-{date.today()}.zip"' in answer.headers["content-disposition"]
    assert nothing_left(studio.folder)

    asked = client(other)
    sent = asked.post("/data/import", files={"archive": ("../x.zip", answer.content)})
    assert sent.status_code == 303
    look = sent.headers["location"]
    assert re.fullmatch(r"/data/import/[0-9a-f]{32}", look)
    assert "1 student: Mira Holt" in words(asked.get(look))
    assert names(other) == []
    assert asked.post(look, data={"way": "somehow"}).status_code == 400
    assert asked.post(look, data={"way": "add"}).headers["location"] == "/data?done=added"
    assert names(other) == ["Mira Holt"]
    assert asked.get(look).status_code == 404

    look = asked.post("/data/import", files={"archive": ("x", answer.content)}).headers["location"]
    assert "Here already" in words(asked.get(look))
    asked.post(look, data={"way": "replace"})
    assert rows(other) == travels(studio)
    assert [backup.before for backup in list_backups(other)] == ["before-import", "before-import"]

    look = asked.post("/data/import", files={"archive": ("x", answer.content)}).headers["location"]
    asked.post(look, data={"way": "forget"})
    assert nothing_left(other.folder)


def test_a_file_that_is_no_archive_gets_one_sentence(studio):
    asked = client(studio)
    answer = asked.post("/data/import", files={"archive": ("photo.zip", b"no archive")})
    assert answer.status_code in (400, 409)
    assert "was it copied whole?" in words(answer)
    assert "Traceback" not in answer.text
    answer = asked.post("/data/import", files={"archive": ("", b"")})
    assert answer.status_code == 400
    for path in ("/data/import/../../etc", "/data/import/zz", f"/data/import/{'0' * 32}"):
        assert asked.get(path).status_code == 404


def test_backups_by_the_page(studio):
    ids = fill(studio)
    asked = client(studio)
    assert asked.post("/data/backups").headers["location"] == "/data?done=backup#backups"
    assert asked.post("/data/backups").headers["location"] == "/data?done=same#backups"
    (backup,) = list_backups(studio)
    got = asked.get(f"/data/backups/{backup.name}")
    assert got.content == (studio.folder / "backups" / backup.name).read_bytes()
    change_student(studio, ids["student"], StudentValues("Mira Berg"))
    path = f"/data/backups/{backup.name}/restore"
    assert "A backup of the present" in words(asked.get(path))
    assert names(studio) == ["Mira Berg"]
    assert asked.post(path).headers["location"] == "/data?done=restored"
    assert names(studio) == ["Mira Holt"]
    assert asked.post("/data/backups/kept", data={"kept": "3"}).status_code == 303
    assert 'value="3"' in asked.get("/data").text
    for kept in ("0", "-1", "many", "", "9" * 30):
        assert asked.post("/data/backups/kept", data={"kept": kept}).status_code == 400
    for name in ("..%2Fstudio.db", "%2e%2e%2fstudio.db", "studio.db", "2000-01-01.db"):
        for path in (f"/data/backups/{name}", f"/data/backups/{name}/restore"):
            assert asked.get(path).status_code == 404
        assert asked.post(f"/data/backups/{name}/restore").status_code in (404, 405)


def test_recordings_are_deleted_by_the_page(studio):
    ids = fill(studio)
    fill(studio, "Jonas Brand", "Five steps", SOUND[::-1])
    asked = client(studio)
    for typed in ("x", "-1", "1 OR 1=1", "999"):
        answer = asked.post("/data/recordings/delete", data={"student": typed})
        assert answer.status_code in (400, 404)
    assert len(rows(studio)["recording"]) == 2
    asked.post("/data/recordings/delete", data={"student": str(ids["student"])})
    assert [row[0] for row in rows(studio)["recording"]] == [2]
    asked.post("/data/recordings/delete", data={})
    assert rows(studio)["recording"] == []


def test_the_example_comes_and_goes_by_the_page(studio):
    asked = client(studio)
    asked.post("/data/example", data={"wish": "add"})
    assert "Remove the example" in words(asked.get("/data"))
    asked.post("/data/example", data={"wish": "remove"})
    assert names(studio) == []


def test_looking_at_a_page_changes_nothing(studio):
    fill(studio)
    make_backup(studio)
    (backup,) = list_backups(studio)
    asked = client(studio)
    before, files = rows(studio), sorted(studio.folder.rglob("*.db"))
    for path in ("/data/export", "/data/import", "/data/settings", "/data/example"):
        assert asked.get(path).status_code == 405
    for path in ("/data", f"/data/backups/{backup.name}/restore", "/data/recordings/delete"):
        asked.get(path)
    assert (rows(studio), sorted(studio.folder.rglob("*.db"))) == (before, files)


def test_every_table_of_an_archive_is_looked_at(studio):
    with studio.store.read() as db:
        assert set(tables_of(db)) == rowforms.tables()
