"""How honest a fit's intervals are, and what its advice is worth: 300 simulated horns.

    .venv/bin/python benchmarks/fitting.py [COUNT]

The truth is drawn as `tests/helpers/simhorns.py` says; read there what that presumes. Prints, for
closed-slide notes alone and with marks: the share of usual places whose truth lies inside the
stated 95 % interval, the rms error, the mean half-width, the share within 4 mm (all places, and
those up to 460 mm, and horns on which every place is); and the error after notes played on advice
against notes played at random.
"""

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "helpers"))

import simhorns

MIXED = ("line", "bent", "uniform", "mild", "wild", "shared")


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


def coverage(count):
    """Coverage and errors by kind of truth, marks and repeats."""
    for marks, repeats, words in (
        ((0.0,), 1, "closed"),
        ((0.0, 0.45), 1, "closed + 45 cm"),
        ((0.0, 0.45), 2, "closed + 45 cm, each twice"),
        ((0.0, 0.30, 0.60), 1, "closed + 30 + 60 cm"),
    ):
        every = []
        for number, kind in enumerate(MIXED):
            some = simhorns.study(kind, marks, count // len(MIXED), seed=number, repeats=repeats)
            row(f"{words}: {kind}", some)
            every += some
        row(f"{words}: the six together, {len(every)} horns", every)
        row(f"{words}: wave", simhorns.study("wave", marks, count // len(MIXED), repeats=repeats))
    for base in ("tenor", "bass-independent", "alto", "tenor-c-bb"):
        few = count // len(MIXED)
        row(f"closed: line, {base}", simhorns.study("line", (0.0,), few, base))
        mark = 0.35 if base == "alto" else 0.45
        row(f"closed + mark: line, {base}", simhorns.study("line", (0.0, mark), few, base))
    blind = simhorns.study("line", (0.0, 0.45), count // len(MIXED), thermometer=False)
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


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    began = time.perf_counter()
    coverage(number)
    advice(max(10, number // 5))
    print(f"{time.perf_counter() - began:.0f} s")
