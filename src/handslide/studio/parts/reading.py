"""Parts that came as PDF: read with what the teacher said of them, and saying it, step by step.

What is said is kept by place and holds whenever the file is read; kinds of shapes are known in the
whole studio once they were said.
"""

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from handslide.edges.musicxml.read import Score, open_score_data
from handslide.edges.pdfparts.leashed import PagePicture, page_picture
from handslide.edges.pdfparts.reading import Corrections, Spot
from handslide.edges.store.corrections import (
    Edit,
    Key,
    find_correction_edit,
    insert_correction_edit,
    number_of_corrections,
    put_correction,
    select_corrections,
    update_corrections_done,
)
from handslide.edges.store.scores import ScoreRow, find_score, read_score_data
from handslide.ground.errors import BadUsage, NotFound
from handslide.ground.limits import OPEN_SCORES_BYTES
from handslide.jobs.mark.pdfcorrections import (
    check_kind,
    clef_value,
    key_value,
    pitch_value,
    place_text,
    written_pitch,
)
from handslide.jobs.mark.pdfpart import PdfPart, open_pdf
from handslide.studio.cache import CacheKind
from handslide.studio.studio import Studio, get_setting, set_setting

_SIGNS = "signs"  # a setting: the kinds of shapes by mark, as JSON
_PICTURE_PIXELS_A_POINT = 2.0
_Key: TypeAlias = tuple[str, Corrections]
_READ: CacheKind[_Key, PdfPart] = CacheKind(
    8, lambda part: len(part.data) + 3 * len(part.musicxml), OPEN_SCORES_BYTES
)
_PICTURES: CacheKind[tuple[str, int], PagePicture] = CacheKind(
    24, lambda shown: len(shown.png), OPEN_SCORES_BYTES
)


def score_data(studio: Studio, score_id: int) -> bytes:
    """The file of a score as it came. Raises NotFound."""
    with studio.store.read() as db:
        found = read_score_data(db, score_id)
    if found is None:
        raise NotFound("parts.no_score")
    return found


def first_reading(studio: Studio, data: bytes, name: str) -> PdfPart:
    """A PDF before anything was said of it but of shapes. Raises ScoreError."""
    return open_pdf(data, name, Corrections(signs=tuple(_known_signs(studio).items())))


@dataclass(frozen=True, eq=False)
class Opened:
    """A stored score that is open, the PDF that it was read from, if it was one, and the size of
    its file."""

    score: Score
    source: PdfPart | None
    file_bytes: int


def open_source(studio: Studio, row: ScoreRow) -> Opened:
    """A stored score, freshly opened. Raises ScoreError, NotFound."""
    if not row.pdf:
        data = score_data(studio, row.id)
        return Opened(open_score_data(data, row.file_name), None, len(data))
    source = read_pdf_part(studio, row)
    return Opened(source.score(), source, len(source.data) + len(source.musicxml))


def read_pdf_part(studio: Studio, row: ScoreRow) -> PdfPart:
    """A stored PDF as it is read now. Raises ScoreError, NotFound, BadUsage for another score."""
    if not row.pdf:
        raise BadUsage("parts.not_pdf", file=row.file_name)
    said = corrections_of(studio, row)
    return studio.caches.of(_READ).get(
        (row.digest, said), lambda: open_pdf(score_data(studio, row.id), row.file_name, said)
    )


def reading_key(studio: Studio, row: ScoreRow) -> str:
    """Names what a score reads as: its digest, for a PDF with all that was said of it."""
    if not row.pdf:
        return row.digest
    said = repr(corrections_of(studio, row)).encode()
    return f"{row.digest}-{hashlib.sha256(said).hexdigest()[:16]}"


def page_png(studio: Studio, row: ScoreRow, page: int) -> PagePicture:
    """A page of a stored PDF as a picture. Raises NotFound, ScoreError."""
    pages = {staff.page for staff in read_pdf_part(studio, row).reading.staves}
    if page not in pages:
        raise NotFound("parts.no_page", page=page)
    return studio.caches.of(_PICTURES).get(
        (row.digest, page),
        lambda: page_picture(
            score_data(studio, row.id), row.file_name, page, _PICTURE_PIXELS_A_POINT
        ),
    )


def corrections_of(studio: Studio, row: ScoreRow) -> Corrections:
    """All that was said of a score, and of shapes anywhere."""
    said = said_of(studio, row)
    return Corrections(
        clefs=tuple((_spot(place), text) for (kind, place), text in said.items() if kind == "clef"),
        keys=tuple(
            (_spot(place), int(text)) for (kind, place), text in said.items() if kind == "key"
        ),
        notes=tuple((_spot(place), text) for (kind, place), text in said.items() if kind == "note"),
        signs=tuple(sorted(_known_signs(studio).items())),
        staff=int(said["staff", ""]) if ("staff", "") in said else None,
    )


def said_of(studio: Studio, row: ScoreRow) -> Mapping[Key, str]:
    """All that was said of a score, by kind and place."""
    with studio.store.read() as db:
        return select_corrections(db, row.id)


def _spot(place: str) -> Spot:
    return Spot(*map(int, place.split(".")))


def _known_signs(studio: Studio) -> Mapping[str, str]:
    found: Mapping[str, str] = json.loads(get_setting(studio, _SIGNS, "{}"))
    return found


@dataclass(frozen=True, slots=True)
class Steps:
    """How many corrections are in force, and how many are kept, the undone ones too."""

    done: int
    kept: int


def steps_of(studio: Studio, row: ScoreRow) -> Steps:
    """The corrections of a score that can be taken back or brought back."""
    with studio.store.read() as db:
        return Steps(*number_of_corrections(db, row.id))


def say_clef(studio: Studio, row: ScoreRow, place: str, name: str) -> None:
    """The clef at the beginning of a system, such as ``tenor``; empty: as it is read.

    Raises BadUsage, NotFound, ScoreError.
    """
    _say(studio, row, "clef", place, clef_value(name) if name else None)


def say_key(studio: Studio, row: ScoreRow, place: str, text: str) -> None:
    """The key signature of a system, such as ``-3``; empty: as it is read. Raises as `say_clef`."""
    _say(studio, row, "key", place, str(key_value(text)) if text else None)


def say_note(studio: Studio, row: ScoreRow, place: str, pitch: str) -> None:
    """The written pitch of a note, ``none`` for no note; empty: as it is read.

    Raises BadUsage, PitchError, NotFound, ScoreError.
    """
    _say(studio, row, "note", place, pitch_value(pitch) if pitch else None)


def say_right(studio: Studio, row: ScoreRow, place: str) -> None:
    """All doubtful notes of a system, or (empty) of the part, are right as they are read.

    Raises NotFound, ScoreError.
    """
    source = read_pdf_part(studio, row)
    edits: list[Edit] = []
    for number in sorted(source.doubtful):
        note = source.reading.notes[number]
        pitch, spot = written_pitch(note), place_text(note.spot)
        if pitch is not None and spot.startswith(f"{place}." if place else ""):
            edits.append(("note", spot, None, pitch.name))
    if not edits:
        raise NotFound("parts.no_place_read")
    _edit(studio, row, edits)


def say_sign(studio: Studio, row: ScoreRow, mark: str, kind: str) -> None:
    """What a shape is, here and in all parts. Raises BadUsage, NotFound, ScoreError."""
    _say(studio, row, "sign", mark, check_kind(kind))


def say_staff(studio: Studio, row: ScoreRow, staff: int) -> None:
    """Which staff of each system is read, from 1. Raises BadUsage, NotFound, ScoreError."""
    count = read_pdf_part(studio, row).reading.staves_in_system
    if not 1 <= staff <= count:
        raise BadUsage("pdfmarks.staff", staff=staff)
    _say(studio, row, "staff", "", str(staff))


def undo_correction(studio: Studio, row: ScoreRow) -> None:
    """Take back what was said last; without anything nothing changes. Raises ScoreError."""
    _travel(studio, row, back=True)


def redo_correction(studio: Studio, row: ScoreRow) -> None:
    """Say again what was taken back last. Raises ScoreError."""
    _travel(studio, row, back=False)


def _say(studio: Studio, row: ScoreRow, kind: str, place: str, value: str | None) -> None:
    reading = read_pdf_part(studio, row).reading
    known: Sequence[str] = {
        "clef": lambda: [f"{staff.page}.{staff.system}" for staff in reading.staves],
        "key": lambda: [f"{staff.page}.{staff.system}" for staff in reading.staves],
        "note": lambda: [place_text(note.spot) for note in reading.notes],
        "sign": lambda: [sign.mark for sign in reading.unknown],
        "staff": lambda: [""],
    }[kind]()
    before = _said(studio, row, (kind, place))
    # What was said to be no note isn't in the reading any more, and can be taken back.
    if place not in known and before is None:
        raise NotFound("parts.no_place_read")
    if value != before:
        _edit(studio, row, [(kind, place, before, value)])


def _edit(studio: Studio, row: ScoreRow, edits: Sequence[Edit]) -> None:
    def change() -> None:
        with studio.store.write() as db:
            done = number_of_corrections(db, row.id)[0] + 1
            insert_correction_edit(db, row.id, done, edits)
            for kind, place, _, value in edits:
                _put(studio, row, (kind, place), value)
            update_corrections_done(db, row.id, done)

    _changed(studio, row, change)


def _said(studio: Studio, row: ScoreRow, key: Key) -> str | None:
    if key[0] == "sign":
        return _known_signs(studio).get(key[1])
    return said_of(studio, row).get(key)


def _put(studio: Studio, row: ScoreRow, key: Key, value: str | None) -> None:
    kind, place = key
    with studio.store.write() as db:
        if kind != "sign":
            put_correction(db, row.id, key, value)
            return
        signs = {mark: known for mark, known in _known_signs(studio).items() if mark != place}
        if value is not None:
            signs[place] = value
        set_setting(studio, _SIGNS, json.dumps(signs, sort_keys=True))


def _travel(studio: Studio, row: ScoreRow, *, back: bool) -> None:
    with studio.store.read() as db:
        done = number_of_corrections(db, row.id)[0]
        changes = find_correction_edit(db, row.id, done if back else done + 1)
    if changes is None:
        return
    edits: tuple[Edit, ...] = changes

    def change() -> None:
        with studio.store.write() as db:
            for kind, place, old, new in edits:
                _put(studio, row, (kind, place), old if back else new)
            update_corrections_done(db, row.id, done - 1 if back else done + 1)

    _changed(studio, row, change)


def _changed(studio: Studio, row: ScoreRow, change: Callable[[], None]) -> None:
    """Make a change with which the file can still be read, and let locks stay on their notes."""
    from handslide.studio.parts.movedlocks import keep_locks

    with studio.store.write() as db:
        before = read_pdf_part(studio, row)
        change()
        found = find_score(db, row.id)
        assert found is not None
        # What can't be read any more raises, and nothing was changed.
        keep_locks(studio, row, before, read_pdf_part(studio, found))
