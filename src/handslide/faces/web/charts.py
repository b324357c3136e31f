"""Charts: chosen, seen at once, printed; for one student or a whole class."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.faces.web.errors import told
from handslide.faces.web.formvalues import decimal, page_number, read_reach, wanted_student, whole
from handslide.faces.web.making import as_it_is_made, made
from handslide.faces.web.pages import filed, page, page_as_it_comes, speech_of, studio_of
from handslide.ground.cleantext import clean_line
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadUsage, HandslideError, NotFound
from handslide.ground.facts import fact
from handslide.ground.notenames import LANGUAGES
from handslide.ground.papers import CHART_PAPERS
from handslide.ground.progress import ProgressCallback
from handslide.instrument.marks import position_text
from handslide.instrument.markstyle import COUNTINGS, NUMERALS, VALVE_SIGNS, parse_style
from handslide.jobs.chart.kinds import SHEETS
from handslide.jobs.mark.slideview import slide_view, without_drawings
from handslide.sheets.shapes import Sheet
from handslide.studio.charts.charts import (
    ORIENTATIONS,
    ChartChoices,
    ChartWish,
    ClassChart,
    chart_choices,
    class_charts,
    class_sheet,
    drawn,
    file_stem,
    first_wish,
    wished_setup,
    wished_sheet,
)
from handslide.studio.people.students import list_students

MEDIA_TYPES = {"pdf": "application/pdf", "svg": "image/svg+xml", "png": "image/png"}
_REACHES = (3.0, 3.5, 4.0, 4.5, 5.0, 5.5, 6.0, 6.5, 7.0)
# What a wish keeps when another student or horn is chosen, and what then starts anew.
_OF_THE_SHEET = ("sheet", "other", "paper", "orientation")
_OF_THE_STUDENT = ("clef", "names", "low", "high")


def charts(request: Request) -> Response:
    """The page of wishes with the sheet beside it."""
    studio, wish, problem = studio_of(request), *_wish_or_first(request)
    choices = chart_choices(studio, wish, speech_of(request))
    style = parse_style(wish.marks)
    reaches = sorted({*_REACHES, *([] if wish.reach is None else [wish.reach])}, reverse=True)
    return page(
        request,
        "charts/charts.html",
        choices=choices,
        style=style,
        sheets=tuple(SHEETS.values()),
        clefs=tuple(CLEFS),
        languages=LANGUAGES,
        papers=tuple(CHART_PAPERS),
        orientations=tuple(ORIENTATIONS),
        reaches=[(f"{reach:g}", position_text(reach)) for reach in reaches],
        signs=VALVE_SIGNS,
        countings=COUNTINGS,
        numerals=NUMERALS,
        **_shown(request, wish, choices, problem),
    )


def preview(request: Request) -> Response:
    """The sheet beside the wishes, alone; the browser's address follows the wishes."""
    studio, wish, problem = studio_of(request), *_wish_or_first(request)
    shown = _shown(request, wish, chart_choices(studio, wish, speech_of(request)), problem)
    answer = page(request, "charts/preview.html", **shown)
    if not shown["problem"]:
        answer.headers["HX-Replace-Url"] = f"/charts?{shown['query']}"
    return answer


def sheet_file(request: Request) -> Response:
    """The sheet as PDF, or one page of it as a picture; ``save`` asks the browser to keep it."""
    studio, wish = studio_of(request), read_wish(request)
    form = request.path_params["form"]
    results = drawn(studio, wished_sheet(studio, wish, speech_of(request)), form)
    number = page_number(request.query_params)
    if not 1 <= number <= len(results):
        raise NotFound("charts.no_page", number=number, pages=len(results))
    stem = file_stem(studio, wish)
    if len(results) > 1:
        stem = f"{stem}-{number}"
    return filed(
        results[number - 1],
        f"{stem}.{form}",
        MEDIA_TYPES[form],
        save="save" in request.query_params,
    )


def for_class(request: Request) -> Response:
    """Who of the class gets a sheet, and why the others can't."""
    studio = studio_of(request)
    wish, chosen, problem = _class_wish(request), _chosen(request.query_params), ""
    students = list_students(studio)
    rows: Iterator[ClassChart] = iter(())
    try:
        rows = class_charts(studio, wish, speech_of(request), students)
    except HandslideError as error:
        problem = told(request, error)
    return page_as_it_comes(
        request,
        "charts/class.html",
        wish=wish,
        chosen_kind=SHEETS.get(wish.sheet),
        rows=rows,
        problem=problem,
        students=students,
        chosen=[one.id for one in students if chosen is None or one.id in chosen],
        sheets=[kind.name for kind in SHEETS.values() if not kind.second_horn],
        papers=tuple(CHART_PAPERS),
        orientations=tuple(ORIENTATIONS),
    )


def class_file(request: Request) -> Response:
    """One PDF with a sheet for each chosen student."""
    wish = _class_wish(request)
    say = speech_of(request)
    studio, chosen = studio_of(request), _chosen(request.query_params)
    students = [one for one in list_students(studio) if chosen is None or one.id in chosen]
    save = "save" in request.query_params

    def make(tell: ProgressCallback) -> Response:
        rows = []
        for row in class_charts(studio, wish, say, students):
            rows.append(row)
            tell("drawing", len(rows), len(students))
        tell("typesetting", 0, 1)
        pdf = drawn(studio, class_sheet(rows, wish.sheet, say), "pdf")[0]
        return filed(pdf, f"class-{wish.sheet}.pdf", MEDIA_TYPES["pdf"], save=save)

    return made(request, make)


def read_wish(request: Request) -> ChartWish:
    """The wish that an address asks for; what it leaves out is as the student has it.

    ``for`` says for whom the values were chosen: another's are not taken along.

    Raises
    ------
    NotFound
        When the student isn't in the studio.
    BadUsage
        A value that can't be read.
    """
    query = request.query_params
    first = first_wish(studio_of(request), wanted_student(query), query.get("horn", ""))
    given = query.get("for")
    anew = given is not None and given != _whose(first)
    keys = _OF_THE_SHEET if anew else (*_OF_THE_SHEET, *_OF_THE_STUDENT)
    wish = replace(_with_pedals(first, query), **_given(query, keys))
    if not anew and query.get("bell_mm", ""):
        bell_mm = decimal(query["bell_mm"], fact("web.no_bell", text=query["bell_mm"][:20]))
        wish = replace(wish, bell_mm=bell_mm)
    return _limits(wish, query) if given == _whose(first) else wish


def _limits(wish: ChartWish, query: QueryParams) -> ChartWish:
    # A form without a ticked valve says that none is learned; all ticked is no limit.
    ticked, shown = query.getlist("learned"), query.getlist("valve")
    learned = wish.learned
    if set(ticked) != set(shown if learned is None else learned) & set(shown):
        learned = None if set(ticked) == set(shown) else tuple(ticked)
    words = [query.get(key, "") for key in ("signs", "counting", "numerals")]
    marks = ",".join(filter(None, words)) if "signs" in query else wish.marks
    parse_style(marks)
    return replace(
        wish,
        learned=learned,
        marks=marks,
        reach=read_reach(query["reach"]) if "reach" in query else wish.reach,
    )


def _wish_or_first(request: Request) -> tuple[ChartWish, str]:
    # A page is shown for every address that has a student; what can't be read is said on it.
    try:
        return read_wish(request), ""
    except NotFound:
        raise
    except HandslideError as error:
        student_id = wanted_student(request.query_params)
        return first_wish(studio_of(request), student_id), told(request, error)


def _shown(
    request: Request, wish: ChartWish, choices: ChartChoices, problem: str
) -> dict[str, Any]:
    """What the preview is made of: the slide, the pages' sizes and addresses, or the problem."""
    sheet: Sheet | None = None
    slide: Mapping[str, Any] | None = None
    if not problem:
        try:
            slide = slide_view(wished_setup(studio_of(request), wish))
            sheet = wished_sheet(studio_of(request), wish, speech_of(request))
        except HandslideError as error:
            problem = told(request, error)
    pages = [] if sheet is None else [(page.width_mm, page.height_mm) for page in sheet.pages]
    return {
        "wish": wish,
        "chosen_kind": SHEETS.get(wish.sheet),
        "problem": problem,
        "horn_slide": slide,
        "horn_bare": None if slide is None else without_drawings(slide),
        "pages": pages,
        "query": _query(wish, choices),
    }


def _query(wish: ChartWish, choices: ChartChoices) -> str:
    """The address of a wish, such that it is read back the same."""
    style = parse_style(wish.marks)
    values: Mapping[str, Any] = {
        "student": wish.student_id or "",
        "horn": wish.horn,
        "for": _whose(wish),
        "sheet": wish.sheet,
        **({"other": wish.other} if wish.other else {}),
        **{key: getattr(wish, key) for key in (*_OF_THE_STUDENT, "paper", "orientation")},
        "pedals": "with" if wish.pedals else "without",
        "bell_mm": "" if wish.bell_mm is None else f"{wish.bell_mm:g}",
        "reach": "" if wish.reach is None else f"{wish.reach:g}",
        "signs": style.signs or "",
        "counting": style.counting if style.counting != COUNTINGS[0] else "",
        "numerals": style.numerals if style.numerals != NUMERALS[0] else "",
        "valve": choices.valves,
        "learned": [v for v in choices.valves if wish.learned is None or v in wish.learned],
    }
    return urlencode(values, doseq=True)


def _whose(wish: ChartWish) -> str:
    return f"{wish.student_id or ''}:{wish.horn}"


def _class_wish(request: Request) -> ChartWish:
    query = request.query_params
    keys = ("sheet", "paper", "orientation", "low", "high")
    first = _with_pedals(first_wish(studio_of(request)), query)
    return replace(first, **_given(query, keys))


def _with_pedals(wish: ChartWish, query: QueryParams) -> ChartWish:
    if "pedals" not in query:
        return wish
    if query["pedals"] not in ("with", "without"):
        raise BadUsage("web.no_pedals", text=query["pedals"][:20])
    return replace(wish, pedals=query["pedals"] == "with")


def _given(query: QueryParams, keys: tuple[str, ...]) -> dict[str, Any]:
    return {key: clean_line(query[key]) for key in keys if key in query}


def _chosen(query: QueryParams) -> list[int] | None:
    if "only" not in query:
        return None
    return [number for text in query.getlist("student") if (number := whole(text)) is not None]


routes: list[BaseRoute] = [
    Route("/charts", charts, name="charts"),
    Route("/charts/preview", preview),
    Route("/charts/sheet.{form:str}", as_it_is_made(sheet_file)),
    Route("/charts/class", for_class),
    Route("/charts/class.pdf", class_file),
]
