"""A section at once: several parts of one score, each for its own student and horn."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import chain, cycle
from pathlib import Path
from typing import Any

from handslide.edges.files.outfile import check_free
from handslide.edges.files.roster import BrokenRow, RosterRow, read_roster
from handslide.edges.musicxml.read import PartInfo, Score, open_score
from handslide.ground.errors import BadData, HandslideError
from handslide.ground.progress import ProgressCallback
from handslide.instrument.horn import Horn
from handslide.jobs.chart.kinds import SHEETS
from handslide.jobs.classes import (
    ClassDefaults,
    apart,
    none_usable,
    setup_of_row,
    speech_of_row,
    student_stems,
)
from handslide.jobs.mark.mark import NOT_ENGRAVED, MarkOptions
from handslide.jobs.mark.report import Found, found_json
from handslide.jobs.mark.written import Written, mark_file, mark_targets
from handslide.words.catalogues import languages
from handslide.words.horns import horn_title
from handslide.words.speech import Speech


@dataclass(frozen=True, slots=True)
class Seat:
    """A student of a section: the row, the part, and whether it was dealt out by its order."""

    row: RosterRow
    part: PartInfo
    dealt: bool


@dataclass(frozen=True, slots=True)
class Seated:
    """What was made for one student: the voice of the part, how many ``notes`` it has, how many of
    them have no place, and the ``files``.

    ``warnings``: that it couldn't be engraved, or was read in doubt of how it sounds. The part
    itself isn't held: a section may be large.
    """

    seat: Seat
    horn: Horn
    voice: str
    notes: int
    unplayable: int
    warnings: tuple[Found, ...]
    files: tuple[Path, ...]


def _seated(seat: Seat, horn: Horn, written: Written) -> Seated:
    marked, notes = written.marked, len(written.marked.part.notes)
    told = tuple(row for row in marked.found if row.kind in (NOT_ENGRAVED, "transpose"))
    unplayable = notes - len(marked.routed.places)
    files = tuple(written.files)
    return Seated(seat, horn, marked.part.voice, notes, unplayable, told, files)


@dataclass(frozen=True, slots=True)
class Seating:
    """Who plays what, the rows for which there is no such part, and the trombones left over.

    ``repeated``: there are more students than parts, so that some play the same.
    """

    seats: tuple[Seat, ...]
    unseated: tuple[BrokenRow, ...]
    idle: tuple[PartInfo, ...]
    repeated: bool


@dataclass(frozen=True, slots=True, eq=False)
class MarkedSection:
    """A section: what was made, row by row, and the rows that couldn't be."""

    seating: Seating
    seated: tuple[Seated, ...]
    broken: tuple[BrokenRow, ...]


def mark_section(
    path: Path,
    roster: Path,
    folder: Path,
    defaults: ClassDefaults,
    options: MarkOptions,
    say: Speech,
    *,
    with_pdf: bool = True,
    force: bool = False,
    progress: ProgressCallback | None = None,
) -> MarkedSection:
    """Mark a part of a score for each student of a roster, into ``folder``.

    A row says with ``part`` which one it plays, as `Score.read_part` takes it; but a number counts
    the trombone parts, where there are some. Rows that say nothing get the trombone parts that no
    row names, in the order of the score; after the last all trombones are dealt out from the first
    on again. A broken row keeps its turn. A row that fails is reported and the others are still
    made.

    Raises
    ------
    ScoreError
        When the score can't be opened.
    BadData
        When the roster can't be read, or nothing can be made for any of its rows.
    OutputError
        When a result exists already (unless ``force``).
    """
    rows, broken = read_roster(roster, SHEETS, tuple(languages()))
    score = open_score(path)
    seating = deal(score, rows, broken)
    seats = seating.seats
    problems = [*broken, *seating.unseated]
    stems = student_stems([seat.row.student for seat in seats])
    names = [f"{path.stem}-{stem}" for stem in stems]
    for name in names:
        targets = mark_targets(path, folder, options, name, with_pdf=with_pdf)
        if score.converted and "score" in targets:
            targets["score"] = targets["score"].with_suffix(".musicxml")
        for target in targets.values():
            check_free(target, force=force)
    seated = []
    for done, (seat, name) in enumerate(zip(seats, names)):
        if progress is not None:
            progress("section", done, len(seats))
        with apart(seat.row, problems):
            setup = setup_of_row(roster, seat.row, defaults)
            written = mark_file(
                path,
                setup,
                _wishes(options, seat),
                speech_of_row(seat.row, say),
                folder=folder,
                stem=name,
                with_pdf=with_pdf,
                force=force,
            )
            seated.append(_seated(seat, setup.horn, written))
    problems.sort(key=lambda row: row.number)
    if not seated:
        raise none_usable(roster, problems)
    return MarkedSection(seating, tuple(seated), tuple(problems))


def deal(score: Score, rows: Sequence[RosterRow], broken: Sequence[BrokenRow] = ()) -> Seating:
    """Seat the students of a roster; see `mark_section`."""
    named: dict[int, PartInfo] = {}
    unseated = []
    everyone: list[RosterRow | BrokenRow] = [*rows, *broken]
    everyone.sort(key=lambda row: row.number)
    for row in everyone:
        try:
            if row.part is not None:
                named[row.number] = _part_of(score, row.part)
        except HandslideError as error:
            if isinstance(row, RosterRow):
                unseated.append(BrokenRow(row.number, row.student, error.fact, row.part))
    trombones = score.trombones or (score.parts if len(score.parts) == 1 else ())
    taken = {part.part_id for part in named.values()}
    order = [part for part in trombones if part.part_id not in taken]
    dealt = {
        row.number: part
        for row, part in zip(
            (row for row in everyone if row.part is None),
            chain(order, cycle(trombones)),
        )
    }
    seats = []
    for row in rows:
        part = named.get(row.number) or dealt.get(row.number)
        if part is not None:
            seats.append(Seat(row, part, dealt=row.part is None))
        elif row.part is None:
            parts = tuple(each.name for each in score.parts)
            told = BadData("roster.which_part", file=score.name, parts=parts).fact
            unseated.append(BrokenRow(row.number, row.student, told))
    return Seating(
        tuple(seats),
        tuple(unseated),
        idle=tuple(order[len(dealt) :]),
        repeated=len(dealt) > len(order),
    )


def _part_of(score: Score, wanted: str) -> PartInfo:
    """The part that a row means: a number counts the trombones, as a section does."""
    trombones = score.trombones
    if not wanted.isdecimal() or not trombones:
        return score.part_named(wanted)
    if not 1 <= int(wanted) <= len(trombones):
        names = tuple(part.name for part in trombones)
        raise BadData("roster.trombone_number", number=int(wanted), parts=names)
    return trombones[int(wanted) - 1]


def _wishes(options: MarkOptions, seat: Seat) -> MarkOptions:
    return replace(options, part=seat.part.part_id, voice=seat.row.voice, student=seat.row.student)


def section_json(say: Speech, section: MarkedSection) -> dict[str, Any]:
    """JSON of ``handslide section``."""
    return {
        "students": [
            {
                "row": one.seat.row.number,
                "student": one.seat.row.student,
                "part": one.seat.part.name,
                "part_id": one.seat.part.part_id,
                "voice": one.voice,
                "dealt": one.seat.dealt,
                "horn": one.horn.name,
                "horn_title": horn_title(say, one.horn),
                "notes": one.notes,
                "unplayable": one.unplayable,
                "warnings": [found_json(say, row) for row in one.warnings],
                "files": [str(path) for path in one.files],
            }
            for one in section.seated
        ],
        "idle_parts": [part.name for part in section.seating.idle],
        "problems": [
            {
                "row": row.number,
                "student": row.student,
                "kind": row.problem.kind,
                "text": say.fact(row.problem),
            }
            for row in section.broken
        ],
        "files": [str(path) for one in section.seated for path in one.files],
    }
