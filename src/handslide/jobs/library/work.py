"""What is done to one file or one part of a library, wherever that is: here, or on another machine.

What comes in and goes out is plain and goes through pickle; equal input gives equal bytes.
"""

import hashlib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path, PurePath
from typing import Any

from handslide.edges.files.outfile import write_result
from handslide.edges.files.plainfile import read_plain
from handslide.edges.musicxml.read import open_score_data
from handslide.edges.pdfparts.head import is_pdf
from handslide.edges.pdfparts.reading import Corrections
from handslide.ground.errors import BadData, HandslideError, OutputError
from handslide.ground.limits import SCORE_BYTES
from handslide.ground.system import system_reason
from handslide.instrument.horn import Horn
from handslide.instrument.markstyle import MarkStyle
from handslide.instrument.places import Limits, PlaceBook
from handslide.instrument.profile import Profile
from handslide.jobs.library.choosing import look_json
from handslide.jobs.library.grade import grade_json, grade_of
from handslide.jobs.mark.mark import MarkOptions, choose_for
from handslide.jobs.mark.pdfpart import open_pdf
from handslide.jobs.mark.written import printed
from handslide.jobs.setup import Setup
from handslide.words.speech import speech

# What may be otherwise at the next try: a file that is gone, or another now; what is installed.
_PASSING = ("library.gone", "library.changed", "scores.no_reader")


@dataclass(frozen=True, slots=True)
class PlayedBy:
    """A player as a worker needs to know it: all of the setup, and how the sheets speak."""

    horn: Horn
    profile: Profile
    limits: Limits
    style: MarkStyle
    language: str
    names: str | None


@dataclass(frozen=True, slots=True)
class Input:
    """A file and what it holds, by the hash of its bytes; ``name`` is what errors call it.

    ``data``: the bytes themselves, where no file holds them.
    """

    path: str
    name: str
    hash: str
    data: bytes | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """To be done: look at the parts of a file."""

    key: str
    source: Input


@dataclass(frozen=True, slots=True)
class Marking:
    """To be done: mark a part for a player; the files are called ``target`` and their endings.

    What stands there is replaced: the driver has looked that it is nobody else's, and a worker that
    died after writing may have been here before.
    """

    key: str
    source: Input
    player: PlayedBy
    options: MarkOptions
    pdf: bool
    target: str


@dataclass(frozen=True, slots=True)
class Grading:
    """To be done: say what a part asks of a player; nothing is written."""

    key: str
    source: Input
    player: PlayedBy
    options: MarkOptions


@dataclass(frozen=True, slots=True)
class Made:
    """A marked part: the contents of its files by their endings, and its grade as JSON."""

    files: dict[str, bytes]
    grade: dict[str, Any]
    figures: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Put:
    """The same when the files are written; a part that was only graded has none."""

    endings: tuple[str, ...]
    grade: dict[str, Any]
    figures: dict[str, Any]


def content_hash(data: bytes) -> str:
    """What bytes are known by."""
    return hashlib.sha256(data).hexdigest()


def input_bytes(source: Input) -> bytes:
    """The bytes of a file, if they are still the same. Raises BadData."""
    if source.data is not None:
        return source.data
    try:
        data = read_plain(Path(source.path), SCORE_BYTES)
    except OSError as error:
        raise BadData("library.gone", file=source.name, reason=system_reason(error)) from None
    if content_hash(data) != source.hash:
        raise BadData("library.changed", file=source.name)
    return data


def read_parts(data: bytes, name: str) -> dict[str, Any]:
    """The parts of a score and what is seen of them, as JSON. Raises ScoreError."""
    score = (
        open_pdf(data, name, Corrections()).score() if is_pdf(data) else open_score_data(data, name)
    )
    return {
        "titled": bool(score.title),
        "converted": score.converted,
        "parts": [look_json(look) for look in score.looks()],
    }


def make(data: bytes, task: Marking) -> Made:
    """Mark a part. Raises ScoreError, BadUsage as `choose_for` does."""
    name = task.source.name
    score = open_score_data(data, name)
    say = speech(task.player.language, task.player.names)
    marked = choose_for(score, _setup(task.player), task.options)
    files = {}
    if task.pdf:
        marked, pdf = printed(marked, say)
        if pdf is not None:
            files["-marked.pdf"] = pdf
            if task.options.report == "file":
                files["-marked-report.pdf"] = marked.report_pdf(say)
    grade = grade_of(marked)
    files[f"-marked{score_ending(name, converted=score.converted)}"] = marked.musicxml()
    return Made(files, grade_json(grade), grade.figures)


def score_ending(name: str, *, converted: bool) -> str:
    """What the name of a marked score ends in."""
    return ".musicxml" if converted else PurePath(name).suffix


def put(made: Made, target: str) -> Put:
    """Write the files of a marked part, each whole or not at all. Raises OutputError."""
    for ending, data in made.files.items():
        write_result(Path(target + ending), data, force=True)
    return Put(tuple(sorted(made.files)), made.grade, made.figures)


def read_here(task: Reading) -> dict[str, Any]:
    """`read_parts` of a file that can be opened from here."""
    return read_parts(input_bytes(task.source), task.source.name)


def mark_here(task: Marking) -> Put:
    """`make` and `put` where the files can be opened from here."""
    return put(make(input_bytes(task.source), task), task.target)


def grade_here(task: Grading) -> Put:
    """Look at a part as `make` does. Raises as that."""
    score = open_score_data(input_bytes(task.source), task.source.name)
    grade = grade_of(choose_for(score, _setup(task.player), task.options))
    return Put((), grade_json(grade), grade.figures)


def is_passing(error: HandslideError) -> bool:
    """Whether what went wrong lies in the disk or the moment, not in the part."""
    return isinstance(error, OutputError) or error.fact.kind in _PASSING


def _setup(player: PlayedBy) -> Setup:
    book = _book(player.horn, player.limits)
    return Setup(player.horn, player.profile, book, player.style)


@lru_cache(maxsize=64)
def _book(horn: Horn, limits: Limits) -> PlaceBook:
    # The places of a horn take longer to find than a short part takes to mark.
    return PlaceBook(horn, limits)
