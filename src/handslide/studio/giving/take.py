"""A take's report as one file for the student; the recording itself only with consent."""

from dataclasses import dataclass, replace
from io import BytesIO

from handslide.edges.store.takes import Take
from handslide.ground.errors import BadUsage
from handslide.jobs.handout.take import take_handout
from handslide.jobs.hear.report import report_from
from handslide.jobs.setup import Setup
from handslide.studio.giving.give import (
    GiveWishes,
    about_bytes,
    give_name,
    give_speech,
    given,
    names_student,
)
from handslide.studio.parts.files import StandFile
from handslide.studio.parts.openpart import OpenPart
from handslide.studio.people.students import get_student
from handslide.studio.studio import Studio
from handslide.studio.takes.onmusic import part_of_take
from handslide.studio.takes.sound import sound_bytes, sound_facts
from handslide.words.speech import Speech

# MP3 of 64 kbit/s, as it is written inside of a page.
_SOUND_BPS = 8000 * 4 / 3


@dataclass(frozen=True, slots=True)
class TakeToGive:
    """What the file of a take will hold, as `Gift`; ``sound``: there is a recording to give."""

    lines: tuple[str, ...]
    size_bytes: int
    name: str
    slips: tuple[str, ...]
    sound: bool
    count: int


def _part(studio: Studio, take: Take) -> OpenPart:
    part = part_of_take(studio, take, report_from(take.report))
    if part is None:
        raise BadUsage("handout.take")
    return part


def setup_for_take(studio: Studio, take: Take) -> Setup:
    """The horn and player of the part that a take followed. Raises BadUsage."""
    return _part(studio, take).routed.setup


def take_to_give(
    studio: Studio, take: Take, wishes: GiveWishes, reader: Speech, *, recording: bool
) -> TakeToGive:
    """What is told of a take's file before it is made. Raises BadUsage."""
    part, student = _part(studio, take), get_student(studio, take.student_id)
    report = report_from(take.report)
    sound = sound_facts(studio, take.id) is not None
    more = round(_SOUND_BPS * take.length_s) if recording and sound else 0
    count = sum(not note.outside for note in report.notes)
    horn = reader.fact(report.horn)
    return TakeToGive(
        (horn,),
        about_bytes(count, more),
        give_name(studio, take.title, student, wishes),
        () if wishes.named else names_student(student, take.title, part.marked.part.name, horn),
        sound,
        count,
    )


def give_take(
    studio: Studio,
    take: Take,
    wishes: GiveWishes,
    reader: Speech,
    *,
    recording: bool = False,
    consent: bool = False,
) -> StandFile:
    """The file of a take. Raises BadUsage, NotFound, TakeError, ScoreError."""
    if recording and not consent:
        raise BadUsage("handout.unticked")
    part, student = _part(studio, take), get_student(studio, take.student_id)
    options = replace(part.marked.options, student=student.name if wishes.named else "")
    sound = None
    if recording:
        facts = sound_facts(studio, take.id)
        if facts is None:
            raise BadUsage("takes.sound_gone")
        sound = BytesIO(sound_bytes(studio, take.id, 0, facts.size))
    report = replace(report_from(take.report), title=take.title)
    made = take_handout(
        replace(part.marked, options=options), report, give_speech(student, wishes, reader),
        wishes.handout(), recording=sound, consent=consent,
    )  # fmt: skip
    return given(made.data, give_name(studio, take.title, student, wishes))
