"""What of a page belongs to which staff."""

from collections.abc import Sequence

from handslide.edges.pdfparts.forms import Arc, Forms, Slab
from handslide.edges.pdfparts.found import StaffInk
from handslide.edges.pdfparts.heads import share_out
from handslide.edges.pdfparts.items import PageSigns
from handslide.edges.pdfparts.staves import Staff

_ABOVE, _BELOW = 12.0, 9.0
"""Spaces over and under a staff in which its lines may stand."""


def share(
    page: int, systems: Sequence[Sequence[Staff]], forms: Forms, signs: PageSigns, space: float
) -> list[list[StaffInk]]:
    """The ink of each staff of each system; ``page`` is 1-based, ``space`` the usual one there."""
    inks = [
        [StaffInk(staff, page, number, system[-1].bottom, system[0].top) for staff in system]
        for number, system in enumerate(systems, 1)
    ]
    flat = [ink for system in inks for ink in system]
    for ink in flat:
        _near_forms(ink, forms)
        others = [other.staff for other in flat if other is not ink]
        ink.arcs += [arc for arc in signs.arcs if _nearest(ink.staff, others, *_mid(arc))]
        ink.hooks += [
            one for one in signs.hooks
            if _nearest(ink.staff, others, one.x0, (one.y0 + one.y1) / 2)
        ]  # fmt: skip
        for own, every in ((ink.unknown, signs.unknown), (ink.asked, signs.asked)):
            own += [
                sign for sign in every
                if _nearest(ink.staff, others, sign.x0, (sign.y0 + sign.y1) / 2)
            ]  # fmt: skip
    share_out(signs.items, flat, space)
    return inks


def _mid(arc: Arc) -> tuple[float, float]:
    left, right = arc.left, arc.right
    return (left[0] + right[0]) / 2, (left[1] + right[1]) / 2


def _near_forms(ink: StaffInk, forms: Forms) -> None:
    staff, space = ink.staff, ink.staff.space
    low, high = staff.bottom - _BELOW * space, staff.top + _ABOVE * space
    left, right = staff.x0 - 2 * space, staff.x1 + 2 * space
    ink.lines += [
        line
        for line in forms.lines
        if low < line.y < high
        and line.x1 > left
        and line.x0 < right
        and line.length < 0.98 * (staff.x1 - staff.x0)
    ]
    ink.uprights += [
        one for one in forms.uprights if one.y1 > low and one.y0 < high and left < one.x < right
    ]
    ink.slabs += [
        one for one in forms.slabs if low < one.left_y < high and one.x1 > left and one.x0 < right
    ]
    ink.slabs += [Slab(line.x0, line.x1, line.y, line.y, line.width) for line in ink.lines]
    ink.slants += [
        one for one in forms.slants if low < one.y0 < high and left < one.x0 < right
    ]  # fmt: skip


def _nearest(staff: Staff, others: Sequence[Staff], x: float, y: float) -> bool:
    if not staff.x0 - 3 * staff.space < x < staff.x1 + 3 * staff.space:
        return False
    off = abs(y - staff.middle)
    return off < 12 * staff.space and not any(
        abs(y - other.middle) < off and other.x0 - 3 * other.space < x < other.x1 + 3 * other.space
        for other in others
    )
