"""The example studio: invented students with horns, parts and takes, put in and removed as one.

What the takes hold was heard and followed by the usual jobs (scripts/make_example.py); here it is
only put into the store, with dates counted back from today.
"""

import gzip
import json
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from functools import cache
from importlib import resources
from typing import Any

from handslide.edges.files.factjson import fact_of_json
from handslide.edges.store.examples import begin_earlier, delete_example, has_example_rows
from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.stands import put_locks
from handslide.edges.store.students import StudentValues, number_of_students
from handslide.edges.store.takes import NoteRow
from handslide.studio.parts.scores import add_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import (
    add_student,
    add_version,
    get_horn,
)
from handslide.studio.studio import Studio, get_setting, set_setting
from handslide.studio.takes.takes import save_take

_SEEN = "example_seen"
# The first lesson lies before the first take.
_BEGAN_DAYS_AGO = 45


def has_example(studio: Studio) -> bool:
    """Whether anything of the example is in the studio."""
    with studio.store.read() as db:
        return has_example_rows(db)


def welcome(studio: Studio) -> bool:
    """Put the example into a studio that is opened for the first time; whether that was done.

    Never again after it was there once, and never beside students of the teacher's own.
    """
    with studio.store.read() as db:
        anybody = number_of_students(db) > 0
    if anybody or get_setting(studio, _SEEN, ""):
        return False
    add_example(studio)
    return True


def add_example(studio: Studio) -> None:
    """Put the example into the studio, all of it or nothing; not a second time beside the first."""
    if has_example(studio):
        return
    data = _data()
    with studio.store.write():
        scores = {
            name: add_score(studio, _file(name), name, example=True).score.id
            for name in data["scores"]
        }
        for student in reversed(data["students"]):
            _add_student(studio, student, scores)
        set_setting(studio, _SEEN, "yes")


def remove_example(studio: Studio) -> None:
    """Remove the invented students with all that is theirs, and the example's parts.

    A part that stands on another student's stand, or was played in another's take, stays.
    """
    with studio.store.write() as db:
        delete_example(db)
        set_setting(studio, _SEEN, "yes")


def _add_student(studio: Studio, row: Mapping[str, Any], scores: Mapping[str, int]) -> None:
    values = dict(row["values"])
    if values["learned"] is not None:
        values["learned"] = tuple(values["learned"])
    student = add_student(studio, StudentValues(**values), example=True)
    horns = [_add_horn(studio, student.id, horn) for horn in row["horns"]]
    for stand in reversed(row["stands"]):
        stand_id = open_stand(studio, student.id, scores[stand["score"]])
        with studio.store.write() as db:
            put_locks(db, stand_id, {n: (tuple(v), partial) for n, v, partial in stand["locks"]})
    for take in row["takes"]:
        save_take(
            studio,
            student.id,
            take["report"],
            [_note_row(note) for note in take["notes"]],
            title=take["title"],
            source="example",
            a4_hz=take["a4_hz"],
            length_s=take["length_s"],
            horn_version_id=horns[0].version.id,
            score_id=scores[take["score"]],
            recorded_at=_days_ago(take["days_ago"], take["at"]),
        )
    with studio.store.write() as db:
        begin_earlier(db, student.id, _days_ago(_BEGAN_DAYS_AGO, "16:00"))


def _add_horn(studio: Studio, student_id: int, row: Mapping[str, Any]) -> StudentHorn:
    horn = add_horn(studio, student_id, row["base"], title=row["title"])
    for version in row["versions"]:
        told = version["told"]
        add_version(
            studio,
            horn.id,
            version["toml"],
            version["origin"],
            None if told is None else fact_of_json(told),
        )
    return get_horn(studio, horn.id)


def _note_row(row: Mapping[str, Any]) -> NoteRow:
    valves = row["valves"]
    return NoteRow(**{**row, "valves": None if valves is None else tuple(valves)})


def _days_ago(days: int, at: str) -> str:
    """That day at a local time, in UTC as the store writes it."""
    day = datetime.now().astimezone().date() - timedelta(days=days)
    moment = datetime.fromisoformat(f"{day.isoformat()}T{at}").astimezone(UTC)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


@cache
def _data() -> Any:
    return json.loads(gzip.decompress(_file("studio.json.gz")))


def _file(name: str) -> bytes:
    return (resources.files("handslide") / "data" / "example" / name).read_bytes()
