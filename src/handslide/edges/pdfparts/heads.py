"""Heads: to which staff they belong, at which place they stand, what hangs on them."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from handslide.edges.pdfparts.forms import Slab
from handslide.edges.pdfparts.found import Accidental, Head, Rest, StaffInk
from handslide.edges.pdfparts.items import Item
from handslide.edges.pdfparts.staves import Staff
from handslide.ground.facts import fact

_MOST_LEDGERS = 9
_OFF_PLACE = 0.35
"""Half spaces off a line or the middle of a space from which a head is doubted."""
_REST_VALUES = {"double": 0} | {str(2**power): 2**power for power in range(9)}
_REACH = 9.0
"""Spaces from the staff's middle to what still belongs to it."""


def ledger_places(place: int) -> list[int]:
    """Where a head at ``place`` needs ledger lines."""
    return [*range(10, place + 1, 2), *range(-2, place - 1, -2)]


def ledgers_there(ink: StaffInk, item: Item) -> list[int]:
    """Those of the needed ledger lines that are drawn."""
    staff, middle = ink.staff, (item.x0 + item.x1) / 2
    place = round(staff.place(item.y))
    if len(ledger_places(place)) > _MOST_LEDGERS:
        return []
    slack = 0.2 * staff.space
    return [
        needed
        for needed in ledger_places(place)
        if any(
            abs(line.y - staff.y_of(needed)) < 0.22 * staff.space
            and line.x0 - slack <= middle <= line.x1 + slack
            for line in ink.lines
        )
    ]


def _lacks(ink: StaffInk, item: Item) -> bool:
    needed = ledger_places(round(ink.staff.place(item.y)))
    return len(ledgers_there(ink, item)) < len(needed)


def share_out(items: Iterable[Item], inks: Sequence[StaffInk], space: float) -> None:
    """Give each item to its staff. Heads follow their ledger lines; dots and accidentals their
    head; the rest the nearest staff. ``space``: of the staff that the items' sizes were taken for;
    those of a smaller staff are no small signs there."""
    heads: list[tuple[Item, StaffInk]] = []
    for item in sorted(items, key=lambda item: item.family != "head"):
        ink = _owner(item, inks, heads)
        if item.family == "head":
            heads.append((item, ink))
        staff = ink.staff
        inside = staff.x0 - 2 * staff.space < item.x < staff.x1 + 2 * staff.space
        if inside and abs(item.y - staff.middle) < _REACH * staff.space:
            ink.items.append(replace(item, size=item.size * space / staff.space))


def _owner(
    item: Item, inks: Sequence[StaffInk], heads: Sequence[tuple[Item, StaffInk]]
) -> StaffInk:
    middle = (item.y0 + item.y1) / 2 if item.family not in ("head", "acc", "dot") else item.y
    near = sorted(inks, key=lambda ink: _distance(ink.staff, item.x, middle))[:2]
    if item.family == "head" and len(near) > 1:
        return near[1] if _lacks(near[0], item) and not _lacks(near[1], item) else near[0]
    if item.family in ("acc", "dot") and len(near) > 1:
        space = near[0].staff.space
        before = -1 if item.family == "dot" else 1
        own = [
            (abs(head.x - item.x), index)
            for index, (head, _) in enumerate(heads)
            if abs(head.y - item.y) < 0.6 * space and 0 < before * (head.x - item.x) < 3 * space
        ]
        if own:
            return heads[min(own)[1]][1]
    return near[0]


def _distance(staff: Staff, x: float, y: float) -> float:
    outside = max(staff.x0 - x, x - staff.x1, 0.0)
    return abs(y - staff.middle) + (outside if outside > 4 * staff.space else 0.0)


def heads_of(ink: StaffInk) -> list[Head]:
    """The heads of a staff, from left to right; each drawn once."""
    found: list[Head] = []
    for item in sorted(ink.of("head"), key=lambda item: (item.x0, item.y)):
        head = _head(ink, item)
        if head is not None and not any(_same(head, other, ink.staff) for other in found[-6:]):
            found.append(head)
    return found


def _same(head: Head, other: Head, staff: Staff) -> bool:
    return abs(head.x - other.x) < 0.1 * staff.space and head.place == other.place


def _head(ink: StaffInk, item: Item) -> Head | None:
    staff = ink.staff
    exact = staff.place(item.y)
    place = round(exact)
    needed, there = ledger_places(place), ledgers_there(ink, item)
    if needed and not there:
        return None  # of a metronome mark or the like
    head = Head(item.kind, item.x0, item.x1, item.y, place, item.small)
    if len(there) < len(needed):
        head.doubts.append(fact("pdfparts.doubt_ledger", drawn=len(there), needed=len(needed)))
    if abs(exact - place) > _OFF_PLACE:
        head.doubts.append(fact("pdfparts.doubt_between"))
    if not item.sure or item.kind == "head.slash":
        head.doubts.append(fact("pdfparts.doubt_head"))
    return head


def rests_of(ink: StaffInk) -> list[Rest]:
    """The rests of a staff, from left to right."""
    found = []
    for item in ink.of("rest"):
        value = item.kind.partition(".")[2]
        middle = (item.y0 + item.y1) / 2
        rest = Rest(item.x0, item.x1, middle, _REST_VALUES.get(value, 4), 0, item.sure, item.small)
        if value in ("1", "2") and not item.named:
            rest.value, hangs = _hanging_at(ink.staff, item.y0, item.y1)
            rest.sure = rest.sure and hangs
        found.append(rest)
    found += _drawn_bars(ink)
    return sorted(found, key=lambda rest: rest.x)


def _drawn_bars(ink: StaffInk) -> list[Rest]:
    """Whole and half rests that are drawn as mere rectangles: no stem is near."""
    space = ink.staff.space
    found = []
    for slab in ink.slabs:
        wide, level = slab.x1 - slab.x0, abs(slab.left_y - slab.right_y) < 0.05 * space
        sized = 0.9 * space < wide < 1.9 * space and 0.33 * space < slab.thickness < 0.66 * space
        inside = ink.staff.bottom < slab.left_y < ink.staff.top
        if not (level and sized and inside) or _is_at_stem(ink, slab):
            continue
        y0, y1 = slab.left_y - slab.thickness / 2, slab.left_y + slab.thickness / 2
        value, sure = _hanging_at(ink.staff, y0, y1)
        if sure:
            found.append(Rest(slab.x0, slab.x1, slab.left_y, value))
    return found


def _is_at_stem(ink: StaffInk, slab: Slab) -> bool:
    slack = 0.3 * ink.staff.space
    return any(
        slab.x0 - slack < one.x < slab.x1 + slack and one.y0 < slab.left_y + slack
        and one.y1 > slab.left_y - slack
        for one in ink.uprights
    )  # fmt: skip


def _hanging_at(staff: Staff, y0: float, y1: float) -> tuple[int, bool]:
    """1 for a rest that hangs from a line, 2 for one that lies on a line, and whether it does."""
    top, bottom = staff.place(y1), staff.place(y0)
    hangs, lies = abs(top - 2 * round(top / 2)), abs(bottom - 2 * round(bottom / 2))
    return (1 if hangs < lies else 2), abs(hangs - lies) > 0.3


def accidentals_of(ink: StaffInk) -> list[Accidental]:
    """The accidentals of a staff, from left to right."""
    staff = ink.staff
    return sorted(
        (
            Accidental(
                int(item.kind.partition(".")[2]), item.x0, item.x1, round(staff.place(item.y)),
                item.sure, item.small,
            )
            for item in ink.of("acc") if item.kind != "acc.other"
        ),
        key=lambda sign: sign.x,
    )  # fmt: skip


def hang_dots(ink: StaffInk, heads: Sequence[Head], rests: Sequence[Rest]) -> None:
    """Count the augmentation dots of heads and rests."""
    space = ink.staff.space
    counted: dict[int, list[float]] = {}
    for dot in sorted(ink.of("dot"), key=lambda dot: dot.x0):
        x, y = (dot.x0 + dot.x1) / 2, (dot.y0 + dot.y1) / 2
        over = any(head.x - 0.1 * space < x < head.right + 0.1 * space for head in heads)
        if over and not dot.named:
            continue  # one of staccato
        owner = _dotted_head(heads, x, y, space) or _dotted_rest(rests, x, y, space)
        if owner is None:
            continue
        before = counted.setdefault(id(owner), [])
        if not any(abs(x - other) < 0.2 * space for other in before):
            before.append(x)
            owner.dots += 1


def _dotted_head(heads: Sequence[Head], x: float, y: float, space: float) -> Head | None:
    """A dot stands in the space of its head, or in one beside the head's line."""
    near = [
        (abs(y - head.y - (0.5 * space if head.place % 2 == 0 else 0.0)), x - head.right, index)
        for index, head in enumerate(heads)
        if -0.1 * space < x - head.right < 2.2 * space and abs(y - head.y) < 0.75 * space
    ]
    return heads[min(near)[2]] if near else None


def _dotted_rest(rests: Sequence[Rest], x: float, y: float, space: float) -> Rest | None:
    for rest in rests:
        if -0.1 * space < x - rest.right < 1.6 * space and abs(y - rest.y) < 1.4 * space:
            return rest
    return None


def hang_accidentals(
    staff: Staff, heads: Sequence[Head], accidentals: Iterable[Accidental]
) -> list[Accidental]:
    """Give each accidental to the head beside it; those with none are a key's."""
    free: list[Accidental] = []
    for sign in sorted(accidentals, key=lambda sign: -sign.x):
        widest = 1.0 if sign.small else 1.3
        beside = [
            head for head in heads
            if head.place == sign.place
            and -0.3 < (head.x - sign.right) / staff.space < widest
        ]  # fmt: skip
        if not beside:
            beside = _behind_a_chord(staff, heads, sign)
        if not beside:
            free.insert(0, sign)
            continue
        head = min(beside, key=lambda head: head.x)
        head.sign = sign.alter
        if not sign.sure:
            head.doubts.append(fact("pdfparts.doubt_accidental"))
    return free


def _behind_a_chord(staff: Staff, heads: Sequence[Head], sign: Accidental) -> list[Head]:
    """The accidentals of a chord stand beside each other: the further ones are wider off."""
    space = staff.space
    return [
        head for head in heads
        if head.place == sign.place
        and 0 < head.x - sign.right < 3.2 * space
        and any(
            other is not head and other.sign is not None and abs(other.x - head.x) < 0.3 * space
            for other in heads
        )
    ]  # fmt: skip
