"""The choices on stands as examples: a pure function of what is stored.

A place that was locked is a change, wherever it stands; up to where the teacher has looked every
other note was let stand.
"""

import contextlib
import hashlib
from collections.abc import Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

from handslide.edges.musicxml.read import open_score_data
from handslide.edges.musicxml.scorepart import ScorePart
from handslide.edges.store.database import FILE_NAME
from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.learnt import (
    AnswerRow,
    LearntRow,
    select_answers,
    select_choice_counts,
    select_unlearnt,
)
from handslide.edges.store.stands import Stand as StandRow
from handslide.edges.store.stands import Wish, select_locks
from handslide.edges.store.students import Student
from handslide.ground.errors import BadUsage, HandslideError
from handslide.ground.limits import LEARNT_PARTS
from handslide.instrument.learning.example import (
    Answer,
    ChosenNote,
    Example,
    Examples,
    How,
    Question,
    Stand,
)
from handslide.instrument.places import Place
from handslide.jobs.mark.existing import route_keeping
from handslide.jobs.profile.examplenotes import plain_notes
from handslide.studio.choosing.consent import collects
from handslide.studio.choosing.versions import learnt_of, setup_with
from handslide.studio.parts.openpart import lay_on_stand, locks_in_force
from handslide.studio.parts.reading import read_pdf_part, reading_key, score_data
from handslide.studio.parts.scores import get_score
from handslide.studio.parts.stand import get_stand
from handslide.studio.people.students import get_horn, get_student
from handslide.studio.studio import Studio, open_studio, studio_folder


def stand_key(stand_id: int) -> str:
    """What names a stand's example."""
    return f"stand:{stand_id}"


def stand_of_key(key: str) -> int | None:
    """The stand that a key names, None for another."""
    room, _, number = key.partition(":")
    return int(number) if room == "stand" and number.isascii() and number.isdecimal() else None


@dataclass(frozen=True)
class Source:
    """All that a stand's example is made of.

    ``reading`` names what its score reads as, and stands for ``data`` until that is asked for.
    """

    stand: StandRow
    student: Student
    horn: StudentHorn
    title: str
    learnt: LearntRow | None
    locks: Mapping[int, Wish]
    unlearnt: frozenset[int]
    reading: str
    file_name: str = ""
    data: bytes = b""

    @property
    def seal(self) -> str:
        """The same for the same example, and only then."""
        stand = replace(self.stand, opened_at="", edits_done=0)
        student = replace(self.student, name="", about="", consent_note=None, consent_on=None)
        locks, unlearnt = sorted(self.locks.items()), sorted(self.unlearnt)
        told = stand, student, self.horn, self.title, self.learnt, locks, unlearnt, self.reading
        return hashlib.sha256(repr(told).encode()).hexdigest()


def read_sources(studio: Studio) -> tuple[Source, ...]:
    """What the examples are made of: the stands with choices, of the many the last ones.

    One that was taken off meanwhile is left out.
    """
    with studio.store.read() as db:
        stands = [row.stand_id for row in select_choice_counts(db)]
    found = []
    for stand_id in stands[-LEARNT_PARTS:]:
        with contextlib.suppress(HandslideError):
            found.append(read_source(studio, stand_id))
    return tuple(found)


def read_source(studio: Studio, stand_id: int) -> Source:
    """What the example of a stand is made of, without its file. Raises NotFound."""
    stand = get_stand(studio, stand_id)
    score = get_score(studio, stand.score_id)
    with studio.store.read() as db:
        locks, unlearnt = select_locks(db, stand_id), select_unlearnt(db, stand_id)
    student, horn = get_student(studio, stand.student_id), get_horn(studio, stand.horn_id)
    return Source(
        stand, student, horn, score.title, learnt_of(studio, stand), locks, unlearnt,
        reading_key(studio, score),
    )  # fmt: skip


def with_file(studio: Studio, source: Source) -> Source:
    """What an example is made of with its score as MusicXML. Raises NotFound, ScoreError."""
    score = get_score(studio, source.stand.score_id)
    if score.pdf:
        data = read_pdf_part(studio, score).musicxml
        return replace(source, file_name="part.musicxml", data=data)
    return replace(source, file_name=score.file_name, data=score_data(studio, score.id))


def with_files(studio: Studio, sources: Iterable[Source]) -> tuple[Source, ...]:
    """The same of several; one whose part can't be read any more is left out."""
    found = []
    for source in sources:
        with contextlib.suppress(HandslideError):
            found.append(with_file(studio, source))
    return tuple(found)


def example_of(source: Source) -> Example:
    """The example of a stand, also where nothing was chosen. Raises ScoreError, HornError."""
    setup = setup_with(source.student, source.horn, source.learnt)
    score = open_score_data(source.data, source.file_name)
    part, existing, prepared = lay_on_stand(score, source.stand, setup)
    locks = locks_in_force(prepared, source.locks)
    routed = route_keeping(prepared, existing.readings, locks)[0]
    has = {valve.name for valve in setup.horn.valves}
    learned = source.student.learned
    stand = Stand(
        source.horn.description,
        a4_hz=source.horn.a4_hz,
        temp_c=source.horn.temp_c,
        reach=source.student.reach,
        learned=None if learned is None else tuple(name for name in learned if name in has),
    )
    notes = _chosen(part, routed.places, locks.keys(), source)
    return Example(stand_key(source.stand.id), source.title, stand, notes)


def _chosen(
    part: ScorePart, places: Mapping[int, Place], locked: Iterable[int], source: Source
) -> tuple[ChosenNote, ...]:
    seen_to = -1 if source.stand.seen_to is None else source.stand.seen_to
    changed = set(locked) - source.unlearnt
    # A lock that isn't learnt from says nothing of what was let stand either.
    kept = set(range(seen_to + 1)) - set(locked) - source.unlearnt
    rows = []
    for note in plain_notes(part):
        place = places.get(note.number)
        if place is not None and note.number in changed | kept:
            how: How = "changed" if note.number in changed else "kept"
            note = replace(note, how=how, places=((place.valves, place.partial),))
        rows.append(note)
    return tuple(rows)


def examples_of(sources: Iterable[Source], answered: Iterable[AnswerRow]) -> Examples:
    """The examples of these stands, and the answers that were given about them.

    A stand whose part or horn can't be read any more is left out.
    """
    made: dict[int, Example] = {}
    for source in sources:
        try:
            made[source.stand.id] = example_of(source)
        except HandslideError:
            continue
    found = (_answer(made[row.stand_id], row) for row in answered if row.stand_id in made)
    return Examples(
        tuple(one for one in made.values() if any(note.how is not None for note in one.notes)),
        tuple(one for one in found if one is not None),
    )


def _answer(example: Example, row: AnswerRow) -> Answer | None:
    """An answer anew; None where the part has no such notes any more."""
    by_number = {note.number: note for note in example.notes}
    if any(number not in by_number for number in row.notes):
        return None
    notes = tuple(replace(by_number[number], how=None, places=()) for number in row.notes)
    begins = notes[0].number == example.notes[0].number
    asked = Question(
        example.key, example.title, example.stand, notes, begins, row.first, row.second
    )
    return Answer(asked, row.picked)


def studio_examples(studio: Studio) -> Examples:
    """All that a studio's teacher chose. Raises BadUsage without his yes."""
    if not collects(studio):
        raise BadUsage("learning.no_consent")
    with studio.store.read() as db:
        answered = select_answers(db)
    return examples_of(with_files(studio, read_sources(studio)), answered)


def stand_example(studio: Studio, stand_id: int) -> Example:
    """The part on a stand as an example, whatever was chosen there.

    Raises NotFound, ScoreError, HornError.
    """
    return example_of(with_file(studio, read_source(studio, stand_id)))


def folder_examples(folder: Path | None) -> Examples:
    """The examples of the studio in a folder (None: the user's). Raises StoreError, BadUsage."""
    if not (studio_folder(folder) / FILE_NAME).is_file():
        raise BadUsage("learning.no_studio", path=str(studio_folder(folder)))
    with closing(open_studio(folder)) as studio:
        return studio_examples(studio)
