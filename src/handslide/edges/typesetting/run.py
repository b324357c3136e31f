"""One run of Typst: a template of ours and data files in a folder of their own, to PDF, SVG or PNG.

Texts reach a template as JSON data, so that no text can act as markup. The same input gives the
same bytes: no system fonts, a fixed date.
"""

import tempfile
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Any

from handslide.ground.errors import OutputError

FORMATS = ("pdf", "svg", "png")
_COMMON = "common.typ"  # what the templates share
_TIMESTAMP = 1767225600  # 2026-01-01: PDF/A wants a date, equal sheets want equal bytes
_PDF_STANDARD = "a-2b"  # 2a forbids the private characters of music fonts


def run_typst(
    template: str,
    files: Mapping[str, str],
    title: str,
    form: str = "pdf",
    ppi: float = 150.0,
    *,
    tagged: bool = True,
) -> tuple[bytes, ...]:
    """The document as one PDF, or as one SVG or PNG picture per page (``ppi`` pixels an inch).

    ``template`` is a file of ``data/typst``; ``files`` are put beside it by name. A PDF is tagged
    and PDF/A-2b, unless a text has a character that no shipped font has: then a plain PDF. One
    whose pages become a piece of another file is not ``tagged``.

    Raises
    ------
    OutputError
        When the typesetter can't set it.
    """
    data = resources.files("handslide") / "data"
    with (
        tempfile.TemporaryDirectory(prefix="handslide-") as name,
        resources.as_file(data / "fonts") as fonts,
    ):
        folder = Path(name)
        for file, content in files.items():
            (folder / file).write_text(content, encoding="utf-8")
        for file in (template, _COMMON):
            source = (data / "typst" / file).read_text(encoding="utf-8")
            (folder / file).write_text(source, encoding="utf-8")
        options: dict[str, Any] = {"format": form}
        if form == "png":
            options["ppi"] = ppi
        if form != "pdf":
            return _compile(folder / template, fonts, title, options)
        try:
            if not tagged:
                options["pdf_tags"] = False
            strict = options | {"pdf_standards": [_PDF_STANDARD]}
            return _compile(folder / template, fonts, title, strict)
        except OutputError:
            return _compile(folder / template, fonts, title, options)


def _compile(file: Path, fonts: Path, title: str, options: dict[str, Any]) -> tuple[bytes, ...]:
    import typst

    try:
        compiler = typst.Compiler(
            str(file), root=str(file.parent), font_paths=[str(fonts)], ignore_system_fonts=True
        )
        result, _ = compiler.compile_with_warnings(timestamp=_TIMESTAMP, **options)
    except typst.TypstError as error:
        raise OutputError("files.not_typeset", title=title, reason=str(error)) from error
    return (result,) if isinstance(result, bytes) else tuple(result or ())
