"""The best route of a typed line."""

from collections.abc import Sequence
from typing import Any

from handslide.ground.errors import BadUsage
from handslide.instrument.line import parse_line
from handslide.jobs.mark.locks import find_locked, parse_lock
from handslide.jobs.mark.routed import Routed, note_json, route, setup_json
from handslide.jobs.setup import Setup
from handslide.words.speech import Speech


def route_typed(
    setup: Setup, text: str, *, tempo_qpm: float = 80.0, locks: Sequence[str] = ()
) -> Routed:
    """Route a typed line; ``locks`` are ``INDEX=PLACE``.

    Raises
    ------
    LineError
        When the line can't be read.
    BadUsage
        When a lock names no note or no place of it.
    """
    typed = parse_line(text, tempo_qpm)
    fixed = {}
    for word in locks:
        lock = parse_lock(word, with_measure=False)
        if lock.index > len(typed.pitches):
            raise BadUsage("marks.lock_no_note_of_line", lock=str(lock), count=len(typed.pitches))
        fixed[lock.index - 1] = find_locked(setup, lock, typed.pitches[lock.index - 1])
    return route(setup, typed.line, typed.pitches, locks=fixed)


def line_json(say: Speech, routed: Routed) -> dict[str, Any]:
    """JSON of ``handslide line``; the whole line counts as measure 1."""
    notes = [
        note_json(say, routed, number) | {"measure": 1} for number in range(len(routed.pitches))
    ]
    warnings = [
        {
            "measure": 1,
            "note": routed.pitches[obstacle.note].name,
            "kind": obstacle.kind,
            "text": say.fact(obstacle.why),
        }
        for obstacle in routed.cleared.obstacles
    ]
    return {**setup_json(say, routed.setup), "notes": notes, "warnings": warnings}
