"""One run of Typst: a template of ours and data files, to PDF, SVG or PNG.

Texts reach a template as JSON data, so that no text can act as markup. The same input gives the
same bytes: no system fonts, a fixed date. All stays in memory: nothing is written that a killed
program could leave behind, and a full disk keeps no sheet from being made.
"""

from collections.abc import Mapping
from importlib import resources
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

    ``template`` is a file of ``data/typst``; ``files`` lie beside it by name. A PDF is tagged
    and PDF/A-2b, unless a text has a character that no shipped font has: then a plain PDF. One
    whose pages become a piece of another file is not ``tagged``.

    Raises
    ------
    OutputError
        When the typesetter can't set it.
    """
    sources, folder = _sources(template, files)
    with resources.as_file(folder) as fonts:
        options: dict[str, Any] = {"format": form}
        if form == "png":
            options["ppi"] = ppi
        if form != "pdf":
            return _compile(sources, str(fonts), title, options)
        try:
            if not tagged:
                options["pdf_tags"] = False
            strict = options | {"pdf_standards": [_PDF_STANDARD]}
            return _compile(sources, str(fonts), title, strict)
        except OutputError:
            return _compile(sources, str(fonts), title, options)


def count_pages(template: str, files: Mapping[str, str], title: str) -> int:
    """How many pages `run_typst` would make of it. Raises OutputError."""
    import typst

    sources, folder = _sources(template, files)
    with resources.as_file(folder) as fonts:
        try:
            compiler = _compiler(sources, str(fonts))
            return int(compiler.query("<pages>", field="value", one=True))
        except typst.TypstError as error:
            raise OutputError("files.not_typeset", title=title, reason=str(error)) from error


def _sources(template: str, files: Mapping[str, str]) -> tuple[dict[str, bytes], Any]:
    """The files by name, and the folder of the fonts."""
    data = resources.files("handslide") / "data"
    sources = {file: content.encode() for file, content in files.items()}
    sources["main.typ"] = (data / "typst" / template).read_bytes()
    sources[_COMMON] = (data / "typst" / _COMMON).read_bytes()
    return sources, data / "fonts"


def _compiler(sources: Any, fonts: str) -> Any:
    import typst

    # Of the disk it sees the folder of the fonts only.
    return typst.Compiler(sources, root=fonts, font_paths=[fonts], ignore_system_fonts=True)


def _compile(sources: Any, fonts: str, title: str, options: dict[str, Any]) -> tuple[bytes, ...]:
    import typst

    try:
        compiler = _compiler(sources, fonts)
        result, _ = compiler.compile_with_warnings(timestamp=_TIMESTAMP, **options)
    except typst.TypstError as error:
        raise OutputError("files.not_typeset", title=title, reason=str(error)) from error
    return (result,) if isinstance(result, bytes) else tuple(result or ())
