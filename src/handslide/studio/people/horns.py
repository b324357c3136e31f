"""The horns of students: given, changed, restored, archived.

A horn's values are never overwritten: each change is a version of its own, and any former one can
be put in use again.
"""

import math
from dataclasses import dataclass, replace
from textwrap import wrap

from handslide.edges.files.horns import HORN_FILES, horn_text, read_horn
from handslide.edges.files.hornwriter import horn_toml
from handslide.edges.store.horns import (
    HornVersion,
    StudentHorn,
    insert_horn,
    insert_version,
    update_horn,
    update_horn_archived,
    update_main_horn,
)
from handslide.edges.store.students import Student, StudentValues
from handslide.ground.cleantext import clean_line
from handslide.ground.errors import BadData, HornError
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import NAME_LETTERS, TYPED_BYTES, WORDS_LETTERS
from handslide.ground.pitch import parse_pitch
from handslide.instrument.air import Air
from handslide.instrument.horn import Closed, HornDescription
from handslide.jobs.mark.slideview import slide_drawing
from handslide.jobs.setup import check_bell, load_tuned
from handslide.jobs.tune.hornfile import commented_horn
from handslide.studio.people.hornfacts import closed_text
from handslide.studio.people.students import (
    add_student,
    add_version,
    change_student,
    get_horn,
    get_student,
    list_horns_of,
    list_versions,
)
from handslide.studio.studio import Studio
from handslide.words.horns import horn_title
from handslide.words.speech import Speech, speech

# Versions whose text this studio made itself.
_WRITTEN_HERE = ("edit", "fit", "tuning")
_COMMENT_WIDTH = 96


@dataclass(frozen=True, slots=True)
class HornValues:
    """What can be changed of a horn by hand.

    ``closed`` and ``valves`` (name, closed) are the first partials of the closed tube as typed: a
    note (``Bb1``: the horn is tuned to it) or a frequency in Hz (``58.1``: measured, at
    ``measured_temp_c``). ``temp_c`` is the air in the horn when it is played; None: that of its
    description. ``bell_mm`` is how far out the slide's brace is level with the bell's rim (None:
    not known).
    """

    title: str
    a4_hz: float
    temp_c: float | None
    travel_mm: float
    lip_up_cents: float
    closed: str
    valves: tuple[tuple[str, str], ...]
    measured_temp_c: float = 25.0
    bell_mm: float | None = None


def model(name: str) -> HornDescription:
    """One of our horns, or of the teacher's own, by name; never by a path. Raises HornError."""
    return read_horn(horn_text(name), name)


def models() -> tuple[tuple[str, str | Fact], ...]:
    """All horns that can be given: the name, and what each is called.

    Own ones that can't be read are left out.
    """
    found: list[tuple[str, str | Fact]] = []
    for name in HORN_FILES.known:
        try:
            found.append((name, model(name).called))
        except HornError:
            continue
    return tuple(found)


def model_slides() -> dict[str, str]:
    """The slide of each of `models`, to be drawn: all in one scale where all are as high."""
    return {name: slide_drawing(load_tuned(model(name))) for name, _ in models()}


def enrol(studio: Studio, values: StudentValues, base: str, *, title: str = "") -> Student:
    """A new student with one of our horns: both or, when something isn't possible, neither.

    ``title`` is what the horn is called; empty: what it is built as.

    Raises
    ------
    BadData
        One sentence for the first value that isn't possible.
    """
    with studio.store.write():
        student = add_student(studio, replace(values, learned=None))
        add_horn(studio, student.id, base, title=title)
        return change_student(studio, student.id, values)


def add_horn(
    studio: Studio, student_id: int, base: str, *, title: str = "", a4_hz: float = 440.0
) -> StudentHorn:
    """Give a student one of our horns, or of the teacher's own, by name.

    The first horn of a student is the main one. Raises HornError, NotFound.
    """
    text = horn_text(base)
    return _new_horn(studio, student_id, base, text, "model", title, a4_hz)


def import_horn(
    studio: Studio, student_id: int, data: bytes, file_name: str, *, title: str = ""
) -> StudentHorn:
    """Give a student the horn of a horn file.

    Raises
    ------
    HornError
        When ``data`` isn't the text of a horn file, with the key that is wrong.
    """
    name = clean_line(file_name)[:80] or "horn.toml"
    if len(data) > TYPED_BYTES:
        raise HornError("people.large_horn_file", file=name)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise HornError("people.horn_file_no_text", file=name) from None
    read_horn(text, name)
    base = name.removesuffix(".toml") or "own"
    return _new_horn(studio, student_id, base, text, "import", title, 440.0)


def _new_horn(
    studio: Studio, student_id: int, base: str, toml: str, origin: str, title: str, a4_hz: float
) -> StudentHorn:
    description = read_horn(toml, base)
    title = _title(title or horn_title(speech(), description))
    _check_a4(a4_hz)
    with studio.store.write() as db:
        get_student(studio, student_id)
        main = not list_horns_of(studio, student_id)
        horn_id = insert_horn(db, student_id, title=title, base=base, a4_hz=a4_hz, main=main)
        insert_version(db, horn_id, toml, origin, None)
        return get_horn(studio, horn_id)


def change_horn(studio: Studio, horn_id: int, values: HornValues, words: str = "") -> StudentHorn:
    """Give a horn other values: a new version, the old one stays in its history.

    Title, A4 and the air in the horn belong to the horn as it is played and have no history; where
    nothing else is changed there is no new version. What was measured of partials stays.

    Raises
    ------
    HornError, AirError
        One sentence for the first value that isn't possible.
    """
    title = _title(values.title)
    _check_a4(values.a4_hz)
    if values.temp_c is not None:
        _ = Air(temp_c=values.temp_c).speed_m_s  # raises AirError out of its range
    with studio.store.write() as db:
        horn = get_horn(studio, horn_id)
        now_is = horn.version.description
        wanted = _described(now_is, values)
        text = horn_toml(wanted)
        changed = replace(read_horn(text, title), name=now_is.name)
        changed.tuned(values.a4_hz, Air(temp_c=_air_c(values.temp_c, changed)))
        update_horn(db, horn_id, title=title, a4_hz=values.a4_hz, temp_c=values.temp_c)
        if changed != now_is:
            insert_version(db, horn_id, text, "edit", _as_told(words))
        return get_horn(studio, horn_id)


def _as_told(words: str) -> Fact | None:
    text = clean_line(words)[:WORDS_LETTERS]
    return fact("people.as_told", text=text) if text else None


def _described(horn: HornDescription, values: HornValues) -> HornDescription:
    for number in (values.travel_mm, values.lip_up_cents, values.measured_temp_c):
        if not math.isfinite(number):
            raise HornError("people.not_finite", number=number)
    if values.bell_mm is not None:
        check_bell(values.bell_mm)
    typed = dict(values.valves)
    valves = []
    for valve in horn.valves:
        if valve.name in typed:
            closed = _closed(typed[valve.name], valve.closed, valve.name)
            valve = replace(valve, closed=closed)
        valves.append(valve)
    return replace(
        horn,
        closed=_closed(values.closed, horn.closed),
        travel_m=values.travel_mm / 1000.0,
        lip_up_cents=values.lip_up_cents,
        temp_c=values.measured_temp_c,
        bell_m=None if values.bell_mm is None else values.bell_mm / 1000.0,
        valves=tuple(valves),
    )


def _closed(typed: str, before: Closed, valve: str | None = None) -> Closed:
    text = clean_line(typed).removesuffix("Hz").strip()
    if text == closed_text(before):
        return before  # not rounded to what the form shows
    try:
        hz = float(text.replace(",", "."))
    except ValueError:
        return Closed(pitch=parse_pitch(text))
    if not (math.isfinite(hz) and 15.0 <= hz <= 500.0):
        if valve is None:
            raise HornError("people.closed_outside", hz=text)
        raise HornError("people.valve_closed_outside", valve=valve, hz=text)
    return Closed(hz=hz)


def _title(text: str) -> str:
    title = clean_line(text)
    if not title:
        raise BadData("people.nameless_horn")
    if len(title) > NAME_LETTERS:
        raise BadData("people.long_horn_name", count=len(title), most=NAME_LETTERS)
    return title


def _check_a4(a4_hz: float) -> None:
    if not 380.0 <= a4_hz <= 500.0:
        raise HornError("horn.a4", a4_hz=a4_hz)


def _air_c(temp_c: float | None, description: HornDescription) -> float:
    return description.temp_c if temp_c is None else temp_c


def restore_version(studio: Studio, horn_id: int, number: int) -> HornVersion:
    """Put a former version in use again, as a new version.

    Raises
    ------
    BadData
        When there is no such version, or it is the one in use.
    HornError
        When it can't be read any more.
    """
    with studio.store.write():
        versions = list_versions(studio, get_horn(studio, horn_id).id)
        if versions[0].number == number:
            raise BadData("people.version_in_use", number=number)
        for version in versions:
            if version.number == number:
                return add_version(
                    studio,
                    horn_id,
                    version.toml,
                    "restored",
                    fact("people.restored", number=number),
                )
        raise BadData("people.no_version", number=number, newest=versions[0].number)


def make_main(studio: Studio, horn_id: int) -> StudentHorn:
    """Make a horn the one that its student plays unless another is chosen."""
    with studio.store.write() as db:
        horn = get_horn(studio, horn_id)
        if horn.archived_at is not None:
            raise BadData("people.archived_horn")
        update_main_horn(db, horn.student_id, horn_id)
        return get_horn(studio, horn_id)


def archive_horn(studio: Studio, horn_id: int, *, archived: bool = True) -> StudentHorn:
    """Put a horn into the archive with its history, or take it out.

    The next horn becomes the main one where the main one is archived.

    Raises
    ------
    BadData
        When it is the student's only horn.
    """
    with studio.store.write() as db:
        horn = get_horn(studio, horn_id)
        others = [h.id for h in list_horns_of(studio, horn.student_id) if h.id != horn_id]
        if archived and not others:
            raise BadData("people.only_horn")
        update_horn_archived(db, horn_id, archived=archived)
        if archived and horn.main:
            update_main_horn(db, horn.student_id, others[0])
        elif not archived and (horn.main or not others):
            update_main_horn(db, horn.student_id, horn_id)
        return get_horn(studio, horn_id)


def horn_file(
    horn: StudentHorn, say: Speech, number: int | None = None, *, studio: Studio
) -> tuple[str, bytes]:
    """(file name, bytes) of a version as a horn file that the command line reads.

    ``number`` None is the newest. What the studio wrote gets comments, as ``say`` speaks. Raises
    BadData when there is no such version.
    """
    versions = list_versions(studio, horn.id)
    for version in versions:
        if number is None or version.number == number:
            plain = "".join(c if c.isascii() and c.isalnum() else "-" for c in horn.title.lower())
            stem = "-".join(filter(None, plain.split("-")))[:60] or "horn"
            return f"{stem}-{version.number}.toml", _commented(version, say).encode("utf-8")
    raise BadData("people.no_version", number=number or 0, newest=versions[0].number)


def _commented(version: HornVersion, say: Speech) -> str:
    # What was taken in from a file keeps the comments that it came with, or none.
    if version.origin not in _WRITTEN_HERE or "#" in version.toml:
        return version.toml
    head = [] if version.told is None else wrap(say.fact(version.told), _COMMENT_WIDTH)
    try:
        return commented_horn(version.description, say, head)
    except HornError:
        return version.toml  # who mends it by hand needs it as it is
