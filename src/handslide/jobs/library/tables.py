"""The tables of a library: what was taken for what, every grade, and what went wrong.

Their columns and kinds are the same in every language; ``text`` and ``why`` are in the reader's.
"""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from handslide.edges.files.cells import plain_cell
from handslide.edges.files.outfile import write_result
from handslide.edges.manifest.manifest import Manifest, MarkedRow
from handslide.ground.facts import Fact
from handslide.ground.pitch import from_midi
from handslide.instrument.pace import pace
from handslide.jobs.library.choosing import Chosen
from handslide.jobs.library.grade import Grade, grade_of_json
from handslide.words import library as words
from handslide.words.speech import Speech

PARTS, GRADES, ERRORS = "parts.csv", "grades.csv", "errors.csv"
_PART_COLUMNS = (
    "file", "part_id", "part", "notes", "clefs", "lowest", "highest", "taken", "kind", "why",
)  # fmt: skip
_ERROR_COLUMNS = ("file", "part", "for", "kind", "count", "measures", "text")


def write_tables(
    say: Speech,
    folder: Path,
    manifest: Manifest,
    chosen: Iterable[tuple[str, Chosen]],
    problems: Iterable[tuple[str, Fact]],
) -> None:
    """Write all three anew. Raises OutputError."""
    write_result(
        folder / PARTS, _csv(_PART_COLUMNS, (_part(say, *row) for row in chosen)), force=True
    )
    grades, errors = [], [(path, "", "", why.kind, "", "", say.fact(why)) for path, why in problems]
    columns: Sequence[str] = _grade_columns()
    for row in manifest.marked():
        if row.state == "error" and row.error is not None:
            target = row.target
            errors.append(
                (target.source, target.part, target.player, row.error.kind, "", "",
                 say.fact(row.error))
            )  # fmt: skip
        elif row.state == "done":
            grade = grade_of_json(row.result["grade"])
            grades.append(tuple(grade_row(row, grade).values()))
            errors += _troubles(say, row, grade)
    write_result(folder / GRADES, _csv(columns, grades), force=True)
    write_result(folder / ERRORS, _csv(_ERROR_COLUMNS, errors), force=True)


def grade_row(row: MarkedRow, grade: Grade) -> dict[str, Any]:
    """A grade as a row of the table, by its columns."""
    target = row.target
    return {
        "file": target.source,
        "part": target.part,
        "for": target.player,
        "title": grade.title,
        "composer": grade.composer,
        "notes": grade.notes,
        "unplayable": grade.unplayable,
        "lowest": from_midi(grade.low).name,
        "highest": from_midi(grade.high).name,
        "furthest_position": None if grade.position is None else round(grade.position, 2),
        "quickest_m_s": round(grade.speed_m_s, 2),
        "pace": pace(grade.speed_m_s),
        "valves": " ".join(f"{name}:{count}" for name, count in grade.valves),
        "effort": round(grade.effort, 3),
        "seconds": round(grade.seconds, 1),
        "marked": target.path,
    }


def _grade_columns() -> tuple[str, ...]:
    return (
        "file", "part", "for", "title", "composer", "notes", "unplayable", "lowest", "highest",
        "furthest_position", "quickest_m_s", "pace", "valves", "effort", "seconds", "marked",
    )  # fmt: skip


def _part(say: Speech, path: str, row: Chosen) -> tuple[Any, ...]:
    look = row.look
    why = (words.TAKEN if row.taken else words.NOT_TAKEN)[row.why]
    low, high = ("" if midi is None else from_midi(midi).name for midi in (look.low, look.high))
    return (
        path, look.part_id, look.name, look.notes, " ".join(look.clefs), low, high,
        "yes" if row.taken else "no", row.why, say(why),
    )  # fmt: skip


def _troubles(say: Speech, row: MarkedRow, grade: Grade) -> Iterator[tuple[Any, ...]]:
    target = row.target
    for one in grade.troubles:
        measures = " ".join(one.measures)
        yield (
            target.source, target.part, target.player, one.kind, one.count, measures,
            say.fact(one.told),
        )  # fmt: skip


def _csv(columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> bytes:
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(columns)
    for row in rows:
        writer.writerow(["" if cell is None else plain_cell(str(cell)) for cell in row])
    # Spreadsheet programs know UTF-8 by its mark.
    return text.getvalue().encode("utf-8-sig", "replace")
