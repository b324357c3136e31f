"""Recordings: which notes were played, how high each was, and where the slide was."""

from dataclasses import dataclass
from os import PathLike, fspath
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handslide.api.arrays import Floats, Ints, finite, fixed, known
from handslide.api.horns import Horn, tuned_again
from handslide.api.places import place_of
from handslide.api.rows import Place
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact
from handslide.ground.pitch import from_midi
from handslide.jobs.hear.free import free_notes
from handslide.jobs.hear.listen import listen_file
from handslide.sound.measure import LeftOut
from handslide.sound.notes import HeardTake
from handslide.sound.notes import hear as hear_samples


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Take:
    """The M notes of a recording, as read-only arrays with an entry a note.

    NaN stands where a note was too quick or too unsteady to be measured.

    Attributes
    ----------
    a4_hz, a4_estimated, length_s
        The tuning pitch, whether it was estimated from the notes, and how long the recording is.
    names, midi : M names, (M,)
        The nearest note at that A4.
    start_s, end_s, steady_start_s, steady_end_s : (M,)
        When the note sounds, and its part without attack and release, s.
    f0_hz : (M,)
        Mean pitch of the steady part, Hz.
    cents, cents_se, spread_cents : (M,)
        How far above the nearest note, the standard error of that, and the standard deviation of
        the pitch along the steady part.
    vibrato_hz, vibrato_cents : (M,)
        Speed of a vibrato and its extent each way; NaN without.
    level_db : (M,)
        Re full scale.
    places, off_mm, off_se_mm : M places, (M,), (M,)
        With a horn: the usual place of each note (None: it has none), how far the slide was beyond
        it (+: too far out), mm, and the standard error.
    left_out
        What sounded and isn't among the notes, as ``start_s``, ``end_s`` and ``why``, a fact.
    warnings
        Facts to know about the recording.
    """

    a4_hz: float
    a4_estimated: bool
    length_s: float
    names: tuple[str, ...]
    midi: Ints
    start_s: Floats
    end_s: Floats
    steady_start_s: Floats
    steady_end_s: Floats
    f0_hz: Floats
    cents: Floats
    cents_se: Floats
    spread_cents: Floats
    vibrato_hz: Floats
    vibrato_cents: Floats
    level_db: Floats
    places: tuple[Place | None, ...]
    off_mm: Floats
    off_se_mm: Floats
    left_out: tuple[LeftOut, ...]
    warnings: tuple[Fact, ...]

    def __len__(self) -> int:
        return len(self.names)

    def __repr__(self) -> str:
        return f"Take(names={self.names!r}, a4_hz={self.a4_hz!r}, length_s={self.length_s!r})"


def hear(
    audio: "str | PathLike[str] | NDArray[Any]",
    rate_hz: float | None = None,
    *,
    a4_hz: float | None = 440.0,
    horn: Horn | None = None,
) -> Take:
    """The notes of a recording of one player.

    Pitch is followed over 25 to 1000 Hz and each steady note refined by harmonic least squares;
    the error's bound is that of Rife and Boorstyn (IEEE Trans. Inf. Theory 20 (1974) 591).

    Parameters
    ----------
    audio
        A file (WAV, FLAC, OGG, MP3, and M4A with the extra ``phone``), or samples (n,), mono:
        floats from -1 to 1, or whole numbers of 16 or 32 bits.
    rate_hz
        Of samples, from 4000.
    a4_hz
        The tuning pitch, 380 to 500 Hz; None: it is estimated from the notes.
    horn
        Where to say how far the slide was off; it is taken to be in tune at the take's A4.

    Raises
    ------
    HandslideError
        A file that can't be read, samples of another shape or with NaN, an A4 out of range.

    Examples
    --------
    >>> import numpy as np
    >>> import handslide as hs
    >>> time_s = np.arange(0.0, 1.2, 1 / 22050)
    >>> tone = sum(np.sin(2 * np.pi * 120.0 * n * time_s) / n for n in range(1, 8)) / 4
    >>> quiet = np.zeros(6000)
    >>> take = hs.hear(np.concatenate((quiet, tone, quiet)), 22050, horn=hs.horn("tenor"))
    >>> take.names, take.f0_hz.round(2).tolist()
    (('B2',), [120.0])
    >>> take.cents.round().tolist(), take.places[0].mark, take.off_mm.round().tolist()
    ([-49.0], '7', [61.0])
    """
    if isinstance(audio, np.ndarray):
        if rate_hz is None:
            raise BadUsage("api.rate")
        take = hear_samples(_samples(audio), rate_hz, a4_hz=a4_hz)
    else:
        take = listen_file(Path(fspath(audio)), a4_hz=a4_hz)
    return _given(take, None if horn is None else tuned_again(horn, take.a4_hz))


def _samples(audio: NDArray[Any]) -> Floats:
    if np.issubdtype(audio.dtype, np.signedinteger):
        return audio / -float(np.iinfo(audio.dtype).min)
    samples = np.asarray(audio, np.float64)
    finite("audio", samples)
    return samples


def _given(take: HeardTake, horn: Horn | None) -> Take:
    notes = take.notes
    beside = [] if horn is None else list(free_notes(take, horn._setup))
    places: list[Place | None] = [None] * len(notes)
    if horn is not None:
        places = [None if one.place is None else place_of(horn, one.place) for one in beside]
    nothing = [None] * len(notes)
    numbers = {
        name: known([getattr(note, name) for note in notes])
        for name in (
            "start_s", "end_s", "steady_start_s", "steady_end_s", "f0_hz", "cents", "cents_se",
            "spread_cents", "vibrato_hz", "vibrato_cents", "level_db",
        )
    }  # fmt: skip
    return Take(
        a4_hz=take.a4_hz,
        a4_estimated=take.a4_estimated,
        length_s=take.length_s,
        names=tuple(from_midi(note.midi).name for note in notes),
        midi=fixed([note.midi for note in notes], np.int64),
        places=tuple(places),
        off_mm=known([one.off_mm for one in beside] or nothing),
        off_se_mm=known([one.off_se_mm for one in beside] or nothing),
        left_out=take.left_out,
        warnings=take.warnings,
        **numbers,
    )
