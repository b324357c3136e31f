"""How honest a fit's intervals are, and what its advice is worth, on simulated horns.

    .venv/bin/python benchmarks/fitting.py [COUNT: 120]

The truth is drawn as `tests/helpers/simhorns.py` says; read there what that presumes. Prints the
share of usual places whose truth lies inside the stated 95 % interval, the rms error, the mean
half-width and the good rows left out for each horn,

- by how much the player scatters, with and without repeats, with marks that are all off, with a
  horn that warms, and with a mistyped mark: how often that is named (COUNT horns);
- by kind of horn and by marks, also within 4 mm;

and the error after notes played on advice against notes played at random; then lessons, in which
every note is the one asked for: coverage on the way, notes until it is fine enough.
"""

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "helpers"))

import simhorns

SCATTERS = (2.0, 5.0, 8.0, 10.0)
MARKS = (0.0, 0.45)
TROUBLES = {
    "nothing else": {},
    "marks 5 mm further out": {"offset_mm": 5.0},
    "marks 12 mm further in": {"offset_mm": -12.0},
    "marks 20 mm further out": {"offset_mm": 20.0},
    "warms by 6 cents": {"drift_cents": 6.0},
    "cools by 6, marks 12 mm out": {"drift_cents": -6.0, "offset_mm": 12.0},
    "one mark mistyped by 20 mm": {"slip_mm": 20.0},
    "one mark mistyped by 40 mm": {"slip_mm": 40.0},
}


def row(words, outcomes):
    """One line of a table."""
    inside, rms, width, near = simhorns.pooled(outcomes)
    error = np.concatenate([one.error_mm for one in outcomes])
    at = np.concatenate([one.extension_m for one in outcomes])
    middle = float((np.abs(error[at <= 0.46]) < 4.0).mean())
    whole = float(np.mean([np.all(np.abs(one.error_mm) < 4.0) for one in outcomes]))
    lost = sum(one.left_out for one in outcomes) / len(outcomes)
    print(
        f"{words:44s} inside {100 * inside:5.1f} %  rms {rms:5.1f}  ± {width:5.1f} mm  "
        f"< 4 mm {100 * near:5.1f} % (to 46 cm {100 * middle:5.1f} %, "
        f"whole horn {100 * whole:3.0f} %)  left out {lost:.2f}"
    )


def people(count):
    """Coverage by scatter, repeats and what people do wrong."""
    print(
        "inside (rms error / mean half-width in mm; good rows left out a horn), by scatter in cents"
    )
    for passes in (1, 2):
        for words, trouble in TROUBLES.items():
            cells = []
            for scatter in SCATTERS:
                session = simhorns.Session(passes, scatter, **trouble)
                some = simhorns.study(simhorns.MIXED, MARKS, count, session=session)
                inside, rms, width, _ = simhorns.pooled(some)
                lost = sum(one.left_out for one in some) / count
                cell = f"{scatter:g}: {100 * inside:4.1f} % ({rms:.1f}/{width:.1f}; {lost:.2f})"
                if session.slip_mm:
                    cell += f" named {100 * np.mean([one.slip_named for one in some]):.0f} %"
                cells.append(cell)
            print(f"{'twice' if passes > 1 else 'once':5s} {words:28s}", "  ".join(cells))


def coverage(count):
    """Coverage and errors by kind of truth, marks and repeats."""
    mixed = simhorns.MIXED
    few = count // len(mixed)
    for marks, passes, words in (
        ((0.0,), 1, "closed"),
        ((0.0, 0.45), 1, "closed + 45 cm"),
        ((0.0, 0.45), 2, "closed + 45 cm, each twice"),
        ((0.0, 0.30, 0.60), 1, "closed + 30 + 60 cm"),
    ):
        every, session = [], simhorns.Session(passes)
        for number, kind in enumerate(mixed):
            some = simhorns.study((kind,), marks, few, session=session, seed=number)
            row(f"{words}: {kind}", some)
            every += some
        row(f"{words}: the six together, {len(every)} horns", every)
        row(f"{words}: wave", simhorns.study(("wave",), marks, few, session=session))
    for base in ("tenor", "bass-independent", "alto", "tenor-c-bb"):
        row(f"closed: line, {base}", simhorns.study(("line",), (0.0,), few, base))
        mark = 0.35 if base == "alto" else 0.45
        row(f"closed + mark: line, {base}", simhorns.study(("line",), (0.0, mark), few, base))
    blind = simhorns.study(("line",), (0.0, 0.45), few, thermometer=False)
    row("closed + 45 cm, no thermometer: line", blind)


def advice(count, steps=6):
    """Error after notes on advice and at random, from the same closed-slide notes."""
    print(f"\nrms error in mm after 0 to {steps} more notes, {count} horns")
    for kind in ("line", "bent", "uniform"):
        errors = {True: [], False: []}
        for number in range(count):
            for advised in (True, False):
                rng = np.random.default_rng([7, number])
                horn = simhorns.draw(rng, "tenor-f", kind)
                rows = simhorns.play_list(rng, horn)
                errors[advised].append(simhorns.follow(rng, horn, rows, steps, advised))
        for advised in (True, False):
            means = np.sqrt((np.array(errors[advised]) ** 2).mean(axis=0))
            name = "advised" if advised else "random"
            print(f"  {kind:8s} {name:8s}", " ".join(f"{value:5.1f}" for value in means))


def lessons(count, notes=32):
    """Notes until a lesson is fine enough, and coverage on the way, by scatter."""
    print(f"\nlessons note by note, {count} horns: inside after 1, 2, 4, 8, 16, {notes} notes")
    for base in ("tenor-f", "tenor", "bass-independent"):
        for scatter in SCATTERS[:3]:
            runs = []
            for number in range(count):
                rng = np.random.default_rng([number, 12])
                kind = simhorns.MIXED[number % len(simhorns.MIXED)]
                horn = simhorns.draw(rng, base, kind)
                runs.append(simhorns.lesson(rng, horn, notes, scatter))
            done = [next((k for k, one in enumerate(run) if one[1]), notes) for run in runs]
            ends = simhorns.pooled([run[k][0] for run, k in zip(runs, done)])
            inside = [
                100 * simhorns.pooled([run[k][0] for run in runs])[0]
                for k in (1, 2, 4, 8, 16, notes)
            ]
            shares = " ".join(f"{share:5.1f}" for share in inside)
            print(
                f"  {base:17s} {scatter:g} cents: {shares} %  fine after {np.median(done):.0f} "
                f"notes: inside {100 * ends[0]:.1f} %, rms {ends[1]:.1f} mm",
                flush=True,
            )


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 120
    began = time.perf_counter()
    people(number)
    coverage(number)
    advice(max(10, number // 5))
    lessons(max(12, number // 2))
    print(f"{time.perf_counter() - began:.0f} s")
