"""A drone that follows a harmony: which tones it holds when, and how they are tuned.

Each root has one pitch all through the music, in equal temperament or just above one note that
stays, and the tones of a chord are just above its root: chords are pure, and however long the music
goes on nothing drifts by a comma.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from handslide.ground.pitch import Pitch, from_midi
from handslide.ground.temperament import just_ratio, tempered
from handslide.ground.units import midi_to_hz
from handslide.sound.playing.harmony import Chord, Stretch
from handslide.sound.playing.phrasing import Timed, Tone
from handslide.sound.playing.score import Row

PEDAL = "pedal"
_MAJOR_THIRD, _ELEVENTH, _FIFTH, _THIRTEENTH = 4, 5, 7, 9
_SEVENTHS = frozenset((10, 11))
_SPREAD = 6  # thirds and fourths lie an octave higher: close ones are muddy that low
_ATTACK_S, _RELEASE_S, _OVERLAP_S = 0.12, 0.2, 0.1
_EPS = 1e-6


@dataclass(frozen=True, slots=True)
class Tuning:
    """How a drone is tuned: ``just`` above each root; the roots just above ``base``, if it is
    given, else in equal temperament."""

    just: bool = True
    base: Pitch | None = None
    a4_hz: float = 440.0

    def root_hz(self, midi: int) -> float:
        """A root."""
        if self.base is None:
            return midi_to_hz(midi, self.a4_hz)
        (tone,) = tempered((from_midi(midi),), just=True, root=self.base, a4_hz=self.a4_hz)
        return tone.hz

    def hz(self, root_midi: int, midi: int) -> float:
        """A tone of a chord on this root."""
        above = midi - root_midi
        root_hz = self.root_hz(root_midi)
        return root_hz * (float(just_ratio(above)) if self.just else 2.0 ** (above / 12.0))


class Held(NamedTuple):
    """A tone of the drone, in played quarters; ``root`` is the MIDI number that it is tuned to."""

    begin_p: float
    end_p: float
    midi: int
    root: int


def root_midi(chord: Chord, low: int) -> int:
    """The root within the octave from ``low`` on (MIDI numbers)."""
    return low + (chord.root - low) % 12


def voiced(chord: Chord, tones: str, low: int) -> tuple[int, ...]:
    """The MIDI numbers of what is held of a chord, the root first.

    ``tones``: root, fifth (the root and its perfect fifth where the chord has one), or chord. Of
    wide chords players leave out the fifth below a thirteenth and a major third below an eleventh;
    the thirteenth lies above the seventh (common practice).
    """
    root = root_midi(chord, low)
    if tones != "chord":
        wanted = {0, _FIFTH} if tones == "fifth" else {0}
        return tuple(root + one for one in chord.semitones if one in wanted)
    have = set(chord.semitones)
    seventh = have & _SEVENTHS
    out = {_FIFTH} if seventh and _THIRTEENTH in have else set()
    out |= {_MAJOR_THIRD} if seventh and _ELEVENTH in have else set()
    high = {one for one in have if 0 < one < _SPREAD}
    high |= {_THIRTEENTH} if seventh else set()
    return tuple(root + one + 12 * (one in high) for one in chord.semitones if one not in out)


def held_tones(
    stretches: Iterable[Stretch], tones: str, low: int, left_out: Sequence[Row] = ()
) -> list[Held]:
    """The tones of the drone: roots from ``low`` on, as `voiced` has it.

    Of ``left_out``, the student's notes, each is missing while it lasts, in any octave.
    """
    found: list[Held] = []
    for one in stretches:
        if one.chord is None:
            continue
        root = root_midi(one.chord, low)
        for midi in voiced(one.chord, tones, low):
            own = [row for row in left_out if row.midi % 12 == midi % 12]
            for begin_p, end_p in _without(one.begin_p, one.end_p, own):
                found.append(Held(begin_p, end_p, midi, root))
    return found


def _without(begin_p: float, end_p: float, rows: Sequence[Row]) -> list[tuple[float, float]]:
    """A stretch without the time of these notes."""
    pieces = []
    for row in sorted(rows, key=lambda one: one.begin_p):
        if row.end_p <= begin_p + _EPS or row.begin_p >= end_p - _EPS:
            continue
        if row.begin_p > begin_p + _EPS:
            pieces.append((begin_p, row.begin_p))
        begin_p = max(begin_p, row.end_p)
    return [*pieces, (begin_p, end_p)] if end_p > begin_p + _EPS else pieces


def drone_tones(
    held: Iterable[Held],
    onset: Callable[[float], float],
    until: Callable[[float], float],
    window_p: tuple[float, float],
    tuning: Tuning,
) -> list[Tone]:
    """The drone as sound, within a window of played places.

    ``onset`` and ``until`` lead from played places to seconds. A tone that goes on isn't begun
    anew; one that ends fades while the next begins.
    """
    found: list[Tone] = []
    last_of: dict[float, int] = {}  # frequency: its last tone
    for one in sorted(held):
        begin_p, end_p = max(one.begin_p, window_p[0]), min(one.end_p, window_p[1])
        if end_p <= begin_p + _EPS:
            continue
        hz = round(tuning.hz(one.root, one.midi), 6)
        start_s, end_s = onset(begin_p), until(end_p) + _OVERLAP_S
        last = last_of.get(hz)
        if last is not None and found[last].onset_s + found[last].length_s >= start_s:
            found[last] = replace(found[last], length_s=end_s - found[last].onset_s)
            continue
        last_of[hz] = len(found)
        found.append(Tone(start_s, end_s - start_s, hz, attack_s=_ATTACK_S, release_s=_RELEASE_S))
    return found


def tuned_to(
    timed: Sequence[Timed], stretches: Sequence[Stretch], low: int, tuning: Tuning
) -> list[Timed]:
    """The notes of a line, those tuned to the drone that are tones of the chord they begin in.

    Over a pedal point, which has no chord, all are.
    """
    begins = [one.begin_p for one in stretches]
    found = []
    for one in timed:
        at = bisect_right(begins, one.row.begin_p + _EPS) - 1
        stretch = stretches[at] if at >= 0 else None
        if stretch is None or stretch.chord is None or one.row.begin_p >= stretch.end_p - _EPS:
            found.append(one)
            continue
        root = root_midi(stretch.chord, low)
        inside = (one.row.midi - root) % 12 in stretch.chord.semitones
        if inside or stretch.chord.kind == PEDAL:
            one = replace(one, hz=tuning.hz(root, one.row.midi))
        found.append(one)
    return found
