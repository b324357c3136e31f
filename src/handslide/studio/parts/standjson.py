"""A part on a stand for the browser: its route, and what an edit has changed of it."""

import json
from collections.abc import Iterable
from hashlib import sha256
from typing import Any

from handslide.ground.limits import OPEN_SHEETS_BYTES
from handslide.ground.notenames import full_name
from handslide.instrument.marks import UNPLAYABLE
from handslide.jobs.mark.playback import playback
from handslide.jobs.mark.slideview import slide_view
from handslide.studio.cache import CacheKind
from handslide.studio.parts.edits import Edited
from handslide.studio.parts.openpart import OpenPart
from handslide.studio.studio import Studio
from handslide.words.places import place_out
from handslide.words.speech import Speech

NOTE_ID = "hs-n"
_ROUTES: CacheKind[tuple[object, ...], bytes] = CacheKind(12, len, OPEN_SHEETS_BYTES)
_PLACELESS: dict[str, Any] = {
    "valves": [],
    "partial": None,
    "position": None,
    "extension_mm": None,
    "words": None,
}


def route_text(studio: Studio, say: Speech, part: OpenPart) -> bytes:
    """:func:`route_json` as it is sent, kept in memory until anything of it changes."""
    student, stand = part.student, part.stand
    key = (
        part.key, _seal(part), stand.id, stand.tempo_qpm, part.collects, part.can_undo,
        part.can_redo, student, part.horn.title, say.language.code,
    )  # fmt: skip
    return studio.caches.of(_ROUTES).get(key, lambda: _written(route_json(say, part)))


def _written(values: dict[str, Any]) -> bytes:
    return json.dumps(values, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()


def route_json(say: Speech, part: OpenPart) -> dict[str, Any]:
    """Everything that the page of a part works with.

    ``notes`` are the written notes by their index, ``el`` the element of the engraving; ``played``
    and ``beats`` are those of `handslide.jobs.mark.playback`.
    """
    return {
        **_state(say, part),
        "horn": slide_view(part.routed.setup),
        "a4_hz": part.routed.setup.horn.a4_hz,
        "tempo_qpm": part.stand.tempo_qpm,
        "notes": note_rows(say, part),
        **playback(part.routed, part.marked.part),
    }


def changes_json(say: Speech, edited: Edited) -> dict[str, Any]:
    """What an edit has changed: the ``changed`` notes and the state after it.

    ``was`` is the seal before: a page that shows another one has missed an edit. ``about`` are the
    notes that the edit was made on.
    """
    changed = _changed(edited.before, edited.after)
    return {
        **_state(say, edited.after),
        "was": _seal(edited.before),
        "about": list(edited.about),
        "changed": note_rows(say, edited.after, changed),
    }


def _changed(before: OpenPart, after: OpenPart) -> list[int]:
    """The written notes whose row differs; a place's mark and whether it is usual go with it."""
    was, now = before.routed.places, after.routed.places
    moved = {number for number, place in now.items() if was.get(number) != place}
    moved |= was.keys() - now.keys()
    return sorted(
        moved
        | (_locked(before) ^ _locked(after))
        | (before.marked.new_marks ^ after.marked.new_marks)
    )


def _locked(part: OpenPart) -> set[int]:
    return part.locks.keys() | set(part.lost)


def _state(say: Speech, part: OpenPart) -> dict[str, Any]:
    return {
        "stand": part.stand.id,
        "seal": _seal(part),
        "can_undo": part.can_undo,
        "can_redo": part.can_redo,
        "locks": len(part.locks) + len(part.lost),
        "seen_to": part.seen_to,
        "exact": part.routed.exact,
        "warnings": [
            {
                "measure": row.measure_name(part.marked.measures),
                "i": row.number,
                "kind": row.kind,
                "text": row.beside_measure(say),
            }
            for row in part.found
        ],
    }


def _seal(part: OpenPart) -> str:
    # The same for the same reading with the same locks, and only then.
    locks = sorted((n, place.valves, place.partial) for n, place in part.locks.items())
    sealed = repr((part.key, locks, part.lost, part.stand.edits_done, part.edits, part.seen_to))
    return sha256(sealed.encode()).hexdigest()[:16]


def note_rows(
    say: Speech, part: OpenPart, numbers: Iterable[int] | None = None
) -> list[dict[str, Any]]:
    """The written notes ``numbers`` (None: all) with their places."""
    said: dict[int, str] = {}
    routed, names = part.routed, say.names
    locked, new = _locked(part), part.marked.new_marks
    notes, measures = part.marked.part.notes, part.marked.measures
    rows = []
    for number in range(len(notes)) if numbers is None else numbers:
        note, place = notes[number], routed.places.get(number)
        row: dict[str, Any] = {
            "i": number,
            "el": f"{NOTE_ID}{note.ordinal}",
            "measure": measures.name(note.measure_index),
            "mi": note.measure_index,
            "name": full_name(note.sounding, names),
            "midi": note.sounding.midi,
            "mark": routed.marks.get(number, UNPLAYABLE),
            **_PLACELESS,
            "unusual": routed.is_unusual(number),
            "new": number in new,
            "locked": number in locked,
            "playable": place is not None,
        }
        if place is not None:
            # Notes of one pitch share their Place objects, and each is told once.
            if id(place) not in said:
                said[id(place)] = place_out(
                    say, routed.setup.told(place).position, place.valves, 1000.0 * place.extension_m
                )
            row |= {
                "valves": list(place.valves),
                "partial": place.partial,
                "position": round(place.position, 4),
                "extension_mm": round(1000.0 * place.extension_m, 2),
                "words": said[id(place)],
            }
        rows.append(row)
    return rows
