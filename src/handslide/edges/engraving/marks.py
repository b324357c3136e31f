"""Where the marks stand: one level row above each system, under tempo and rehearsal text.

The engraver reserves width and a row above everything. Here the row is lowered onto the music
and words that would lie in it are raised above it. Lengths are in the engraver's units
(100 units = 1 mm).
"""

import itertools
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from pathlib import Path

from lxml import etree

from handslide.edges.engraving.breaks import MEI, read_mei
from handslide.edges.engraving.shapes import (
    SVG,
    Box,
    Glyphs,
    hull,
    ink,
    ink_beside,
    is_kind,
    of_kind,
)
from handslide.edges.engraving.values import NOTE_ID
from handslide.ground.wholenumber import whole_number

UNITS_PER_PT = 100 * 25.4 / 72
ASCENT_EM = 0.80  # highest ink of the marks' face above the baseline (the flat)
DESCENT_EM = 0.10  # lowest ink below it (the sharp)
CLEAR = 70.0  # smallest distance of a mark from notes and signs, 0.7 mm
BESIDE = 45.0  # smallest distance sideways between a mark and other ink, 0.45 mm
WORDS_CLEAR = 60.0  # of words from marks and other words
WORDS_TOUCH = 40.0  # of words from notes and signs
WORDS_SINK = 120.0  # how deep words over the staff reach into it: texts are measured roughly
# Not by importlib.resources: this module is loaded by each child, and that takes its time.
_METRICS = Path(__file__).parents[2] / "data" / "fonts" / "HandslideMarks-Bold.json"
_WORDS = {"tempo", "dir", "reh", "harm", "voltaBracket", "ending"}
_HUNG = 200.0  # how much further to the left words are taken for hung, in 1/100 mm
_PLAIN_NUMBER = re.compile(r"\d+([.,]\d+)?")
_UNKNOWN_ADVANCE_EM = 0.7
GAP_EM = 0.28  # least space between neighbouring marks
ROW_EM = 1.15  # of a second row of marks above the first
GRACE_SCALE = 0.85  # of marks over grace notes
MIN_PT = 8.0
_ROOM_ID = "hs-room"
_ROOM_TAGS = re.compile(
    rf'<note xml:id="{NOTE_ID}(?P<note>[0-9]+)"|<staff |(?P<end></measure>)', re.ASCII
)
_ROOM_DRAWN = re.compile(rf'<g id="{_ROOM_ID}\d+"[^<>]*(?:/>|>.*?</g>)\s*', re.DOTALL)


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark: its note, text, centre, set width, size and how firmly it holds its place."""

    ordinal: int
    text: str
    centre: float
    width: float
    size: float
    weight: float


@cache
def _advances() -> dict[str, float]:
    widths: dict[str, float] = json.loads(_METRICS.read_text(encoding="utf-8"))["advance_em"]
    return widths


@cache
def mark_family() -> str:
    """Return the family name of the marks' face."""
    return str(json.loads(_METRICS.read_text(encoding="utf-8"))["family"])


@lru_cache(2000)
def mark_width_em(text: str) -> float:
    """Return the set width of a mark in units of its size."""
    return sum(_advances().get(letter, _UNKNOWN_ADVANCE_EM) for letter in text)


def room_mm(marks: Mapping[int, str], mark_pt: float) -> dict[int, float]:
    """Return the width that each mark needs, with its gap, in mm."""
    em = mark_pt * UNITS_PER_PT / 100
    return {key: (mark_width_em(text) + GAP_EM) * em for key, text in marks.items()}


def add_room(mei: str, marks: Mapping[int, str], graces: frozenset[int]) -> str:
    """Return the MEI document with placeholders over the notes that keep room for their marks.

    The engraver sets chord symbols flush left and keeps them apart by moving notes. Two centred
    marks are apart when their notes stand half of both widths apart, so that each placeholder is
    that wide. Grace notes aren't moved by symbols: their room is added to the note before.
    Over a second staff words keep the height: symbols of two staves push barlines away.
    """
    if "<label" in mei:
        mei = _numbers_joined(mei)
    room = _room_em(marks, graces)
    # The document is the engraver's own, each tag of it on one line: a tree isn't needed.
    pieces: list[str] = []
    at = staves = 0
    symbols: list[str] = []
    for found in _ROOM_TAGS.finditer(mei):
        if found["note"] is not None:
            ordinal = int(found["note"])
            if ordinal in room:
                kind = "dir" if staves > 1 else "harm"
                symbols.append(
                    f'<{kind} place="above" startid="#{NOTE_ID}{ordinal}" '
                    f'xml:id="{_ROOM_ID}{ordinal}">{_placeholder(room[ordinal])}</{kind}>'
                )
        elif found["end"] is None:
            staves += 1
        else:
            pieces += mei[at : found.start()], *symbols
            at, staves, symbols = found.start(), 0, []
    return "".join((*pieces, mei[at:]))


def _numbers_joined(mei: str) -> str:
    """Give words below notes the number back that they begin with, such as ``79 mm``.

    The engraver takes it for the number of a verse and hangs it out to the left; that of a verse
    has a full stop.
    """
    root = read_mei(mei.encode())
    for label in list(root.iter(f"{MEI}label")):
        number, words = (label.text or "").strip(), label.getnext()
        if words is not None and words.tag == f"{MEI}syl" and _PLAIN_NUMBER.fullmatch(number):
            words.text = f"{number} {(words.text or '').lstrip()}"
            label.getparent().remove(label)
    text: str = etree.tostring(root, encoding="unicode")
    return text


def _room_em(marks: Mapping[int, str], graces: frozenset[int]) -> dict[int, float]:
    room: dict[int, float] = {}
    owner: int | None = None
    half_before = 0.0
    for ordinal in sorted(marks):
        width = mark_width_em(marks[ordinal])
        grace = ordinal in graces
        width *= GRACE_SCALE if grace else 1.0
        if owner is not None:
            room[owner] += half_before + width / 2 + GAP_EM
        half_before = width / 2
        if not grace:
            owner = ordinal
            room[owner] = 0.0
    if owner is not None:
        room[owner] += half_before
    return room


def _placeholder(width_em: float) -> str:
    # In the engraver's text face a digit is 0.5 em and a full stop 0.25 em wide.
    quarters = max(2, -int(-width_em // 0.25))
    return "0" * (quarters // 2) + "." * (quarters % 2)


def place_marks(
    system: etree._Element,
    marks: Mapping[int, str],
    graces: frozenset[int],
    glyphs: Glyphs,
    mark_pt: float,
    second: Mapping[int, str] | None = None,
) -> int:
    """Set the marks of one system in a level row over each staff, and raise words over the first
    that would lie in it.

    ``second`` are marks for another row above the first, over the same notes. Returns the number
    of marks set in the first row.
    """
    second = second or {}
    kinds = _by_kind(system)
    heights = _heights(system, kinds.get("measure", ()))
    first, *others = [
        apart(_find_marks(system, marks, graces, glyphs, mark_pt, second, notes))
        for notes in _notes_of_staves(kinds, len(heights))
    ]
    if len(heights) == 1:
        _lower_verses(system, kinds.get("verse", ()), glyphs)
    fixed, words = _sort_ink(system, kinds, glyphs)
    below = 0
    for marked, (_, bottom), (top, _) in zip(others, heights, heights[1:]):
        # What is nearer to the staff above hangs from it.
        own = [box for box in fixed if box.top + box.bottom > bottom + top]
        below += _set_row(system, marked, _row_baseline(marked, own, top))
    foot = heights[0][0]
    found, baseline = first, _row_baseline(first, fixed, foot)
    # No word may come between a mark and its note: the marks' columns reach down to the staff.
    row = ROW_EM * UNITS_PER_PT * mark_pt
    columns = [_mark_box(mark, baseline)._replace(bottom=foot) for mark in found]
    if second:
        columns = [column._replace(top=column.top - row) for column in columns]
    _raise_words(words, columns, fixed)
    for mark in found:
        other = second.get(mark.ordinal)
        if other:
            width = mark_width_em(other) * mark.size
            _set_mark(system, replace(mark, text=other, width=width), baseline - row, "mark second")
    return below + _set_row(system, found, baseline)


def _set_row(system: etree._Element, found: Sequence[Mark], baseline: float) -> int:
    set_here = [mark for mark in found if mark.text]
    for mark in set_here:
        _set_mark(system, mark, baseline)
    return len(set_here)


def _staves_in(measure: etree._Element) -> list[etree._Element]:
    return of_kind(measure, "staff")


def _by_kind(system: etree._Element) -> dict[str, list[etree._Element]]:
    """The groups of a system by what they hold, in their order; all words are one kind more."""
    found: dict[str, list[etree._Element]] = {}
    for group in system.iter(f"{SVG}g"):
        kind = (group.get("class") or "").partition(" ")[0]
        found.setdefault(kind, []).append(group)
        if kind in _WORDS:
            found.setdefault("words", []).append(group)
    return found


def _heights(
    system: etree._Element, measures: Sequence[etree._Element]
) -> list[tuple[float, float]]:
    """The top and the bottom line of each staff of a system."""
    lines = [staff_lines(one) for one in _staves_in(measures[0])] if measures else []
    return [(rows[0], rows[-1]) for rows in lines if rows] or [(_staff_top(system), 0.0)]


def _notes_of_staves(
    kinds: Mapping[str, Sequence[etree._Element]], count: int
) -> list[list[etree._Element]]:
    """The notes of each of so many staves; what has no staff of its own is of the first."""
    found: list[list[etree._Element]] = [[] for _ in range(count)]
    seen = set()
    for measure in kinds.get("measure", ()) if count > 1 else ():
        for number, staff in enumerate(_staves_in(measure)[1:count], 1):
            notes = of_kind(staff, "note")
            found[number] += notes
            seen.update(notes)
    found[0] = [note for note in kinds.get("note", ()) if note not in seen]
    return found


def without_room(svg: str) -> str:
    """A drawing without the placeholders of `add_room`, which have no groups in them."""
    return _ROOM_DRAWN.sub("", svg)


def _find_marks(
    system: etree._Element,
    marks: Mapping[int, str],
    graces: frozenset[int],
    glyphs: Glyphs,
    mark_pt: float,
    second: Mapping[int, str],
    notes: Sequence[etree._Element],
) -> list[Mark]:
    """Return the marks of a staff from left to right, each centred over its note head."""
    found = []
    for note in notes:
        ordinal = ordinal_of(note.get("id", ""))
        if ordinal not in marks and ordinal not in second:
            continue
        centre = head_centre(note, glyphs)
        if centre is None:
            continue
        grace = ordinal in graces
        size = UNITS_PER_PT * (max(MIN_PT, mark_pt * GRACE_SCALE) if grace else mark_pt)
        text = marks.get(ordinal, "")
        width = max(mark_width_em(text), mark_width_em(second.get(ordinal, ""))) * size
        found.append(Mark(ordinal, text, centre, width, size, 1.0 if grace else 30.0))
    return sorted(found, key=lambda mark: mark.centre)


def head_centre(note: etree._Element, glyphs: Glyphs) -> float | None:
    """Return the middle of a note's head, or None where nothing of it is drawn."""
    heads = [group for group in note.iter(f"{SVG}g") if is_kind(group, "notehead")]
    for group in [*heads, note]:  # a note may be drawn without a head
        boxes = ink(group, glyphs)
        if boxes:
            box = hull(boxes)
            return (box.left + box.right) / 2
    return None


def apart(found: Sequence[Mark]) -> list[Mark]:
    """Move marks sideways where notes stand closer than their marks are wide (grace notes).

    Weighted least squares under the least distances (pool adjacent violators): marks that meet
    are pooled, and a pool stands where its members would stand on the whole.
    """
    offsets = [0.0]
    for mark, following in itertools.pairwise(found):
        gap = GAP_EM * min(mark.size, following.size)
        offsets.append(offsets[-1] + (mark.width + following.width) / 2 + gap)
    pools: list[tuple[float, float, int]] = []  # wanted start, weight, members
    for mark, offset in zip(found, offsets):
        start, weight, members = mark.centre - offset, mark.weight, 1
        while pools and pools[-1][0] > start:
            before = pools.pop()
            both = before[1] + weight
            start = (before[0] * before[1] + start * weight) / both
            weight, members = both, members + before[2]
        pools.append((start, weight, members))
    starts = [start for start, _, members in pools for _ in range(members)]
    return [
        replace(mark, centre=start + offset) for mark, start, offset in zip(found, starts, offsets)
    ]


def ordinal_of(name: str) -> int:
    """Return the ordinal in a note's id; -1 for what is none."""
    digits = name.removeprefix(NOTE_ID)
    number = whole_number(digits) if digits != name else None
    return -1 if number is None else number


def _sort_ink(
    system: etree._Element, kinds: Mapping[str, Sequence[etree._Element]], glyphs: Glyphs
) -> tuple[list[Box], list[tuple[etree._Element, list[Box]]]]:
    """Return the boxes that stay and, apart, the words above the staff that may be raised."""
    words: list[tuple[etree._Element, list[Box]]] = []
    inside: set[etree._Element] = set()
    staff_top = _staff_top(system)
    for element in kinds.get("words", ()):
        boxes = [] if element in inside else ink(element, glyphs)
        if boxes and hull(boxes).bottom <= staff_top + WORDS_SINK:
            words.append((element, boxes))
            inside.update(element.iter())
    return ink_beside(system, inside, glyphs), words


def staff_lines(system: etree._Element) -> list[float]:
    """Return the heights of all staff lines of a system, from top to bottom."""
    heights = set()
    for staff in system.iter(f"{SVG}g"):
        if not is_kind(staff, "staff"):
            continue
        for path in staff.iterchildren(f"{SVG}path"):
            numbers = path.get("d", "").replace("M", " ").replace("L", " ").split()
            if len(numbers) == 4 and numbers[1] == numbers[3]:
                heights.add(float(numbers[1]))
    return sorted(heights)


def _staff_top(system: etree._Element) -> float:
    lines = staff_lines(system)
    return lines[0] if lines else 0.0


def _row_baseline(found: Sequence[Mark], fixed: list[Box], staff_top: float) -> float:
    baseline = staff_top - CLEAR - 40
    from_top = sorted(fixed, key=lambda box: box.top)
    for mark in found:
        left = mark.centre - mark.width / 2 - BESIDE
        right = mark.centre + mark.width / 2 + BESIDE
        for x0, top, x1, _ in from_top:
            offered = top - CLEAR - DESCENT_EM * mark.size
            if offered >= baseline:
                break
            if x1 > left and x0 < right:
                baseline = offered
                break
    return baseline


def _mark_box(mark: Mark, baseline: float) -> Box:
    half = mark.width / 2
    top, bottom = baseline - ASCENT_EM * mark.size, baseline + DESCENT_EM * mark.size
    return Box(mark.centre - half, top, mark.centre + half, bottom)


def _raise_words(
    words: list[tuple[etree._Element, list[Box]]], columns: list[Box], fixed: list[Box]
) -> None:
    """Lift each word clear of the marks, of words lifted before it and of what it would meet."""
    settled: list[Box] = list(columns)
    for element, boxes in sorted(words, key=lambda word: -hull(word[1]).bottom):
        box = hull(boxes)
        below = [other for other in fixed if not box.beside(other, WORDS_TOUCH)]
        rise = 0.0
        while True:
            here = box.moved(-rise)
            hit = [other for other in settled if here.touches(other, WORDS_CLEAR)]
            hit += [other for other in below if here.touches(other, WORDS_TOUCH)]
            if not hit:
                break
            rise = box.bottom - min(other.top for other in hit) + WORDS_CLEAR + 1
        settled.append(box.moved(-rise))
        if rise:
            element.set("transform", f"translate(0, {-rise:.0f})")


def _lower_verses(system: etree._Element, verses: Sequence[etree._Element], glyphs: Glyphs) -> None:
    """Let all words below the notes of a system down, clear of dynamics and slurs: the engraver
    keeps room for one or the other."""
    if not verses:
        return
    _align_verses(verses, glyphs)
    inside = {shape for verse in verses for shape in verse.iter()}
    words = [box for verse in verses for box in ink(verse, glyphs)]
    others = ink_beside(system, inside, glyphs)
    drop = 0.0
    for word in words:
        while True:
            here = word.moved(drop)
            hit = [other for other in others if here.touches(other, WORDS_CLEAR)]
            if not hit:
                break
            drop = max(other.bottom for other in hit) - word.top + WORDS_CLEAR + 1
    if drop:
        for verse in verses:
            verse.set("transform", f"translate(0, {drop:.0f})")


def _align_verses(verses: Sequence[etree._Element], glyphs: Glyphs) -> None:
    """Let the lines of words below one note begin below each other, where nothing is in the way:
    the engraver hangs some a little further to the left."""
    below: dict[etree._Element, list[etree._Element]] = {}
    for text in (text for verse in verses for text in verse.iter(f"{SVG}text")):
        below.setdefault(text.xpath("ancestor::*[3]")[0], []).append(text)
    for note, texts in below.items():
        left = min(float(text.get("x", "0")) for text in texts)
        for text in texts:
            at = float(text.get("x", "0"))
            if not 0.0 < at - left <= _HUNG:
                continue
            text.set("x", f"{left:.0f}")
            others = (box for one in verses if note not in one.iterancestors()
                      for box in ink(one, glyphs))  # fmt: skip
            if any(a.touches(b, WORDS_CLEAR) for b in others for a in ink(text, glyphs)):
                text.set("x", f"{at:.0f}")


def _set_mark(system: etree._Element, mark: Mark, baseline: float, kind: str = "mark") -> None:
    attributes = {
        "class": kind,
        "data-note": f"{NOTE_ID}{mark.ordinal}",
        # Set from the left edge, so that no renderer's idea of the middle can shift it.
        "x": f"{mark.centre - mark_width_em(mark.text) * mark.size / 2:.0f}",
        "y": f"{baseline:.0f}",
        "font-family": mark_family(),
        "font-weight": "700",
        "font-size": f"{mark.size:.1f}px",
    }
    etree.SubElement(system, f"{SVG}text", attributes).text = mark.text
