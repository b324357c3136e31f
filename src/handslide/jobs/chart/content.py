"""What charts show: the notes of a horn with their places, names and signs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from handslide.ground.clefs import CLEFS, Clef
from handslide.ground.errors import BadUsage
from handslide.ground.notenames import full_name
from handslide.ground.pitch import from_midi, parse_pitch, respelled
from handslide.ground.units import A4_MIDI, cents
from handslide.instrument.effort import spots, standing_points
from handslide.instrument.horn import Horn
from handslide.instrument.marks import mark
from handslide.instrument.places import Place, PlaceBook, find_places, shortest
from handslide.jobs.setup import Setup
from handslide.sheets.content import ChartNote, ChartPlace
from handslide.sheets.frame import Head
from handslide.words.charts import (
    WRITTEN_IN,
    landmarks,
    not_in_sheet,
    not_there,
    sheet_title,
)
from handslide.words.comparison import note_spans
from handslide.words.horns import horn_line, limits_line
from handslide.words.marks import legend
from handslide.words.speech import Speech

_MOST_SEMITONES = 72
# The pitches among which a horn's notes are looked for: A0 to C8.
_PITCHES = 21, 109


@dataclass(frozen=True, slots=True, eq=False)
class ChartRequest:
    """A sheet that is asked for: whose horn, for which reader, on which paper.

    ``low`` and ``high`` are sounding notes as typed; None: what the horn has. ``landscape`` None
    lies a page down where its notes fit into one system. ``against`` is the second horn of a
    comparison. ``pedals``: where ``low`` is None the sheet begins with those of the open horn.
    ``screen_mm``: as of `handslide.sheets.frame.Head`.
    """

    sheet: str
    setup: Setup
    say: Speech
    clef: Clef
    paper: str
    landscape: bool | None = None
    low: str | None = None
    high: str | None = None
    student: str = ""
    against: Setup | None = None
    pedals: bool = True
    screen_mm: tuple[float, float] | None = None


def default_clef(horn: Horn) -> Clef:
    """The clef that a horn of this size is usually read in (common practice)."""
    if horn.length_m < 1.8:
        return CLEFS["treble"]
    return CLEFS["alto"] if horn.length_m < 2.4 else CLEFS["bass"]


def default_range(book: PlaceBook) -> tuple[int, int]:
    """From the lowest note of the second partial to the eighth partial of the closed slide."""
    horn = book.horn
    closed = round(_midi_of(horn.frequency_hz(8, 0.0), horn.a4_hz))
    low = closed - 24
    while any(place.partial >= 2 for place in book.places(low - 1)):
        low -= 1
    return low, closed


def chart_range(book: PlaceBook, *, pedals: bool = True) -> tuple[int, int]:
    """The default range, with the pedal notes of the open horn below it if they are wanted."""
    low, high = default_range(book)
    closed = high - 36
    found = (
        midi
        for midi in range(closed - 11, min(closed + 1, low))
        if any(place.partial == 1 and not place.valves for place in book.places(midi))
    )
    return min((*found, low)) if pedals else low, high


def _midi_of(hz: float, a4_hz: float) -> float:
    return A4_MIDI + cents(hz / a4_hz) / 100.0


def chart_notes(request: ChartRequest, setup: Setup | None = None) -> tuple[ChartNote, ...]:
    """The notes of a chart from low to high, each with its places, best first.

    Best is the place with the least effort for a long note standing alone. Notes without a place
    are left out. ``setup`` None: that of the request.

    Raises
    ------
    PitchError, BadUsage
        A range that can't be read, is upside down or holds no note of this horn.
    """
    setup = setup or request.setup
    low, high = note_range(request, setup.book)
    found = []
    for midi in range(low, high + 1):
        places = setup.book.places(midi)
        if places:
            pitch = from_midi(midi)
            name, other = names_of(request, midi)
            found.append(ChartNote(pitch, name, _ordered(setup, places), other))
    if not found:
        raise BadUsage("charts.range_empty", horn=setup.horn.name)
    return tuple(found)


def note_range(request: ChartRequest, book: PlaceBook) -> tuple[int, int]:
    """Lowest and highest note as MIDI numbers. Raises PitchError or BadUsage."""
    usual_low, usual_high = chart_range(book, pedals=request.pedals)
    low = usual_low if request.low is None else parse_pitch(request.low).midi
    high = usual_high if request.high is None else parse_pitch(request.high).midi
    if low > high:
        raise BadUsage(
            "charts.range_upside_down",
            low=from_midi(low) if request.low is None else request.low,
            high=from_midi(high) if request.high is None else request.high,
        )
    if high - low > _MOST_SEMITONES:
        raise BadUsage("charts.range_too_wide")
    return low, high


def _ordered(setup: Setup, places: Sequence[Place]) -> tuple[ChartPlace, ...]:
    horn, style = setup.horn, setup.style
    at = spots(tuple(valve.name for valve in horn.valves), list(places))
    points = standing_points(setup.profile, at).tolist()
    order = sorted(range(len(places)), key=lambda k: (points[k], places[k].extension_m))
    near = shortest(places)
    return tuple(
        ChartPlace(
            places[k],
            mark(horn, places[k], style),
            k == order[0],
            places[k] == near,
            horn.half_width_mm(places[k].valves, places[k].partial, places[k].extension_m),
        )
        for k in order
    )


def left_out(
    request: ChartRequest,
    chosen: Callable[[ChartNote], bool] | None = None,
    *,
    gaps: bool = True,
    setups: Sequence[Setup] = (),
) -> str:
    """What a sheet doesn't show, and why: notes of the horn outside of its range, gaps in it.

    ``chosen`` are the notes that such a sheet is about; ``setups`` those of a comparison.
    """
    say, horns = request.say, setups or (request.setup,)
    ranges = [note_range(request, setup.book) for setup in horns]
    low, high = min(first for first, _ in ranges), max(last for _, last in ranges)
    outside = [
        midi
        for midi in range(*_PITCHES)
        if not low <= midi <= high and any(_shown(setup, midi, chosen) for setup in horns)
    ]
    said = [not_in_sheet(say, _spans(request, outside))] if outside else []
    if gaps:
        horn, book = request.setup.horn, request.setup.book
        missing = [midi for midi in range(low, high + 1) if not book.places(midi)]
        never = [midi for midi in missing if not find_places(horn, midi)]
        rest = [midi for midi in missing if midi not in never]
        for midis, ever in ((never, True), (rest, False)):
            said += [not_there(say, _spans(request, midis), ever=ever)] if midis else []
    return " · ".join(said)


def _shown(setup: Setup, midi: int, chosen: Callable[[ChartNote], bool] | None) -> bool:
    places = setup.book.places(midi)
    if not places or chosen is None:
        return bool(places)
    return chosen(ChartNote(from_midi(midi), "", _ordered(setup, places)))


def _spans(request: ChartRequest, midis: Sequence[int]) -> str:
    return note_spans(request.say, midis, lambda midi: names_of(request, midi)[0])


def some_notes(
    request: ChartRequest, chosen: Callable[[ChartNote], bool] | None = None
) -> tuple[ChartNote, ...]:
    """The ``chosen`` notes of a chart. Raises as `chart_notes`, BadUsage where there is none."""
    notes = chart_notes(request)
    if chosen is not None:
        notes = tuple(note for note in notes if chosen(note))
    if not notes:
        raise BadUsage("charts.sheet_empty", horn=request.setup.horn.name, sheet=request.sheet)
    return notes


def names_of(request: ChartRequest, midi: int) -> tuple[str, str]:
    """A note's name as it is written, and its other one as a sharp or flat; empty for naturals."""
    written = request.clef.written(from_midi(midi))
    other = respelled(written)
    name = full_name(written, request.say.names)
    return name, "" if other is None else full_name(other, request.say.names)


def head_of(
    request: ChartRequest,
    notes: Sequence[ChartNote] | None,
    more_signs: Sequence[tuple[str, str]] = (),
    left: str = "",
) -> Head:
    """The frame of a sheet; with ``notes`` the signs of their marks are explained at its foot.

    ``left`` says what isn't on it.
    """
    say, setup = request.say, request.setup
    signs: tuple[tuple[str, str], ...] = ()
    reading = ""
    if notes is not None:
        places = {place.place for note in notes for place in note.places}
        signs = legend(say, setup.horn, sorted(places, key=lambda p: p.position), setup.style)
        if request.clef.semitones_up:
            reading = say(WRITTEN_IN, clef=say.named("clef", request.clef.name))
    lines = (
        horn_line(say, setup.horn), limits_line(say, setup.horn, setup.book.limits), reading,
    )  # fmt: skip
    rim = landmarks(say, setup.horn)
    more = " · ".join(filter(None, (rim, left)))
    return Head(
        title=sheet_title(say, request.sheet, request.student),
        lines=tuple(filter(None, (" · ".join(filter(None, lines)), more))),
        paper=request.paper,
        landscape=bool(request.landscape),
        legend=(*signs, *more_signs),
        screen_mm=request.screen_mm,
    )


def learned_only(setup: Setup) -> Horn:
    """The horn with only the valves that the student has learned."""
    horn, limits = setup.horn, setup.book.limits
    sets = [valves for valves in horn.valve_sets if limits.learned_all(valves)]
    usable = {name for valves in sets for name in valves}
    return replace(
        horn,
        valves=tuple(valve for valve in horn.valves if valve.name in usable),
        deviations=tuple(row for row in horn.deviations if row.valves in sets),
    )


def without_valves(setup: Setup) -> Setup:
    """The setup of a student who uses no valve."""
    limits = replace(setup.book.limits, learned=frozenset[str]())
    return replace(setup, book=PlaceBook(setup.horn, limits))
