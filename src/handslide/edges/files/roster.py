"""A class as a file: one row for each student, as CSV from any spreadsheet or as TOML.

CSV: a header line with the column names in any order, then a row for each student; separated by
commas, semicolons or tabs, in UTF-8 or in Windows' western code page. TOML: a [[student]] table for
each student; keys at the top of the file hold for all students that don't say otherwise. An empty
cell means "as for the whole class".
"""

import csv
import difflib
import io
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from handslide.edges.files.plainfile import NotPlain, TooLarge, read_plain
from handslide.edges.files.toml import WrongToml, parse_toml
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadData
from handslide.ground.facts import Fact
from handslide.ground.limits import ROSTER_ROWS, TYPED_BYTES
from handslide.ground.notenames import LANGUAGES
from handslide.ground.system import system_reason

COLUMNS = (
    "student", "horn", "reach", "clef", "names", "valves", "sheet", "a4_hz", "part", "voice",
    "language",
)  # fmt: skip
_SYNONYMS = {
    "name": "student", "pupil": "student", "player": "student",
    "instrument": "horn", "trombone": "horn",
    "plays": "part",
    "position": "reach", "furthest position": "reach",
    "note names": "names", "speaks": "language",
    "valve": "valves", "learned": "valves",
    "chart": "sheet", "a4": "a4_hz", "a4 hz": "a4_hz", "tuning": "a4_hz",
}  # fmt: skip
# What people write for a language; the ways of naming notes among them stood in this column before.
_LANGUAGES = {
    "english": "en", "german": "de", "deutsch": "de", "spanish": "es", "español": "es",
    "castellano": "es", "french": "fr", "français": "fr",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class RosterRow:
    """What one student gets; ``horn`` is empty and the rest None where the row says nothing.

    ``number`` is the line of a CSV file (the header is line 1) or the place of a TOML table.
    ``language`` is the code of what the student's sheets are written in, ``names`` how notes are
    named on them; ``valves`` those that the student uses; ``part``
    and ``voice`` what the student plays of a score.
    """

    number: int
    student: str
    horn: str
    reach: float | None
    clef: str | None
    names: str | None
    valves: tuple[str, ...] | None
    sheet: str | None
    a4_hz: float | None
    part: str | None = None
    voice: str | None = None
    language: str | None = None


@dataclass(frozen=True, slots=True)
class BrokenRow:
    """A row that can't be used, and why; ``part`` is what it says there, if that can be read."""

    number: int
    student: str
    problem: Fact
    part: str | None = None


def read_roster(
    path: Path, sheets: Collection[str], languages: Collection[str] = ()
) -> tuple[tuple[RosterRow, ...], tuple[BrokenRow, ...]]:
    """The students of a roster file, and the rows that can't be used.

    ``sheets`` are the names of chart sheets that a row may ask for, ``languages`` the codes of the
    languages.

    Raises
    ------
    BadData
        When the file as a whole can't be read.
    """
    text = _text(path)
    toml = path.suffix.lower() == ".toml"
    try:
        cells = list(_toml_rows(text) if toml else _csv_rows(text))
    except BadData as error:
        raise _in_file(path, error) from None
    try:
        if not cells:
            raise BadData("roster.no_tables") if toml else BadData("roster.no_rows")
        if len(cells) > ROSTER_ROWS:
            raise BadData("roster.too_many", count=len(cells), most=ROSTER_ROWS)
    except BadData as error:
        raise _in_file(path, error) from None
    rows: list[RosterRow] = []
    broken: list[BrokenRow] = []
    for number, row in cells:
        student = " ".join(str(row.get("student", "")).split())
        try:
            rows.append(_row(number, row, sheets, languages))
        except BadData as error:
            part = row.get("part")
            named = None if part is None else str(part)
            broken.append(BrokenRow(number, student, error.fact, named))
    return tuple(rows), tuple(broken)


def _in_file(path: Path, error: BadData) -> BadData:
    return BadData("roster.in_file", file=path.name, problem=error.fact)


def _text(path: Path) -> str:
    try:
        data = read_plain(path, TYPED_BYTES)
    except IsADirectoryError:
        raise BadData("roster.folder", path=str(path)) from None
    except NotPlain:
        raise BadData("files.not_plain", path=str(path)) from None
    except TooLarge:
        most = TYPED_BYTES // 1_000_000
        raise BadData("roster.too_large", path=str(path), most_mb=most) from None
    except FileNotFoundError:
        raise BadData("roster.missing", path=str(path)) from None
    except OSError as cause:
        reason = system_reason(cause)
        raise BadData("roster.unreadable", path=str(path), reason=reason) from cause
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings = ["utf-16"]
    elif b"\0" in data or data.startswith((b"%PDF", b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise BadData("roster.no_text", path=str(path))
    else:
        encodings = ["utf-8-sig", "cp1252"]
    for encoding in encodings:
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise BadData("roster.unknown_encoding", path=str(path))


# CSV.


def _csv_rows(text: str) -> Iterator[tuple[int, Mapping[str, Any]]]:
    try:
        lines = [
            (number, row) for number, row in _numbered(text) if any(cell.strip() for cell in row)
        ]
    except csv.Error:
        raise BadData("roster.quotation_mark") from None
    if not lines:
        raise BadData("roster.empty")
    _, header = lines[0]
    columns = [_column(cell) for cell in header]
    while columns and not columns[-1]:
        columns.pop()
    for number, column in enumerate(columns):
        if column and column in columns[:number]:
            raise BadData("roster.two_columns", column=column)
    if "student" not in columns:
        raise BadData("roster.no_student_column", columns=COLUMNS)
    for number, row in lines[1:]:
        yield number, _cells(columns, row)


def _numbered(text: str) -> Iterator[tuple[int, list[str]]]:
    # A cell in quotes may run over lines: a row is known by the line that it starts on.
    separator, skip = _separator(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    before = 0
    for row in reader:
        if before >= skip:
            yield before + 1, row
        before = reader.line_num


def _separator(text: str) -> tuple[str, int]:
    """The separator, and how many lines to skip: one where a spreadsheet wrote ``sep=;``."""
    header = next((line for line in text.splitlines() if line.strip()), "")
    if header.lower().startswith("sep=") and len(header.strip()) == 5 and text.startswith(header):
        return header[4], 1
    return max(",;\t", key=header.count), 0


def _cells(columns: list[str], row: list[str]) -> dict[str, Any]:
    cells: dict[str, Any] = {
        column: cell.strip() for column, cell in zip(columns, row) if column and cell.strip()
    }
    extra = [cell.strip() for cell in row[len(columns) :] if cell.strip()]
    if extra:
        cells["extra"] = extra[0]
    return cells


def _column(cell: str) -> str:
    """The column that a header means; empty for an empty one. Raises BadData."""
    name = " ".join(cell.replace("_", " ").replace("-", " ").lower().split())
    if not name:
        return ""
    known = {column.replace("_", " "): column for column in COLUMNS} | _SYNONYMS
    if name in known:
        return known[name]
    close = difflib.get_close_matches(name, known, 1, 0.6)
    if close:
        raise BadData("roster.column_near", name=cell.strip(), near=close[0])
    raise BadData("roster.column_unknown", name=cell.strip(), known=COLUMNS)


# TOML.


def _toml_rows(text: str) -> Iterator[tuple[int, Mapping[str, Any]]]:
    try:
        table = parse_toml(text)
    except WrongToml as cause:
        raise BadData("roster.not_toml", reason=cause.reason) from None
    students = table.pop("student", table.pop("students", []))
    if not isinstance(students, list) or not all(isinstance(row, dict) for row in students):
        raise BadData("roster.student_no_tables")
    shared = _keys(table)
    if "student" in shared:
        raise BadData("roster.name_outside_tables")
    for number, row in enumerate(students, 1):
        yield number, {**shared, **_keys(row)}


def _keys(table: Mapping[str, Any]) -> dict[str, Any]:
    row: dict[str, Any] = {}
    for key, value in table.items():
        column = _column(key)
        if column in row:
            raise BadData("roster.two_keys", key=column)
        if isinstance(value, str) and not value.strip():
            continue
        row[column] = value.strip() if isinstance(value, str) else value
    return row


# One row.


def _row(
    number: int, cells: Mapping[str, Any], sheets: Collection[str], languages: Collection[str]
) -> RosterRow:
    if "extra" in cells:
        raise BadData("roster.more_cells_than_columns", cell=cells["extra"])
    student = _word(cells, "student")
    if student is None:
        raise BadData("roster.no_name")
    language, names = _language(cells, tuple(languages))
    return RosterRow(
        number=number,
        student=" ".join(student.split()),
        horn=_word(cells, "horn") or "",
        reach=_number(cells, "reach", 1.0, 12.0),
        clef=_choice(cells, "clef", tuple(CLEFS)),
        names=_choice(cells, "names", LANGUAGES) or names,
        valves=_valves(cells),
        sheet=_choice(cells, "sheet", tuple(sheets)),
        a4_hz=_number(cells, "a4_hz", 380.0, 500.0),
        part=_numbered_word(cells, "part"),
        voice=_numbered_word(cells, "voice"),
        language=language,
    )


def _language(cells: Mapping[str, Any], known: tuple[str, ...]) -> tuple[str | None, str | None]:
    """The code of a row's language, and how notes are named where that is what it says."""
    value = (_word(cells, "language") or "").lower()
    names = value if value in LANGUAGES else None
    code = _LANGUAGES.get(value)
    if code in known or names is not None:
        return (code if code in known else None), names
    return _choice(cells, "language", known), None


def _word(cells: Mapping[str, Any], key: str) -> str | None:
    value = cells.get(key)
    if value is not None and not isinstance(value, str):
        raise BadData("roster.no_text_value", key=key, value=str(value))
    return value


def _numbered_word(cells: Mapping[str, Any], key: str) -> str | None:
    """Text, or a whole number, which TOML writes without quotes."""
    value = cells.get(key)
    whole = isinstance(value, int) and not isinstance(value, bool)
    return str(value) if whole else _word(cells, key)


def _number(cells: Mapping[str, Any], key: str, low: float, high: float) -> float | None:
    value = cells.get(key)
    if value is None:
        return None
    if isinstance(value, str):
        # A comma is the decimal sign of many countries' spreadsheets.
        plain = value.replace(",", ".").lower().removesuffix("hz").strip()
        try:
            value = float(plain)
        except ValueError:
            raise _no_number(key, value) from None
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _no_number(key, value)
    if key == "reach" and 100.0 <= value <= 1500.0:
        raise BadData("roster.reach_in_mm", value=float(value), low=low, high=high)
    if not low <= value <= high:
        raise BadData("roster.outside", key=key, value=float(value), low=low, high=high)
    return float(value)


def _no_number(key: str, value: object) -> BadData:
    if key == "reach":
        return BadData("roster.no_position", value=str(value))
    return BadData("roster.no_tuning", value=str(value))


def _choice(cells: Mapping[str, Any], key: str, allowed: tuple[str, ...]) -> str | None:
    value = _word(cells, key)
    if value is None:
        return None
    plain = value.lower()
    for form in (plain, plain.replace(" ", "-"), plain.removesuffix(" clef")):
        if form in allowed:
            return form
    close = difflib.get_close_matches(plain, allowed, 1)
    if close:
        raise BadData("roster.choice_near", key=key, value=value, near=close[0])
    raise BadData("roster.choice_unknown", key=key, value=value, known=allowed)


def _valves(cells: Mapping[str, Any]) -> tuple[str, ...] | None:
    value = cells.get("valves")
    if value is None:
        return None
    if isinstance(value, str):
        names = value.replace(",", " ").replace("+", " ").replace("/", " ").split()
        return () if [name.lower() for name in names] == ["none"] else tuple(names)
    if isinstance(value, list) and all(isinstance(name, str) for name in value):
        return tuple(value)
    raise BadData("roster.no_valves", value=str(value))
