"""The first line of what can be practised, as it looks when it is made."""

from collections.abc import Callable

from handslide.ground.errors import BadUsage
from handslide.ground.limits import OPEN_SHEETS_BYTES
from handslide.jobs.mark.mark import MarkedPart
from handslide.jobs.mark.opening import opening_of
from handslide.jobs.practice.drill import DrillSheet
from handslide.studio.cache import CacheKind
from handslide.studio.home.strips import ROOMS
from handslide.studio.practice.plans import StudentPlan, week_scale
from handslide.studio.practice.sheets import Player, drill_for, first_drill
from handslide.studio.practice.stand import moved_part
from handslide.studio.studio import Studio
from handslide.words.speech import Speech

OCTAVE_DOWN = "-P8"
_LINES: CacheKind[tuple[object, ...], str] = CacheKind(400, len, OPEN_SHEETS_BYTES)


def drill_strip(studio: Studio, player: Player, kind: str, say: Speech, width: str) -> str:
    """The first exercise of a kind's first sheet as an SVG element, in one of the ROOMS.

    Raises
    ------
    BadUsage, ScoreError
        As :func:`drill_for`; an exercise that can't be engraved.
    """
    made = drill_for(studio, player, kind, first_drill(player), 1, say).sheet
    assert isinstance(made, DrillSheet)
    # Trouble spots follow the takes, so the music itself tells one line from another.
    marked = made.pieces[0].marked
    return _line(studio, lambda: marked, width, (*player.key, kind, made.wishes))


def moved_strip(studio: Studio, player: Player, stand_id: int, say: Speech, width: str) -> str:
    """The first line of a part, an octave down. Raises as :func:`moved_part`, and ScoreError."""
    moved = moved_part(studio, player, stand_id, OCTAVE_DOWN, say)
    marked = moved.transposed.marked
    return _line(studio, lambda: marked, width, (*player.key, stand_id, moved.data))


def week_strip(studio: Studio, plan: StudentPlan, week: int, day: int | None, width: str) -> str:
    """The scale of a week of a plan, or of one of its days. Raises as `week_scale`, and
    ScoreError."""
    key = (*plan.player.key, plan.player.student.clef, plan.row, week, day)
    return _line(studio, lambda: week_scale(plan, week, day), width, key)


def _line(
    studio: Studio, marked: Callable[[], MarkedPart], width: str, key: tuple[object, ...]
) -> str:
    if width not in ROOMS:
        raise BadUsage("web.width", name=width, known=", ".join(ROOMS))
    lines = studio.caches.of(_LINES)
    return lines.get((key, width), lambda: opening_of(marked(), ROOMS[width]).svg)
