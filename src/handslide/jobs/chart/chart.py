"""Charts of a horn: note sheets, the harmonic grid, the slide strip, two horns compared."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.typesetting.drawing import FORMATS, render
from handslide.ground.clefs import CLEFS, Clef
from handslide.ground.errors import BadUsage
from handslide.ground.notenames import LANGUAGES, full_name
from handslide.ground.papers import DEFAULT_PAPER, PAPERS
from handslide.ground.pitch import Pitch, from_midi, parse_pitch
from handslide.ground.units import A4_MIDI, cents
from handslide.instrument.effort import spots, standing_points
from handslide.instrument.horn import Horn
from handslide.instrument.marks import legend, mark, valve_words
from handslide.instrument.places import Limits, Place, PlaceBook, shortest
from handslide.jobs.setup import Setup
from handslide.sheets.compare import ComparedHorn, compare_pages
from handslide.sheets.content import ChartNote, ChartPlace
from handslide.sheets.frame import Head
from handslide.sheets.grid import grid_pages
from handslide.sheets.notes import note_pages, systems_needed
from handslide.sheets.shapes import Page, Sheet
from handslide.sheets.strip import strip_pages

NOTE_SHEETS = ("all", "valve", "open", "alternates")
SHEETS = (*NOTE_SHEETS, "grid", "strip", "compare")
_TITLES = {
    "all": "Where the notes lie",
    "valve": "Notes for the valve",
    "open": "Notes without the valve",
    "alternates": "One note, several places",
    "grid": "All that this horn can play",
    "strip": "Slide strip",
    "compare": "Two horns side by side",
}
_SHARPS = {1: ("C", 1), 3: ("D", 1), 6: ("F", 1), 8: ("G", 1), 10: ("A", 1)}


@dataclass(frozen=True, slots=True)
class ChartOptions:
    """What to chart and how. ``low`` and ``high`` are sounding notes; None: what the horn has.

    ``landscape`` None lies a page down where its notes fit into one system.
    """

    sheet: str = "all"
    clef: str | None = None
    names: str = "english"
    paper: str = DEFAULT_PAPER
    landscape: bool | None = None
    low: str | None = None
    high: str | None = None
    student: str = ""

    def __post_init__(self) -> None:
        for value, allowed, what in (
            (self.sheet, SHEETS, "sheet"),
            (self.names, LANGUAGES, "language of note names"),
            (self.paper, tuple(PAPERS), "paper"),
            (self.clef, (None, *CLEFS), "clef"),
        ):
            if value not in allowed:
                listed = ", ".join(str(one) for one in allowed if one is not None)
                raise BadUsage(f"{value!r} isn't a {what}: there are {listed}")


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


def _midi_of(hz: float, a4_hz: float) -> float:
    return A4_MIDI + cents(hz / a4_hz) / 100.0


def chart_notes(
    setup: Setup, options: ChartOptions, clef: Clef, limits: Limits | None = None
) -> tuple[ChartNote, ...]:
    """The notes of a chart from low to high, each with its places, best first.

    Best is the place with the least effort for a long note standing alone. Notes without a place
    are left out. ``limits`` None: those of the setup.

    Raises
    ------
    PitchError, BadUsage
        A range that can't be read, is upside down or holds no note of this horn.
    """
    book = setup.book if limits is None else PlaceBook(setup.horn, limits)
    low, high = _range(book, options)
    found = []
    for midi in range(low, high + 1):
        places = book.places(midi)
        if places:
            pitch = from_midi(midi)
            name = full_name(clef.written(pitch), options.names)
            found.append(ChartNote(pitch, name, _ordered(setup, places)))
    if not found:
        raise BadUsage(f"{setup.horn.name} has no note in this range within these limits")
    return tuple(found)


def _range(book: PlaceBook, options: ChartOptions) -> tuple[int, int]:
    usual_low, usual_high = default_range(book)
    low = usual_low if options.low is None else parse_pitch(options.low).midi
    high = usual_high if options.high is None else parse_pitch(options.high).midi
    if low > high:
        raise BadUsage(f"the range {options.low} to {options.high} is upside down")
    if high - low > 72:
        raise BadUsage("a range of more than six octaves is more than any horn has")
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


def _for_sheet(sheet: str, notes: Sequence[ChartNote]) -> tuple[ChartNote, ...]:
    """The notes that a note sheet is about."""
    if sheet == "valve":
        return tuple(note for note in notes if note.places[0].place.valves)
    if sheet == "alternates":
        return tuple(note for note in notes if len(note.places) > 1)
    return tuple(notes)


def _other_name(note: ChartNote, clef: Clef, language: str) -> str:
    """The name of the same key spelled with a sharp; empty for naturals."""
    written = clef.written(note.pitch)
    if written.midi % 12 not in _SHARPS:
        return ""
    step, alter = _SHARPS[written.midi % 12]
    other = Pitch(step, alter, written.midi // 12 - 1)
    flat = written if written.alter < 0 else None
    return full_name(other, language) if flat is not None else ""


def chart_pages(
    setup: Setup, options: ChartOptions, against: Setup | None = None
) -> tuple[Page, ...]:
    """The pages of one sheet.

    ``against`` is the second horn of a comparison.

    Raises
    ------
    BadUsage
        A sheet that this horn or these limits leave empty.
    """
    setup = _limited(setup, options.sheet)
    clef = CLEFS[options.clef] if options.clef else default_clef(setup.horn)
    if options.sheet == "strip":
        return _strip(setup, options)
    notes = _for_sheet(options.sheet, chart_notes(setup, options, clef))
    if not notes:
        raise BadUsage(f"{setup.horn.name} has no notes for the sheet {options.sheet!r}")
    head = _head(setup, options, clef, notes)
    if options.sheet == "grid":
        return grid_pages(head, setup.horn, notes, language=options.names, limits=setup.book.limits)
    if options.sheet == "compare":
        return _comparison(setup, against, options, clef, head)
    others = [_other_name(note, clef, options.names) for note in notes]
    if options.landscape is None and systems_needed(head, notes, others) == 1:
        head = replace(head, landscape=True)
    return note_pages(head, setup.horn, clef, notes, others)


def _comparison(
    setup: Setup, against: Setup | None, options: ChartOptions, clef: Clef, head: Head
) -> tuple[Page, ...]:
    """Both horns over the notes of either."""
    if against is None:
        raise BadUsage("a comparison needs a second horn: give it with --against")
    ranges = [_range(one.book, options) for one in (setup, against)]
    both = replace(
        options,
        low=from_midi(min(low for low, _ in ranges)).name,
        high=from_midi(max(high for _, high in ranges)).name,
    )
    one, other = (
        ComparedHorn(side.horn.title, side.horn, chart_notes(side, both, clef))
        for side in (setup, against)
    )
    return compare_pages(head, one, other, language=options.names)


def _limited(setup: Setup, sheet: str) -> Setup:
    """The setup with the limits that a sheet means."""
    limits = setup.book.limits
    if sheet == "open":
        limits = replace(limits, learned=frozenset())
    if sheet == "valve" and not setup.horn.valves:
        raise BadUsage(f"{setup.horn.name} has no valve, so there is no sheet of valve notes")
    return Setup(setup.horn, setup.profile, PlaceBook(setup.horn, limits), setup.style)


def _head(setup: Setup, options: ChartOptions, clef: Clef, notes: Sequence[ChartNote]) -> Head:
    places = {place.place for note in notes for place in note.places}
    signs = legend(setup.horn, sorted(places, key=lambda p: p.position), setup.style)
    if options.sheet in NOTE_SHEETS:
        signs = (*signs, *_note_signs(setup.horn, notes))
    shown = (*NOTE_SHEETS, "grid")
    wide = any(place.uncertain_mm is not None for note in notes for place in note.places)
    if options.sheet in shown and wide:
        signs = (*signs, ("±15", "mm, and the bar through a dot: so far the place is known (95 %)"))
    return Head(
        title=_title(options),
        lines=_lines(setup, options, clef),
        paper=options.paper,
        landscape=bool(options.landscape),
        legend=signs,
    )


def _note_signs(horn: Horn, notes: Sequence[ChartNote]) -> list[tuple[str, str]]:
    """Legend of what a note sheet draws beside the marks."""
    places = [place for note in notes for place in note.places]
    signs = [("4³", "on the 3rd partial")]
    if any(place.place.lip_cents >= 0.5 for place in places):
        signs.append(("↑14", "lip up 14 cents"))
    if any(place.shortest and not place.usual for place in places):
        signs.append(("_", "underlined: shorter slide than the usual place"))
    for which, valves in enumerate(horn.valve_sets):
        if any(place.place.valves == valves for place in places):
            words = valve_words(valves).strip() or "open horn"
            signs.append((f"dot:{which}", f"usual place, {words}"))
    if any(not place.usual for place in places):
        signs.append(("ring:0", "hollow: another place"))
    return signs


def _title(options: ChartOptions) -> str:
    return _TITLES[options.sheet] + (f" · {options.student}" if options.student else "")


def _lines(setup: Setup, options: ChartOptions, clef: Clef | None) -> tuple[str, ...]:
    reading = ""
    if clef is not None and clef.semitones_up:
        reading = f"written in {clef.title}"
    return (" · ".join(filter(None, (setup.horn_line, setup.limits_line, reading))),)


def _strip(setup: Setup, options: ChartOptions) -> tuple[Page, ...]:
    head = Head(
        _title(options), _lines(setup, options, None), options.paper, bool(options.landscape),
    )  # fmt: skip
    return strip_pages(
        head,
        _learned_only(setup),
        setup.style,
        language=options.names,
        reach=setup.book.limits.reach,
    )


def write_chart(
    sheet: Sheet, target: Path, *, form: str | None = None, ppi: float = 150.0, force: bool = False
) -> tuple[Path, ...]:
    """Write a sheet as PDF, SVG or PNG (``form``, or else the suffix of ``target``).

    Pictures are one file a page: ``name-1.png``, ``name-2.png`` where there are several.

    Raises
    ------
    BadUsage
        An unknown form.
    OutputError
        As :func:`handslide.edges.files.outfile.write_result`.
    """
    form = form or target.suffix.lower().lstrip(".") or "pdf"
    if form not in FORMATS:
        raise BadUsage(f"can't write a chart as {form!r}: there are {', '.join(FORMATS)}")
    results = render(sheet, form, ppi=ppi)
    if target.suffix.lower() != f".{form}":
        target = target.with_name(f"{target.name}.{form}")
    if len(results) == 1:
        targets = [target]
    else:
        numbers = range(1, len(results) + 1)
        targets = [target.with_name(f"{target.stem}-{n}{target.suffix}") for n in numbers]
    for path in targets:
        check_free(path, force=force)
    for path, data in zip(targets, results):
        write_result(path, data, force=force)
    return tuple(targets)


def _learned_only(setup: Setup) -> Horn:
    """The horn with only the valves that the student has learned."""
    horn, limits = setup.horn, setup.book.limits
    sets = [valves for valves in horn.valve_sets if limits.learned_all(valves)]
    usable = {name for valves in sets for name in valves}
    return replace(
        horn,
        valves=tuple(valve for valve in horn.valves if valve.name in usable),
        deviations=tuple(row for row in horn.deviations if row.valves in sets),
    )


def chart(setup: Setup, options: ChartOptions, against: Setup | None = None) -> Sheet:
    """One sheet, ready to be rendered. Raises as :func:`chart_pages`."""
    pages = chart_pages(setup, options, against)
    return Sheet(_title(options), pages)
