"""Notes at known extensions as a file: a row for each note, as CSV or TOML.

CSV: a header line with the column names in any order, separated by commas, semicolons or tabs.
TOML: a [[row]] table for each note. Columns: ``note`` (what was to be played), ``hz``, or ``cents``
with the note (what a tuner shows), ``valves`` (F, F+Gb; empty: none), ``partial``,
``extension_mm`` (empty or 0: closed), ``se_cents``.
"""

import csv
import difflib
import io
import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from pathlib import Path
from typing import Any

from handslide.edges.files.plainfile import NotPlain, TooLarge, read_plain
from handslide.edges.files.toml import WrongToml, parse_toml
from handslide.ground.errors import BadData
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import MOST_CENTS, TABLE_ROWS, TYPED_BYTES
from handslide.ground.pitch import Pitch, parse_pitch
from handslide.ground.system import system_reason
from handslide.ground.units import cents_to_ratio
from handslide.instrument.fitting.rows import DEFAULT_SE_CENTS, FitRow, PlannedNote

COLUMNS = ("note", "hz", "cents", "valves", "partial", "extension_mm", "se_cents")
_SYNONYMS = {
    "frequency": "hz", "frequency_hz": "hz", "f0_hz": "hz", "hertz": "hz", "valve": "valves",
    "extension": "extension_mm", "slide_mm": "extension_mm", "mm": "extension_mm",
    "se": "se_cents", "cents_se": "se_cents", "name": "note",
}  # fmt: skip


def read_rows(path: Path, a4_hz: float = 440.0) -> tuple[FitRow, ...]:
    """The notes of a rows file; ``a4_hz`` is what ``cents`` count against.

    Raises
    ------
    BadData
        With the file, the row and the likely slip.
    """
    return tuple(_read(path, partial(_row, a4_hz=a4_hz)))


def read_plan(path: Path) -> tuple[PlannedNote, ...]:
    """The notes of a rows file that are to be played: frequencies, if any, are passed over.

    Raises
    ------
    BadData
        With the file, the row and the likely slip.
    """
    return tuple(_read(path, _planned))


def _read(path: Path, row: Callable[[int, Mapping[str, Any]], Any]) -> list[Any]:
    toml = path.suffix.lower() == ".toml"
    try:
        text = _text(path)
        rows = list(_toml_rows(text) if toml else _csv_rows(text))
        if not rows:
            raise BadData("rows.none")
        if len(rows) > TABLE_ROWS:
            raise BadData("rows.too_many", count=len(rows), most=TABLE_ROWS)
        return [row(number, cells) for number, cells in rows]
    except BadData as error:
        raise BadData("rows.in_file", file=path.name, problem=error.fact) from None


def _text(path: Path) -> str:
    try:
        return read_plain(path, TYPED_BYTES).decode("utf-8-sig").replace("\r\n", "\n")
    except IsADirectoryError:
        raise BadData("rows.is_folder") from None
    except NotPlain:
        raise BadData("files.not_plain", path=path.name) from None
    except TooLarge:
        raise BadData("rows.too_large") from None
    except FileNotFoundError:
        raise BadData("rows.no_such_file") from None
    except UnicodeDecodeError:
        raise BadData("rows.not_text") from None
    except OSError as error:
        raise BadData("rows.unreadable", reason=system_reason(error)) from error


def _csv_rows(text: str) -> Iterator[tuple[int, dict[str, Any]]]:
    first = next((line for line in text.splitlines() if line), "")
    delimiter = max(",;\t", key=first.count)
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    header: list[str] | None = None
    for cells in _whole(lines):
        if not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith("#"):
            continue
        if header is None:
            header = [_column(cell) for cell in cells]
            continue
        values = [cell.strip() for cell in cells]
        if len(values) > len(header) and any(values[len(header) :]):
            raise BadData(
                "rows.more_cells", row=lines.line_num, cells=len(values), names=len(header)
            )
        if delimiter != ",":
            values = [value.replace(",", ".") for value in values]
        yield lines.line_num, {k: v for k, v in zip(header, values) if v}


def _whole(lines: Iterator[list[str]]) -> Iterator[list[str]]:
    try:
        yield from lines
    except csv.Error:  # a cell of 131,072 letters: a quotation mark that nobody closed
        raise BadData("roster.quotation_mark") from None


def _toml_rows(text: str) -> Iterator[tuple[int, dict[str, Any]]]:
    try:
        table = parse_toml(text)
    except WrongToml as cause:
        raise BadData("rows.not_toml", reason=cause.reason) from None
    rows = table.get("row", [])
    unknown = [key for key in table if key != "row"]
    if unknown or not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise BadData("rows.no_row_tables")
    for number, row in enumerate(rows, 1):
        yield number, {_column(key): value for key, value in row.items()}


def _column(name: str) -> str:
    word = "_".join(name.strip().lower().split())
    word = _SYNONYMS.get(word, word)
    if word in COLUMNS:
        return word
    close = difflib.get_close_matches(word, COLUMNS, 1)
    if close:
        raise BadData("rows.column_meant", name=name.strip(), meant=close[0])
    raise BadData("rows.unknown_column", name=name.strip(), columns=COLUMNS)


def _row(number: int, cells: Mapping[str, Any], a4_hz: float) -> FitRow:
    planned = _planned(number, cells)
    try:
        se = _number(cells, "se_cents")
        return FitRow(
            frequency_hz=_frequency(cells, planned.meant, a4_hz),
            extension_m=planned.extension_m,
            valves=planned.valves,
            partial=planned.partial,
            se_cents=DEFAULT_SE_CENTS if se is None else se,
            meant=planned.meant,
            label=planned.label,
        )
    except BadData as error:
        raise BadData("rows.in_row", row=number, problem=error.fact) from None


def _planned(number: int, cells: Mapping[str, Any]) -> PlannedNote:
    try:
        meant = parse_pitch(str(cells["note"])) if "note" in cells else None
        partial_ = _number(cells, "partial")
        if partial_ is not None and partial_ != int(partial_):
            raise BadData("rows.no_whole_number", column="partial", value=partial_)
        extension_mm = _number(cells, "extension_mm") or 0.0
        if 0.0 < extension_mm < 1.0:
            raise BadData("rows.metres", value=extension_mm)
        return PlannedNote(
            extension_m=extension_mm / 1000.0,
            valves=_valves(cells.get("valves", "")),
            partial=None if partial_ is None else int(partial_),
            meant=meant,
            label=_label(number, meant),
        )
    except BadData as error:
        raise BadData("rows.in_row", row=number, problem=error.fact) from None


def _label(number: int, meant: Pitch | None) -> Fact:
    if meant is None:
        return fact("rows.row", row=number)
    return fact("rows.row_of_note", row=number, pitch=meant)


def _frequency(cells: Mapping[str, Any], meant: Pitch | None, a4_hz: float) -> float:
    hz, off = _number(cells, "hz"), _number(cells, "cents")
    if hz is not None:
        return hz
    if meant is None or off is None:
        raise BadData("rows.no_frequency")
    if abs(off) > MOST_CENTS:
        raise BadData("rows.no_number", column="cents", value=f"{off:g}")
    return meant.hz(a4_hz) * cents_to_ratio(off)


def _valves(value: Any) -> tuple[str, ...]:
    if isinstance(value, list):
        return tuple(str(name).strip() for name in value)
    words = [word.strip() for word in str(value).replace(",", "+").split("+") if word.strip()]
    return () if [word.lower() for word in words] in (["open"], ["none"], ["0"]) else tuple(words)


def _number(cells: Mapping[str, Any], key: str) -> float | None:
    value = cells.get(key)
    if value is None:
        return None
    try:
        number = float(value)
    except (TypeError, ValueError, OverflowError):
        raise BadData("rows.no_number", column=key, value=str(value)) from None
    if isinstance(value, bool) or not math.isfinite(number):
        raise BadData("rows.no_number", column=key, value=str(value))
    return number


def plan_csv(planned: Iterable[PlannedNote]) -> str:
    """A list of notes to play as a CSV file, ready for frequencies to be filled in."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(("note", "valves", "partial", "extension_mm", "hz"))
    for note in planned:
        table.writerow(
            (
                "" if note.meant is None else note.meant.name,
                "+".join(note.valves),
                note.partial or "",
                f"{1000.0 * note.extension_m:g}",
                "",
            )
        )
    return text.getvalue()
