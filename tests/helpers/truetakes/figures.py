"""What is heard of takes besides their notes, beside what is known of them.

Each function draws takes of a kind and returns the errors of one figure: heard minus known. Chosen
takes are (number, kept). A note that wasn't found, or a figure that isn't told, counts as wanted
and not found.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise
from unittest.mock import Mock, patch

import numpy as np

from handslide.ground.units import A4_MIDI, cents
from handslide.jobs.setup import make_setup
from handslide.sound.dynamics import contrasts
from handslide.sound.livefollow import LiveFollower, PartNote
from handslide.sound.notes import HeardTake, hear
from handslide.sound.rhythm import Struck, rhythm_of
from handslide.sound.stream import Listener
from handslide.studio.takes import live as live_view

from . import parts
from .kinds import DYNAMICS_DB, make_take
from .phrases import LEAD_S
from .score import Found, pairs
from .truth import TrueTake

Chosen = Sequence[tuple[int, bool]]
_NEAR_S = 0.1


@dataclass(slots=True)
class Errors:
    """Errors ``off`` of what was found of ``wanted``."""

    wanted: int = 0
    off: list[float] = field(default_factory=list)


def _heard(
    kind: str, chosen: Chosen, real: bool
) -> Iterator[tuple[TrueTake, HeardTake, dict[int, int]]]:
    """The takes, what was heard of them, and for each true note the heard one."""
    for number, kept in chosen:
        take, heard = _take_heard(kind, number, kept, real)
        found = [Found(note.start_s, note.end_s, note.f0_hz) for note in heard.notes]
        yield take, heard, pairs(take.notes, found, _NEAR_S)


@lru_cache(maxsize=4)
def _take_heard(kind: str, number: int, kept: bool, real: bool) -> tuple[TrueTake, HeardTake]:
    take = make_take(kind, number, kept=kept, real=real)
    return take, hear(take.samples, take.rate_hz, closely=True)


def slurs(kind: str, figure: str, chosen: Chosen) -> Errors:
    """Of slurs of tones: ``transit`` in ms, ``dip`` in dB, the ``moment`` of the middle in ms."""
    errors = Errors()
    for take, heard, match in _heard(kind, chosen, False):
        assert heard.listened is not None
        into = {one.first + 1: one for one in heard.listened.transitions}
        for number, note in enumerate(take.notes):
            if note.how not in ("slurred", "smeared"):
                continue
            errors.wanted += 1
            way = into.get(match.get(number, -1))
            if way is None or match.get(number - 1) != way.first:
                continue
            told, known = {
                "transit": (way.transit_ms, 1000.0 * (note.transit_s or 0.0)),
                "dip": (way.dip_db, note.dip_db or 0.0),
                "moment": (None if way.at_s is None else 1000.0 * way.at_s, 1000.0 * note.onset_s),
            }[figure]
            if told is not None:
                errors.off.append(told - known)
    return errors


def onsets(chosen: Chosen, *, real: bool = False) -> Errors:
    """Of tongued notes: when they begin, in ms."""
    errors = Errors()
    for take, heard, match in _heard("beats", chosen, real):
        assert heard.listened is not None
        for number, note in enumerate(take.notes):
            errors.wanted += 1
            at_s = heard.listened.attacks[match[number]].at_s if number in match else None
            if at_s is not None:
                errors.off.append(1000.0 * (at_s - note.onset_s))
    return errors


def lateness(chosen: Chosen, *, real: bool = False, heard: bool = True) -> Errors:
    """Of tongued notes: how late they are, in ms, each take's mean apart.

    The beat is fitted to the notes, so that it gives way to them a little; ``heard`` False gives
    the fit the true onsets, and what is left is the fit's.
    """
    errors = Errors()
    for take, result, match in _heard("beats", chosen, real):
        assert result.listened is not None
        rows, known = [], []
        for number, note in enumerate(take.notes):
            errors.wanted += 1
            at_s: float | None = note.onset_s
            if heard:
                at_s = result.listened.attacks[match[number]].at_s if number in match else None
            if at_s is None or note.beat_s is None:
                continue
            beats = (note.beat_s - LEAD_S) / take.facts["beat_s"]
            name = str(round(beats) % 4 + 1) if abs(beats - round(beats)) < 0.01 else ""
            rows.append(Struck(beats * take.facts["beat_s"], at_s, name, 1.0, int(beats // 4)))
            known.append(1000.0 * note.late_s)
        rhythm = rhythm_of(rows)
        if rhythm is not None:
            off = [late - true for late, true in zip(rhythm.late_ms, known) if late is not None]
            errors.off += (np.array(off) - np.mean(off)).tolist()
    return errors


def levels(chosen: Chosen, *, real: bool = False) -> Errors:
    """Of notes of written dynamics: their level in dB."""
    errors = Errors()
    for take, heard, match in _heard("dynamics", chosen, real):
        errors.wanted += len(take.notes)
        for number, column in match.items():
            errors.off.append(heard.notes[column].level_db - take.notes[number].level_db)
    return errors


def differences(chosen: Chosen, *, real: bool = False) -> Errors:
    """Between written dynamics: how much louder the louder one was, in dB."""
    errors = Errors()
    for take, heard, match in _heard("dynamics", chosen, real):
        told: dict[str, list[float]] = {}
        known: dict[str, list[float]] = {}
        for number, note in enumerate(take.notes):
            assert note.dynamic is not None
            known.setdefault(note.dynamic, []).append(note.level_db)
            if number in match:
                told.setdefault(note.dynamic, []).append(heard.notes[match[number]].level_db)
        order = tuple(DYNAMICS_DB)
        found = {(one.soft, one.loud): one.difference_db for one in contrasts(told, order)}
        for one in contrasts(known, order):
            errors.wanted += 1
            if (one.soft, one.loud) in found:
                errors.off.append(found[one.soft, one.loud] - one.difference_db)
    return errors


def vibratos(chosen: Chosen, figure: str, *, real: bool = False) -> Errors:
    """Of notes with vibrato: its extent (``cents``) or its speed (``hz``), in per cent."""
    errors = Errors()
    for take, heard, match in _heard("vibrato", chosen, real):
        for number, note in enumerate(take.notes):
            errors.wanted += 1
            if number not in match:
                continue
            told = getattr(heard.notes[match[number]], f"vibrato_{figure}")
            known = getattr(note, f"vibrato_{figure}")
            if told is not None:
                errors.off.append(100.0 * (told / known - 1.0))
    return errors


def cracks(chosen: Chosen, *, real: bool = False) -> tuple[tuple[int, int], tuple[int, int]]:
    """Cracked attacks (called so, of how many), and others (called so, of how many)."""
    called, of = {True: 0, False: 0}, {True: 0, False: 0}
    for take, heard, match in _heard("attacks", chosen, real):
        assert heard.listened is not None
        for number, note in enumerate(take.notes):
            of[note.cracked] += 1
            if number in match:
                called[note.cracked] += heard.listened.attacks[match[number]].kind == "cracked"
    return (called[True], of[True]), (called[False], of[False])


def echoes(kind: str, chosen: Chosen, *, real: bool = False) -> Errors:
    """Of rooms: the reverberation time, in per cent."""
    errors = Errors()
    for take, heard, _ in _heard(kind, chosen, real):
        assert heard.listened is not None
        errors.wanted += 1
        if heard.listened.trust.echo_s is not None:
            errors.off.append(100.0 * (heard.listened.trust.echo_s / take.facts["rt_s"] - 1.0))
    return errors


@dataclass(slots=True)
class Shown:
    """What the live view shows: frames of settled notes, how many with the right name, and how
    often the name changes within a note."""

    frames: int = 0
    right: int = 0
    notes: int = 0
    changes: int = 0


def live(kind: str, chosen: Chosen, *, real: bool = False) -> Shown:
    """The names that the live view shows of takes, from 0.12 s after the onset of each note."""
    setup = make_setup("tenor-f")
    shown = Shown()
    for number, kept in chosen:
        take = make_take(kind, number, kept=kept, real=real)
        block = round(0.02 * take.rate_hz)
        whole = np.clip(np.rint(take.samples * 32768.0), -32768, 32767).astype("<i2")
        with patch.object(live_view, "_targets", return_value=(setup, {}, ())):
            view = live_view.Live(Mock(), live_view.LiveStart(take.rate_hz, 1, None, None))
        told = [view.push(whole[at : at + block].tobytes()) for at in range(0, len(whole), block)]
        frames = [one for one in told if one is not None]
        for note in take.notes:
            inside = [
                one["midi"]
                for one in frames
                if note.onset_s + 0.12 < one["t"] < note.offset_s - 0.05 and one["hz"] is not None
            ]
            right = round(A4_MIDI + cents(note.hz / 440.0) / 100.0)
            shown.notes += 1
            shown.frames += len(inside)
            shown.right += inside.count(right)
            shown.changes += sum(a != b for a, b in pairwise(inside))
    return shown


@dataclass(slots=True)
class Followed:
    """Frames of notes while a part is followed, from 0.12 s after their onsets: how many ``right``,
    ``behind`` or ahead on a note of the same pitch, ``wrong``; of the rest nothing was told."""

    frames: int = 0
    right: int = 0
    behind: int = 0
    wrong: int = 0


def followed(kind: str, chosen: Chosen) -> Followed:
    """Where live following is in the line that is played; of kind ``part`` with wrong notes, others
    left out, and places begun again."""
    found = Followed()
    for number, kept in chosen:
        line, samples, rate_hz, played = _line_of(kind, number, kept)
        notes = [PartNote(midi, on_s) for midi, on_s in line]
        follower, listener = LiveFollower(notes), Listener(rate_hz)
        placed, block = [], round(0.02 * rate_hz)
        for at in range(0, len(samples), block):
            for moment in listener.push(samples[at : at + block]):
                hz = moment.f0_hz
                follower.push(moment.time_s, hz and _midi(hz), moment.level_db)
                if hz is not None:
                    placed.append((moment.time_s, follower.at, follower.sure, follower.other))
        for note, onset_s, offset_s in played:
            inside = [row for row in placed if onset_s + 0.12 < row[0] < offset_s - 0.03]
            told = [at for _, at, sure, other in inside if sure and not other and at is not None]
            found.frames += len(inside)
            found.right += told.count(note)
            same = [at for at in told if at != note and line[at][0] == line[note][0]]
            found.behind += len(same)
            found.wrong += len(told) - told.count(note) - len(same)
    return found


def _line_of(kind: str, number: int, kept: bool):
    """What is written (MIDI, onset in s), the sound, and what was played of it: (number, onset,
    offset in s)."""
    if kind == "part":
        part = parts.play_part(number, kept=kept)
        sounded = {note.onset_s: note for note in part.notes}
        times = [
            (note, at_s)
            for note, attempts in enumerate(part.attempts)
            for at_s in attempts
            if part.played[note] == "right"
        ]
        nearest = [min(sounded, key=lambda on_s: abs(on_s - at_s)) for _, at_s in times]
        played = [(note, at, sounded[at].offset_s) for (note, _), at in zip(times, nearest)]
        line = [(one.midi, one.onset_s) for one in part.part]
        return line, part.samples, part.rate_hz, played
    take = make_take(kind, number, kept=kept)
    notes = [note for note in take.notes if not note.optional]
    line = [(round(_midi(note.hz)), note.onset_s) for note in notes]
    samples = take.samples if take.samples.ndim == 1 else take.samples.mean(axis=1)
    played = [(k, note.onset_s, note.offset_s) for k, note in enumerate(notes)]
    return line, samples, take.rate_hz, played


def _midi(hz: float) -> float:
    return A4_MIDI + cents(hz / 440.0) / 100.0
