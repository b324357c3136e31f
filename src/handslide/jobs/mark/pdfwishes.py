"""Opening a part for marking, MusicXML or PDF, with what a person corrects in reading a PDF."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.files.plainfile import is_same
from handslide.edges.files.safexml import read_file
from handslide.edges.files.signs import known_signs, remember_signs
from handslide.edges.musicxml.read import Score, open_score_data
from handslide.edges.pdfparts.head import is_pdf
from handslide.ground.errors import BadUsage, OutputError
from handslide.words.speech import Speech

if TYPE_CHECKING:
    from handslide.jobs.mark.pdfpart import PdfPart


@dataclass(frozen=True, slots=True)
class PdfWishes:
    """Corrections as typed, a table of notes to read, and one to write.

    ``clefs`` are ``PAGE.SYSTEM=CLEF``, ``keys`` ``PAGE.SYSTEM=KEY``, ``notes``
    ``PAGE.SYSTEM.BAR.ITEM=PITCH``, ``signs`` ``SIGN=KIND``, a sign by its name or
    mark; ``staff`` is which staff of a system, from 1.
    """

    clefs: tuple[str, ...] = ()
    keys: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    signs: tuple[str, ...] = ()
    staff: int | None = None
    notes_file: Path | None = None
    write_notes: Path | None = None


NO_WISHES = PdfWishes()
_OPTIONS = {
    "clefs": "--clef", "keys": "--key", "notes": "--note", "signs": "--sign", "staff": "--staff",
    "notes_file": "--notes", "write_notes": "--write-notes",
}  # fmt: skip


def open_source(
    path: Path, wishes: PdfWishes, say: Speech, *, force: bool = False
) -> "tuple[Score, PdfPart | None]":
    """An open score, and the PDF that it was read from, if it was one.

    Signs that are named are remembered in the user's folder.

    Raises
    ------
    ScoreError, BadData
        When the file, or a table of notes, can't be read.
    BadUsage
        Corrections of what is no PDF, that can't be read, or of what isn't in it.
    OutputError
        When a table of notes can't be written.
    """
    if wishes.write_notes is not None:
        if is_same(wishes.write_notes, path):
            raise OutputError("marks.original", path=str(wishes.write_notes))
        check_free(wishes.write_notes, force=force)
    data = read_file(path)
    if not is_pdf(data):
        for name, option in _OPTIONS.items():
            if getattr(wishes, name) != getattr(NO_WISHES, name):
                raise BadUsage("pdfmarks.only_pdf", option=option, file=path.name)
        return open_score_data(data, path.name), None
    source = _read(data, path.name, wishes)
    score = source.score()
    if wishes.write_notes is not None:
        from handslide.jobs.mark.pdfcorrections import notes_csv

        write_result(wishes.write_notes, notes_csv(say, source.reading), force=force)
    return score, source


def _by_mark(data: bytes, file: str, named: Mapping[str, str]) -> dict[str, str]:
    """Kinds by mark of what was called by name: of what isn't known yet, or was said before."""
    from handslide.edges.pdfparts.reading import sign_name
    from handslide.jobs.mark.pdfcorrections import parse_corrections
    from handslide.jobs.mark.pdfpart import open_pdf

    known = known_signs()
    reading = open_pdf(data, file, parse_corrections(signs=known)).reading
    marks = (*known, *(sign.mark for sign in reading.unknown))
    called = {mark: mark for mark in marks} | {sign_name(mark): mark for mark in marks}
    for sign in named:
        if sign not in called:
            raise BadUsage("pdfmarks.no_sign", sign=sign)
    return {called[sign]: kind for sign, kind in named.items()}


def _read(data: bytes, name: str, wishes: PdfWishes) -> "PdfPart":
    from handslide.jobs.mark.pdfcorrections import (
        check_spots,
        parse_corrections,
        parse_sign,
        read_notes_csv,
    )
    from handslide.jobs.mark.pdfpart import open_pdf

    named = dict(parse_sign(text) for text in wishes.signs)
    if named:
        named = _by_mark(data, name, named)
    corrections = parse_corrections(
        wishes.clefs, wishes.keys, wishes.notes, known_signs() | named, wishes.staff
    )
    if wishes.notes_file is not None:
        said = dict(read_notes_csv(wishes.notes_file)) | dict(corrections.notes)
        corrections = replace(corrections, notes=tuple(said.items()))
    source = open_pdf(data, name, corrections)
    if named:
        remember_signs(named)
    if source.refused is None:
        check_spots(corrections, source.reading)
    return source
