"""Students of a studio and their horns, each horn with its history."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from handslide.edges.files.horns import read_horn
from handslide.edges.files.profiles import BY_HORN, PROFILE_FILES
from handslide.edges.store.horns import (
    HornVersion,
    StudentHorn,
    find_horn,
    insert_version,
    select_horns,
    select_versions,
)
from handslide.edges.store.stands import see_no_more
from handslide.edges.store.students import (
    Student,
    StudentValues,
    find_student,
    insert_student,
    select_students,
    update_student,
    update_student_archived,
)
from handslide.ground.cleantext import clean_line, clean_text
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadData, HandslideError, NotFound
from handslide.ground.facts import Fact
from handslide.ground.limits import ABOUT_LETTERS, NAME_LETTERS, WORDS_LETTERS
from handslide.ground.notenames import LANGUAGES
from handslide.instrument.markstyle import SHOWN, parse_style
from handslide.jobs.setup import Setup, make_setup
from handslide.studio.studio import Studio
from handslide.words.catalogues import known, languages
from handslide.words.speech import Speech, speech

ORIGINS = ("model", "edit", "fit", "tuning", "restored", "import")


def get_student(studio: Studio, student_id: int) -> Student:
    """A student. Raises NotFound."""
    with studio.store.read() as db:
        found = find_student(db, student_id)
    if found is None:
        raise NotFound("people.no_student")
    return found


def list_students(studio: Studio, *, archived: bool = False) -> tuple[Student, ...]:
    """All students by name: those in lessons, or the archived ones."""
    with studio.store.read() as db:
        return select_students(db, archived=archived)


def add_student(studio: Studio, values: StudentValues, *, example: bool = False) -> Student:
    """A new student, without a horn as yet.

    Raises
    ------
    BadData
        One sentence for the first value that isn't possible.
    """
    checked = _checked(values)
    with studio.store.write() as db:
        return get_student(studio, insert_student(db, checked, example=example))


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
    checked = _checked(values)
    with studio.store.write() as db:
        before = get_student(studio, student_id)
        learned = _learned(values.learned, valves_of(studio, student_id))
        update_student(db, student_id, replace(checked, learned=learned))
        if (before.reach, before.learned, before.profile) != (
            checked.reach,
            learned,
            checked.profile,
        ):
            see_no_more(db, student_id)  # other places are chosen now
        return get_student(studio, student_id)


def archive_student(studio: Studio, student_id: int, *, archived: bool = True) -> Student:
    """Put a student into the archive, where nothing is lost, or take the student out again."""
    with studio.store.write() as db:
        student = get_student(studio, student_id)
        if archived != (student.archived_at is not None):
            update_student_archived(db, student_id, archived=archived)
        return get_student(studio, student_id)


def profiles() -> tuple[str, ...]:
    """The profiles that a student can have: the horn's, ours, then the teacher's own."""
    return (BY_HORN, *PROFILE_FILES.known)


def valves_of(studio: Studio, student_id: int) -> tuple[str, ...]:
    """The valves of all horns that a student plays, each once, in the horns' order."""
    found: dict[str, None] = {}
    for horn in list_horns_of(studio, student_id):
        try:
            found.update(dict.fromkeys(valve.name for valve in horn.version.description.valves))
        except HandslideError:
            continue  # a horn that can't be read has no valves to learn until it is restored
    return tuple(found)


def _learned(learned: Sequence[str] | None, has: Sequence[str]) -> tuple[str, ...] | None:
    for valve in learned or ():
        if valve not in has:
            raise BadData("people.no_valve", valve=valve, has=tuple(has))
    if learned is None or set(learned) >= set(has):
        return None
    return tuple(valve for valve in has if valve in learned)


def _checked(values: StudentValues) -> StudentValues:
    """The values as they are stored. Raises BadData."""
    name, about = clean_line(values.name), clean_text(values.about)
    if not name:
        raise BadData("people.nameless")
    if len(name) > NAME_LETTERS:
        raise BadData("people.long_name", count=len(name), most=NAME_LETTERS)
    if len(about) > ABOUT_LETTERS:
        raise BadData("people.long_note", count=len(about), most=ABOUT_LETTERS)
    if values.reach is not None and not 1.0 <= values.reach <= 12.0:
        raise BadData("horn.reach", reach=values.reach)
    parse_style(values.marks)
    for kind, value, allowed in (
        ("people.no_clef", values.clef or "bass", tuple(CLEFS)),
        ("people.no_naming", values.names, ("", *LANGUAGES)),
        ("people.no_profile", values.profile, profiles()),
        ("people.no_choice", values.show, SHOWN),
    ):
        if value not in allowed:
            raise BadData(kind, value=value, allowed=", ".join(filter(None, allowed)))
    if values.language and not known(values.language):
        there = ", ".join(languages())
        raise BadData("people.no_language", value=values.language, allowed=there)
    consent, agreed_on = _consent(values)
    return replace(
        values,
        name=name,
        about=about,
        clef=values.clef or None,
        language=values.language or None,
        consent_note=consent,
        consent_on=agreed_on,
    )


def _consent(values: StudentValues) -> tuple[str | None, str | None]:
    note = clean_line(values.consent_note or "")[:WORDS_LETTERS] or None
    if note is None:
        if values.keep_recordings:
            raise BadData("people.no_consent")
        return None, None
    today = date.today()
    try:
        day = date.fromisoformat(values.consent_on) if values.consent_on else today
    except ValueError:
        raise BadData("people.no_day", text=values.consent_on, example=today.isoformat()) from None
    if day > today:
        raise BadData("people.consent_to_come", day=day.isoformat())
    return note, day.isoformat()


def get_horn(studio: Studio, horn_id: int) -> StudentHorn:
    """A student's horn in its newest version. Raises NotFound."""
    with studio.store.read() as db:
        found = find_horn(db, horn_id)
    if found is None:
        raise NotFound("people.no_horn")
    return found


def list_horns_of(
    studio: Studio, student_id: int, *, archived: bool = False
) -> tuple[StudentHorn, ...]:
    """A student's horns, the main one first."""
    with studio.store.read() as db:
        return select_horns(db, student_id, archived=archived)


def main_horn(studio: Studio, student_id: int) -> StudentHorn:
    """The horn that a student plays unless another is chosen. Raises NotFound."""
    horns = list_horns_of(studio, student_id)
    if not horns:
        raise NotFound("people.without_horn")
    return horns[0]


def list_versions(studio: Studio, horn_id: int) -> tuple[HornVersion, ...]:
    """All versions of a horn, the newest first."""
    with studio.store.read() as db:
        return select_versions(db, horn_id)


def add_version(
    studio: Studio, horn_id: int, toml: str, origin: str, told: Fact | None = None
) -> HornVersion:
    """Put a new version of a horn in use; the former ones stay in its history.

    ``toml`` is the text of a horn file, ``origin`` one of ``ORIGINS``, ``told`` says what was done.

    Raises
    ------
    HornError
        When the text doesn't describe a horn.
    NotFound
        When there is no such horn.
    """
    if origin not in ORIGINS:
        raise BadData("people.no_origin", value=origin, allowed=", ".join(ORIGINS))
    horn = get_horn(studio, horn_id)
    read_horn(toml, horn.title)
    with studio.store.write() as db:
        return insert_version(db, horn_id, toml, origin, told)


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
    """How all that is printed for a student speaks: notes are named as the student knows them.

    ``reader`` is who asks for it. Where the student has no language of their own, it is the
    reader's: the page that asks speaks the studio's.
    """
    if student.language is None:
        return speech_about(student, reader)
    return speech(student.language, student.names or None, reader.face)


def speech_about(student: Student, reader: Speech) -> Speech:
    """How a reader is told of a student's music: notes are named as the student knows them."""
    return reader.naming(student.names or None)
