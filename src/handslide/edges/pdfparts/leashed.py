"""All that is done with a foreign PDF, on a leash: reading, drawing it, laying marks over it."""

import struct
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar, TypeVarTuple

from handslide.edges.leash.leash import Fallen, Leash, Limits
from handslide.edges.pdfparts.overlay import Legend, PagePlan, laid_over, plan_pages
from handslide.edges.pdfparts.placing import NoteMark
from handslide.edges.pdfparts.reading import Corrections, PdfReading, ReadStaff
from handslide.edges.pdfparts.room import picture
from handslide.ground.errors import ScoreError
from handslide.ground.limits import (
    MB,
    PDF_BPS,
    PDF_MEMORY_BYTES,
    PDF_MORE_S,
    PDF_S,
)

Arguments = TypeVarTuple("Arguments")
Result = TypeVar("Result")

_LEASH = Leash(
    Limits(seconds=PDF_S, memory_mb=PDF_MEMORY_BYTES // MB, children=2, kept=1),
    preload=(
        "handslide.edges.pdfparts.read",
        "handslide.edges.pdfparts.overlay",
        "pikepdf",
        "pypdfium2",
    ),
)


def read_pdf(
    data: bytes, name: str, corrections: Corrections
) -> tuple[PdfReading, bytes, tuple[int | None, ...]]:
    """A part as read from its pages, as MusicXML, and which note of the reading each ``<note>`` is.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        What errors call it.

    Raises
    ------
    ScoreError
        One sentence: too large, damaged, encrypted, a scan, no staves, no sure clefs, too slow.
    """
    return _called(name, data, _read, data, corrections)


def plan_marks(
    data: bytes,
    name: str,
    marks: Mapping[int, Sequence[NoteMark]],
    staves: Sequence[ReadStaff],
    legend: Legend,
) -> tuple[PagePlan, ...]:
    """As `plan_pages`. Raises ScoreError."""
    return _called(name, data, plan_pages, data, dict(marks), tuple(staves), legend)


def lay_over(
    data: bytes, name: str, plans: Sequence[PagePlan], overlay: bytes, behind: bytes | None
) -> bytes:
    """As `laid_over`. Raises ScoreError."""
    return _called(name, data, laid_over, data, tuple(plans), overlay, behind)


@dataclass(frozen=True, slots=True)
class PagePicture:
    """A page as PNG, and its size in seen points."""

    png: bytes
    width: float
    height: float


def page_picture(data: bytes, name: str, page: int, pixels_a_point: float) -> PagePicture:
    """A page, numbered from 1, as a picture. Raises ScoreError."""
    return _called(name, data, _png, data, page, pixels_a_point)


def _called(
    name: str, data: bytes, work: Callable[[*Arguments], Result], *arguments: *Arguments
) -> Result:
    more_s = min(len(data) / PDF_BPS, PDF_MORE_S)
    try:
        return _LEASH.call(work, *arguments, more_s=more_s)
    except ScoreError as error:
        raise ScoreError("pdfmarks.in_file", file=name, what=error.fact) from None
    except Fallen as fallen:
        if fallen.why == "slow":
            raise ScoreError("pdfmarks.slow", file=name, seconds=PDF_S + more_s) from fallen
        if fallen.why == "memory":
            raise ScoreError("pdfmarks.memory", file=name) from fallen
        raise ScoreError("pdfmarks.died", file=name) from fallen


def _read(
    data: bytes, corrections: Corrections
) -> tuple[PdfReading, bytes, tuple[int | None, ...]]:
    from handslide.edges.pdfparts.read import read_part
    from handslide.edges.pdfparts.score import musicxml_of

    reading = read_part(data, corrections)
    musicxml, numbers = musicxml_of(reading)
    return reading, musicxml, tuple(numbers)


def _png(data: bytes, page: int, pixels_a_point: float) -> PagePicture:
    import pypdfium2

    document = pypdfium2.PdfDocument(data)
    try:
        shown = document[page - 1]
        width, height = shown.get_size()
        pixels = picture(shown, pixels_a_point, grey=False)[..., :3]
        return PagePicture(png(pixels), width, height)
    finally:
        document.close()


def png(pixels: Any) -> bytes:
    """A picture of shape (rows, columns, 3), or 4 with what it covers, as PNG (ISO/IEC 15948)."""
    rows, columns, channels = pixels.shape
    lines = b"".join(b"\0" + row.tobytes() for row in pixels)
    head = struct.pack(">IIBBBBB", columns, rows, 8, 6 if channels == 4 else 2, 0, 0, 0)
    chunks = ((b"IHDR", head), (b"IDAT", zlib.compress(lines, 6)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        for kind, body in chunks
    )
