"""Time signatures, and rests of several bars with their number."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from handslide.edges.pdfparts.found import Bar, StaffInk
from handslide.edges.pdfparts.items import Item
from handslide.edges.pdfparts.texts import Words

_UNITS = {1, 2, 4, 8, 16, 32}
_MOST_BEATS = 32
_MOST_RESTS = 999


@dataclass(frozen=True, slots=True)
class MeterSign:
    """A time signature such as ``6/8``, from ``x`` to ``right``."""

    x: float
    right: float
    meter: str


def length_of(meter: str) -> Fraction:
    """Quarters of a bar in a meter."""
    beats, unit = meter.split("/")
    return Fraction(4 * int(beats), int(unit))


def meters_of(ink: StaffInk, words: Sequence[Words]) -> list[MeterSign]:
    """The time signatures of a staff, from left to right."""
    found = [
        MeterSign(item.x0, item.x1, "2/2" if item.kind == "meter.cut" else "4/4")
        for item in ink.of("meter") if _is_inside(ink, item)
    ]  # fmt: skip
    found += _of_words(ink, words)
    for group in _columns(ink):
        upper = [item for item in group if (item.y0 + item.y1) / 2 > ink.staff.middle]
        lower = [item for item in group if (item.y0 + item.y1) / 2 <= ink.staff.middle]
        beats, unit = _number(upper), _number(lower)
        if _is_meter(beats, unit):
            right = max(item.x1 for item in group)
            found.append(MeterSign(group[0].x0, right, f"{beats}/{unit}"))
    return sorted(found, key=lambda sign: sign.x)


def _of_words(ink: StaffInk, words: Sequence[Words]) -> list[MeterSign]:
    """Some programs set the digits in a font for text."""
    staff = ink.staff
    on_staff = [
        word for word in words
        if word.text.isdigit() and staff.bottom - 0.5 * staff.space < word.y < staff.top
        and 1.5 * staff.space < word.em < 4 * staff.space
    ]  # fmt: skip
    found = []
    for upper in on_staff:
        for lower in on_staff:
            over = 1.4 * staff.space < upper.y - lower.y < 2.6 * staff.space
            centred = abs(upper.x0 + upper.x1 - lower.x0 - lower.x1) < 1.2 * staff.space
            if over and centred and _is_meter(int(upper.text[:4]), int(lower.text[:4])):
                left, right = min(upper.x0, lower.x0), max(upper.x1, lower.x1)
                found.append(MeterSign(left, right, f"{upper.text}/{lower.text}"))
    return found


def _is_meter(beats: int | None, unit: int | None) -> bool:
    return beats is not None and 1 <= beats <= _MOST_BEATS and unit in _UNITS


def _is_inside(ink: StaffInk, item: Item) -> bool:
    slack = 0.6 * ink.staff.space
    return item.y0 > ink.staff.bottom - slack and item.y1 < ink.staff.top + slack


def _is_centred(ink: StaffInk, item: Item) -> bool:
    """Some fonts have digits that reach beyond the staff."""
    slack, middle = 0.5 * ink.staff.space, (item.y0 + item.y1) / 2
    return ink.staff.bottom - slack < middle < ink.staff.top + slack


def _columns(ink: StaffInk) -> list[list[Item]]:
    """Digits on the staff, those beside and over each other together."""
    groups: list[list[Item]] = []
    # By their shape alone, digits of meters can't be told from others.
    inside = [
        item for item in ink.of("digit", "tuplet", "finger")
        if item.kind.partition(".")[2].isdigit()
        and (_is_inside(ink, item) if item.family != "digit" else _is_centred(ink, item))
        and (item.y1 - item.y0 > 1.3 * ink.staff.space or item.named)
    ]  # fmt: skip
    for item in sorted(inside, key=lambda item: item.x0):
        if groups and item.x0 - max(one.x1 for one in groups[-1]) < 0.6 * ink.staff.space:
            groups[-1].append(item)
        else:
            groups.append([item])
    return groups


def _number(items: Sequence[Item]) -> int | None:
    if not 1 <= len(items) <= 3:
        return None
    ordered = sorted(items, key=lambda item: item.x0)
    return int("".join(item.kind.partition(".")[2] for item in ordered))


def count_rests(ink: StaffInk, bars: Iterable[Bar], words: Sequence[Words]) -> None:
    """How many bars of rest a bar without notes stands for: the number over it."""
    for bar in bars:
        if any(event.heads for event in bar.events):
            continue
        sign = sign_of_rests(ink, bar.x0, bar.x1)
        if sign is None and not bar.events:
            continue
        if sign is None:
            sign = bar.events[0].x, bar.events[-1].right
        count = _number_over(ink, (sign[0] + sign[1]) / 2, words)
        if count is not None and 1 <= count <= _MOST_RESTS:
            bar.rests = count


def sign_of_rests(ink: StaffInk, left: float, right: float) -> tuple[float, float] | None:
    """From where to where the sign for a rest of several bars reaches: a glyph, or what some
    programs draw, a thick line or two with the number between them."""
    space = ink.staff.space
    boxes = [(item.x0, item.x1) for item in ink.of("multirest") if left < item.x0 < right]
    boxes += [
        (line.x0, line.x1) for line in ink.lines
        if line.width > 0.4 * space and line.length > 2 * space
        and left < line.x0 and line.x1 < right
        and abs(line.y - ink.staff.middle) < 0.6 * space
    ]  # fmt: skip
    if not boxes:
        return None
    return min(box[0] for box in boxes), max(box[1] for box in boxes)


def _is_on_middle(ink: StaffInk, item: Item) -> bool:
    return abs((item.y0 + item.y1) / 2 - ink.staff.middle) < 0.3 * ink.staff.space


def _number_over(ink: StaffInk, middle: float, words: Sequence[Words]) -> int | None:
    staff = ink.staff
    near = 2.0 * staff.space
    digits = [
        item for item in ink.of("digit", "tuplet")
        if (staff.top < item.y0 < staff.top + 5 * staff.space or _is_on_middle(ink, item))
        and abs((item.x0 + item.x1) / 2 - middle) < 2 * near
        and item.kind.partition(".")[2].isdigit()
    ]  # fmt: skip
    if digits:
        inside = abs((digits[0].x0 + digits[-1].x1) / 2 - middle) < near
        return _number(digits) if inside else None
    for word in words:
        over = staff.top < word.y < staff.top + 5 * staff.space
        if over and word.text.isdigit() and abs((word.x0 + word.x1) / 2 - middle) < near:
            return int(word.text[:4])
    return None
