"""Studios as files of each schema version; run as a script, it writes the newest one."""

import json
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

from handslide.edges.store.folders import (
    Seen,
    put_folder,
    put_seen,
    select_files,
    update_file_takes,
    update_taken,
)
from handslide.edges.store.learnt import AgreementRow, Told, insert_learnt, span_of_learnt
from handslide.edges.store.schema import newest_version
from handslide.edges.store.students import StudentValues
from handslide.edges.store.takes import NoteRow
from handslide.studio.parts.scores import add_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student
from handslide.studio.studio import open_studio, set_setting
from handslide.studio.takes.takes import save_take

FOLDER = Path(__file__).parents[1] / "studios"
SCORE = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><work><work-title>{title}</work-title></work>
<part-list><score-part id="P1"><part-name>Trombone</part-name></score-part></part-list>
<part id="P1"><measure number="1"><attributes><divisions>1</divisions>
<time><beats>4</beats><beat-type>4</beat-type></time><clef><sign>F</sign><line>4</line></clef>
</attributes>{notes}</measure></part></score-partwise>
"""
NOTE = (
    "<note><pitch><step>{}</step><octave>3</octave></pitch><duration>1</duration>"
    "<type>quarter</type></note>"
)
# Stands for a recording: the store keeps bytes and doesn't look into them.
SOUND = b"fLaC" + bytes(range(256)) * 40


def small_score(title, steps="FGAF"):
    """A part of one measure."""
    notes = "".join(NOTE.format(step) for step in steps)
    return SCORE.format(title=title, notes=notes).encode()


def small_report(title):
    """A report of a take of one note, as it is stored."""
    return {
        "form": 2, "kind": "part", "title": title, "horn": {"kind": "files.nested"},
        "horn_name": "tenor-f", "a4_hz": 440.0, "summary": [], "doubt": None, "notes": [],
        "habits": [], "practice": [], "left_out": [], "warnings": [], "positions_mm": [["1", 0.0]],
    }  # fmt: skip


def aside(what, after):
    """A part of an edit that is no place."""
    return {"what": what, "before": None, "after": after}


TOLD = Told(1, 3, 1, 1, (AgreementRow("Bb1+1", 12, 9, 11, True),))


def fill(studio, name="Mira Holt", title="Four steps", sound=SOUND):
    """A student with a horn, a stand with a chosen place, a take and its recording; their ids."""
    values = StudentValues(name, consent_note="mother, by letter", keep_recordings=True, reach=6)
    student = add_student(studio, values)
    horn = add_horn(studio, student.id, "tenor-f", title=f"Horn of {name}")
    score = add_score(studio, small_score(title), f"{title}.musicxml").score
    stand = open_stand(studio, student.id, score.id)
    note = NoteRow(
        number=0, measure="1", midi=53, valves=(), partial=4, extension_mm=0.0, mark="1",
        played="right", cents=-3.5, cents_se=0.4, slide_mm=1.5, slide_se_mm=0.2, start_s=0.1,
        end_s=0.9, f0_hz=174.3,
    )  # fmt: skip
    take = save_take(
        studio, student.id, {**small_report(title), "of": name}, [note],
        title=f"{title} by {name}", source="file", a4_hz=440.0, length_s=4.2,
        horn_version_id=horn.version.id, score_id=score.id, part="P1",
    )  # fmt: skip
    with studio.store.write() as db:
        learnt = insert_learnt(db, span_of_learnt(db)[1] + 1, {"": {"turn_per_m": 0.5}}, TOLD)
        db.execute("INSERT INTO stand_lock VALUES (?, 1, '[\"F\"]', 5)", (stand,))
        db.execute(
            "INSERT INTO stand_edit VALUES (?, 1, ?, '2026-11-01T10:00:00.000Z')",
            (stand, json.dumps([[1, None, [["F"], 5]]])),
        )
        db.execute(
            "INSERT INTO stand_edit VALUES (?, 2, ?, '2026-11-01T10:05:00.000Z')",
            (stand, json.dumps([aside("seen_to", 3), aside("learnt", learnt)])),
        )
        db.execute("UPDATE stand SET seen_to = 3, learnt_id = ? WHERE id = ?", (learnt, stand))
        db.execute("INSERT INTO stand_unlearnt VALUES (?, 2)", (stand,))
        db.execute(
            "INSERT INTO answer (stand_id, notes, first, second, picked, made_at) "
            "VALUES (?, '[0, 1]', '[[[], 3], [[], 4]]', '[[[], 3], [[\"F\"], 4]]', 2, "
            "'2026-11-01T10:06:00.000Z')",
            (stand,),
        )
        db.execute(
            "INSERT INTO exercises (title, text, created_at, changed_at) VALUES ('Monday', ?, "
            "'2026-11-01T10:07:00.000Z', '2026-11-01T10:07:00.000Z')",
            ('title = "Monday"\n[[exercise]]\nbars = ["1:4"]\n',),
        )
        db.execute(
            "INSERT INTO plan (id, student_id, start_on, weeks, minutes, level, seed, created_at) "
            "VALUES (?, ?, '2026-11-02', 8, 20, 'first-year', 1, '2026-11-01T10:08:00.000Z')",
            (student.id, student.id),
        )
        db.execute("INSERT INTO plan_tick VALUES (?, 0, 'scale', 1)", (student.id,))
        db.execute("INSERT INTO correction VALUES (?, 'clef', '1.2', 'C4')", (score.id,))
        db.execute(
            "INSERT INTO correction_edit VALUES (?, 1, ?, '2026-11-01T10:00:00.000Z')",
            (score.id, json.dumps([["clef", "1.2", None, "C4"]])),
        )
        db.execute("UPDATE score SET corrections_done = 1 WHERE id = ?", (score.id,))
        db.execute("UPDATE score SET takes = '[\"P1\"]' WHERE id = ?", (score.id,))
        folder = put_folder(db, f"/music/{title}", title, sent=False)
        put_seen(db, folder, [Seen("a/four.mxl", 812, 1_793_520_000_000_000_000, score.digest)])
        (file,) = select_files(db, folder)
        update_file_takes(db, file.id, ["P1"])
        update_taken(db, {file.id: score.digest})
        db.execute("UPDATE stand SET edits_done = 2 WHERE id = ?", (stand,))
        db.execute(
            "INSERT INTO recording VALUES (?, 'audio/flac', ?, '2026-11-01T10:00:00.000Z')",
            (take, sound),
        )
    return {"student": student.id, "horn": horn.id, "score": score.id, "stand": stand, "take": take}


def content(path_or_db):
    """All rows of a studio by table."""
    if isinstance(path_or_db, Path):
        with closing(sqlite3.connect(path_or_db)) as db:
            return content(db)
    tables = path_or_db.execute(
        "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name"
    ).fetchall()
    return {
        name: sorted(map(tuple, path_or_db.execute(f'SELECT * FROM "{name}"')), key=repr)
        for (name,) in map(tuple, tables)
    }


def dump(path):
    """A studio as SQL, with its marks of ownership and version."""
    with closing(sqlite3.connect(path)) as db:
        marks = [
            f"PRAGMA {mark} = {db.execute(f'PRAGMA {mark}').fetchone()[0]};"
            for mark in ("application_id", "user_version")
        ]
        return "\n".join([*db.iterdump(), *marks, ""])


def undump(text, path):
    """The studio of a dump as a file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with closing(sqlite3.connect(path)) as db:
        db.executescript(text)
    return path


def main():
    """Write the studio of the newest schema version; an existing file is kept."""
    import tempfile

    target = FOLDER / f"version-{newest_version()}.sql"
    if target.exists() and "--force" not in sys.argv:
        raise SystemExit(f"{target} exists: a released version isn't written again")
    with tempfile.TemporaryDirectory() as folder:
        studio = open_studio(Path(folder))
        fill(studio)
        set_setting(studio, "language", "de")
        set_setting(studio, "learning", "yes")
        studio.close()
        target.write_text(dump(studio.store.path), encoding="utf-8")


if __name__ == "__main__":
    main()
