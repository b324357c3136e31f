"""What goes out: no formula for a spreadsheet, no command for a terminal."""

import csv
import io
import json
import re
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner
from musicxml_build import note, part, score

from handslide.edges.files.cells import plain_cell
from handslide.faces.cli import terminal
from handslide.faces.cli.main import main
from handslide.faces.cli.terminal import plain, plain_json
from handslide.jobs.hear import follow
from handslide.words.speech import speech

ODD = "\u009b31mred\u009b0m \x1b[2J\x07 \u202edercod\r over"


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", " =cmd|'/c calc'!A0"])
def test_no_cell_is_a_formula(text):
    assert str(plain_cell(text)).startswith("'")
    assert plain_cell(-1.5) == -1.5 and plain_cell("Bb2") == "Bb2" and plain_cell(None) is None


def test_a_title_gives_the_terminal_no_orders(tmp_path):
    file = tmp_path / "odd.musicxml"
    data = score(part(note() * 4)).decode()
    title = "<work><work-title>&#155;31mred&#x202e; &#133;x</work-title></work>"
    data = re.sub(r"(<score-partwise[^>]*>)", lambda found: found[0] + title, data, count=1)
    file.write_text(data, encoding="utf-8")
    for words in (["--no-pdf"], ["--no-pdf", "--json"]):
        result = CliRunner().invoke(
            main, ["mark", str(file), "-o", str(tmp_path), "--force", *words]
        )
        assert result.exit_code == 0, result.output
        assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202e]", result.output)


def test_all_that_a_command_says_goes_through_one_door():
    folder = Path(terminal.__file__).parent
    says = re.compile(r"\bs?echo\(|\bprint\(|stdout\.write")
    saying = {path.name for path in folder.glob("*.py") if says.search(path.read_text("utf-8"))}
    assert saying == {"terminal.py"}


def test_a_roster_gives_the_terminal_no_orders(tmp_path):
    part_file, roster = tmp_path / "a.musicxml", tmp_path / "class.csv"
    part_file.write_bytes(score(part(note() * 4)))
    who = ODD.replace("\r", "")
    rows = ["student,horn,part", f"{who},tenor,1", f"{who} 2,/nowhere,1"]
    roster.write_text("\n".join(rows), "utf-8")
    for words in (["section", str(part_file), "--no-pdf"], ["chart"]):
        result = CliRunner().invoke(main, [*words, "--class", str(roster), "-o", str(tmp_path)])
        assert result.exit_code == 1 and "nowhere" in result.output and "written" in result.output
        assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202e]", result.output)


def test_errors_give_the_terminal_no_orders():
    result = CliRunner().invoke(main, ["places", ODD])
    assert result.exit_code == 1
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202e]", result.output)


def test_what_is_shown_keeps_its_meaning():
    assert plain("a\tb\nc é ♭") == "a\tb\nc é ♭"
    assert plain("a\udcffb") == "a\ufffdb"
    assert json.loads(plain_json(json.dumps({"t": ODD + "\ud800"}, ensure_ascii=False)))["t"] == (
        ODD + "\ud800"
    )


def test_a_table_of_a_take_has_no_formula(monkeypatch):
    monkeypatch.setattr(follow, "_note_json", lambda note, say: {"measure": note, "cents": -1.5})
    report = SimpleNamespace(notes=["=1+1", "4"])
    rows = list(csv.DictReader(io.StringIO(follow.follow_csv(report, speech()).decode())))
    assert [row["measure"] for row in rows] == ["'=1+1", "4"]
    assert rows[0]["cents"] == "-1.5"
