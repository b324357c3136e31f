"""Drill sheets: their wishes, what is seen at once, their print, score, sounds, the stand."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.drills.kinds import DRILLS, FAMILIES, DrillKind
from handslide.drills.rhythms import ARTICULATION_NAMES, RHYTHMS
from handslide.faces.web import practicesound
from handslide.faces.web.errors import told
from handslide.faces.web.forms import form_of
from handslide.faces.web.formvalues import read_tempo, text_of, whole
from handslide.faces.web.making import as_it_is_made
from handslide.faces.web.pages import filed, page, see, speech_of, studio_of
from handslide.faces.web.practicesound import note_name
from handslide.faces.web.sheetpages import (
    HERE,
    PDF,
    another_one,
    asked_player,
    called,
    followed,
    levels,
    note_choices,
    picture,
    seed_of,
    shown_sheet,
)
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import HandslideError
from handslide.ground.notenames import class_name
from handslide.ground.papers import PAPERS
from handslide.instrument.markstyle import SHOWN_ON_SHEETS
from handslide.jobs.practice.drill import DrillSheet, DrillWishes
from handslide.jobs.practice.drilldrones import drone_files
from handslide.studio.parts.files import plain_name
from handslide.studio.people.students import speech_about, speech_for
from handslide.studio.practice.exercises import kind_of, list_exercises, own_name
from handslide.studio.practice.sheets import (
    PIECES,
    Player,
    RenderedSheet,
    drill_for,
    first_drill,
    keys_to_choose,
)
from handslide.studio.practice.sound import exercise_sound
from handslide.studio.practice.stand import (
    drill_on_stand,
)
from handslide.studio.progress.progress import progress_of
from handslide.words.progress import group_heading

SCORE = "application/vnd.recordare.musicxml+xml"
_FIRST_KIND = next(iter(DRILLS.values()))


@dataclass(frozen=True)
class DrillAsked:
    """What an address asks for."""

    kind: DrillKind
    wishes: DrillWishes
    seed: int
    horn: int
    about: str = ""

    @property
    def query(self) -> str:
        """The address of the same sheet."""
        wish = self.wishes
        keys = ("level", "clef", "low", "high", "paper", "show")
        given = {key: getattr(wish, key) or "" for key in keys}
        if self.kind.in_key:
            in_key = ("scale", "key", "rhythm", "articulation")
            given |= {key: getattr(wish, key) or "" for key in in_key}
            given |= {"valves": "1"} if wish.valve_register else {}
        tempo = "" if wish.tempo_qpm is None else f"{wish.tempo_qpm:g}"
        first = {"kind": self.kind.name, "horn": self.horn, "seed": self.seed}
        if self.kind.from_report:
            given |= {"about": self.about}
        return urlencode(first | given | {"pieces": wish.pieces, "tempo": tempo})


def drill(request: Request) -> Response:
    """The page of wishes with the sheet beside it."""
    player, asked, problem = _asked_drill(request)
    names = speech_about(player.student, speech_of(request)).names
    return page(
        request,
        "practice/drill.html",
        families=FAMILIES,
        own=tuple(_own_titles(request).items()),
        levels=levels(request),
        rhythms=tuple(RHYTHMS),
        articulations=ARTICULATION_NAMES,
        keys=[(key.name[:-1], class_name(key, names)) for key in keys_to_choose()],
        notes=note_choices(request, player),
        clefs=tuple(CLEFS),
        papers=tuple(PAPERS),
        counts=PIECES,
        shown_marks=SHOWN_ON_SHEETS,
        things=_things(request, player) if asked.kind.from_report else (),
        **_shown_drill(request, player, asked, problem),
    )


def _things(request: Request, player: Player) -> list[tuple[str, str]]:
    """What there is to practise by the takes, to choose from."""
    say = speech_about(player.student, speech_of(request))
    report = progress_of(studio_of(request), player.student.id)
    groups = [thing.found.group for thing in report.next]
    return [(group.key, group_heading(say, group)) for group in groups]


def drill_preview(request: Request) -> Response:
    """The sheet beside the wishes, alone."""
    player, asked, problem = _asked_drill(request)
    shown = _shown_drill(request, player, asked, problem)
    answer = page(request, "practice/drill_preview.html", fresh=another_one(request), **shown)
    return followed(answer, shown, f"/practice/{player.student.id}/drill")


def drill_pdf(request: Request) -> Response:
    """The printed sheet."""
    made, name = _drill_file(request)
    return filed(made.pdf, f"{name}.pdf", PDF, save="save" in request.query_params)


def drill_score(request: Request) -> Response:
    """The exercises as a score for a notation program."""
    made, name = _drill_file(request)
    return filed(_sheet(made).musicxml(made.say), f"{name}.musicxml", SCORE, save=True)


def drill_drone(request: Request) -> Response:
    """The drone of an exercise, to hear or to take along; ``loop`` for one to repeat."""
    return _exercise_sound(request, played=False)


def drill_played(request: Request) -> Response:
    """An exercise over its drone."""
    return _exercise_sound(request, played=True)


def _exercise_sound(request: Request, *, played: bool) -> Response:
    values = request.query_params
    made, _ = _drill_file(request)
    number, loop = whole(text_of(values, "number")) or 1, "loop" in values
    ending = practicesound.ending_of(request)
    file = exercise_sound(studio_of(request), made, number, ending, played=played, loop=loop)
    return practicesound.sound_answer(request, file)


def drill_picture(request: Request) -> Response:
    """A page of the sheet as a picture."""
    made, name = _drill_file(request)
    return picture(request, made, name)


async def drill_stand(request: Request) -> Response:
    """Keep the drill as a part and put it on the stand."""
    form = await form_of(request)

    def put() -> int:
        studio, player = studio_of(request), asked_player(request, form)
        asked = read_drill(request, player, form)
        made = _make_drill(request, player, asked)
        return drill_on_stand(studio, player, _sheet(made), made.say)

    return see(f"/stands/{await run_in_threadpool(put)}")


def _drill_file(request: Request) -> tuple[RenderedSheet, str]:
    player = asked_player(request, request.query_params)
    asked = read_drill(request, player, request.query_params)
    name = plain_name(f"{called(request, player)} {asked.kind.name} {asked.seed}")
    return _make_drill(request, player, asked), name


def _make_drill(request: Request, player: Player, asked: DrillAsked) -> RenderedSheet:
    say = speech_for(player.student, speech_of(request))
    studio, kind = studio_of(request), asked.kind.name
    return drill_for(studio, player, kind, asked.wishes, asked.seed, say, asked.about)


def _sheet(made: RenderedSheet) -> DrillSheet:
    assert isinstance(made.sheet, DrillSheet)
    return made.sheet


def _asked_drill(request: Request) -> tuple[Player, DrillAsked, str]:
    player = asked_player(request, request.query_params)
    try:
        asked = read_drill(request, player, request.query_params)
    except HandslideError as error:
        kind = request.query_params.get("kind", "")
        drill = DRILLS.get(kind, _FIRST_KIND)
        first = DrillAsked(drill, first_drill(player), 1, player.horn.id)
        return player, first, told(request, error)
    return player, replace(asked, seed=asked.seed + 1) if another_one(request) else asked, ""


def _shown_drill(
    request: Request, player: Player, asked: DrillAsked, problem: str
) -> dict[str, Any]:
    shown, made = shown_sheet(request, problem, lambda: _make_drill(request, player, asked))
    drones: list[tuple[int, str]] = []
    if made is not None:
        names = speech_about(player.student, speech_of(request)).names
        files = drone_files(_sheet(made), _sheet(made).kind)
        drones = [(one.number, note_name(one.note, names)) for one in files if one.played]
    own = {"own_titles": _own_titles(request)}
    wish = {"wish": asked.wishes, "query": asked.query}
    return {"player": player, "asked": asked, **wish, **own, "drones": drones, **shown}


def _own_titles(request: Request) -> dict[str, str]:
    """The titles of the teacher's own exercises by the names of their kinds."""
    return {own_name(row.id): row.title for row in list_exercises(studio_of(request))}


def read_drill(request: Request, player: Player, values: Mapping[str, Any]) -> DrillAsked:
    """The wishes of an address or form; what it leaves out is as the student has it.

    Raises BadUsage.
    """
    first = first_drill(player)
    kind, _ = kind_of(studio_of(request), text_of(values, "kind") or _FIRST_KIND.name)
    tempo = text_of(values, "tempo")
    texts = ("key", "scale", "low", "high", "rhythm", "articulation")
    given: dict[str, Any] = {name: text_of(values, name) or None for name in texts}
    wishes = replace(
        first,
        **given,
        level=text_of(values, "level") or first.level,
        paper=text_of(values, "paper") or first.paper,
        show=text_of(values, "show") or first.show,
        clef=(text_of(values, "clef") or None) if "clef" in values else first.clef,
        valve_register=bool(text_of(values, "valves")),
        pieces=whole(text_of(values, "pieces")) or first.pieces,
        tempo_qpm=read_tempo(tempo) if tempo else None,
    )
    return DrillAsked(kind, wishes, seed_of(values), player.horn.id, text_of(values, "about"))


routes: list[BaseRoute] = [
    Route(f"{HERE}/drill", drill),
    Route(f"{HERE}/drill/preview", drill_preview),
    Route(f"{HERE}/drill.pdf", as_it_is_made(drill_pdf)),
    Route(f"{HERE}/drill.musicxml", drill_score),
    Route(f"{HERE}/drill/page.png", drill_picture),
    Route(f"{HERE}/drill/drone.{{form:str}}", drill_drone),
    Route(f"{HERE}/drill/played.{{form:str}}", drill_played),
    Route(f"{HERE}/drill/stand", drill_stand, methods=["POST"]),
]
