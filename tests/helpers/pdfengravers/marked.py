"""Parts marked as a teacher marks them: the places beside those of the MusicXML, and the pixels."""

import difflib
import json
import subprocess
import sys
import time
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np
import pypdfium2
from numpy.typing import NDArray

_SCALE = 3.0
_DARK, _PAPER = 128, 250
HORN = "tenor-f"

Place = tuple[int, str, str]
"""Sounding pitch, partial and valves, mark."""


@dataclass(slots=True)
class MarkedTally:
    """Counts over parts. ``changed``: dark pixels of the original that are none now;
    ``touching``: new dark pixels beside its ink; ``covered``: pages with any of either."""

    parts: int = 0
    refused: int = 0
    notes: int = 0
    same: int = 0
    pages: int = 0
    covered: int = 0
    changed: int = 0
    touching: int = 0
    bytes_before: int = 0
    bytes_after: int = 0
    seconds: float = 0.0

    def add(self, other: "MarkedTally") -> None:
        for one in fields(self):
            setattr(self, one.name, getattr(self, one.name) + getattr(other, one.name))


def mark(source: Path, folder: Path) -> tuple[list[Place] | None, Path | None]:
    """Mark a part by the command line: its places, and the marked PDF. None where it refuses."""
    command = [sys.executable, "-m", "handslide", "mark", str(source), "--horn", HORN, "--json",
               "--force", "-o", str(folder)]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        return None, None
    notes = json.loads(done.stdout)["notes"]
    rows = [(one["midi"], f"{one['partial']}{one['valves']}", one["mark"]) for one in notes]
    made = folder / f"{source.stem}-marked.pdf"
    return rows, made if made.is_file() else None


def same_places(want: list[Place], got: list[Place]) -> int:
    """Notes of ``want`` that ``got`` has too, in the same order."""
    blocks = difflib.SequenceMatcher(None, want, got, autojunk=False).get_matching_blocks()
    return sum(block.size for block in blocks)


def marked(source: Path, want: list[Place], folder: Path) -> MarkedTally:
    """Mark a PDF and compare it with the places of its MusicXML, and with its own pages."""
    start = time.perf_counter()
    got, made = mark(source, folder)
    seconds = time.perf_counter() - start
    if got is None or made is None:
        return MarkedTally(parts=1, refused=1, notes=len(want))
    counts = MarkedTally(
        parts=1, notes=len(want), same=same_places(want, got), seconds=seconds,
        bytes_before=source.stat().st_size, bytes_after=made.stat().st_size,
    )  # fmt: skip
    before, after = pypdfium2.PdfDocument(source), pypdfium2.PdfDocument(made)
    try:
        counts.pages = len(before)
        for number in range(len(before)):
            changed, touching = _pixels(_grey(before, number), _grey(after, number))
            counts.changed += changed
            counts.touching += touching
            counts.covered += bool(changed or touching)
    finally:
        before.close()
        after.close()
    return counts


def _grey(document: pypdfium2.PdfDocument, number: int) -> NDArray[np.int16]:
    picture = document[number].render(scale=_SCALE, grayscale=True).to_numpy()
    return picture.reshape(picture.shape[:2]).astype(np.int16)


def _pixels(before: NDArray[np.int16], after: NDArray[np.int16]) -> tuple[int, int]:
    """Dark pixels of the original that are none now, and new ones on clear paper beside them.
    The tint of a doubtful note is neither."""
    if before.shape != after.shape:
        return before.size, before.size
    dark = before < _DARK
    marks = (after < _DARK) & (before >= _PAPER)
    # A renderer sets text otherwise, by less than a pixel, where a page has transparent colours.
    lost = dark & ~_grown(after < _DARK, 1)
    beside = _grown(dark, 2)  # over the grey edge of what is drawn
    return int(np.count_nonzero(lost)), int(np.count_nonzero(marks & beside))


def _grown(dark: NDArray[np.bool_], by: int) -> NDArray[np.bool_]:
    for _ in range(by):
        grown = dark.copy()
        for axis in (0, 1):
            grown |= np.roll(dark, 1, axis) | np.roll(dark, -1, axis)
        dark = grown
    return dark
