"""Engraving: one part of a MusicXML tree with marks, as SVG pages (Verovio).

The pages hold music only; titles, legend and page numbers are set around them by typesetting.
Each page is as wide as the paper's music column and ``hang_mm`` more on either side, and as high
as its music and OVERHANG_MM above and below.

The engraver runs on a leash: what it dies of is an error, and the program lives on.
"""

from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Protocol

from lxml import etree

from handslide.edges.engraving.copy import engraving_copy
from handslide.edges.engraving.engraver import ENGRAVER
from handslide.edges.engraving.marks import room_mm
from handslide.edges.engraving.render import STAFF_MM, Marking, render, render_column
from handslide.edges.engraving.values import OVERHANG_MM, Engraving, EngravingCopy, Paper, Piece
from handslide.edges.leash.leash import Fallen
from handslide.edges.musicxml.staves import measure_number
from handslide.ground.cleantext import cut_line
from handslide.ground.errors import ScoreError
from handslide.ground.limits import (
    ENGRAVED_ELEMENTS,
    ENGRAVED_NOTES,
    ENGRAVER_MORE_S,
    ENGRAVER_NOTES_A_SECOND,
    MEASURE_ELEMENTS,
    MEASURE_NOTES,
    NAME_LETTERS,
)
from handslide.ground.papers import paper_size

__all__ = [
    "OVERHANG_MM",
    "STAFF_MM",
    "Engraving",
    "Notated",
    "Paper",
    "engrave_column",
    "engrave_part",
    "notes_in",
    "paper_named",
]

_ELEMENTS = etree.XPath("count(.//*)")


def paper_named(name: str) -> Paper:
    """The usual column on a paper. Raises BadUsage."""
    size = paper_size(name)
    return Paper(size.name, size.width_mm, size.height_mm)


class Notated(Protocol):
    """What can be engraved: a score, or measures cut out of one."""

    def partwise(self) -> etree._Element:
        """Its root as ``score-partwise``."""
        ...


def engrave_part(
    score: Notated,
    part_id: str,
    marks: Mapping[int, str],
    paper: Paper,
    *,
    staff: str | None = None,
    mark_pt: float = 10.0,
    second: Mapping[int, str] | None = None,
    hidden: Collection[tuple[int, str]] = (),
    below: tuple[str, Mapping[int, str]] | None = None,
    progress: Callable[[int, int], None] | None = None,
    meanwhile: Callable[[], object] | None = None,
) -> Engraving:
    """Engrave one part with marks above its notes.

    Parameters
    ----------
    score : Notated
        It isn't changed.
    part_id : str
        ``id`` of the part.
    marks : mapping of int to str
        Ordinal of a note (`handslide.edges.musicxml.scorepart.ScoreNote`) -> its mark.
    paper : Paper
    staff : str, optional
        Number of the staff to engrave of a part with several.
    mark_pt : float
        Size of the marks in points, from 8 to 14.
    second : mapping, optional
        Marks as ``marks`` for a second row above the first, as when two horns are compared.
    hidden : collection of (int, str)
        Ordinals and texts of fingerings that the engraver is not to draw.
    below : (str, mapping of int to str), optional
        Another part on the same system, below the first, and the marks of its notes.
    progress : callable, optional
        Is told how much is drawn, and of how much.
    meanwhile : callable, optional
        Is called once, while the engraver is at work in its own process.

    Raises
    ------
    ScoreError
        When nothing can be engraved, or the engraver dies of it.
    """
    work = _prepared(score, part_id, marks, paper, staff, mark_pt, second, hidden, below)
    with _told(work):
        # To the end, so that the child is free for others.
        *_, engraving = (
            _heard(found, progress) for found in _streamed(render, work, paper, meanwhile)
        )
    assert engraving is not None
    return engraving


def engrave_column(
    score: Notated,
    part_id: str,
    marks: Mapping[int, str],
    paper: Paper,
    *,
    staff: str | None = None,
    mark_pt: float = 10.0,
    second: Mapping[int, str] | None = None,
    hidden: Collection[tuple[int, str]] = (),
    below: tuple[str, Mapping[int, str]] | None = None,
) -> Iterator[Piece]:
    """Engrave one part as one endless page, and give piece after piece of it.

    As `engrave_part`, but for the paper's height. The pieces belong below each other without a gap.
    """
    work = _prepared(
        score, part_id, marks, paper, staff, mark_pt, second, hidden, below, turned=False
    )
    with _told(work):
        yield from _streamed(render_column, work, paper)


def notes_in(score: Notated, part_id: str) -> int:
    """How many ``<note>`` a part has, rests and all: the ordinals of a part below go on from it."""
    return _notes_in(score.partwise(), part_id)


def _notes_in(root: etree._Element, part_id: str) -> int:
    return sum(
        len(one.findall("measure/note")) for one in root.findall("part") if one.get("id") == part_id
    )


@dataclass(frozen=True, slots=True)
class _Work:
    """A part made ready for the engraver, which may take ``more_s``; ``name`` is for errors."""

    name: str
    arguments: tuple[EngravingCopy, str, Marking]
    more_s: float


def _prepared(
    score: Notated,
    part_id: str,
    marks: Mapping[int, str],
    paper: Paper,
    staff: str | None,
    mark_pt: float,
    second: Mapping[int, str] | None,
    hidden: Collection[tuple[int, str]],
    below: tuple[str, Mapping[int, str]] | None = None,
    *,
    turned: bool = True,
) -> _Work:
    root = score.partwise()
    marks = {key: text for key, text in marks.items() if text}
    if below is not None:
        before = _notes_in(root, part_id)
        marks |= {before + key: text for key, text in below[1].items() if text}
    room = room_mm(marks, mark_pt)
    widest = marks
    if second:
        other = room_mm(second, mark_pt)
        room = {key: max(room.get(key, 0.0), other.get(key, 0.0)) for key in {*room, *other}}
        widest = {
            key: marks.get(key, "") if room[key] > other.get(key, 0.0) else second[key]
            for key in room
        }
    for one in (part_id, *([below[0]] if below else [])):
        _check_measures(root, one)
    copy = engraving_copy(
        root,
        part_id,
        staff,
        room,
        paper.music_width_mm,
        hidden,
        None if below is None else below[0],
        turned=turned,
    )
    marks = {key: text for key, text in marks.items() if key in copy.drawn}
    widest = {key: text for key, text in widest.items() if key in copy.drawn}
    more_s = min(len(copy.drawn) / ENGRAVER_NOTES_A_SECOND, ENGRAVER_MORE_S)
    marking = Marking(marks, widest, mark_pt, second)
    return _Work(_name(root, part_id), (copy, part_id, marking), more_s)


def _heard(
    found: tuple[int, int] | Engraving, progress: Callable[[int, int], None] | None
) -> Engraving | None:
    """Pass on how far it is; the pages come last."""
    if isinstance(found, Engraving):
        return found
    if progress is not None:
        progress(*found)
    return None


def _streamed(
    function: Callable[..., Iterator[Any]],
    work: _Work,
    paper: Paper,
    meanwhile: Callable[[], object] | None = None,
) -> Iterator[Any]:
    seconds = ENGRAVER.limits.seconds + work.more_s
    return ENGRAVER.stream(
        function, *work.arguments, paper, together_s=seconds, meanwhile=meanwhile
    )


@contextmanager
def _told(work: _Work) -> Iterator[None]:
    """Raises ScoreError where the engraver falls."""
    try:
        yield
    except Fallen as fallen:
        part = work.name
        if fallen.why == "slow":
            seconds = ENGRAVER.limits.seconds + work.more_s
            raise ScoreError("scores.engraver_slow", part=part, seconds=seconds) from fallen
        if fallen.why == "memory":
            raise ScoreError("scores.engraver_memory", part=part) from fallen
        raise ScoreError("scores.engraver_died", part=part) from fallen


def _check_measures(root: etree._Element, part_id: str) -> None:
    """Raises ScoreError for what is so full or long that the engraver would work to no end."""
    in_part = elements_in_part = 0
    for measure in root.iterfind("part/measure"):
        if measure.getparent().get("id") != part_id:
            continue
        in_part += len(measure.findall("note"))
        notes = len(measure) if len(measure) <= MEASURE_NOTES else len(measure.findall("note"))
        if notes > MEASURE_NOTES:
            raise _crowded(root, part_id, measure, "scores.engraver_crowded", notes, MEASURE_NOTES)
        elements = int(_ELEMENTS(measure))
        elements_in_part += elements
        if elements > MEASURE_ELEMENTS:
            kind = "scores.engraver_overfull"
            raise _crowded(root, part_id, measure, kind, elements, MEASURE_ELEMENTS)
    part = _name(root, part_id)
    if in_part > ENGRAVED_NOTES:
        raise ScoreError("scores.engraver_long", part=part, count=in_part, most=ENGRAVED_NOTES)
    if elements_in_part > ENGRAVED_ELEMENTS:
        values = {"count": elements_in_part, "most": ENGRAVED_ELEMENTS}
        raise ScoreError("scores.engraver_heavy", part=part, **values)


def _crowded(
    root: etree._Element, part_id: str, measure: etree._Element, kind: str, count: int, most: int
) -> ScoreError:
    part, number = _name(root, part_id), measure_number(measure)
    return ScoreError(kind, part=part, measure=number, count=count, most=most)


def _name(root: etree._Element, part_id: str) -> str:
    for entry in root.iterfind("part-list/score-part"):
        if entry.get("id") == part_id:
            return cut_line(entry.findtext("part-name") or "", NAME_LETTERS) or part_id
    return part_id
