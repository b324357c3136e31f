"""Students of a studio and their horns, each horn with its history."""

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from handslide.edges.files.horns import PROFILES, read_horn
from handslide.edges.files.userfolder import user_files
from handslide.edges.store.database import now
from handslide.ground.cleantext import tidy_line, tidy_text
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadData, HandslideError, HornError, NotFound
from handslide.ground.notenames import LANGUAGES
from handslide.instrument.horn import HornDescription
from handslide.instrument.marks import parse_style
from handslide.jobs.mark.mark import SHOWN
from handslide.jobs.setup import Setup, make_setup
from handslide.studio.studio import Studio
from handslide.words.speech import Speech, speech

ORIGINS = ("model", "edit", "fit", "tuning", "restored", "import")
MOST_NAME = 200
_MOST_ABOUT = 4000
_MOST_WORDS = 500


@dataclass(frozen=True, slots=True)
class Student:
    """A student as stored; ``learned`` None: all valves; ``clef`` None: the horn's usual one."""

    id: int
    name: str
    about: str
    reach: float | None
    learned: tuple[str, ...] | None
    clef: str | None
    names: str
    marks: str
    profile: str
    show: str
    consent_note: str | None
    consent_on: str | None
    keep_recordings: bool
    example: bool
    archived_at: str | None
    created_at: str
    uid: str


@dataclass(frozen=True, slots=True)
class StudentValues:
    """What a teacher says of a student; the same meanings as in ``Student``.

    ``consent_note`` says who agreed to recordings, and how; ``consent_on`` is that day as
    YYYY-MM-DD (None: today, where there is a note).
    """

    name: str
    about: str = ""
    reach: float | None = None
    learned: tuple[str, ...] | None = None
    clef: str | None = None
    names: str = "english"
    marks: str = ""
    profile: str = "classical"
    show: str = "all"
    consent_note: str | None = None
    consent_on: str | None = None
    keep_recordings: bool = False


@dataclass(frozen=True, slots=True)
class HornVersion:
    """One version of a student's horn. ``origin``: how it came to be; ``words``: in words."""

    id: int
    horn_id: int
    number: int
    toml: str
    origin: str
    words: str
    created_at: str

    @property
    def description(self) -> HornDescription:
        """The horn that it describes."""
        return _parsed(self.toml, horn_name(self.horn_id))


@dataclass(frozen=True, slots=True)
class StudentHorn:
    """A student's horn in its newest ``version``."""

    id: int
    student_id: int
    title: str
    base: str
    a4_hz: float
    temp_c: float | None
    main: bool
    archived_at: str | None
    created_at: str
    version: HornVersion

    @property
    def description(self) -> HornDescription:
        """The horn in its newest version. Raises HornError, which says what to do."""
        try:
            return self.version.description
        except HornError as error:
            reason = str(error).removeprefix(f"{horn_name(self.id)}: ")
            raise HornError(
                f"the horn {self.title!r} can't be read any more: open it on the student's page "
                f"and use a former version again, or add another ({reason})"
            ) from None


def horn_name(horn_id: int) -> str:
    """The name by which errors and JSON call a student's horn."""
    return f"horn-{horn_id}"


@lru_cache(maxsize=256)
def _parsed(toml: str, name: str) -> HornDescription:
    return read_horn(toml, name)


def get_student(studio: Studio, student_id: int) -> Student:
    """A student. Raises NotFound."""
    with studio.store.read() as db:
        row = db.execute("SELECT * FROM student WHERE id = ?", (student_id,)).fetchone()
    if row is None:
        raise NotFound("this student isn't in the studio (any more)")
    return _student(row)


def list_students(studio: Studio, *, archived: bool = False) -> tuple[Student, ...]:
    """All students by name: those in lessons, or the archived ones."""
    kept = "NOT NULL" if archived else "NULL"
    with studio.store.read() as db:
        rows = db.execute(
            f"SELECT * FROM student WHERE archived_at IS {kept} ORDER BY name COLLATE NOCASE, id"
        ).fetchall()
    return tuple(_student(row) for row in rows)


def add_student(studio: Studio, values: StudentValues, *, example: bool = False) -> Student:
    """A new student, without a horn as yet.

    Raises
    ------
    BadData
        One sentence for the first value that isn't possible.
    """
    row = _checked(values)
    with studio.store.write() as db:
        names = [*row, "example", "created_at"]
        done = db.execute(
            f"INSERT INTO student ({', '.join(names)}) VALUES ({', '.join('?' * len(names))})",
            (*row.values(), int(example), now()),
        )
        return get_student(studio, int(done.lastrowid or 0))


def change_student(studio: Studio, student_id: int, values: StudentValues) -> Student:
    """Give a student other values. All valves of the horns learned is kept as None.

    Raises
    ------
    BadData
        One sentence for the first value that isn't possible, or a valve that no horn of the
        student's has.
    NotFound
        When there is no such student.
    """
    row = _checked(values)
    with studio.store.write() as db:
        get_student(studio, student_id)
        row["learned"] = _learned(values.learned, valves_of(studio, student_id))
        sets = ", ".join(f"{key} = ?" for key in row)
        db.execute(f"UPDATE student SET {sets} WHERE id = ?", (*row.values(), student_id))
        return get_student(studio, student_id)


def archive_student(studio: Studio, student_id: int, *, archived: bool = True) -> Student:
    """Put a student into the archive, where nothing is lost, or take the student out again."""
    with studio.store.write() as db:
        student = get_student(studio, student_id)
        if archived != (student.archived_at is not None):
            when = now() if archived else None
            db.execute("UPDATE student SET archived_at = ? WHERE id = ?", (when, student_id))
        return get_student(studio, student_id)


def profiles() -> tuple[str, ...]:
    """The names of the profiles that a student can have: ours, then the teacher's own."""
    return (*PROFILES, *(name for name in user_files("profiles") if name not in PROFILES))


def valves_of(studio: Studio, student_id: int) -> tuple[str, ...]:
    """The valves of all horns that a student plays, each once, in the horns' order."""
    found: dict[str, None] = {}
    for horn in list_horns_of(studio, student_id):
        try:
            found.update(dict.fromkeys(valve.name for valve in horn.version.description.valves))
        except HandslideError:
            continue  # a horn that can't be read has no valves to learn until it is restored
    return tuple(found)


def _learned(learned: Sequence[str] | None, has: Sequence[str]) -> str | None:
    for valve in learned or ():
        if valve not in has:
            there = ", ".join(has) or "none"
            raise BadData(f"no horn of this student has a valve {valve!r} (its valves: {there})")
    if learned is None or set(learned) >= set(has):
        return None
    return json.dumps([valve for valve in has if valve in learned])


def _checked(values: StudentValues) -> dict[str, str | float | int | None]:
    """The columns of a student. Raises BadData."""
    name, about = tidy_line(values.name), tidy_text(values.about)
    if not name:
        raise BadData("a student needs a name: type the one you call the student by")
    if len(name) > MOST_NAME:
        raise BadData(f"the name has {len(name)} letters: at most {MOST_NAME} fit on a sheet")
    if len(about) > _MOST_ABOUT:
        raise BadData(f"the note has {len(about)} letters: at most {_MOST_ABOUT} are kept")
    if values.reach is not None and not 1.0 <= values.reach <= 12.0:
        raise BadData(
            f"a reach of {values.reach:g} isn't a position: give 1 to 12, such as 6 or 5.5"
        )
    parse_style(values.marks)
    for what, value, allowed in (
        ("clef", values.clef or "bass", tuple(CLEFS)),
        ("way to name notes", values.names, LANGUAGES),
        ("profile", values.profile, profiles()),
        ("choice of marks", values.show, SHOWN),
    ):
        if value not in allowed:
            raise BadData(f"{value!r} isn't a {what}: there are {', '.join(allowed)}")
    consent, agreed_on = _consent(values)
    return {
        "name": name, "about": about, "reach": values.reach,
        "learned": None if values.learned is None else json.dumps(list(values.learned)),
        "clef": values.clef or None, "names": values.names, "marks": values.marks,
        "profile": values.profile, "show": values.show, "consent_note": consent,
        "consent_on": agreed_on, "keep_recordings": int(values.keep_recordings),
    }  # fmt: skip


def _consent(values: StudentValues) -> tuple[str | None, str | None]:
    note = tidy_line(values.consent_note or "")[:_MOST_WORDS] or None
    if note is None:
        if values.keep_recordings:
            raise BadData(
                "recordings are kept only with a note of who agreed to it, and how: fill it in, "
                "or leave recordings off"
            )
        return None, None
    today = date.today()
    try:
        day = date.fromisoformat(values.consent_on) if values.consent_on else today
    except ValueError:
        raise BadData(
            f"{values.consent_on!r} isn't a day: write it as {today.isoformat()}"
        ) from None
    if day > today:
        raise BadData(f"the consent is dated {day.isoformat()}, which is still to come")
    return note, day.isoformat()


def get_horn(studio: Studio, horn_id: int) -> StudentHorn:
    """A student's horn in its newest version. Raises NotFound."""
    with studio.store.read() as db:
        row = db.execute("SELECT * FROM horn WHERE id = ?", (horn_id,)).fetchone()
        if row is None:
            raise NotFound("this horn isn't in the studio (any more)")
        return _horn(row, _newest(db, horn_id))


def list_horns_of(
    studio: Studio, student_id: int, *, archived: bool = False
) -> tuple[StudentHorn, ...]:
    """A student's horns, the main one first."""
    kept = "NOT NULL" if archived else "NULL"
    with studio.store.read() as db:
        rows = db.execute(
            f"SELECT * FROM horn WHERE student_id = ? AND archived_at IS {kept} "
            "ORDER BY main DESC, id",
            (student_id,),
        ).fetchall()
        return tuple(_horn(row, _newest(db, row["id"])) for row in rows)


def main_horn(studio: Studio, student_id: int) -> StudentHorn:
    """The horn that a student plays unless another is chosen. Raises NotFound."""
    horns = list_horns_of(studio, student_id)
    if not horns:
        raise NotFound("this student has no horn yet: give one first")
    return horns[0]


def list_versions(studio: Studio, horn_id: int) -> tuple[HornVersion, ...]:
    """All versions of a horn, the newest first."""
    with studio.store.read() as db:
        rows = db.execute(
            "SELECT * FROM horn_version WHERE horn_id = ? ORDER BY number DESC", (horn_id,)
        ).fetchall()
    return tuple(HornVersion(**dict(row)) for row in rows)


def add_version(
    studio: Studio, horn_id: int, toml: str, origin: str, words: str = ""
) -> HornVersion:
    """Put a new version of a horn in use; the former ones stay in its history.

    ``toml`` is the text of a horn file, ``origin`` one of ``ORIGINS``, ``words`` say what was done.

    Raises
    ------
    HornError
        When the text doesn't describe a horn.
    NotFound
        When there is no such horn.
    """
    if origin not in ORIGINS:
        raise BadData(f"{origin!r} isn't an origin of a horn: {', '.join(ORIGINS)}")
    horn = get_horn(studio, horn_id)
    read_horn(toml, horn.title)
    with studio.store.write() as db:
        insert_version(db, horn_id, toml, origin, words)
        return HornVersion(**dict(_newest(db, horn_id)))


def insert_version(
    db: sqlite3.Connection, horn_id: int, toml: str, origin: str, words: str
) -> None:
    """The next version of a horn, unchecked, in the transaction of ``db``."""
    db.execute(
        "INSERT INTO horn_version (horn_id, number, toml, origin, words, created_at) "
        "VALUES (?, (SELECT coalesce(max(number), 0) + 1 FROM horn_version "
        "WHERE horn_id = ?), ?, ?, ?, ?)",
        (horn_id, horn_id, toml, origin, words.strip()[:_MOST_WORDS], now()),
    )


def setup_for(student: Student, horn: StudentHorn) -> Setup:
    """The setup of a student with a horn. Learned valves that this horn lacks are passed over."""
    description = horn.description
    has = {valve.name for valve in description.valves}
    learned = student.learned
    return make_setup(
        description,
        a4_hz=horn.a4_hz,
        temp_c=horn.temp_c,
        reach=student.reach,
        learned=None if learned is None else [name for name in learned if name in has],
        profile=student.profile,
        marks=student.marks,
    )


def speech_for(student: Student, reader: Speech) -> Speech:
    """How everything printed for a student speaks: notes are named as the student knows them.

    ``reader`` is who asks for it: the student's language is that of the studio, which is the
    reader's unless one was chosen.
    """
    return speech(reader.language.code, student.names)


def _newest(db: sqlite3.Connection, horn_id: int) -> sqlite3.Row:
    row: sqlite3.Row = db.execute(
        "SELECT * FROM horn_version WHERE horn_id = ? ORDER BY number DESC LIMIT 1", (horn_id,)
    ).fetchone()
    return row


def _student(row: sqlite3.Row) -> Student:
    keys = {key: row[key] for key in row.keys()}  # noqa: SIM118 (a Row iterates over values)
    learned: Sequence[str] | None = None if row["learned"] is None else json.loads(row["learned"])
    keys["learned"] = None if learned is None else tuple(learned)
    keys["keep_recordings"] = bool(row["keep_recordings"])
    keys["example"] = bool(row["example"])
    return Student(**keys)


def _horn(row: sqlite3.Row, version: sqlite3.Row) -> StudentHorn:
    keys = {key: row[key] for key in row.keys()}  # noqa: SIM118
    keys["main"] = bool(row["main"])
    return StudentHorn(**keys, version=HornVersion(**dict(version)))
