"""Follow a part: which heard note is which note of the part.

Heard notes and the part's notes are aligned by dynamic programming over expected x heard. Each
heard note is a match, a match of several equal notes that ran together, or an extra; between heard
notes the player may leave out notes or go back (a restart). A path carries its own tempo, so that
it may change slowly, and a wrong, missing or repeated note derails nothing. The same programme run
from the end says where the alignment is sure: own method, no source; its costs are in nats, roughly
the negative logarithm of how often such a thing happens, set by hand and tested on invented takes.

Conventions: seconds, MIDI numbers (fractions are cents above a semitone) at one A4. Stretch is the
player's seconds for each second of the part: 2 is half the tempo.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from handslide.ground.errors import BadData
from handslide.ground.limits import FOLLOWED_CELLS
from handslide.sound.followpath import EXTRA, Grid, Pass, Step, most_likely, windows_along

# Within a quartertone of the part's note, a heard note is that note.
RIGHT_SEMITONES = 0.5
PLAYED = ("right", "wrong", "octave", "missing", "unsure")
"""What can become of a note of the part."""
SURE = 0.5
_MOST_OFFSET = 0.45
_AGAIN_SEMITONES = 0.6
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Expected:
    """A note of the part in playing order; ``begins``: a player may well start again here."""

    midi: int
    onset_s: float
    length_s: float
    begins: bool = False


@dataclass(frozen=True, slots=True)
class Heard:
    """A heard note: sounding from ``start_s`` to ``end_s`` at ``midi`` (a fraction)."""

    start_s: float
    end_s: float
    midi: float


@dataclass(frozen=True, slots=True)
class Match:
    """What became of a note of the part.

    ``played``: ``right``, ``wrong``, ``octave`` (right, in another octave), ``missing`` or
    ``unsure``. ``heard`` is None for a missing note, and what it would be for an unsure one (which
    may be None, too). ``joined``: heard as one note with the equal note before it. ``late_s`` is
    how much later than its time it came, ``rest_s`` how long nothing of the part had sounded before
    it; None where that can't be said. ``outside``: before the first or after the last note of the
    take, or in a repeat that wasn't played, so not in it.
    """

    expected: int
    heard: int | None
    played: str
    confidence: float
    joined: bool = False
    late_s: float | None = None
    outside: bool = False
    rest_s: float | None = None

    @property
    def waited_s(self) -> float:
        """How long it was waited for: a note before that is held on is no stop."""
        return min(self.late_s or 0.0, self.rest_s or 0.0)


@dataclass(frozen=True, slots=True)
class Extra:
    """A heard note that isn't the part's.

    ``kind``: ``again`` (the note ``expected`` once more, or on the way to it), ``attempt`` (of
    ``expected``, which was played again later from further back) or ``extra``.
    """

    heard: int
    kind: str
    expected: int | None


@dataclass(frozen=True, slots=True)
class Followed:
    """A take beside its part. ``tempo_ratio``: 2 is twice as fast as the part says.

    ``offset_cents`` is how far the whole take lies above the A4; notes are judged beside it.
    """

    matches: tuple[Match, ...]
    extras: tuple[Extra, ...]
    tempo_ratio: float
    offset_cents: float
    restarts: int


def follow(expected: Sequence[Expected], heard: Sequence[Heard]) -> Followed:
    """Align the notes heard in a take with the notes of a part, both in order of time.

    In a take without notes, all of the part's lie outside it.

    Raises
    ------
    BadData
        A part without notes, or so many that their product passes 60 million.
    """
    if not expected:
        raise BadData("sounds.empty_part")
    if not heard:
        nothing = [Match(n, None, "missing", 0.9, outside=True) for n in range(len(expected))]
        return Followed(tuple(nothing), (), 1.0, 0.0, 0)
    if len(expected) * len(heard) > FOLLOWED_CELLS:
        raise BadData("sounds.too_many", heard=len(heard), expected=len(expected))
    grid = _grid(expected, heard, 0.0)
    steps = most_likely(grid, Pass(timed=False))
    offset, stretch = _take_wide(grid, steps)
    grid = _grid(expected, heard, offset)
    windows = windows_along(steps, len(expected))
    ahead = most_likely(grid, Pass(math.log(stretch)), windows)
    offset, stretch = _take_wide(grid, ahead)
    if windows is not None:
        windows = [one.turned(len(expected), len(heard)) for one in reversed(windows)]
    back = _turned(grid, most_likely(grid.turned(), Pass(math.log(stretch), turned=True), windows))
    return _told(grid, ahead, back, stretch)


def _grid(expected: Sequence[Expected], heard: Sequence[Heard], offset: float) -> Grid:
    return Grid(
        np.array([note.midi for note in expected], float),
        np.array([note.onset_s for note in expected], float),
        np.array([note.length_s for note in expected], float),
        np.array([note.begins for note in expected], bool),
        np.array([note.start_s for note in heard], float),
        np.array([note.end_s - note.start_s for note in heard], float),
        np.array([note.midi for note in heard], float),
        offset,
    )


def _take_wide(grid: Grid, steps: Sequence[Step]) -> tuple[float, float]:
    """Offset of the whole take in semitones, and its median stretch."""
    off, ratios = [], []
    before: Step | None = None
    for step in steps:
        if step.kind == EXTRA:
            continue
        error = grid.error(step.expected, step.heard)
        # A take in another octave keeps its tempo and tuning, too.
        error -= 12.0 * round(error / 12.0)
        if abs(error) > RIGHT_SEMITONES + 0.2:
            before = None
            continue
        off.append(error + grid.offset)
        if before is not None and step.expected == before.expected + before.kind:
            part = grid.onset_s[step.expected] - grid.onset_s[before.expected]
            took = grid.start_s[step.heard] - grid.start_s[before.heard]
            if part > 0.02 and took > 0.02:
                ratios.append(took / part)
        before = step
    offset = float(np.median(off)) if len(off) >= 5 else 0.0
    if len(ratios) >= 3:
        stretch = float(np.median(ratios))
    else:
        span = grid.onset_s[-1] + grid.length_s[-1] - grid.onset_s[0]
        took = grid.start_s[-1] + grid.sounds_s[-1] - grid.start_s[0]
        stretch = took / span if span > 0 else 1.0
    return min(max(offset, -_MOST_OFFSET), _MOST_OFFSET), min(max(stretch, 0.4), 2.5)


def _turned(grid: Grid, steps: Sequence[Step]) -> dict[int, int]:
    """From an alignment of the turned grid: the heard note of each note of the part."""
    last_note, last_heard = len(grid.midi) - 1, len(grid.start_s) - 1
    found: dict[int, int] = {}
    # Steps of the turned take come from its end: later attempts are seen first, and are kept.
    for step in steps:
        if step.kind != EXTRA:
            for k in range(step.kind):
                found.setdefault(last_note - step.expected - k, last_heard - step.heard)
    return found


# What is told of an alignment.


def _told(grid: Grid, steps: Sequence[Step], back: dict[int, int], stretch: float) -> Followed:
    kept: dict[int, Step] = {}
    attempts: list[Extra] = []
    restarts = 0
    before = -1
    steps = _longer_first(grid, steps)
    for step in steps:
        if step.kind == EXTRA:
            continue
        restarts += step.expected < before
        before = step.expected + step.kind
        old = kept.get(step.expected)
        if old is not None:
            attempts.append(Extra(old.heard, "attempt", step.expected))
        for k in range(step.kind):
            kept[step.expected + k] = step
    extras = attempts + [_extra(grid, step) for step in steps if step.kind == EXTRA]
    ends = min(kept, default=0), max(kept, default=-1)
    return Followed(
        matches=tuple(_match(grid, n, kept, back, ends) for n in range(len(grid.midi))),
        extras=tuple(sorted(extras, key=lambda extra: extra.heard)),
        tempo_ratio=1.0 / stretch,
        offset_cents=100.0 * grid.offset,
        restarts=restarts,
    )


def _longer_first(grid: Grid, steps: Sequence[Step]) -> list[Step]:
    """Of a note that sounded twice in a row, the longer one is taken for it."""
    told = list(steps)
    for h, step in enumerate(told):
        if step.kind != EXTRA:
            continue
        for beside in (h - 1, h + 1):
            match = told[beside] if 0 <= beside < len(told) else step
            if (
                match.kind == 1
                and abs(grid.error(match.expected, h)) <= _AGAIN_SEMITONES
                and abs(grid.error(match.expected, match.heard)) <= _AGAIN_SEMITONES
                and grid.sounds_s[h] > grid.sounds_s[match.heard]
            ):
                told[h] = replace(match, heard=h, late_s=None)
                told[beside] = Step(EXTRA, match.expected, beside)
                break
    return told


def _extra(grid: Grid, step: Step) -> Extra:
    """``step.expected`` of an extra is the note that was due next."""
    for number in (step.expected - 1, step.expected):
        known = 0 <= number < len(grid.midi)
        if known and abs(grid.error(number, step.heard)) <= _AGAIN_SEMITONES:
            return Extra(step.heard, "again", number)
    return Extra(step.heard, "extra", None)


def _match(
    grid: Grid, number: int, kept: dict[int, Step], back: dict[int, int], ends: tuple[int, int]
) -> Match:
    step = kept.get(number)
    if step is None:
        outside = not ends[0] <= number <= ends[1]
        other = back.get(number)
        doubt = other is not None and not _taken(kept, number, other)
        if doubt and abs(grid.error(number, other or 0)) <= RIGHT_SEMITONES:
            return Match(number, None, "unsure", 0.4, outside=outside)
        return Match(number, None, "missing", 0.9 if not doubt else 0.6, outside=outside)
    played = _kind(grid.error(number, step.heard))
    sure = _confidence(grid, number, kept, back, played)
    if sure < SURE:
        played = "unsure"
    late = step.late_s if number == step.expected else None
    rest = None if late is None else _rest_s(grid, kept.get(number - 1), step.heard)
    return Match(number, step.heard, played, sure, number > step.expected, late, rest_s=rest)


def _rest_s(grid: Grid, before: Step | None, heard: int) -> float | None:
    """How long before a heard note the part's note before it had ended."""
    if before is None or before.heard >= heard:
        return None
    end_s = grid.start_s[before.heard] + grid.sounds_s[before.heard]
    return float(grid.start_s[heard] - end_s)


def _taken(kept: dict[int, Step], number: int, heard: int) -> bool:
    """Whether a neighbour has this heard note, so that only the count of equal notes is open."""
    return any(
        (step := kept.get(number + way)) is not None and step.heard == heard for way in (-1, 1)
    )


def _kind(error: float) -> str:
    if abs(error) <= RIGHT_SEMITONES:
        return "right"
    octaves = round(error / 12.0)
    return "octave" if octaves and abs(error - 12.0 * octaves) <= RIGHT_SEMITONES else "wrong"


def _confidence(
    grid: Grid, number: int, kept: dict[int, Step], back: dict[int, int], played: str
) -> float:
    """Between 0 and 1: pitch, time, the neighbours and the pass from the end speak for a match."""
    step = kept[number]
    sure = {"right": 0.98, "octave": 0.9, "wrong": 0.8}[played]
    if back.get(number) != step.heard:
        sure *= 0.75 if played == "right" else 0.55
    if step.timing > 1.5:
        sure *= 0.9 if played == "right" else 0.75
    beside = 0
    for way in (-1, 1):
        other = kept.get(number + way)
        if other is not None and abs(other.heard - step.heard) <= 1:
            beside += abs(grid.error(number + way, other.heard)) <= RIGHT_SEMITONES
    if not beside:
        sure *= 0.8
    return sure
