"""Hearing on takes of known truth, kind by kind, beside other trackers in one run on one core.

    python benchmarks/hearing_takes.py                      all kinds, the open half, ours alone
    python benchmarks/hearing_takes.py --kinds echo-0.6     one kind or several
    python benchmarks/hearing_takes.py --half kept          the half that nobody tunes on
    python benchmarks/hearing_takes.py --beside all         with every tracker that is installed
    python benchmarks/hearing_takes.py --notes --kinds low  each take, note by note

The takes are drawn by tests/helpers/truetakes; the recordings in them are the shared ones where
they are, else those of tests/takes. F counts onsets within 50 or 100 ms and pitches within 50
cents; octave errors are per 1,000 true notes; cents are of notes whose pitch is known exactly
(bias, half the width of the middle 68 %, 95 %); false notes are per take. A take that a tracker
fails on is named and counted as nothing heard. "(played)" is what somebody played, with notes on
which the other trackers agree, so only ours is scored on it.
"""

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import argparse  # noqa: E402
import hashlib  # noqa: E402
import json  # noqa: E402
import pickle  # noqa: E402
import sys  # noqa: E402
import time  # noqa: E402
import warnings  # noqa: E402
from collections.abc import Iterator  # noqa: E402
from pathlib import Path  # noqa: E402

import numpy as np  # noqa: E402

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "helpers"))

from truetakes import rooms  # noqa: E402
from truetakes.kinds import EACH, KINDS, make_take  # noqa: E402
from truetakes.peers import PEERS, installed  # noqa: E402
from truetakes.played import played_phrases  # noqa: E402
from truetakes.score import Found, Tally, pairs  # noqa: E402
from truetakes.truth import TrueTake  # noqa: E402
from truetakes.voices import HERE, RECORDED, SHARED  # noqa: E402

MAKERS = ("truth", "voices", "rooms", "phrases", "kinds")
GOALS = {"f100": 0.93, "echo-0.6": 0.85, "kind": 0.80, "octaves": 2.0, "speed": 80.0}
HEAD = (
    f"{'kind':<12} {'takes':>5} {'notes':>5}  {'P50':>5} {'R50':>5} {'F50':>5}  "
    f"{'P100':>5} {'R100':>5} {'F100':>5}  {'oct/1000':>8} {'bias c':>7} {'68 % c':>7} "
    f"{'95 % c':>7} {'false':>6} {'late ms':>8} {'×real':>6}"
)


def takes_of(kind: str, halves: list[bool], each: int, cache: Path | None) -> Iterator[TrueTake]:
    """The takes of a kind; those made before are read from ``cache``."""
    code = b"".join((HERE / f"{name}.py").read_bytes() for name in MAKERS)
    version = hashlib.sha256(code + str(RECORDED).encode()).hexdigest()[:12]
    for kept in halves:
        for number in range(each):
            path = cache and cache / f"{kind}-{number}-{kept}-{version}.pickle"
            if path and path.exists():
                yield pickle.loads(path.read_bytes())
                continue
            take = make_take(kind, number, kept=kept)
            if path:
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(pickle.dumps(take))
            yield take


def run_one(name: str, take: TrueTake, tally: Tally, show: bool) -> None:
    """One tracker on one take; a crash counts as nothing heard and is named."""
    hearer = PEERS[name][0]
    start = time.process_time()
    try:
        heard = hearer(take)
    except Exception as error:  # whatever a tracker dies of is a result here
        tally.failed.append(f"{take.name}: {type(error).__name__}: {error}")
        heard = []
    tally.cpu_s += time.process_time() - start
    tally.seconds += take.length_s
    tally.add(take.notes, heard)
    if show:
        show_take(name, take, heard)


def show_take(name: str, take: TrueTake, heard: list[Found]) -> None:
    """A take note by note."""
    match = pairs(take.notes, heard, 0.1)
    print(f"\n{take.name} ({take.made_of}, {take.length_s:.1f} s) by {name} {take.facts or ''}")
    rows = [(note.onset_s, row, None) for row, note in enumerate(take.notes)]
    rows += [(one.start_s, None, one) for n, one in enumerate(heard) if n not in match.values()]
    for at_s, row, one in sorted(rows, key=lambda item: item[0]):
        if row is None:
            print(f"  {at_s:7.3f} {'':>9} {'':>9}  FALSE {one.hz:8.2f} Hz to {one.end_s:.3f}")
            continue
        note = take.notes[row]
        told = "optional" if note.optional else "MISSED"
        if row in match:
            found = heard[match[row]]
            off = 1200.0 * np.log2(found.hz / note.hz)
            told = f"{1000 * (found.start_s - at_s):+5.0f} ms {off:+6.1f} c"
        print(f"  {at_s:7.3f} {note.hz:8.2f}Hz {note.offset_s - at_s:6.2f} s  {note.how:<10}{told}")


def row_of(title: str, tally: Tally) -> str:
    """A row of the table."""
    cents = np.array(tally.cents or [np.nan])
    spread = (np.percentile(cents, 84) - np.percentile(cents, 16)) / 2.0
    worst = np.percentile(np.abs(cents), 95)
    late = float(np.median(tally.late_ms)) if tally.late_ms else np.nan
    speed = tally.seconds / tally.cpu_s if tally.cpu_s else np.nan
    return (
        f"{title:<12} {tally.takes:>5} {tally.true:>5}  "
        f"{tally.precision(0):5.2f} {tally.recall(0):5.2f} {tally.f(0):5.3f}  "
        f"{tally.precision(1):5.2f} {tally.recall(1):5.2f} {tally.f(1):5.3f}  "
        f"{tally.octaves_in_1000:8.1f} {np.median(cents):7.2f} {spread:7.2f} {worst:7.1f} "
        f"{tally.false:6.2f} {late:8.0f} {speed:6.0f}"
    )


def show_played(notes: bool) -> None:
    """Phrases that somebody played; their notes are what the other trackers agree on."""
    tally = Tally()
    for take in played_phrases():
        run_one("handslide", take, tally, notes)
    print(row_of("(played)", tally))


def show_goals(tallies: dict[str, Tally], whole: Tally) -> None:
    """Which of the goals are kept."""
    speeds = {kind: tally.seconds / tally.cpu_s for kind, tally in tallies.items()}
    slowest = min(speeds, key=lambda kind: speeds[kind])
    speed = speeds[slowest]
    rows = [
        (f"F at 100 ms over all at least {GOALS['f100']}", whole.f(1), whole.f(1) >= GOALS["f100"]),
        (
            f"octave errors at most {GOALS['octaves']:.0f} in 1,000 notes",
            whole.octaves_in_1000,
            whole.octaves_in_1000 <= GOALS["octaves"],
        ),
        (
            f"at least {GOALS['speed']:.0f} × real time for every kind (slowest: {slowest})",
            speed,
            speed >= GOALS["speed"],
        ),
    ]
    if "echo-0.6" in tallies:
        echo = tallies["echo-0.6"].f(1)
        rows.append(
            (f"echo of 0.6 s at least {GOALS['echo-0.6']}", echo, echo >= GOALS["echo-0.6"])
        )
    worst = min(tallies, key=lambda kind: tallies[kind].f(1))
    least = tallies[worst].f(1)
    rows.append((f"no kind below {GOALS['kind']} (worst: {worst})", least, least >= GOALS["kind"]))
    for title, value, kept in rows:
        print(f"goal: {title}: {value:.3f}: {'kept' if kept else 'NOT KEPT'}")


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--kinds", nargs="+", choices=list(KINDS), default=list(KINDS))
    parser.add_argument("--half", choices=("open", "kept", "both"), default="open")
    parser.add_argument("--each", type=int, default=EACH, help="takes of a kind in each half")
    parser.add_argument("--beside", nargs="+", default=[], choices=["all", *list(PEERS)[1:]])
    parser.add_argument("--only", choices=list(PEERS), help="this tracker alone")
    parser.add_argument("--notes", action="store_true", help="show each take note by note")
    parser.add_argument("--cache", type=Path, help="folder to keep the made takes in")
    parser.add_argument("--json", type=Path, help="write the figures to this file too")
    options = parser.parse_args()
    warnings.filterwarnings("ignore")
    names = ["handslide", *(list(PEERS)[1:] if "all" in options.beside else options.beside)]
    names = [options.only] if options.only else names
    for name in [name for name in names if not installed(name)]:
        print(f"{name}: not installed ({', '.join(PEERS[name][1])}), left out")
    names = [name for name in names if installed(name)]
    if RECORDED != SHARED:
        print("recordings: those of tests/takes (no shared folder): figures are not comparable")
    kinds = [kind for kind in options.kinds if kind != "aac" or rooms.has_aac()]
    if len(kinds) < len(options.kinds):
        print("aac: no encoder (av is not installed), left out")
    halves = {"open": [False], "kept": [True], "both": [False, True]}[options.half]
    found: dict[str, dict[str, Tally]] = {name: {} for name in names}
    for kind in kinds:
        for take in takes_of(kind, halves, options.each, options.cache):
            for name in names:
                run_one(name, take, found[name].setdefault(kind, Tally()), options.notes)
        print(f"\r{kind:<20}", end="", file=sys.stderr)
    print("\r", end="", file=sys.stderr)
    wholes = {}
    for name, tallies in found.items():
        whole = wholes[name] = Tally()
        print(f"\n{name}, {options.half} half\n{HEAD}")
        for kind, tally in tallies.items():
            print(row_of(kind, tally))
            whole.merge(tally)
        print(row_of("all", whole))
        for failure in whole.failed:
            print(f"failed: {failure}")
        if name == "handslide":
            show_played(options.notes)
            show_goals(tallies, whole)
    if len(wholes) > 1 and "handslide" in wholes:
        base = wholes["handslide"].cpu_s
        for name, whole in wholes.items():
            print(f"{name:<12} CPU {whole.cpu_s / base:6.2f} of handslide, F100 {whole.f(1):.3f}")
    if options.json:
        rows = {
            name: {kind: figures(tally) for kind, tally in {**tallies, "all": wholes[name]}.items()}
            for name, tallies in found.items()
        }
        options.json.write_text(json.dumps(rows, indent=1), encoding="utf-8")


def figures(tally: Tally) -> dict[str, float]:
    """A tally's figures by name."""
    return {
        "f50": tally.f(0),
        "f100": tally.f(1),
        "recall100": tally.recall(1),
        "precision100": tally.precision(1),
        "octaves_in_1000": tally.octaves_in_1000,
        "false": tally.false,
        "speed": tally.seconds / max(tally.cpu_s, 1e-9),
    }


if __name__ == "__main__":
    main()
