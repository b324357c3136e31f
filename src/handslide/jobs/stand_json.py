"""A part on a stand for the browser: its route, and what an edit has changed of it."""

from typing import Any

from handslide.ground.notenames import full_name
from handslide.jobs.openpart import OpenPart
from handslide.jobs.playback import playback
from handslide.jobs.slideview import slide_view
from handslide.jobs.stand_edits import Edited

NOTE_ID = "hs-n"


def route_json(part: OpenPart) -> dict[str, Any]:
    """Everything that the page of a part works with.

    ``notes`` are the written notes by their index, ``el`` the element of the engraving; ``played``
    and ``beats`` are those of `handslide.jobs.playback`.
    """
    return {
        **_state(part),
        "horn": slide_view(part.routed.setup) | {"title": part.horn.title},
        "a4_hz": part.routed.setup.horn.a4_hz,
        "tempo_qpm": part.stand.tempo_qpm,
        "notes": note_rows(part),
        **playback(part.routed, part.marked.part),
    }


def changes_json(edited: Edited) -> dict[str, Any]:
    """What an edit has changed: the ``changed`` notes and the state after it."""
    before, after = note_rows(edited.before), note_rows(edited.after)
    changed = [row for was, row in zip(before, after) if row != was]
    return {**_state(edited.after), "changed": changed}


def _state(part: OpenPart) -> dict[str, Any]:
    return {
        "stand": part.stand.id,
        "can_undo": part.can_undo,
        "can_redo": part.can_redo,
        "locks": len(part.locks) + len(part.lost),
        "exact": part.routed.exact,
        "warnings": [
            {"measure": row.measure, "i": row.number, "kind": row.kind, "text": row.text}
            for row in part.found
        ],
    }


def note_rows(part: OpenPart) -> list[dict[str, Any]]:
    """The written notes with their places."""
    routed, names = part.routed, part.student.names
    locked = part.locks.keys() | set(part.lost)
    new = part.marked.new_marks
    rows = []
    for note, ordinal in zip(part.marked.part.notes, part.marked.ordinals):
        place = routed.places.get(note.index)
        row = {
            "i": note.index,
            "el": f"{NOTE_ID}{ordinal}",
            "measure": note.measure,
            "mi": note.measure_index,
            "name": full_name(note.sounding, names),
            "midi": note.sounding.midi,
            "mark": routed.marks.get(note.index, ""),
            "valves": [] if place is None else list(place.valves),
            "partial": None if place is None else place.partial,
            "position": None if place is None else round(place.position, 4),
            "extension_mm": None if place is None else round(1000.0 * place.extension_m, 2),
            "unusual": routed.is_unusual(note.index),
            "new": note.index in new,
            "locked": note.index in locked,
            "playable": place is not None,
        }
        rows.append(row)
    return rows
