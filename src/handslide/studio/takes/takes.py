"""Takes of a studio: heard, stored, looked at again, deleted.

The sound itself is kept in the store only where the student's consent allows it (`takesound`).
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path, PurePath
from typing import Any, BinaryIO

from handslide.edges.audio.recordings import flac_of
from handslide.edges.musicxml.scorepart import ScorePart
from handslide.edges.store.database import now
from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.stands import Stand, Wish
from handslide.edges.store.takes import (
    NoteRow,
    Take,
    TakeLine,
    find_take,
    insert_take,
    select_notes,
    select_takes,
    update_take_title,
)
from handslide.ground.cleantext import clean_line
from handslide.ground.errors import BadData, BadUsage, NotFound, TakeError
from handslide.ground.facts import fact
from handslide.ground.limits import KEPT_SOUND_BYTES, NAME_LETTERS
from handslide.ground.papers import DEFAULT_PAPER
from handslide.ground.progress import ProgressCallback
from handslide.instrument.places import Place
from handslide.jobs.hear.followed import follow_take
from handslide.jobs.hear.free import free_report, free_rows
from handslide.jobs.hear.listen import listen_file
from handslide.jobs.hear.partreport import part_report, part_rows
from handslide.jobs.hear.report import TakeReport, report_from, report_json
from handslide.jobs.hear.sheet import sheet_pdf
from handslide.jobs.partwishes import PartWishes
from handslide.jobs.setup import Setup
from handslide.sound.notes import HeardTake
from handslide.studio.choosing.versions import learnt_of, setup_with
from handslide.studio.parts.openpart import stored_locks
from handslide.studio.parts.scores import get_score, open_stored
from handslide.studio.parts.stand import get_stand
from handslide.studio.people.namesakes import Names
from handslide.studio.people.students import (
    get_horn,
    get_student,
    main_horn,
    speech_for,
)
from handslide.studio.studio import Studio
from handslide.studio.takes.sound import hold_sound
from handslide.words.speech import Speech

SOURCES = ("microphone", "file", "example")


# Hearing.


@dataclass(frozen=True, slots=True)
class _Played:
    """What a take is laid beside."""

    horn: StudentHorn
    setup: Setup
    stand: Stand | None
    wishes: Mapping[int, Wish]


def hear_take(
    studio: Studio,
    student_id: int,
    audio: Path | BinaryIO,
    *,
    title: str = "",
    source: str = "file",
    stand_id: int | None = None,
    a4_hz: float | None = None,
    recorded_at: str | None = None,
    name: str = "",
    progress: ProgressCallback | None = None,
) -> int:
    """Hear a recording, lay it beside the part on a stand if one is given, store what was heard.

    ``audio`` is a file, or an open one that is called ``name``; ``a4_hz`` None is the horn's;
    ``title`` empty is the part's or the file's; ``recorded_at`` None is now. The stand's route,
    with its locked places, says where the slide should be. Returns the take's id.

    Raises
    ------
    TakeError, BadData, ScoreError, NotFound, BadUsage
        A recording that can't be used, nothing heard, another student's stand. Nothing is stored.
    """
    name = name or (audio.name if isinstance(audio, Path) else "")
    played = _beside(studio, student_id, stand_id, a4_hz)
    called = _checked_title(clean_line(title) or _own_title(studio, played, name))
    a4 = played.setup.horn.a4_hz
    take = listen_file(audio, a4_hz=a4, name=name, closely=True, progress=progress)
    if not take.notes:
        silent = take.nothing == fact("sounds.silent")
        told = name or fact("audio.a_recording")
        raise TakeError("takes.silent" if silent else "takes.no_note", file=told)
    score_id = None if played.stand is None else played.stand.score_id
    report, rows, part = _told(studio, played, take, called)
    sound = flac_of(audio, name, KEPT_SOUND_BYTES)
    take_id = save_take(
        studio,
        student_id,
        report_json(report),
        rows,
        title=called,
        source=source,
        a4_hz=take.a4_hz,
        length_s=take.length_s,
        horn_version_id=played.horn.version.id,
        score_id=score_id,
        part=part,
        recorded_at=recorded_at,
    )
    if sound is not None:
        hold_sound(studio, take_id, sound)
    return take_id


def _beside(studio: Studio, student_id: int, stand_id: int | None, a4_hz: float | None) -> _Played:
    student = get_student(studio, student_id)
    stand = None if stand_id is None else get_stand(studio, stand_id)
    if stand is not None and stand.student_id != student_id:
        raise BadUsage("takes.other_stand", student=student.name)
    horn = main_horn(studio, student_id) if stand is None else get_horn(studio, stand.horn_id)
    if a4_hz is not None:
        horn = replace(horn, a4_hz=a4_hz)
    wishes = {} if stand is None else stored_locks(studio, stand.id)
    learnt = None if stand is None else learnt_of(studio, stand)
    return _Played(horn, setup_with(student, horn, learnt), stand, wishes)


def _own_title(studio: Studio, played: _Played, name: str) -> str:
    if played.stand is not None:
        return Names(studio).on_stand(played.stand.id).name[:NAME_LETTERS]
    return clean_line(PurePath(name).stem)[:NAME_LETTERS]


def _told(
    studio: Studio, played: _Played, take: HeardTake, title: str
) -> tuple[TakeReport, tuple[NoteRow, ...], str | None]:
    """The report, its rows, and the part of the score that it is of."""
    stand = played.stand
    if stand is None:
        return free_report(take, played.setup, title), free_rows(take, played.setup), None
    score = open_stored(studio, get_score(studio, stand.score_id))
    options = PartWishes(
        part=stand.part,
        voice=stand.voice,
        tempo_qpm=stand.tempo_qpm,
        small_notes=stand.small_notes,
        sounds=stand.sounds,
    )
    followed = follow_take(score, take, played.setup, options, _locks_of(played))
    followed = replace(followed, title=title)
    return part_report(followed), part_rows(followed), followed.part.part_id


def _locks_of(played: _Played) -> Callable[[ScorePart], dict[int, Place]]:
    """The stand's locked places as places of this horn; those it hasn't are passed over."""

    def locks(part: ScorePart) -> dict[int, Place]:
        found = {}
        for number, wish in played.wishes.items():
            if number < len(part.notes):
                for place in played.setup.book.places(part.notes[number].sounding.midi):
                    if (place.valves, place.partial) == wish:
                        found[number] = place
        return found

    return locks


# The store.


def save_take(
    studio: Studio,
    student_id: int,
    report: Mapping[str, Any],
    notes: Iterable[NoteRow],
    *,
    title: str,
    source: str,
    a4_hz: float,
    length_s: float,
    horn_version_id: int | None = None,
    score_id: int | None = None,
    part: str | None = None,
    recorded_at: str | None = None,
) -> int:
    """Store a heard take and return its id; ``recorded_at`` (ISO 8601) None is now.

    ``report`` is the JSON (`report_json`) of `part_report` or `free_report`, ``notes`` the rows of
    `part_rows` or `free_rows`, ``part`` the id of the part of the score that it was played from.

    Raises
    ------
    BadData, BadUsage
        A title that is empty or too long, an unknown source, a time that can't be read.
    NotFound
        No such student.
    """
    if source not in SOURCES:
        raise BadUsage("takes.source", source=source, known=", ".join(SOURCES))
    get_student(studio, student_id)
    called, moment = _checked_title(title), _moment(recorded_at)
    with studio.store.write() as db:
        return insert_take(
            db,
            student_id,
            report,
            notes,
            title=called,
            source=source,
            a4_hz=a4_hz,
            length_s=length_s,
            horn_version_id=horn_version_id,
            score_id=score_id,
            part=part,
            recorded_at=moment,
        )


def _checked_title(title: str) -> str:
    called = clean_line(title)
    if not called:
        raise BadData("takes.no_title")
    if len(called) > NAME_LETTERS:
        raise BadData("takes.long_title", most=NAME_LETTERS)
    return called


def _moment(text: str | None) -> str:
    if text is None:
        return now()
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise BadData("takes.not_a_time", text=text) from None
    if moment.tzinfo is None:
        moment = moment.astimezone()
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def get_take(studio: Studio, take_id: int) -> Take:
    """A take. Raises NotFound."""
    with studio.store.read() as db:
        found = find_take(db, take_id)
    if found is None:
        raise NotFound("takes.gone")
    return found


def list_takes(
    studio: Studio, student_id: int | None = None, *, most: int = -1, after: int = 0
) -> tuple[TakeLine, ...]:
    """The takes of a student, or of all who aren't archived, newest first.

    ``most`` of them (-1: all) from the one at ``after`` on, counted from 0.
    """
    with studio.store.read() as db:
        return select_takes(db, student_id, most=most, after=after)


def take_notes(studio: Studio, take_id: int) -> tuple[NoteRow, ...]:
    """The rows of a take, in playing order."""
    with studio.store.read() as db:
        return select_notes(db, take_id)


def rename_take(studio: Studio, take_id: int, title: str) -> None:
    """Give a take another title. Raises BadData, NotFound."""
    called = _checked_title(title)
    get_take(studio, take_id)
    with studio.store.write() as db:
        update_take_title(db, take_id, called)


def take_pdf(studio: Studio, take_id: int, reader: Speech, paper: str = DEFAULT_PAPER) -> bytes:
    """The page for the student, in the student's language; ``reader`` asks for it.

    Raises NotFound, BadData for a report that can't be read.
    """
    take = get_take(studio, take_id)
    student = get_student(studio, take.student_id)
    report = replace(report_from(take.report), title=take.title)
    return sheet_pdf(report, speech_for(student, reader), student.name, paper, stored=True)
