"""A class from a roster file: what holds for all of it, and each row's horn and file name."""

import logging
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from handslide.edges.files.roster import BrokenRow, RosterRow
from handslide.edges.files.safename import no_device
from handslide.ground.errors import BadData, HandslideError
from handslide.ground.facts import fact
from handslide.jobs.setup import Setup, make_setup
from handslide.words.speech import Speech, speech

# A letter may have four bytes, a file's name 255.
_LONGEST_STEM = 50
_log = logging.getLogger("handslide.classes")


@dataclass(frozen=True, slots=True)
class ClassDefaults:
    """What holds for students whose row says nothing else."""

    horn: str
    a4_hz: float = 440.0
    temp_c: float | None = None
    reach: float | None = None
    profile: str | None = None
    marks: str = ""


def setup_of_row(roster: Path, row: RosterRow, defaults: ClassDefaults) -> Setup:
    """The horn and the limits of a row's student. Raises as `make_setup`."""
    horn = row.horn or defaults.horn
    # A horn file in a roster is meant from the roster's own folder.
    beside = roster.parent / horn
    if "." in horn and beside.exists():
        horn = str(beside)
    return make_setup(
        horn,
        a4_hz=defaults.a4_hz if row.a4_hz is None else row.a4_hz,
        temp_c=defaults.temp_c,
        reach=defaults.reach if row.reach is None else row.reach,
        learned=row.valves,
        profile=defaults.profile,
        marks=defaults.marks,
    )


def speech_of_row(row: RosterRow, say: Speech) -> Speech:
    """How a student's sheets speak: as the row says, else as ``say``."""
    if row.language is None:
        return say.naming(row.names)
    return speech(row.language, row.names, say.face)


@contextmanager
def apart(row: RosterRow, problems: list[BrokenRow]) -> Iterator[None]:
    """Whatever goes wrong with one row is noted, and the others go on."""
    try:
        yield
    except HandslideError as error:
        problems.append(BrokenRow(row.number, row.student, error.fact))
    except Exception:
        # Nobody foresaw it, and thirty other students wait for their sheets.
        _log.exception("row %d of the roster failed", row.number)
        problems.append(BrokenRow(row.number, row.student, fact("roster.unforeseen")))


def none_usable(roster: Path, problems: Sequence[BrokenRow]) -> BadData:
    """The error for a roster of which nothing could be made."""
    if not problems:
        return BadData("roster.none_usable", file=roster.name)
    first = problems[0]
    return BadData(
        "roster.none_usable_because",
        file=roster.name, number=first.number, problem=first.problem,
    )  # fmt: skip


def safe_stem(name: str) -> str:
    """A person's name as the start of a file name: odd characters become underscores."""
    return no_device(re.sub(r"[^\w -]", "_", name)[:_LONGEST_STEM].strip(" .") or "student")


def student_stems(students: Sequence[str]) -> tuple[str, ...]:
    """A file name's start for each student; those that some system takes for one get a number."""
    taken: set[str] = set()
    stems = []
    for student in students:
        name = stem = safe_stem(student)
        count = 1
        while stem.casefold() in taken:
            count += 1
            stem = f"{name}-{count}"
        taken.add(stem.casefold())
        stems.append(stem)
    return tuple(stems)
