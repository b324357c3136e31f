"""Scores that the engraver died of, with the program: marked all the same, and the studio lives."""

import contextlib
import http.client
import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.parse
from dataclasses import replace
from pathlib import Path

import leashed
import pypdfium2
import pytest
from command import run, run_json
from musicxml_build import note, part, repeat, score
from peaked import peaked

from handslide.edges.engraving import copy, engrave
from handslide.edges.engraving.engraver import ENGRAVER
from handslide.edges.store.students import StudentValues
from handslide.ground.errors import ScoreError
from handslide.jobs.practice import music
from handslide.studio.parts.scores import add_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.people.horns import enrol
from handslide.studio.studio import open_studio

SCORES = sorted((Path(__file__).parent / "scores").glob("*.musicxml"))
DEADLY = next(path for path in SCORES if path.stem == "no_beat_type")
GB = 2**30

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals")


@pytest.fixture
def unmended(monkeypatch):
    """The engraving copy is as the file is, so that the engraver dies of it."""
    monkeypatch.setattr(copy, "repair", lambda part: None)


@pytest.mark.parametrize("path", SCORES, ids=lambda path: path.stem)
def test_what_can_be_mended_is_engraved(tmp_path, path):
    code, peak, out = peaked(["mark", path, "-o", tmp_path, "--json"])
    assert code == 0
    found = json.loads(out)
    assert [Path(file).name for file in found["files"]] == [
        f"{path.stem}-marked.musicxml",
        f"{path.stem}-marked.pdf",
    ]
    assert "not_engraved" not in {warning["kind"] for warning in found["warnings"]}
    assert peak < GB


def test_a_part_that_the_engraver_dies_of_is_marked(tmp_path, unmended):
    found = run_json("mark", DEADLY, "-o", tmp_path, "--horn", "tenor")
    assert found["files"] == [str(tmp_path / "no_beat_type-marked.musicxml")]
    (warning,) = (one for one in found["warnings"] if one["kind"] == "not_engraved")
    assert warning["text"] == (
        "no PDF was made, but the marked score is whole: the part 'Trombone' can't be engraved: "
        "the engraver broke down on it"
    )
    assert (tmp_path / "no_beat_type-marked.musicxml").read_text().count("<fingering") == 4
    assert not (tmp_path / "no_beat_type-marked.pdf").exists()
    told = run("mark", DEADLY, "-o", tmp_path, "--force", "--horn", "tenor").stdout
    assert "no PDF was made, but the marked score is whole" in " ".join(told.split())
    # Others are engraved as before.
    run("mark", SCORES[-1], "-o", tmp_path, "--horn", "tenor", "--force")


def test_a_slow_engraver_is_stopped(tmp_path, monkeypatch):
    monkeypatch.setattr(ENGRAVER, "limits", replace(ENGRAVER.limits, seconds=0.2))
    monkeypatch.setattr(engrave, "render", leashed.deaf)
    found = run_json("mark", DEADLY, "-o", tmp_path, "--horn", "tenor")
    text = found["warnings"][-1]["text"]
    assert "the engraver wasn't done after" in text


def test_a_moved_part_that_the_engraver_dies_of_is_written(tmp_path, unmended):
    found = run_json("transpose", DEADLY, "--by", "P8", "-o", tmp_path, "--horn", "tenor")
    assert [Path(file).suffix for file in found["files"]] == [".musicxml"]
    assert found["warnings"][-1]["kind"] == "not_engraved"


def test_a_lesson_sheet_is_made_without_the_music_that_the_engraver_dies_of(tmp_path, unmended):
    sheet = tmp_path / "lesson.pdf"
    found = run_json("lesson", DEADLY, "-o", sheet, "--horn", "tenor-f", "--drill", "scales")
    assert found["files"] == [str(sheet)] and found["excerpts"]
    kinds = {(one["kind"], "stands on the sheet without its music" in one["text"])
             for one in found["warnings"]}  # fmt: skip
    assert kinds == {("not_engraved", True)}
    # Its warm-up and its drills are there.
    assert len(found["warnings"]) == len(found["excerpts"])
    pages = pypdfium2.PdfDocument(sheet)
    text = "".join(page.get_textpage().get_text_range() for page in pages)
    assert " ".join(text.split()).count("without its music") == len(found["warnings"])
    told = run("lesson", DEADLY, "-o", sheet, "--force", "--horn", "tenor-f").stdout
    assert "stands on the sheet without its music" in " ".join(told.split())


def test_a_drill_sheet_is_made_without_the_music_that_the_engraver_is_too_slow_for(
    tmp_path, monkeypatch
):
    whole, calls = music.engrave_exercise, []

    def engraved(*args, **options):
        calls.append(args)
        if len(calls) == 1:
            raise ScoreError("scores.engraver_memory", part="Trombone")
        return whole(*args, **options)

    monkeypatch.setattr(music, "engrave_exercise", engraved)
    found = run_json("drill", "scales", "--exercises", 2, "-o", tmp_path)
    assert [Path(file).name for file in found["files"]] == ["scales.musicxml", "scales.pdf"]
    (warning,) = found["warnings"]
    assert warning["text"].startswith("exercise 1, ") and warning["kind"] == "not_engraved"


STUDIO = """
import sys
from handslide.edges.engraving import copy
from handslide.edges.engraving.repair import repair
copy.repair = lambda part: None
from handslide.faces.cli.main import main
main()
"""


@contextlib.contextmanager
def running(folder):
    """A studio's process with an unmended engraving copy, and its place."""
    process = subprocess.Popen(
        [sys.executable, "-c", STUDIO, "studio", "--folder", folder, "--no-browser", "--port", "0"],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    try:
        found = re.search(r"http://([\d.]+):(\d+)", process.stdout.readline())
        yield process, (found[1], int(found[2]))
    finally:
        process.kill()
        process.communicate()


def ask(place, path, accept="application/json"):
    line = http.client.HTTPConnection(*place, timeout=60)
    with contextlib.closing(line):
        line.request("GET", urllib.parse.quote(path, safe="/?="), headers={"Accept": accept})
        answer = line.getresponse()
        return answer.status, answer.read().decode()


def children_of(pid):
    with contextlib.suppress(FileNotFoundError):
        return {
            int(child)
            for task in Path(f"/proc/{pid}/task").iterdir()
            for child in (task / "children").read_text().split()
        }
    return set()


def test_the_studio_lives_on_and_killed_it_leaves_no_child(tmp_path):
    folder = tmp_path / "studio"
    studio = open_studio(folder)
    student = enrol(studio, StudentValues(name="Mira Holt"), "tenor")
    stands = [
        open_stand(studio, student.id, add_score(studio, path.read_bytes(), path.name).score.id)
        for path in (DEADLY, next(path for path in SCORES if path.stem == "divided_by_zero"))
    ]
    studio.close()
    with running(folder) as (process, place):
        for _ in range(2):
            status, text = ask(place, f"/stands/{stands[0]}/music")
            assert status == 400
            assert json.loads(text)["error"] == (
                "The part 'Trombone' can't be engraved: the engraver broke down on it."
            )
        for path in ("/", f"/stands/{stands[0]}", f"/students/{student.id}"):
            assert ask(place, path, "text/html")[0] == 200
        assert ask(place, f"/stands/{stands[0]}/route")[0] == 200
        assert "<fingering" in ask(place, f"/stands/{stands[0]}/score")[1]
        assert ask(place, f"/stands/{stands[0]}/pdf", "text/html")[0] == 400
        assert process.poll() is None
    with running(folder) as (process, place):  # and after a restart
        assert ask(place, f"/stands/{stands[0]}/music")[0] == 400
        assert process.poll() is None
        killed_it_leaves_no_child(process)


def killed_it_leaves_no_child(process):
    if sys.platform != "linux":  # elsewhere the limit of time ends them
        return
    until = time.monotonic() + 10
    while not (children := children_of(process.pid)) and time.monotonic() < until:
        time.sleep(0.02)
    assert children
    process.send_signal(signal.SIGKILL)
    process.wait()
    until = time.monotonic() + 5
    while any(_lives(child) for child in children) and time.monotonic() < until:
        time.sleep(0.02)
    assert not any(_lives(child) for child in children)


def _lives(pid):
    try:
        told = Path(f"/proc/{pid}/stat").read_text()
    except FileNotFoundError:
        return False
    return told.rpartition(")")[2].split()[0] != "Z"


def test_in_a_section_it_is_named_with_its_student(tmp_path, unmended):
    roster = tmp_path / "class.csv"
    roster.write_text("student,horn\nMira Holt,tenor\n")
    words = ("section", DEADLY, "--class", roster, "-o", tmp_path / "out")
    (one,) = run_json(*words)["students"]
    assert [Path(file).suffix for file in one["files"]] == [".musicxml"]
    assert [warning["kind"] for warning in one["warnings"]] == ["not_engraved"]
    assert "Mira Holt: no PDF was made" in run(*words, "--force").stdout


def test_a_measure_that_no_page_holds_is_not_engraved(tmp_path):
    file = tmp_path / "crowd.musicxml"
    one, other = note("Bb2"), note("D3", first="<chord/>")
    file.write_bytes(score(part(one + other * 1000 + note() * 2)))
    found = run_json("mark", file, "-o", tmp_path, "--horn", "tenor")
    told = [one["text"] for one in found["warnings"] if one["kind"] == "not_engraved"]
    assert told == [
        "no PDF was made, but the marked score is whole: the part 'Trombone' can't be engraved: "
        "measure 1 has 1003 notes, more than 1000"
    ]


def test_repeats_of_a_million_times_are_engraved(tmp_path):
    bars = [note("Bb2") * 4 + repeat(times=999_999)] * 30
    file = tmp_path / "again.musicxml"
    file.write_bytes(score(part(*bars)))
    found = run_json("mark", file, "-o", tmp_path, "--horn", "tenor")
    assert "not_engraved" not in {one["kind"] for one in found["warnings"]}


@pytest.mark.parametrize(
    ("limit", "told"),
    [
        ("ENGRAVED_NOTES", "it has 8 notes, more than 7"),
        ("ENGRAVED_ELEMENTS", "it has 61 elements, more than 7"),
    ],
)
def test_a_part_that_is_too_long_is_not_engraved(tmp_path, monkeypatch, limit, told):
    monkeypatch.setattr(engrave, limit, 7)
    file = tmp_path / "long.musicxml"
    file.write_bytes(score(part(note() * 4, note() * 4)))
    found = run_json("mark", file, "-o", tmp_path, "--horn", "tenor")
    (text,) = (one["text"] for one in found["warnings"] if one["kind"] == "not_engraved")
    assert text == (
        "no PDF was made, but the marked score is whole: the part 'Trombone' can't be engraved: "
        + told
    )
