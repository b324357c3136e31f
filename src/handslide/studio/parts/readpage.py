"""The page "What was read": what stands where on the pages, and what can be said of it."""

from collections.abc import Sequence
from dataclasses import dataclass

from handslide.edges.pdfparts.reading import PdfReading, ReadNote, ReadStaff, Spot, UnknownSign
from handslide.edges.store.scores import ScoreRow
from handslide.ground.pitch import Pitch, parse_pitch
from handslide.jobs.mark.pdfcorrections import CLEFS, NO_NOTE, place_text, written_pitch
from handslide.jobs.mark.pdfpart import PdfPart
from handslide.jobs.mark.pdfreport import clef_text, key_text, note_text, spot_text
from handslide.studio.parts.reading import page_png, read_pdf_part, said_of
from handslide.studio.studio import Studio
from handslide.words import pdfmarks as words
from handslide.words.speech import Speech

_WIDEST = 9.0  # half of what can be clicked around a head, in points
_SHARPS = "FCGDAEB"
_LETTERS = "CDEFGAB"


@dataclass(frozen=True, slots=True)
class Spotted:
    """Something on a page that can be chosen: its place, name and box from the page's top left, and
    the middle of its head."""

    place: str
    name: str
    x: float
    y: float
    width: float
    height: float
    head_x: float
    head_y: float
    space: float
    doubtful: bool
    corrected: bool


@dataclass(frozen=True, slots=True)
class PageRead:
    """A page in points with what was read from it: systems and notes."""

    number: int
    width: float
    height: float
    systems: tuple[Spotted, ...]
    notes: tuple[Spotted, ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """Something that can be said of a note: a pitch or ``none``, and its words."""

    value: str
    kind: str
    name: str


@dataclass(frozen=True, slots=True)
class Chosen:
    """What was chosen: its words, its doubts, what can be said of it. ``clef`` and ``key`` are what
    a system has; None for a note. ``doubtful``: how many notes of the system are."""

    place: str
    name: str
    where: str
    doubts: tuple[str, ...]
    choices: tuple[Choice, ...]
    clef: str | None
    key: int | None
    said: bool
    doubtful: int


@dataclass(frozen=True, slots=True)
class Shape:
    """An unknown sign to be shown: SVG path and box in staff spaces, y down."""

    sign: UnknownSign
    path: str
    where: str
    size: str


@dataclass(frozen=True, slots=True)
class SaidRow:
    """A correction that is in force."""

    kind: str
    place: str
    where: str
    text: str


def pages_read(say: Speech, studio: Studio, row: ScoreRow) -> tuple[PageRead, ...]:
    """All pages with music. Raises ScoreError, NotFound."""
    source = read_pdf_part(studio, row)
    pages = []
    for number in sorted({staff.page for staff in source.reading.staves}):
        shown = page_png(studio, row, number)
        pages.append(
            PageRead(
                number,
                shown.width,
                shown.height,
                tuple(_systems(say, source.reading, number, shown.height)),
                tuple(_notes(say, source, number, shown.height)),
            )
        )
    return tuple(pages)


def _systems(say: Speech, reading: PdfReading, page: int, height: float) -> list[Spotted]:
    found = []
    for staff in reading.staves:
        if staff.page != page:
            continue
        spot = Spot(staff.page, staff.system)
        name = f"{spot_text(say, spot)}: {clef_text(say, staff.clef)}, {key_text(say, staff.key)}"
        top = height - staff.bottom - 5.5 * staff.space
        x, width = max(0.0, staff.x0 - 2.0), 5.5 * staff.space
        found.append(
            Spotted(
                place_text(spot), name, x, top, width, 7 * staff.space, staff.x0, staff.bottom,
                staff.space, not staff.sure_clef, False,
            )
        )  # fmt: skip
    return found


def _notes(say: Speech, source: PdfPart, page: int, height: float) -> list[Spotted]:
    reading = source.reading
    staves = {(staff.page, staff.system): staff for staff in reading.staves}
    found = []
    for number, note in enumerate(reading.notes):
        if note.spot.page != page or (note.step is None and number not in source.doubtful):
            continue
        staff = staves[note.spot.page, note.spot.system]
        left, right = _sides(reading.notes, number)
        y0 = min(note.y - staff.space, staff.bottom)
        y1 = max(note.y + staff.space, staff.bottom + 4 * staff.space)
        if note.chord:
            y0, y1 = note.y - 0.5 * staff.space, note.y + 0.5 * staff.space
        doubtful = number in source.doubtful
        found.append(
            Spotted(
                place_text(note.spot), _name(say, note, doubtful=doubtful), note.x - left,
                height - y1, left + right, y1 - y0, note.x, height - note.y, staff.space,
                doubtful, note.corrected,
            )
        )  # fmt: skip
    return found


def _name(say: Speech, note: ReadNote, *, doubtful: bool) -> str:
    where = spot_text(say, note.spot)
    name = say(words.NOTE_AT, note=note_text(say, note), place=where, item=note.spot.item)
    if not doubtful:
        return name
    return say(words.DOUBTED, note=name, why="; ".join(say.fact(told) for told in note.doubts))


def _sides(notes: Sequence[ReadNote], number: int) -> tuple[float, float]:
    """How far what belongs to a note reaches to its left and right."""
    note, sides = notes[number], []
    for step in (-1, 1):
        other = number + step
        width = _WIDEST
        while 0 <= other < len(notes):
            if (notes[other].spot.page, notes[other].spot.system) != (
                note.spot.page,
                note.spot.system,
            ):
                break
            away = abs(notes[other].x - note.x)
            if away > 1.0:
                width = min(width, away / 2)
                break
            other += step
        sides.append(width)
    return sides[0], sides[1]


def chosen_at(say: Speech, source: PdfPart, place: str) -> Chosen | None:
    """What is at a place, ``1.2`` or ``1.2.3.4``; None where nothing is."""
    reading = source.reading
    for staff in reading.staves:
        if place_text(Spot(staff.page, staff.system)) == place:
            return _chosen_system(say, source, staff)
    for note in reading.notes:
        if place_text(note.spot) == place:
            return _chosen_note(say, reading, note)
    return None


def _chosen_system(say: Speech, source: PdfPart, staff: ReadStaff) -> Chosen:
    spot = Spot(staff.page, staff.system)
    spots = [source.reading.notes[number].spot for number in source.doubtful]
    doubtful = sum((each.page, each.system) == (spot.page, spot.system) for each in spots)
    name = f"{clef_text(say, staff.clef)}, {key_text(say, staff.key)}"
    return Chosen(
        place_text(spot),
        name,
        spot_text(say, spot),
        (),
        (),
        staff.clef,
        staff.key,
        False,
        doubtful,
    )


def _chosen_note(say: Speech, reading: PdfReading, note: ReadNote) -> Chosen:
    staff = next(
        staff
        for staff in reading.staves
        if (staff.page, staff.system) == (note.spot.page, note.spot.system)
    )
    pitch = written_pitch(note)
    choices = [] if pitch is None else _choices(say, pitch, staff.key)
    if pitch is not None and note.doubts and not note.corrected:
        choices.insert(0, Choice(pitch.name, "right", say.note(pitch)))
    doubts = tuple(say.fact(told) for told in note.doubts)
    where = say(words.ITEM_AT, place=spot_text(say, note.spot), item=note.spot.item)
    return Chosen(
        place_text(note.spot), note_text(say, note), where, doubts, tuple(choices), None, None,
        note.corrected, 0,
    )  # fmt: skip


def _choices(say: Speech, pitch: Pitch, key: int) -> list[Choice]:
    """Other pitches that the same head could have, and that it is no note."""
    wishes = [
        ("step_up", _in_key(pitch, 1, key)),
        ("step_down", _in_key(pitch, -1, key)),
        ("flat", Pitch(pitch.step, -1, pitch.octave)),
        ("natural", Pitch(pitch.step, 0, pitch.octave)),
        ("sharp", Pitch(pitch.step, 1, pitch.octave)),
        ("octave_up", Pitch(pitch.step, pitch.alter, pitch.octave + 1)),
        ("octave_down", Pitch(pitch.step, pitch.alter, pitch.octave - 1)),
    ]
    choices = [Choice(wish.name, kind, say.note(wish)) for kind, wish in wishes if wish != pitch]
    return [*choices, Choice(NO_NOTE, "no_note", "")]


def _in_key(pitch: Pitch, steps: int, key: int) -> Pitch:
    place = 7 * pitch.octave + _LETTERS.index(pitch.step) + steps
    letter = _LETTERS[place % 7]
    altered = _SHARPS[:key] if key > 0 else _SHARPS[::-1][:-key]
    alter = 0 if letter not in altered else 1 if key > 0 else -1
    return Pitch(letter, alter, place // 7)


def shapes(say: Speech, source: PdfPart) -> tuple[Shape, ...]:
    """The signs that nobody knows, to be asked for."""
    found = []
    for sign in source.reading.unknown:
        points = [point for polygon in sign.polygons for point in polygon]
        left = min((x for x, _ in points), default=0.0)
        top = max((y for _, y in points), default=0.0)
        path = " ".join(
            "M" + " L".join(f"{x - left:.3f} {top - y:.3f}" for x, y in polygon) + " Z"
            for polygon in sign.polygons
            if polygon
        )
        size = say(words.SPACES, width=sign.width_spaces, height=sign.height_spaces)
        found.append(Shape(sign, path, spot_text(say, sign.spot), size))
    return tuple(found)


def staff_read(studio: Studio, row: ScoreRow, source: PdfPart) -> int:
    """Which staff of a system is read, from 1: the one that was said, else the one chosen."""
    said = said_of(studio, row).get(("staff", ""))
    if said is not None:
        return int(said)
    told = (told for _, told in source.reading.warnings if told.kind == "pdfparts.chosen_staff")
    return next((int(one["staff"]) for one in told), 1)


def said_rows(say: Speech, studio: Studio, row: ScoreRow) -> tuple[SaidRow, ...]:
    """All corrections of a score that are in force."""
    rows = []
    for (kind, place), value in said_of(studio, row).items():
        spot = Spot(*map(int, place.split("."))) if place else None
        where = "" if spot is None else spot_text(say, spot)
        if spot is not None and spot.item:
            where = say(words.ITEM_AT, place=where, item=spot.item)
        rows.append(SaidRow(kind, place, where, _said_text(say, kind, value)))
    return tuple(rows)


def _said_text(say: Speech, kind: str, value: str) -> str:
    if kind == "clef":
        return clef_text(say, value)
    if kind == "key":
        return key_text(say, int(value))
    if kind == "staff":
        return say(words.STAFF, number=int(value))
    return say.note(parse_pitch(value)) if value else say(words.NO_NOTE)


def clef_name(value: str | None) -> str:
    """What a clef is called in a form: ``tenor`` for ``C4``; empty for others."""
    return next((name for name, clef in CLEFS.items() if clef == value), "")
