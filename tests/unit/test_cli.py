"""The command line as a person uses it: contract, errors and exit codes, files left behind."""

import json
import os
import stat
import subprocess
import sys
import zipfile
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from command import one_sentence, run, run_json
from lxml import etree

from handslide.edges.files import outfile
from handslide.faces.cli.main import COMMANDS, main
from handslide.faces.cli.overview import COMMANDS_HELP, overview

ROOT = Path(__file__).resolve().parents[2]
SCORES = Path(__file__).parents[1] / "scores"
SLAMA = SCORES / "Slama_01.musicxml"
DEMO = ROOT / "examples" / "lanterns.musicxml"


# The contract


def test_horns_are_all_there():
    names = [row["name"] for row in run_json("horns")["horns"]]
    assert names == [
        "tenor", "tenor-f", "tenor-f-long", "tenor-e", "bass-independent", "bass-dependent",
        "alto", "alto-bb", "soprano", "tenor-c-bb", "contrabass-f",
    ]  # fmt: skip


def test_a_users_own_horn_is_listed_and_taken_by_name():
    folder = Path(os.environ["HANDSLIDE_HOME"]) / "horns"
    folder.mkdir(parents=True)
    (folder / "mira.toml").write_text('closed = "Bb1"\ntravel_mm = 600\n', encoding="utf-8")
    rows = run_json("horns")["horns"]
    assert [row["name"] for row in rows if row["own"]] == ["mira"]
    # 600 mm stop short of 7th position (common practice: some 610 mm and more).
    assert run_json("places", "E2", "--horn", "mira")["notes"][0]["partial"] is None
    assert "mira" in run("horns").stdout


def test_places_json_has_the_keys_of_the_contract():
    result = run_json("places", "C3", "E2", "Eb2", "--horn", "tenor-f")
    assert result["horn"] == "tenor-f"
    assert result["a4_hz"] == 440.0
    note = result["notes"][0]
    assert {"note", "midi", "valves", "partial", "position", "extension_mm", "lip_cents", "mark",
            "alternatives"} <= set(note)  # fmt: skip
    assert (note["note"], note["midi"], note["valves"], note["mark"]) == ("C3", 48, ["F"], "T1")
    assert [other["mark"] for other in note["alternatives"]] == ["6", "T7½"]
    # common practice: E in a long 2nd, E flat halfway between 3rd and 4th
    assert [n["mark"] for n in result["notes"]] == ["T1", "T♭2", "T3½"]


def test_line_json_has_the_keys_of_the_contract():
    result = run_json("line", "Eb3 D3 Db3 C3 B1", "--horn", "tenor-f")
    assert [note["mark"] for note in result["notes"]] == ["3", "4", "5", "6", None]
    last = result["notes"][3]
    assert last["partial"] == 3
    assert last["position"] == pytest.approx(6.02, abs=0.005)
    assert last["measure"] == 1
    assert last["alternatives"][0]["mark"] == "T1"
    assert last["alternatives"][0]["worse_by"] > 0
    assert "already moving out" in last["reason"]
    assert result["notes"][4]["partial"] is None
    (warning,) = result["warnings"]
    assert (warning["measure"], warning["note"], warning["kind"]) == (1, "B1", "unplayable")


def test_mark_json_and_files(tmp_path):
    result = run_json("mark", SLAMA, "--horn", "tenor-f", "-o", tmp_path)
    assert len(result["notes"]) == 93
    assert {"measure", "index", "mark", "alternatives", "reason"} <= set(result["notes"][0])
    names = sorted(Path(file).name for file in result["files"])
    assert names == ["Slama_01-marked.musicxml", "Slama_01-marked.pdf"]
    assert (tmp_path / "Slama_01-marked.pdf").read_bytes().startswith(b"%PDF")
    assert b'<fingering placement="above">' in (tmp_path / "Slama_01-marked.musicxml").read_bytes()


def test_a_compressed_score_stays_compressed(tmp_path):
    run("mark", SCORES / "School_for_Trombone_026.mxl", "-o", tmp_path, "--no-pdf")
    target = tmp_path / "School_for_Trombone_026-marked.mxl"
    assert zipfile.is_zipfile(target)
    assert sorted(path.name for path in tmp_path.iterdir()) == [target.name]


def test_a_timewise_score_is_marked_and_printed(tmp_path):
    tree = etree.parse(str(SLAMA)).getroot()
    part = tree.find("part")
    timewise = etree.Element("score-timewise", version="4.0")
    timewise.extend([child for child in tree if child.tag != "part"])
    for measure in part.findall("measure"):
        outer = etree.SubElement(timewise, "measure", number=measure.get("number"))
        etree.SubElement(outer, "part", id=part.get("id")).extend(list(measure))
    source = tmp_path / "timewise.musicxml"
    source.write_bytes(etree.tostring(timewise))
    run("mark", source, "--horn", "tenor-f")
    assert len(marks_in(tmp_path / "timewise-marked.musicxml")) == 93
    assert (tmp_path / "timewise-marked.pdf").read_bytes().startswith(b"%PDF")
    assert source.read_bytes() == etree.tostring(timewise)


def test_other_formats_come_out_as_musicxml(tmp_path):
    run("mark", SCORES / "School_for_Trombone_008.mid", "-o", tmp_path, "--no-pdf")
    assert (tmp_path / "School_for_Trombone_008-marked.musicxml").exists()


def test_the_text_report_says_what_the_sheet_says(tmp_path):
    out = run("mark", DEMO, "--horn", "tenor-f", "-o", tmp_path, "--student", "Mira").stdout
    for part in ("Notes that can't be played", "B1 can't be played", "Quickest slide moves",
                 "m/s", "Notes with a valve", "Unusual places, and why", "Caution",
                 "Glissandi that can't be played", "written:"):  # fmt: skip
        assert part in out


def test_json_goes_to_stdout_alone():
    result = run("line", "C3", "--json")
    json.loads(result.stdout)
    assert result.stderr == ""


# What can be chosen


def marks_in(path):
    import re

    return re.findall(r'<fingering placement="above">([^<]+)<', path.read_text(encoding="utf-8"))


def test_show_chooses_which_notes_carry_a_mark(tmp_path):
    counts = {}
    for show in ("all", "unusual", "new"):
        folder = tmp_path / show
        shown = run_json("mark", DEMO, "--horn", "tenor-f", "--show", show, "--no-pdf",
                         "-o", folder)  # fmt: skip
        marks = marks_in(folder / "lanterns-marked.musicxml")
        assert len(marks) == sum(note["shown"] for note in shown["notes"])
        counts[show] = len(marks)
    assert counts["all"] == 125
    assert 0 < counts["unusual"] < counts["new"] < counts["all"]


def test_locks_hold_and_the_rest_adapts(tmp_path):
    free = run_json("mark", DEMO, "--horn", "tenor-f", "--no-pdf", "-o", tmp_path)
    locked = run_json("mark", DEMO, "--horn", "tenor-f", "--no-pdf", "-o", tmp_path, "--force",
                      "--lock", "9:4=T1")  # fmt: skip

    def fourth(result):
        return next(n for n in result["notes"] if (n["measure"], n["index"]) == (9, 4))

    assert fourth(locked)["mark"] == "T1"
    assert fourth(locked)["reason_kind"] == "locked"
    assert fourth(free)["alternatives"]


@pytest.mark.parametrize("lock", ["4=6", "4=6.0", "4=open6"])
def test_a_line_takes_locks(lock):
    if "open" in lock:
        assert "no place open6" in one_sentence(
            run("line", "Bb2 A2 Bb2 C3", "--lock", lock, code=2)
        )
        return
    result = run_json("line", "Bb2 A2 Bb2 C3", "--horn", "tenor-f", "--lock", lock)
    assert result["notes"][3]["mark"] == "6"


def test_reach_and_learned_valves_are_hard_limits():
    line = "Bb2 C3 F2 E2 B2"
    short = run_json("line", line, "--horn", "tenor-f", "--reach", 6, "--valves", "none")
    assert [note["mark"] for note in short["notes"]] == ["1", "6", "6", None, None]
    # common practice: E2 and B2 lie only in 7th without the valve
    assert {w["note"] for w in short["warnings"]} == {"E2", "B2"}
    assert all("beyond the reach of 6" in w["text"] for w in short["warnings"])


def test_mark_styles():
    def marks(style):
        return [n["mark"] for n in run_json("line", "F2 E2 D4", "--horn", "tenor-f",
                                            "--marks", style)["notes"]]  # fmt: skip

    assert marks("letter") == ["F·1", "F·♭2", "1"]
    assert marks("number,roman") == ["V·I", "V·♭II", "I"]
    assert marks("thumb,valve") == ["T1", "T2", "1"]


def test_a_beginner_profile_is_another_taste():
    classical = run_json("line", "Bb2 C3 D3", "--horn", "tenor-f")
    beginner = run_json("line", "D3 C3 D3", "--horn", "tenor-f", "--profile", "beginner")
    assert classical["notes"][1]["mark"] == "T1"
    assert beginner["profile"] == "beginner"
    assert [n["mark"] for n in beginner["notes"]] == ["4", "6", "4"]


def test_tuning_pitch_and_air_change_millimetres_not_positions():
    warm = run_json("places", "E2", "--temp-c", 30)["notes"][0]
    cold = run_json("places", "E2", "--temp-c", 15)["notes"][0]
    assert warm["position"] == pytest.approx(cold["position"], abs=1e-6)
    # Speed of sound 350.3 against 341.0 m/s (Cramer 1993): 2.7 % more millimetres.
    assert warm["extension_mm"] / cold["extension_mm"] == pytest.approx(1.027, abs=0.002)


# Bad usage and bad data


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("places", "H2"), 1, "German name"),
        (("places", "C"), 1, "octave is missing"),
        (("places", "banana"), 1, "is not a note"),
        (("places", "C3", "--horn", "tenor-g"), 1, "did you mean tenor"),
        (("places", "C3", "--horn", "nowhere.toml"), 1, "there is no horn file"),
        (("places", "C3", "--a4", "44"), 1, "outside 380 to 500"),
        (("places", "C3", "--temp-c", "77"), 1, "is that in Fahrenheit"),
        (("places", "C3", "--reach", "0"), 2, "isn't a position"),
        (("places", "C3", "--valves", "F"), 2, "has no valve called 'F'"),
        (("places", "C3", "--marks", "plusminus"), 2, "is not a mark style"),
        (("line", "C3 )"), 1, "has no ( before it"),
        (("line", "(C3 D3"), 1, "never closed"),
        (("line", "~ C3"), 1, "needs a note before it"),
        (("line", "C3 ~"), 1, "needs a note after it"),
        (("line", "C3:0"), 1, "isn't a number of beats"),
        (("line", ""), 1, "has no notes"),
        (("line", "C3", "--tempo", "0"), 1, "outside 10 to 500"),
        (("line", "C3", "--profile", "romantic"), 1, "no profile called"),
        (("line", "C3", "--lock", "9=1"), 2, "only 1 note"),
        (("line", "C3", "--lock", "1=3"), 2, "no place 3"),
        (("line", "C3", "--lock", "huh"), 2, "isn't a lock"),
    ],
)  # fmt: skip
def test_bad_input_gets_one_sentence(words, code, says):
    assert says in one_sentence(run(*words, code=code))


def bad_files(tmp_path):
    cut = SLAMA.read_bytes()
    bomb = (
        '<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY a "aaaaaaaaaa">'
        '<!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]><score-partwise>&b;</score-partwise>'
    )
    external = (
        '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/hostname">]>'
        "<score-partwise>&e;</score-partwise>"
    )
    empty_part = (
        '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>T</part-name>'
        '</score-part></part-list><part id="P1">{}</part></score-partwise>'
    )
    rests = '<measure number="1"><note><rest/><duration>4</duration></note></measure>'
    drum = (
        '<measure number="1"><note><unpitched><display-step>C</display-step>'
        "<display-octave>4</display-octave></unpitched><duration>1</duration></note></measure>"
    )
    yield "text.musicxml", b"Dear teacher,", "isn't a score"
    yield "cut.musicxml", cut[: len(cut) // 2], "cut off"
    yield "bomb.musicxml", bomb.encode(), "entities"
    yield "external.musicxml", external.encode(), "entities"
    yield "empty.musicxml", b"", "empty"
    yield "no-notes.musicxml", empty_part.format(rests).encode(), "no"
    yield "no-measures.musicxml", empty_part.format("").encode(), "no"
    yield "drum.musicxml", empty_part.format(drum).encode(), "percussion"
    yield "other.musicxml", b"<html><body/></html>", "web page"
    archive = tmp_path / "trick.zip"
    with zipfile.ZipFile(archive, "w") as file:
        file.writestr("META-INF/container.xml", "<container/>")
        file.writestr("../../evil.musicxml", "x")
    yield "trick.mxl", archive.read_bytes(), "outside the archive"
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("META-INF/container.xml", "<container/>")
        file.writestr("big.musicxml", b" " * 300_000_000)
    yield "bomb.mxl", archive.read_bytes(), "unpacks to more than"


def test_bad_score_files_get_one_sentence_and_leave_nothing(tmp_path):
    for name, data, says in bad_files(tmp_path):
        source = tmp_path / name
        source.write_bytes(data)
        folder = tmp_path / ("out-" + name)
        text = one_sentence(run("mark", source, "-o", folder, code=1))
        assert says in text.lower() or says in text, (name, text)
        assert not folder.exists() or not list(folder.iterdir())
        assert source.read_bytes() == data


def test_missing_file_folder_part_and_voice(tmp_path):
    assert "nothing.musicxml" in one_sentence(run("mark", tmp_path / "nothing.musicxml", code=1))
    assert "folder" in one_sentence(run("mark", tmp_path, code=1))
    text = one_sentence(run("mark", SLAMA, "--part", "Flute", "-o", tmp_path, code=1))
    assert "Trombone" in text
    text = one_sentence(run("mark", SLAMA, "--voice", "7", "-o", tmp_path, code=1))
    assert "voice" in text


@pytest.mark.parametrize("lock", ["99:1=1", "1:99=1", "1:1=T9", "1=1"])
def test_a_lock_that_fits_nothing_is_bad_usage(tmp_path, lock):
    one_sentence(run("mark", SLAMA, "--lock", lock, "-o", tmp_path, "--no-pdf", code=2))
    assert not list(tmp_path.iterdir())


def test_results_that_exist_are_kept_unless_forced(tmp_path):
    target = tmp_path / "Slama_01-marked.musicxml"
    target.write_text("mine", encoding="utf-8")
    text = one_sentence(run("mark", SLAMA, "-o", tmp_path, code=1))
    assert "--force" in text
    assert target.read_text(encoding="utf-8") == "mine"
    assert [path.name for path in tmp_path.iterdir()] == [target.name]
    run("mark", SLAMA, "-o", tmp_path, "--force")
    assert marks_in(target)


def test_the_original_is_never_touched(tmp_path):
    source = tmp_path / "study.musicxml"
    source.write_bytes(SLAMA.read_bytes())
    before = source.stat().st_mtime_ns
    run("mark", source, "--no-pdf")
    assert source.read_bytes() == SLAMA.read_bytes()
    assert source.stat().st_mtime_ns == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["study-marked.musicxml", "study.musicxml"]


def test_an_output_name_that_is_the_original_is_refused(tmp_path):
    source = tmp_path / "study.musicxml"
    source.write_bytes(SLAMA.read_bytes())
    (tmp_path / "study-marked.musicxml").symlink_to(source)
    text = one_sentence(run("mark", source, "--no-pdf", "--force", code=1))
    assert "original" in text
    assert source.read_bytes() == SLAMA.read_bytes()


def test_a_folder_that_cannot_be_written_to(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("not a folder", encoding="utf-8")
    text = one_sentence(run("mark", SLAMA, "-o", blocked, code=1))
    assert "can't write" in text
    assert blocked.read_text(encoding="utf-8") == "not a folder"


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_read_only_folder(tmp_path):
    tmp_path.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        assert "can't write" in one_sentence(run("mark", SLAMA, "-o", tmp_path, code=1))
    finally:
        tmp_path.chmod(stat.S_IRWXU)


def test_an_interrupted_write_leaves_no_file_under_the_final_name(tmp_path, monkeypatch):
    # Story: a full disk in the middle of a write must not leave half a score behind.
    def full(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(outfile.os, "fsync", full)
    text = one_sentence(run("mark", SLAMA, "-o", tmp_path, "--no-pdf", code=1))
    assert "No space left" in text
    assert list(tmp_path.iterdir()) == []


def test_usage_errors_of_the_command_line_itself_exit_with_2():
    assert run("mark", code=2).stderr
    assert run("places", code=2).stderr
    assert run("mark", SLAMA, "--show", "some", code=2).stderr
    assert run("dance", code=2).stderr


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["plces", "C3"], "no command 'plces'"),
        (["--zzz"], "no option --zzz"),
        (["places"], "NOTE is missing"),
        (["places", "C3", "--hron", "tenor"], "was it --horn"),
        (["places", "C3", "--json=3"], "--json takes no value"),
        (["places", "C3", "--reach"], "--reach needs a value"),
        (["places", "C3", "--reach", "six"], "--reach must be a number"),
        (["mark", "a", "b", "c"], "too much: b c"),
        (["chart", "--paper", "b5"], "--paper must be a4, letter, a3, a2 or tabloid"),
        (["drill", "scales", "--seed", "-1"], "from 0 to"),
        (["drill", "scales", "--bars", "2.5"], "a whole number"),
    ],
)
def test_a_command_typed_wrong_gets_one_sentence(words, says):
    assert says in one_sentence(run(*words, code=2))


@pytest.mark.parametrize("asked", [["--language", "de"], ["--language=de"]])
def test_a_command_typed_wrong_is_told_of_in_the_language_asked_for(asked):
    assert "gibt hier keine Option --zzz" in run("places", "C3", "--zzz", *asked, code=2).stderr


def test_what_the_system_says_is_told_in_the_language_asked_for():
    told = run("listen", "/nowhere.wav", "--language", "de", code=1).stderr
    assert "Datei oder Ordner nicht gefunden" in told


def test_python_dash_m_runs_it():
    done = subprocess.run(
        [sys.executable, "-m", "handslide", "places", "Bb2"], capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    assert "B♭2" in done.stdout


def test_every_command_is_in_the_readme_and_its_options_on_its_page():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    folder = ROOT / "docs" / "howto"
    pages = {
        name: "".join((folder / f"{page}.md").read_text(encoding="utf-8") for page in found)
        for name, found in {"mark": ("mark", "pdf"), "chart": ("charts",)}.items()
    }
    for name in COMMANDS:
        command = main.get_command(click.Context(main), name)
        assert f"handslide {name}" in readme
        assert command.help
        for option in command.params:
            if option.param_type_name == "option" and name in pages:
                shown = max(option.opts, key=len)
                if shown not in ("--help", "--student", "--tempo",
                                 "--profile", "--output"):  # fmt: skip
                    assert shown in pages[name], shown
                assert option.help or shown == "--paper", shown


@pytest.mark.parametrize("columns", [1, 51, 52, 60, 67, 79, 80, 81, 200])
def test_the_quick_help_is_the_one_that_click_writes(columns):
    width = min(max(columns - 2, 50), 78)
    shown = CliRunner().invoke(main, ["--help"], prog_name="handslide", terminal_width=width)
    assert shown.stdout == overview(columns) + "\n"


def started(*words, **more):
    """The command line in a process of its own, as its entry point starts it."""
    return subprocess.run(
        [sys.executable, "-m", "handslide", *words], stderr=subprocess.PIPE, text=True, **more
    )


@pytest.mark.parametrize("asked", ["--help", "-h"])
def test_the_quick_help_fits_the_terminal(asked):
    for columns in ("60", "0", "wide"):
        done = started(
            asked, stdout=subprocess.PIPE, env=os.environ | {"COLUMNS": columns}, check=True
        )
        assert done.stdout == overview(60 if columns == "60" else 80) + "\n"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize(
    "words", [["--help"], ["--version"], ["horns"], ["places", "C3", "--json"], ["mark", "--help"]]
)
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_an_output_that_takes_nothing_is_told_in_one_sentence(words, unbuffered):
    with Path("/dev/full").open("w") as full:
        env = os.environ | {"PYTHONUNBUFFERED": unbuffered}
        done = started(*words, stdout=full, env=env)
    assert done.returncode == 1
    assert one_sentence(done)
    assert "stdout" in done.stderr


def test_the_help_of_all_says_what_each_command_says_and_loads_none():
    context = click.Context(main)
    for name, sentence in COMMANDS_HELP.items():
        assert main.get_command(context, name).get_short_help_str(10_000) == sentence
    code = (
        "import sys; from handslide.faces.cli.main import COMMANDS, main;"
        "main(['--help'], standalone_mode=False);"
        "print([name for name in COMMANDS if f'handslide.faces.cli.{name}' in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "  studio " in done.stdout
    assert done.stdout.endswith("\n[]\n")
