"""The notes of a take: when, how high, how sure; and what was left out and why.

Conventions: times in seconds from the start of the take, pitches in Hz, intervals in cents, levels
in dB re full scale. ``None`` means "could not be told", 0 is a value.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.ground.errors import TakeError
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import from_midi
from handslide.ground.progress import ProgressCallback
from handslide.ground.units import A4_MIDI, cents, midi_to_hz
from handslide.sound.clicks import Clicks, clicks_of
from handslide.sound.hum import without_hum
from handslide.sound.listened import Listened, Span, is_clipped, listen_closely
from handslide.sound.measure import LeftOut, Measured, measure_pieces
from handslide.sound.metronome import without_beeps
from handslide.sound.throughout import without_drone
from handslide.sound.track import Track, Tracker, with_pitch

Floats = NDArray[np.float64]

_BLOCK = 1 << 16
_A4_HZ = (380.0, 500.0)
_SILENT, _NO_NOTE = fact("sounds.silent"), fact("sounds.no_note")


@dataclass(frozen=True, slots=True)
class HeardNote:
    """A note as it was heard.

    ``start_s`` to ``end_s`` is the note, ``steady_start_s`` to ``steady_end_s`` the part without
    attack and release over which ``f0_hz`` is the mean pitch. ``midi`` is the nearest note at the
    take's A4, ``cents`` how far above it, ``cents_se`` the standard error of that, and
    ``spread_cents`` the standard deviation of the pitch along the steady part. A note too quick or
    too unsteady for that has only a coarse ``f0_hz`` and the nearest note: ``cents``, ``cents_se``,
    ``spread_cents``, ``scoop_cents`` and ``drift_cents`` are None. ``vibrato_hz`` and
    ``vibrato_cents`` are its speed and extent each way, None without vibrato. ``scoop_cents`` is
    where the attack began above (+) or below (-) the steady pitch, None where it can't be told;
    ``drift_cents`` how far the pitch climbed (+) or sank (-) along the steady part.
    """

    start_s: float
    end_s: float
    steady_start_s: float
    steady_end_s: float
    f0_hz: float
    midi: int
    cents: float | None
    cents_se: float | None
    spread_cents: float | None
    vibrato_hz: float | None
    vibrato_cents: float | None
    scoop_cents: float | None
    level_db: float
    drift_cents: float | None = 0.0

    def semitones(self, a4_hz: float) -> float:
        """Its pitch as a MIDI number with a fraction, whether measured or coarse."""
        return A4_MIDI + cents(self.f0_hz / a4_hz) / 100.0


@dataclass(frozen=True, slots=True)
class HeardTake:
    """All notes of a take, at ``a4_hz``; what was left out; what to know about the recording.

    ``listened`` is what else was heard, where it was asked for; ``clicks`` are a metronome's that
    were left out; ``drone_hz`` is a tone that sounded throughout and was taken out.
    """

    a4_hz: float
    a4_estimated: bool
    notes: tuple[HeardNote, ...]
    left_out: tuple[LeftOut, ...]
    warnings: tuple[Fact, ...]
    length_s: float
    listened: Listened | None = None
    clicks: Clicks | None = None
    drone_hz: float | None = None

    @property
    def nothing(self) -> Fact | None:
        """Why there is no note in it; None where there are some."""
        return nothing_in(self.warnings)


def nothing_in(warnings: Sequence[Fact]) -> Fact | None:
    """Which of a take's ``warnings`` says that it has no note."""
    return next((one for one in warnings if one in (_SILENT, _NO_NOTE)), None)


def hear(
    samples: Floats,
    rate_hz: float,
    *,
    a4_hz: float | None = 440.0,
    closely: bool = False,
    progress: ProgressCallback | None = None,
) -> HeardTake:
    """The notes of a recording.

    ``samples`` (n,) mono, -1 to 1, at ``rate_hz``; ``a4_hz`` None estimates the tuning pitch from
    the notes; ``closely`` as for `notes_of`; ``progress`` is told (stage, done, total).

    Raises
    ------
    TakeError
        For samples of another shape, a rate below 4 kHz, or an A4 outside 380 to 500 Hz.
    """
    check_a4(a4_hz)
    samples = np.asarray(samples, dtype=np.float64)
    if samples.ndim != 1:
        raise TakeError("sounds.not_mono", shape=str(samples.shape))
    tracker = Tracker(rate_hz, at_once=False)
    for first in range(0, len(samples), _BLOCK):
        tracker.push(samples[first : first + _BLOCK])
        if progress is not None:
            progress("hearing", first, 2 * len(samples))
    return notes_of(tracker.finish(), a4_hz=a4_hz, closely=closely, progress=progress)


def check_a4(a4_hz: float | None) -> None:
    """Raise TakeError for an A4 that no one tunes to."""
    if a4_hz is not None and not _A4_HZ[0] <= a4_hz <= _A4_HZ[1]:
        raise TakeError("sounds.a4", a4_hz=a4_hz, lowest_hz=_A4_HZ[0], highest_hz=_A4_HZ[1])


def notes_of(
    track: Track,
    *,
    a4_hz: float | None = 440.0,
    closely: bool = False,
    progress: ProgressCallback | None = None,
) -> HeardTake:
    """The notes of a finished track; arguments and errors as for ``hear``.

    ``closely``: listen to attacks, colours and slurs, too, and say how far it can be trusted.
    """
    check_a4(a4_hz)
    track = without_hum(track, progress)
    if not len(track.f0_hz):
        track = with_pitch(track, progress)
    track, drone_hz = without_drone(track, progress)
    track, beeps = without_beeps(track)
    measured, left_out = measure_pieces(track, beeps, progress)
    estimated = a4_hz is None
    warnings = []
    if a4_hz is None:
        a4_hz, warning = estimate_a4(measured)
        warnings += [warning] if warning else []
    notes = tuple(_named(note, a4_hz) for note in measured)
    warnings += _warnings(track, notes)
    if drone_hz is not None:
        midi = round(A4_MIDI + cents(drone_hz / a4_hz) / 100.0)
        warnings.append(fact("sounds.drone", pitch=from_midi(midi)))
    listened = None
    if closely:
        spans = [
            Span(note.start_s, note.end_s, note.steady_start_s, note.steady_end_s, note.f0_hz,
                 note.level_db)
            for note in notes
        ]  # fmt: skip
        listened = listen_closely(track, spans, left_out)
    warned = tuple(warnings)
    return HeardTake(
        a4_hz, estimated, notes, left_out, warned, track.length_s, listened, clicks_of(beeps),
        drone_hz,
    )  # fmt: skip


def estimate_a4(measured: tuple[Measured, ...]) -> tuple[float, Fact | None]:
    """The A4 that the notes' pitches agree on best, within half a semitone of 440 Hz.

    Mean on the circle of 100 cents, each note weighed by its precision with 5 cents added for the
    player. Returns the pitch in Hz, and a warning where the notes don't agree or there are none.
    """
    means = [note.mean for note in measured if note.mean is not None]
    if not means:
        return 440.0, fact("sounds.a4_assumed", a4_hz=440.0)
    off = np.array([cents(mean.f0_hz / 440.0) for mean in means])
    spread = np.array([np.hypot(mean.se_cents, 5.0) for mean in means])
    weight = spread**-2.0
    mean = np.sum(weight * np.exp(2j * np.pi * off / 100.0)) / np.sum(weight)
    a4_hz = 440.0 * 2.0 ** (np.angle(mean) / (2.0 * np.pi) * 100.0 / 1200.0)
    if len(means) < 3:
        return float(a4_hz), fact("sounds.a4_of_few", count=len(means))
    if abs(mean) < 0.5:
        return float(a4_hz), fact("sounds.a4_weak")
    return float(a4_hz), None


def _named(note: Measured, a4_hz: float) -> HeardNote:
    midi = round(A4_MIDI + cents(note.f0_hz / a4_hz) / 100.0)
    mean = note.mean
    return HeardNote(
        start_s=note.start_s,
        end_s=note.end_s,
        steady_start_s=note.steady_start_s,
        steady_end_s=note.steady_end_s,
        f0_hz=note.f0_hz,
        midi=midi,
        cents=None if mean is None else cents(note.f0_hz / midi_to_hz(midi, a4_hz)),
        cents_se=None if mean is None else mean.se_cents,
        spread_cents=None if mean is None else mean.spread_cents,
        vibrato_hz=None if mean is None else mean.vibrato_hz,
        vibrato_cents=None if mean is None else mean.vibrato_cents,
        scoop_cents=note.scoop_cents,
        level_db=note.level_db,
        drift_cents=None if mean is None else mean.drift_cents,
    )


def _warnings(track: Track, notes: tuple[HeardNote, ...]) -> list[Fact]:
    """What to know about the recording."""
    found = []
    clipped = sum(is_clipped(track, note.start_s, note.end_s) for note in notes)
    if clipped:
        found.append(fact("sounds.clipped", count=clipped, total=len(notes)))
    if not notes:
        silent = not len(track.level_db) or float(track.level_db.max()) < -75.0
        found.append(_SILENT if silent else _NO_NOTE)
    return found


__all__ = [
    "HeardNote",
    "HeardTake",
    "LeftOut",
    "check_a4",
    "estimate_a4",
    "hear",
    "notes_of",
    "nothing_in",
]
