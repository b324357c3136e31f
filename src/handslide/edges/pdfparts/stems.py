"""Stems with their heads, beams and flags."""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import replace

from handslide.edges.pdfparts.forms import Shape, Slab, Upright
from handslide.edges.pdfparts.found import Head, StaffInk, Stem
from handslide.ground.facts import fact

_SHORTEST = 1.5
_THICKEST = 0.35
_BEAM = (0.22, 0.95)
"""Spaces that a beam is thick."""
_BEAM_STEP = 0.3
"""Spaces between the middles of two beams, at least."""


def beams_of(slabs: Iterable[Slab], space: float) -> list[Slab]:
    """Those slabs that are beams."""
    low, high = _BEAM[0] * space, _BEAM[1] * space
    return [
        slab for slab in slabs
        if low < slab.thickness < high and slab.x1 - slab.x0 > 0.6 * space
    ]  # fmt: skip


def stems_of(ink: StaffInk, heads: list[Head]) -> list[Stem]:
    """Give each head its stem, of those that touch it the longest. A head with two stems, of two
    voices, is put in ``heads`` twice."""
    space = ink.staff.space
    stems = []
    for upright in sorted(ink.uprights, key=lambda one: -one.length):
        if upright.length < _SHORTEST * space or upright.width > _THICKEST * space:
            continue
        beside = [head for head in heads if _touches(upright, head, space)]
        touched = [head for head in beside if head.stem is None]
        if not touched:
            touched = _shared(upright, beside, heads, space)
        if not touched or not _ends_on(upright, touched, space):
            continue
        stem = _stem(upright, touched)
        stems.append(stem)
        for head in touched:
            head.stem = stem
    stems.sort(key=lambda stem: stem.x)
    _hang_beams(ink, stems)
    _hang_flags(ink, stems)
    return stems


def _touches(upright: Upright, head: Head, space: float) -> bool:
    beside = abs(upright.x - head.x) < 0.25 * space or abs(upright.x - head.right) < 0.3 * space
    return beside and upright.y0 - 0.6 * space <= head.y <= upright.y1 + 0.6 * space


def _ends_on(upright: Upright, heads: Sequence[Head], space: float) -> bool:
    return any(
        abs(head.y - end) < 0.6 * space for head in heads for end in (upright.y0, upright.y1)
    )


def _shared(
    upright: Upright, beside: Sequence[Head], heads: list[Head], space: float
) -> list[Head]:
    """The second voice's copy of a head that has a stem to the other side."""
    for head in beside:
        first = head.stem
        if first is None or len(first.heads) > 1 or abs(first.x - upright.x) < 0.6 * space:
            continue
        ends_here = min(abs(head.y - upright.y0), abs(head.y - upright.y1)) < 0.6 * space
        if ends_here and _stem(upright, [head]).up != first.up:
            copy = replace(head, doubts=list(head.doubts), stem=None)
            heads.insert(heads.index(head) + 1, copy)
            return [copy]
    return []


def _stem(upright: Upright, heads: list[Head]) -> Stem:
    """It points away from the end that its outermost head is nearer to."""
    low = min(abs(head.y - upright.y0) for head in heads)
    high = min(abs(head.y - upright.y1) for head in heads)
    return Stem(upright.x, upright.y0, upright.y1, low < high, heads)


def _hang_beams(ink: StaffInk, stems: Sequence[Stem]) -> None:
    space = ink.staff.space
    beams = beams_of(ink.slabs, space)
    for stem in stems:
        crossing = sorted(
            (beam.y_at(stem.x), index)
            for index, beam in enumerate(beams)
            if beam.x0 - 0.2 * space <= stem.x <= beam.x1 + 0.2 * space
            and stem.y0 - 0.5 * space <= beam.y_at(stem.x) <= stem.y1 + 0.5 * space
            and not _is_tremolo(beam, stem, stems, space)
        )
        last = None
        for y, index in crossing:
            if last is None or y - last > _BEAM_STEP * space:
                stem.beams += 1
                last = y
            stem.slabs.append(beams[index])


def _is_tremolo(beam: Slab, stem: Stem, stems: Sequence[Stem], space: float) -> bool:
    """A short stroke across a single stem."""
    if beam.x1 - beam.x0 > 2 * space:
        return False
    across = beam.x0 < stem.x - 0.3 * space and beam.x1 > stem.x + 0.3 * space
    return across and not any(
        other is not stem and beam.x0 - 0.2 * space <= other.x <= beam.x1 + 0.2 * space
        for other in stems
    )


def _hang_flags(ink: StaffInk, stems: Sequence[Stem]) -> None:
    """Flags of a stem; some programs draw each of several alone."""
    space = ink.staff.space
    flags = list(ink.of("flag"))
    for stem in stems:
        own = [
            flag for flag in flags
            if min(abs(flag.x - stem.x), abs(flag.x0 - stem.x)) < 0.35 * space
            and stem.y0 - space <= flag.y <= stem.y1 + space
        ]  # fmt: skip
        counts = [int(flag.kind.partition(".")[2]) for flag in own]
        heights = sorted((flag.y0 + flag.y1) / 2 for flag in own)
        apart = sum(b - a > 0.3 * space for a, b in itertools.pairwise(heights))
        alone = apart + 1 if set(counts) == {1} else 0
        stem.beams = max(stem.beams, alone, *counts, 0)
    for stem in stems:
        if not stem.beams:
            stem.beams = sum(_is_hook(hook, stem, space) for hook in ink.hooks)


def _is_hook(hook: Shape, stem: Stem, space: float) -> bool:
    """A flag that is drawn as a curve: it begins at the stem and reaches to its free half."""
    middle = (stem.y0 + stem.y1) / 2
    reaches = hook.y1 > middle if stem.up else hook.y0 < middle
    inside = stem.y0 - 0.5 * space < hook.y0 and hook.y1 < stem.y1 + 0.5 * space
    return abs(hook.x0 - stem.x) < 0.3 * space and reaches and inside


def doubt_stemless(ink: StaffInk, heads: Sequence[Head]) -> None:
    """Doubt heads of halves and shorter values that have no stem."""
    for head in heads:
        if head.stem is None and head.kind in ("head.black", "head.half", "head.cross"):
            head.doubts.append(fact("pdfparts.doubt_no_stem"))


def headless(ink: StaffInk, stems: Sequence[Stem], taken: Iterable[float]) -> int:
    """How many uprights of a stem's size, on the staff, have no head."""
    staff, space = ink.staff, ink.staff.space
    known = [stem.x for stem in stems] + list(taken)
    count = 0
    for one in ink.uprights:
        sized = one.width < _THICKEST * space and 2.2 * space < one.length < 7 * space
        inside = staff.x0 + space < one.x < staff.x1 - space
        reaches = one.y0 < staff.top and one.y1 > staff.bottom
        count += sized and inside and reaches and not any(
            abs(one.x - x) < 0.3 * space for x in known
        )  # fmt: skip
    return count
