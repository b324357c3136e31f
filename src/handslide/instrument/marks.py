"""The small sign over a note that names its place.

A position is written whole within 0.2 of it; ½ from 0.35 to 0.65; otherwise ♭n (further out) or ♯n
(further in) beside the nearest whole position. The valve sign stands before it. + and - are never
written: books use them both ways. No slide has an eighth position: beyond 7th there is a
lowered 7th, and 7½ for as far as the slide goes.
"""

import math
from dataclasses import replace

from handslide.ground.numerals import roman
from handslide.ground.pitch import pretty_name
from handslide.instrument.horn import Horn
from handslide.instrument.markstyle import MarkStyle
from handslide.instrument.places import Place

# Over a note that can't be played. No position, no valve and no sign of articulation looks like it,
# every text face has it, and no program takes it for anything but text.
UNPLAYABLE = "×"
WHOLE = 0.2
LAST = 7
HALF_FROM, HALF_TO = 0.35, 0.65
_THUMB = ("T", "M", "N", "O")


def split_position(position: float) -> tuple[str, int]:
    """A position as sign and whole number: ``("", 6)``, ``("½", 3)``, ``("♭", 2)``, ``("♯", 2)``.

    For ``½`` the number is the lower of the two positions. ``("½", 7)`` is all that lies further
    out than a lowered 7th.
    """
    position = round(position, 6)
    if position >= LAST + HALF_FROM:
        return "½", LAST
    nearest = math.floor(position + 0.5)
    lower = math.floor(position)
    # Rounded again: 4.2 - 4 is a little more than 0.2 in a double.
    if round(abs(position - nearest), 6) <= WHOLE:
        return "", nearest
    if HALF_FROM <= round(position - lower, 6) <= HALF_TO:
        return "½", lower
    return ("♭" if position > nearest else "♯"), nearest


def position_text(position: float, numerals: str = "arabic") -> str:
    """A position as written in a mark: ``6``, ``3½``, ``♭2``, ``♯2``, ``VI``."""
    sign, number = split_position(position)
    digits = roman(number) if numerals == "roman" else str(number)
    return f"{digits}½" if sign == "½" else f"{sign}{digits}"


def valve_sign(horn: Horn, valves: tuple[str, ...], style: MarkStyle) -> str:
    """The sign for a set of engaged valves, empty for the open horn."""
    if not valves:
        return ""
    signs = _signs(horn, style)
    numbers = [number for number, valve in enumerate(horn.valves) if valve.name in valves]
    if signs == "letter":
        return pretty_name(horn.closed_name(valves))
    if signs == "number":
        return "V" if len(horn.valves) == 1 else "V" + "".join(str(n + 1) for n in numbers)
    return "".join(_THUMB[n] for n in numbers)


def _signs(horn: Horn, style: MarkStyle) -> str:
    return style.signs or ("thumb" if len(horn.valves) == 1 else "letter")


def mark(horn: Horn, place: Place, style: MarkStyle) -> str:
    """The mark of a place, such as ``6``, ``T1``, ``T3½``, ``♯2``, ``F·♭2``, ``V1·4``.

    A dot parts letters and numbers of valves from the position: F♭2 is a note, V14 could be two.
    """
    sign = valve_sign(horn, place.valves, style)
    dot = "·" if sign and _signs(horn, style) != "thumb" else ""
    return sign + dot + position_text(scale_position(horn, place, style), style.numerals)


def scale_position(horn: Horn, place: Place, style: MarkStyle) -> float:
    """The position on the scale that ``style`` counts along."""
    if style.counting == "open" or not place.valves:
        return place.position
    tube = horn.length_m + horn.loops_m(place.valves)
    return 1.0 + 12.0 * math.log2((tube + 2.0 * place.extension_m) / tube)


def as_counted(horn: Horn, place: Place, style: MarkStyle) -> Place:
    """A place as it is told beside marks of a style: its position on the style's scale."""
    if style.counting == "open" or not place.valves:
        return place
    return replace(place, position=scale_position(horn, place, style))
