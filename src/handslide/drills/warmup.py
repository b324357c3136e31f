"""A warm-up: long tones down the slide and back, and easy slurs in one position after the other.

Common practice: begin in the middle of the range, on the open horn with the slide closed, go one
half step further out each time and come home; then slurs between neighbouring partials, which need
no tongue and no move of the slide.
"""

import random
from collections.abc import Iterator
from dataclasses import replace

from handslide.drills.levels import Level
from handslide.drills.piece import Piece
from handslide.drills.placed import (
    HALF,
    QUARTER,
    WHOLE,
    Bar,
    Player,
    in_tune,
    piece,
    placed,
)
from handslide.drills.ranges import partial_midi, range_of
from handslide.ground.facts import fact
from handslide.instrument.places import Place

_TEMPO = 60.0
# The partials that long tones start on, and the lower ones of slurs, by level.
_LONG = {"first-year": (3, 4), "second-year": (3, 4), "advanced": (3, 4, 5)}
_SLURS = {"first-year": (2, 3), "second-year": (3, 4), "advanced": (3, 4, 5)}
_STEPS = 6


def make(player: Player, level: Level, rng: random.Random) -> tuple[Piece, ...]:
    """Long tones and easy slurs; fewer where a horn or a reach has no room for them."""
    low, high = range_of(player.book, level)
    long = list(_LONG[level.name])
    rng.shuffle(long)
    slurs = list(_SLURS[level.name])
    rng.shuffle(slurs)
    found = []
    shape = rng.randrange(2)
    for maker, partials in ((_long_tones, long), (_easy_slurs, slurs)):
        made = (maker(player, partial, low, high, shape) for partial in partials)
        first = next((one for one in made if one is not None), None)
        if first is not None:
            found.append(first)
    return tuple(found)


def _steps(player: Player, partial: int, low: int, high: int) -> Iterator[tuple[int, Place]]:
    """The notes of an open partial from the closed slide outwards, within the limits."""
    top = partial_midi(player.horn, partial)
    for midi in range(top, top - _STEPS - 1, -1):
        found = [
            place
            for place in player.book.places(midi)
            if not place.valves and place.partial == partial and in_tune(place)
        ]
        if not found or not low <= midi <= high:
            return
        yield midi, found[0]


def _long_tones(player: Player, partial: int, low: int, high: int, shape: int) -> Piece | None:
    steps = list(_steps(player, partial, low, high))
    if len(steps) < 2:
        return None
    home, closed = steps[0]
    bars: list[Bar] = []
    for midi, place in steps[1:]:
        out = placed(midi, HALF, place)
        if shape:
            bars += _swelling((placed(home, WHOLE, closed),), (out, placed(home, HALF, closed)))
        else:
            bars += _swelling((placed(home, HALF, closed), out), (placed(home, WHOLE, closed),))
    first, *others = bars[0]
    bars[0] = (replace(first, dynamic="p"), *others)
    return piece(fact("drills.long_tones"), (fact("drills.how_to_hold"),), bars, _TEMPO)


def _swelling(grows: Bar, dies: Bar) -> tuple[Bar, Bar]:
    """Two bars in one breath, louder through the first one, softer through the second."""
    *others, last = (replace(note, swell=">") for note in dies)
    louder = tuple(replace(note, swell="<") for note in grows)
    return louder, (*others, replace(last, breath=True))


def _easy_slurs(player: Player, partial: int, low: int, high: int, shape: int) -> Piece | None:
    lower = list(_steps(player, partial, low, high))
    upper = list(_steps(player, partial + 1, low, high))
    bars: list[Bar] = []
    for number, ((down, at), (up, above)) in enumerate(zip(lower, upper)):
        if abs(at.extension_m - above.extension_m) > 0.03:
            break
        if number % 2 != shape:
            first = placed(up, QUARTER, above, slur=True), placed(down, QUARTER, at, slur=True)
            bars.append((*first, placed(up, HALF, above)))
        else:
            first = placed(down, QUARTER, at, slur=True), placed(up, QUARTER, above, slur=True)
            bars.append((*first, placed(down, HALF, at)))
    if not bars:
        return None
    return piece(fact("drills.easy_slurs"), (fact("drills.how_to_slur_easily"),), bars, _TEMPO)
