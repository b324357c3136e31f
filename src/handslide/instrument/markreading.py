"""What a mark over a note says: from its text back to the places that it can mean.

Marks come from our own hand in any style, from notation programs and from people: ``♭2``, ``b2`` or
``2b``, ``3½``, ``3.5`` or ``3 1/2``, ``IV``, ``T1``, ``F·♭2`` or ``Fb2``, ``V1·4``, ``4+``. Many a
text has several readings (``F♭2`` is the F valve in ♭2, ``VI`` is 6th or a valve in 1st); the note
under it decides, since only places of that note count.
"""

import re
import unicodedata
from collections.abc import Iterator, Sequence

from handslide.ground.limits import MARK_LETTERS
from handslide.ground.numerals import roman
from handslide.instrument.horn import Horn
from handslide.instrument.marks import LAST, UNPLAYABLE, mark, scale_position, valve_sign
from handslide.instrument.markstyle import COUNTINGS, VALVE_SIGNS, MarkStyle
from handslide.instrument.places import Place

# How far a place may lie from the number that names it. Players round: E2 with the F valve, at 2.3,
# is "2" in most books, C2 at 7.4 is "7". Two places of a note with the same valves are never so
# near to each other.
_WHOLE = (-0.5, 0.5)
_OUT = (-0.25, 0.65)
_IN = (-0.65, 0.25)
_HALF = (0.2, 0.8)
# 7½ is as far as the slide goes.
_END = (0.2, 1.0)
_DECIMAL = (-0.25, 0.25)
_WRITTEN = str.maketrans(
    {"♭": "b", "♯": "#", "½": " 1/2", "⁄": "/", "·": ".", "•": ".", "∙": ".", "−": "-", "–": "-",
     "’": "'", ",": "."}
)  # fmt: skip
# Up to VIII: an x over a note isn't 10th position.
_ROMAN = {roman(number).lower(): number for number in range(1, 9)}
_NUMERALS = "|".join(sorted(_ROMAN, key=len, reverse=True))
_POSITION = re.compile(
    rf"(?P<before>[b#+-]?)\s*(?P<number>\d{{1,2}}|{_NUMERALS})"
    r"(?:(?P<half>\s*1/2)|\.(?P<decimals>\d+)|(?P<ordinal>\.|st|nd|rd|th))?(?P<after>[b#+-]?)"
)
_SIGN = re.compile(r"(?:tr|t|m|n|o|q|v[1-4]{0,4}|[a-g][b#]?)+")
_BETWEEN = " .+-/:"
# What one valve is called where nobody asks which: thumb, trigger, valve, Quartventil.
_ANY_VALVE = ("t", "tr", "v", "q")


def read_mark(
    horn: Horn, places: Sequence[Place], text: str, style: MarkStyle | None = None
) -> tuple[Place, ...]:
    """Those of a note's ``places`` that ``text`` can mean, the likeliest first; empty if none.

    What ``style`` would write for a place means that place; then what counts along its scale, then
    the nearest.
    """
    style = MarkStyle() if style is None else style
    plain = _plain(text)
    found = []
    for number, place in enumerate(places):
        along = {
            counting: scale_position(horn, place, MarkStyle(counting=counting))
            for counting in COUNTINGS[: 1 + bool(place.valves)]
        }
        distances = [
            (counting != style.counting, abs(off))
            for rest in _without_sign(horn, place.valves, plain)
            for counting, position in along.items()
            for off in _offs(rest, position)
        ]
        if distances:
            exact = mark(horn, place, style) == text.strip()
            found.append((not exact, *min(distances), number))
    return tuple(places[row[-1]] for row in sorted(found))


def says_position(text: str) -> bool:
    """Whether a text is written as a mark, of whatever note and horn."""
    return _has_position(_plain(text))


def names_valve(text: str) -> bool:
    """Whether a text is written as a mark with a valve, and can't be one without."""
    plain = _plain(text)
    return _POSITION.fullmatch(plain) is None and _has_position(plain)


def is_unplayable_sign(text: str) -> bool:
    """Whether a text is the sign over a note that can't be played."""
    return text.strip() == UNPLAYABLE


def _has_position(plain: str) -> bool:
    if _POSITION.fullmatch(plain):
        return True
    for cut in range(1, len(plain)):
        for sign, rest in ((plain[:cut], plain[cut:]), (plain[cut:], plain[:cut])):
            if _SIGN.fullmatch(sign) and _POSITION.fullmatch(rest.strip(_BETWEEN)):
                return True
    return False


def _plain(text: str) -> str:
    """A text in small plain letters: no brackets, ``b`` and ``#`` for the signs, ``1/2`` for ½.

    Empty for what is too long to be a mark.
    """
    if len(text) > MARK_LETTERS:
        return ""
    text = unicodedata.normalize("NFKC", text.translate(_WRITTEN)).translate(_WRITTEN)
    text = " ".join(text.split()).casefold()
    if text[:1] + text[-1:] in ("()", "[]"):
        text = text[1:-1].strip()
    return text


def _without_sign(horn: Horn, valves: tuple[str, ...], plain: str) -> Iterator[str]:
    """What is left of a text when the sign of these valves is taken off, before or behind."""
    if not valves:
        yield plain
        return
    for sign in _signs(horn, valves):
        if plain.startswith(sign):
            yield plain.removeprefix(sign).lstrip(" .:/")
            yield plain.removeprefix(sign).lstrip(_BETWEEN)
        if plain.endswith(sign):
            yield plain.removesuffix(sign).rstrip(" :/")


def _signs(horn: Horn, valves: tuple[str, ...]) -> set[str]:
    signs = {valve_sign(horn, valves, MarkStyle(signs)) for signs in VALVE_SIGNS}
    numbers = [str(n + 1) for n, valve in enumerate(horn.valves) if valve.name in valves]
    signs |= {joint.join(valves) for joint in ("", "+", "/")}
    signs |= {f"V{joint.join(numbers)}" for joint in ("", "+", "/")}
    if valves == (horn.valves[0].name,):
        signs |= {*_ANY_VALVE}
    return {_plain(sign) for sign in signs}


def _offs(rest: str, position: float) -> Iterator[float]:
    """How far ``position`` lies from what ``rest`` says, where that can be meant."""
    match = _POSITION.fullmatch(rest)
    if match is None or (match["before"] and match["after"]):
        return
    numeral, sign = match["number"], match["before"] or match["after"]
    number = float(numeral) if numeral.isdigit() else float(_ROMAN[numeral])
    ranges = [_WHOLE]
    if match["decimals"]:
        number += float(f"0.{match['decimals']}")
        ranges = [_DECIMAL]
    if match["half"] or (match["decimals"] or "").rstrip("0") == "5":
        number, ranges = float(int(number)), [_END if int(number) == LAST else _HALF]
    if sign:
        # Books use + and - both ways.
        ranges = {"b": [_OUT], "#": [_IN]}.get(sign, [_OUT, _IN])
    for low, high in ranges:
        if low <= round(position - number, 6) <= high:
            yield position - number - (low + high) / 2.0
