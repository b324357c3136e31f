"""A daily routine as one sheet: what a student plays each day of a week, with boxes to tick."""

import random
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from handslide.drills.exercise import Series
from handslide.drills.keys import parse_tonic, usual_tonic
from handslide.drills.kinds import MOST_SEED, drill_kind
from handslide.drills.levels import DEFAULT_LEVEL, Level, level_of
from handslide.drills.piece import Piece
from handslide.drills.plan import WeekKey, week_keys
from handslide.drills.routine import (
    EVERY_DAY,
    NEEDED,
    Block,
    RoutineWishes,
    Row,
    articulations_of,
    make_routine,
)
from handslide.drills.signs import signature_shift
from handslide.drills.troublespots import TroubleSpot
from handslide.edges.engraving.engrave import paper_named
from handslide.edges.files.exercises import load_series
from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.typesetting.worksheet import (
    Exercise,
    Group,
    Worksheet,
    dense_paper,
    typeset_worksheet,
)
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadUsage
from handslide.ground.facts import fact
from handslide.ground.papers import DEFAULT_PAPER
from handslide.instrument.places import Place
from handslide.jobs.mark.report import Found
from handslide.jobs.mark.routed import setup_json
from handslide.jobs.practice.drill import DrillWishes, at_level, drill_pieces, legend_of
from handslide.jobs.practice.drilldrones import NONE, drone_paths, write_drones
from handslide.jobs.practice.music import (
    MarkedPiece,
    clef_for,
    clef_note,
    joined_musicxml,
    mark_pieces,
    without_music,
)
from handslide.jobs.setup import Setup
from handslide.words.cautions import OVERUSE
from handslide.words.drills import instruction
from handslide.words.horns import horn_line, limits_line
from handslide.words.practice import student_line
from handslide.words.routine import (
    BY_DAY,
    DIZZY,
    ROUTINE_CAUTION,
    block_name,
    block_title,
    breath_line,
    day_names,
    minutes_text,
    routine_title,
    row_line,
    week_line,
)
from handslide.words.speech import Speech

_BARS_OF_WEAK = 8


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of a routine; None leaves it to the level.

    ``key`` is a tonic, ``scale`` its scale. ``week`` counts from 0: it decides the key where none
    is named. ``again`` are kinds of drills that come back, each on its days (0 to 6), ``back`` are
    trouble spots that do. ``day`` is
    the one day that the sheet is for, None for all of a week; ``first`` is the week's first day
    (0: Monday).
    """

    minutes: int = 20
    level: str = DEFAULT_LEVEL
    key: str | None = None
    scale: str | None = None
    week: int = 0
    clef: str | None = None
    paper: str = DEFAULT_PAPER
    student: str = ""
    faults: tuple[TroubleSpot, ...] = ()
    again: tuple[tuple[str, tuple[int, ...]], ...] = ()
    back: tuple[tuple[TroubleSpot, tuple[int, ...]], ...] = ()
    day: int | None = None
    first: int = 0


@dataclass(frozen=True, eq=False)
class Routine:
    """A week's routine, or one of its days, marked."""

    setup: Setup
    asked: Asked
    level: Level
    seed: int
    clef: str
    key: WeekKey
    blocks: tuple[Block, ...]
    marked: Mapping[Row, MarkedPiece]

    @property
    def days(self) -> tuple[int, ...]:
        """The days that the sheet is for."""
        return EVERY_DAY if self.asked.day is None else (self.asked.day,)

    def rows(self, block: Block) -> tuple[Row, ...]:
        """The exercises of a block that these days have."""
        found = (row for row in block.rows if set(row.days) & set(self.days))
        if self.asked.day is None:
            return tuple(found)
        return tuple(row for row in found if not row.model)

    @property
    def parts(self) -> tuple[Block, ...]:
        """The blocks that these days have."""
        return tuple(one for one in self.blocks if any(map(one.seconds, self.days)))

    @property
    def pieces(self) -> tuple[MarkedPiece, ...]:
        """All exercises in their order."""
        return tuple(self.of(row) for block in self.parts for row in self.rows(block))

    @property
    def numbered(self) -> tuple[tuple[int, MarkedPiece], ...]:
        """The exercises with the numbers that they have on the sheet."""
        found, number = [], 0
        for block in self.parts:
            number += bool(block.breaths)
            for row in self.rows(block):
                if not row.model:
                    number += 1
                    found.append((number, self.of(row)))
        return tuple(found)

    def of(self, row: Row) -> MarkedPiece:
        """A row with the places over its notes."""
        return self.marked[row]

    def seconds(self, day: int) -> float:
        """How long a day takes, rests included."""
        return sum(block.seconds(day) for block in self.blocks)

    def title(self, say: Speech) -> str:
        """What stands over it."""
        return routine_title(say, self.asked.minutes)

    def stand_name(self, say: Speech) -> str:
        """What it is called among a teacher's scores."""
        return f"{self.title(say)}, {self.line(say)}"

    def line(self, say: Speech) -> str:
        """The level, the week's key and the seed; of one day also which."""
        day = None if self.asked.day is None else (self.asked.first + self.asked.day) % 7
        scale = fact("drills.scale", name=self.key.scale, tonic=self.key.tonic)
        return week_line(say, self.level.name, scale, self.seed, day)

    @cached_property
    def places(self) -> frozenset[Place]:
        """All places in use."""
        return frozenset().union(*(one.places for one in self.pieces))

    def musicxml(self, say: Speech) -> bytes:
        """All exercises as one marked score."""
        return joined_musicxml(self.setup, self.pieces, self.title(say), self.clef, say)

    def pdf(self, say: Speech, paper: str | None = None) -> bytes:
        """The printed sheet. Raises BadUsage, OutputError."""
        return typeset_worksheet(self.worksheet(say, paper))

    def worksheet(self, say: Speech, paper: str | None = None) -> Worksheet:
        """The engraved sheet before it is set."""
        page = dense_paper(paper_named(paper or self.asked.paper))
        rows: dict[str, list[Exercise]] = {block.name: [] for block in self.parts}
        for entry in self.entries(say):
            told, found = entry.told, rows[entry.block.name]
            if entry.row is None:
                found.append(told)
                continue
            made = self.of(entry.row).exercise(told.number, page, say, small=True)
            if entry.row.model:
                found[-1] = replace(found[-1], music=(*found[-1].music, *made.music))
                continue
            kept = {key: getattr(told, key) for key in ("title", "instruction", "days", "aside")}
            found.append(replace(made, **kept))
        groups = tuple(Group(name, "", tuple(found)) for name, found in rows.items())
        return replace(self.frame(say), groups=groups, paper=page)

    def frame(self, say: Speech) -> Worksheet:
        """What stands on the sheet round its exercises."""
        limits = limits_line(say, self.setup.horn, self.setup.book.limits)
        clef = clef_note(say, self.clef)
        return Worksheet(
            title=self.title(say),
            subtitle=self.line(say),
            student_line=student_line(say, self.asked.student, limits),
            horn_line=horn_line(say, self.setup.horn),
            groups=(),
            legend=legend_of(say, self.setup, self.places),
            paper=dense_paper(paper_named(self.asked.paper)),
            language=say.language.code,
            cautions=(say(ROUTINE_CAUTION), say(OVERUSE)),
            notices=(clef,) if clef else (),
            small=True,
            dense=True,
        )

    def entries(self, say: Speech) -> Iterator["Entry"]:
        """What stands on the sheet, in its order, without its music."""
        count = 0
        for block in self.parts:
            if block.breaths:
                count += 1
                yield Entry(block, None, self._breathing(block, str(count), say))
            for row in self.rows(block):
                count += not row.model
                yield Entry(block, row, self._told(block, row, str(count), say))

    def _breathing(self, block: Block, number: str, say: Speech) -> Exercise:
        counts = [(one.counts_in, one.counts_out, one.times) for one in block.breaths]
        told = " ".join((*(breath_line(say, *row) for row in counts), say(DIZZY)))
        aside = minutes_text(say, block.seconds(0))
        boxes = self._boxes(EVERY_DAY, say)
        return Exercise(number, block_name(say, block.name), told, (), "", days=boxes, aside=aside)

    def _boxes(self, days: Collection[int], say: Speech) -> tuple[str | None, ...]:
        """A box for each of the days, of a week or of the one that the sheet is for."""
        if self.asked.day is not None:
            return ("",)
        names = day_names(say, self.asked.first)
        return tuple(name if day in days else None for day, name in enumerate(names))

    def _told(self, block: Block, row: Row, number: str, say: Speech) -> Exercise:
        """The words and boxes of an exercise."""
        one = self.of(row)
        if row.model:
            return Exercise("", one.title(say), "", (), "")
        told = instruction(say, one.piece.instruction)
        if row.by_day and self.asked.day is None:
            told = say(BY_DAY)
        return Exercise(
            number=number,
            title=block_title(say, block.name, one.title(say)),
            instruction=told if row is self.rows(block)[0] else "",
            music=(),
            music_alt="",
            days=self._boxes(row.days, say),
            aside=row_line(say, row.times, row.rest_s, row.seconds),
        )

    def json(self, say: Speech) -> dict[str, Any]:
        """JSON of ``handslide routine``, but for its warnings."""
        return {
            **setup_json(say, self.setup),
            "title": self.title(say),
            "level": self.level.name,
            "minutes": self.asked.minutes,
            "seed": self.seed,
            "clef": self.clef,
            "key": self.key.name,
            "scale": self.key.scale,
            "articulations": list(articulations_of(self.level)),
            "day_seconds": [round(self.seconds(day), 1) for day in EVERY_DAY],
            "blocks": [self._block_json(block, say) for block in self.parts],
        }

    def _block_json(self, block: Block, say: Speech) -> dict[str, Any]:
        return {
            "block": block.name,
            "title": block_name(say, block.name),
            "breaths": [
                {"in": one.counts_in, "out": one.counts_out, "times": one.times}
                for one in block.breaths
            ],
            "day_seconds": [round(block.seconds(day), 1) for day in EVERY_DAY],
            "exercises": [
                {
                    "kind": row.kind,
                    "days": list(row.days),
                    "times": row.times,
                    "once_s": round(row.once_s, 1),
                    "rest_s": row.rest_s,
                    **self.of(row).json(say),
                }
                for row in self.rows(block)
                if not row.model
            ],
        }


@dataclass(frozen=True, slots=True)
class Entry:
    """A row of a routine's sheet and what is told of it; without a ``row`` it is breathing."""

    block: Block
    row: Row | None
    told: Exercise


@dataclass(frozen=True, eq=False)
class Unmarked:
    """A routine before its places are chosen. ``setup`` has the limits of the level in it."""

    setup: Setup
    level: Level
    clef: str
    key: WeekKey
    blocks: tuple[Block, ...]


def make_week(setup: Setup, asked: Asked | None = None, seed: int = 1) -> Routine:
    """Make a routine and choose its places; the same seed makes the same.

    Raises
    ------
    BadUsage
        No such level, clef, kind, number of minutes; no key within the limits.
    PitchError
        A key that can't be read.
    """
    asked = asked or Asked()
    paper_named(asked.paper)
    made = unmarked_week(setup, asked, seed)
    rows = [row for block in made.blocks for row in block.rows]
    marked = dict(zip(rows, mark_pieces(made.setup, [row.piece for row in rows], made.clef)))
    return Routine(made.setup, asked, made.level, seed, made.clef, made.key, made.blocks, marked)


def unmarked_week(setup: Setup, asked: Asked, seed: int) -> Unmarked:
    """What is played, without its places. Raises as `make_week`."""
    clef = clef_for(setup, asked.clef)
    level = level_of(asked.level)
    if not 0 <= seed <= MOST_SEED:
        raise BadUsage("drills.seed", seed=seed, most=MOST_SEED)
    leveled = at_level(setup, level)
    key = _key(leveled, asked, level)
    ways = articulations_of(level)
    wishes = RoutineWishes(
        asked.minutes, level, key.name, key.scale, clef, _spots(setup, asked, seed),
        _coming_back(setup, asked, seed), ways[0 if asked.day is None else asked.day], asked.first,
    )  # fmt: skip
    rng = random.Random(f"routine {asked.week} {seed}")
    up = CLEFS[clef]
    shift = signature_shift(up.letters_up, up.semitones_up)
    return Unmarked(leveled, level, clef, key, make_routine(leveled, wishes, _needed(), rng, shift))


def _needed() -> dict[str, Series]:
    return {kind: load_series(kind) for kind in NEEDED}


def _key(setup: Setup, asked: Asked, level: Level) -> WeekKey:
    scale = asked.scale or "major"
    if asked.key is not None:
        return WeekKey(scale, usual_tonic(scale, parse_tonic(asked.key)))
    keys = week_keys(setup, level)
    return keys[asked.week % len(keys)]


def _spots(setup: Setup, asked: Asked, seed: int) -> tuple[Piece, ...]:
    """The exercises for the trouble spots; none where no take shows any."""
    if not asked.faults:
        return ()
    wishes = DrillWishes(level=asked.level, clef=asked.clef, pieces=2, faults=asked.faults)
    return drill_pieces(setup, "trouble-spots", wishes, seed)[0]


def _coming_back(
    setup: Setup, asked: Asked, seed: int
) -> tuple[tuple[str, Piece, tuple[int, ...]], ...]:
    """An exercise of each kind that comes back this week."""
    found = []
    for kind, days in asked.again:
        if drill_kind(kind).from_report:
            raise BadUsage("routine.not_again", drill=kind)
        wishes = DrillWishes(level=asked.level, clef=asked.clef, pieces=1, bars=_BARS_OF_WEAK)
        if days:
            found.append((kind, drill_pieces(setup, kind, wishes, seed)[0][0], days))
    kind = "trouble-spots"
    for spot, days in asked.back:
        wishes = DrillWishes(level=asked.level, clef=asked.clef, pieces=1, faults=(spot,))
        found.append((kind, drill_pieces(setup, kind, wishes, seed)[0][0], days))
    return tuple(found)


def write_routine(
    routine: Routine,
    target: Path,
    say: Speech,
    *,
    drones: str | None = NONE,
    force: bool = False,
) -> tuple[list[Path], tuple[Found, ...]]:
    """Write the sheet as a PDF, and beside it its ``drones``, in a form as `drone_paths` has it.
    Raises BadUsage, OutputError.

    Gives the files and the warnings: an exercise that can't be engraved stands there without its
    music, and is named.
    """
    if target.suffix.lower() != ".pdf":
        raise BadUsage("practice.not_a_pdf", file=str(target))
    check_free(target, force=force)
    sounds = drone_paths(routine, target.stem, target.parent, drones, force=force)
    sheet = routine.worksheet(say)
    write_result(target, typeset_worksheet(sheet), force=force)
    write_drones(routine, target.stem, sounds, force=force)
    return [target, *sounds], without_music(sheet)
