"""All that is heard of a take besides its notes: attacks, colours, ways between notes, trust."""

from collections.abc import Sequence
from dataclasses import dataclass

from handslide.sound.attacks import Attack, attack_of
from handslide.sound.colour import Colour, colour_of
from handslide.sound.measure import LeftOut
from handslide.sound.slurs import Transition, transition
from handslide.sound.track import Track
from handslide.sound.trust import Sounding, Trust, trust_of

# Shares of a note's samples at full scale.
CLIPPED_NOTE = 0.002
_BEEP = "sounds.beep"
_MEANT_S = 0.09  # a sixteenth at 160 lasts as long


@dataclass(frozen=True, slots=True)
class Span:
    """A note as far as this asks for it; times in s, ``level_db`` re full scale."""

    start_s: float
    end_s: float
    steady_start_s: float
    steady_end_s: float
    f0_hz: float
    level_db: float


@dataclass(frozen=True, slots=True)
class Listened:
    """``attacks`` and ``colours`` have an entry a note; ``transitions`` those of neighbours."""

    attacks: tuple[Attack, ...]
    colours: tuple[Colour, ...]
    transitions: tuple[Transition, ...]
    trust: Trust


def listen_closely(track: Track, notes: Sequence[Span], left_out: Sequence[LeftOut]) -> Listened:
    """What there is to hear of these notes of a track, in the order of time."""
    attacks, colours, ways = [], [], []
    for number, note in enumerate(notes):
        before = _before(notes, number)
        attacks.append(attack_of(track, note.start_s, note.end_s, note.f0_hz, before))
        colours.append(colour_of(track, note.steady_start_s, note.steady_end_s, note.f0_hz))
        if number:
            way = transition(track, number - 1, _tone(notes[number - 1]), _tone(note))
            ways += [way] if way is not None else []
    soundings = [_sounding(track, *pair) for pair in zip(notes, colours, strict=True)]
    beeps = sum(row.why.kind == _BEEP for row in left_out)
    trust = trust_of(track, track.recording, soundings, beeps)
    return Listened(tuple(attacks), tuple(colours), tuple(ways), trust)


def _before(notes: Sequence[Span], number: int) -> tuple[float, float] | None:
    """End and pitch of the note before; what was too short to be meant may be its crack."""
    for note in reversed(notes[:number]):
        if note.end_s - note.start_s >= _MEANT_S:
            return note.end_s, note.f0_hz
    return None


def _tone(note: Span) -> tuple[float, float, float]:
    return note.steady_start_s, note.steady_end_s, note.f0_hz


def _sounding(track: Track, note: Span, colour: Colour) -> Sounding:
    return Sounding(
        note.start_s, note.end_s, note.f0_hz, note.level_db,
        is_clipped(track, note.start_s, note.end_s), colour.first_db,
    )  # fmt: skip


def is_clipped(track: Track, start_s: float, end_s: float) -> bool:
    """Whether so much of a note is at full scale that its level can't be told."""
    span = slice(int(start_s / track.hop_s), int(end_s / track.hop_s) + 1)
    return bool(len(track.clipped[span])) and float(track.clipped[span].mean()) > CLIPPED_NOTE
