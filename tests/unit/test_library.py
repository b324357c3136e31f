"""A library of parts: what is found, taken, made, made again, and told."""

import csv
import errno
import json
import os
import shutil
from contextlib import contextmanager
from pathlib import Path

import pytest
from command import one_sentence, run, run_json
from madeup import outside_brackets
from musicxml_build import notes, part, score
from small_library import SAY, Inline, outputs, run_library, tune, write_library

from handslide.edges.files import outfile
from handslide.edges.files.partchoice import PartChoice, read_part_choices
from handslide.edges.files.tree import walk_tree
from handslide.edges.manifest.manifest import FILE_NAME, Manifest, Wish
from handslide.edges.musicxml.read import read_score
from handslide.faces.cli.show_library import found_text, run_text
from handslide.faces.web.libraryreport import library_html
from handslide.ground.errors import HandslideError
from handslide.ground.facts import fact
from handslide.instrument.pace import pace
from handslide.jobs.library.choosing import choose_parts
from handslide.jobs.library.report import library_report
from handslide.jobs.library.search import parse_range, parse_speed, search_library
from handslide.jobs.library.wishes import names_of, parse_formats
from handslide.words.speech import speech


@pytest.fixture
def source(tmp_path):
    return write_library(tmp_path / "in")


@pytest.fixture
def out(tmp_path):
    return tmp_path / "out"


@contextmanager
def refused(kind):
    with pytest.raises(HandslideError) as caught:
        yield caught
    assert caught.value.fact.kind == kind
    assert SAY.fact(caught.value)


def table(path):
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


# The tree.


def test_a_tree_is_walked_once_whatever_its_links(tmp_path):
    root = tmp_path / "root"
    for name in ("a/x.mxl", "a/.hidden.mxl", ".git/y.mxl", "z.XML", "a/notes.txt", "out/made.mxl"):
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_bytes(b"1")
    (tmp_path / "far").mkdir()
    (tmp_path / "far" / "w.mxl").write_bytes(b"22")
    (root / "a" / "round").symlink_to(root)
    (root / "a" / "up").symlink_to(tmp_path)
    (root / "0link").symlink_to(root / "a")
    (root / "far").symlink_to(tmp_path / "far")
    (root / "nowhere.mxl").symlink_to(tmp_path / "gone")
    os.mkfifo(root / "pipe.mxl")
    (root / os.fsdecode(b"odd\xff.mxl")).write_bytes(b"1")
    (root / "caf\u00e9\u00a0 1.mxl").write_bytes(b"1")
    tree = walk_tree(root, (".mxl", ".xml"), without=root / "out")
    assert [file.path for file in tree.files] == [
        "a/x.mxl", "caf\u00e9\u00a0 1.mxl", "far/w.mxl", "z.XML",
    ]  # fmt: skip
    assert tree.odd == 1
    assert tree.files[2].size == 2


def test_a_tree_that_is_no_folder(tmp_path):
    (tmp_path / "file").write_bytes(b"")
    for name in ("file", "nothing"):
        with refused("library.folder"):
            walk_tree(tmp_path / name, (".mxl",))


def test_names_of_results_are_told_apart():
    assert names_of(["a/x.mxl", "b/x.mxl", "b/X.musicxml", "y.v2.xml"]) == {
        "a/x.mxl": "a/x", "b/x.mxl": "b/x-mxl", "b/X.musicxml": "b/X-musicxml", "y.v2.xml": "y.v2",
    }  # fmt: skip


# Parts.


NOBODY = PartChoice()


def taken(*parts, choice=NOBODY):
    """(name, taken, why) of parts that are given as name, clef and notes."""
    pieces = []
    for number, (_, clef, line) in enumerate(parts, 1):
        sign, place = clef[0], clef[1:]
        attributes = (
            f"<attributes><divisions>1</divisions><clef><sign>{sign}</sign><line>{place}</line>"
            "</clef></attributes>"
        )
        music = line if "<" in line else notes(line)
        pieces.append(part(attributes + music, part_id=f"P{number}"))
    found = read_score(score(*pieces, names=tuple(name for name, _, _ in parts)))
    return [(one.look.name, one.taken, one.why) for one in choose_parts(found.looks(), choice)]


LOW = "C3 D3 E3 F3"


@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        ([("Posaune 1", "F4", LOW), ("Tuba", "F4", LOW)],
         [(True, "name"), (False, "others_named")]),
        ([("Tbn. 1", "F4", LOW), ("Bass", "F4", LOW)], [(True, "name"), (False, "others_named")]),
        ([("Part 1", "F4", LOW)], [(True, "clef_and_range")]),
        ([("Music", "C4", "F3 A3 C4 F4")], [(True, "clef_and_range")]),
        ([("Violoncello", "F4", LOW), ("Fagott", "F4", LOW)], [(False, "instrument")] * 2),
        ([("Part 1", "G2", "C4 D4 E4 F4")], [(False, "clef")]),
        ([("Part 1", "F4", "C1 D1 E1 F1")], [(False, "range")]),
        ([("Part 1", "F4", "C3 r r C6")], [(False, "range")]),
        ([("Part 1", "F4", "r r r r")], [(False, "empty")]),
        ([("Trombone", "F4", "r r r r"), ("II", "F4", LOW)],
         [(False, "empty"), (True, "clef_and_range")]),
        ([("Part 1", "F4", notes("C3") + notes("E3", first="<chord/>"))], [(False, "chords")]),
    ],
)  # fmt: skip
def test_which_parts_are_taken(parts, expected):
    assert [row[1:] for row in taken(*parts)] == expected


def test_a_person_has_the_last_word_on_parts():
    parts = [("Trombone", "F4", LOW), ("Baritone", "F4", LOW), ("Flute", "G2", "C5 D5 E5 F5")]

    def names(*take):
        return [name for name, yes, _ in taken(*parts, choice=PartChoice(take)) if yes]

    assert names("baritone") == ["Baritone"]
    assert names("P1", "3") == ["Trombone", "Flute"]
    assert names("*") == ["Trombone", "Baritone", "Flute"]
    assert names() == []
    with refused("library.no_such_part"):
        names("Zither")


def test_part_choices_are_read(tmp_path):
    path = tmp_path / "parts.toml"
    assert read_part_choices(path).of("x") == PartChoice()
    path.write_text(
        '["band/*"]\nsounds = "Bb-treble"\ntake = [1]\n["band/b.mxl"]\ntake = []\n',
        encoding="utf-8",
    )
    choices = read_part_choices(path)
    assert choices.of("band/a.mxl") == PartChoice(("1",), "Bb-treble")
    assert choices.of("band/b.mxl") == PartChoice((), "Bb-treble")


@pytest.mark.parametrize(
    "text", ["take = 3", '["a"]\ntaek = []', '["a"]\ntake = "P1"', '["a"]\nsounds = "x"', "["]
)
def test_wrong_part_choices_are_told(tmp_path, text):
    (tmp_path / "parts.toml").write_text(text, encoding="utf-8")
    with refused("library.parts_file") as caught:
        read_part_choices(tmp_path / "parts.toml")
    assert "parts.toml" in SAY.fact(caught.value)


# Runs.


def test_a_library_is_marked_once(source, out):
    first, workers = run_library(source, out, horns=("tenor-f", "tenor"))
    assert (first.files, first.made, first.counts) == (3, 6, {"done": 6, "to_do": 0, "error": 0})
    assert workers.closed
    made = outputs(out)
    assert set(made) == {
        f"{folder}/tune{number}-{horn}-marked.musicxml"
        for folder, number in (("b/c", 0), ("a", 1), ("b/c", 2))
        for horn in ("tenor", "tenor-f")
    }
    assert b"<fingering" in made["a/tune1-tenor-f-marked.musicxml"]
    again, workers = run_library(source, out, horns=("tenor-f", "tenor"))
    assert (again.made, workers.asked) == (0, [])
    assert outputs(out) == made


def test_only_what_changed_is_made(source, out):
    run_library(source, out)
    (source / "a" / "tune1.musicxml").write_bytes(tune("Bb2 C3 D3 Eb3"))
    assert run_library(source, out)[1].marked == ["tune1.musicxml"]
    assert sorted(run_library(source, out, reach=5)[1].marked) == [
        "tune0.musicxml", "tune1.musicxml", "tune2.musicxml",
    ]  # fmt: skip
    (out / "b" / "c" / "tune2-tenor-f-marked.musicxml").unlink()
    assert run_library(source, out, reach=5)[1].marked == ["tune2.musicxml"]


def test_a_changed_profile_marks_what_it_affects(source, out, tmp_path):
    profile = tmp_path / "mine.toml"
    profile.write_text('title = "Mine"\n', encoding="utf-8")
    run_library(source, out, profile=str(profile))
    profile.write_text('title = "Mine"\nvalve_move = 3.0\n', encoding="utf-8")
    assert len(run_library(source, out, profile=str(profile))[1].marked) == 3
    assert run_library(source, out, profile=str(profile))[1].marked == []


def test_moved_files_and_files_of_equal_content(source, out):
    old = source / "a" / "tune1.musicxml"
    run_library(source, out)
    made = outputs(out)["a/tune1-tenor-f-marked.musicxml"]
    shutil.copy(old, source / "twin.musicxml")
    twins, workers = run_library(source, out)
    assert (twins.copied, workers.marked) == (1, [])
    (source / "z").mkdir()
    old.rename(source / "z" / "other.musicxml")
    moved, workers = run_library(source, out)
    assert (moved.copied, moved.counts["done"], workers.marked) == (1, 4, [])
    now = outputs(out)
    assert now["twin-tenor-f-marked.musicxml"] == made
    assert now["z/other-tenor-f-marked.musicxml"] == made
    assert "a/tune1-tenor-f-marked.musicxml" not in now
    assert not (out / "a").exists()
    assert len(run_library(source, out.parent / "new")[1].marked) == 3


def test_files_of_others_are_kept(source, out):
    theirs = out / "a" / "tune1-tenor-f-marked.musicxml"
    theirs.parent.mkdir(parents=True)
    theirs.write_bytes(b"mine")
    kept, _ = run_library(source, out)
    assert theirs.read_bytes() == b"mine"
    assert [(row.target.source, why.kind) for row, why in kept.failed] == [
        ("a/tune1.musicxml", "files.exists")
    ]
    assert kept.counts == {"done": 2, "to_do": 0, "error": 1}
    forced, _ = run_library(source, out, force=True)
    assert forced.counts["done"] == 3
    assert theirs.read_bytes() != b"mine"


def test_a_class_gets_its_own_files(source, out, tmp_path):
    roster = tmp_path / "class.csv"
    roster.write_text(
        "student,horn,reach\nMira Holt,tenor-f,\nBen,tenor,5\nOla,kazoo,\n", encoding="utf-8"
    )
    made, _ = run_library(source, out, roster=roster, horns=("tenor",))
    assert made.counts["done"] == 6
    assert {path.rpartition("/")[2] for path in outputs(out)} >= {
        "tune0-Mira Holt-marked.musicxml", "tune0-Ben-marked.musicxml",
    }  # fmt: skip
    with refused("library.horns_of_a_class"):
        run_library(source, out, roster=roster, horns=("tenor", "alto"))


def test_a_rehearsal_writes_nothing(source, out):
    told, workers = run_library(source, out, rehearse=True)
    assert (told.counts["to_do"], workers.marked, out.exists()) == (3, [], False)
    run_library(source, out)
    before = outputs(out.parent)
    (source / "new.musicxml").write_bytes(tune("C3 D3 E3 F3"))
    told, _ = run_library(source, out, rehearse=True)
    assert (told.counts["to_do"], told.made) == (1, 0)
    assert {name: data for name, data in outputs(out.parent).items() if "new" not in name} == before


def test_folders_that_do_not_fit(source, tmp_path):
    for folder in (source, tmp_path):
        with refused("library.one_folder"):
            run_library(source, folder)
    inside, _ = run_library(source, source / "marked")
    assert run_library(source, source / "marked")[0].files == inside.files == 3


def test_formats_are_endings():
    assert parse_formats("MXL, .musicxml") == (".mxl", ".musicxml")
    assert {".mxl", ".xml", ".krn", ".mei", ".abc", ".mid"} <= set(parse_formats(None))
    with refused("library.format"):
        parse_formats("doc")


# What goes wrong.


def test_a_part_that_kills_its_workers_is_tried_three_times(source, out):
    def before(task):
        if task.source.name == "tune1.musicxml" and hasattr(task, "player"):
            return fact("library.worker", why="died")
        return None

    made, workers = run_library(source, out, Inline(before))
    assert workers.marked.count("tune1.musicxml") == 3
    assert workers.marked[-2:] == ["tune1.musicxml"] * 2
    assert made.counts == {"done": 2, "to_do": 0, "error": 1}
    assert [why.kind for _, why in made.failed] == ["library.worker"]
    assert run_library(source, out)[1].marked == []
    healed, workers = run_library(source, out, retry_errors=True)
    assert workers.marked == ["tune1.musicxml"]
    assert healed.counts["done"] == 3


def test_what_vanishes_or_changes_is_an_error_of_its_part_and_tried_again(source, out):
    calm = run_library(source, out.parent / "calm")[0]
    gone, other = source / "a" / "tune1.musicxml", source / "b" / "c" / "tune0.musicxml"
    data, otherwise = gone.read_bytes(), other.read_bytes()

    def before(task):
        if hasattr(task, "player"):
            gone.unlink(missing_ok=True)
            other.write_bytes(b"another")

    made, _ = run_library(source, out, Inline(before))
    assert {why.kind for _, why in made.failed} == {"library.gone", "library.changed"}
    gone.write_bytes(data)
    other.write_bytes(otherwise)
    assert run_library(source, out)[0].counts == calm.counts
    assert outputs(out) == outputs(out.parent / "calm")


def test_a_full_disk_is_an_error_of_the_part_and_leaves_nothing_half(source, out, monkeypatch):
    real = os.fsync

    def full(handle):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    def before(task):
        is_it = hasattr(task, "player") and task.source.name == "tune1.musicxml"
        monkeypatch.setattr(outfile.os, "fsync", full if is_it else real)

    made, _ = run_library(source, out, Inline(before))
    monkeypatch.setattr(outfile.os, "fsync", real)
    assert [why.kind for _, why in made.failed] == ["files.unwritten"]
    assert not list(out.rglob("*.part"))
    assert run_library(source, out)[0].counts == {"done": 3, "to_do": 0, "error": 0}


def test_hostile_files_are_told_and_the_others_made(source, out):
    (source / "cut.musicxml").write_bytes(tune(LOW)[:200])
    (source / "text.mxl").write_bytes(b"hello")
    (source / "empty.xml").write_bytes(b"")
    made, _ = run_library(source, out)
    assert [path for path, _ in made.problems] == ["cut.musicxml", "empty.xml", "text.mxl"]
    assert made.counts["done"] == 3
    rows = table(out / "errors.csv")
    assert [row["file"] for row in rows[:3]] == ["cut.musicxml", "empty.xml", "text.mxl"]
    assert all(row["text"] and row["kind"].startswith("scores.") for row in rows[:3])


def test_a_stopped_run_is_gone_on_with(source, out):
    workers = Inline()
    half, _ = run_library(source, out, workers, stop=lambda: len(workers.marked) >= 2)
    assert half.stopped
    assert half.counts == {"done": 2, "to_do": 1, "error": 0}
    whole, workers = run_library(source, out)
    assert (whole.counts["done"], len(workers.marked), whole.stopped) == (3, 1, False)


def test_what_another_program_left_is_refused(source, out):
    out.mkdir()
    (out / FILE_NAME).write_bytes(b"no database at all" * 100)
    with refused("library.manifest"):
        run_library(source, out)


def test_one_run_at_a_time(source, out):
    def before(task):
        with refused("library.second"):
            run_library(source, out)

    assert run_library(source, out, Inline(before))[0].counts["done"] == 3


def test_a_driver_that_died_costs_no_try(source, out):
    run_library(source, out)
    manifest = Manifest.open(out / FILE_NAME)
    key = manifest.targets()[0].key
    for _ in range(5):
        manifest.undo([key])
        manifest.start(key)
        manifest.close()
        manifest = Manifest.open(out / FILE_NAME)
    manifest.undo([key])
    manifest.place([manifest.targets()[0].path], placed=False)
    manifest.close()
    left = out / "a" / ".handslide-x.part"
    left.write_bytes(b"half")
    (out / "a" / "tune1-tenor-f-marked.musicxml").unlink()
    assert run_library(source, out)[0].counts["done"] == 3
    assert not left.exists()


# What is told.


def test_grades_say_what_a_part_asks(source, out):
    (source / "far.musicxml").write_bytes(tune("E2 Bb3 E2 B1", part="Bass Trombone"))
    run_library(source, out, horns=("tenor",))
    row = {one["file"]: one for one in table(out / "grades.csv")}["far.musicxml"]
    assert (row["notes"], row["unplayable"], row["lowest"], row["highest"]) == (
        "4", "1", "B1", "Bb3",
    )  # fmt: skip
    # E2 is the 2nd partial in 7th position on a tenor (any position chart).
    assert float(row["furthest_position"]) == pytest.approx(7.0, abs=0.1)
    assert row["pace"] == pace(float(row["quickest_m_s"]))
    assert 0.5 < float(row["quickest_m_s"]) < 5.0
    assert row["valves"] == ""
    errors = table(out / "errors.csv")
    assert [(one["kind"], one["count"], one["measures"]) for one in errors] == [
        ("unplayable", "1", "1")
    ]
    parts = {one["file"]: one for one in table(out / "parts.csv")}
    assert (parts["far.musicxml"]["taken"], parts["far.musicxml"]["kind"]) == ("yes", "name")


def test_a_search_finds_literature(source, out):
    (source / "far.musicxml").write_bytes(tune("E2 Bb3 E2 B1"))
    (source / "calm.musicxml").write_bytes(tune("Bb2 F3 Bb3 F3"))
    run_library(source, out, horns=("tenor", "tenor-f"))

    def found(who=None, **wish):
        return {one.row.target.source for one in search_library(out, Wish(**wish), who)}

    assert "far.musicxml" not in found("tenor")
    assert "far.musicxml" in found("tenor", unplayable=True)
    assert found("tenor", speed_m_s=0.3) == {"calm.musicxml"}
    assert found("tenor", low=46) == {"calm.musicxml"}
    assert "far.musicxml" not in found("tenor-f", valves=False)
    assert found("tenor", position=1.5) == {"calm.musicxml"}
    everybody = search_library(out, Wish())
    efforts = [one.grade.effort for one in everybody]
    assert efforts == sorted(efforts, reverse=True) and len(efforts) == 8
    with refused("library.no_player"):
        found("Mira")
    with refused("library.no_manifest"):
        search_library(source, Wish())


@pytest.mark.parametrize(
    ("text", "span"), [("E2-F4", (40, 65)), ("f4–e2", (40, 65)), ("C-1-C4", (0, 60))]
)
def test_ranges(text, span):
    assert parse_range(text) == span


def test_wrong_ranges_and_speeds():
    for text in ("E2", "-", "H2-F4", ""):
        with refused("library.range"):
            parse_range(text)
    assert [parse_speed(text) for text in ("easy", "quick", "3,5")] == [2.0, 5.0, 3.5]
    for text in ("slow", "-1", "nan"):
        with refused("library.speed"):
            parse_speed(text)


def test_the_page_escapes_what_files_say_and_needs_nothing_else(source, out):
    (source / "evil.musicxml").write_bytes(tune(LOW, title="&lt;img src=x onerror=alert(1)>"))
    made, _ = run_library(source, out)
    page = library_html(SAY, made, library_report(out))
    assert "<img" not in page and "&lt;img src=x" in page
    assert "http" not in page.replace("http-equiv", "")
    assert page.count("<tr>") == 5


def test_all_of_it_is_in_the_language_of_its_reader(source, out):
    (source / "cut.musicxml").write_bytes(b"<score")
    (source / "flute.musicxml").write_bytes(tune("C5 D5 E5 F5", part="kazoo", clef="G"))
    (source / "far.musicxml").write_bytes(tune("E2 Bb3 E2 B1", title="kazoo", part="kazoo"))
    made, _ = run_library(source, out)
    zz = speech("zz")
    text = run_text(zz, made, ["x/report.html"])
    text += found_text(zz, search_library(out, Wish(unplayable=True))[:2], 5)
    text += zz(library_title()) + SAY("")
    for known in (str(out), *(f"{folder}/" for folder in ("b/c", "a", "x"))):
        text = text.replace(known, " ")
    kept = ("tune", "tenor", "marked", "kazoo", "cut", "musicxml", "html", "report", "far", "f")
    assert outside_brackets(text, kept) == []


def library_title():
    from handslide.words import library as words

    return words.TITLE


# The command.


def test_the_command_tells_what_it_would_do_and_what_is_wrong(source, out, tmp_path):
    assert "IN" in run("library", "--help").stdout
    for words, code in (
        (("library", tmp_path / "nothing", out), 1),
        (("library", source, source), 2),
        (("library", source, out, "--horn", "kazoo"), 1),
        (("library", source, out, "--formats", "doc"), 2),
        (("library", source, out, "--existing", "check"), 2),
        (("library", "search", out), 1),
        (("library", "search", out, "--range", "x"), 2),
    ):
        one_sentence(run(*words, code=code))
    assert not out.exists()


def test_the_command_marks_and_finds(source, out, monkeypatch):
    from handslide.jobs.library import library

    monkeypatch.setattr(library, "Here", lambda count, pdf: Inline())
    told = run_json("library", source, out, "--horn", "tenor-f", "--no-pdf")
    assert told["parts"] == {"done": 3, "to_do": 0, "error": 0}
    assert told["choice"][0]["taken"] is True
    assert [Path(file).name for file in told["files"]] == [
        "report.html", "errors.csv", "grades.csv", "parts.csv",
    ]  # fmt: skip
    found = run_json("library", "search", out, "--student", "tenor-f", "--range", "C2-F4")
    assert found["count"] == 3
    assert {row["pace"] for row in found["found"]} <= {"easy", "quick", "too_quick"}
    assert "marked" in run("library", "run", source, out, "--horn", "tenor-f", "--no-pdf").stdout
    (source / "cut.musicxml").write_bytes(b"<score")
    run("library", source, out, "--horn", "tenor-f", "--no-pdf", code=1)
    assert json.loads(
        run("library", source, out, "--no-pdf", "--dry-run", "--json", code=1).stdout
    )["dry_run"]


def test_what_a_dead_worker_left_unfinished_is_taken_away(source, out):
    left = out / "a" / ".handslide-x.part"

    def before(task):
        if hasattr(task, "player"):
            left.parent.mkdir(parents=True, exist_ok=True)
            left.write_bytes(b"half")

    assert run_library(source, out, Inline(before))[0].counts["done"] == 3
    assert not left.exists()
