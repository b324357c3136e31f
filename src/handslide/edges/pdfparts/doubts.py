"""What is doubted for reasons that a single sign doesn't show: sums, ranges, unknown signs."""

from collections.abc import Sequence
from fractions import Fraction

from handslide.edges.pdfparts.drawn import Drawing
from handslide.edges.pdfparts.found import Head
from handslide.edges.pdfparts.onestaff import StaffRead
from handslide.edges.pdfparts.pitches import sounding
from handslide.edges.pdfparts.walk import Walk, WalkedBar
from handslide.ground.facts import Fact, fact

_RANGES = {"F": (24, 76), "C": (36, 82), "G": (50, 92)}
"""Written MIDI numbers that occur in trombone parts in a clef without octave sign; treble clef
holds a brass band's written notes too."""
_UNKNOWN_HEIGHT = 1.4
_LARGE = 3.0
"""Spaces: a sign as tall as a clef; a lower one is taken for an accidental at worst."""


def doubt_pitches(walk: Walk) -> None:
    """Doubt notes without a sure clef, after unknown signs, beyond a trombone's range."""
    for read, _, _, sure in walk.staves:
        if not sure:
            _doubt_first(read)
        _doubt_after_unknown(read)
        _doubt_beside_strays(read)
        for head in read.heads:
            _doubt_range(head)


def _doubt_first(read: StaffRead) -> None:
    """The notes up to the next clef of the staff."""
    space = read.ink.staff.space
    start = read.ink.staff.x0 + 6 * space
    end = min((one.x for one in read.clefs if one.x > start), default=float("inf"))
    for head in read.heads:
        if head.x < end:
            head.doubts.append(fact("pdfparts.doubt_clef"))


def _doubt_after_unknown(read: StaffRead) -> None:
    """An unknown sign on the staff may be a clef, and hold to the next one; or an accidental, and
    hold to the barline."""
    staff, space = read.ink.staff, read.ink.staff.space
    for sign in read.ink.unknown:
        height = sign.y1 - sign.y0
        on_staff = sign.y0 < staff.top + 0.2 * space and sign.y1 > staff.bottom - 0.2 * space
        if not on_staff or height < _UNKNOWN_HEIGHT * space:
            continue
        if not staff.x0 - space < sign.x0 < staff.x1:
            continue
        ends = [one.x for one in read.clefs if one.x > sign.x0 + space]
        if height < _LARGE * space:
            ends += [bar.x1 for bar in read.bars if bar.x1 > sign.x0 + space]
        for head in read.heads:
            if sign.x0 - 2 * space < head.x < min(ends, default=float("inf")):
                head.doubts.append(fact("pdfparts.doubt_unknown"))


def _doubt_beside_strays(read: StaffRead) -> None:
    """An accidental on the staff that belongs to no head may belong to one after it."""
    space = read.ink.staff.space
    for sign in read.stray:
        for head in read.heads:
            if abs(head.place - sign.place) <= 1 and 0 < head.x - sign.x < 4 * space:
                head.doubts.append(fact("pdfparts.doubt_accidental"))


def _doubt_range(head: Head) -> None:
    sign = _clef_sign(head)
    low, high = _RANGES[sign]
    moved = 12 * head.octaves
    if not low + min(0, moved) <= sounding(head.step, head.alter) <= high + max(0, moved):
        head.doubts.append(fact("pdfparts.doubt_range"))


def _clef_sign(head: Head) -> str:
    """The clef's sign from what it makes of a place."""
    middle = head.step - head.place - 7 * head.octaves
    return "F" if middle <= 20 else "C" if middle <= 25 else "G"


# Sums


def doubt_bars(walk: Walk) -> None:
    """Doubt the notes of bars whose sum isn't what the time signature asks."""
    if not walk.meter:
        if walk.bars:
            walk.warnings.append((walk.bars[0].spot, fact("pdfparts.no_meter")))
        return
    wholes = _measures(walk)
    for index, group in enumerate(wholes):
        last = group[-1]
        filled, asked = last.offset + last.filled, last.meter
        if not last.bar.events or filled == asked or _may_be_short(wholes, index):
            continue
        what = fact("pdfparts.doubt_bar_sum", filled=str(filled), asked=str(asked))
        walk.warnings.append((last.spot, what))
        for walked in group:
            for event in walked.bar.events:
                for head in event.heads:
                    head.doubts.append(what)


def _measures(walk: Walk) -> list[list[WalkedBar]]:
    """The bars of each measure: two where one goes on in the next system."""
    groups: list[list[WalkedBar]] = []
    for walked in walk.bars:
        if groups and groups[-1][0].measure == walked.measure:
            groups[-1].append(walked)
        else:
            groups.append([walked])
    return groups


def _may_be_short(wholes: Sequence[Sequence[WalkedBar]], index: int) -> bool:
    """An upbeat; a bar at the end of a section that an upbeat makes whole; a bar that a repeat or
    a double bar cuts in two."""
    here = wholes[index][-1]
    missing = here.meter - here.offset - here.filled
    if missing < 0:
        return False
    if index == 0 or _ends_section(wholes[index - 1][-1]):
        return True
    return _ends_section(here) and _some_upbeat(wholes, missing, here)


def _ends_section(walked: WalkedBar) -> bool:
    bar = walked.bar
    return bar.repeat_end or bar.final or bar.double or bool(bar.jumps)


def _some_upbeat(wholes: Sequence[Sequence[WalkedBar]], missing: Fraction, here: WalkedBar) -> bool:
    """Whether a section begins with as much as is missing."""
    for index, group in enumerate(wholes):
        first = index == 0 or group[0].bar.repeat_start or _ends_section(wholes[index - 1][-1])
        if first and group[-1].offset + group[-1].filled == missing:
            return True
    return here.bar.final


# Refusals


def refusal(drawing: Drawing, walk: Walk) -> Fact | None:
    """What was seen instead of a part that can be read; None where it can be."""
    if not walk.staves:
        pictures = sum(len(page.pictures) for page in drawing.pages)
        return fact("pdfparts.scan", pictures=pictures) if pictures else fact("pdfparts.no_staves")
    sure = sum(sure for _, _, _, sure in walk.staves)
    heads = [head for read, *_ in walk.staves for head in read.heads]
    if not heads:
        return fact("pdfparts.no_heads", staves=len(walk.staves))
    if 2 * sure < len(walk.staves):
        return fact("pdfparts.no_clefs", staves=len(walk.staves), sure=sure)
    bare = sum(read.headless for read, *_ in walk.staves)
    stems = len({id(head.stem) for head in heads if head.stem is not None})
    if bare > stems:
        return fact("pdfparts.bare_stems", stems=bare + stems, bare=bare)
    return None
