"""Rhythm against the beat of the part: early or late, rushing or dragging.

The beat is that of a metronome's clicks, where any were heard (`handslide.sound.clicks`). Else it
is the player's own: a tempo that may change slowly, found from the notes that stand on beats by
curves of take time against part time, robustly, so that a note that comes late doesn't draw its
beat along (W. S. Cleveland, J. Am. Stat. Assoc. 74, 1979, from memory: locally weighted regression
with bisquare weights). The stiffest curve is taken, from one line for all to local parabolas, that
foretells each beat from the others (cross-validation). How far a note is from it is its asynchrony,
and its mean and standard deviation are what is told of a kind of notes (B. H. Repp, Psychon. Bull.
Rev. 12, 969, 2005, seen: the usual measures of keeping time).

What a listener notices of one displaced note is 6 ms, or 2.5 % of the time between notes above
240 ms (A. Friberg and J. Sundberg, J. Acoust. Soc. Am. 98, 2524, 1995, seen).

Conventions: part times in the part's seconds, take times in the take's; asynchronies in ms, late
is positive; tempo in per cent of the take's own.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from handslide.sound.clicks import Clicks, late_alone, late_beside

Floats = NDArray[np.float64]

LEAST_NOTES = 6
_NEARLY, _CHUNK = 1.15, 256
_LEAST_NEAR = 5
_ROUNDS, _MEDIAN_ROUNDS = 14, 10
_LEAST_SCALE_S = 0.004
_FAR = 4.685  # of robust scales: bisquare


class _Model(NamedTuple):
    """How a tempo may change: the degree of its curve; how far each way it is one, in the part's
    seconds (None: everywhere); and how many beats it takes to find it."""

    degree: int
    reach_s: float | None
    least: int


_MODELS = (_Model(1, None, 5), _Model(2, None, 12), _Model(2, 12.0, 24), _Model(2, 5.0, 32))


@dataclass(frozen=True, slots=True)
class Struck:
    """A note of the part that was played: its ``onset_s`` in the part, ``at_s`` in the take;
    ``beat`` is its beat in the measure as text, empty off the beat; ``kind`` its length in quarter
    notes; ``measure`` is the number of its measure in the line as played, ``anew`` after a stop.
    """

    onset_s: float
    at_s: float
    beat: str
    kind: float
    measure: int
    anew: bool = False


@dataclass(frozen=True, slots=True)
class Timing:
    """Asynchronies of some notes: ``mean_ms`` with ``se_ms``, their spread ``sd_ms``, how many."""

    name: str
    mean_ms: float
    sd_ms: float
    se_ms: float
    notes: int


@dataclass(frozen=True, slots=True)
class MeasureTempo:
    """A measure's tempo beside the take's, in per cent: 104 is 4 % quicker. ``number`` as given."""

    number: int
    percent: float


@dataclass(frozen=True, slots=True)
class Rhythm:
    """The rhythm of a take.

    ``late_ms`` has an asynchrony for each note given, None where there is no beat to measure it by.
    ``spread_ms`` is their standard deviation, ``spread_se_ms`` its standard error.
    ``mean_ms`` is their mean where the beat is that of ``clicks``, 0 where it is the player's own.
    ``trend_percent`` is how much quicker the end is than the beginning (negative: slower), with
    ``trend_se``.
    """

    late_ms: tuple[float | None, ...]
    spread_ms: float
    spread_se_ms: float
    beats: tuple[Timing, ...]
    kinds: tuple[Timing, ...]
    measures: tuple[MeasureTempo, ...]
    trend_percent: float
    trend_se: float
    clicks: bool = False
    mean_ms: float = 0.0


def noticed_ms(between_s: float) -> float:
    """What is noticed of a displacement among notes ``between_s`` apart: Friberg and Sundberg."""
    return 6.0 if between_s < 0.240 else 25.0 * between_s


def rhythm_of(
    notes: Sequence[Struck], clicks: Clicks | None = None, beat_s: float = 0.0
) -> Rhythm | None:
    """The rhythm of notes in playing order; None for fewer than six, or none on a beat.

    It is against ``clicks`` where most notes keep to them; ``beat_s`` is a beat of the part.
    """
    late: list[float | None] = [None] * len(notes)
    tempo: list[float | None] = [None] * len(notes)
    for first, stop in _stretches(notes):
        found = _asynchronies(notes[first:stop])
        if found is not None:
            late[first:stop], tempo[first:stop] = found
    against = [] if clicks is None else _against(notes, clicks, beat_s)
    clicked = 2 * sum(value is not None for value in against) > len(notes)
    late = against if clicked else late
    known = [n for n, value in enumerate(late) if value is not None]
    if len(known) < LEAST_NOTES:
        return None
    values = np.array([late[n] for n in known], float)
    spread = _sd(values)
    trend, trend_se = _trend(
        [notes[n] for n in known], [tempo[n] or 1.0 for n in known], spread / 1000.0
    )
    return Rhythm(
        late_ms=tuple(late),
        spread_ms=spread,
        spread_se_ms=spread / np.sqrt(2.0 * (len(values) - 1)),
        beats=_timings({n: notes[n].beat or "off" for n in known}, late),
        kinds=_timings({n: f"{notes[n].kind:g}" for n in known}, late),
        measures=_measures(notes, known, tempo),
        trend_percent=trend,
        trend_se=trend_se,
        clicks=clicked,
        mean_ms=float(values.mean()) if clicked else 0.0,
    )


def rhythm_alone(take_s: Sequence[float], clicks: Clicks) -> Rhythm | None:
    """The rhythm of notes without a part: against a metronome's clicks, if they keep to them.

    The names of ``beats`` are ``click`` and ``off``.
    """
    found = late_alone(np.array(take_s, float), clicks) if len(take_s) >= LEAST_NOTES else None
    if found is None:
        return None
    late = [None if np.isnan(one) else 1000.0 * one for one in found[0].tolist()]
    names = {
        n: "click" if on else "off" for n, on in enumerate(found[1].tolist()) if late[n] is not None
    }
    values = np.array([late[n] for n in names], float)
    spread = _sd(values)
    return Rhythm(
        late_ms=tuple(late),
        spread_ms=spread,
        spread_se_ms=spread / np.sqrt(2.0 * (len(values) - 1)),
        beats=_timings(names, late),
        kinds=(),
        measures=(),
        trend_percent=0.0,
        trend_se=np.inf,
        clicks=True,
        mean_ms=float(values.mean()),
    )


def _against(notes: Sequence[Struck], clicks: Clicks, beat_s: float) -> list[float | None]:
    """How late each note is against clicks in ms, None where a stretch doesn't keep to them."""
    found: list[float | None] = [None] * len(notes)
    for first, stop in _stretches(notes):
        here = notes[first:stop]
        late_s = late_beside(
            np.array([note.onset_s for note in here]),
            np.array([note.at_s for note in here]),
            np.array([bool(note.beat) for note in here]),
            beat_s,
            clicks,
        )
        if late_s is not None:
            found[first:stop] = (1000.0 * late_s).tolist()
    return found


def _sd(values: Floats) -> float:
    return float(np.std(values, ddof=1)) if len(values) > 1 else 0.0


def _stretches(notes: Sequence[Struck]) -> list[tuple[int, int]]:
    """Runs without a stop."""
    cuts = [0]
    for number in range(1, len(notes)):
        before, here = notes[number - 1], notes[number]
        back = here.onset_s <= before.onset_s
        if here.anew or back or here.at_s <= before.at_s:
            cuts.append(number)
    return list(zip(cuts, [*cuts[1:], len(notes)]))


def _asynchronies(notes: Sequence[Struck]) -> tuple[list[float | None], list[float | None]] | None:
    """(ms late, seconds of the take for one of the part) at each note of a stretch."""
    part = np.array([note.onset_s for note in notes])
    take = np.array([note.at_s for note in notes])
    on_beat = np.array([bool(note.beat) for note in notes])
    if on_beat.sum() < _LEAST_NEAR:
        return None
    x, y = part[on_beat], take[on_beat]
    tried = []
    for model in _MODELS:
        if len(x) < model.least:
            break
        weight = _settled(x, y, model)
        alone, _ = _curve_at(x, x, y, weight, model, without_own=True)
        tried.append((float(np.median(np.abs(y - alone))), model, weight))
    # The stiffest tempo that foretells a beat from the others nearly as well as any.
    best = min(error for error, _, _ in tried)
    _, model, weight = next(one for one in tried if one[0] <= _NEARLY * best + 1e-4)
    beat_s, slope = _curve_at(part, x, y, weight, model)
    late = 1000.0 * (take - beat_s)
    return late.tolist(), slope.tolist()


def _settled(x: Floats, y: Floats, model: _Model) -> Floats:
    """Weights of the beats, without those that are far off the others' tempo."""
    weight = np.ones(len(x))
    for turn in range(_ROUNDS):
        beat_s, _ = _curve_at(x, x, y, weight, model)
        left = np.abs(y - beat_s)
        scale = max(1.4826 * float(np.median(left)), _LEAST_SCALE_S)
        if turn < _MEDIAN_ROUNDS:  # towards the least absolute errors first
            weight = 1.0 / np.maximum(left, _LEAST_SCALE_S)
            weight /= weight.max()
        else:
            weight = np.clip(1.0 - (left / (_FAR * scale)) ** 2, 0.0, 1.0) ** 2
    return weight


def _curve_at(
    at: Floats, x: Floats, y: Floats, weight: Floats, model: _Model, *, without_own: bool = False
) -> tuple[Floats, Floats]:
    """Curves of ``model`` through (x, y), ``x`` rising: values and slopes at ``at``, rising, too.

    Tricube weights within the reach. ``without_own``: a point doesn't count for itself; ``at`` is
    then ``x``.
    """
    if model.reach_s is None:
        return _one_curve(at, x, y, weight, model.degree, without_own=without_own)
    found = [np.zeros((0, model.degree + 1))]
    for first in range(0, len(at), _CHUNK):
        here = at[first : first + _CHUNK]
        reach = np.maximum(_furthest(here, x), model.reach_s)
        low, high = np.searchsorted(x, here - reach), np.searchsorted(x, here + reach, "right")
        index = low[:, None] + np.arange(int((high - low).max()))
        index[index >= high[:, None]] = len(x)  # none
        off = np.append(x, np.inf)[index] - here[:, None]
        share = np.minimum(np.abs(off) / reach[:, None], 1.0)
        off[index == len(x)] = 0.0
        near = (1.0 - share**3) ** 3 * np.append(weight + 1e-6, 0.0)[index]
        if without_own:
            near[share == 0.0] = 0.0
        values = np.append(y, 0.0)[index]
        powers = [near]
        for _ in range(2 * model.degree):
            powers.append(powers[-1] * off)
        moments = [power.sum(axis=1) for power in powers]
        order = range(model.degree + 1)
        normal = np.stack(
            [np.stack([moments[j + k] for k in order], axis=1) for j in order], axis=1
        )
        normal += 1e-9 * np.eye(model.degree + 1)
        sums = np.stack([np.einsum("ij,ij->i", powers[k], values) for k in order], axis=1)
        found.append(np.linalg.solve(normal, sums[..., None])[..., 0])
    curve = np.concatenate(found)
    return curve[:, 0], curve[:, 1]


def _furthest(at: Floats, x: Floats) -> Floats:
    """From each of ``at`` (n,) to the beat that makes enough of those nearest, shape (n,)."""
    count = min(_LEAST_NEAR + 1, len(x))
    around = np.searchsorted(x, at)[:, None] + np.arange(-count, count + 1)
    beats = np.where((around >= 0) & (around < len(x)), x[np.clip(around, 0, len(x) - 1)], np.inf)
    furthest: Floats = np.sort(np.abs(beats - at[:, None]), axis=1)[:, count - 1] * 1.01
    return furthest


def _one_curve(
    at: Floats, x: Floats, y: Floats, weight: Floats, degree: int, *, without_own: bool
) -> tuple[Floats, Floats]:
    """One curve for all. Without a point, it is off it by its residual / (1 - leverage)."""
    middle, span = float(x.mean()), max(float(np.ptp(x)), 1e-6)
    design = np.vander((x - middle) / span, degree + 1)
    heavy = weight + 1e-6
    inverse = np.linalg.pinv((design * heavy[:, None]).T @ design)
    fitted = inverse @ (design * heavy[:, None]).T @ y
    place = (at - middle) / span
    value, slope = np.polyval(fitted, place), np.polyval(np.polyder(fitted), place) / span
    if without_own:
        leverage = np.einsum("ij,jk,ik->i", design, inverse, design) * heavy
        value = y - (y - value) / np.maximum(1.0 - leverage, 1e-3)
    return np.asarray(value), np.asarray(slope)


def _timings(names: dict[int, str], late: Sequence[float | None]) -> tuple[Timing, ...]:
    """Mean and spread of each kind of notes, in the order of their names."""
    groups: dict[str, list[float]] = {}
    for number, name in names.items():
        groups.setdefault(name, []).append(late[number] or 0.0)
    found = []
    for name in sorted(groups):
        values = np.array(groups[name])
        sd = _sd(values)
        found.append(Timing(name, float(values.mean()), sd, sd / np.sqrt(len(values)), len(values)))
    return tuple(found)


def _measures(
    notes: Sequence[Struck], known: Sequence[int], tempo: Sequence[float | None]
) -> tuple[MeasureTempo, ...]:
    """The tempo of each measure: the local slopes in it, beside the median of all."""
    by_measure: dict[int, list[float]] = {}
    for number in known:
        by_measure.setdefault(notes[number].measure, []).append(tempo[number] or 1.0)
    whole = float(np.median([tempo[number] or 1.0 for number in known]))
    return tuple(
        MeasureTempo(number, 100.0 * whole / float(np.mean(slopes)))
        for number, slopes in by_measure.items()
    )


def _trend(notes: Sequence[Struck], tempo: Sequence[float], spread_s: float) -> tuple[float, float]:
    """How much quicker the end is than the beginning in per cent, and the standard error."""
    x = np.array([note.onset_s for note in notes])
    span = float(np.ptp(x))
    if span <= 0.0 or len(notes) < LEAST_NOTES:
        return 0.0, np.inf
    y = -100.0 * np.log(np.maximum(np.array(tempo), 1e-3))
    off = (x - x.mean()) / span
    rise = float(off @ (y - y.mean()) / (off @ off))
    # Of a parabola through n points of this spread: 2·√180·σ / (√n·span).
    return rise, 100.0 * 26.8 * spread_s / (len(notes) ** 0.5 * span)
