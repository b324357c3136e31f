"""A list of notes to play for a fit, and which of the notes heard is which of the list.

The list is short: the plain partials on the closed slide, with each valve too, and the same at one
measured mark. A take that follows it may hold wrong, missing and repeated notes: it is aligned with
the list by the least sum of distances (dynamic programming), so that single slips don't shift the
rest.
"""

from collections.abc import Sequence

import numpy as np

from handslide.ground.errors import BadData
from handslide.ground.facts import fact
from handslide.ground.pitch import from_midi
from handslide.ground.units import A4_MIDI, cents
from handslide.instrument.fitting.rows import PlannedNote
from handslide.instrument.horn import Horn
from handslide.instrument.places import TOP_PARTIAL

OPEN_PARTIALS = (2, 3, 4, 5, 6, 8)
VALVE_PARTIALS = (2, 3, 4)
MARK_M = 0.45
# A note left out or a note too many costs this; a match never costs more than twice as much.
SKIP_CENTS = 60.0


def make_plan(horn: Horn, mark_m: float | None = MARK_M) -> tuple[PlannedNote, ...]:
    """The notes that a first fit wants: closed, then at a mark (None: closed only).

    Raises
    ------
    BadData
        When the mark lies beyond the slide.
    """
    if mark_m is not None and not 0.0 < mark_m <= horn.travel_m:
        raise BadData(
            "fitting.mark_outside", mark_mm=1000.0 * mark_m, travel_mm=1000.0 * horn.travel_m
        )
    planned = []
    for extension_m in (0.0,) if mark_m is None else (0.0, mark_m):
        for valves in horn.valve_sets:
            for partial in VALVE_PARTIALS if valves else OPEN_PARTIALS:
                hz = horn.frequency_hz(partial, extension_m, valves)
                meant = from_midi(round(A4_MIDI + cents(hz / horn.a4_hz) / 100.0))
                planned.append(PlannedNote(extension_m, valves, partial, meant))
    return tuple(planned)


def expected_hz(horn: Horn, note: PlannedNote) -> float:
    """What a planned note sounds like on ``horn``.

    Raises
    ------
    BadData
        When it names neither note nor partial, or valves or an extension that don't exist.
    """
    row = note.label or fact("fitting.a_planned_note")
    if note.valves not in horn.valve_sets:
        has = tuple(valve.name for valve in horn.valves)
        raise BadData("fitting.cant_engage", row=row, horn=horn.called, has=has)
    if not 0.0 <= note.extension_m <= horn.travel_m:
        travel_mm = 1000.0 * horn.travel_m
        raise BadData("fitting.beyond_slide", row=row, horn=horn.called, travel_mm=travel_mm)
    if note.partial is not None:
        if not 1 <= note.partial <= TOP_PARTIAL:
            raise BadData("fitting.partial_range", row=row, partial=note.partial, most=TOP_PARTIAL)
        return horn.frequency_hz(note.partial, note.extension_m, note.valves)
    if note.meant is None:
        raise BadData("fitting.neither_note_nor_partial", row=row)
    wanted = note.meant.hz(horn.a4_hz)
    all_hz = [
        horn.frequency_hz(partial, note.extension_m, note.valves)
        for partial in range(1, TOP_PARTIAL + 1)
    ]
    return min(all_hz, key=lambda hz: abs(cents(hz / wanted)))


def match_plan(
    horn: Horn, planned: Sequence[PlannedNote], heard_hz: Sequence[float]
) -> tuple[tuple[int, int], ...]:
    """Pairs (index in the list, index in the take), both rising.

    Notes of the take or of the list that fit nowhere are in no pair. A note within a tone of what
    the list wants counts as it; whether it is right is for the fit to say.
    """
    want = np.array([cents(expected_hz(horn, note)) for note in planned])
    got = np.array([cents(hz) for hz in heard_hz])
    cost = np.zeros((len(want) + 1, len(got) + 1))
    cost[:, 0] = SKIP_CENTS * np.arange(len(want) + 1)
    cost[0, :] = SKIP_CENTS * np.arange(len(got) + 1)
    apart = np.abs(want[:, None] - got[None, :])
    for i in range(len(want)):
        for j in range(len(got)):
            skip = min(cost[i, j + 1], cost[i + 1, j]) + SKIP_CENTS
            cost[i + 1, j + 1] = min(cost[i, j] + apart[i, j], skip)
    pairs = []
    i, j = len(want), len(got)
    while i and j:
        if cost[i, j] == cost[i - 1, j - 1] + apart[i - 1, j - 1]:
            i, j = i - 1, j - 1
            pairs.append((i, j))
        elif cost[i, j] == cost[i - 1, j] + SKIP_CENTS:
            i -= 1
        else:
            j -= 1
    return tuple(reversed(pairs))
