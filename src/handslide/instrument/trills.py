"""Trills on a slide-brass horn: with the lip, with a valve, with the slide, or not at all.

Of two adjacent partials on one spot of the slide the lip alone changes between: the true trill. A
valve does the same where both notes lie on one spot. Else the slide itself must go to and fro,
which an arm can do only over a short way.
"""

from dataclasses import dataclass

from handslide.ground.units import cents, midi_to_hz
from handslide.instrument.effort import PEAK_SPEED
from handslide.instrument.horn import Horn
from handslide.instrument.places import Place, PlaceBook

# How far the upper note may be off in tune on the lower one's spot: the lip makes up for it. The
# whole-tone trill of the 9th and 10th partials, 22 cents narrow, is usual (common practice).
LIP_CENTS = 25.0
# A quick arm, and the notes in a second from which on an alternation is heard as a trill.
ARM_M_S = 2.0
TRILL_NOTES_S = 7.0
# No trill is quicker.
QUICKEST_NOTES_S = 10.0


@dataclass(frozen=True, slots=True)
class TrillWay:
    """How a trill goes from ``place``: ``kind`` is ``lip``, ``valve``, ``slide`` or ``impossible``.

    ``upper`` is the upper note's place (None where it has none), ``way_m`` how far the slide goes
    for it, ``notes_s`` the most notes in a second with the slide; ``elsewhere`` is another place of
    the lower note from which the lip or the valve alone would do.
    """

    kind: str
    place: Place
    upper: Place | None
    way_m: float = 0.0
    notes_s: float | None = None
    elsewhere: Place | None = None


def trill_way(book: PlaceBook, midi: int, place: Place, upper_midi: int) -> TrillWay:
    """The best way to trill from a place of a note to an upper note."""
    horn, hz = book.horn, midi_to_hz(upper_midi, book.horn.a4_hz)
    uppers = book.places(upper_midi)
    still = _still(horn, place, uppers, hz)
    if still is not None:
        return TrillWay(*still)
    others = (_still(horn, other, uppers, hz) for other in book.places(midi) if other != place)
    elsewhere = next((found[1] for found in others if found is not None), None)
    reached = [upper for upper in uppers if upper.valves == place.valves]
    if not reached:
        return TrillWay("impossible", place, None, elsewhere=elsewhere)
    upper = min(reached, key=lambda other: abs(other.extension_m - place.extension_m))
    way = abs(upper.extension_m - place.extension_m)
    notes_s = ARM_M_S / (PEAK_SPEED * max(way, 1e-3))
    kind = "slide" if notes_s >= TRILL_NOTES_S else "impossible"
    return TrillWay(kind, place, upper, way, notes_s, elsewhere)


def _still(
    horn: Horn, place: Place, uppers: tuple[Place, ...], hz: float
) -> tuple[str, Place, Place] | None:
    """A trill that leaves the slide where it is: by the lip, else by a valve."""
    for kind, same in (("lip", True), ("valve", False)):
        for upper in uppers:
            step = upper.partial - place.partial
            if (upper.valves == place.valves) != same or not (
                step == 1 if same else 0 <= step <= 1
            ):
                continue
            there = horn.frequency_hz(upper.partial, place.extension_m, upper.valves)
            if abs(cents(hz / there)) <= LIP_CENTS:
                return kind, place, upper
    return None
