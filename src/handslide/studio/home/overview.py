"""What the first page and a student's page say at a glance: horn, stands, last takes."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby

from handslide.edges.store.horns import HornVersion, StudentHorn
from handslide.edges.store.recordings import number_of_recordings
from handslide.edges.store.stands import StandRow
from handslide.edges.store.students import Student
from handslide.edges.store.takes import (
    NoteRow,
    number_of_takes,
    select_last_takes,
    select_notes,
    select_take_moments,
)
from handslide.ground.errors import HandslideError
from handslide.ground.facts import Fact
from handslide.ground.pitch import Pitch, from_midi
from handslide.instrument.horn import Horn
from handslide.instrument.marks import mark, split_position
from handslide.instrument.markstyle import parse_style
from handslide.instrument.places import Limits, Place, PlaceBook
from handslide.jobs.chart.content import default_range
from handslide.jobs.setup import load_tuned
from handslide.studio.days import local_day, usual_weekday
from handslide.studio.home.signs import sign_of
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.horns import model
from handslide.studio.people.students import get_student, list_horns_of, list_students
from handslide.studio.studio import Studio


@dataclass(frozen=True, slots=True)
class LastTake:
    """A take in short: ``right`` of ``notes`` notes of the part, or, free, ``notes`` heard.

    ``in_place`` are those of the right ones that the slide was in place for.

    ``off_cents``: half of the notes were nearer to their pitch than this; None: no pitch known.
    ``practise`` is the first thing that its report says to practise, if any.
    """

    id: int
    title: str
    recorded_at: str
    free: bool
    right: int
    in_place: int
    notes: int
    off_cents: float | None
    practise: Fact | None = None


@dataclass(frozen=True, slots=True)
class Card:
    """A student at a glance. ``horn`` is the main one, None before there is any.

    ``weekday`` (0: Monday) is the usual one by the days of the takes; ``here_today`` tells whether
    a take was made, or a part put on the stand or changed, today.
    """

    student: Student
    horn: StudentHorn | None
    horns: int
    stands: tuple[StandRow, ...]
    last: LastTake | None
    weekday: int | None = None
    here_today: bool = False

    def days_until(self, today: date) -> int:
        """Days until the student usually comes: 0 for today; 7 where no day is usual."""
        if self.here_today:
            return 0
        return 7 if self.weekday is None else (self.weekday - today.weekday()) % 7


def cards(studio: Studio, *, archived: bool = False) -> tuple[Card, ...]:
    """All students by name with what is theirs: those in lessons, or the archived ones."""
    with studio.store.read() as db:
        moments = select_take_moments(db)
    days: defaultdict[int, set[date]] = defaultdict(set)
    for student_id, moment in moments:
        days[student_id].add(local_day(moment))
    key: Callable[[StandRow], int] = lambda row: row.student_id  # noqa: E731
    ordered = sorted(list_stands(studio), key=key)
    stands = {student: tuple(rows) for student, rows in groupby(ordered, key)}
    return tuple(
        _card(studio, student, stands.get(student.id, ()), days[student.id])
        for student in list_students(studio, archived=archived)
    )


def card_of(studio: Studio, student_id: int) -> Card:
    """One student at a glance. Raises NotFound."""
    student = get_student(studio, student_id)
    return _card(studio, student, list_stands(studio, student_id=student_id))


def _card(
    studio: Studio, student: Student, stands: tuple[StandRow, ...], days: Iterable[date] = ()
) -> Card:
    horns = list_horns_of(studio, student.id)
    takes = last_takes(studio, student.id, 1)
    main = horns[0] if horns else None
    last = takes[0] if takes else None
    today = datetime.now().astimezone().date()
    # The example's parts came onto their stands by themselves.
    moments = [] if student.example else [row.opened_at for row in stands]
    moments += [last.recorded_at] if last else []
    here = any(local_day(moment) == today for moment in moments)
    return Card(student, main, len(horns), stands, last, usual_weekday(days), here)


def last_takes(studio: Studio, student_id: int, most: int) -> tuple[LastTake, ...]:
    """A student's last takes, the newest first."""
    with studio.store.read() as db:
        return tuple(
            _in_short(*take, select_notes(db, take[0]))
            for take in select_last_takes(db, student_id, most)
        )


def count_takes(studio: Studio, student_id: int) -> int:
    """How many takes a student has."""
    with studio.store.read() as db:
        return number_of_takes(db, student_id)


def count_recordings(studio: Studio, student_id: int) -> int:
    """How many recordings of a student are kept."""
    with studio.store.read() as db:
        return number_of_recordings(db, student_id)


def _in_short(
    take_id: int, title: str, recorded_at: str, practise: Fact | None, notes: Sequence[NoteRow]
) -> LastTake:
    played = [note.played for note in notes]
    off = sorted(
        abs(note.cents) for note in notes if note.cents is not None and note.played != "wrong"
    )
    return LastTake(
        take_id,
        title,
        recorded_at,
        free=bool(played) and set(played) == {"free"},
        right=played.count("right"),
        in_place=sum(sign_of(note) == "hit" for note in notes),
        notes=len(played),
        off_cents=off[len(off) // 2] if off else None,
        practise=practise,
    )


# The look of marks.


def mark_examples(version: HornVersion | str, marks: str) -> tuple[tuple[Pitch, str], ...]:
    """(note, mark) of a few places of a horn in a mark style, one for each kind of mark it has.

    ``version`` is a student's horn, or the name of one of ours.

    Raises
    ------
    HornError, BadUsage
        A horn that can't be read, an unknown style.
    """
    horn = (model(version) if isinstance(version, str) else version.description).tuned()
    style = parse_style(marks)
    found: dict[tuple[tuple[str, ...], str], tuple[Pitch, str]] = {}
    for place, midi in _places_of(horn):
        kind = (place.valves, split_position(place.position)[0])
        # A whole position says most where it isn't 1st.
        if kind[1] or place.position > 2.5 or len(place.valves) > 1:
            found.setdefault(kind, (from_midi(midi), mark(horn, place, style)))
    wanted = sorted(found, key=lambda kind: (len(kind[0]), kind[0], kind[1] != "", kind[1] == "½"))
    by_valves = [list(kinds) for _, kinds in groupby(wanted, lambda kind: kind[0])]
    chosen = [kind for kinds in by_valves for kind in (kinds[:1] if len(kinds) < 2 else
              [kinds[0], kinds[-1]])]  # fmt: skip
    return tuple(found[kind] for kind in chosen[:6])


def _places_of(horn: Horn) -> list[tuple[Place, int]]:
    book = PlaceBook(horn, Limits(top_partial=8, top_partial_valve=6))
    low, high = default_range(book)
    places = [(place, midi) for midi in range(low, high + 1) for place in book.places(midi)]
    return sorted(places, key=lambda row: (row[0].alternate, abs(row[0].partial - 4), row[1]))


def readable(horn: StudentHorn) -> Fact | None:
    """None where a horn's newest version can be read, else why not."""
    try:
        load_tuned(horn.version.description, horn.a4_hz, horn.temp_c)
    except HandslideError as error:
        return why_unread(error)
    return None


def why_unread(error: HandslideError) -> Fact:
    """What is wrong with a horn, without the name that the horn has only in here."""
    cause: Fact = error.fact["cause"] if error.fact.kind == "horn.in_file" else error.fact
    return cause
