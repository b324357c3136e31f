"""Practice material of a studio: drill and lesson sheets that start from a student's own ways."""

from collections import Counter
from dataclasses import dataclass, replace
from functools import cached_property

from handslide.drills.exercise import Series
from handslide.drills.keys import tonic_of
from handslide.drills.levels import DEFAULT_LEVEL
from handslide.drills.placed import MOST_PIECES
from handslide.drills.ranges import partial_midi
from handslide.drills.troublespots import TroubleSpot
from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.students import Student
from handslide.edges.typesetting.worksheet import Worksheet, render_worksheet, typeset_worksheet
from handslide.ground.errors import BadUsage, NotFound
from handslide.ground.facts import Fact
from handslide.ground.pitch import Pitch, from_midi
from handslide.instrument.progress.advice import Next, key_of
from handslide.jobs.chart.content import default_clef
from handslide.jobs.practice.drill import DrillSheet, DrillWishes, make_drill
from handslide.jobs.practice.lesson import Lesson, LessonWishes, make_lesson
from handslide.jobs.setup import Setup
from handslide.studio.cache import CacheKind
from handslide.studio.parts.openpart import OpenPart, open_part
from handslide.studio.parts.scores import open_stored
from handslide.studio.parts.stand import get_stand
from handslide.studio.people.students import (
    get_horn,
    get_student,
    list_horns_of,
    main_horn,
    setup_for,
)
from handslide.studio.practice.exercises import kind_of
from handslide.studio.preferences import preferences
from handslide.studio.progress.progress import StudentProgress, progress_of
from handslide.studio.studio import Studio
from handslide.words.speech import Speech

PIECES = (1, 2, 3, 4, 6, 8)
PICTURE_PPI = 120.0
_LOWEST, _HIGHEST = 12, 108
# Sheets with their pictures take about a megabyte each.
_SHEETS: CacheKind[tuple[object, ...], "RenderedSheet"] = CacheKind(12)


@dataclass(frozen=True, eq=False)
class Player:
    """A student with the horn to practise on. ``key`` is all that decides the places."""

    student: Student
    horn: StudentHorn
    horns: tuple[StudentHorn, ...]
    setup: Setup
    paper: str

    @property
    def key(self) -> tuple[object, ...]:
        """Two players with the same key get the same sheets, but for the name on them."""
        student, horn = self.student, self.horn
        return (
            horn.id, horn.version.toml, horn.a4_hz, horn.temp_c,
            student.reach, student.learned, student.profile, student.marks,
        )  # fmt: skip

    @property
    def notes(self) -> tuple[Pitch, ...]:
        """All notes that this student can play on this horn, as they sound, lowest first."""
        book = self.setup.book
        return tuple(from_midi(m) for m in range(_LOWEST, _HIGHEST + 1) if book.places(m))

    @property
    def home(self) -> Pitch:
        """The note of the second partial of the closed horn: B♭2 on a tenor."""
        return from_midi(partial_midi(self.setup.horn, 2))

    @property
    def usual_clef(self) -> str:
        """The clef that this horn is usually read in."""
        return default_clef(self.setup.horn).name


@dataclass(frozen=True, eq=False)
class RenderedSheet:
    """A sheet with its print and its pictures, made when they are asked for; ``say`` speaks."""

    sheet: DrillSheet | Lesson
    say: Speech

    @cached_property
    def _worksheet(self) -> Worksheet:
        return self.sheet.worksheet(self.say)

    @cached_property
    def pdf(self) -> bytes:
        """The printed sheet: the same as the command writes. Raises OutputError."""
        return typeset_worksheet(self._worksheet)

    @cached_property
    def pictures(self) -> tuple[bytes, ...]:
        """A PNG picture of each page. Raises OutputError."""
        return render_worksheet(self._worksheet, ppi=PICTURE_PPI)

    @property
    def problems(self) -> tuple[Fact, ...]:
        """Which of its exercises have no music, and why."""
        return self._worksheet.problems

    def picture(self, number: int) -> bytes:
        """The picture of a page, counted from 1. Raises NotFound."""
        return page_of(self.pictures, number)

    @property
    def paper_mm(self) -> tuple[float, float]:
        """Width and height of its pages."""
        paper = self._worksheet.paper
        return paper.width_mm, paper.height_mm


def page_of(pictures: tuple[bytes, ...], number: int) -> bytes:
    """The picture of a page, counted from 1. Raises NotFound."""
    if not 1 <= number <= len(pictures):
        raise NotFound("practice.no_page", number=number, pages=len(pictures))
    return pictures[number - 1]


def player_of(studio: Studio, student_id: int, horn_id: int | None = None) -> Player:
    """A student with one of the student's horns (default: the main one).

    Raises
    ------
    NotFound
        No such student, or no horn; a horn of somebody else.
    BadData
        A horn that can't be read any more.
    """
    student = get_student(studio, student_id)
    horn = main_horn(studio, student_id) if horn_id is None else get_horn(studio, horn_id)
    if horn.student_id != student_id:
        raise NotFound("practice.no_horn", student=student.name)
    paper = preferences(studio).paper
    horns = list_horns_of(studio, student_id)
    return Player(student, horn, horns, setup_for(student, horn), paper)


def first_level(student: Student) -> str:
    """The level that a student's profile goes with."""
    return "first-year" if student.profile == "beginner" else DEFAULT_LEVEL


def first_drill(player: Player) -> DrillWishes:
    """The wishes that a student's own ways make."""
    student = player.student
    return DrillWishes(
        level=first_level(student), clef=student.clef, paper=player.paper, student=student.name
    )


def keys_to_choose() -> tuple[Pitch, ...]:
    """Tonics to choose from, by the signs of their major keys: from six flats to five sharps."""
    return tuple(tonic_of(fifths) for fifths in range(-6, 6))


def drill_for(
    studio: Studio,
    player: Player,
    kind: str,
    wishes: DrillWishes,
    seed: int,
    say: Speech,
    about: str = "",
) -> RenderedSheet:
    """The sheet of a kind: the same that ``handslide drill`` makes.

    What a kind doesn't have (the key of glissandi) is passed over. Trouble spots come from the
    student's takes, all of them or those of one thing ``about`` (its `GroupProgress.key`).

    A ``kind`` may be the teacher's own (`handslide.studio.practice.exercises.own_name`).

    Raises
    ------
    BadUsage, PitchError
        Wishes that don't fit together, or that leave nothing to play; nothing known to have gone
        wrong.
    BadData, NotFound
        Own exercises that can't be read, or aren't there.
    """
    drill, own = kind_of(studio, kind)
    if not drill.in_key:
        wishes = replace(
            wishes, key=None, scale=None, rhythm=None, articulation=None, valve_register=False
        )
    elif wishes.scale is not None and wishes.scale not in drill.scale_names:
        wishes = replace(wishes, scale=None)
    if drill.from_report:
        sure = faults_for(studio, player, about)
        faults = sure or likely_for(studio, player)
        wishes = replace(wishes, faults=faults, nothing_sure=not sure)
        if not wishes.faults:
            takes = progress_of(studio, player.student.id).takes
            kind = "practice.nothing_sure" if takes else "practice.no_takes"
            raise BadUsage(kind, student=player.student.name)
    return _sheet(studio, player, own or kind, wishes, seed, say)


def own_sheet(studio: Studio, player: Player, series: Series, say: Speech) -> RenderedSheet:
    """All of a teacher's own exercises that are for a student, on one sheet. Raises BadUsage."""
    first = first_drill(player)
    rows = series.at(first.level)
    keys = 2 if any(row.through == "keys" for row in rows) else 1
    pieces = min(MOST_PIECES, max(1, keys * len(rows)))
    return _sheet(studio, player, series, replace(first, pieces=pieces), 1, say)


def _sheet(
    studio: Studio, player: Player, kind: str | Series, wishes: DrillWishes, seed: int, say: Speech
) -> RenderedSheet:
    key = (*player.key, kind, wishes, seed, say)
    return studio.caches.of(_SHEETS).get(
        key, lambda: RenderedSheet(make_drill(player.setup, kind, wishes, seed), say)
    )


def faults_for(studio: Studio, player: Player, about: str = "") -> tuple[TroubleSpot, ...]:
    """What a student should practise next by the takes, worst first: notes in their places.

    Only what is surely weak; none where nothing is. What is asked for by name comes, sure or not.

    ``about``: the `GroupProgress.key` of one thing, whose notes come then; one that isn't among
    what comes next (any more) asks for all.
    """
    report = progress_of(studio, player.student.id)
    for thing in report.next:
        if thing.found.group.key == about:
            return _spots_of(report, thing.found)
    return tuple(spot_of(thing.found) for thing in report.next if thing.found.sure)


def likely_for(studio: Studio, player: Player) -> tuple[TroubleSpot, ...]:
    """What may be weak by the takes, likeliest first: what can be offered where nothing is sure."""
    return tuple(spot_of(thing.found) for thing in progress_of(studio, player.student.id).next)


def spot_of(found: Next) -> TroubleSpot:
    """How something to practise is practised: the note that shows it best."""
    group = found.group
    return TroubleSpot(
        found.midi,
        group.valves,
        group.partial,
        cents=None if group.bias is None else group.bias.value,
        slide_mm=group.slide_mm,
        uncertain_mm=_uncertain_mm(found),
        of_valve=group.kind == "valve",
        position=group.position,
    )


def _uncertain_mm(found: Next) -> float:
    bias, per_cent = found.group.bias, found.group.mm_per_cent
    return 0.0 if bias is None or per_cent is None else bias.half_width * per_cent


def _spots_of(report: StudentProgress, found: Next) -> tuple[TroubleSpot, ...]:
    """The notes of one thing in the places they were played in: what shows it best, then the
    others, those first that were played most often."""
    first = spot_of(found)
    counts = Counter(
        key_of(report.rows[n]) for n in found.group.rows if report.rows[n].partial is not None
    )
    others = [
        replace(first, midi=midi, valves=valves, partial=partial)
        for (midi, valves, partial), _ in sorted(counts.items(), key=lambda row: (-row[1], row[0]))
        if midi != found.midi
    ]
    return (first, *others)


def own_part(studio: Studio, player: Player, stand_id: int) -> OpenPart:
    """The part on a student's stand. Raises NotFound for somebody else's."""
    if get_stand(studio, stand_id).student_id != player.student.id:
        raise NotFound("practice.not_on_stand", student=player.student.name)
    return open_part(studio, stand_id)


def lesson_for(
    studio: Studio,
    player: Player,
    stand_id: int,
    level: str,
    seed: int,
    say: Speech,
    *,
    around: bool = True,
    named: bool = True,
) -> RenderedSheet:
    """The lesson sheet for a part on the stand, with the places chosen there.

    ``around``: with exercises around what goes wrong most, as far as the takes tell. ``named``:
    the student's name stands on it.

    Raises
    ------
    BadUsage, NotFound, ScoreError
        No such level or part.
    """
    part = own_part(studio, player, stand_id)
    own = player_of(studio, player.student.id, part.horn.id)
    faults = faults_for(studio, own) if around else ()
    wishes = LessonWishes(
        level=level,
        part=part.stand.part,
        voice=part.stand.voice,
        small_notes=part.stand.small_notes,
        sounds=part.stand.sounds,
        tempo_qpm=part.stand.tempo_qpm,
        student=own.student.name if named else "",
        title=part.score.title,
        paper=own.paper,
        clef=own.student.clef,
        faults=faults,
        nothing_sure=around and not faults and progress_of(studio, own.student.id).takes > 0,
    )
    locks = tuple(part.locks.items())
    key = (part.key, wishes, locks, seed, say)

    def make() -> RenderedSheet:
        score = open_stored(studio, part.score)
        return RenderedSheet(make_lesson(score, own.setup, wishes, seed, fixed=part.locks), say)

    return studio.caches.of(_SHEETS).get(key, make)
