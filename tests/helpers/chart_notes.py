"""Chart notes for tests of the drawn sheets."""

from handslide.ground.notenames import full_name
from handslide.ground.pitch import from_midi
from handslide.instrument.marks import mark
from handslide.instrument.markstyle import MarkStyle
from handslide.instrument.places import Limits, PlaceBook, shortest
from handslide.sheets.content import ChartNote, ChartPlace

HORNS = (
    "tenor", "tenor-f", "tenor-f-long", "tenor-e", "bass-independent", "bass-dependent",
    "alto", "alto-bb", "soprano", "tenor-c-bb", "contrabass-f",
)  # fmt: skip
# What a player of the horn's family reads, as MIDI numbers.
RANGES = {
    "bass-independent": (34, 69), "bass-dependent": (34, 69), "alto": (45, 77), "alto-bb": (41, 77),
    "soprano": (52, 82), "contrabass-f": (26, 62), "tenor-f": (36, 70), "tenor-f-long": (36, 70),
    "tenor-e": (35, 70),
}  # fmt: skip
TAUGHT = Limits(top_partial=12, top_partial_valve=6)


def chart_notes(horn, low=None, high=None, *, limits=TAUGHT, language="english", style=None):
    """The notes of a tuned horn that have places, lowest first; the usual place is the plainest."""
    first, last = RANGES.get(horn.name, (40, 70))
    book = PlaceBook(horn, limits)
    style = style or MarkStyle()
    notes = []
    for midi in range(first if low is None else low, (last if high is None else high) + 1):
        places = book.places(midi)
        if not places:
            continue
        short = shortest(places)
        plain = min(
            places, key=lambda p: (p.alternate, p.lip_cents > 5, len(p.valves), p.extension_m)
        )
        ordered = (plain, *(place for place in places if place != plain))
        rows = tuple(
            ChartPlace(place, mark(horn, place, style), place == plain, place == short)
            for place in ordered
        )
        pitch = from_midi(midi)
        notes.append(ChartNote(pitch, full_name(pitch, language), rows))
    return tuple(notes)
