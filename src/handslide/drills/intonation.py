"""Just intervals against a drone: how far from equal temperament, and what the slide does for it.

The just offset of an interval of the ratio r that lies k semitones above the drone is

    1200·log2(r) - 100·k cents

and the slide moves from where the place sounds the tempered note to where it sounds the just one.
"""

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

from handslide.drills.finish import well_joined
from handslide.drills.levels import FIRST_YEAR
from handslide.drills.piece import Piece
from handslide.drills.placed import (
    DOTTED_HALF,
    HALF,
    QUARTER,
    WHOLE,
    Bar,
    Player,
    Wishes,
    no_echo,
    on_horn,
    piece,
    placed,
    rest,
    spelled,
    usual_places,
)
from handslide.drills.signs import is_in
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, from_midi
from handslide.ground.units import cents, cents_to_ratio, midi_to_hz
from handslide.instrument.heardplace import extension_of
from handslide.instrument.horn import Horn
from handslide.instrument.marks import mark
from handslide.instrument.places import Place

_TEMPO = 54.0
# Smaller than this is nothing, for a lip and for an arm.
_NO_LIP_CENTS = 0.5
_NO_MOVE_MM = 0.5


class Interval(NamedTuple):
    """A just interval above a drone: its ``ratio``, and the letters and semitones that it spans."""

    name: str
    ratio: tuple[int, int]
    letters: int
    semitones: int

    @property
    def just_cents(self) -> float:
        """How far the just interval is above the tempered one (negative: below)."""
        return cents(self.ratio[0] / self.ratio[1]) - 100.0 * self.semitones


UNISON = Interval("unison", (1, 1), 0, 0)
MINOR_THIRD = Interval("minor third", (6, 5), 2, 3)
MAJOR_THIRD = Interval("major third", (5, 4), 2, 4)
FIFTH = Interval("fifth", (3, 2), 4, 7)
OCTAVE = Interval("octave", (2, 1), 7, 12)
INTERVALS = (UNISON, MINOR_THIRD, MAJOR_THIRD, FIFTH, OCTAVE)


@dataclass(frozen=True, slots=True)
class JustNote:
    """A note tuned to a drone on one place.

    ``change_mm`` is how far the slide moves from the tempered note to the just one (positive =
    out); ``lip_cents`` what is left for the lip when the slide is closed (positive = up), or at its
    end (negative = down). ``other`` is a place where the slide alone does it, if this one can't,
    and ``other_mark`` its mark.
    """

    interval: Interval
    pitch: Pitch
    place: Place
    change_mm: float
    lip_cents: float
    other: Place | None
    other_mark: str = ""

    @property
    def remark(self) -> Fact:
        """The offset and the slide: 13.7 cents lower, 12 mm further out."""
        off = self.interval.just_cents
        if abs(off) < 0.05:
            return self.slide
        kind = "drills.just_higher" if off > 0 else "drills.just_lower"
        return fact(kind, off_cents=abs(off), slide=self.slide)

    @property
    def slide(self) -> Fact:
        """What the slide does: 4 mm further in; or that it can't: closed, 16 cents for the lip."""
        if abs(self.lip_cents) >= _NO_LIP_CENTS:
            cents_off, up = abs(self.lip_cents), self.lip_cents > 0
            if self.other is None:
                kind = "drills.lip_up" if up else "drills.lip_down"
                return fact(kind, lip_cents=cents_off)
            kind = "drills.lip_up_or_other" if up else "drills.lip_down_or_other"
            return fact(kind, lip_cents=cents_off, mark=self.other_mark)
        if abs(self.change_mm) < _NO_MOVE_MM:
            lipped = self.place.lip_cents >= _NO_LIP_CENTS
            return fact("drills.without_lip" if lipped else "drills.slide_as_it_is")
        kind = "drills.further_out" if self.change_mm > 0 else "drills.further_in"
        return fact(kind, way_mm=abs(self.change_mm))


def make(player: Player, wishes: Wishes, rng: random.Random) -> tuple[Piece, ...]:
    """One piece for each drone: unison, fifth, octave and the thirds, each held.

    Raises
    ------
    BadUsage
        When no note of the range has a third or a fifth above it.
    """
    usual = usual_places(player, wishes)
    drones = [midi for midi in usual if _fits(player, usual, midi)]
    if not drones:
        raise BadUsage("drills.no_just_intervals", where=on_horn(player))
    tonics = wishes.tonics(rng)
    if wishes.level is not None and wishes.level.name == FIRST_YEAR:
        # One third over each drone, the one that has no sign in the keys of a first year.
        easy = {midi: _easy_third(usual, midi, tonics) for midi in drones}
        drones = [midi for midi in drones if easy[midi] is not None] or drones
    else:
        easy = {}
    chosen = well_joined(_apart(drones, wishes.pieces, rng), lambda midi: (midi, midi))
    tempo = wishes.tempo(_TEMPO)
    return tuple(
        _piece(just_notes(player, usual, midi), easy.get(midi), rng, tempo, first=midi == chosen[0])
        for midi in chosen
    )


def _easy_third(usual: Mapping[int, Place], drone: int, tonics: Sequence[Pitch]) -> Interval | None:
    """The third over a drone that lies in one of the keys together with drone and fifth."""
    for third in (MAJOR_THIRD, MINOR_THIRD):
        chord = [drone, drone + third.semitones, drone + FIFTH.semitones]
        if chord[1] in usual and any(all(is_in(m, tonic) for m in chord) for tonic in tonics):
            return third
    return None


def just_notes(player: Player, usual: Mapping[int, Place], drone: int) -> dict[Interval, JustNote]:
    """The just notes above a drone (MIDI), as far as they have a place in ``usual``."""
    pitches = spelled(drone, [(row.letters, row.semitones) for row in INTERVALS])
    return {
        interval: just_note(player, interval, pitch, usual[pitch.midi])
        for interval, pitch in zip(INTERVALS, pitches)
        if pitch.midi in usual
    }


def just_note(player: Player, interval: Interval, pitch: Pitch, place: Place) -> JustNote:
    """The just ``interval``, written as ``pitch``, in one of the pitch's places."""
    change_mm, lip = _slide(player.horn, pitch.midi, place, interval.just_cents)
    if abs(lip) < _NO_LIP_CENTS:
        return JustNote(interval, pitch, place, change_mm, lip, None)
    others = [
        one
        for one in player.book.places(pitch.midi)
        if abs(_slide(player.horn, pitch.midi, one, interval.just_cents)[1]) < _NO_LIP_CENTS
    ]
    # The plainest; of those as plain the one with the shortest slide, as they come in that order.
    other = min(others, key=lambda one: one.alternate, default=None)
    sign = "" if other is None else mark(player.horn, other, player.style)
    return JustNote(interval, pitch, place, change_mm, lip, other, sign)


def _slide(horn: Horn, midi: int, place: Place, off_cents: float) -> tuple[float, float]:
    """(slide change in mm, cents left for the lip) of a note ``off_cents`` above the tempered."""
    hz = midi_to_hz(midi, horn.a4_hz) * cents_to_ratio(off_cents)
    wanted = extension_of(horn, hz, place.partial, place.valves)
    reached = min(max(wanted, 0.0), horn.travel_m)
    lip = cents(hz / horn.frequency_hz(place.partial, reached, place.valves))
    return 1000.0 * (reached - place.extension_m), lip


def _fits(player: Player, usual: Mapping[int, Place], drone: int) -> bool:
    """Whether a drone can be tuned to by the slide, and has a third and a fifth above it."""
    found = just_notes(player, usual, drone)
    home = abs(found[UNISON].lip_cents) < _NO_LIP_CENTS
    return home and FIFTH in found and bool(_thirds(found))


def _thirds(found: Mapping[Interval, JustNote]) -> list[JustNote]:
    """The thirds that can be read at sight: no C♭, F♭, E♯ or B♯, no double signs."""
    rows = [found[row] for row in (MAJOR_THIRD, MINOR_THIRD) if row in found]
    return [
        row
        for row in rows
        if row.pitch.alter == from_midi(row.pitch.midi).alter
        or (row.pitch.step in "ACDFG" and row.pitch.alter == 1)
    ]


def _apart(drones: list[int], count: int, rng: random.Random) -> list[int]:
    """Drones at random, of different names as long as there are."""
    rest = list(drones)
    rng.shuffle(rest)
    names: dict[int, int] = {}
    for midi in rest:
        names.setdefault(midi % 12, midi)
    first = list(names.values())
    return (first + [midi for midi in rest if midi not in first])[:count]


def _piece(
    notes: Mapping[Interval, JustNote],
    only: Interval | None,
    rng: random.Random,
    tempo_qpm: float,
    *,
    first: bool,
) -> Piece:
    thirds = [row for row in _thirds(notes) if only in (None, row.interval)]
    rng.shuffle(thirds)
    home, fifth = notes[UNISON], notes[FIFTH]
    bars: list[Bar] = [_held(home), _held(fifth)]
    if OCTAVE in notes:
        bars.append(_held(notes[OCTAVE]))
    for third in thirds:
        bars += [_from(home, third), _held(third), _from(third, fifth)]
    bars.append((placed(home.pitch, DOTTED_HALF, home.place), rest(QUARTER)))
    # Said in full over the first exercise of a sheet, shortly over the others.
    how = fact("drills.how_to_tune" if first else "drills.tune_again")
    drone_on = fact("drills.drone_on", note=home.pitch)
    title = fact("drills.drone", note=home.pitch)
    made = piece(title, (drone_on, how), _breathing(no_echo(bars)), tempo_qpm)
    return replace(made, drone=home.pitch)


def _breathing(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """With a breath before each long note."""
    found = [
        (*bar[:-1], replace(bar[-1], breath=True)) if ahead[0].beats >= DOTTED_HALF else bar
        for bar, ahead in pairwise(bars)
    ]
    return (*found, *bars[-1:])


def _held(note: JustNote) -> Bar:
    return (placed(note.pitch, WHOLE, note.place, note.remark),)


def _from(first: JustNote, second: JustNote) -> Bar:
    return (
        placed(first.pitch, HALF, first.place),
        placed(second.pitch, HALF, second.place),
    )
