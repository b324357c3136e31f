"""QR codes (ISO/IEC 18004) as shapes for a page."""

from dataclasses import dataclass

import segno

# The standard asks for four empty modules on each side.
QUIET = 4


@dataclass(frozen=True, slots=True)
class QrCode:
    """A code to draw: a square of ``size`` by ``size`` modules, its quiet zone with it.

    ``path`` is the data of an SVG path that fills the dark modules.
    """

    size: int
    path: str


def qr_code(text: str) -> QrCode:
    """The code of ``text``; a seventh of it may be hidden and it still reads (level M)."""
    rows = segno.make(text, error="m", micro=False).matrix
    runs = [
        f"M{first + QUIET} {y + QUIET}h{length}v1h-{length}z"
        for y, row in enumerate(rows)
        for first, length in _runs(row)
    ]
    return QrCode(len(rows) + 2 * QUIET, "".join(runs))


def _runs(row: bytes | bytearray) -> list[tuple[int, int]]:
    """Where dark modules begin in a row, and how many follow one another."""
    found: list[tuple[int, int]] = []
    for x, dark in enumerate(row):
        if not dark:
            continue
        if found and sum(found[-1]) == x:
            found[-1] = found[-1][0], found[-1][1] + 1
        else:
            found.append((x, 1))
    return found
