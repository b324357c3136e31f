"""A part as a block of a hand-out: its music in four widths, its places, its performance."""

import json
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor, as_completed
from typing import Any, TypeAlias

from handslide.edges.engraving.engrave import Notated, engrave_column, notes_in
from handslide.edges.engraving.screen import WIDTHS_MM, for_screen, screen_paper
from handslide.edges.engraving.strip import engrave_strip
from handslide.edges.htmlfile.drawing import Drawn, systems_of
from handslide.edges.htmlfile.page import HtmlBlock
from handslide.edges.musicxml.cut import cut_measures
from handslide.ground.notenames import full_name
from handslide.ground.progress import ProgressCallback, silent
from handslide.instrument.marks import UNPLAYABLE
from handslide.instrument.places import Place
from handslide.jobs.handout.block import HandoutBlock, place_json
from handslide.jobs.handout.played import Performance, others_json, perform, performance_json
from handslide.jobs.mark.mark import MarkedPart
from handslide.jobs.practice.soundwishes import PlayWishes
from handslide.words.marks import legend
from handslide.words.speech import Speech

Below: TypeAlias = tuple[str, Mapping[int, str]]

_SHOWN = "wide"
_LINE = "line"
_OWN = "own-"  # before the width of an engraving without the part below
_MARK_PT = 10.0
_AT_ONCE = 2  # as many as the engraver works at


def part_block(
    marked: MarkedPart,
    wishes: PlayWishes,
    say: Speech,
    *,
    name: str = "part",
    heading: str | None = None,
    speed: float = 1.0,
    progress: ProgressCallback = silent,
    below: Below | None = None,
) -> HandoutBlock:
    """The block of a marked part, or of the measures that are wished for.

    Its notes are numbered from 0 within the block. ``below`` is another part of the score with the
    marks of its notes, as `engrave_part` takes it: it stands below where the whole part is wished
    for, and the part by itself is there, too. Raises ScoreError, BadUsage.
    """
    part = marked.part
    played = perform(marked.score, part, marked.routed, wishes, speed)
    first, last = played.measures
    inside = [note.index for note in part.notes if first <= note.measure_index <= last]
    whole = wishes.measures is None
    music: Notated = marked.score
    before = 0
    if not whole:
        cut = cut_measures(marked.score, part.part_id, first, last, marked.title)
        music, before = cut, cut.first_note
    engraved = _engravings(marked, music, inside, before, below if whole else None, progress)
    glyphs = {key: glyph for drawn in engraved.values() for key, glyph in drawn.glyphs.items()}
    packed = {width: "".join(drawn.systems) for width, drawn in engraved.items() if width != _SHOWN}
    if played.others:
        packed["others"] = json.dumps(others_json(played), separators=(",", ":"))
    block = HtmlBlock(
        kind="part",
        name=name,
        heading=heading,
        drawings=engraved[_SHOWN].systems,
        data=_data(marked, played, inside, before, say)
        | ({"paired": True} if f"{_OWN}{_SHOWN}" in engraved else {}),
        packed=packed,
        notes=_legend(marked, inside, say),
    )
    told = (*(row.told for row in marked.found if row.number in inside or whole), *played.told)
    setup = marked.routed.setup
    return HandoutBlock(block, setup, glyphs, len(inside), played.length_s, told, played.measures)


def _engravings(
    marked: MarkedPart,
    music: Notated,
    inside: list[int],
    before: int,
    below: Below | None,
    progress: ProgressCallback,
) -> dict[str, Drawn]:
    """The music in each width, two of them engraved at a time; the longest is begun first."""
    widths: dict[str, float | None] = {_LINE: None, **WIDTHS_MM}
    with ThreadPoolExecutor(_AT_ONCE) as pool:
        found = {
            width: pool.submit(_engraved, marked, music, inside, before, mm, below)
            for width, mm in widths.items()
        }
        if below is not None:
            found |= {
                _OWN + width: pool.submit(_engraved, marked, music, inside, before, mm)
                for width, mm in widths.items()
            }
        progress("engraving", 0, len(found))
        for done, _ in enumerate(as_completed(found.values()), 1):
            progress("engraving", done, len(found))
    return {width: coming.result() for width, coming in found.items()}


def _engraved(
    marked: MarkedPart,
    music: Notated,
    inside: list[int],
    before: int,
    width_mm: float | None,
    below: Below | None = None,
) -> Drawn:
    part = marked.part
    own = None if below is None else notes_in(music, part.part_id)
    ordinals = part.ordinals
    marks = {
        ordinals[number] - before: marked.printed[number]
        for number in inside
        if number in marked.printed
    }
    hidden = {(ordinal - before, text) for ordinal, text in marked.hidden if ordinal >= before}
    if width_mm is None:  # one long line
        strip = engrave_strip(
            music, part.part_id, marks,
            staff=part.staff, hidden=hidden, mark_pt=_MARK_PT, below=below,
        )  # fmt: skip
        return systems_of([for_screen(strip.svg)], own)
    pieces = engrave_column(
        music, part.part_id, marks, screen_paper(width_mm),
        staff=part.staff, hidden=hidden, below=below,
    )  # fmt: skip
    return systems_of((for_screen(piece.svg) for piece in pieces), own)


def _legend(marked: MarkedPart, inside: list[int], say: Speech) -> tuple[tuple[str, str], ...]:
    routed = marked.routed
    places = {routed.places[number] for number in inside if number in routed.places}
    return legend(
        say,
        routed.setup.horn,
        sorted(places, key=lambda place: (place.position, place.valves)),
        routed.setup.style,
        unplayable=any(number not in routed.places for number in inside),
    )


def _data(
    marked: MarkedPart, played: Performance, inside: list[int], before: int, say: Speech
) -> dict[str, Any]:
    """``notes`` are rows of element, measure, MIDI note, place (-1: none), whether that is unusual;
    ``measures`` and ``names`` are by measure and by MIDI note."""
    routed, notes, measures = marked.routed, marked.part.notes, marked.measures
    numbers = {number: at for at, number in enumerate(inside)}
    places: dict[Place, int] = {}
    rows = []
    for number in inside:
        note, place = notes[number], routed.places.get(number)
        at = -1 if place is None else places.setdefault(place, len(places))
        rows.append(
            (note.ordinal - before, note.measure_index, note.sounding.midi, at,
             int(routed.is_unusual(number)))
        )  # fmt: skip
    performed = performance_json(played)
    performed["played"] = [
        (numbers[row[0]], *row[1:]) for row in performed["played"] if row[0] in numbers
    ]
    return {
        "a4_hz": routed.setup.horn.a4_hz,
        "notes": rows,
        "names": {
            notes[number].sounding.midi: full_name(notes[number].sounding, say.names)
            for number in inside
        },
        "measures": {
            index: measures.name(index) for index in sorted({row[1] for row in rows})
        },
        "places": [_place_json(marked, place, say) for place in places],
        **performed,
    }  # fmt: skip


def _place_json(marked: MarkedPart, place: Place, say: Speech) -> Mapping[str, Any]:
    number = next(at for at, other in marked.routed.places.items() if other == place)
    return place_json(say, marked.routed.setup, place, marked.routed.marks.get(number, UNPLAYABLE))
