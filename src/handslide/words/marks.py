"""The signs of marks, explained."""

from collections.abc import Iterable

from handslide.instrument.horn import Horn
from handslide.instrument.marks import (
    LAST,
    UNPLAYABLE,
    position_text,
    scale_position,
    split_position,
    valve_sign,
)
from handslide.instrument.markstyle import MarkStyle
from handslide.instrument.places import Place
from handslide.words.messages import N_
from handslide.words.places import with_valves
from handslide.words.translate import Translator

_POSITION = N_("slide position")
_SIGNS = {
    # Translators: what the sign ♭2 over a note means: further out than 2nd position.
    "♭": N_("further out than {position:position}"),
    # Translators: what the sign ♯2 over a note means: further in than 2nd position.
    "♯": N_("further in than {position:position}"),
    # Translators: what the sign 3½ over a note means.
    "½": N_("halfway from {position:position} to {next_position:position}"),
}
# Translators: what the sign × over a note means.
_UNPLAYABLE = N_("can't be played")
# Translators: what the sign 7½ over a note means: there is no 8th position.
_END = N_("as far as the slide goes")
_WITH_VALVE = N_("with a valve")
_ALONG_VALVE = N_("positions counted along the valve's own semitones")


def legend(
    say: Translator,
    horn: Horn,
    places: Iterable[Place],
    style: MarkStyle,
    *,
    unplayable: bool = False,
) -> tuple[tuple[str, str], ...]:
    """Explanation of the signs that the marks of ``places`` use, as (sign, meaning) rows.

    ``unplayable``: the sign of notes that can't be played is among them.
    """
    places = list(places)
    second, third = (position_text(number, style.numerals) for number in (2.0, 3.0))
    rows = [(f"{second}, {third} …", say(_POSITION))]
    engaged = {place.valves for place in places}
    for valves in horn.valve_sets[1:]:
        if valves in engaged:
            rows.append((valve_sign(horn, valves, style), with_valves(say, valves)))
    split = {split_position(scale_position(horn, place, style)) for place in places}
    end = ("½", LAST)
    used = {sign for sign, _ in split - {end}}
    for sign, written, number in (
        ("♭", f"♭{second}", 2),
        ("♯", f"♯{second}", 2),
        ("½", f"{third}½", 3),
    ):
        if sign in used:
            rows.append((written, say(_SIGNS[sign], position=number, next_position=number + 1)))
    if end in split:
        rows.append((position_text(LAST + 0.5, style.numerals), say(_END)))
    if style.counting == "valve" and any(engaged):
        rows.append((say(_WITH_VALVE), say(_ALONG_VALVE)))
    if unplayable:
        rows.append((UNPLAYABLE, say(_UNPLAYABLE)))
    return tuple(rows)
