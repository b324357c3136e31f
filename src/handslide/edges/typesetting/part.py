"""Typesetting: engraved pages and texts -> PDF, or PNG pages for a look."""

import json
import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import zip_longest
from typing import Any

from handslide.edges.engraving.values import OVERHANG_MM, Paper
from handslide.edges.typesetting.run import run_typst


@dataclass(frozen=True, slots=True)
class Section:
    """One table of the report: rows of cells, or only a note."""

    heading: str
    rows: tuple[tuple[str, ...], ...]
    note: str = ""
    header: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PartSheet:
    """The texts of a marked part; ``pictures`` say what the picture of each page shows.

    ``legend_behind``: the legend stands under the report too, for the music is elsewhere.
    """

    title: str
    composer: str
    part_name: str
    student_line: str
    horn_line: str
    legend: tuple[tuple[str, str], ...]
    report: tuple[Section, ...]
    paper: Paper
    pictures: tuple[str, ...] = ()
    language: str = "en"
    legend_behind: bool = False


def typeset_part(sheet: PartSheet, pages: Sequence[str], *, tagged: bool = True) -> bytes:
    """Return a PDF of the engraved pages with titles, legend and report.

    ``tagged``: it stands for itself; pages that go into another file have no tags.

    Raises
    ------
    OutputError
        When the typesetter can't set the sheet.
    """
    return run_typst("part.typ", _files(sheet, pages), sheet.title, tagged=tagged)[0]


def render_png(sheet: PartSheet, pages: Sequence[str], *, ppi: float = 110.0) -> tuple[bytes, ...]:
    """Return the same sheet as one PNG picture per page, at ``ppi`` pixels an inch.

    Raises
    ------
    OutputError
        When the typesetter can't set the sheet.
    """
    return run_typst("part.typ", _files(sheet, pages), sheet.title, "png", ppi)


def _files(sheet: PartSheet, pages: Sequence[str]) -> dict[str, str]:
    """The files that the template reads, by name."""
    music = {f"music-{number}.svg": page for number, page in enumerate(pages, 1)}
    entries = [
        {"file": file, "alt": one_line(alt)}
        for file, alt in zip_longest(music, sheet.pictures, fillvalue="")
    ]
    texts = {name: one_line(value) for name, value in asdict(sheet).items()}
    values = texts | {"pages": entries, "overhang_mm": OVERHANG_MM}
    return {**music, "sheet.json": json.dumps(values)}


_BLANKS = re.compile(r"[ \t\r\n\f\v]+")


def one_line(value: Any) -> Any:
    """Return a text with its white space made single; other values as they are.

    Blanks that don't break a line stay.
    """
    return _BLANKS.sub(" ", value).strip(" ") if isinstance(value, str) else value
