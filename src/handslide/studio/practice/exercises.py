"""Exercises that a teacher wrote: kept in the studio, a kind of drill for every student."""

import json
import re
from dataclasses import replace

from handslide.drills.exercise import Series
from handslide.drills.kinds import DrillKind, drill_kind, own_kind
from handslide.edges.files.exercises import MOST_TITLE, read_series
from handslide.edges.store.connection import Connection
from handslide.edges.store.exercises import (
    ExercisesRow,
    find_exercises,
    insert_exercises,
    select_exercises,
    update_exercises,
    update_exercises_archived,
)
from handslide.ground.cleantext import clean_line
from handslide.ground.errors import BadData, BadUsage, NotFound
from handslide.ground.facts import fact
from handslide.ground.limits import OWN_EXERCISES
from handslide.studio.studio import Studio

_OWN = re.compile(r"own-(\d{1,18})", re.ASCII)


def own_name(exercises_id: int) -> str:
    """The name of the kind of drill that a file of exercises is."""
    return f"own-{exercises_id}"


def kind_of(studio: Studio, name: str) -> tuple[DrillKind, Series | None]:
    """A kind of drill by its name: one of ours, or the teacher's own with its exercises.

    Raises BadUsage, NotFound; BadData for exercises that can't be read any more.
    """
    found = _OWN.fullmatch(name)
    if found is None:
        return drill_kind(name), None
    row = get_exercises(studio, int(found[1]))
    return own_kind(own_name(row.id)), read_series(row.text, row.title)


def list_exercises(studio: Studio, *, archived: bool = False) -> tuple[ExercisesRow, ...]:
    """The teacher's own exercises in use, or those that were put away, by title."""
    with studio.store.read() as db:
        return select_exercises(db, archived=archived)


def get_exercises(studio: Studio, exercises_id: int) -> ExercisesRow:
    """A file of exercises. Raises NotFound."""
    with studio.store.read() as db:
        row = find_exercises(db, exercises_id)
    if row is None:
        raise NotFound("exercises.gone", number=exercises_id)
    return row


def read_own(text: str) -> Series:
    """The exercises of a text. Raises BadData: what is wrong, with the exercise and the bar."""
    try:
        series = read_series(text, "")
    except BadData as error:
        where = {"source": fact("exercises.the_text")}
        raise BadData(error.fact.kind, **{**error.fact.values, **where}) from None
    if not series.title:
        raise BadData("exercises.no_title")
    return replace(series, name=series.title)


def text_of_file(data: bytes, file_name: str) -> str:
    """The text of a file of exercises, with the file's name as title where it has none.

    Raises BadData.
    """
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        raise BadData("exercises.not_text", path=file_name) from None
    if read_series(text, file_name).title:
        return text
    title = clean_line(file_name.removesuffix(".toml"))[:MOST_TITLE] or file_name
    return f"title = {json.dumps(title, ensure_ascii=False)}\n{text}"


def keep_exercises(studio: Studio, text: str, exercises_id: int | None = None) -> int:
    """Keep exercises, new ones or in the place of those with ``exercises_id``; their id.

    Raises BadData, BadUsage, NotFound.
    """
    title = read_own(text).title
    if exercises_id is not None:
        get_exercises(studio, exercises_id)
    with studio.store.write() as db:
        _check_room(db, title, exercises_id)
        if exercises_id is not None:
            update_exercises(db, exercises_id, title, text)
            return exercises_id
        return insert_exercises(db, title, text)


def put_away_exercises(studio: Studio, exercises_id: int, *, away: bool) -> None:
    """Put exercises away, or take them out again. Raises BadUsage, NotFound."""
    row = get_exercises(studio, exercises_id)
    with studio.store.write() as db:
        if not away:
            _check_room(db, row.title, row.id)
        update_exercises_archived(db, row.id, archived=away)


def _check_room(db: Connection, title: str, exercises_id: int | None) -> None:
    others = [row for row in select_exercises(db, archived=False) if row.id != exercises_id]
    if any(row.title == title for row in others):
        raise BadUsage("exercises.same_title", title=title)
    if len(others) >= OWN_EXERCISES:
        raise BadUsage("exercises.many_files", most=OWN_EXERCISES)
