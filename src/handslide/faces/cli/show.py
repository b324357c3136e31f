"""Results as plain text for a terminal."""

import shutil
import textwrap
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from handslide.edges.files.userfolder import user_folder
from handslide.edges.typesetting.part import Section
from handslide.instrument.marks import legend, mark, place_words
from handslide.jobs.mark.mark import MarkedPart
from handslide.jobs.mark.places import NotePlaces
from handslide.jobs.mark.routed import Routed
from handslide.jobs.setup import HornRow, Setup

_LISTED_WIDTH = 96


def _width() -> int:
    return max(60, min(110, shutil.get_terminal_size((100, 24)).columns))


def table(rows: Sequence[Sequence[str]], header: Sequence[str] = (), indent: str = "  ") -> str:
    """Rows as aligned columns; the last column is wrapped to the terminal's width."""
    every = [header, *rows] if any(header) else list(rows)
    if not every:
        return ""
    widths = [max(len(row[k]) for row in every) for k in range(len(every[0]))]
    start = len(indent) + sum(width + 2 for width in widths[:-1])
    lines = []
    for row in every:
        head = indent + "".join(f"{cell:<{width}}  " for cell, width in zip(row[:-1], widths))
        tail = textwrap.wrap(row[-1], max(24, _width() - start)) or [""]
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


def horns_json(rows: Iterable[HornRow]) -> dict[str, Any]:
    """JSON of ``handslide horns``."""
    return {
        "horns": [
            {
                "name": row.name,
                "own": row.own,
                "title": row.horn.title,
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


def horns_text(rows: Sequence[HornRow]) -> str:
    """The list of horns."""
    cells = [
        (
            row.name,
            f"{1000 * row.horn.travel_m:.0f} mm",
            f"{row.horn.position(row.horn.travel_m):.1f}",
            ("your own: " if row.own else "") + row.horn.title,
        )
        for row in rows
    ]
    listed = table(cells, ("name", "slide", "last position", "horn"), indent="")
    return f"{listed}\n\nHorn files of your own can be kept in {user_folder() / 'horns'}"


def places_text(setup: Setup, found: Sequence[NotePlaces]) -> str:
    """All places of notes, as a table."""
    rows: list[tuple[str, ...]] = []
    problems = []
    for note in found:
        name = note.pitch.pretty
        if note.problem is not None:
            problems.append(note.problem)
        for place in note.places:
            lip = f"lip up {place.lip_cents:.0f} cents; " if place.lip_cents > 0.5 else ""
            rows.append(
                (
                    name,
                    mark(setup.horn, place, setup.style),
                    f"{place.position:.2f}",
                    f"{1000 * place.extension_m:.0f} mm",
                    str(place.partial),
                    lip + place_words(place),
                )
            )
            name = ""
    head = ("note", "mark", "position", "slide", "partial", "")
    parts = [setup.horn_line, table(rows, head) if rows else "", *problems]
    return "\n".join(part for part in parts if part)


def line_text(routed: Routed) -> str:
    """The route of a typed line, with reasons and alternatives."""
    setup = routed.setup
    rows = []
    for number in range(len(routed.pitches)):
        note = routed.note(number)
        if note.place is None:
            rows.append((note.pitch.pretty, "–", "", "", "can't be played"))
            continue
        others = "  ".join(f"{a.mark} (+{a.worse_by:.1f})" for a in note.alternatives[:3])
        rows.append(
            (
                note.pitch.pretty,
                note.mark,
                f"{1000 * note.place.extension_m:.0f} mm",
                others,
                note.reason or "",
            )
        )
    parts = [setup.horn_line, table(rows, ("note", "mark", "slide", "else (worse by)", "why"))]
    parts += [obstacle.text for obstacle in routed.cleared.obstacles]
    parts.append(legend_text(setup, routed))
    return "\n".join(parts)


def legend_text(setup: Setup, routed: Routed) -> str:
    """One line that explains the signs used."""
    rows = legend(setup.horn, set(routed.places.values()), setup.style)
    return "  ·  ".join(f"{sign} {meaning}" for sign, meaning in rows)


def section_text(section: Section) -> str:
    """A section of a report as text."""
    parts = [section.heading]
    if section.rows:
        parts.append(table(section.rows, section.header))
    if section.note:
        parts.append(textwrap.fill(section.note, _width(), initial_indent="  ",
                                   subsequent_indent="  "))  # fmt: skip
    return "\n".join(parts)


def marked_text(marked: MarkedPart, files: Sequence[Path]) -> str:
    """The report of a marked part and where its files are."""
    setup = marked.routed.setup
    heading = " · ".join(filter(None, (marked.title, marked.part.name)))
    parts = [
        "\n".join(filter(None, (heading, setup.horn_line, setup.limits_line))),
        *(section_text(section) for section in marked.report),
        legend_text(setup, marked.routed),
        "\n".join(f"written: {file}" for file in files),
    ]
    return "\n\n".join(part for part in parts if part)
