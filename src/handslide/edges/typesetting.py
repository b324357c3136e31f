"""Typesetting: engraved pages and texts -> PDF, or PNG pages for a look (Typst).

Texts reach the template as JSON data, so that no text can act as markup. The same sheet gives
the same bytes: no system fonts, a fixed date.
"""

import json
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from importlib import resources
from pathlib import Path
from typing import Any

import typst

from handslide.edges.engraving import OVERHANG_MM, Paper
from handslide.ground.errors import OutputError

_TIMESTAMP = 1767225600  # 2026-01-01: PDF/A wants a date, equal sheets want equal bytes
_PDF_STANDARD = "a-2b"  # 2a forbids the private characters of music fonts


@dataclass(frozen=True, slots=True)
class Section:
    """One table of the report: rows of cells, or only a note."""

    heading: str
    rows: tuple[tuple[str, ...], ...]
    note: str = ""
    header: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PartSheet:
    """The texts of a marked part."""

    title: str
    composer: str
    part_name: str
    student_line: str
    horn_line: str
    legend: tuple[tuple[str, str], ...]
    report: tuple[Section, ...]
    paper: Paper
    language: str = "en"


def typeset_part(sheet: PartSheet, pages: Sequence[str]) -> bytes:
    """Return a tagged PDF of the engraved pages with titles, legend and report.

    It is a PDF/A-2b, unless a text has a character that no shipped font has: then a plain PDF.

    Raises
    ------
    OutputError
        When the typesetter can't set the sheet.
    """
    try:
        result = _compile(sheet, pages, {"format": "pdf", "pdf_standards": [_PDF_STANDARD]})
    except OutputError:
        result = _compile(sheet, pages, {"format": "pdf"})
    return result if isinstance(result, bytes) else result[0]


def render_png(sheet: PartSheet, pages: Sequence[str], *, ppi: float = 110.0) -> tuple[bytes, ...]:
    """Return the same sheet as one PNG picture per page, at ``ppi`` pixels an inch.

    Raises
    ------
    OutputError
        When the typesetter can't set the sheet.
    """
    result = _compile(sheet, pages, {"format": "png", "ppi": ppi})
    return (result,) if isinstance(result, bytes) else tuple(result)


def _compile(sheet: PartSheet, pages: Sequence[str], options: dict[str, Any]) -> Any:
    with _workplace(sheet, pages) as (folder, fonts):
        try:
            compiler = typst.Compiler(
                str(folder / "part.typ"),
                root=str(folder),
                font_paths=[str(fonts)],
                ignore_system_fonts=True,
            )
            result, _ = compiler.compile_with_warnings(timestamp=_TIMESTAMP, **options)
        except typst.TypstError as error:
            raise OutputError(f"the sheet {sheet.title!r} can't be typeset: {error}") from error
    return result


def _one_line(value: Any) -> Any:
    """Return a text with its white space made single; other values as they are."""
    return " ".join(value.split()) if isinstance(value, str) else value


@contextmanager
def _workplace(sheet: PartSheet, pages: Sequence[str]) -> Iterator[tuple[Path, Path]]:
    """Give a folder with template and data that is removed afterwards, and the fonts' folder."""
    data = resources.files("handslide") / "data"
    with (
        tempfile.TemporaryDirectory(prefix="handslide-") as name,
        resources.as_file(data / "fonts") as fonts,
    ):
        folder = Path(name)
        template = (data / "typst" / "part.typ").read_text(encoding="utf-8")
        (folder / "part.typ").write_text(template, encoding="utf-8")
        entries = []
        for number, page in enumerate(pages, 1):
            file = f"music-{number}.svg"
            (folder / file).write_text(page, encoding="utf-8")
            alt = f"Music of {sheet.title}, page {number} of {len(pages)}"
            entries.append({"file": file, "alt": alt})
        texts = {name: _one_line(value) for name, value in asdict(sheet).items()}
        values = texts | {"pages": entries, "overhang_mm": OVERHANG_MM}
        (folder / "sheet.json").write_text(json.dumps(values), encoding="utf-8")
        yield folder, fonts
