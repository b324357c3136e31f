"""Notes in their places: what the drills about the slide itself are built from."""

import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Protocol, TypeVar

from handslide.drills.finish import HARD_STEPS
from handslide.drills.keys import fifths_of, tonics_within
from handslide.drills.levels import ADVANCED, Level
from handslide.drills.piece import DrillNote, Key, Piece
from handslide.drills.signs import MOST_FLATS, MOST_SHARPS, classes_of
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.hearing import TRAINED_EAR_CENTS
from handslide.ground.pitch import Pitch, from_midi
from handslide.instrument.effort import timing
from handslide.instrument.horn import Horn
from handslide.instrument.line import make_line
from handslide.instrument.markstyle import MarkStyle
from handslide.instrument.places import Place, PlaceBook
from handslide.instrument.profile import Profile
from handslide.instrument.route import all_usual, lay_out

LOWEST_MIDI, HIGHEST_MIDI = 12, 108
MOST_PIECES = 24
LEAST_BARS, MOST_BARS = 2, 64
SLOWEST_QPM, FASTEST_QPM = 20.0, 300.0
# Without a range asked for: no pedals, nothing above the third octave of the closed horn.
LOW_PARTIAL, HIGH_PARTIAL = 2, 8
# Higher than this a valve's notes hardly speak.
HIGH_VALVE_PARTIAL = 4
# These drills stand without a signature: their notes don't make a key.
NO_KEY = Key(0, "none")
WHOLE, DOTTED_HALF, HALF = Fraction(4), Fraction(3), Fraction(2)
DOTTED, QUARTER, EIGHTH = Fraction(3, 2), Fraction(1), Fraction(1, 2)
# Faster than this at its peak the slide doesn't arrive in a place: it glides through.
FASTEST_M_S = 3.5
Bar = tuple[DrillNote, ...]
Row = TypeVar("Row")
# The letters of an interval of so many semitones.
_LETTERS = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6, 7)
_TRITONE = 6


class Player(Protocol):
    """Who plays: a horn, the places within a student's limits, a profile and marks."""

    @property
    def horn(self) -> Horn: ...
    @property
    def book(self) -> PlaceBook: ...
    @property
    def profile(self) -> Profile: ...
    @property
    def style(self) -> MarkStyle: ...


@dataclass(frozen=True, slots=True)
class Wishes:
    """What can be asked of a drill about the slide.

    ``low`` and ``high`` are MIDI notes as they sound (None: partials 2 to 8). At most ``pieces``
    pieces of about ``bars`` bars. ``tempo_qpm`` None is the drill's own. Without ``pedals`` the
    first partial is left out. Each piece is in a key of the ``level`` (None: all keys). ``clef`` is
    the one that the student knows. ``teacher`` plays second parts (None: there are none).

    Raises
    ------
    BadUsage
        When a number makes no sense.
    """

    low: int | None = None
    high: int | None = None
    pieces: int = 4
    bars: int = 8
    tempo_qpm: float | None = None
    pedals: bool = True
    level: Level | None = None
    clef: str = "bass"
    teacher: Player | None = None

    def __post_init__(self) -> None:
        if self.low is not None and self.high is not None and self.low > self.high:
            raise BadUsage("drills.no_range", low=from_midi(self.low), high=from_midi(self.high))
        check_size(self.pieces, self.bars, self.tempo_qpm, LEAST_BARS)

    def tempo(self, usual_qpm: float) -> float:
        """The tempo asked for, or the drill's own."""
        return usual_qpm if self.tempo_qpm is None else self.tempo_qpm

    def tonics(self, rng: random.Random) -> tuple[Pitch, ...]:
        """The major keys of the level, as the seed mixes them, flats before sharps."""
        flats = MOST_FLATS if self.level is None else min(self.level.flats, MOST_FLATS)
        sharps = MOST_SHARPS if self.level is None else min(self.level.sharps, MOST_SHARPS)
        keys = list(tonics_within("major", flats, sharps))
        rng.shuffle(keys)
        return tuple(sorted(keys, key=lambda tonic: fifths_of(tonic) >= 0))

    def easy(self, first: int, second: int) -> bool:
        """Whether the step between two notes may be asked for: no tritone, no seventh or ninth but
        of advanced players."""
        free = self.level is None or self.level.name == ADVANCED
        return free or abs(second - first) not in HARD_STEPS

    def within(self, midi: int) -> bool:
        """Whether a note is inside the range asked for."""
        return (self.low is None or midi >= self.low) and (self.high is None or midi <= self.high)


def check_size(pieces: int, bars: int | None, tempo_qpm: float | None, least_bars: int = 1) -> None:
    """Raise BadUsage for numbers of exercises, bars or quarters a minute that make no sense."""
    if not 1 <= pieces <= MOST_PIECES:
        raise BadUsage("drills.pieces", pieces=pieces, most=MOST_PIECES)
    if bars is not None and not least_bars <= bars <= MOST_BARS:
        raise BadUsage("drills.bars", count=bars, least=least_bars, most=MOST_BARS)
    if tempo_qpm is not None and not SLOWEST_QPM <= tempo_qpm <= FASTEST_QPM:
        raise BadUsage("drills.tempo", tempo_qpm=tempo_qpm, low=SLOWEST_QPM, high=FASTEST_QPM)


def usual_places(player: Player, wishes: Wishes) -> dict[int, Place]:
    """The place of each note in the range when it stands alone and long, lowest note first.

    Raises
    ------
    BadUsage
        When no note of the range can be played.
    """
    notes = [
        midi
        for midi in range(LOWEST_MIDI, HIGHEST_MIDI + 1)
        if wishes.within(midi) and player.book.places(midi)
    ]
    found: dict[int, Place] = {}
    if notes:
        line = make_line(notes, [float(k) for k in range(len(notes))], [1.0] * len(notes))
        choices = lay_out(line, player.book, player.profile)
        for midi, place in zip(notes, all_usual(choices)):
            too_low = place.partial < LOW_PARTIAL and (wishes.low is None or not wishes.pedals)
            too_high = wishes.high is None and place.partial > HIGH_PARTIAL
            if not (too_low or too_high):
                found[midi] = place
    if not found:
        raise BadUsage("drills.no_note", where=on_horn(player))
    return found


def on_horn(player: Player) -> Fact:
    """On which horn, and whether a student's limits could be the reason for a lack."""
    limits = player.book.limits
    free = limits.reach is None and limits.learned is None
    return fact("drills.on_horn" if free else "drills.on_limited_horn", horn=player.horn.called)


def in_tune(place: Place) -> bool:
    """Whether the slide alone brings the note in tune in a place: no lip that a listener hears."""
    return place.lip_cents <= TRAINED_EAR_CENTS


def of_a_key(
    rows: Sequence[Row],
    midis: Callable[[Row], Iterable[int]],
    tonics: Sequence[Pitch],
    number: int,
    least: int,
) -> list[Row]:
    """The rows all of whose notes lie in one key: of the ``number``-th of the keys that leave
    ``least`` rows or more, round and round; else of the key that leaves most."""
    asked = [(row, {midi % 12 for midi in midis(row)}) for row in rows]
    kept = [[row for row, notes in asked if notes <= classes_of(tonic)] for tonic in tonics]
    enough = [some for some in kept if len(some) >= least]
    return enough[number % len(enough)] if enough else max(kept, key=len)


def way_m(places: Sequence[Place]) -> float:
    """How far the slide goes in all, in metres."""
    pairs = pairwise(places)
    return sum(abs(after.extension_m - before.extension_m) for before, after in pairs)


def move_time_s(player: Player, beats: Fraction, tempo_qpm: float) -> float:
    """The time in seconds that a note of ``beats`` leaves for the move to the next one."""
    length = float(beats) * 60.0 / tempo_qpm
    line = make_line([60, 61], [0.0, length], [length, length])
    return float(timing(player.profile, line).move_s[0])


def placed(
    note: int | Pitch,
    beats: Fraction,
    place: Place | None = None,
    remark: Fact | None = None,
    *,
    slur: bool = False,
    gliss: bool = False,
    articulation: str = "",
) -> DrillNote:
    """A note that is meant in ``place``; a MIDI note is spelled as brass players do."""
    pitch = from_midi(note) if isinstance(note, int) else note
    lock = None if place is None else (place.valves, place.partial)
    return DrillNote(
        pitch, beats, slur=slur, gliss=gliss, articulation=articulation, lock=lock, remark=remark
    )


def spelled(start: int, steps: Sequence[tuple[int, int]]) -> tuple[Pitch, ...]:
    """Notes at ``steps`` (letters, semitones) from a MIDI note, with the fewest accidentals.

    Of two spellings as good the one with flats is taken.
    """
    usual = from_midi(start)
    firsts = [usual] if usual.alter == 0 else [usual, usual.transposed(-1, 0)]
    options = [tuple(first.transposed(*step) for step in steps) for first in firsts]
    return min(options, key=lambda notes: sum(abs(note.alter) ** 2 for note in notes))


def spelled_beside(first: int, *others: int) -> tuple[Pitch, ...]:
    """MIDI notes within an octave of ``first``, as the plainest intervals from it: A to G sharp,
    not to A flat; B to G sharp, not to A flat."""
    steps = []
    for other in others:
        step = other - first
        # A tritone as it is usually written: E to B flat, F to B.
        usual = abs(_diatonic(other) - _diatonic(first))
        count = usual if abs(step) == _TRITONE else _LETTERS[abs(step)]
        steps.append((count if step > 0 else -count, step))
    found = spelled(first, [(0, 0), *steps])
    # Nobody should have to read a C flat or worse for it.
    plain = [from_midi(pitch.midi) for pitch in found]
    return tuple(p if p.alter == 0 else pitch for pitch, p in zip(found, plain))


def _diatonic(midi: int) -> int:
    pitch = from_midi(midi)
    return 7 * pitch.octave + "CDEFGAB".index(pitch.step)


def rest(beats: Fraction) -> DrillNote:
    """A rest."""
    return DrillNote(None, beats)


def heard(bar: Bar) -> tuple[tuple[int | None, Fraction], ...]:
    """What a listener hears of a bar: its notes and their lengths."""
    return tuple((None if note.pitch is None else note.pitch.midi, note.beats) for note in bar)


def no_echo(bars: Iterable[Bar]) -> tuple[Bar, ...]:
    """The bars without those that only say again what the bar before says."""
    kept: list[Bar] = []
    for bar in bars:
        if not kept or heard(bar) != heard(kept[-1]):
            kept.append(bar)
    return tuple(kept)


def piece(title: Fact, instruction: Iterable[Fact], bars: Iterable[Bar], tempo_qpm: float) -> Piece:
    """A piece in 4/4 without a signature."""
    return Piece(title, tuple(instruction), NO_KEY, (4, 4), tempo_qpm, tuple(bars))
