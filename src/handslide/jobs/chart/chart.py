"""Charts of a horn: note sheets, the harmonic grid, the slide strip, two horns compared."""

from dataclasses import dataclass
from pathlib import Path

from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.typesetting.drawing import FORMATS, render
from handslide.ground.clefs import clef_named
from handslide.ground.errors import BadUsage, OutputError
from handslide.ground.limits import LEAST_PPI, MOST_PPI
from handslide.ground.notenames import LANGUAGES
from handslide.ground.papers import DEFAULT_PAPER, chart_paper
from handslide.jobs.chart.content import ChartRequest, default_clef
from handslide.jobs.chart.kinds import sheet_kind
from handslide.jobs.setup import Setup
from handslide.sheets.shapes import Sheet
from handslide.words.charts import sheet_title
from handslide.words.speech import Speech


@dataclass(frozen=True, slots=True)
class ChartOptions:
    """What to chart and how. ``low`` and ``high`` are sounding notes; None: what the horn has.

    ``names``: how notes are named; None: as the reader's language does. ``landscape`` None lies a
    page down where its notes fit into one system. ``pedals``: where ``low`` is None the sheet
    begins with those of the open horn.
    """

    sheet: str = "all"
    clef: str | None = None
    names: str | None = None
    paper: str = DEFAULT_PAPER
    landscape: bool | None = None
    low: str | None = None
    high: str | None = None
    student: str = ""
    pedals: bool = True

    def __post_init__(self) -> None:
        sheet_kind(self.sheet)
        chart_paper(self.paper)
        if self.clef is not None:
            clef_named(self.clef)
        if self.names not in (None, *LANGUAGES):
            raise BadUsage("usage.names", name=self.names, known=LANGUAGES)


def chart(setup: Setup, options: ChartOptions, say: Speech, against: Setup | None = None) -> Sheet:
    """One sheet, ready to be rendered. ``against`` is the second horn of a comparison.

    Raises
    ------
    PitchError, BadUsage
        A range that can't be read or holds no note; a sheet that this horn or these limits leave
        empty; a comparison without a second horn.
    """
    request = chart_request(setup, options, say, against)
    pages = sheet_kind(options.sheet).build(request)
    title = sheet_title(request.say, options.sheet, options.student)
    return Sheet(title, pages, request.say.language.code)


def chart_request(
    setup: Setup, options: ChartOptions, say: Speech, against: Setup | None = None
) -> ChartRequest:
    """What a sheet's builder is asked for."""
    say = say.naming(options.names)
    clef = default_clef(setup.horn) if options.clef is None else clef_named(options.clef)
    return ChartRequest(
        sheet=options.sheet,
        setup=setup,
        say=say,
        clef=clef,
        paper=options.paper,
        landscape=options.landscape,
        low=options.low,
        high=options.high,
        student=options.student,
        against=against,
        pedals=options.pedals,
    )


def check_format(form: str) -> str:
    """A format that charts are written in. Raises BadUsage."""
    if form not in FORMATS:
        raise BadUsage("charts.format", format=form, known=FORMATS)
    return form


def write_chart(
    sheet: Sheet, target: Path, *, form: str | None = None, ppi: float = 150.0, force: bool = False
) -> tuple[Path, ...]:
    """Write a sheet as PDF, SVG or PNG (``form``, or else the suffix of ``target``).

    Pictures are one file a page: ``name-1.png``, ``name-2.png`` where there are several.

    Raises
    ------
    BadUsage
        An unknown form, ``ppi`` that make no picture.
    OutputError
        As :func:`handslide.edges.files.outfile.write_result`.
    """
    if not target.name:
        raise OutputError("files.is_folder", path=str(target))
    if not LEAST_PPI <= ppi <= MOST_PPI:
        raise BadUsage("charts.ppi", ppi=ppi, least=LEAST_PPI, most=MOST_PPI)
    form = check_format(form or target.suffix.lower().lstrip(".") or "pdf")
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
