"""A lesson sheet: one PDF with a warm-up, the week's drills, a part's hard spots, a log to tick."""

import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from handslide.drills import warmup
from handslide.drills.finish import finished
from handslide.drills.kinds import DRILLS, EVERY_WEEK, FIRST_IN_TURN, IN_TURN
from handslide.drills.levels import DEFAULT_LEVEL, FIRST_YEAR, Level, level_of
from handslide.drills.piece import Piece
from handslide.drills.ranges import limited
from handslide.drills.rhythms import beat_of
from handslide.drills.signs import signature_shift
from handslide.drills.troublespots import TroubleSpot
from handslide.edges.engraving.engrave import Paper, paper_named
from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.files.plainfile import is_same
from handslide.edges.musicxml.read import Score, open_score
from handslide.edges.typesetting.worksheet import (
    Exercise,
    Group,
    PracticeLog,
    Worksheet,
    engrave_exercise,
    typeset_worksheet,
)
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadUsage, OutputError
from handslide.ground.facts import Fact, fact
from handslide.ground.papers import DEFAULT_PAPER
from handslide.instrument.marks import UNPLAYABLE
from handslide.instrument.places import Place
from handslide.jobs.mark.excerpts import Excerpt, Spot, cut_spot, excerpts_of
from handslide.jobs.mark.mark import MarkedPart, MarkOptions, choose_for
from handslide.jobs.mark.report import Found
from handslide.jobs.mark.routed import setup_json
from handslide.jobs.partwishes import read_wished
from handslide.jobs.practice.drill import (
    DrillSheet,
    DrillWishes,
    at_level,
    legend_of,
    make_drill,
)
from handslide.jobs.practice.drilldrones import NONE, drone_paths, write_drones
from handslide.jobs.practice.goals import goal_qpm, tempo_steps
from handslide.jobs.practice.ladders import hardest, ladder_to
from handslide.jobs.practice.music import (
    MarkedPiece,
    clef_for,
    clef_note,
    engraved_exercise,
    mark_pieces,
    without_music,
)
from handslide.jobs.practice.ossia import Ossia, ossia_of, spots_beyond
from handslide.jobs.practice.unplayable import Unplayable
from handslide.jobs.setup import Setup
from handslide.words.cautions import OVERUSE
from handslide.words.drills import instruction, sheet_line
from handslide.words.horns import horn_line, limits_line
from handslide.words.practice import (
    DAYS,
    HARD_SPOTS_OF,
    HOW_TO_LOG,
    HOW_TO_OSSIA,
    HOW_TO_PRACTISE_SPOTS,
    LESSON_TITLE,
    LOG,
    MINUTES,
    NOT_AS_WRITTEN,
    NOTES,
    NOTHING_SURE,
    OF_TEMPO,
    TEMPO_REACHED,
    THIS_WEEK,
    WARM_UP,
    WHAT,
    WHOLE_PART,
    student_line,
)
from handslide.words.speech import Speech

MOST_DRILLS = 4


@dataclass(frozen=True, slots=True)
class LessonWishes:
    """What is asked for. ``faults`` come from a report; ``drills`` None lets the seed choose.

    ``ladders``: so many of the hardest spots get a ladder.
    ``title`` is printed instead of the part's own. ``nothing_sure``: takes were asked what goes
    wrong, and nothing is sure yet.
    """

    level: str = DEFAULT_LEVEL
    part: str | None = None
    voice: str | None = None
    small_notes: bool = False
    sounds: str | None = None
    tempo_qpm: float = 80.0
    student: str = ""
    title: str = ""
    paper: str = DEFAULT_PAPER
    clef: str | None = None
    drills: tuple[str, ...] | None = None
    faults: tuple[TroubleSpot, ...] = ()
    nothing_sure: bool = False
    ladders: int = 1


@dataclass(frozen=True, eq=False)
class Lesson:
    """All that is on a lesson sheet. ``marked`` is the part, routed as a whole
    within the limits of the level."""

    setup: Setup
    wishes: LessonWishes
    level: Level
    seed: int
    marked: MarkedPart
    warmup: tuple[MarkedPiece, ...]
    drills: tuple[DrillSheet, ...]
    excerpts: tuple[Excerpt, ...]

    def title(self, say: Speech) -> str:
        """What stands at the top."""
        return say(LESSON_TITLE, title=self.marked.title)

    @property
    def week(self) -> tuple[MarkedPiece, ...]:
        """The exercises of all drills."""
        return tuple(one for sheet in self.drills for one in sheet.pieces)

    @property
    def numbered(self) -> tuple[tuple[int, MarkedPiece], ...]:
        """The exercises with their numbers; those of the part's hard spots come after them."""
        return tuple(enumerate((*self.warmup, *self.week), 1))

    def pdf(self, say: Speech, paper: str | None = None) -> bytes:
        """The printed sheet. Raises BadUsage, OutputError."""
        return typeset_worksheet(self.worksheet(say, paper))

    def worksheet(self, say: Speech, paper: str | None = None) -> Worksheet:
        """The engraved sheet before it is set."""
        page = paper_named(paper or self.wishes.paper)
        groups = tuple(group for group in self._groups(say, page) if group.exercises)
        return replace(self.frame(say), groups=groups, paper=page)

    def frame(self, say: Speech) -> Worksheet:
        """What stands on the sheet round its exercises."""
        places: set[Place] = set().union(
            *(one.places for one in self.warmup),
            *(sheet.places for sheet in self.drills),
            *(one.places for one in (*self.excerpts, *self.beyond)),
            *(ossia.places for ossia in self._shown_ossias),
        )
        limits = limits_line(say, self.setup.horn, self.setup.book.limits)
        return Worksheet(
            title=self.title(say),
            subtitle=sheet_line(say, self.level.name, self.seed),
            student_line=student_line(say, self.wishes.student, limits),
            horn_line=horn_line(say, self.setup.horn),
            groups=(),
            legend=legend_of(
                say,
                self.setup,
                frozenset(places),
                unplayable=any(
                    UNPLAYABLE in one.marks.values() for one in (*self.excerpts, *self.beyond)
                ),
            ),
            paper=paper_named(self.wishes.paper),
            language=say.language.code,
            log=self.log(say),
            cautions=(say(OVERUSE),),
            room=say(NOTES),
            notices=tuple(say.sentence(say.fact(told)) for told in self.unplayable.facts()),
        )

    def _groups(self, say: Speech, page: Paper) -> tuple[Group, ...]:
        """Warm-up, the week's drills and the part's hard spots, numbered through."""
        count = _Counter()
        first = tuple(one.exercise(count.next(), page, say) for one in self.warmup)
        week = tuple(one.exercise(count.next(), page, say) for one in self.week)
        spots = tuple(
            row for one in self.excerpts for row in self._rungs(one, count.next(), page, say)
        )
        beyond = tuple(self._exercise(one, count.next(), page, say) for one in self.beyond)
        exercises = (first, week, spots, beyond)
        return tuple(Group(*head, rows) for head, rows in zip(self.headings(say), exercises))

    def headings(self, say: Speech) -> tuple[tuple[str, str], ...]:
        """What stands over warm-up, drills, hard spots and what can't be played, and a note."""
        clef = clef_note(say, clef_for(self.setup, self.wishes.clef))
        return (
            (say(WARM_UP), clef),
            (say(THIS_WEEK), say(NOTHING_SURE) if self.wishes.nothing_sure else ""),
            (say(HARD_SPOTS_OF, title=self.marked.title), say(HOW_TO_PRACTISE_SPOTS)),
            (say(NOT_AS_WRITTEN), say(HOW_TO_OSSIA)),
        )

    @cached_property
    def beyond(self) -> tuple[Excerpt, ...]:
        """Measures outside the hard spots for whose notes there is something to play instead."""
        spots = spots_beyond(self.marked, [one.spot for one in self.excerpts])
        return tuple(cut_spot(self.marked, spot) for spot in spots if self.ossia(spot) is not None)

    def ossia(self, spot: Spot) -> Ossia | None:
        """What can be played in a spot instead of notes that can't."""
        key = spot.first, spot.last
        if key not in self._ossias:
            self._ossias[key] = ossia_of(self.marked, *key)
        return self._ossias[key]

    @property
    def _shown_ossias(self) -> tuple[Ossia, ...]:
        found = (self.ossia(one.spot) for one in (*self.excerpts, *self.beyond))
        return tuple(one for one in found if one is not None)

    @cached_property
    def _ossias(self) -> dict[tuple[int, int], Ossia | None]:
        return {}

    @cached_property
    def ladders(self) -> Mapping[int, tuple[MarkedPiece, ...]]:
        """The steps to the hardest spots, by the first measure of the spot."""
        found = {}
        usual = clef_for(self.setup, self.wishes.clef)
        for one in hardest(self.excerpts, self.wishes.ladders):
            _, steps = self.tempos(one)
            if steps:
                found[one.spot.first] = ladder_to(self.marked, one, float(steps[0]), usual)
        return found

    def _rungs(self, one: Excerpt, number: str, page: Paper, say: Speech) -> Iterator[Exercise]:
        """An excerpt, and the steps to it."""
        yield self._exercise(one, number, page, say)
        for count, step in enumerate(self.ladders.get(one.spot.first, ()), 1):
            yield step.exercise(f"{number}.{count}", page, say)

    def tempos(self, one: Excerpt) -> tuple[float | None, tuple[int, ...]]:
        """The tempo of an excerpt to reach this week (None: it has none), and the steps to it."""
        own = one.tempo_qpm
        if own is None:
            return None, ()
        goal = goal_qpm(self.marked, one.spot, own, self.level)
        return goal, tempo_steps(self.marked, one.spot, own, goal)

    def told(self, one: Excerpt) -> tuple[Fact, ...]:
        """What is said of an excerpt: its tempos, then why it is hard."""
        goal, _ = self.tempos(one)
        if goal is None or one.tempo_qpm is None:
            return one.instruction
        slower = round(goal) < round(one.tempo_qpm)
        kind = "practice.goal" if slower else "practice.goal_own"
        return (fact(kind, goal_qpm=goal, own_qpm=one.tempo_qpm), *one.instruction)

    def _exercise(self, one: Excerpt, number: str, paper: Paper, say: Speech) -> Exercise:
        made = engraved_exercise(
            say,
            number,
            say.fact(one.title),
            instruction(say, self.told(one)),
            lambda: engrave_exercise(
                one.cut, one.cut.part_id, one.marks, paper, one.staff, one.hidden, across=True
            ),
        )
        made = replace(made, steps=tuple(f"♩ = {step}" for step in self.tempos(one)[1]))
        ossia = self.ossia(one.spot)
        if ossia is None:
            return made
        engraving = engrave_exercise(
            ossia.marked.score,
            ossia.marked.part.part_id,
            ossia.marks,
            paper,
            ossia.marked.part.staff,
            across=True,
            ossia=True,
        )
        return replace(made, ossia=engraving.pages, ossia_text=say.sentence(say.fact(ossia.told)))

    @cached_property
    def unplayable(self) -> Unplayable:
        """What of the part can't be played at this level."""
        return Unplayable(self.setup, self.level, self.marked)

    def log(self, say: Speech) -> PracticeLog:
        """The practice log: a row for each exercise, a tick for each day."""
        count = _Counter()
        rows = [
            (count.next(), one.title(say), _of_tempo(say, tempo_of(one.piece)))
            for one in (*self.warmup, *self.week)
        ]
        rows += [
            (count.next(), say.fact(one.title), _of_tempo(say, _tempo(self.tempos(one)[0])))
            for one in self.excerpts
        ]
        rows.append(("", say(WHOLE_PART, title=self.marked.title), ""))
        return PracticeLog(
            heading=say(LOG),
            note=say(HOW_TO_LOG),
            what=say(WHAT),
            days=tuple(map(say, DAYS)),
            reached=say(TEMPO_REACHED),
            rows=tuple(rows),
            minutes=say(MINUTES),
        )

    @property
    def found(self) -> tuple[Found, ...]:
        """What was read in doubt of the part: how it sounds."""
        return tuple(row for row in self.marked.found if row.kind == "transpose")

    def json(self, say: Speech) -> dict[str, Any]:
        """JSON of ``handslide lesson``, but for its warnings."""
        return {
            **setup_json(say, self.setup),
            "title": self.title(say),
            "level": self.level.name,
            "seed": self.seed,
            "unplayable": self.unplayable.json(say),
            "nothing_sure": self.wishes.nothing_sure,
            "warmup": [one.json(say) for one in self.warmup],
            "drills": [sheet.json(say) for sheet in self.drills],
            "ossias": [
                {
                    "first_measure_index": one.first,
                    "last_measure_index": one.last,
                    "text": say.sentence(say.fact(one.told)),
                    "notes": [{"note": old.name, "instead": new.name} for old, new in one.changed],
                }
                for one in self._shown_ossias
            ],
            "excerpts": [
                {
                    "title": say.fact(one.title),
                    "text": instruction(say, self.told(one)),
                    "tempo_qpm": one.tempo_qpm,
                    "goal_qpm": self.tempos(one)[0],
                    "tempo_steps": list(self.tempos(one)[1]),
                    "ladder": [step.json(say) for step in self.ladders.get(one.spot.first, ())],
                    "first_measure_index": one.spot.first,
                    "last_measure_index": one.spot.last,
                }
                for one in self.excerpts
            ],
        }


class _Counter:
    def __init__(self) -> None:
        self.number = 0

    def next(self) -> str:
        self.number += 1
        return str(self.number)


def tempo_of(piece: Piece) -> str:
    """The metronome mark of a piece, by what its meter beats."""
    if beat_of(piece.meter) == 1:
        return _tempo(piece.tempo_qpm)
    return f"♩. = {piece.tempo_qpm / float(beat_of(piece.meter)):.0f}"


def _tempo(qpm: float | None) -> str:
    return "" if qpm is None else f"♩ = {qpm:.0f}"


def _of_tempo(say: Speech, tempo: str) -> str:
    return say(OF_TEMPO, tempo=tempo) if tempo else ""


def make_lesson(
    score: Score,
    setup: Setup,
    wishes: LessonWishes | None = None,
    seed: int = 1,
    *,
    fixed: Mapping[int, Place] | None = None,
) -> Lesson:
    """Make a lesson sheet for a part of an open score; the same seed makes the same sheet.

    ``fixed`` are places of the part that are settled before, as in :func:`choose_for`.

    Raises
    ------
    ScoreError
        No such part or voice, nothing to play.
    BadUsage
        No such level, kind of drill, clef or paper.
    """
    wishes = wishes or LessonWishes()
    level = level_of(wishes.level)
    paper_named(wishes.paper)
    clef = clef_for(setup, wishes.clef)
    options = MarkOptions(
        part=wishes.part,
        voice=wishes.voice,
        tempo_qpm=wishes.tempo_qpm,
        small_notes=wishes.small_notes,
        sounds=wishes.sounds,
        title=wishes.title,
    )
    marked = choose_for(score, _leveled(score, setup, level, options, fixed), options, fixed=fixed)
    rng = random.Random(f"lesson {seed}")
    leveled = at_level(setup, level)
    up = CLEFS[clef]
    shift = signature_shift(up.letters_up, up.semitones_up)
    warm = finished(warmup.make(leveled, level, rng), level, rng, shift)
    first = mark_pieces(leveled, warm, clef)
    drills = _week(setup, wishes, seed, rng)
    return Lesson(setup, wishes, level, seed, marked, first, drills, excerpts_of(marked))


def _leveled(
    score: Score,
    setup: Setup,
    level: Level,
    options: MarkOptions,
    fixed: Mapping[int, Place] | None,
) -> Setup:
    """The setup for the part: within the level, and with the places that the teacher fixed.

    What a place costs stays as it is, so that the marks are those of the whole part.
    """
    book = limited(setup.book, level)
    if fixed:
        part = read_wished(score, options)
        pitches = [note.sounding.midi for note in part.notes]
        book = book.with_places((pitches[n], place) for n, place in fixed.items())
    return replace(setup, book=book)


def _week(
    setup: Setup, wishes: LessonWishes, seed: int, rng: random.Random
) -> tuple[DrillSheet, ...]:
    """The drills of a week: those asked for, else what this horn and student have, in turn."""
    asked = DrillWishes(
        level=wishes.level, clef=wishes.clef, paper=wishes.paper, pieces=1, faults=wishes.faults
    )
    if wishes.drills is not None:
        return tuple(make_drill(setup, kind, asked, seed) for kind in wishes.drills)
    kinds = list(IN_TURN)
    if level_of(wishes.level).name == FIRST_YEAR:
        kinds = [*FIRST_IN_TURN, *(("register",) if setup.book.limits.learned else ())]
    rng.shuffle(kinds)
    spots = [kind.name for kind in DRILLS.values() if kind.from_report and wishes.faults]
    kinds = [*spots, *EVERY_WEEK, *kinds]
    found: list[DrillSheet] = []
    for kind in kinds:
        if len(found) == MOST_DRILLS:
            break
        # What the report found has more room than all else.
        more = replace(asked, pieces=3) if kind in spots else asked
        try:
            found.append(make_drill(setup, kind, more, seed))
        except BadUsage:
            # This horn, level or reach has no such thing: the next kind takes its place.
            continue
    return tuple(found)


def sheet_beside(path: Path) -> Path:
    """Where the lesson sheet of a score file is written if nobody says where."""
    return path.with_name(f"{path.stem}-lesson.pdf")


def lesson_file(
    path: Path,
    setup: Setup,
    wishes: LessonWishes,
    say: Speech,
    *,
    seed: int = 1,
    target: Path | None = None,
    drones: str | None = NONE,
    force: bool = False,
) -> tuple[Lesson, list[Path], tuple[Found, ...]]:
    """Make the lesson sheet of a score file and write it: to ``target``, or beside the file, and
    beside the sheet its ``drones``, in a form as `drone_paths` has it.

    Gives the lesson, the files and the warnings: an exercise that can't be engraved stands on the
    sheet without its music, and is named.

    Raises
    ------
    ScoreError, BadUsage
        As :func:`make_lesson`, or when the file can't be opened.
    OutputError
        When the sheet exists already (unless ``force``) or can't be written.
    """
    pdf = target or sheet_beside(path)
    if pdf.suffix.lower() != ".pdf":
        raise BadUsage("practice.not_a_pdf", file=str(pdf))
    if is_same(pdf, path):
        raise OutputError("practice.original", file=str(pdf))
    check_free(pdf, force=force)
    lesson = make_lesson(open_score(path), setup, wishes, seed)
    sounds = drone_paths(lesson, pdf.stem, pdf.parent, drones, force=force)
    sheet = lesson.worksheet(say)
    write_result(pdf, typeset_worksheet(sheet), force=force)
    write_drones(lesson, pdf.stem, sounds, force=force)
    return lesson, [pdf, *sounds], (*lesson.found, *without_music(sheet))
