"""Schema version 2: a student's own language, and facts in the place of sentences.

Version 1 kept English sentences: in the reports of takes, in horns of ours and beside each version
of a horn. Here they become facts; what can't be told anew is kept word for word.
"""

import json

from handslide.edges.store.connection import Connection
from handslide.edges.store.oldhorns import horn_of_version_1
from handslide.edges.store.oldreports import report_of_version_1

_STATEMENTS = (
    # NULL: that of the studio.
    "ALTER TABLE student ADD COLUMN language TEXT",
    # What was done to the horn: the JSON of a fact, NULL where nothing is to be said.
    "ALTER TABLE horn_version ADD COLUMN told TEXT",
)


def migrate_to_2(db: Connection) -> None:
    """Make a database of version 1 one of version 2, in the transaction of ``db``."""
    for statement in _STATEMENTS:
        db.execute(statement)
    for row in db.execute(
        "SELECT id, origin, words FROM horn_version WHERE words != ''"
    ).fetchall():
        told = json.dumps(_told(row[1], row[2]), ensure_ascii=False)
        db.execute("UPDATE horn_version SET told = ? WHERE id = ?", (told, row[0]))
    db.execute("ALTER TABLE horn_version DROP COLUMN words")
    for version, toml in db.execute("SELECT id, toml FROM horn_version").fetchall():
        db.execute(
            "UPDATE horn_version SET toml = ? WHERE id = ?", (horn_of_version_1(toml), version)
        )
    # One after the other: a report may be large, and there may be thousands.
    for (take,) in db.execute("SELECT id FROM take ORDER BY id").fetchall():
        (text,) = db.execute("SELECT report FROM take WHERE id = ?", (take,)).fetchone()
        report = json.dumps(report_of_version_1(json.loads(text)), ensure_ascii=False)
        db.execute("UPDATE take SET report = ? WHERE id = ?", (report, take))


def _told(origin: str, words: str) -> dict[str, object]:
    if origin == "restored" and words.isascii() and words.isdecimal():
        return {"kind": "people.restored", "values": {"number": int(words)}}
    return {"kind": "people.as_told", "values": {"text": words}}
