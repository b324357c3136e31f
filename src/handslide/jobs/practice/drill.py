"""Drill sheets: exercises made for this student on this horn, marked, written and printed."""

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from handslide.drills.keys import KINDS as SCALES
from handslide.drills.levels import DEFAULT_LEVEL, Level, level_of, limited, range_of
from handslide.drills.piece import Piece
from handslide.drills.placed import Wishes
from handslide.drills.scales import SCALE_KINDS, THIRDS, ScaleWishes, scale_pieces
from handslide.drills.troublespots import WorstNote
from handslide.edges.engraving.engrave import paper_named
from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.typesetting.worksheet import Group, Worksheet, typeset_worksheet
from handslide.ground.errors import BadUsage
from handslide.ground.papers import DEFAULT_PAPER
from handslide.ground.pitch import parse_pitch
from handslide.instrument.marks import legend
from handslide.instrument.places import Place
from handslide.jobs.mark.routed import setup_json
from handslide.jobs.practice.music import (
    CAUTION,
    MarkedPiece,
    clef_for,
    clef_note,
    joined_musicxml,
    mark_pieces,
)
from handslide.jobs.setup import Setup
from handslide.words.speech import speech

TITLES = {
    "scales": "Scales",
    "arpeggios": "Arpeggios",
    "thirds": "Broken thirds",
    "register": "Valve register",
    "alternates": "One figure in two places",
    "accuracy": "Slide accuracy",
    "glissandi": "Glissandi",
    "slurs": "Natural slurs and legato tongue",
    "intonation": "In tune with a drone",
    "worst": "Around the notes that went wrong",
}
KINDS = tuple(TITLES)
MOST_SEED = 10**9
# Which scales a sheet has when none is named; common practice.
_SCALES = {
    "scales": {
        "first-year": ("major",),
        "second-year": ("major", "harmonic-minor", "melodic-minor"),
        "advanced": ("major", "melodic-minor", "chromatic", "dorian", "whole-tone", "blues"),
    },
    "arpeggios": {
        "first-year": ("major-arpeggio",),
        "second-year": ("major-arpeggio", "minor-arpeggio"),
        "advanced": ("major-arpeggio", "minor-arpeggio", "dominant-seventh", "diminished-seventh"),
    },
    "thirds": {
        "first-year": ("major-thirds",),
        "second-year": ("major-thirds", "natural-minor-thirds"),
        "advanced": ("major-thirds", "harmonic-minor-thirds", "dorian-thirds"),
    },
}


@dataclass(frozen=True, slots=True)
class DrillWishes:
    """What is asked for; None leaves it to the level and the seed.

    ``low`` and ``high`` are sounding notes by name. ``key`` to ``octaves`` are for scales,
    arpeggios and thirds. ``faults`` are for ``worst``.
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
    faults: tuple[WorstNote, ...] = ()


@dataclass(frozen=True, eq=False)
class DrillSheet:
    """A sheet of exercises of one kind, marked. ``setup`` has the limits of the level in it."""

    kind: str
    setup: Setup
    wishes: DrillWishes
    level: Level
    seed: int
    clef: str
    pieces: tuple[MarkedPiece, ...]

    @property
    def title(self) -> str:
        """What stands at the top."""
        return TITLES[self.kind]

    @property
    def subtitle(self) -> str:
        """The level, and the seed that makes the same sheet again."""
        return f"{self.level.title} · sheet {self.seed}"

    @cached_property
    def places(self) -> frozenset[Place]:
        """All places in use."""
        return frozenset().union(*(one.places for one in self.pieces))

    def musicxml(self) -> bytes:
        """All exercises as one marked score."""
        return joined_musicxml(self.setup, self.pieces, self.title, self.clef)

    def pdf(self, paper: str | None = None) -> bytes:
        """The printed sheet. Raises BadUsage, OutputError."""
        return typeset_worksheet(self.worksheet(paper))

    def worksheet(self, paper: str | None = None) -> Worksheet:
        """The engraved sheet before it is set."""
        page = paper_named(paper or self.wishes.paper)
        rows = tuple(one.exercise(str(k), page) for k, one in enumerate(self.pieces, 1))
        return Worksheet(
            title=self.title,
            subtitle=self.subtitle,
            student_line=student_line(self.setup, self.wishes.student),
            horn_line=self.setup.horn_line,
            groups=(Group("", clef_note(self.clef), rows),),
            legend=legend_of(self.setup, self.places),
            paper=page,
            cautions=(CAUTION,),
        )

    def json(self) -> dict[str, Any]:
        """JSON of ``handslide drill``."""
        return {
            **setup_json(speech(), self.setup),
            "kind": self.kind,
            "title": self.title,
            "level": self.level.name,
            "seed": self.seed,
            "clef": self.clef,
            "exercises": [one.json() for one in self.pieces],
        }


def student_line(setup: Setup, student: str) -> str:
    """For whom a sheet is, and within which limits."""
    name = f"for {student}" if student else ""
    return " · ".join(filter(None, (name, setup.limits_line)))


def legend_of(
    setup: Setup, places: Sequence[Place] | frozenset[Place]
) -> tuple[tuple[str, str], ...]:
    """The signs of these places."""
    ordered = sorted(places, key=lambda place: (place.position, len(place.valves)))
    return legend(setup.horn, ordered, setup.style)


def make_drill(
    setup: Setup, kind: str, wishes: DrillWishes | None = None, seed: int = 1
) -> DrillSheet:
    """Make the exercises of a kind and choose their places; the same seed makes the same sheet.

    Raises
    ------
    BadUsage
        No such kind, level, key, rhythm, clef; nothing of this kind on this horn within the limits.
    PitchError
        A range or key that can't be read.
    """
    wishes = wishes or DrillWishes()
    if kind not in KINDS:
        raise BadUsage(f"{kind!r} isn't a kind of drill: there are {', '.join(KINDS)}")
    if not 0 <= seed <= MOST_SEED:
        raise BadUsage(f"a seed of {seed} is outside 0 to {MOST_SEED}")
    level = level_of(wishes.level)
    clef = clef_for(setup, wishes.clef)
    paper_named(wishes.paper)
    leveled = at_level(setup, level, valve_register=wishes.valve_register or kind == "register")
    if kind == "alternates":
        # They are what this drill is about.
        leveled = replace(leveled, profile=setup.profile)
    pieces = _make(leveled, kind, wishes, level, random.Random(f"{kind} {seed}"))
    return DrillSheet(kind, leveled, wishes, level, seed, clef, mark_pieces(leveled, pieces, clef))


def at_level(setup: Setup, level: Level, *, valve_register: bool = False) -> Setup:
    """A setup within the limits of a level; the student's own stay where they are narrower."""
    profile = setup.profile
    profile = replace(profile, alternate=max(profile.alternate, level.alternate))
    return replace(setup, book=limited(setup.book, level, valve_register), profile=profile)


def _make(
    setup: Setup, kind: str, wishes: DrillWishes, level: Level, rng: random.Random
) -> tuple[Piece, ...]:
    if kind in _SCALES:
        return _scales(setup, kind, wishes, level, rng)
    only_scales = {
        "a key": wishes.key,
        "a scale": wishes.scale,
        "a rhythm": wishes.rhythm,
        "an articulation": wishes.articulation,
        "a direction": wishes.direction,
        "a number of octaves": wishes.octaves,
    }
    for option, value in only_scales.items():
        if value is not None:
            raise BadUsage(f"{option} can't be chosen for {kind}: only for {', '.join(_SCALES)}")
    ends = range_of(setup.book, level, valve_register=kind == "register" or wishes.valve_register)
    low = ends[0] if wishes.low is None else parse_pitch(wishes.low).midi
    high = ends[1] if wishes.high is None else parse_pitch(wishes.high).midi
    # Pedals are for who asks for them.
    pedals = wishes.low is not None
    asked = Wishes(low, high, wishes.pieces, wishes.bars or 8, wishes.tempo_qpm, pedals)
    if kind == "worst":
        # Where it went wrong is where it is practised, whatever the level's range.
        asked = replace(
            asked,
            low=None if wishes.low is None else low,
            high=None if wishes.high is None else high,
        )
        from handslide.drills import troublespots as worst

        return worst.make(setup, asked, rng, wishes.faults)
    return _makers()[kind](setup, asked, rng)


def _makers() -> dict[str, Callable[[Any, Wishes, random.Random], tuple[Piece, ...]]]:
    from handslide.drills import accuracy, alternates, intonation, register

    return {
        "register": register.make,
        "alternates": alternates.make,
        "accuracy": accuracy.make_shifts,
        "glissandi": accuracy.make_glissandi,
        "slurs": accuracy.make_slurs,
        "intonation": intonation.make,
    }


def _scales(
    setup: Setup, kind: str, wishes: DrillWishes, level: Level, rng: random.Random
) -> tuple[Piece, ...]:
    low = None if wishes.low is None else parse_pitch(wishes.low).midi
    high = None if wishes.high is None else parse_pitch(wishes.high).midi
    names = _SCALES[kind][level.name]
    if wishes.scale is not None:
        names = (_scale_of(kind, wishes.scale),)
    pieces: list[Piece] = []
    for number, name in enumerate(names[: wishes.pieces]):
        share = len(range(number, wishes.pieces, len(names)))
        asked = ScaleWishes(
            name, wishes.key, low, high, wishes.rhythm, wishes.articulation,
            wishes.direction or "up-and-down", wishes.octaves or 1, level.name,
            wishes.valve_register, None, wishes.tempo_qpm, wishes.bars, share,
        )  # fmt: skip
        pieces += scale_pieces(setup, asked, rng)
    return tuple(pieces)


def _scale_of(kind: str, name: str) -> str:
    """A scale by name on a sheet of a kind: ``major`` is an arpeggio among arpeggios."""
    known = {
        "scales": SCALE_KINDS,
        "arpeggios": tuple(row.name for row in SCALES.values() if row.chord),
        "thirds": tuple(row for row in SCALE_KINDS if row.endswith(THIRDS)),
    }[kind]
    ending = {"scales": "", "arpeggios": "-arpeggio", "thirds": THIRDS}[kind]
    found = name if name in known else name + ending
    if found not in known:
        said = ", ".join(row.removesuffix(ending) if ending else row for row in known)
        raise BadUsage(f"there are no {kind} called {name!r}: choose one of {said}")
    return found


def write_drill(
    sheet: DrillSheet, folder: Path, *, with_pdf: bool = True, force: bool = False
) -> list[Path]:
    """Write KIND.musicxml and KIND.pdf into a folder. Raises OutputError."""
    score, pdf = folder / f"{sheet.kind}.musicxml", folder / f"{sheet.kind}.pdf"
    for path in (score, pdf) if with_pdf else (score,):
        check_free(path, force=force)
    # The print is made first: what can't be engraved leaves nothing half done.
    printed = sheet.pdf() if with_pdf else None
    write_result(score, sheet.musicxml(), force=force)
    if printed is None:
        return [score]
    write_result(pdf, printed, force=force)
    return [score, pdf]
