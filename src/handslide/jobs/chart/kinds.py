"""The chart sheets: the one list of them, and what is put on each.

This module loads quickly, for the command line lists the sheets in its help: what draws a sheet is
loaded when it is drawn.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, TypeAlias

from handslide.ground.errors import BadUsage

if TYPE_CHECKING:
    from handslide.instrument.horn import Horn
    from handslide.jobs.chart.content import ChartRequest
    from handslide.sheets.compare import ComparedHorn, CompareTexts
    from handslide.sheets.content import ChartNote
    from handslide.sheets.gridmarks import GridTexts
    from handslide.sheets.shapes import Page
    from handslide.sheets.strippart import StripTexts
    from handslide.words.speech import Speech

    Builder: TypeAlias = Callable[[ChartRequest], tuple[Page, ...]]


@dataclass(frozen=True, slots=True)
class SheetKind:
    """A chart sheet: its name, who draws its pages, and what can be asked of it.

    ``on_a_staff``: it can have another clef, range and orientation; ``second_horn``: it needs one;
    ``true_size``: it is of use only where the printer keeps its size; ``without_valves``: it is
    for a horn whose valves aren't used.
    """

    name: str
    build: "Builder"
    on_a_staff: bool = True
    second_horn: bool = False
    true_size: bool = False
    without_valves: bool = False

    @property
    def tapped(self) -> bool:
        """Whether its notes can be picked on a screen, on one horn."""
        return self.on_a_staff and not self.second_horn


def _all_notes(request: "ChartRequest") -> "tuple[Page, ...]":
    return _notes(request)


def _valve_notes(request: "ChartRequest") -> "tuple[Page, ...]":
    if not request.setup.horn.valves:
        raise BadUsage("charts.no_valve", horn=request.setup.horn.name)
    return _notes(request, lambda note: bool(note.places[0].place.valves))


def _open_notes(request: "ChartRequest") -> "tuple[Page, ...]":
    from handslide.jobs.chart.content import without_valves

    return _notes(replace(request, setup=without_valves(request.setup)))


def _alternates(request: "ChartRequest") -> "tuple[Page, ...]":
    return _notes(request, lambda note: len(note.places) > 1)


def _notes(
    request: "ChartRequest", chosen: "Callable[[ChartNote], bool] | None" = None
) -> "tuple[Page, ...]":
    """Notes on a staff with their places over them, and the slide to scale."""
    from handslide.jobs.chart.content import head_of, left_out, some_notes
    from handslide.sheets.notes import note_pages, systems_needed
    from handslide.words.charts import note_signs

    horn, say = request.setup.horn, request.say
    notes = some_notes(request, chosen)
    places = [place for note in notes for place in note.places]
    signs = note_signs(
        say,
        horn,
        lipped=any(place.place.lip_cents >= 0.5 for place in places),
        shorter=any(place.shortest and not place.usual for place in places),
        sets=[
            number
            for number, valves in enumerate(horn.valve_sets)
            if any(place.place.valves == valves for place in places)
        ],
        others=any(not place.usual for place in places),
    )
    head = head_of(
        request,
        notes,
        [*signs, *_uncertain(request, notes), *_rim(request)],
        left_out(request, chosen, gaps=chosen is None),
    )
    others = [note.other for note in notes]
    if request.landscape is None and systems_needed(head, notes, others) == 1:
        head = replace(head, landscape=True)
    return note_pages(head, horn, request.clef, notes, others)


def _wall(request: "ChartRequest") -> "tuple[Page, ...]":
    """The usual places, so large that a class can read them."""
    from handslide.jobs.chart.content import head_of, left_out, some_notes
    from handslide.sheets.slide import measures_for
    from handslide.sheets.wall import wall_pages

    notes = some_notes(request)
    usual = [replace(note, places=note.places[:1]) for note in notes]
    head = head_of(request, usual, left=left_out(request))
    ways = (True, False) if request.landscape is None else (request.landscape,)
    slide = measures_for(request.setup.horn, request.setup.book.limits.reach)
    choices = [wall_pages(replace(head, landscape=way), request.clef, usual, slide) for way in ways]
    return min(choices, key=len)


def _blank(request: "ChartRequest") -> "tuple[Page, ...]":
    """The notes of the horn with empty boxes for their places, and an empty slide."""
    from handslide.jobs.chart.content import head_of, left_out, some_notes
    from handslide.sheets.notes import note_pages
    from handslide.words.charts import FILL_IN

    notes = some_notes(request)
    head = head_of(
        request, None, [("", request.say(FILL_IN)), *_rim(request)], left_out(request)
    )  # fmt: skip
    others = [note.other for note in notes]
    return note_pages(head, request.setup.horn, request.clef, notes, others, blank=True)


def _rim(request: "ChartRequest") -> list[tuple[str, str]]:
    from handslide.words.charts import RIM

    return [] if request.setup.horn.bell_m is None else [("rim", request.say(RIM))]


def _uncertain(request: "ChartRequest", notes: "Sequence[ChartNote]") -> list[tuple[str, str]]:
    from handslide.words.charts import uncertain_sign

    wide = any(place.uncertain_mm is not None for note in notes for place in note.places)
    return [uncertain_sign(request.say)] if wide else []


def _grid(request: "ChartRequest") -> "tuple[Page, ...]":
    """Every pitch that the horn can sound, as slide against pitch."""
    from handslide.jobs.chart.content import head_of, left_out, names_of, some_notes
    from handslide.sheets.grid import grid_pages

    horn, say = request.setup.horn, request.say
    notes = some_notes(request)
    # The gaps of the horn are drawn.
    head = head_of(
        request, notes, [*_uncertain(request, notes), *_rim(request)],
        left_out(request, gaps=False),
    )  # fmt: skip
    limits = request.setup.book.limits
    return grid_pages(
        head, horn, notes, grid_texts(say, horn),
        named=partial(names_of, request), limits=limits, gap_below=request.low is None,
    )  # fmt: skip


def grid_texts(say: "Speech", horn: "Horn") -> "GridTexts":
    """What stands on a horn's harmonic grid."""
    from handslide.sheets.gridmarks import GridTexts
    from handslide.words import charts as words

    return GridTexts(
        columns=tuple(words.valve_column(say, valves) for valves in horn.valve_sets),
        sets=tuple(words.valve_key(say, valves) for valves in horn.valve_sets),
        partial=say(words.PARTIAL),
        usual=say(words.USUAL_MARKED),
        other=say(words.OTHER),
        lipped=say(words.LIPPED_CLOSED),
        end=say(words.END_OF_SLIDE),
        beyond_reach=say(words.BEYOND_REACH),
        never=lambda first, last: words.missing_notes(say, first, last, ever=True),
        not_yet=lambda first, last: words.missing_notes(say, first, last, ever=False),
    )


def _strip(request: "ChartRequest") -> "tuple[Page, ...]":
    """The paper ruler at true scale."""
    from handslide.jobs.chart.content import head_of, learned_only
    from handslide.sheets.strip import strip_pages

    setup, say = request.setup, request.say
    horn, reach = learned_only(setup), setup.book.limits.reach
    texts = strip_texts(say, horn, reach)
    head = replace(head_of(request, None), true_size=True)
    return strip_pages(head, horn, setup.style, texts, names=say.names, reach=reach)


def strip_texts(say: "Speech", horn: "Horn", reach: float | None) -> "StripTexts":
    """What stands on a horn's slide strip; ``reach`` is a position."""
    from handslide.sheets.strip import offsets_mm
    from handslide.sheets.strippart import StripTexts, reach_mm
    from handslide.words import charts as words
    from handslide.words.horns import horn_title

    valves = len(horn.valve_sets) > 1
    end = None if reach is None else reach_mm(horn, reach)
    reached = ("", "")
    if end is not None and reach is not None:
        reached = words.reach_on_strip(say, reach, end)
    return StripTexts(
        how_to=words.how_to(say, parts=False, valves=valves),
        how_to_glue=words.how_to(say, parts=True, valves=valves),
        check=(say(words.PRINT_TRUE[0]), say(words.PRINT_TRUE[1])),
        partials=words.partials_note(say, horn, offsets_mm(horn)),
        lanes=tuple(words.valve_set(say, valves) for valves in horn.valve_sets),
        closed=say(words.CLOSED),
        end=say(words.END_OF_SLIDE),
        reach=reached[0],
        reach_short=reached[1],
        horn=horn_title(say, horn),
        air=words.tuning_and_air(say, horn),
        rim=say(words.RIM),
        lipped=lambda mm, cents: words.lipped(say, mm, cents),
        part=lambda number, total: words.part_of(say, number, total),
        glue=lambda number: words.glue_under(say, number),
    )


def _compare(request: "ChartRequest") -> "tuple[Page, ...]":
    """Two horns over the notes of either."""
    from handslide.ground.pitch import from_midi
    from handslide.jobs.chart.content import (
        chart_notes,
        head_of,
        left_out,
        note_range,
        some_notes,
    )
    from handslide.sheets.compare import ComparedHorn, compare_pages
    from handslide.words.horns import horn_title

    say = request.say
    notes = some_notes(request)
    if request.against is None:
        raise BadUsage("charts.second_horn")
    setups = request.setup, request.against
    left = left_out(request, gaps=False, setups=setups)
    head = head_of(request, notes, left=left)
    ranges = [note_range(request, setup.book) for setup in setups]
    both = replace(
        request,
        low=from_midi(min(low for low, _ in ranges)).name,
        high=from_midi(max(high for _, high in ranges)).name,
    )
    one, other = (
        ComparedHorn(horn_title(say, setup.horn), setup.horn, chart_notes(both, setup))
        for setup in setups
    )
    return compare_pages(head, one, other, compare_texts(say, one, other))


def compare_texts(say: "Speech", one: "ComparedHorn", other: "ComparedHorn") -> "CompareTexts":
    """What stands on a comparison of two horns."""
    from handslide.sheets.compare import CompareTexts, compared_rows
    from handslide.words import charts as words
    from handslide.words.comparison import facts_of, note_spans

    rows = compared_rows(one, other)
    named = {row.pitch.midi: row.name for row in rows}
    only = [
        note_spans(say, [row.pitch.midi for row in rows if row.lacking[lacking]], named.__getitem__)
        for lacking in (1, 0)
    ]
    return CompareTexts(
        facts=facts_of(say, (one.label, one.horn), (other.label, other.horn), (only[0], only[1])),
        explained=say(words.EXPLAINED),
        note=say(words.NOTE),
        mark=say(words.MARK),
        further=say(words.FURTHER),
        cents=say(words.CENTS),
        lacking=say(words.LACKING),
        outside_chart=say(words.OUTSIDE_CHART),
    )


SHEETS: Mapping[str, SheetKind] = {
    kind.name: kind
    for kind in (
        SheetKind("all", _all_notes),
        SheetKind("valve", _valve_notes),
        SheetKind("open", _open_notes, without_valves=True),
        SheetKind("alternates", _alternates),
        SheetKind("wall", _wall),
        SheetKind("blank", _blank),
        SheetKind("grid", _grid),
        SheetKind("strip", _strip, on_a_staff=False, true_size=True),
        SheetKind("compare", _compare, second_horn=True),
    )
}


def sheet_kind(name: str) -> SheetKind:
    """The sheet of a name. Raises BadUsage."""
    if name not in SHEETS:
        raise BadUsage("charts.sheet", name=name, known=tuple(SHEETS))
    return SHEETS[name]
