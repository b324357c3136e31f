"""Rosters: what a spreadsheet or a hand writes, and the sentence for each slip."""

import re
from pathlib import Path

import pytest

from handslide.edges.files.roster import (
    COLUMNS,
    RosterRow,
)
from handslide.edges.files.roster import read_roster as read_for
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadData
from handslide.ground.limits import ROSTER_ROWS, TYPED_BYTES
from handslide.ground.notenames import LANGUAGES
from handslide.jobs.chart.kinds import SHEETS
from handslide.words.catalogues import languages
from handslide.words.speech import speech


def read_roster(path):
    return read_for(path, SHEETS, tuple(languages()))


def why(broken):
    return speech("en").fact(broken.problem)


EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture
def roster(tmp_path):
    """Writes a file and reads it: ``roster(content, name)``."""

    def read(content, name="class.csv"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_roster(path)

    return read


def row(number, student, horn="", **given):
    empty = ("reach", "clef", "names", "valves", "sheet", "a4_hz", "part", "voice", "language")
    rest = dict.fromkeys(empty) | given
    return RosterRow(number, student, horn, **rest)


FULL = row(
    2,
    "Ada",
    "tenor-f",
    reach=5.5,
    clef="tenor",
    names="german",
    valves=("F",),
    sheet="valve",
    a4_hz=442.0,
    part="Trombone 2",
    voice="1",
    language="de",
)


@pytest.mark.parametrize("separator", [",", ";", "\t"], ids=["comma", "semicolon", "tab"])
def test_each_separator(roster, separator):
    cells = (
        "Ada",
        "tenor-f",
        "5.5",
        "tenor",
        "german",
        "F",
        "valve",
        "442",
        "Trombone 2",
        "1",
        "de",
    )
    text = separator.join(COLUMNS) + "\n" + separator.join(cells) + "\n"
    assert roster(text) == ((FULL,), ())


def test_headers_in_any_case_and_order_and_by_other_names(roster):
    text = (
        "Sheet;A4 Hz;Language;NAME;Instrument;Furthest position;Valves;CLEF;Plays;voice\n"
        "valve;442;German;Ada;tenor-f;5,5;F;Tenor;Trombone 2;1\n"
    )
    assert roster(text) == ((FULL,), ())


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_umlauts_in_each_encoding(roster, encoding):
    rows, broken = roster("Name;Horn\r\nJürgen Müßig;tenor\r\n".encode(encoding))
    assert rows == (row(2, "Jürgen Müßig", "tenor"),)
    assert broken == ()


def test_a_spreadsheets_separator_line(roster):
    rows, _ = roster("sep=;\nname;horn\nAda;alto\n")
    assert rows == (row(3, "Ada", "alto"),)


def test_empty_cells_mean_the_default_and_empty_lines_count(roster):
    rows, broken = roster("name,horn,reach,valves\nAda,,,\n\n , ,\nBen,tenor,6\nCleo\n")
    assert rows == (row(2, "Ada"), row(5, "Ben", "tenor", reach=6.0), row(6, "Cleo"))
    assert broken == ()


def test_columns_without_a_header_at_the_end_are_padding(roster):
    rows, broken = roster("name,horn,,\nAda,alto,,\n")
    assert rows == (row(2, "Ada", "alto"),)
    assert broken == ()


def test_a_quoted_cell_over_two_lines_keeps_the_count(roster):
    rows, _ = roster('name,reach\n"Ada\nWinkler",6\nBen,5\n')
    assert rows == (row(2, "Ada Winkler", reach=6.0), row(4, "Ben", reach=5.0))


def test_equal_students_are_both_kept(roster):
    rows, broken = roster("name\nAda\nAda\n")
    assert [(r.number, r.student) for r in rows] == [(2, "Ada"), (3, "Ada")]
    assert broken == ()


@pytest.mark.parametrize(
    ("cell", "valves"),
    [("F", ("F",)), ("F Gb", ("F", "Gb")), ("F+Gb", ("F", "Gb")), ("none", ()), ("None", ())],
)
def test_valves_of_a_cell(roster, cell, valves):
    (one,), _ = roster(f"name,valves\nAda,{cell}\n")
    assert one.valves == valves


@pytest.mark.parametrize(
    ("column", "cell", "says"),
    [
        ("reach", "0", r"reach 0 is outside 1 to 12"),
        ("reach", "12.1", r"reach 12.1 is outside 1 to 12"),
        ("reach", "nan", r"reach nan is outside"),
        ("reach", "600", r"is that in millimetres\?"),
        ("reach", "far", r"reach 'far' isn't a position: give a number such as 6 or 5.5"),
        ("clef", "base", r"clef 'base' isn't known: did you mean bass\?"),
        ("clef", "soprano", r"clef 'soprano' isn't known"),
        ("names", "germn", r"names 'germn' isn't known: did you mean german\?"),
        ("sheet", "strips", r"sheet 'strips' isn't known: did you mean strip\?"),
        ("sheet", "xyz", r"there are all, valve, open"),
        ("a4_hz", "44", r"a4_hz 44 is outside 380 to 500"),
        ("a4_hz", "A", r"a4_hz 'A' isn't a tuning pitch in Hz"),
    ],
)
def test_a_broken_row_is_named_and_the_rest_come(roster, column, cell, says):
    rows, broken = roster(f"name,{column}\nAda,\nBen,{cell}\nCleo,\n")
    assert [r.student for r in rows] == ["Ada", "Cleo"]
    (bad,) = broken
    assert (bad.number, bad.student) == (3, "Ben")
    assert re.search(says, why(bad))


def test_rows_without_a_name_or_with_too_many_cells(roster):
    rows, broken = roster("name,horn\n,tenor\nBen,tenor,F,\nCleo,alto\n")
    assert [r.student for r in rows] == ["Cleo"]
    assert [(b.number, b.student) for b in broken] == [(2, ""), (3, "Ben")]
    assert "name is missing" in why(broken[0])
    assert "more cells than columns (the last is 'F')" in why(broken[1])


@pytest.mark.parametrize("clef", CLEFS)
def test_all_clefs(roster, clef):
    (one,), _ = roster(f"name,clef\nAda,{clef}\n")
    assert one.clef == clef


def test_all_languages_and_sheets(roster):
    for names in LANGUAGES:
        assert roster(f"name,names\nAda,{names}\n")[0][0].names == names
    for sheet in SHEETS:
        assert roster(f"name,sheet\nAda,{sheet}\n")[0][0].sheet == sheet


@pytest.mark.parametrize(
    ("content", "why"),
    [
        ("", "the file is empty"),
        ("\n \n", "the file is empty"),
        ("name,horn\n", "no students: each needs a row below the column names"),
        ("horn,reach\ntenor,6\n", "no column is called student"),
        ("name,horm\nAda,tenor\n", "unknown column 'horm': did you mean horn?"),
        ("name,shoe size\nAda,38\n", "unknown column 'shoe size': there are student, horn"),
        ("name,student\nAda,Ada\n", "two columns are 'student'"),
        ('name,horn\n"Ada,tenor\nBen,tenor\n', "a quotation mark isn't closed"),
        ("name\n" + "Ada\n" * (ROSTER_ROWS + 1), "1001 students; at most 1000"),
        ("name\n" + "x" * 200_000 + "\n", "stands inside a cell"),
    ],
)
def test_csv_files_that_cannot_be_read(roster, content, why):
    with pytest.raises(BadData) as caught:
        roster(content)
    assert str(caught.value).startswith("class.csv: ")
    assert why in str(caught.value)
    assert "\n" not in str(caught.value)


def test_files_that_are_no_roster(roster, tmp_path):
    with pytest.raises(BadData, match="there is no roster file"):
        read_roster(tmp_path / "none.csv")
    with pytest.raises(BadData, match="is a folder, not a roster file"):
        read_roster(tmp_path)
    with pytest.raises(BadData, match="too large for a roster"):
        roster(b"name\n" + b"x" * TYPED_BYTES)
    for data in (b"name\n\0\x01", b"PK\x03\x04rest", b"%PDF-1.7"):
        with pytest.raises(BadData, match="isn't a text file: save the roster as CSV"):
            roster(data)
    with pytest.raises(BadData, match="isn't text in UTF-8 or a Windows code page"):
        roster(b"name\n\x81\x8d\n")


# TOML.


def test_toml_with_shared_keys(roster):
    text = """
    horn = "tenor-f"
    reach = 6
    [[student]]
    name = "Ada"
    [[student]]
    name = "Ben"
    horn = "alto"
    reach = 5.5
    valves = []
    [[student]]
    student = "Cleo"
    horn = ""
    valves = ["F", "Gb"]
    """
    rows, broken = roster(text, "class.toml")
    assert rows == (
        row(1, "Ada", "tenor-f", reach=6.0),
        row(2, "Ben", "alto", reach=5.5, valves=()),
        row(3, "Cleo", "tenor-f", reach=6.0, valves=("F", "Gb")),
    )
    assert broken == ()


def test_toml_rows_that_are_broken(roster):
    text = """
    [[student]]
    name = "Ada"
    reach = true
    [[student]]
    name = "Ben"
    clef = 3
    [[student]]
    name = "Cleo"
    valves = [1]
    [[student]]
    horn = "alto"
    [[student]]
    name = "Edda"
    """
    rows, broken = roster(text, "class.toml")
    assert [r.student for r in rows] == ["Edda"]
    assert [(b.number, b.student) for b in broken] == [(1, "Ada"), (2, "Ben"), (3, "Cleo"), (4, "")]
    whys = ("isn't a position", "must be text in quotes", "must be names such as", "is missing")
    assert all(part in why(bad) for part, bad in zip(whys, broken, strict=True))


def test_a_part_of_a_toml_row_may_be_a_number(roster):
    text = """
    [[student]]
    name = "Ada"
    part = 2
    [[student]]
    name = "Ben"
    part = 3
    reach = true
    [[student]]
    name = "Cleo"
    part = true
    """
    rows, broken = roster(text, "class.toml")
    assert [r.part for r in rows] == ["2"]
    assert [b.part for b in broken] == ["3", "True"]
    assert "must be text in quotes" in why(broken[1])


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("horn = ", "not valid TOML"),
        ('horn = "alto"', r"no students: each needs a \[\[student\]\] table"),
        ('[student]\nname = "Ada"', r"write \[\[student\]\] before each"),
        ('name = "Ada"', "a name stands outside the tables"),
        ('[[student]]\nname = "Ada"\nhorm = "alto"', r"unknown column 'horm': did you mean horn"),
        ('[[student]]\nname = "Ada"\nstudent = "Ada"', "two keys are 'student'"),
    ],
)
def test_toml_files_that_cannot_be_read(roster, text, why):
    with pytest.raises(BadData, match=why) as caught:
        roster(text, "class.toml")
    assert str(caught.value).startswith("class.toml: ")


def test_the_example_classes():
    csv_rows, csv_broken = read_roster(EXAMPLES / "class.csv")
    toml_rows, toml_broken = read_roster(EXAMPLES / "class.toml")
    assert csv_broken == toml_broken == ()
    assert len(csv_rows) > 5
    assert [(r.student, r.horn) for r in csv_rows] == [(r.student, r.horn) for r in toml_rows]
