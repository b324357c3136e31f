"""What a person says instead of what was read from a PDF: as typed, and as a file of notes.

A place is ``PAGE.SYSTEM`` or ``PAGE.SYSTEM.BAR.ITEM``, each counted from 1 as the report counts.
"""

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from handslide.edges.files.plainfile import NotPlain, TooLarge, read_plain
from handslide.edges.pdfparts.reading import Corrections, PdfReading, ReadNote, Spot
from handslide.edges.pdfparts.signnames import smufl_kinds
from handslide.ground.errors import BadData, BadUsage, PitchError
from handslide.ground.limits import TYPED_BYTES
from handslide.ground.pitch import STEPS, Pitch, parse_pitch
from handslide.ground.system import system_reason
from handslide.ground.wholenumber import whole_number
from handslide.words.speech import Speech

CLEFS: Mapping[str, str] = {"bass": "F4", "tenor": "C4", "alto": "C3", "treble": "G2"}
"""The clefs that can be said, and how a reading calls them."""
NO_NOTE = "none"
SIGN_KINDS = (
    "clef.F", "clef.C", "clef.G", "clef.G.8b", "head.black", "head.half", "head.whole",
    "head.double", "acc.-2", "acc.-1", "acc.0", "acc.1", "acc.2", "dot", "rest.1", "rest.2",
    "rest.4", "rest.8", "rest.16", "rest.32", "flag.1", "flag.2", "flag.3", "meter.common",
    "meter.cut", *(f"digit.{digit}" for digit in range(10)), "ottava.8a", "ottava.8b",
    "fermata", "segno", "coda", "other",
)  # fmt: skip
"""What a shape that nobody knows most likely is; ``other`` means nothing to the reading."""
COLUMNS = ("page", "system", "bar", "item", "read", "pitch", "doubt")
_NEEDED = COLUMNS[:6]
MOST_FLATS = 7
_KEY = re.compile(r"([-+]?)([0-7])([b♭#♯]?)")


def parse_corrections(
    clefs: Iterable[str] = (),
    keys: Iterable[str] = (),
    notes: Iterable[str] = (),
    signs: Mapping[str, str] | None = None,
    staff: int | None = None,
) -> Corrections:
    """Corrections from what is typed: ``1.2=tenor``, ``1.2=3♭``, ``1.2.3.4=Bb3``. ``signs`` are
    kinds by mark.

    Raises
    ------
    BadUsage
        For what isn't a place, a clef, a key, a pitch, a kind.
    """
    if staff is not None and staff < 1:
        raise BadUsage("pdfmarks.staff", staff=staff)
    return Corrections(
        clefs=tuple(_clef(text) for text in clefs),
        keys=tuple(_key(text) for text in keys),
        notes=tuple(_note(text) for text in notes),
        signs=tuple((mark, check_kind(kind)) for mark, kind in sorted((signs or {}).items())),
        staff=staff,
    )


def parse_sign(text: str) -> tuple[str, str]:
    """``SIGN=KIND`` as sign and kind. Raises BadUsage."""
    mark, _, kind = text.strip().rpartition("=")
    if not mark:
        raise BadUsage("pdfmarks.not_a_sign", text=text)
    return mark, check_kind(kind)


def check_kind(kind: str) -> str:
    """A kind that a shape can be said to be, here or in any music font. Raises BadUsage."""
    if kind not in SIGN_KINDS and kind not in smufl_kinds()[0].values():
        raise BadUsage("pdfmarks.sign_kind", kind=kind, known=", ".join(SIGN_KINDS))
    return kind


def clef_value(name: str) -> str:
    """How a reading calls a clef, such as ``C4`` for ``tenor``. Raises BadUsage."""
    if name not in CLEFS:
        raise BadUsage("pdfmarks.clef", name=name, known=", ".join(CLEFS))
    return CLEFS[name]


def key_value(text: str) -> int:
    """Sharps, or flats below zero, of a key such as ``3♭``, ``-3``, ``2#``, ``0``. Raises
    BadUsage."""
    match = _KEY.fullmatch(text.strip())
    if match is None or (match[1] and match[3]):
        raise BadUsage("pdfmarks.key", text=text)
    count = int(match[2])
    return -count if match[1] == "-" or match[3] in ("b", "♭") else count


def pitch_value(text: str) -> str:
    """A pitch by its plain name, empty for no note. Raises PitchError."""
    return "" if text.strip().lower() == NO_NOTE else parse_pitch(text).name


def _clef(text: str) -> tuple[Spot, str]:
    spot, said = _spot(text, 2, "pdfmarks.not_a_clef")
    return spot, clef_value(said.lower())


def _key(text: str) -> tuple[Spot, int]:
    spot, said = _spot(text, 2, "pdfmarks.not_a_key")
    return spot, key_value(said)


def _note(text: str) -> tuple[Spot, str]:
    spot, said = _spot(text, 4, "pdfmarks.not_a_note")
    try:
        return spot, pitch_value(said)
    except PitchError as error:
        raise BadUsage("pdfmarks.note_pitch", text=text, what=error.fact) from None


def _spot(text: str, count: int, kind: str) -> tuple[Spot, str]:
    place, _, said = text.partition("=")
    numbers = [whole_number(piece.strip()) for piece in place.split(".")]
    if len(numbers) != count or not said.strip() or any(not number for number in numbers):
        raise BadUsage(kind, text=text)
    return Spot(*(number for number in numbers if number is not None)), said.strip()


def check_spots(corrections: Corrections, reading: PdfReading) -> None:
    """Raises BadUsage for a correction of what isn't in the part."""
    systems = {(staff.page, staff.system) for staff in reading.staves}
    spots = {note.spot for note in reading.notes}
    bars = {measure.spot for measure in reading.measures}
    for spot in (spot for rows in (corrections.clefs, corrections.keys) for spot, _ in rows):
        if (spot.page, spot.system) not in systems:
            raise BadUsage("pdfmarks.no_system", page=spot.page, system=spot.system)
    for spot, said in corrections.notes:
        # What was said to be no note isn't in the reading any more.
        here = spot in spots if said else Spot(spot.page, spot.system, spot.bar) in bars
        if not here:
            raise BadUsage("pdfmarks.no_note", place=place_text(spot))


def place_text(spot: Spot) -> str:
    """A place as it is typed: ``1.2.3.4``, or ``1.2`` for a system."""
    numbers = (spot.page, spot.system, *((spot.bar, spot.item) if spot.bar else ()))
    return ".".join(map(str, numbers))


def written_pitch(note: ReadNote) -> Pitch | None:
    """The pitch of a note as it is written; None for a rest."""
    if note.step is None:
        return None
    return Pitch(tuple(STEPS)[note.step], note.alter, note.octave)


def notes_csv(say: Speech, reading: PdfReading) -> bytes:
    """The notes as a table to be corrected: a row for each, with its doubts.

    What differs from ``read`` is a correction; of a note that was corrected before, nobody knows
    how it would be read.
    """
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(COLUMNS)
    for note in reading.notes:
        pitch = written_pitch(note)
        if pitch is None:
            continue
        spot = note.spot
        doubts = "; ".join(say.fact(told) for told in note.doubts)
        read = "" if note.corrected else pitch.name
        table.writerow((spot.page, spot.system, spot.bar, spot.item, read, pitch.name, doubts))
    return ("﻿" + text.getvalue()).encode()


def read_notes_csv(path: Path) -> tuple[tuple[Spot, str], ...]:
    """The corrections in an edited table, by place.

    A row that is gone, and an empty pitch, say nothing; ``none`` says that it is no note.

    Raises
    ------
    BadData
        With the file, the row and what is wrong.
    """
    text = _text(path)
    changed = []
    for line, cells in _rows(text, path.name):
        numbers = [whole_number(cell) for cell in cells[:4]]
        if any(not number for number in numbers):
            raise BadData("pdfmarks.row_place", file=path.name, row=line)
        spot = Spot(*(number for number in numbers if number is not None))
        read, pitch = cells[4:]
        if not pitch or pitch == read:
            continue
        try:
            changed.append((spot, pitch_value(pitch)))
        except PitchError as error:
            raise BadData("pdfmarks.row_pitch", file=path.name, row=line, what=error.fact) from None
    return tuple(changed)


def _text(path: Path) -> str:
    try:
        return read_plain(path, TYPED_BYTES).decode("utf-8-sig").replace("\r\n", "\n")
    except (IsADirectoryError, NotPlain, TooLarge, UnicodeDecodeError):
        raise BadData("pdfmarks.not_notes", file=path.name, columns=", ".join(COLUMNS)) from None
    except OSError as error:
        reason = system_reason(error)
        raise BadData("pdfmarks.notes_unreadable", file=path.name, reason=reason) from error


def _rows(text: str, name: str) -> Iterable[tuple[int, Sequence[str]]]:
    """Line numbers and all columns but the doubts; spreadsheets put semicolons or tabs."""
    first = text.lstrip("\n\r").split("\n", 1)[0]
    lines = csv.reader(io.StringIO(text), delimiter=max(",;\t", key=first.count))
    head: list[str] | None = None
    for cells in lines:
        cells = [cell.strip() for cell in cells]
        if not any(cells):
            continue
        if head is None:
            head = [cell.lower() for cell in cells]
            if not set(_NEEDED) <= set(head):
                raise BadData("pdfmarks.not_notes", file=name, columns=", ".join(COLUMNS))
            continue
        row = dict(zip(head, cells))
        yield lines.line_num, [row.get(column, "") for column in _NEEDED]
