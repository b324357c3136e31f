"""Drill sheets: exercises made for this student on this horn, marked, written and printed."""

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from handslide.drills.exercise import Series
from handslide.drills.finish import ends_of, finished, well_joined
from handslide.drills.kinds import DRILLS, MOST_SEED, DrillKind, drill_kind, own_kind
from handslide.drills.levels import DEFAULT_LEVEL, Level, level_of
from handslide.drills.piece import Piece
from handslide.drills.placed import MOST_BARS, Wishes, check_size
from handslide.drills.ranges import limited, range_of
from handslide.drills.scales import ScaleWishes
from handslide.drills.signs import signature_shift
from handslide.drills.troublespots import TroubleSpot
from handslide.edges.engraving.engrave import Paper, paper_named
from handslide.edges.files.exercises import EXERCISE_FILES, load_series
from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.files.profiles import BY_HORN, load_profile
from handslide.edges.typesetting.worksheet import (
    Group,
    Worksheet,
    fewest_pages,
    typeset_worksheet,
)
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadUsage
from handslide.ground.papers import DEFAULT_PAPER
from handslide.ground.pitch import parse_pitch
from handslide.instrument.places import Place, PlaceBook
from handslide.jobs.mark.report import Found
from handslide.jobs.mark.routed import setup_json
from handslide.jobs.practice.music import (
    MarkedPiece,
    clef_for,
    clef_note,
    joined_musicxml,
    mark_pieces,
    without_music,
)
from handslide.jobs.setup import Setup, load_tuned
from handslide.words.cautions import OVERUSE
from handslide.words.drills import drill_name, sheet_line, stand_title
from handslide.words.horns import horn_line, horn_title, limits_line
from handslide.words.marks import legend
from handslide.words.practice import LIKELY_ONLY, NOTES, PLAYS, TEACHER, student_line
from handslide.words.speech import Speech

# How far scales go where nobody says it: common practice, where the range has room for it.
_OCTAVES = {"first-year": 1, "second-year": 1, "advanced": 2}
# The wishes that only drills in a key have.
OF_SCALES = ("key", "scale", "rhythm", "articulation", "direction", "octaves")


@dataclass(frozen=True, slots=True)
class DrillWishes:
    """What is asked for; None leaves it to the level and the seed.

    ``low`` and ``high`` are sounding notes by name. ``key`` to ``octaves`` are for scales,
    arpeggios and thirds. ``faults`` are the notes of a report, for trouble spots;
    ``nothing_sure``: none of them is surely weak. ``teacher_horn`` plays the second voices of
    duets: None is the student's, without the student's limits. ``show`` says which notes have a
    mark, one of `SHOWN_ON_SHEETS`.
    """

    level: str = DEFAULT_LEVEL
    key: str | None = None
    scale: str | None = None
    low: str | None = None
    high: str | None = None
    rhythm: str | None = None
    articulation: str | None = None
    direction: str | None = None
    octaves: int | None = None
    valve_register: bool = False
    bars: int | None = None
    pieces: int = 4
    tempo_qpm: float | None = None
    clef: str | None = None
    paper: str = DEFAULT_PAPER
    student: str = ""
    faults: tuple[TroubleSpot, ...] = ()
    nothing_sure: bool = False
    teacher_horn: str | None = None
    show: str = "all"


@dataclass(frozen=True, eq=False)
class DrillSheet:
    """A sheet of exercises of one kind, marked. ``setup`` has the limits of the level in it.

    ``own_title`` is what a teacher's own file calls itself; empty for ours.
    """

    kind: str
    setup: Setup
    wishes: DrillWishes
    level: Level
    seed: int
    clef: str
    pieces: tuple[MarkedPiece, ...]
    own_title: str = ""

    def title(self, say: Speech) -> str:
        """What stands over the sheet."""
        return self.own_title or drill_name(say, self.kind)

    def stand_name(self, say: Speech) -> str:
        """What it is called among a teacher's scores."""
        return stand_title(say, self.title(say), self.level.name, self.seed)

    @property
    def numbered(self) -> tuple[tuple[int, MarkedPiece], ...]:
        """The exercises with their numbers."""
        return tuple(enumerate(self.pieces, 1))

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
        """The engraved sheet before it is set, its music small where that saves a page."""
        page = paper_named(paper or self.wishes.paper)
        return fewest_pages(lambda small: self._engraved(say, page, small=small))

    def _engraved(self, say: Speech, page: Paper, *, small: bool) -> Worksheet:
        rows = tuple(
            one.exercise(str(k), page, say, small=small) for k, one in enumerate(self.pieces, 1)
        )
        groups = (Group("", clef_note(say, self.clef), rows),)
        return replace(self.frame(say), groups=groups, paper=page, small=small)

    def frame(self, say: Speech) -> Worksheet:
        """What stands on the sheet round its exercises."""
        return Worksheet(
            title=self.title(say),
            subtitle=sheet_line(say, self.level.name, self.seed),
            student_line=self._player_line(say),
            horn_line=horn_line(say, self.setup.horn),
            groups=(),
            legend=self._legend(say),
            paper=paper_named(self.wishes.paper),
            language=say.language.code,
            cautions=(say(OVERUSE),),
            room=say(NOTES),
            notices=(say(LIKELY_ONLY),) if self.wishes.nothing_sure else (),
        )

    @cached_property
    def teacher(self) -> Setup | None:
        """Who plays the second voices, where there are some."""
        seconds = (one.teacher for one in self.pieces)
        return next((second.routed.setup for second in seconds if second is not None), None)

    def _player_line(self, say: Speech) -> str:
        """For whom it is, and on what the teacher plays where that is another horn."""
        limits = limits_line(say, self.setup.horn, self.setup.book.limits)
        line = student_line(say, self.wishes.student, limits)
        if self.teacher is None or self.teacher.horn.name == self.setup.horn.name:
            return line
        other = say(PLAYS, who=say(TEACHER), horn=horn_title(say, self.teacher.horn))
        return f"{line} · {other}" if line else other

    def _legend(self, say: Speech) -> tuple[tuple[str, str], ...]:
        """The signs of both players, each once."""
        own, places = (
            frozenset().union(*found) for found in zip(*(one.signs for one in self.pieces))
        )
        rows = legend_of(say, self.setup, own)
        if self.teacher is None:
            return rows
        if self.teacher.horn == self.setup.horn:
            return legend_of(say, self.setup, own | places)
        return tuple(dict.fromkeys((*rows, *legend_of(say, self.teacher, places))))

    def json(self, say: Speech) -> dict[str, Any]:
        """JSON of ``handslide drill``, but for its warnings."""
        return {
            **setup_json(say, self.setup),
            "kind": self.kind,
            "title": self.title(say),
            "level": self.level.name,
            "seed": self.seed,
            "clef": self.clef,
            "exercises": [one.json(say) for one in self.pieces],
        }


def legend_of(
    say: Speech,
    setup: Setup,
    places: Sequence[Place] | frozenset[Place],
    *,
    unplayable: bool = False,
) -> tuple[tuple[str, str], ...]:
    """The signs of these places, and that of what can't be played; none where nothing is marked."""
    if not places and not unplayable:
        return ()
    ordered = sorted(places, key=lambda place: (place.position, len(place.valves)))
    return legend(say, setup.horn, ordered, setup.style, unplayable=unplayable)


def make_drill(
    setup: Setup, kind: str | Series, wishes: DrillWishes | None = None, seed: int = 1
) -> DrillSheet:
    """Make the exercises of a kind and choose their places; the same seed makes the same sheet.

    ``kind`` may be the name or the path of a teacher's own exercises, or these themselves.

    Raises
    ------
    BadData
        For a file of exercises that can't be read.
    BadUsage
        No such kind, level, key, rhythm, clef; nothing of this kind on this horn within the limits.
    PitchError
        A range or key that can't be read.
    """
    wishes = wishes or DrillWishes()
    clef = clef_for(setup, wishes.clef)
    paper_named(wishes.paper)
    pieces, leveled = drill_pieces(setup, kind, wishes, seed)
    drill, series = _found(kind)
    marked = mark_pieces(leveled, pieces, clef, teacher_of(setup, wishes), wishes.show)
    ours = series is None or DRILLS.get(drill.name) is drill
    own_title = "" if series is None or ours else series.title or series.name
    level = level_of(wishes.level)
    return DrillSheet(drill.name, leveled, wishes, level, seed, clef, marked, own_title)


def drill_pieces(
    setup: Setup, kind: str | Series, wishes: DrillWishes, seed: int
) -> tuple[tuple[Piece, ...], Setup]:
    """The exercises of a kind without their places, and the setup within the limits of the level.

    Raises as :func:`make_drill`.
    """
    drill, series = _found(kind)
    if not 0 <= seed <= MOST_SEED:
        raise BadUsage("drills.seed", seed=seed, most=MOST_SEED)
    check_size(wishes.pieces, wishes.bars, wishes.tempo_qpm)
    level = level_of(wishes.level)
    leveled = at_level(setup, level, valve_register=wishes.valve_register or drill.valve_register)
    if not drill.plain_places:
        leveled = replace(leveled, profile=setup.profile)
    rng = random.Random(f"{drill.name} {seed}")
    if drill.in_key:
        pieces = _make_scales(leveled, drill, wishes, level, rng)
    else:
        pieces = _make_others(leveled, drill, wishes, level, rng, series)
    up = CLEFS[clef_for(setup, wishes.clef)]
    shift = signature_shift(up.letters_up, up.semitones_up)
    return finished(pieces, level, rng, shift), leveled


def _found(kind: str | Series) -> tuple[DrillKind, Series | None]:
    """A kind of ours or a teacher's own, with its exercises where they are written down."""
    if isinstance(kind, Series):
        return own_kind(kind.name), kind
    if kind in DRILLS:
        return DRILLS[kind], load_series(kind) if DRILLS[kind].written else None
    if not (kind in EXERCISE_FILES.known or Path(kind).suffix or len(Path(kind).parts) > 1):
        return drill_kind(kind), None
    series = load_series(kind)
    return own_kind(Path(series.name).stem), series


def teacher_of(setup: Setup, wishes: DrillWishes) -> Setup:
    """Who plays second voices: on the horn asked for, else on the student's, without limits."""
    horn = setup.horn
    if wishes.teacher_horn is not None:
        horn = load_tuned(wishes.teacher_horn, horn.a4_hz, horn.air.temp_c)
    limits = replace(setup.book.limits, reach=None, learned=None)
    return Setup(horn, load_profile(BY_HORN, horn), PlaceBook(horn, limits), setup.style)


def at_level(setup: Setup, level: Level, *, valve_register: bool = False) -> Setup:
    """A setup within the limits of a level; the student's own stay where they are narrower."""
    profile = setup.profile
    profile = replace(profile, alternate=max(profile.alternate, level.alternate))
    return replace(setup, book=limited(setup.book, level, valve_register), profile=profile)


def _make_others(
    setup: Setup,
    drill: DrillKind,
    wishes: DrillWishes,
    level: Level,
    rng: random.Random,
    series: Series | None,
) -> tuple[Piece, ...]:
    for choice in OF_SCALES:
        in_key = series is not None and choice == "key"
        if getattr(wishes, choice) is not None and not in_key:
            scales = tuple(kind.name for kind in DRILLS.values() if kind.in_key)
            raise BadUsage("drills.scales_alone", choice=choice, drill=drill.name, scales=scales)
    register = drill.valve_register or wishes.valve_register
    low, high = range_of(setup.book, level, valve_register=register)
    low = low if wishes.low is None else parse_pitch(wishes.low).midi
    high = high if wishes.high is None else parse_pitch(wishes.high).midi
    # Pedals are for who asks for them.
    pedals = wishes.low is not None
    asked = Wishes(low, high, wishes.pieces, wishes.bars or 8, wishes.tempo_qpm, pedals, level)
    asked = replace(asked, clef=clef_for(setup, wishes.clef))
    if series is not None:
        teacher = (
            teacher_of(setup, wishes) if any(one.teacher for one in series.exercises) else None
        )
        asked = replace(asked, bars=wishes.bars or MOST_BARS, teacher=teacher)
        return drill.make(setup, asked, series, level, rng, wishes.key)
    if not drill.from_report:
        return drill.make(setup, asked, rng)
    # Where it went wrong is where it is practised, whatever the level's range.
    asked = replace(
        asked,
        low=None if wishes.low is None else low,
        high=None if wishes.high is None else high,
    )
    return drill.make(setup, asked, rng, wishes.faults)


def _make_scales(
    setup: Setup, drill: DrillKind, wishes: DrillWishes, level: Level, rng: random.Random
) -> tuple[Piece, ...]:
    low = None if wishes.low is None else parse_pitch(wishes.low).midi
    high = None if wishes.high is None else parse_pitch(wishes.high).midi
    names = drill.scales[level.name]
    if wishes.scale is not None:
        names = (drill.scale_named(wishes.scale),)
    pieces: list[Piece] = []
    for number, name in enumerate(names[: wishes.pieces]):
        share = len(range(number, wishes.pieces, len(names)))
        asked = ScaleWishes(
            name, wishes.key, low, high, wishes.rhythm, wishes.articulation,
            wishes.direction or "up-and-down", wishes.octaves or _OCTAVES[level.name], level.name,
            wishes.valve_register, None, wishes.tempo_qpm, wishes.bars, share,
            wishes.octaves is None,
        )  # fmt: skip
        pieces += drill.make(setup, asked, rng)
    return tuple(well_joined(pieces, ends_of))


def write_drill(
    sheet: DrillSheet, folder: Path, say: Speech, *, with_pdf: bool = True, force: bool = False
) -> tuple[list[Path], tuple[Found, ...]]:
    """Write KIND.musicxml and KIND.pdf into a folder. Raises OutputError.

    Gives the files and the warnings: an exercise that can't be engraved stands on the print without
    its music, and is named.
    """
    score, pdf = folder / f"{sheet.kind}.musicxml", folder / f"{sheet.kind}.pdf"
    for path in (score, pdf) if with_pdf else (score,):
        check_free(path, force=force)
    if not with_pdf:
        write_result(score, sheet.musicxml(say), force=force)
        return [score], ()
    worksheet = sheet.worksheet(say)
    # The print is made first: where it can't be set, nothing is left half done.
    printed = typeset_worksheet(worksheet)
    write_result(score, sheet.musicxml(say), force=force)
    write_result(pdf, printed, force=force)
    return [score, pdf], without_music(worksheet)
