"""Practice material: drill sheets, lesson sheets and moved parts, seen at once, printed."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeVar
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.drills.kinds import DRILLS, FAMILIES, DrillKind
from handslide.drills.levels import LEVELS
from handslide.drills.rhythms import ARTICULATION_NAMES, RHYTHMS
from handslide.edges.store.stands import StandRow
from handslide.faces.web import ownexercises, practiceroom, practicesound
from handslide.faces.web.errors import told
from handslide.faces.web.forms import form_of
from handslide.faces.web.formvalues import page_number, read_tempo, text_of, whole
from handslide.faces.web.making import as_it_is_made
from handslide.faces.web.pages import filed, page, see, speech_of, studio_of
from handslide.faces.web.practicesound import note_name
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadUsage, HandslideError, NotFound
from handslide.ground.facts import fact
from handslide.ground.intervals import parse_interval
from handslide.ground.notenames import class_name
from handslide.ground.papers import PAPERS
from handslide.instrument.markstyle import SHOWN_ON_SHEETS
from handslide.jobs.practice.drill import DrillSheet, DrillWishes
from handslide.jobs.practice.drilldrones import drone_files
from handslide.studio.parts.files import plain_name
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.namesakes import Names
from handslide.studio.people.students import speech_about, speech_for
from handslide.studio.practice.exercises import kind_of, list_exercises, own_name
from handslide.studio.practice.sheets import (
    PIECES,
    Player,
    RenderedSheet,
    drill_for,
    first_drill,
    keys_to_choose,
    lesson_for,
    player_of,
)
from handslide.studio.practice.sound import exercise_sound
from handslide.studio.practice.stand import (
    Moved,
    drill_on_stand,
    moved_on_stand,
    moved_part,
)
from handslide.studio.progress.progress import progress_of
from handslide.words.drills import level_name
from handslide.words.intervals import interval_size
from handslide.words.progress import group_heading
from handslide.words.speech import Speech

PDF, PNG = "application/pdf", "image/png"
SCORE = "application/vnd.recordare.musicxml+xml"
# Intervals to choose from.
_INTERVALS = (
    "m2", "M2", "m3", "M3", "P4", "d5", "P5", "m6", "M6", "m7", "M7", "P8", "P12", "P15",
)  # fmt: skip
_LAST_SEED = 999_999_999
_FIRST_KIND = next(iter(DRILLS.values()))


# Drill sheets.


@dataclass(frozen=True)
class _Drill:
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
        levels=_levels(request),
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
    answer = page(request, "practice/drill_preview.html", fresh=_another(request), **shown)
    return _followed(answer, shown, f"/practice/{player.student.id}/drill")


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
    return _picture(request, made, name)


async def drill_stand(request: Request) -> Response:
    """Keep the drill as a part and put it on the stand."""
    form = await form_of(request)

    def put() -> int:
        studio, player = studio_of(request), _player(request, form)
        asked = _read_drill(request, player, form)
        made = _make_drill(request, player, asked)
        return drill_on_stand(studio, player, _sheet(made), made.say)

    return see(f"/stands/{await run_in_threadpool(put)}")


def _called(request: Request, player: Player) -> str:
    """What a student is called in the name of a file."""
    return Names(studio_of(request)).student(player.student.id).plain


def _drill_file(request: Request) -> tuple[RenderedSheet, str]:
    player = _player(request, request.query_params)
    asked = _read_drill(request, player, request.query_params)
    name = plain_name(f"{_called(request, player)} {asked.kind.name} {asked.seed}")
    return _make_drill(request, player, asked), name


def _make_drill(request: Request, player: Player, asked: _Drill) -> RenderedSheet:
    say = speech_for(player.student, speech_of(request))
    studio, kind = studio_of(request), asked.kind.name
    return drill_for(studio, player, kind, asked.wishes, asked.seed, say, asked.about)


def _sheet(made: RenderedSheet) -> DrillSheet:
    assert isinstance(made.sheet, DrillSheet)
    return made.sheet


def _asked_drill(request: Request) -> tuple[Player, _Drill, str]:
    player = _player(request, request.query_params)
    try:
        asked = _read_drill(request, player, request.query_params)
    except HandslideError as error:
        kind = request.query_params.get("kind", "")
        drill = DRILLS.get(kind, _FIRST_KIND)
        first = _Drill(drill, first_drill(player), 1, player.horn.id)
        return player, first, told(request, error)
    return player, replace(asked, seed=asked.seed + 1) if _another(request) else asked, ""


def _another(request: Request) -> bool:
    return "another" in request.query_params


def _shown_drill(request: Request, player: Player, asked: _Drill, problem: str) -> dict[str, Any]:
    shown, made = _shown(request, problem, lambda: _make_drill(request, player, asked))
    drones: list[tuple[int, str]] = []
    if made is not None:
        names = speech_about(player.student, speech_of(request)).names
        files = drone_files(_sheet(made))
        drones = [(one.number, note_name(one.note, names)) for one in files if one.played]
    own = {"own_titles": _own_titles(request)}
    wish = {"wish": asked.wishes, "query": asked.query}
    return {"player": player, "asked": asked, **wish, **own, "drones": drones, **shown}


def _own_titles(request: Request) -> dict[str, str]:
    """The titles of the teacher's own exercises by the names of their kinds."""
    return {own_name(row.id): row.title for row in list_exercises(studio_of(request))}


def _read_drill(request: Request, player: Player, values: Mapping[str, Any]) -> _Drill:
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
    return _Drill(kind, wishes, _seed(values), player.horn.id, text_of(values, "about"))


# Lesson sheets.


@dataclass(frozen=True)
class _Lesson:
    stand: int | None
    level: str
    seed: int
    around: bool

    @property
    def query(self) -> str:
        around = {"around": "1"} if self.around else {}
        given = {"stand": self.stand or "", "level": self.level, "seed": self.seed, "set": "1"}
        return urlencode(given | around)


def lesson(request: Request) -> Response:
    """The page of wishes with the lesson sheet beside it."""
    player, asked, problem = _asked_lesson(request)
    return page(
        request,
        "practice/lesson.html",
        stands=_stands(request, player),
        levels=_levels(request),
        **_shown_lesson(request, player, asked, problem),
    )


def lesson_preview(request: Request) -> Response:
    """The lesson sheet beside the wishes, alone."""
    player, asked, problem = _asked_lesson(request)
    shown = _shown_lesson(request, player, asked, problem)
    answer = page(request, "practice/lesson_preview.html", fresh=_another(request), **shown)
    return _followed(answer, shown, f"/practice/{player.student.id}/lesson")


def lesson_pdf(request: Request) -> Response:
    """The printed lesson sheet."""
    player, made, asked = _lesson_file(request)
    name = plain_name(f"{_called(request, player)} lesson {asked.seed}")
    return filed(made.pdf, f"{name}.pdf", PDF, save="save" in request.query_params)


def lesson_picture(request: Request) -> Response:
    """A page of the lesson sheet as a picture."""
    player, made, asked = _lesson_file(request)
    return _picture(request, made, plain_name(f"{_called(request, player)} lesson {asked.seed}"))


def _lesson_file(request: Request) -> tuple[Player, RenderedSheet, _Lesson]:
    player = _player(request)
    asked = _read_lesson(request, player)
    return player, _make_lesson(request, player, asked), asked


def _make_lesson(request: Request, player: Player, asked: _Lesson) -> RenderedSheet:
    if asked.stand is None:
        raise BadUsage("practice.no_part")
    return lesson_for(
        studio_of(request),
        player,
        asked.stand,
        asked.level,
        asked.seed,
        speech_for(player.student, speech_of(request)),
        around=asked.around,
    )


def _asked_lesson(request: Request) -> tuple[Player, _Lesson, str]:
    player = _player(request)
    try:
        asked = _read_lesson(request, player)
    except NotFound:
        raise
    except HandslideError as error:
        first = first_drill(player).level
        return player, _Lesson(None, first, 1, True), told(request, error)
    return player, replace(asked, seed=asked.seed + 1) if _another(request) else asked, ""


def _shown_lesson(request: Request, player: Player, asked: _Lesson, problem: str) -> dict[str, Any]:
    shown: dict[str, Any] = {"problem": "", "pages": [], "size": (1, 1)}
    if asked.stand is not None or problem:
        shown, _ = _shown(request, problem, lambda: _make_lesson(request, player, asked))
    return {"player": player, "asked": asked, "query": asked.query, **shown}


def _read_lesson(request: Request, player: Player) -> _Lesson:
    values = request.query_params
    stand = whole(values.get("stand"))
    if stand is None:
        stand = next((row.id for row in _stands(request, player)), None)
    level = text_of(values, "level") or first_drill(player).level
    return _Lesson(stand, level, _seed(values), "around" in values or "set" not in values)


# Moved parts.


@dataclass(frozen=True)
class _Move:
    stand: int | None
    way: str
    interval: str
    fix: bool

    @property
    def by(self) -> str:
        return ("-" if self.way == "down" else "") + self.interval

    @property
    def query(self) -> str:
        given = {"stand": self.stand or "", "way": self.way, "interval": self.interval}
        return urlencode(given | ({"fix": "1"} if self.fix else {}))


def move(request: Request) -> Response:
    """The page of wishes with what becomes of the part beside it."""
    player, asked = _asked_move(request)
    shown = _shown_move(request, player, asked)
    say = speech_of(request)
    known = dict.fromkeys((*_INTERVALS, asked.interval))
    return page(
        request,
        "practice/move.html",
        stands=_stands(request, player),
        intervals=[(name, _interval_words(say, name)) for name in known],
        **shown,
    )


def move_preview(request: Request) -> Response:
    """What becomes of the part, alone."""
    player, asked = _asked_move(request)
    shown = _shown_move(request, player, asked)
    answer = page(request, "practice/move_preview.html", **shown)
    return _followed(answer, shown, f"/practice/{player.student.id}/move")


def move_pdf(request: Request) -> Response:
    """The moved part, printed."""
    player, asked = _asked_move(request)
    moved = _make_move(request, player, asked)
    name = plain_name(f"{moved.file_stem} {_called(request, player)}")
    return filed(moved.pdf, f"{name}.pdf", PDF, save="save" in request.query_params)


def move_picture(request: Request) -> Response:
    """A page of the moved part as a picture."""
    player, asked = _asked_move(request)
    moved = _make_move(request, player, asked)
    return _picture(request, moved, plain_name(f"{moved.file_stem} {_called(request, player)}"))


async def move_stand(request: Request) -> Response:
    """Keep the moved part and put it on the stand."""
    form = await form_of(request)

    def put() -> int:
        player = _player(request)
        asked = _read_move(request, player, form)
        moved = _make_move(request, player, asked)
        return moved_on_stand(studio_of(request), player, _stand_of(asked), moved)

    return see(f"/stands/{await run_in_threadpool(put)}")


def _make_move(request: Request, player: Player, asked: _Move) -> Moved:
    studio, stand = studio_of(request), _stand_of(asked)
    say = speech_of(request)
    return moved_part(studio, player, stand, asked.by, say, octave_fix=asked.fix)


def _stand_of(asked: _Move) -> int:
    if asked.stand is None:
        raise BadUsage("practice.no_stand")
    return asked.stand


def _asked_move(request: Request) -> tuple[Player, _Move]:
    player = _player(request)
    return player, _read_move(request, player, request.query_params)


def _read_move(request: Request, player: Player, values: Mapping[str, Any]) -> _Move:
    stand = whole(values.get("stand"))
    if stand is None:
        stand = next((row.id for row in _stands(request, player)), None)
    way = "up" if text_of(values, "way") == "up" else "down"
    return _Move(stand, way, text_of(values, "interval") or "P8", bool(text_of(values, "fix")))


def _interval_words(say: Speech, name: str) -> str:
    """An interval to choose; what was typed where it is none."""
    try:
        return interval_size(say, parse_interval(name))
    except BadUsage:
        return name


def _shown_move(request: Request, player: Player, asked: _Move) -> dict[str, Any]:
    moved: Moved | None = None
    shown: dict[str, Any] = {"problem": "", "pages": [], "size": (1, 1)}
    if asked.stand is not None:
        shown, moved = _shown(request, "", lambda: _make_move(request, player, asked))
    say = speech_of(request)
    nearest = []
    for each in moved.ways_out if moved else ():
        there = replace(asked, way="down" if each.semitones < 0 else "up",
                        interval=each.name.lstrip("-"), fix=False)  # fmt: skip
        if each.semitones:
            interval = _interval_words(say, there.interval)
            nearest.append((there.query, say.named("moved_by", there.way, interval=interval)))
        else:
            nearest.append(("", say.named("moved_by", "stay")))
    return {
        "player": player,
        "asked": asked,
        "query": asked.query,
        "moved": moved,
        "done_rows": moved.rows(say) if moved else (),
        "nearest": nearest,
        **shown,
    }


# What all of them share.


def note_choices(request: Request, player: Player) -> list[tuple[str, str]]:
    """(value, name) of the notes that a student can play; names without an octave get one."""
    names = speech_about(player.student, speech_of(request)).names
    return [(pitch.name, note_name(pitch, names)) for pitch in player.notes]


def _player(request: Request, values: Mapping[str, Any] | None = None) -> Player:
    horn = None if values is None else whole(values.get("horn"))
    return player_of(studio_of(request), request.path_params["student_id"], horn)


def _stands(request: Request, player: Player) -> tuple[StandRow, ...]:
    return list_stands(studio_of(request), student_id=player.student.id)


def _levels(request: Request) -> list[tuple[str, str]]:
    say = speech_of(request)
    return [(name, say.capital(level_name(say, name))) for name in LEVELS]


def _seed(values: Mapping[str, Any]) -> int:
    text = text_of(values, "seed") or "1"
    wrong = fact("web.no_seed", text=text[:20], most=_LAST_SEED)
    number = whole(text, wrong)
    if number is None or number > _LAST_SEED:
        raise BadUsage(wrong.kind, **wrong.values)
    return number


_Sheet = TypeVar("_Sheet", RenderedSheet, Moved)


def _shown(
    request: Request, problem: str, make: Callable[[], _Sheet]
) -> tuple[dict[str, Any], _Sheet | None]:
    """The pages of a sheet, or the problem; and the sheet."""
    made, pages, size = None, 0, (1.0, 1.0)
    without: tuple[str, ...] = ()
    if not problem:
        try:
            made = make()
            pages, size = len(made.pictures), made.paper_mm
            if isinstance(made, RenderedSheet):
                without = tuple(map(speech_of(request).fact, made.problems))
        except NotFound:
            raise
        except HandslideError as error:
            problem = told(request, error)
    shown = {"problem": problem, "pages": list(range(1, pages + 1)), "size": size}
    return shown | {"without_music": without}, made


def _picture(request: Request, made: RenderedSheet | Moved, name: str) -> Response:
    number = page_number(request.query_params)
    return filed(made.picture(number), f"{name}-{number}.png", PNG)


def _followed(answer: Response, shown: Mapping[str, Any], path: str) -> Response:
    """The browser's address follows the wishes."""
    if not shown["problem"]:
        answer.headers["HX-Replace-Url"] = f"{path}?{shown['query']}"
    return answer


_HERE = "/practice/{student_id:int}"
routes: list[BaseRoute] = [
    *practiceroom.routes,
    Route(f"{_HERE}/drill", drill),
    Route(f"{_HERE}/drill/preview", drill_preview),
    Route(f"{_HERE}/drill.pdf", as_it_is_made(drill_pdf)),
    Route(f"{_HERE}/drill.musicxml", drill_score),
    Route(f"{_HERE}/drill/page.png", drill_picture),
    Route(f"{_HERE}/drill/drone.{{form:str}}", drill_drone),
    Route(f"{_HERE}/drill/played.{{form:str}}", drill_played),
    Route(f"{_HERE}/drill/stand", drill_stand, methods=["POST"]),
    Route(f"{_HERE}/lesson", lesson),
    Route(f"{_HERE}/lesson/preview", lesson_preview),
    Route(f"{_HERE}/lesson.pdf", as_it_is_made(lesson_pdf)),
    Route(f"{_HERE}/lesson/page.png", lesson_picture),
    Route(f"{_HERE}/move", move),
    Route(f"{_HERE}/move/preview", move_preview),
    Route(f"{_HERE}/move.pdf", as_it_is_made(move_pdf)),
    Route(f"{_HERE}/move/page.png", move_picture),
    Route(f"{_HERE}/move/stand", move_stand, methods=["POST"]),
    *practicesound.routes,
    *ownexercises.routes,
]
