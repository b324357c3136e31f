"""Reading other clefs: one short line in the horn's own clef, in others, then in all of them mixed.

Which clefs a player meets is common practice: orchestral parts of the tenor trombone go from bass
to tenor clef and later to alto; an alto's own is the alto clef.
"""

import random
from collections.abc import Mapping
from dataclasses import replace
from itertools import cycle

from handslide.drills.exercise import Series
from handslide.drills.finish import ends_of, well_joined
from handslide.drills.levels import ADVANCED, FIRST_YEAR, Level
from handslide.drills.piece import Piece
from handslide.drills.placed import MOST_PIECES, Player, Wishes
from handslide.drills.running import make_running
from handslide.ground.clefs import CLEFS, Clef
from handslide.ground.errors import BadUsage
from handslide.ground.facts import fact
from handslide.ground.pitch import from_midi

# The clefs to learn, nearest first, by the one that is known.
OTHERS: Mapping[str, tuple[str, ...]] = {
    "bass": ("tenor", "alto"),
    "tenor": ("bass", "alto"),
    "alto": ("bass", "tenor"),
    "treble": ("alto", "tenor"),
    "treble-bb": ("bass", "tenor"),
}
# A line is looked for within one ledger line of every staff that it is read on, else within more.
_LEDGERS = (1, 2, 3, 4)
_TOP_LINE = 4
# So many keys and lines are made for each that a sheet has.
_CHOICE = 3


def make_clef_reading(
    player: Player,
    wishes: Wishes,
    series: Series,
    level: Level,
    rng: random.Random,
    key: str | None = None,
) -> tuple[Piece, ...]:
    """Lines of a series, each in every clef of the level; after the first year also mixed.

    Raises as `handslide.drills.running.make_running`.
    """
    names = clefs_at(wishes.clef, level)
    versions = len(names) + (level.name != FIRST_YEAR)
    count = -(-wishes.pieces // versions)
    asked = replace(wishes, pieces=min(MOST_PIECES, _CHOICE * count))
    made = _near(player, asked, series, level, rng, key, [CLEFS[name] for name in names])
    chosen = sorted(rng.sample(range(len(made)), min(count, len(made))))
    text = made[0].instruction
    pieces: list[Piece] = []
    for line in well_joined([made[at] for at in chosen], ends_of):
        rows = _versions(replace(line, instruction=()), names, level)
        # Of a line that has less room the later clefs stay: those to be learned.
        pieces += rows[-(wishes.pieces - len(pieces)) :]
    return (replace(pieces[0], instruction=text), *pieces[1:])


def clefs_at(own: str, level: Level) -> tuple[str, ...]:
    """The clefs that a level reads, the own one first."""
    others = OTHERS[own]
    return (own, *(others[:1] if level.name == FIRST_YEAR else others))


def _near(
    player: Player,
    wishes: Wishes,
    series: Series,
    level: Level,
    rng: random.Random,
    key: str | None,
    clefs: list[Clef],
) -> tuple[Piece, ...]:
    """The lines, with as few ledger lines as this player's range allows in these clefs."""
    for ledgers in _LEDGERS:
        staves = [_staff(clef, ledgers) for clef in clefs]
        low, high = max(row[0] for row in staves), min(row[-1] for row in staves)
        low = low if wishes.low is None else max(low, wishes.low)
        high = high if wishes.high is None else min(high, wishes.high)
        if low > high:
            continue
        try:
            return make_running(
                player, replace(wishes, low=low, high=high), series, level, rng, key
            )
        except BadUsage:
            continue
    return make_running(player, wishes, series, level, rng, key)


def _staff(clef: Clef, ledgers: int) -> list[int]:
    """The MIDI notes, as they sound, on a staff and within so many ledger lines of it."""
    most = _TOP_LINE + 2 * ledgers
    return [midi for midi in range(128) if abs(clef.place(clef.written(from_midi(midi)))) <= most]


def _versions(line: Piece, names: tuple[str, ...], level: Level) -> list[Piece]:
    """The line in each clef, then with a change at every second bar; at every bar for the
    advanced."""
    rows = [_named(replace(line, clef=name), name) for name in names]
    if level.name == FIRST_YEAR:
        return rows
    # A clef that transposes would change the signature, too.
    mixed = [name for name in names if not CLEFS[name].semitones_up]
    bars = range(0, len(line.bars), 1 if level.name == ADVANCED else 2)
    first, *changes = zip(bars, cycle(mixed))
    rows.append(_named(replace(line, clef=first[1], clef_changes=tuple(changes)), "mixed"))
    return rows


def _named(line: Piece, clef: str) -> Piece:
    told = dict(line.title.items)
    scale = fact("drills.read_in", scale=told["scale"], clef=clef)
    return replace(line, title=fact("drills.in_key", exercise=told["exercise"], scale=scale))
