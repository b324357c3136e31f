"""Parts moved by an interval: what becomes of them, their print, the stand."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.faces.web.forms import form_of
from handslide.faces.web.formvalues import text_of, whole
from handslide.faces.web.making import as_it_is_made
from handslide.faces.web.pages import filed, page, see, speech_of, studio_of
from handslide.faces.web.sheetpages import (
    HERE,
    PDF,
    asked_player,
    called,
    followed,
    picture,
    shown_sheet,
    stands_of,
)
from handslide.ground.errors import BadUsage
from handslide.ground.intervals import parse_interval
from handslide.studio.parts.files import plain_name
from handslide.studio.practice.sheets import (
    Player,
)
from handslide.studio.practice.stand import (
    Moved,
    moved_on_stand,
    moved_part,
)
from handslide.words.intervals import interval_size
from handslide.words.speech import Speech

# Intervals to choose from.
_INTERVALS = (
    "m2", "M2", "m3", "M3", "P4", "d5", "P5", "m6", "M6", "m7", "M7", "P8", "P12", "P15",
)  # fmt: skip


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
        stands=stands_of(request, player),
        intervals=[(name, _interval_words(say, name)) for name in known],
        **shown,
    )


def move_preview(request: Request) -> Response:
    """What becomes of the part, alone."""
    player, asked = _asked_move(request)
    shown = _shown_move(request, player, asked)
    answer = page(request, "practice/move_preview.html", **shown)
    return followed(answer, shown, f"/practice/{player.student.id}/move")


def move_pdf(request: Request) -> Response:
    """The moved part, printed."""
    player, asked = _asked_move(request)
    moved = _make_move(request, player, asked)
    name = plain_name(f"{moved.file_stem} {called(request, player)}")
    return filed(moved.pdf, f"{name}.pdf", PDF, save="save" in request.query_params)


def move_picture(request: Request) -> Response:
    """A page of the moved part as a picture."""
    player, asked = _asked_move(request)
    moved = _make_move(request, player, asked)
    return picture(request, moved, plain_name(f"{moved.file_stem} {called(request, player)}"))


async def move_stand(request: Request) -> Response:
    """Keep the moved part and put it on the stand."""
    form = await form_of(request)

    def put() -> int:
        player = asked_player(request)
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
    player = asked_player(request)
    return player, _read_move(request, player, request.query_params)


def _read_move(request: Request, player: Player, values: Mapping[str, Any]) -> _Move:
    stand = whole(values.get("stand"))
    if stand is None:
        stand = next((row.id for row in stands_of(request, player)), None)
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
        shown, moved = shown_sheet(request, "", lambda: _make_move(request, player, asked))
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


routes: list[BaseRoute] = [
    Route(f"{HERE}/move", move),
    Route(f"{HERE}/move/preview", move_preview),
    Route(f"{HERE}/move.pdf", as_it_is_made(move_pdf)),
    Route(f"{HERE}/move/page.png", move_picture),
    Route(f"{HERE}/move/stand", move_stand, methods=["POST"]),
]
