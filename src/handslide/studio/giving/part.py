"""A part on a stand as one file for the student."""

from dataclasses import dataclass, replace

from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact
from handslide.ground.limits import OPEN_SHEETS_BYTES
from handslide.ground.progress import ProgressCallback, silent
from handslide.instrument.markstyle import SHOWN
from handslide.jobs.handout.handout import part_handout
from handslide.studio.cache import CacheKind
from handslide.studio.giving.give import (
    GiveWishes,
    about_bytes,
    give_name,
    give_speech,
    given,
    names_student,
)
from handslide.studio.parts.files import StandFile
from handslide.studio.parts.openpart import OpenPart
from handslide.studio.people.namesakes import Names
from handslide.studio.studio import Studio
from handslide.words.horns import horn_line, limits_line
from handslide.words.speech import Speech

_GIVEN: CacheKind[tuple[object, ...], bytes] = CacheKind(12, len, OPEN_SHEETS_BYTES)


@dataclass(frozen=True, slots=True)
class PartToGive:
    """What the file of a part will hold.

    ``measures`` is a fact, None for all of them; ``count`` written notes are in it, ``size_bytes``
    roughly its size. ``lines`` say the horn and what of it the student uses. ``slips`` are titles
    that have the student's name in them although no name is wished.
    """

    measures: Fact | None
    count: int
    lines: tuple[str, ...]
    several: bool
    size_bytes: int
    name: str
    slips: tuple[str, ...]


def measures_wished(part: OpenPart, first: int | None, last: int | None) -> str | None:
    """Measures by their places in the part, from 0, as hand-outs take them; None: all of them.

    Raises BadUsage for one that has no note.
    """
    if first is None and last is None:
        return None
    known = {note.measure_index for note in part.marked.part.notes}
    one = min(known, default=0) if first is None else first
    other = max(known, default=0) if last is None else last
    if not {one, other} <= known:
        raise BadUsage("web.choice")
    return f"#{min(one, other) + 1}-#{max(one, other) + 1}"


def _span(wishes: GiveWishes) -> tuple[int, int] | None:
    if wishes.measures is None:
        return None
    first, _, last = wishes.measures.replace("#", "").partition("-")
    return int(first) - 1, int(last) - 1


def part_to_give(studio: Studio, part: OpenPart, wishes: GiveWishes, reader: Speech) -> PartToGive:
    """What is told of a part's file before it is made; ``reader`` speaks."""
    span, marked = _span(wishes), part.marked
    notes = [
        note for note in marked.part.notes
        if span is None or span[0] <= note.measure_index <= span[1]
    ]  # fmt: skip
    setup = part.routed.setup
    lines = horn_line(reader, setup.horn), limits_line(reader, setup.horn, setup.book.limits)
    texts = part.score.title, part.score.composer or "", marked.part.name, lines[0]
    return PartToGive(
        None if span is None else marked.measures.told(*span),
        len(notes),
        tuple(filter(None, lines)),
        len(marked.score.parts) > 1,
        about_bytes(len(notes)),
        _name(studio, part, wishes),
        () if wishes.named else names_student(part.student, *texts),
    )


def give_part(
    studio: Studio,
    part: OpenPart,
    wishes: GiveWishes,
    reader: Speech,
    progress: ProgressCallback = silent,
) -> StandFile:
    """The file of a part on a stand. Raises BadUsage, ScoreError."""
    show = wishes.show or part.student.show
    if show not in SHOWN:
        raise BadUsage("marks.show", name=show, known=", ".join(SHOWN))
    options = replace(
        part.marked.options,
        show=show,
        title=part.score.title,
        composer=part.score.composer,
        student=part.student.name if wishes.named else "",
    )
    marked, say = replace(part.marked, options=options), give_speech(part.student, wishes, reader)
    key = part.key, options, wishes, tuple(part.locks.items()), say
    data = studio.caches.of(_GIVEN).get(
        key, lambda: part_handout(marked, wishes.handout(options), say, progress).data
    )
    return given(data, _name(studio, part, wishes))


def _name(studio: Studio, part: OpenPart, wishes: GiveWishes) -> str:
    return give_name(studio, Names(studio).on_stand(part.stand.id).plain, part.student, wishes)
