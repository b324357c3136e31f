"""Killed without warning: what was reported as saved is there, and nothing is half.

A writer is a process of its own that saves through the studio's jobs and reports each finished one
on a pipe. It is killed with SIGKILL at a moment drawn by chance.
"""

import http.client
import json
import os
import random
import re
import signal
import sqlite3
import subprocess
import sys
import threading
import time
import urllib.parse
from contextlib import closing, contextmanager

import pytest

from handslide.edges.store.copies import backups_in, check_file, damaged_in
from handslide.edges.store.database import FILE_NAME
from handslide.edges.store.students import StudentValues
from handslide.studio.care.backups import daily_backup
from handslide.studio.care.erase import erase_student
from handslide.studio.people.horns import enrol
from handslide.studio.people.students import list_students, main_horn
from handslide.studio.studio import get_setting, open_studio

WRITES, ROUNDS = 50, 8
WRITER = """
import json, os, sys
from pathlib import Path
from studio_versions import SOUND, small_score
from handslide.ground.facts import fact
from handslide.edges.store.students import StudentValues
from handslide.studio.care.archiveimport import add_students
from handslide.studio.care.backups import make_backup
from handslide.studio.parts.scores import add_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.parts.edits import lock_here, undo, unlock
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student, add_version, list_versions
from handslide.studio.studio import open_studio, set_setting
from handslide.edges.store.takes import NoteRow
from handslide.studio.takes.takes import save_take

FREE = dict(number=0, measure=None, midi=53, valves=(), partial=4, extension_mm=0.0, mark="1",
            played="free")

def say(out, *what):
    out.write(json.dumps(what) + "\\n")
    out.flush()

def write(folder, writes, out):
    studio = open_studio(folder)
    say(out, "open")
    student = horn = stand = None
    for k in range(writes):
        kind = ("student", "horn", "setting", "score", "stand", "lock", "version", "take")[k % 8]
        if kind == "student":
            student = add_student(studio, StudentValues(f"Student {k}", about="x" * 3000))
            done = student.id
        elif kind == "horn":
            horn = add_horn(studio, student.id, "tenor-f")
            done = horn.id
        elif kind == "setting":
            done = f"k{k}"
            set_setting(studio, done, "v" * 2000)
        elif kind == "score":
            score = add_score(studio, small_score(f"Part {k}"), f"{k}.musicxml").score
            done = score.id
        elif kind == "stand":
            done = stand = open_stand(studio, student.id, score.id)
        elif kind == "lock":
            lock_here(studio, stand, 1)
            done = [stand, 1]
        elif kind == "version":
            toml, told = list_versions(studio, horn.id)[0].toml, fact("people.restored", number=k)
            done = [horn.id, add_version(studio, horn.id, toml, "edit", told).number]
        else:
            rows = [NoteRow(**{**FREE, "number": n}) for n in range(300)]
            done = save_take(studio, student.id, {"kind": "free"}, rows, title=f"Take {k}",
                             source="file", a4_hz=440.0, length_s=60.0)
        say(out, kind, done)
    studio.close()
    say(out, "end")

# One process that has everything loaded gives birth to a writer for each round.
for line in sys.stdin:
    folder, writes, pipe = json.loads(line)
    child = os.fork()
    if child == 0:
        with open(pipe, "w") as out:
            write(Path(folder), writes, out)
        os._exit(0)
    print(child, flush=True)
    sys.stdin.readline()  # until then the number is nobody else's
    print(os.waitpid(child, 0)[1], flush=True)
"""


@pytest.fixture(scope="module")
def nursery():
    """Start a writer in a folder: gives its process id and its reports."""
    tests = os.path.join(os.path.dirname(os.path.dirname(__file__)), "helpers")  # noqa
    mother = subprocess.Popen(
        [sys.executable, "-c", WRITER], text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([tests, *sys.path])},
    )  # fmt: skip

    @contextmanager
    def born(folder, writes=WRITES):
        pipe = folder / "reports"
        os.mkfifo(pipe)
        mother.stdin.write(json.dumps([str(folder), writes, str(pipe)]) + "\n")
        mother.stdin.flush()
        child = int(mother.stdout.readline())
        with pipe.open() as reports:
            yield child, (json.loads(line) for line in reports)
        mother.stdin.write("\n")
        mother.stdin.flush()
        mother.stdout.readline()
        pipe.unlink()

    yield born
    mother.stdin.close()
    assert mother.wait(20) == 0
    mother.stdout.close()


def whole(path):
    """The database as the next start finds it."""
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []


CHECKS = {
    "student": "SELECT 1 FROM student WHERE id = ? AND length(about) = 3000",
    "horn": "SELECT 1 FROM horn JOIN horn_version ON horn_id = horn.id WHERE horn.id = ?",
    "setting": "SELECT 1 FROM setting WHERE key = ? AND length(value) = 2000",
    "score": "SELECT 1 FROM score WHERE id = ? AND length(data) > 100",
    "stand": "SELECT 1 FROM stand WHERE id = ?",
    "lock": "SELECT 1 FROM stand_lock JOIN stand_edit USING (stand_id) "
    "WHERE stand_id = ? AND note = ?",
    "version": "SELECT 1 FROM horn_version WHERE horn_id = ? AND number = ?",
    "take": "SELECT 1 FROM take WHERE id = ?",
}
HALF = (
    "SELECT 1 FROM horn WHERE id NOT IN (SELECT horn_id FROM horn_version)",
    "SELECT 1 FROM take WHERE (SELECT count(*) FROM take_note WHERE take_id = take.id) != 300",
    "SELECT 1 FROM stand WHERE edits_done != (SELECT count(*) FROM stand_edit "
    "WHERE stand_id = stand.id)",
    "SELECT 1 FROM stand WHERE edits_done != (SELECT count(*) FROM stand_lock "
    "WHERE stand_id = stand.id)",
)


def check_all_there(folder, reported):
    studio = open_studio(folder)
    try:
        with studio.store.read() as db:
            for kind, done in reported:
                values = done if isinstance(done, list) else [done]
                assert db.execute(CHECKS[kind], values).fetchone(), (kind, done)
            for half in HALF:
                assert db.execute(half).fetchone() is None, half
        for student in list_students(studio):
            if ["horn", student.id] in reported:
                assert main_horn(studio, student.id).version.description.valves
    finally:
        studio.close()
    whole(folder / FILE_NAME)


def test_nothing_saved_is_lost_when_killed_amid_fifty_writes(nursery, tmp_path):
    draw = random.Random(5)
    amid, counts = 0, []
    folder = tmp_path / "whole"
    folder.mkdir()
    with nursery(folder) as (_, reports):
        everything = [report for report in reports if report[0] not in ("open", "end")]
    assert len(everything) == WRITES
    check_all_there(folder, everything)

    for k in range(ROUNDS):
        folder = tmp_path / f"round{k}"
        folder.mkdir()
        with nursery(folder) as (child, reports):
            assert next(reports) == ["open"]
            reported = [next(reports) for _ in range(draw.randint(0, WRITES * 4 // 5))]
            # Not at a report, but anywhere: in a commit, a checkpoint, between two writes.
            time.sleep(draw.uniform(0, 0.01))
            os.kill(child, signal.SIGKILL)
            reported += list(reports)
        ended = reported[-1:] == [["end"]]
        amid += not ended
        reported = [report for report in reported if report != ["end"]]
        counts.append(len(reported))
        check_all_there(folder, reported)
    assert amid >= ROUNDS * 3 // 4, counts
    assert len(set(counts)) > ROUNDS // 4, counts


def test_killed_at_the_first_start(tmp_path):
    """The file is made, marked and filled, or the next start does it."""
    code = """
import os, signal, sys, threading, time
from pathlib import Path
from handslide.studio.studio import open_studio
threading.Thread(
    target=lambda: (time.sleep(float(sys.argv[2])), os.kill(os.getpid(), signal.SIGKILL))
).start()
open_studio(Path(sys.argv[1]))
"""
    for k, wait in enumerate((0.0, 0.002, 0.006)):
        folder = tmp_path / str(k)
        subprocess.run([sys.executable, "-c", code, str(folder), str(wait)], timeout=60)
        studio = open_studio(folder)
        assert get_setting(studio, "language", "") == ""
        studio.close()
        whole(folder / FILE_NAME)


STEPS = """
import json, os, signal, sqlite3, sys
from pathlib import Path
from handslide.studio.care import backups, erase
from handslide.studio.studio import open_studio

def killed_after(left, folder, step):
    def die(*_):
        nonlocal left
        left -= 1
        if left <= 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return 0

    real = sqlite3.connect

    def connect(*args, **options):
        db = real(*args, **options)
        db.set_progress_handler(die, 200)
        return db

    open_studio(Path(folder)).store.close()
    sqlite3.connect = connect
    exec(step, {"studio": open_studio(Path(folder)), "backups": backups, "erase": erase})

# As the writers are: born loaded.
for line in sys.stdin:
    child = os.fork()
    if child == 0:
        killed_after(*json.loads(line))
        os._exit(0)
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""


@pytest.fixture(scope="module")
def killed_amid():
    """Do ``step`` in a studio, by a process that is killed after so much work of its database:
    its exit code, 0 if it came to its end."""
    mother = subprocess.Popen(
        [sys.executable, "-c", STEPS], text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )  # fmt: skip

    def done(step, folder, left):
        mother.stdin.write(json.dumps([left, str(folder), step]) + "\n")
        mother.stdin.flush()
        return int(mother.stdout.readline())

    yield done
    mother.stdin.close()
    assert mother.wait(20) == 0
    mother.stdout.close()


def test_killed_while_a_student_is_erased_the_backups_stay_whole(nursery, killed_amid, tmp_path):
    """Killed anywhere in it, erasing can be done again; at the end nothing is left."""
    killed = 0
    with nursery(tmp_path, 17) as (_, reports):
        list(reports)
    studio = open_studio(tmp_path)
    daily_backup(studio)
    studio.close()
    for left in (3, 10, 30, 60, 100, 150):
        code = killed_amid("erase.erase_student(studio, 1)", tmp_path, left)
        if code == 0:
            break
        assert code == -signal.SIGKILL
        killed += 1
        for backup in backups_in(tmp_path):
            check_file(backup.path)
        open_studio(tmp_path).close()
        whole(tmp_path / FILE_NAME)
    assert killed >= 2
    studio = open_studio(tmp_path)
    if any(student.id == 1 for student in list_students(studio)):
        erase_student(studio, 1)
    names = {student.name for student in list_students(studio)}
    studio.close()
    assert names == {"Student 8", "Student 16"}
    for path in tmp_path.rglob("*"):
        if path.is_file():
            assert b"Student 0" not in path.read_bytes(), path


def test_killed_while_a_backup_is_restored(nursery, killed_amid, tmp_path):
    """It is all the backup or all as before."""
    step = "backups.restore_backup(studio, backups.list_backups(studio)[-1].name)"
    with nursery(tmp_path, 8) as (_, reports):
        list(reports)
    studio = open_studio(tmp_path)
    oldest = daily_backup(studio)
    studio.store.close()
    with nursery(tmp_path, 17) as (_, reports):
        list(reports)
    states, killed = set(), 0
    for left in (5, 20, 40, 80, 160, 320):
        code = killed_amid(step, tmp_path, left)
        assert code in (0, -signal.SIGKILL)
        studio = open_studio(tmp_path)
        states.add(len(list_students(studio)))
        studio.close()
        whole(tmp_path / FILE_NAME)
        if code == 0:
            break
        killed += 1
    assert killed >= 2
    assert states <= {1, 4} and (code or 1 in states), states
    assert oldest.exists()


# The real server.

FORM = {
    "name": "", "about": "", "horn": "tenor-f", "reach": "", "offered": "F", "valves": "F",
    "clef": "", "names": "english", "signs": "", "counting": "open", "numerals": "arabic",
    "profile": "classical", "show": "all", "consent_note": "", "consent_on": "",
}  # fmt: skip


# The first page works longer than anybody waits.
SLOW = """
import time
from handslide.faces.cli.main import main
from handslide.faces.web import home
home.cards = lambda *_, **__: time.sleep(60)
main()
"""


@contextmanager
def studio_command(folder, program=("-m", "handslide")):
    """`handslide studio` as a process of its own, and the port that it answers at."""
    command = [sys.executable, *program, "studio", "--no-browser", "--port", "0"]
    process = subprocess.Popen(
        [*command, "--folder", str(folder)], text=True, stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT, env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    try:
        said = process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)", said)
        assert found, said + process.stdout.read()
        yield process, int(found[1])
    finally:
        process.kill()
        process.wait(20)
        process.stdout.close()


def post_student(port, name):
    """The status that the server answers to a new student, and where it sends the browser."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    headers = {
        "Origin": f"http://127.0.0.1:{port}",
        "Content-Type": "application/x-www-form-urlencoded",
    }
    try:
        body = urllib.parse.urlencode({**FORM, "name": name})
        connection.request("POST", "/students/new", body, headers)
        answer = connection.getresponse()
        answer.read()
        return answer.status, answer.getheader("Location")
    finally:
        connection.close()


def post_until_killed(port, kill, wait_s, least):
    """Post students from three threads; ``kill`` is called amid it, ``wait_s`` after ``least``.

    Gives those that were confirmed.
    """
    confirmed, wrong, enough = {}, [], threading.Event()

    def post(thread):
        for k in range(200):
            name = f"Student {thread} {k}"
            try:
                status, location = post_student(port, name)
            except (OSError, http.client.HTTPException):
                return  # killed
            if status != 303:
                wrong.append((status, location))
                enough.set()
                return
            confirmed[int(location.rpartition("/")[2])] = name
            if len(confirmed) >= least:
                enough.set()

    threads = [threading.Thread(target=post, args=(k,)) for k in range(3)]
    for thread in threads:
        thread.start()
    assert enough.wait(60), wrong
    time.sleep(wait_s)
    kill()
    for thread in threads:
        thread.join()
    assert wrong == []
    return confirmed


def test_the_server_killed_amid_posts_has_lost_nothing(tmp_path):
    draw = random.Random(11)
    everybody = {}
    for _ in range(2):
        with studio_command(tmp_path) as (process, port):
            wait_s, least = draw.uniform(0, 0.03), draw.randint(3, 15)
            everybody |= post_until_killed(port, process.kill, wait_s, least)
            process.wait(20)
        whole(tmp_path / FILE_NAME)
        studio = open_studio(tmp_path)
        there = {student.id: student.name for student in list_students(studio)}
        assert everybody.items() <= there.items()
        for student_id in there:
            assert main_horn(studio, student_id).version.description.valves
        studio.close()
    assert len(everybody) >= 6


def test_a_damaged_studio_is_recovered_by_the_command(tmp_path):
    studio = open_studio(tmp_path)
    enrol(studio, StudentValues("Mira Holt"), "tenor-f")
    made = daily_backup(studio)
    studio.close()
    path = tmp_path / FILE_NAME
    damaged = path.read_bytes()[:4096] + b"\xa5" * 20_000
    path.write_bytes(damaged)
    command = [sys.executable, "-m", "handslide", "studio", "--no-browser", "--port", "0"]
    done = subprocess.run(
        [*command, "--folder", str(tmp_path)], capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 1
    assert made.name in done.stderr and "--recover" in done.stderr
    assert "Traceback" not in done.stderr
    process = subprocess.Popen(
        [*command, "--folder", str(tmp_path), "--recover"], text=True, stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    try:
        assert f"The backup {made.name} is in place" in process.stdout.readline()
        assert "The studio is open" in process.stdout.readline()
    finally:
        process.kill()
        process.wait(20)
        process.stdout.close()
    (aside,) = damaged_in(tmp_path)
    assert aside.read_bytes() == damaged
    studio = open_studio(tmp_path)
    assert [student.name for student in list_students(studio)] == ["Mira Holt"]
    studio.close()


def test_a_page_that_works_on_and_on_holds_up_no_end(tmp_path):
    with studio_command(tmp_path, ("-c", SLOW)) as (process, port):
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        connection.request("GET", "/")
        time.sleep(0.5)
        process.send_signal(signal.SIGTERM)
        assert process.wait(30) == 0
        connection.close()
    whole(tmp_path / FILE_NAME)
