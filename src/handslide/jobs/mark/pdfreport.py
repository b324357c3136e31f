"""What was read from a PDF, and how surely: page by page, doubt by doubt."""

from collections.abc import Sequence
from typing import Any

from handslide.edges.pdfparts.reading import ReadNote, Spot, UnknownSign
from handslide.edges.typesetting.part import Section
from handslide.ground.facts import fact
from handslide.jobs.mark.pdfcorrections import place_text, written_pitch
from handslide.jobs.mark.pdfpart import PdfPart
from handslide.words import pdfmarks as words
from handslide.words import report
from handslide.words.speech import Speech

MOST_ROWS = 60
_FEW = 4  # notes of a bar that are named


def read_sections(say: Speech, source: PdfPart, *, unknown: bool = True) -> tuple[Section, ...]:
    """What stands before the report of a part that was read from a PDF.

    ``unknown``: with the signs that nobody knows.
    """
    sections = (
        _pages(say, source),
        _doubts(say, source),
        _unknown(say, source.reading.unknown if unknown else ()),
        _to_check(say, source),
    )
    return tuple(section for section in sections if section is not None)


def pages_read(source: PdfPart) -> list[dict[str, Any]]:
    """Of each page with music: its clefs and keys in the order in which they come, how many
    systems, notes and doubtful notes it has, and the lowest and highest of them as written."""
    reading, rows = source.reading, []
    for page in sorted({staff.page for staff in reading.staves}):
        staves = [staff for staff in reading.staves if staff.page == page]
        changes = [change for change in reading.changes if change.spot.page == page]
        numbers = [n for n, note in enumerate(reading.notes) if note.spot.page == page]
        pitches = [pitch for n in numbers if (pitch := written_pitch(reading.notes[n])) is not None]
        clefs = [staff.clef for staff in staves]
        clefs += [change.value for change in changes if change.kind == "clef"]
        keys = [staff.key for staff in staves]
        keys += [int(change.value) for change in changes if change.kind == "key"]
        rows.append(
            {
                "page": page,
                "systems": len({staff.system for staff in staves}),
                "clefs": list(dict.fromkeys(clefs)),
                "keys": list(dict.fromkeys(keys)),
                "notes": len(pitches),
                "lowest": min(pitches, key=lambda pitch: pitch.midi, default=None),
                "highest": max(pitches, key=lambda pitch: pitch.midi, default=None),
                "doubtful": sum(number in source.doubtful for number in numbers),
            }
        )
    return rows


def key_text(say: Speech, key: int) -> str:
    """A key signature in short: ``3♭``."""
    if not key:
        return say(words.PLAIN)
    return say(words.SHARPS if key > 0 else words.FLATS, count=abs(key))


def clef_text(say: Speech, clef: str) -> str:
    """A clef by its name."""
    return say.named("read_clef", clef, clef)


def spot_text(say: Speech, spot: Spot) -> str:
    """A place in words."""
    if not spot.bar:
        return say(words.SYSTEM_PLACE, page=spot.page, system=spot.system)
    return say(words.PLACE, page=spot.page, system=spot.system, bar=spot.bar)


def note_text(say: Speech, note: ReadNote) -> str:
    """A note's written name, or that it is a rest."""
    pitch = written_pitch(note)
    return say(words.REST) if pitch is None else say.note(pitch)


def _pages(say: Speech, source: PdfPart) -> Section:
    rows = []
    for row in pages_read(source):
        compass = ""
        if row["lowest"] is not None:
            compass = say(words.FROM_TO, lowest=row["lowest"], highest=row["highest"])
        rows.append(
            (
                str(row["page"]),
                str(row["systems"]),
                ", ".join(clef_text(say, clef) for clef in row["clefs"]),
                ", ".join(key_text(say, key) for key in row["keys"]),
                compass,
                str(row["notes"]),
                str(row["doubtful"]),
            )
        )
    header = (
        words.PAGE, words.SYSTEMS, words.CLEF, words.KEY, words.RANGE, report.NOTES, words.DOUBTFUL,
    )  # fmt: skip
    return Section(say(words.READ), tuple(rows), "", tuple(say(head) for head in header))


def _doubts(say: Speech, source: PdfPart) -> Section | None:
    """Notes of a bar with the same doubts are one row."""
    groups: dict[tuple[Any, ...], list[ReadNote]] = {}
    for number in sorted(source.doubtful):
        note = source.reading.notes[number]
        spot = note.spot
        groups.setdefault((spot.page, spot.system, spot.bar, note.doubts), []).append(note)
    if not groups:
        return None
    rows = []
    for (page, system, bar, doubts), notes in list(groups.items())[:MOST_ROWS]:
        rows.append(
            (
                str(page),
                str(system),
                str(bar),
                _few([str(note.spot.item) for note in notes]),
                _few([note_text(say, note) for note in notes]),
                "; ".join(say.fact(told) for told in doubts),
            )
        )
    more = len(groups) - MOST_ROWS
    told = [say(words.MORE_ROWS, count=more)] if more > 0 else []
    told.append(say.fact(fact("pdfmarks.doubts", count=len(source.doubtful))) + ".")
    if say == say.on_paper:
        told.append(say(words.DOUBTS_SHOWN))
    header = words.PAGE, words.SYSTEM, words.BAR, words.ITEM, report.NOTES, words.WHY
    return Section(say(words.DOUBTS), tuple(rows), " ".join(told), tuple(map(say, header)))


def _few(texts: Sequence[str]) -> str:
    """The first of a list, in a narrow column."""
    return ", ".join(texts[:_FEW]) + (" …" if len(texts) > _FEW else "")


def _unknown(say: Speech, signs: Sequence[UnknownSign]) -> Section | None:
    if not signs:
        return None
    rows = tuple(
        (
            sign.name,
            str(sign.count),
            spot_text(say, sign.spot),
            say(words.SPACES, width=sign.width_spaces, height=sign.height_spaces),
            say.named("sign", sign.guess, ""),
        )
        for sign in signs
    )
    header = words.SIGN, words.TIMES, words.FIRST, words.SIZE, words.GUESS
    note = say.fact(fact("pdfmarks.unknown", count=len(signs))) + "."
    return Section(say(words.UNKNOWN), rows, note, tuple(map(say, header)))


def _to_check(say: Speech, source: PdfPart) -> Section | None:
    # What is said of a bar's notes isn't said of the bar again.
    doubted = {
        (note.spot.page, note.spot.system, note.spot.bar, told)
        for note in source.reading.notes
        for told in note.doubts
    }
    found = [
        (spot, told)
        for spot, told in source.reading.warnings
        if (spot.page, spot.system, spot.bar, told) not in doubted
    ]
    if not found:
        return None
    rows = tuple(
        (str(spot.page), str(spot.system), str(spot.bar or ""), say.fact(told))
        for spot, told in found[:MOST_ROWS]
    )
    more = len(found) - MOST_ROWS
    note = say(words.MORE_ROWS, count=more) if more > 0 else ""
    header = words.PAGE, words.SYSTEM, words.BAR
    return Section(say(words.TO_CHECK), rows, note, (*map(say, header), ""))


def read_json(say: Speech, source: PdfPart) -> dict[str, Any]:
    """The JSON object of what was read."""
    reading = source.reading
    pages = pages_read(source)
    for row in pages:
        for key in ("lowest", "highest"):
            row[key] = None if row[key] is None else row[key].name
    return {
        "pages": pages,
        "doubts": [_doubt_json(say, reading.notes[number]) for number in sorted(source.doubtful)],
        "unknown": [
            {
                "name": sign.name,
                "mark": sign.mark,
                "count": sign.count,
                **_spot_json(sign.spot),
                "width_spaces": round(sign.width_spaces, 3),
                "height_spaces": round(sign.height_spaces, 3),
                "guess": sign.guess or None,
            }
            for sign in reading.unknown
        ],
        "warnings": [
            {**_spot_json(spot), "kind": told.kind.partition(".")[2], "text": say.fact(told)}
            for spot, told in reading.warnings
        ],
        "staves_in_system": reading.staves_in_system,
        "tagged": reading.tagged,
        "pdfa": reading.pdfa or None,
    }


def _doubt_json(say: Speech, note: ReadNote) -> dict[str, Any]:
    pitch = written_pitch(note)
    return {
        **_spot_json(note.spot),
        "place": place_text(note.spot),
        "written": None if pitch is None else pitch.name,
        "kinds": [told.kind.partition(".")[2] for told in note.doubts],
        "text": "; ".join(say.fact(told) for told in note.doubts),
    }


def _spot_json(spot: Spot) -> dict[str, int | None]:
    return {
        "page": spot.page,
        "system": spot.system,
        "bar": spot.bar or None,
        "item": spot.item or None,
    }
