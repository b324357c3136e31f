"""Simulated horns with known truth, for the tests and the benchmark of the fit.

What is presumed, and what isn't known of real horns:

- A horn follows f = n·c/(2·(L + ΣV + 2x))·2^(δ(x)/1200). L lies within ± 30 cents of the base
  horn's, each loop within ± 25 cents. δ(x) = δ₀ + s·x + bend, of its own for each partial and valve
  set; how it is drawn is a *kind*:

  - ``line``: normal, 12 cents at the closed slide and at 450 mm, correlation ½, straight between
    and beyond: what the fit presumes, but for the bend.
  - ``bent``: the same with a bend of 1.5 cents. Like ``line`` it shows whether the computing is
    right rather than whether the presumptions are.
  - ``uniform``: δ at 0 and at 450 mm uniform within ± 20 cents and independent; bend uniform
    within ± 2 cents. Every number of the prior is wrong here, though not by much.
  - ``mild`` and ``wild``: as ``bent`` with 7 and 18 cents, bend 0.5 and 2.5 cents.
  - ``shared``: a third of the slope's variance is common to all partials, as by an outer slide
    with a wider bore.
  - ``wave``: δ = A·cos(2πx/λ + φ), A up to 15 cents, λ 0.9 to 2 m: not a line at all.

- The air is 3 °C (sd) off the thermometer, a mark 0.5 mm (sd) off the ruler, the same for all its
  notes. A note is some cents (sd) off, independent of all others; every row says 2, since people
  leave that field alone. What else goes wrong is a :class:`Session`.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from handslide.edges.files.horns import load_horn
from handslide.ground.facts import fact
from handslide.instrument.air import Air
from handslide.instrument.fitting.advice import candidates, next_notes, place_reports
from handslide.instrument.fitting.fit import fit_horn, fit_so_far
from handslide.instrument.fitting.lesson import ask, fine_enough, lesson_marks
from handslide.instrument.fitting.rows import FitRow

MIXED = ("line", "bent", "uniform", "mild", "wild", "shared")
KINDS = (*MIXED, "wave")
TEMP_C = 22.0
NOISE_CENTS = 2.0
SLIP = fact("rows.row", row=1)
_FAR = 0.45


@dataclass(frozen=True)
class Session:
    """How a list is played: what people do, and what they don't know that they do.

    The list is played ``passes`` times over. A note scatters by ``noise_cents`` (sd). All marks lie
    ``offset_mm`` further out than said, the horn sharpens evenly by ``drift_cents`` from first note
    to last (its truth is that of a moment drawn at random), and one note at a mark, drawn at
    random, is written down ``slip_mm`` too far out or in.
    """

    passes: int = 1
    noise_cents: float = NOISE_CENTS
    offset_mm: float = 0.0
    drift_cents: float = 0.0
    slip_mm: float = 0.0


HONEST = Session()


@dataclass(frozen=True)
class SimHorn:
    base: str
    length_m: float
    loops_m: dict
    speed_m_s: float
    deviations: dict

    def cents(self, group, x):
        return self.deviations[group](x)

    def hz(self, valves, partial, x):
        tube = self.length_m + sum(self.loops_m[name] for name in valves) + 2.0 * x
        dev = self.deviations[valves, partial](x)
        return partial * self.speed_m_s / (2.0 * tube) * 2.0 ** (dev / 1200.0)

    def extension_m(self, valves, partial, hz):
        x = 0.3
        for _ in range(60):
            off = 1200.0 * math.log2(self.hz(valves, partial, x) / hz)
            x += off / 1731.0 * (self.length_m + 2.0 * x) / 2.0
            if abs(off) < 1e-9:
                break
        return x


def draw(rng, base="tenor-f", kind="bent"):
    """A horn at random, like ``base``."""
    true_air = Air(temp_c=float(np.clip(TEMP_C + rng.normal(0.0, 3.0), 8.0, 30.0)))
    speed = true_air.speed_m_s
    stated = load_horn(base).tuned(440.0, Air(temp_c=TEMP_C))
    # The player tunes by ear: the closed pitch is near the base horn's, whatever the air.
    length = stated.length_m * speed / stated.speed_m_s * 2.0 ** (rng.uniform(-30, 30) / 1200.0)
    loops = {
        v.name: v.loop_m * length / stated.length_m * 2.0 ** (rng.uniform(-25, 25) / 1200.0)
        for v in stated.valves
    }
    common = rng.normal(0.0, 26.7 * math.sqrt(1.0 / 3.0)) if kind == "shared" else 0.0
    deviations = {
        (valves, partial): _deviation(rng, kind, partial, common)
        for valves in stated.valve_sets
        for partial in range(1, 17)
    }
    return SimHorn(base, length, loops, speed, deviations)


def _deviation(rng, kind, partial, common):
    if kind == "wave":
        size, wave = rng.uniform(0.0, 15.0), rng.uniform(0.9, 2.0)
        phase = rng.uniform(0.0, 2.0 * math.pi)
        return lambda x: size * math.cos(2.0 * math.pi * x / wave + phase)
    if kind == "uniform":
        closed, far = rng.uniform(-20.0, 20.0, 2)
        bend = rng.uniform(-2.0, 2.0)
    else:
        sd, bend_sd = {"mild": (7.0, 0.5), "wild": (18.0, 2.5)}.get(
            kind, (12.0, 0.0 if kind == "line" else 1.5)
        )
        sd = 30.0 if partial == 1 else sd
        closed = rng.normal(0.0, sd)
        own = sd * (math.sqrt(2.0 / 3.0) if kind == "shared" else 1.0)
        # far has the sd of closed and correlation ½ with it; the change is half shared, half own.
        far = closed - closed / 2.0 + rng.normal(0.0, own * math.sqrt(0.75)) + common * _FAR
        bend = rng.normal(0.0, bend_sd)
    slope = (far - closed) / _FAR
    return lambda x: closed + slope * x + bend * 4.0 * (x / _FAR) * (1.0 - x / _FAR)


def ruler_error_m(rng):
    return rng.normal(0.0, 0.0005)


def play(rng, horn, valves, partial, extension_m=0.0, error_m=0.0, noise=NOISE_CENTS):
    """A row: the note as heard with the slide at what the ruler calls ``extension_m``."""
    hz = horn.hz(valves, partial, extension_m + (error_m if extension_m else 0.0))
    heard = hz * 2.0 ** (rng.normal(0.0, noise) / 1200.0)
    return FitRow(heard, extension_m, valves, partial)


def groups(base):
    """The partials of a usual list: 2 to 8 open, 2 to 6 with each single valve that works alone."""
    stated = load_horn(base).tuned()
    found = [((), n) for n in (2, 3, 4, 5, 6, 7, 8)]
    for valves in stated.valve_sets[1:]:
        found += [(valves, n) for n in (2, 3, 4)]
    return found


def play_list(rng, horn, marks=(0.0,), session=HONEST):
    """Every partial of the usual list at each mark. A slip is the row whose label is SLIP."""
    errors = {mark: ruler_error_m(rng) + session.offset_mm / 1000.0 for mark in marks}
    played = [(mark, group) for mark in marks for group in groups(horn.base)] * session.passes
    rows, truth_when = [], rng.uniform()
    for when, (mark, group) in zip(np.linspace(0.0, 1.0, len(played)), played):
        row = play(rng, horn, *group, mark, errors[mark], session.noise_cents)
        warmer = 2.0 ** (session.drift_cents * (when - truth_when) / 1200.0)
        rows.append(replace(row, frequency_hz=row.frequency_hz * warmer))
    if session.slip_mm:
        k = rng.choice([k for k, row in enumerate(rows) if row.extension_m])
        wrong_m = rows[k].extension_m + rng.choice((-1.0, 1.0)) * session.slip_mm / 1000.0
        rows[k] = replace(rows[k], extension_m=round(wrong_m, 4), label=SLIP)
    return rows


@dataclass(frozen=True)
class Outcome:
    """Errors in mm of all usual places of one fitted horn, and its stated half-widths.

    ``left_out`` counts good rows that were left out.
    """

    error_mm: np.ndarray
    half_width_mm: np.ndarray
    extension_m: np.ndarray
    left_out: int
    slip_named: bool
    noticed: dict

    @property
    def inside(self):
        return np.abs(self.error_mm) <= self.half_width_mm


def fit(horn, rows, thermometer=True):
    return fit_horn(load_horn(horn.base), rows, temp_c=TEMP_C, thermometer=thermometer)


def outcome(horn, fitted):
    """How far the places of a fitted horn lie from the truth."""
    return _outcome(horn, fitted, place_reports(fitted))


def _outcome(horn, fitted, reports):
    errors = []
    for report in reports:
        place = report.place
        true_m = horn.extension_m(place.valves, place.partial, report.pitch.hz())
        errors.append(1000.0 * (place.extension_m - true_m))
    return Outcome(
        np.array(errors),
        np.array([report.half_width_mm for report in reports]),
        np.array([report.place.extension_m for report in reports]),
        sum(left.row.label != SLIP for left in fitted.left_out),
        any(left.row.label == SLIP for left in fitted.left_out),
        {one.kind: one for one in fitted.noticed},
    )


def study(kinds, marks, count, base="tenor-f", session=HONEST, seed=1, thermometer=True):
    """Outcomes of ``count`` horns at random, of each of ``kinds`` in turn."""
    rng = np.random.default_rng(seed)
    found = []
    for number in range(count):
        horn = draw(rng, base, kinds[number % len(kinds)])
        rows = play_list(rng, horn, marks, session)
        found.append(outcome(horn, fit(horn, rows, thermometer)))
    return found


def pooled(outcomes):
    """(share inside the interval, rms error, mean half-width, share within 4 mm), all places."""
    error = np.concatenate([one.error_mm for one in outcomes])
    return (
        float(np.concatenate([one.inside for one in outcomes]).mean()),
        float(np.sqrt((error**2).mean())),
        float(np.concatenate([one.half_width_mm for one in outcomes]).mean()),
        float((np.abs(error) < 4.0).mean()),
    )


def follow(rng, horn, rows, steps, advised):
    """Rms error in mm after 0, 1 ... ``steps`` more notes: those advised, or any at random."""
    marks, rows, errors = {}, list(rows), []
    for step in range(steps + 1):
        fitted = fit(horn, rows)
        errors.append(float(np.sqrt((outcome(horn, fitted).error_mm ** 2).mean())))
        if step == steps:
            return errors
        if advised:
            note = next_notes(fitted, 1)[0]
            spot = (note.valves, note.partial, note.extension_m)
        else:
            found = candidates(fitted, fitted.horn())
            pick = found[rng.integers(len(found))]
            spot = (pick.valves, pick.partial, pick.extension_m)
        error = marks.setdefault(spot[2], ruler_error_m(rng))
        rows.append(play(rng, horn, *spot, error_m=error))
    return errors


def lesson(rng, horn, notes, noise=NOISE_CENTS):
    """Outcomes after 0, 1 ... ``notes`` notes, each the one that the lesson asked for.

    Pairs (outcome, whether the lesson calls that fine enough).
    """
    base = load_horn(horn.base)
    marks = lesson_marks(base.tuned())
    errors = {mark: ruler_error_m(rng) for mark in marks}
    rows, found = [], []
    for _ in range(notes + 1):
        fitted = fit_so_far(base, rows, temp_c=TEMP_C)
        places = place_reports(fitted)
        found.append((_outcome(horn, fitted, places), fine_enough(fitted, places)))
        note = ask(fitted, marks, places=places).note
        error = errors.get(note.extension_m, 0.0)
        rows.append(play(rng, horn, note.valves, note.partial, note.extension_m, error, noise))
    return found
