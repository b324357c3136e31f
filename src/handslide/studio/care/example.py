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

from handslide.edges.store.takes import NoteRow
from handslide.studio.parts.scores import add_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import (
    StudentHorn,
    StudentValues,
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
        found = db.execute(
            "SELECT EXISTS (SELECT 1 FROM student WHERE example = 1) "
            "OR EXISTS (SELECT 1 FROM score WHERE example = 1)"
        ).fetchone()
    return bool(found[0])


def welcome(studio: Studio) -> bool:
    """Put the example into a studio that is opened for the first time; whether that was done.

    Never again after it was there once, and never beside students of the teacher's own.
    """
    with studio.store.read() as db:
        anybody = db.execute("SELECT EXISTS (SELECT 1 FROM student)").fetchone()[0]
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
        db.execute("DELETE FROM student WHERE example = 1")
        db.execute(
            "UPDATE score SET example = 0 WHERE example = 1 AND (id IN (SELECT score_id FROM stand)"
            " OR id IN (SELECT score_id FROM take WHERE score_id IS NOT NULL))"
        )
        db.execute("DELETE FROM score WHERE example = 1")
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
            db.executemany(
                "INSERT INTO stand_lock (stand_id, note, valves, partial) VALUES (?, ?, ?, ?)",
                [(stand_id, note, json.dumps(valves), n) for note, valves, n in stand["locks"]],
            )
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
    _begin_earlier(studio, student.id, _days_ago(_BEGAN_DAYS_AGO, "16:00"))


def _add_horn(studio: Studio, student_id: int, row: Mapping[str, Any]) -> StudentHorn:
    horn = add_horn(studio, student_id, row["base"], title=row["title"])
    for version in row["versions"]:
        add_version(studio, horn.id, version["toml"], version["origin"], version["words"])
    return get_horn(studio, horn.id)


def _begin_earlier(studio: Studio, student_id: int, when: str) -> None:
    with studio.store.write() as db:
        db.execute("UPDATE student SET created_at = ? WHERE id = ?", (when, student_id))
        db.execute("UPDATE horn SET created_at = ? WHERE student_id = ?", (when, student_id))
        db.execute("UPDATE stand SET created_at = ? WHERE student_id = ?", (when, student_id))
        db.execute(
            "UPDATE horn_version SET created_at = ? "
            "WHERE horn_id IN (SELECT id FROM horn WHERE student_id = ?)",
            (when, student_id),
        )


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
