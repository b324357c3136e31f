"""A lesson sheet: one PDF with a warm-up, the week's drills, a part's hard spots, a log to tick."""

import random
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from handslide.drills import warmup
from handslide.drills.levels import DEFAULT_LEVEL, Level, level_of
from handslide.drills.piece import Piece
from handslide.drills.rhythms import beat_of
from handslide.drills.troublespots import WorstNote
from handslide.edges.engraving.engrave import Paper, paper_named
from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.musicxml.read import Score, open_score
from handslide.edges.typesetting.worksheet import (
    Exercise,
    Group,
    PracticeLog,
    Worksheet,
    engrave_exercise,
    typeset_worksheet,
    warned,
)
from handslide.ground.errors import BadUsage, OutputError
from handslide.ground.papers import DEFAULT_PAPER
from handslide.instrument.places import Place
from handslide.jobs.mark.excerpts import Excerpt, excerpts_of
from handslide.jobs.mark.mark import MarkedPart, MarkOptions, choose_for
from handslide.jobs.mark.routed import setup_json
from handslide.jobs.practice.drill import (
    DrillSheet,
    DrillWishes,
    at_level,
    legend_of,
    make_drill,
    student_line,
)
from handslide.jobs.practice.music import (
    CAUTION,
    MarkedPiece,
    clef_for,
    clef_note,
    mark_pieces,
)
from handslide.jobs.setup import Setup
from handslide.words.speech import speech

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
# What a week has, by what there is to say about a student; each once, as long as there is room.
_WEEK = (
    "worst",
    "scales",
    "arpeggios",
    "register",
    "alternates",
    "accuracy",
    "intonation",
    "slurs",
)
MOST_DRILLS = 4


@dataclass(frozen=True, slots=True)
class LessonWishes:
    """What is asked for. ``faults`` come from a report; ``drills`` None lets the seed choose.

    ``title`` is printed instead of the part's own.
    """

    level: str = DEFAULT_LEVEL
    part: str | None = None
    voice: str | None = None
    tempo_qpm: float = 80.0
    student: str = ""
    title: str = ""
    paper: str = DEFAULT_PAPER
    clef: str | None = None
    drills: tuple[str, ...] | None = None
    faults: tuple[WorstNote, ...] = ()


@dataclass(frozen=True, eq=False)
class Lesson:
    """All that is on a lesson sheet. ``marked`` is the part, routed as a whole."""

    setup: Setup
    wishes: LessonWishes
    level: Level
    seed: int
    marked: MarkedPart
    warmup: tuple[MarkedPiece, ...]
    drills: tuple[DrillSheet, ...]
    excerpts: tuple[Excerpt, ...]

    @property
    def title(self) -> str:
        """What stands at the top."""
        return f"Lesson sheet: {self.marked.title}"

    def pdf(self, paper: str | None = None) -> bytes:
        """The printed sheet. Raises BadUsage, ScoreError, OutputError."""
        return typeset_worksheet(self.worksheet(paper))

    def worksheet(self, paper: str | None = None) -> Worksheet:
        """The engraved sheet before it is set."""
        page = paper_named(paper or self.wishes.paper)
        count = _Counter()
        groups = [
            Group(
                "Warm-up",
                clef_note(clef_for(self.setup, self.wishes.clef)),
                tuple(one.exercise(count.next(), page) for one in self.warmup),
            ),
            Group(
                "This week",
                "",
                tuple(
                    one.exercise(count.next(), page)
                    for sheet in self.drills
                    for one in sheet.pieces
                ),
            ),
            Group(
                f"Hard spots of “{self.marked.title}”",
                "Slowly first; when a spot went well three times in a row, a little faster. The "
                "marks are those of the whole part.",
                tuple(_excerpt(one, count.next(), page) for one in self.excerpts),
            ),
        ]
        places: set[Place] = set().union(
            *(one.places for one in self.warmup),
            *(sheet.places for sheet in self.drills),
            *(one.places for one in self.excerpts),
        )
        return Worksheet(
            title=self.title,
            subtitle=f"{self.level.title} · sheet {self.seed}",
            student_line=student_line(self.setup, self.wishes.student),
            horn_line=self.setup.horn_line,
            groups=tuple(group for group in groups if group.exercises),
            legend=legend_of(self.setup, frozenset(places)),
            paper=page,
            log=self.log(),
            cautions=(CAUTION,),
        )

    def log(self) -> PracticeLog:
        """The practice log: a row for each exercise, a tick for each day."""
        count = _Counter()
        pieces = [*self.warmup, *(one for sheet in self.drills for one in sheet.pieces)]
        rows = [(count.next(), one.piece.title, _tempo_of(one.piece)) for one in pieces]
        rows += [(count.next(), one.title, _tempo(one.tempo_qpm)) for one in self.excerpts]
        rows.append(("", f"“{self.marked.title}” from beginning to end", ""))
        note = "Tick what you practised, write the minutes of each day and the tempo you reached."
        return PracticeLog("Practice log", note, DAYS, tuple(rows))

    def json(self) -> dict[str, Any]:
        """JSON of ``handslide lesson``."""
        return {
            **setup_json(speech(), self.setup),
            "title": self.title,
            "level": self.level.name,
            "seed": self.seed,
            "warmup": [one.json() for one in self.warmup],
            "drills": [sheet.json() for sheet in self.drills],
            "excerpts": [
                {
                    "title": one.title,
                    "text": one.instruction,
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


def _tempo_of(piece: Piece) -> str:
    """The metronome mark of a piece, by what its meter beats."""
    if beat_of(piece.meter) == 1:
        return _tempo(piece.tempo_qpm)
    return f"♩. = {piece.tempo_qpm / float(beat_of(piece.meter)):.0f}"


def _tempo(qpm: float | None) -> str:
    return "" if qpm is None else f"♩ = {qpm:.0f}"


def _excerpt(one: Excerpt, number: str, paper: Paper) -> Exercise:
    engraved = engrave_exercise(one.cut, one.cut.part_id, one.marks, paper, one.staff)
    doubts = warned([speech().fact(told) for told in engraved.warnings])
    return Exercise(number, one.title, one.instruction, engraved.pages, doubts)


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
        part=wishes.part, voice=wishes.voice, tempo_qpm=wishes.tempo_qpm, title=wishes.title
    )
    marked = choose_for(score, setup, options, fixed=fixed)
    rng = random.Random(f"lesson {seed}")
    leveled = at_level(setup, level)
    first = mark_pieces(leveled, warmup.make(leveled, level, rng), clef)
    drills = _week(setup, wishes, seed, rng)
    return Lesson(setup, wishes, level, seed, marked, first, drills, excerpts_of(marked))


def _week(
    setup: Setup, wishes: LessonWishes, seed: int, rng: random.Random
) -> tuple[DrillSheet, ...]:
    """The drills of a week: those asked for, else what this horn and student have, in turn."""
    asked = DrillWishes(
        level=wishes.level, clef=wishes.clef, paper=wishes.paper, pieces=1, faults=wishes.faults
    )
    if wishes.drills is not None:
        return tuple(make_drill(setup, kind, asked, seed) for kind in wishes.drills)
    kinds = list(_WEEK[3:])
    rng.shuffle(kinds)
    # What the report found has more room than all else.
    kinds = [*(["worst"] if wishes.faults else []), *_WEEK[1:3], *kinds]
    found: list[DrillSheet] = []
    for kind in kinds:
        if len(found) == MOST_DRILLS:
            break
        more = replace(asked, pieces=3) if kind == "worst" else asked
        try:
            found.append(make_drill(setup, kind, more, seed))
        except BadUsage:
            # This horn, level or reach has no such thing: the next kind takes its place.
            continue
    return tuple(found)


def lesson_file(
    path: Path,
    setup: Setup,
    wishes: LessonWishes,
    *,
    seed: int = 1,
    target: Path | None = None,
    force: bool = False,
) -> tuple[Lesson, Path]:
    """Make the lesson sheet of a score file and write it: to ``target``, or beside the file.

    Raises
    ------
    ScoreError, BadUsage
        As :func:`make_lesson`, or when the file can't be opened.
    OutputError
        When the sheet exists already (unless ``force``) or can't be written.
    """
    pdf = target or path.with_name(path.stem + "-lesson.pdf")
    if pdf.suffix.lower() != ".pdf":
        raise BadUsage(f"{pdf}: a lesson sheet is a PDF, its name ends in .pdf")
    if pdf.exists() and path.exists() and pdf.samefile(path):
        raise OutputError(f"{pdf} is the original itself; choose another name with -o")
    check_free(pdf, force=force)
    lesson = make_lesson(open_score(path), setup, wishes, seed)
    write_result(pdf, lesson.pdf(), force=force)
    return lesson, pdf
