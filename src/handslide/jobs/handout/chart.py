"""A chart as a hand-out: its drawing, whose notes and places can be tapped."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from handslide.edges.engraving.screen import WIDTHS_MM
from handslide.edges.htmlfile.page import HtmlBlock
from handslide.edges.typesetting.screen import screen_svg
from handslide.ground.errors import BadUsage
from handslide.ground.papers import DEFAULT_PAPER
from handslide.jobs.chart.chart import ChartOptions, chart_request
from handslide.jobs.chart.content import ChartRequest, chart_notes, without_valves
from handslide.jobs.chart.kinds import SHEETS, sheet_kind
from handslide.jobs.handout.block import HandoutBlock, place_json
from handslide.jobs.handout.handout import Handout, HandoutWishes, make_page
from handslide.jobs.setup import Setup
from handslide.sheets.content import ChartNote, region_key
from handslide.sheets.shapes import Page, Region
from handslide.words.charts import WRITTEN_IN, sheet_title
from handslide.words.horns import horn_line, limits_line
from handslide.words.speech import Speech

_SHOWN = "wide"  # the drawing that stands in the page unpacked, and is printed
# So high that a system of notes is a piece by itself, and a grid's rows are as high as on paper.
_STAFF_MM, _GRID_MM = 100.0, 230.0
_PX_PER_MM = 4.0


def chart_handout(
    setup: Setup, options: ChartOptions, say: Speech, wishes: HandoutWishes | None = None
) -> Handout:
    """A hand-out of a chart. Raises as `handslide.jobs.chart.chart.chart` does; BadUsage for a
    sheet whose notes can't be tapped."""
    say = say.on_paper
    block = chart_block(setup, options, say)
    title = sheet_title(say, options.sheet, options.student)
    request = _request(setup, options, say)
    reading = ""
    if request.clef.semitones_up:
        reading = say(WRITTEN_IN, clef=say.named("clef", request.clef.name))
    lines = (
        " · ".join(filter(None, (limits_line(say, setup.horn, setup.book.limits), reading))),
        horn_line(say, setup.horn),
    )
    return Handout(title, "", (block,), make_page(title, lines, (block,), wishes, say))


def chart_block(
    setup: Setup,
    options: ChartOptions,
    say: Speech,
    *,
    name: str = "chart",
    heading: str | None = None,
) -> HandoutBlock:
    """The block of a chart. Raises as `chart_handout`."""
    kind = sheet_kind(options.sheet)
    if not kind.tapped:
        known = tuple(one.name for one in SHEETS.values() if one.tapped)
        raise BadUsage("handout.chart", name=options.sheet, known=known)
    request = _request(setup, options, say)
    label = sheet_title(request.say, options.sheet, options.student)
    high = _GRID_MM if options.sheet == "grid" else _STAFF_MM
    # A wall chart is large enough for a phone as it is.
    widths = {_SHOWN} if options.sheet == "wall" else set(WIDTHS_MM)
    pages = {
        width: kind.build(replace(request, screen_mm=(mm, high)))
        for width, mm in WIDTHS_MM.items()
        if width in widths
    }
    drawn = {
        width: tuple(
            screen_svg(page.shapes, page.width_mm, page.height_mm, label=label,
                       px_per_mm=_PX_PER_MM)
            for page in each
        )
        for width, each in pages.items()
    }  # fmt: skip
    seen = replace(request, setup=without_valves(setup)) if kind.without_valves else request
    shown = _picked(pages[_SHOWN])
    notes = [note for note in chart_notes(seen) if region_key(note.pitch.midi) in shown]
    html = HtmlBlock(
        kind="chart",
        name=name,
        heading=heading,
        drawings=drawn[_SHOWN],
        data=_data(seen, notes),
        packed={width: "".join(each) for width, each in drawn.items() if width != _SHOWN},
    )
    return HandoutBlock(html, setup, count=len(notes))


def _request(setup: Setup, options: ChartOptions, say: Speech) -> ChartRequest:
    # A screen is no paper for the wall.
    return chart_request(setup, replace(options, paper=DEFAULT_PAPER, landscape=False), say)


def _picked(pages: Iterable[Page]) -> set[str]:
    return {shape.of for page in pages for shape in page.shapes if isinstance(shape, Region)}


def _data(request: ChartRequest, notes: Iterable[ChartNote]) -> dict[str, Any]:
    """``notes``, from low to high: MIDI note, name, places, best first; each place with the
    ``key`` of its region."""
    setup, say = request.setup, request.say
    return {
        "a4_hz": setup.horn.a4_hz,
        "notes": [
            {
                "midi": note.pitch.midi,
                "name": note.both,
                "places": [
                    {
                        **place_json(say, setup, row.place, row.mark),
                        "key": region_key(note.pitch.midi, row.place),
                    }
                    for row in note.places
                ],
            }
            for note in notes
        ],
    }
