"""How each note of a part is played: its time, its level, its beginning and its end.

Notes of a line are joined under slurs and parted where they are tongued. How much of its time a
note sounds by its sign, and how much stronger it begins, are our own choice, within what teaching
books agree on (staccato half, staccatissimo a third, tenuto all). A breath mark takes its time from
the note before it.
"""

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from handslide.ground.units import midi_to_hz
from handslide.sound.playing.levels import level_curves
from handslide.sound.playing.score import PlayedPart, Row

SHARES = {
    "staccatissimo": 0.35, "staccato": 0.5, "portato": 0.75, "marcato": 0.75, "tenuto": 1.0,
    "": 0.92,
}  # fmt: skip
"""How much of its time a note sounds."""
STRONGER_DB = {"accent": 3.0, "marcato": 4.5, "sforzato": 6.0}
"""How much louder a note begins."""
BREATH_S, BREATH_SHARE = 0.3, 1.0 / 3.0
"""A breath is no longer than either: of the note before it, the share."""
SLUR_S = 0.035
"""Slurred notes overlap by this."""
ATTACKS_S = (0.06, 0.03)
"""How long a tongued note takes to rise: as soft as can be, as loud as can be."""
_ATTACK_SHARE = 0.3
_GAP_S = 0.06  # the gap before the next tongued note is no longer
_NEAR_S = 0.05  # a glissando over a longer rest is not sung through it
_GRACE_S = 0.1
_SOFTEST_DB, _LOUDEST_DB = -13.5, 9.0  # for the attack's length
_EPS_S = 1e-6


@dataclass(frozen=True, slots=True)
class Tone:
    """A note to sound: its fades lie within ``length_s``.

    ``levels`` are corners (share of the length, dB from mezzo-forte). ``to_hz`` is where it glides
    to until ``glide_s``; ``carry``: it goes on in the phase of the tone before it in the list.
    ``timbre``: brass, mild or struck.
    """

    onset_s: float
    length_s: float
    hz: float
    levels: tuple[tuple[float, float], ...] = ((0.0, 0.0),)
    timbre: str = "brass"
    attack_s: float = 0.045
    release_s: float = 0.05
    stronger_db: float = 0.0
    to_hz: float | None = None
    glide_s: float = 0.0
    carry: bool = False


@dataclass(frozen=True, slots=True)
class Timed:
    """A note with its time in the sound."""

    row: Row
    onset_s: float
    length_s: float
    hz: float


Clock = Callable[[float, float], float]


def timed_rows(
    part: PlayedPart, onset: Clock, until: Clock, window_p: tuple[float, float], a4_hz: float
) -> list[Timed]:
    """The notes within a window of played places, in time: what is held into it begins with it,
    what reaches beyond it is cut. A grace note keeps its distance to the note behind it."""
    first_p, last_p = window_p
    found = []
    for row in part.rows:
        if row.grace and row.end_p <= row.begin_p:
            continue
        begin_p, end_p = max(row.begin_p, first_p), min(row.end_p, last_p)
        if end_p <= begin_p + _EPS_S:
            continue
        begin_q = row.begin_q + begin_p - row.begin_p
        start_s = onset(begin_p, begin_q)
        end_s = until(end_p, row.end_q - (row.end_p - end_p))
        if end_s > start_s + _EPS_S:
            found.append(Timed(row, start_s, end_s - start_s, midi_to_hz(row.midi, a4_hz)))
    return _with_graces(part, found, onset, window_p, a4_hz)


def _with_graces(
    part: PlayedPart,
    timed: list[Timed],
    onset: Clock,
    window_p: tuple[float, float],
    a4_hz: float,
) -> list[Timed]:
    """Grace notes without a length sound one after the other before the note they stand at."""
    groups: dict[tuple[float, tuple[str, str]], list[Row]] = {}
    for row in part.rows:
        if row.grace and row.end_p <= row.begin_p and window_p[0] <= row.begin_p < window_p[1]:
            groups.setdefault((row.begin_p, row.line), []).append(row)
    if not groups:
        return timed
    for (begin_p, _), rows in groups.items():
        at_s = onset(begin_p, rows[0].begin_q)
        each_s = min(_GRACE_S, at_s / len(rows))
        for number, row in enumerate(rows):
            start_s = at_s - each_s * (len(rows) - number)
            if each_s > _EPS_S:
                timed.append(Timed(row, start_s, each_s, midi_to_hz(row.midi, a4_hz)))
    return sorted(timed, key=lambda one: one.onset_s)


def tones_of(part: PlayedPart, timed: Sequence[Timed], *, flat: bool = False) -> list[Tone]:
    """The notes as tones; ``flat``: all equally loud, as if nothing were written."""
    curves = level_curves(()) if flat else level_curves(part.levels)
    lines: dict[tuple[str, str], list[Timed]] = {}
    for one in timed:
        lines.setdefault(one.row.line, []).append(one)
    tones: list[Tone] = []
    for (staff, _), notes in lines.items():
        curve = curves.get(staff, curves[None])
        chords: dict[float, list[Timed]] = {}
        for one in notes:
            chords.setdefault(one.onset_s, []).append(one)
        starts = sorted(chords)
        joined: dict[float, bool] = {}  # by onset: to what is before, gliding or not
        for one in notes:
            tone = Tone(
                one.onset_s, one.length_s, one.hz, curve.along(one.row.begin_q, one.row.end_q),
                part.timbre, stronger_db=_stronger_db(one.row.signs),
            )  # fmt: skip
            tone = _begun(tone, joined.get(one.onset_s))
            place = bisect_right(starts, one.onset_s + _EPS_S)
            next_s = starts[place] if place < len(starts) else None
            after = [] if next_s is None else chords[next_s]
            tones.append(_ended(tone, one, next_s, after, joined))
    return tones


def _stronger_db(signs: frozenset[str]) -> float:
    return max((STRONGER_DB[sign] for sign in signs if sign in STRONGER_DB), default=0.0)


def _begun(tone: Tone, gliding: bool | None) -> Tone:
    """The beginning: tongued, quicker when loud, or joined to the note before."""
    if gliding is not None:
        return replace(tone, attack_s=SLUR_S, stronger_db=0.0, carry=gliding)
    level = (tone.levels[0][1] + tone.stronger_db - _SOFTEST_DB) / (_LOUDEST_DB - _SOFTEST_DB)
    soft_s, loud_s = ATTACKS_S
    attack_s = soft_s + min(max(level, 0.0), 1.0) * (loud_s - soft_s)
    return replace(tone, attack_s=min(attack_s, _ATTACK_SHARE * tone.length_s))


def _ended(
    tone: Tone,
    one: Timed,
    next_s: float | None,
    after: Sequence[Timed],
    joined: dict[float, bool],
) -> Tone:
    """The end: into the next note of the line, or before it is tongued."""
    row = one.row
    if tone.timbre == "struck":
        return replace(tone, length_s=_sounding_s(one))
    if next_s is not None and next_s - one.onset_s - one.length_s < _NEAR_S and not row.breath:
        # Under a slur the same note again is tongued softly: nobody would hear it otherwise.
        same = any(two.hz == one.hz for two in after)
        if row.gliding or (row.slurred and not same):
            joined[next_s] = row.gliding
            long_s = next_s - one.onset_s
            tone = replace(tone, length_s=long_s + SLUR_S, release_s=SLUR_S)
            return replace(tone, to_hz=after[0].hz, glide_s=long_s) if row.gliding else tone
    return replace(tone, length_s=_sounding_s(one))


def _sounding_s(one: Timed) -> float:
    """How long a note sounds before the next is tongued."""
    length_s, signs = one.length_s, one.row.signs
    if one.row.breath:
        length_s -= min(BREATH_S, BREATH_SHARE * length_s)
    if one.row.slurred and not signs & {"staccato", "staccatissimo"}:
        return length_s
    share = min((SHARES[sign] for sign in signs if sign in SHARES), default=SHARES[""])
    if "tenuto" in signs and "staccato" in signs:
        share = SHARES["portato"]
    if share < SHARES[""]:
        return length_s * share
    return length_s - min(_GAP_S, (1.0 - share) * length_s)
