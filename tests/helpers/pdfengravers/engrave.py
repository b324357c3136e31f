"""A part as PDF, by engraver. None of them is needed: ask ``installed`` first."""

import hashlib
import importlib.util
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from lxml import etree

from pdfengravers.abc import NoAbcError, abc_of

HERE = Path(__file__).resolve().parent
ROUNDTRIP = HERE.parents[1] / "roundtrip"
VEROVIO_FONTS = ("Bravura", "Leipzig", "Leland", "Petaluma", "Gootville")
_SECONDS = 300.0
_PRIVATE = re.compile("[\ue000-\uf8ff]|&#x[EeFf][0-9A-Fa-f]{3};")

Maker = Callable[[Path, Path], None]
"""Engraves the MusicXML file as the PDF file."""


class NotEngravedError(Exception):
    """The engraver made no PDF of it."""


@dataclass(frozen=True, slots=True)
class Engraver:
    """``known``: its signs are of a font that the reader has outlines of; ``font`` is that font,
    where only its outlines tell."""

    name: str
    needs: tuple[str, ...]
    make: Maker
    known: bool = True
    font: str = ""

    def installed(self) -> bool:
        """All programs and modules that it needs are here."""
        return all(_there(need) for need in self.needs)


def engrave(engraver: Engraver, musicxml: bytes, target: Path) -> None:
    """Write the part as PDF.

    Raises
    ------
    NotEngravedError
        When the engraver fails, or takes too long.
    """
    with tempfile.TemporaryDirectory(prefix="engraver-") as name:
        source = Path(name) / f"{target.stem}.musicxml"
        source.write_bytes(musicxml)
        made = Path(name) / "made.pdf"
        try:
            engraver.make(source, made)
        except (subprocess.SubprocessError, NoAbcError) as error:
            raise NotEngravedError(f"{engraver.name}: {target.stem}") from error
        if not made.is_file():
            raise NotEngravedError(f"{engraver.name}: {target.stem}")
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.move(made, target)


def _run(*command: str | Path, cwd: Path | None = None, sure: bool = True) -> bytes:
    """What the program says. ``sure``: another exit code than 0 is a failure."""
    # TeX would try for minutes to make fonts that it lacks.
    quick = os.environ | {"MKTEXTFM": "0", "MKTEXPK": "0", "MKTEXMF": "0"}
    done = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env=quick,
        check=sure,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        timeout=_SECONDS,
    )
    return done.stdout + done.stderr


def _there(need: str) -> bool:
    if need.startswith("py:"):
        return importlib.util.find_spec(need[3:]) is not None
    if need.startswith("npm:"):
        return npm_module(need[4:]) is not None
    return shutil.which(need) is not None


def npm_module(name: str) -> Path | None:
    """The folder of an npm module, as `make roundtrip` installs it."""
    folder = ROUNDTRIP / "node_modules" / name
    return folder if folder.is_dir() else None


def _lilypond(source: Path, target: Path) -> None:
    """LilyPond through its own importer. Where bars don't come out, the importer has broken the
    music, and what is printed isn't the part."""
    script = source.with_suffix(".ly")
    _run("musicxml2ly", "-o", script, source)
    said = _run("lilypond", "-dno-point-and-click", "-o", target.with_suffix(""), script)
    if b"barcheck failed" in said:
        target.unlink()


def _webmscore(source: Path, target: Path) -> None:
    _run("node", HERE / "engrave.cjs", npm_module("webmscore") or "", source, target)


def verovio_svgs(source: Path, folder: Path) -> list[Path]:
    """The part's A4 pages as SVG, in a font that depends on the file's name."""
    import verovio

    toolkit = verovio.toolkit()
    font = hashlib.sha256(source.stem.encode()).digest()[0] % len(VEROVIO_FONTS)
    toolkit.setOptions(
        {
            "pageWidth": 2100,
            "pageHeight": 2970,
            "font": VEROVIO_FONTS[font],
            "footer": "none",
            "mmOutput": True,
            "xmlIdChecksum": True,
            "smuflTextFont": "none",
            "breaks": "auto",
        }
    )
    toolkit.loadData(source.read_text(encoding="utf-8"))
    pages = []
    for number in range(1, toolkit.getPageCount() + 1):
        pages.append(folder / f"page-{number:03}.svg")
        pages[-1].write_text(toolkit.renderToSVG(number), encoding="utf-8")
    return pages


def _verovio_rsvg(source: Path, target: Path) -> None:
    pages = verovio_svgs(source, source.parent)
    for page in pages:  # music in texts would become large empty boxes
        page.write_text(_PRIVATE.sub("", page.read_text(encoding="utf-8")), encoding="utf-8")
    _run("rsvg-convert", "-f", "pdf", "-o", target, *pages)


def _verovio_typst(source: Path, target: Path) -> None:
    import typst

    pages = verovio_svgs(source, source.parent)
    lines = ["#set page(width: 210mm, height: 297mm, margin: 0mm)"]
    lines += [f'#page(image("{page.name}", width: 210mm))' for page in pages]
    script = source.with_suffix(".typ")
    script.write_text("\n".join(lines), encoding="utf-8")
    typst.compile(str(script), output=str(target))


def _own(source: Path, target: Path) -> None:
    """Our own print, with marks and a legend."""
    _run(sys.executable, "-m", "handslide", "mark", source, "--horn", "tenor-f", "--report", "none",
         "-o", source.parent)  # fmt: skip
    source.with_name(f"{source.stem}-marked.pdf").rename(target)


def _outlined(inner: Maker) -> Maker:
    """The same through Ghostscript, all text turned to outlines."""

    def make(source: Path, target: Path) -> None:
        plain = target.with_name("plain.pdf")
        inner(source, plain)
        if plain.is_file():
            _run("gs", "-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-sDEVICE=pdfwrite",
                 "-dNoOutputFonts", f"-sOutputFile={target}", plain)  # fmt: skip

    return make


def _abcm2ps(source: Path, target: Path) -> None:
    script = source.with_suffix(".abc")
    script.write_text(abc_of(source.read_bytes()), encoding="utf-8")
    sheets = source.with_suffix(".ps")
    _run("abcm2ps", "-O", sheets, script)
    _run("gs", "-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-sDEVICE=pdfwrite",
         f"-sOutputFile={target}", sheets)  # fmt: skip


def _musixtex(source: Path, target: Path) -> None:
    """PMX and MusiXTeX: letter-coded Type 1 fonts, slurs as characters of a font."""
    script = source.with_name("part.pmx")
    root = etree.parse(source)
    etree.indent(root)  # its importer reads line by line
    source = source.with_name("part.xml")
    root.write(source, xml_declaration=True, encoding="UTF-8")
    _run("xml2pmx", source.name, script.name, cwd=source.parent)
    text = script.read_text(encoding="utf-8", errors="replace")
    script.write_text(text.replace("\\input musixlyr", ""), encoding="utf-8")
    _run("pmxab", "part", cwd=source.parent)
    for command in ("etex", "musixflx", "etex"):
        options = ("-interaction=nonstopmode",) if command == "etex" else ()
        _run(command, *options, "part", cwd=source.parent, sure=False)
    _run("dvips", "-q", "-o", "part.ps", "part", cwd=source.parent)
    _run("gs", "-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-sDEVICE=pdfwrite",
         f"-sOutputFile={target}", source.with_name("part.ps"))  # fmt: skip


ENGRAVERS = (
    Engraver("lilypond", ("lilypond", "musicxml2ly"), _lilypond),
    Engraver("verovio-rsvg", ("py:verovio", "rsvg-convert"), _verovio_rsvg),
    Engraver("verovio-typst", ("py:verovio", "py:typst"), _verovio_typst),
    Engraver("webmscore", ("node", "npm:webmscore"), _webmscore),
    Engraver(
        "lilypond-outlines",
        ("lilypond", "musicxml2ly", "gs"),
        _outlined(_lilypond),
        font="Emmentaler",
    ),
    Engraver(
        "webmscore-outlines", ("node", "npm:webmscore", "gs"), _outlined(_webmscore), font="Leland"
    ),
    Engraver("own", ("py:verovio", "py:typst"), _own),
    Engraver("abcm2ps", ("abcm2ps", "gs", "py:music21"), _abcm2ps, known=False),
    Engraver(
        "musixtex", ("xml2pmx", "pmxab", "etex", "musixflx", "dvips", "gs"), _musixtex, known=False
    ),
)


def engraver(name: str) -> Engraver:
    """The engraver of that name."""
    return next(one for one in ENGRAVERS if one.name == name)
