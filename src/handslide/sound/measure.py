"""From the pieces of a track to measured notes: steady part, mean pitch, and what isn't a note.

Conventions: times in seconds, pitches in Hz, intervals in cents, levels in dB re full scale.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from handslide.ground.facts import Fact, fact
from handslide.ground.limits import MEASURED_S
from handslide.ground.progress import ProgressCallback
from handslide.sound.blown import LOUD_S, SEVERAL_PITCHES, loudest, why_not_blown
from handslide.sound.metronome import Beep
from handslide.sound.octaves import later_of, octave_of
from handslide.sound.onsets import Earlier, onset_of
from handslide.sound.refine import (
    CENTS,
    Blocks,
    blocks_of,
)
from handslide.sound.segments import (
    SHORT_S,
    Piece,
    cents_of,
    envelope_db,
    gate_db,
    joined,
    pieces_of,
)
from handslide.sound.tongues import tongued_anew
from handslide.sound.track import Track
from handslide.sound.vibrato import Mean, mean_pitch

Floats = NDArray[np.float64]

_FAR_CENTS = 250.0  # a frame this far from its piece's middle is a slip of the track
_LEAST_BLOCKS = 4
_LEVEL_DROP_DB = 20.0
# A window at the edge with less than this share of its neighbour's power reaches beyond the tone.
_BEYOND_SHARE, _BEYOND_BLOCKS, _ENOUGH_BLOCKS = 0.3, 2, 8
_TOLERANCE_CENTS = 8.0
_MOVING_CENTS = 50.0  # over the middle three fifths of a piece, or over all of a quick one
_MOVING_CENTS_S = 150.0
_MOVING_FIT = 0.8
_SCOOP_S = 0.15
_BESIDE_FRAMES = 2.5
_UNSURE_CENTS = 8.0
_BRIEF_S = 0.25
_BRIEF_CLARITY = 0.75
_SLIGHTLY_LOOSE_SHARE = 0.15
_JUDGED_FRAMES = 6
_RINGS_FRAMES = 60
_OVERLAP_FRAMES = 50
_PLATEAU_CENTS = 50.0
_PLATEAU_FRAMES = 4
_ASIDE_FRAMES = 4
_LEAP_CENTS = 250.0  # in one frame
_SURE = 0.45
_CLEAR = 0.9
_LONG_FRAMES = 50
_LONG_CLEAR = 0.8
_RESTS_SHARE = 0.4  # of the speed around: what moves no more quickly rests
_RELEASE_GAP_S = 0.15
_RELEASE_S = 0.5
_FAR_SOFTER_DB = 12.0
_FAINT_DB = 20.0
_RELEASE_DB = 5.0
_RISES_DB = 3.0
_DYING_DB = 6.0

# Why something isn't a note.
_CLICK = fact("sounds.click")
_NOISE = fact("sounds.noise")
_TOO_SHORT = fact("sounds.too_short")
_SLIDING = fact("sounds.sliding")
_NO_STEADY_PITCH = fact("sounds.no_steady_pitch")
_RELEASE = fact("sounds.release")
_BEEP = fact("sounds.beep")
_SCRAPS = (_SLIDING, _TOO_SHORT, _NO_STEADY_PITCH, _CLICK, _NOISE)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Something that sounded and isn't among the notes, and why."""

    start_s: float
    end_s: float
    why: Fact


@dataclass(frozen=True, slots=True)
class Measured:
    """A note before it is named.

    ``mean`` is None where it is too quick or unsteady to be measured: ``f0_hz`` is then good to a
    quartertone or so. ``scoop_cents`` is None where the attack can't be told.
    """

    start_s: float
    end_s: float
    steady_start_s: float
    steady_end_s: float
    f0_hz: float
    mean: Mean | None
    scoop_cents: float | None
    level_db: float


def measure_pieces(
    track: Track, beeps: Sequence[Beep] = (), progress: ProgressCallback | None = None
) -> tuple[tuple[Measured, ...], tuple[LeftOut, ...]]:
    """Notes and left-out stretches of a track, each in the order of time.

    ``beeps`` are a metronome's that were taken out of the track: they are left out, too.
    """
    level = envelope_db(track, track.f0_hz)
    pieces = pieces_of(track, level, gate_db(track, level))
    track = settled(track, pieces)
    whole = joined(pieces, track)
    # What was joined has more to show than its parts.
    track = settled(track, [piece for piece in whole if piece not in pieces])
    notes: list[Measured] = []
    left: list[LeftOut] = []
    for number, piece in enumerate(whole):
        if progress is not None:
            progress("measuring", number, len(whole))
        for found in _heard(track, piece, level):
            if isinstance(found, Measured):
                notes.append(found)
            else:
                left.append(found)
    notes, releases = _without_releases(notes, level, track.hop_s)
    ticks = [LeftOut(beep.start_s, beep.end_s, _BEEP) for beep in beeps]
    left = sorted([*left, *releases, *ticks], key=lambda row: row.start_s)
    notes, left = _with_scoops(notes, left, track.hop_s)
    return _begun(track, notes), tuple(_merged(left, track.hop_s))


def _begun(track: Track, notes: Sequence[Measured]) -> tuple[Measured, ...]:
    """The notes with their beginnings to the millisecond; none begins before another has ended."""
    found: list[Measured] = []
    for note in notes:
        before = found[-1] if found else None
        earlier = None if before is None else Earlier(before.start_s, before.end_s, before.f0_hz)
        start_s = onset_of(track, note.start_s, note.end_s, note.f0_hz, earlier)
        steady_s = min(max(note.steady_start_s, start_s), note.steady_end_s)
        found.append(replace(note, start_s=min(start_s, steady_s), steady_start_s=steady_s))
        if before is not None and before.end_s > start_s:
            steady_s = max(min(before.steady_end_s, start_s), before.steady_start_s)
            found[-2] = replace(before, end_s=start_s, steady_end_s=steady_s)
    return tuple(found)


def _heard(track: Track, piece: Piece, level: Floats) -> list[Measured | LeftOut]:
    """What a piece is, cut where it is softly tongued."""
    parts: Sequence[Piece] = [piece]
    if piece.pitched:
        inside = level[piece.first : piece.stop]
        parts = tongued_anew(track, piece, _path(track, piece), inside)
    found = [_measure(track, part) for part in parts]
    if len(parts) > 1 and any(_is_several(one) for one in found):
        # Two tones beat: that is no tongue.
        one = _measure(track, piece)
        return [one] if _is_several(one) else found
    return found


def _is_several(found: Measured | LeftOut) -> bool:
    return isinstance(found, LeftOut) and found.why == SEVERAL_PITCHES


def settled(track: Track, pieces: Sequence[Piece]) -> Track:
    """The track with each piece in its octave."""
    f0_hz = track.f0_hz.copy()
    earlier: list[tuple[int, float]] = []
    for piece in pieces:
        if not piece.pitched or piece.stop - piece.first < _JUDGED_FRAMES:
            continue
        inside = slice(piece.first, piece.stop)
        middle = float(2.0 ** (most_common(cents_of(f0_hz[inside]), _FAR_CENTS / 2) / 1200.0))
        samples = track.samples[piece.first * track.hop : piece.stop * track.hop].astype(np.float64)
        off = cents_of(f0_hz[inside] / middle)
        near = np.abs(off) < _FAR_CENTS
        reach = float(np.percentile(np.abs(off[near]), 80)) / CENTS
        settled_hz = octave_of(samples, track.rate_hz, middle, reach)
        ringing = [hz for stop, hz in earlier[-2:] if piece.first - stop < _RINGS_FRAMES]
        if piece.stop - piece.first < _OVERLAP_FRAMES:
            settled_hz = later_of(samples, track.rate_hz, settled_hz, ringing)
        f0_hz[inside] = np.where(near, f0_hz[inside] * (settled_hz / middle), f0_hz[inside])
        earlier.append((piece.stop, settled_hz))
    return replace(track, f0_hz=f0_hz)


def _measure(track: Track, piece: Piece) -> Measured | LeftOut:
    start_s, end_s = piece.first * track.hop_s, piece.stop * track.hop_s
    if not piece.pitched:
        return LeftOut(start_s, end_s, _CLICK if end_s - start_s < SHORT_S else _NOISE)
    if end_s - start_s < SHORT_S:
        slides = _slides_through(track, piece)
        return LeftOut(start_s, end_s, _SLIDING if slides else _TOO_SHORT)
    if end_s - start_s < _BRIEF_S and not _clear(track, piece):
        return LeftOut(start_s, end_s, _NO_STEADY_PITCH)
    piece = replace(piece, stop=min(piece.stop, piece.first + int(MEASURED_S / track.hop_s)))
    path = _path(track, piece)
    begin = max(0, round((piece.first - 0.5) * track.hop))
    stop = min(len(track.samples), round((piece.stop - 0.5) * track.hop))
    middle = np.arange(piece.first, piece.stop) * track.hop
    along = np.interp(np.arange(begin, stop), middle, path)
    blocks = blocks_of(track.samples[begin:stop].astype(np.float64), track.rate_hz, along)
    if blocks is None:
        return _coarse(track, piece, path) or LeftOut(start_s, end_s, _TOO_SHORT)
    if _moving(blocks):
        return _coarse(track, piece, path) or LeftOut(start_s, end_s, _SLIDING)
    first, last = steady_part(blocks)
    if last - first < _LEAST_BLOCKS:
        return _coarse(track, piece, path) or LeftOut(start_s, end_s, _NO_STEADY_PITCH)
    steady = blocks.cut(first, last)
    mean = mean_pitch(steady.time_s, steady.step_s, steady.turn, 2.0 * steady.step_s)
    if mean.se_cents > _UNSURE_CENTS and end_s - start_s < _BRIEF_S:
        return _coarse(track, piece, path) or LeftOut(start_s, end_s, _NO_STEADY_PITCH)
    why, loose = why_not_blown(steady, mean, track.rate_hz)
    if why == SEVERAL_PITCHES:
        # In a room it is what dies away of this note and of the one before that runs apart.
        loud = loudest(steady)
        if loud.time_s[-1] - loud.time_s[0] >= LOUD_S:
            best = mean_pitch(loud.time_s, loud.step_s, loud.turn, 2.0 * loud.step_s)
            if why_not_blown(loud, best, track.rate_hz, LOUD_S)[0] is None:
                steady, mean, why = loud, best, None
        if why is not None and loose < _SLIGHTLY_LOOSE_SHARE:
            return _coarse(track, piece, path) or LeftOut(start_s, end_s, why)
    if why is not None:
        return LeftOut(start_s, end_s, why)
    offset_s = begin / track.rate_hz
    return Measured(
        start_s=start_s,
        end_s=end_s,
        steady_start_s=float(offset_s + steady.time_s[0] - steady.step_s),
        steady_end_s=float(offset_s + steady.time_s[-1] + steady.step_s),
        f0_hz=mean.f0_hz,
        mean=mean,
        scoop_cents=float(CENTS * np.log(blocks.hz[0] / mean.f0_hz)) if first else 0.0,
        level_db=float(10.0 * np.log10(max(float(steady.power.mean()), 1e-12))),
    )


def _clear(track: Track, piece: Piece) -> bool:
    """Whether a brief piece is a tone rather than an attack or a murmur."""
    return float(np.median(track.clarity[piece.first : piece.stop])) >= _BRIEF_CLARITY


def _coarse(track: Track, piece: Piece, path: Floats) -> Measured | None:
    """A quick note, by its coarse pitch; None where that keeps to nothing.

    The pitch must stay within a quartertone for half of the piece, and for 40 ms at the least.
    """
    cents = cents_of(path)
    middle = most_common(cents, _PLATEAU_CENTS)
    inside = np.flatnonzero(np.abs(cents - middle) <= _PLATEAU_CENTS)
    if len(inside) < max(_PLATEAU_FRAMES, len(cents) / 2):
        return None
    least = _CLEAR if len(cents) < _LONG_FRAMES else _LONG_CLEAR
    if np.median(track.clarity[piece.first : piece.stop][inside]) < least:
        return None
    if _slides_through(track, piece):
        return None
    hop_s, level = track.hop_s, track.level_db[piece.first : piece.stop]
    return Measured(
        start_s=piece.first * hop_s,
        end_s=piece.stop * hop_s,
        steady_start_s=(piece.first + int(inside[0])) * hop_s,
        steady_end_s=(piece.first + int(inside[-1]) + 1) * hop_s,
        f0_hz=float(2.0 ** (np.median(cents[inside]) / 1200.0)),
        mean=None,
        scoop_cents=None,
        level_db=float(10.0 * np.log10(np.mean(10.0 ** (level[inside] / 10.0)))),
    )


def _slides_through(track: Track, piece: Piece) -> bool:
    """Whether a piece is a step of a glissando that was cut into pieces, or of a falling voice.

    A note's pitch rests in its middle; that of a slide moves there as quickly as around it.
    """
    length = piece.stop - piece.first
    aside = max(_ASIDE_FRAMES, length // 2)
    first, stop = max(0, piece.first - aside), min(len(track.f0_hz), piece.stop + aside)
    cents = cents_of(track.f0_hz[first:stop])
    here = np.arange(first, stop)
    keeps = (track.clarity[first:stop] > _SURE) & np.isfinite(cents)
    # Across a leap there is no slide.
    leap = np.abs(np.diff(cents, prepend=cents[0])) > _LEAP_CENTS
    leaps = here[leap | ~keeps]
    before, after = leaps[leaps <= piece.first + 1], leaps[leaps >= piece.stop - 1]
    low = int(before[-1]) if len(before) else first
    high = int(after[0]) if len(after) else stop
    whole = cents[low - first : high - first]
    if len(whole) < 2 * _PLATEAU_FRAMES:
        return False
    around = float(whole[-1] - whole[0]) / (len(whole) - 1)
    if abs(around) * len(whole) < _MOVING_CENTS:
        return False
    step = min(_PLATEAU_FRAMES, len(whole) - 1)
    inside = cents[piece.first - first : piece.stop - first]
    inside = inside[len(inside) // 4 : len(inside) - len(inside) // 4]
    moves = (inside[step:] - inside[:-step]) / step if len(inside) > step else np.array([around])
    return bool(np.min(moves * np.sign(around)) > _RESTS_SHARE * abs(around))


def most_common(cents: Floats, reach: float) -> float:
    """The middle of those of ``cents`` (n,) that have the most others within ``reach``.

    Between two octaves the median of a track that jumps is a pitch that never sounded.
    """
    order = np.sort(cents)
    low = np.searchsorted(order, order - reach)
    high = np.searchsorted(order, order + reach, "right")
    best = int(np.argmax(high - low))
    return float(np.median(order[low[best] : high[best]]))


def _path(track: Track, piece: Piece) -> Floats:
    """The coarse pitch (frames,) of a piece, without slips."""
    cents = cents_of(track.f0_hz[piece.first : piece.stop])
    middle = float(np.median(cents))
    near = np.abs(cents - middle) < _FAR_CENTS
    if 2 * near.sum() < len(near):
        near = np.abs(cents - most_common(cents, _FAR_CENTS)) < _FAR_CENTS
    index = np.arange(len(cents))
    cents = np.interp(index, index[near], cents[near])
    # The median of each and its two neighbours.
    before, after = np.append(cents[0], cents[:-1]), np.append(cents[1:], cents[-1])
    low, high = np.minimum(before, after), np.maximum(before, after)
    return 2.0 ** (np.clip(cents, low, high) / 1200.0)


def _moving(blocks: Blocks) -> bool:
    """Whether the pitch goes one way all along the middle of a piece."""
    hz = blocks.hz
    margin = len(hz) // 5
    middle = cents_of(np.maximum(hz[margin : len(hz) - margin], 1.0))
    if len(middle) < 3:
        return False
    time = np.linspace(-0.5, 0.5, len(middle))
    change = float(time @ middle / (time @ time))
    total = float(np.sum((middle - middle.mean()) ** 2))
    explained = change**2 * float(time @ time) / max(total, 1e-12)
    fast = abs(change) / (len(middle) * blocks.step_s) > _MOVING_CENTS_S
    whole = abs(change) * len(hz) / len(middle)
    far = abs(change) > _MOVING_CENTS or (fast and whole > _MOVING_CENTS)
    return far and explained > _MOVING_FIT


def steady_part(blocks: Blocks) -> tuple[int, int]:
    """First and stop of the blocks without attack and release.

    From where the pitch first keeps, for three blocks, within the band that its middle three fifths
    keep to, and the level within 20 dB of the note's, to where they last do. Windows that reach
    beyond the tone are left out: their phases are the noisiest and would weigh most.
    """
    cents = cents_of(np.maximum(blocks.hz, 1.0))
    margin = len(cents) // 5
    core = cents[margin : len(cents) - margin]
    middle = np.median(core)
    reach = 1.3 * float(np.percentile(np.abs(core - middle), 75)) + _TOLERANCE_CENTS
    quiet = 10.0 ** (-_LEVEL_DROP_DB / 10.0) * np.percentile(blocks.power, 80)
    inside = np.abs(cents - middle) <= reach
    inside &= np.minimum(blocks.power[1:], blocks.power[:-1]) >= quiet
    kept = np.flatnonzero(inside[:-2] & inside[1:-1] & inside[2:])
    if not len(kept):
        return 0, 0
    first, stop = int(kept[0]), int(kept[-1]) + 4
    for _ in range(_BEYOND_BLOCKS):
        first += stop - first > _ENOUGH_BLOCKS and _is_beyond(blocks.power, first, first + 1)
        stop -= stop - first > _ENOUGH_BLOCKS and _is_beyond(blocks.power, stop - 1, stop - 2)
    return first, stop


def _is_beyond(power: Floats, edge: int, inside: int) -> bool:
    return bool(power[edge] < _BEYOND_SHARE * power[inside])


def _without_releases(
    notes: list[Measured], level: Floats, hop_s: float
) -> tuple[list[Measured], list[LeftOut]]:
    """The notes, and what only dies away after one: its release and the room's answer.

    A tail is brief, never rises from where it begins, sinks all along, and has the pitch of the
    note before or one that is in its spectrum. A softer note of its own is longer, begins or keeps
    its level.
    """
    kept: list[Measured] = []
    tails: list[LeftOut] = []
    for note in notes:
        if kept and _dies_away(kept[-1], note, level, hop_s):
            tails.append(LeftOut(note.start_s, note.end_s, _RELEASE))
        else:
            kept.append(note)
    return kept, tails


def _dies_away(before: Measured, note: Measured, level: Floats, hop_s: float) -> bool:
    length_s = note.end_s - note.start_s
    if note.start_s - before.end_s > _RELEASE_GAP_S or length_s > _RELEASE_S:
        return False
    apart = abs(1200.0 * np.log2(note.f0_hz / before.f0_hz))
    multiple = max(1.0, np.rint(2.0 ** (apart / 1200.0)))
    if abs(apart - 1200.0 * np.log2(multiple)) > _PLATEAU_CENTS:
        return False
    softer = before.level_db - note.level_db
    if softer < _RELEASE_DB:
        return False
    first, ended = round(note.start_s / hop_s), round(before.end_s / hop_s)
    inside = level[first : max(first + 1, round(note.end_s / hop_s))]
    quarter = max(1, len(inside) // 4)
    rises = float(inside.max() - level[max(0, ended - 2) : first + quarter].max())
    sinks = float(inside[:quarter].max() - inside[-quarter:].max())
    if softer > _FAINT_DB and length_s < _SCOOP_S:
        return rises < _DYING_DB
    return rises < _RISES_DB and sinks > (_DYING_DB if softer < _FAR_SOFTER_DB else 0.0)


def _with_scoops(
    notes: list[Measured], left: list[LeftOut], hop_s: float
) -> tuple[list[Measured], list[LeftOut]]:
    """Give a short slide or scrap at the beginning of a note to it: its attack.

    Short noise at its edges is the note's own. What has a pitch and isn't given to a note stays in
    the list: after a note and between two there is nobody to say whose it is.
    """
    kept = []
    for scrap in left:
        short = scrap.end_s - scrap.start_s <= _SCOOP_S and scrap.why in _SCRAPS
        near_s = _BESIDE_FRAMES * hop_s
        after = next((n for n in notes if abs(n.start_s - scrap.end_s) < near_s), None)
        before = next((n for n in notes if abs(n.end_s - scrap.start_s) < near_s), None)
        if short and scrap.why in (_CLICK, _NOISE) and (after or before) is not None:
            continue
        if short and after is not None and before is None:
            notes[notes.index(after)] = replace(after, start_s=scrap.start_s)
        else:
            kept.append(scrap)
    return notes, kept


def _merged(left: list[LeftOut], hop_s: float) -> list[LeftOut]:
    """Neighbouring stretches left out for the same reason, as one."""
    found: list[LeftOut] = []
    for row in left:
        if found and found[-1].why == row.why and row.start_s - found[-1].end_s < 2.5 * hop_s:
            found[-1] = replace(found[-1], end_s=row.end_s)
        else:
            found.append(row)
    return found
