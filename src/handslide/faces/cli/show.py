"""Results as plain text for a terminal."""

import shutil
import textwrap
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from handslide.edges.files.userfolder import user_folder
from handslide.instrument.marks import UNPLAYABLE, mark
from handslide.words import listing as words
from handslide.words.horns import horn_line, horn_title, limits_line
from handslide.words.marks import legend
from handslide.words.reasons import reason_words
from handslide.words.speech import Speech

if TYPE_CHECKING:
    from handslide.edges.typesetting.part import Section
    from handslide.jobs.mark.mark import MarkedPart
    from handslide.jobs.mark.places import NotePlaces
    from handslide.jobs.mark.routed import Routed
    from handslide.jobs.setup import HornRow, Setup

_LISTED_WIDTH = 96
_LEAST_WIDTH = 30


def _width() -> int:
    return max(60, min(110, shutil.get_terminal_size((100, 24)).columns))


def table(rows: Sequence[Sequence[str]], header: Sequence[str] = (), indent: str = "  ") -> str:
    """Rows as aligned columns; the last column is wrapped to the terminal's width.

    Where the others leave it little room, a row's last cell stands under the row.
    """
    every = [header, *rows] if any(header) else list(rows)
    if not every:
        return ""
    widths = [max(len(row[k]) for row in every) for k in range(len(every[0]))]
    start = len(indent) + sum(width + 2 for width in widths[:-1])
    below = _width() - start < min(_LEAST_WIDTH, widths[-1])
    start = 2 * len(indent) if below else start
    lines = []
    for row in every:
        head = indent + "".join(f"{cell:<{width}}  " for cell, width in zip(row[:-1], widths))
        tail = textwrap.wrap(row[-1], _width() - start) or [""]
        if below:
            tail = ["", *filter(None, tail)]
        lines.append((head + tail[0]).rstrip())
        lines.extend(" " * start + more for more in tail[1:])
    return "\n".join(lines)


def listed(heading: str, lines: Sequence[str], nothing: str) -> str:
    """A heading with wrapped lines below it, or ``nothing``."""
    rows = [
        textwrap.fill(line, _LISTED_WIDTH, initial_indent="  ", subsequent_indent="    ")
        for line in lines or [nothing]
    ]
    return "\n".join([heading, *rows])


def horns_json(say: Speech, rows: Iterable["HornRow"]) -> dict[str, Any]:
    """JSON of ``handslide horns``."""
    return {
        "horns": [
            {
                "name": row.name,
                "own": row.own,
                "title": horn_title(say, row.horn),
                "a4_hz": row.horn.a4_hz,
                "temp_c": row.horn.air.temp_c,
                "length_mm": round(1000 * row.horn.length_m, 2),
                "travel_mm": round(1000 * row.horn.travel_m, 2),
                "last_position": round(row.horn.position(row.horn.travel_m), 3),
                "valves": [
                    {"name": v.name, "loop_mm": round(1000 * v.loop_m, 2), "needs": v.needs}
                    for v in row.horn.valves
                ],
            }
            for row in rows
        ]
    }


def horns_text(say: Speech, rows: Sequence["HornRow"]) -> str:
    """The list of horns."""
    cells = []
    for row in rows:
        title = horn_title(say, row.horn)
        cells.append(
            (
                row.name,
                say(words.MILLIMETRES, mm=1000 * row.horn.travel_m),
                say.number(row.horn.position(row.horn.travel_m), 1),
                say(words.OWN_HORN, horn=title) if row.own else title,
            )
        )
    heads = words.NAME, words.SLIDE, words.LAST_POSITION, words.HORN
    listed = table(cells, [say(head) for head in heads], indent="")
    return f"{listed}\n\n{say(words.OWN_HORNS, folder=user_folder() / 'horns')}"


def places_text(say: Speech, setup: "Setup", found: Sequence["NotePlaces"]) -> str:
    """All places of notes, as a table."""
    rows: list[tuple[str, ...]] = []
    problems = []
    for note in found:
        name = say.note(note.pitch)
        if note.problem is not None:
            problems.append(say.fact(note.problem))
        for place in note.places:
            told = say.place(setup.told(place))
            if place.lip_cents > 0.5:
                told = say(words.LIPPED, count=round(place.lip_cents), place=told)
            rows.append(
                (
                    name,
                    mark(setup.horn, place, setup.style),
                    say.number(place.position, 2),
                    say(words.MILLIMETRES, mm=1000 * place.extension_m),
                    str(place.partial),
                    told,
                )
            )
            name = ""
    heads = words.NOTE, words.MARK, words.POSITION, words.SLIDE, words.PARTIAL
    head = [*(say(one) for one in heads), ""]
    parts = [horn_line(say, setup.horn), table(rows, head) if rows else "", *problems]
    return "\n".join(part for part in parts if part)


def line_text(say: Speech, routed: "Routed") -> str:
    """The route of a typed line, with reasons and alternatives."""
    setup = routed.setup
    rows = []
    for number in range(len(routed.pitches)):
        note = routed.note(number)
        if note.place is None:
            rows.append((say.note(note.pitch), UNPLAYABLE, "", "", say(words.UNPLAYABLE)))
            continue
        others = "  ".join(
            f"{other.mark} (+{say.number(other.worse_by, 1)})" for other in note.alternatives[:3]
        )
        rows.append(
            (
                say.note(note.pitch),
                note.mark,
                say(words.MILLIMETRES, mm=1000 * note.place.extension_m),
                others,
                "" if note.reason is None else reason_words(say, note.reason),
            )
        )
    heads = words.NOTE, words.MARK, words.SLIDE, words.ELSE, words.WHY
    parts = [horn_line(say, setup.horn), table(rows, [say(head) for head in heads])]
    parts += [say.fact(obstacle.why) for obstacle in routed.cleared.obstacles]
    parts.append(legend_text(say, routed))
    return "\n".join(parts)


def legend_text(say: Speech, routed: "Routed") -> str:
    """One line that explains the signs used."""
    setup = routed.setup
    unplayable = len(routed.places) < len(routed.pitches)
    places = set(routed.places.values())
    rows = legend(say, setup.horn, places, setup.style, unplayable=unplayable)
    return "  ·  ".join(f"{sign} {meaning}" for sign, meaning in rows)


def section_text(section: "Section") -> str:
    """A section of a report as text."""
    parts = [section.heading]
    if section.rows:
        parts.append(table(section.rows, section.header))
    if section.note:
        parts.append(textwrap.fill(section.note, _width(), initial_indent="  ",
                                   subsequent_indent="  "))  # fmt: skip
    return "\n".join(parts)


def marked_text(say: Speech, marked: "MarkedPart", files: Sequence[Path]) -> str:
    """The report of a marked part and where its files are."""
    parts = [
        _head(say, marked),
        *(section_text(section) for section in marked.report(say)),
        legend_text(say, marked.routed),
        "\n".join(say(words.WRITTEN, file=file) for file in files),
    ]
    return "\n\n".join(part for part in parts if part)


def checked_text(say: Speech, marked: "MarkedPart") -> str:
    """What was found of a part's own fingerings."""
    assert marked.checked is not None
    from handslide.jobs.mark.existing import checked_section

    section = checked_section(say, marked.part, marked.routed, marked.checked)
    return f"{_head(say, marked)}\n\n{section_text(section)}"


def _head(say: Speech, marked: "MarkedPart") -> str:
    setup = marked.routed.setup
    heading = " · ".join(filter(None, (marked.title, marked.part.name)))
    limits = limits_line(say, setup.horn, setup.book.limits)
    return "\n".join(filter(None, (heading, horn_line(say, setup.horn), limits)))
