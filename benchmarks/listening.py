"""What a teacher listens for, beside takes of which it is known: slurs, rhythm, attacks, dynamics.

    python benchmarks/listening.py [--half open|kept|both] [--each 8]

The takes are drawn by tests/helpers/truetakes (kinds slurs, smeared, beats, attacks, dynamics,
vibrato, echo, and for the live view plain, band, mute, low); all is heard from sound, so what
hearing loses is told as not found.
"""

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "helpers"))

from truetakes import figures
from truetakes.kinds import EACH, KINDS


def row_of(title: str, error: figures.Errors, unit: str) -> str:
    """A row of the table."""
    found = np.array(error.off or [np.nan])
    return (
        f"{title:<34} {len(error.off):>4} of {error.wanted:<4} "
        f"bias {np.median(found):8.2f}  median {np.median(np.abs(found)):7.2f}  "
        f"95 % {np.percentile(np.abs(found), 95):7.2f} {unit}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--half", choices=("open", "kept", "both"), default="open")
    parser.add_argument("--each", type=int, default=EACH, help="takes of a kind in each half")
    options = parser.parse_args()
    halves = {"open": (False,), "kept": (True,), "both": (False, True)}[options.half]
    chosen = [(number, kept) for kept in halves for number in range(options.each)]
    for real in (False, True):
        print("recorded notes" if real else "tones")
        # Where two recorded notes are faded into each other there is no exact slur.
        for kind in () if real else ("slurs", "smeared"):
            for figure, unit in (("transit", "ms"), ("dip", "dB"), ("moment", "ms")):
                print(row_of(f"  {kind}: {figure}", figures.slurs(kind, figure, chosen), unit))
        print(row_of("  beats: attack", figures.onsets(chosen, real=real), "ms"))
        for heard in (True, False):
            late = figures.lateness(chosen, real=real, heard=heard)
            print(row_of(f"  beats: late{'' if heard else ', from true onsets'}", late, "ms"))
        print(row_of("  dynamics: level", figures.levels(chosen, real=real), "dB"))
        print(row_of("  dynamics: difference", figures.differences(chosen, real=real), "dB"))
        print(row_of("  vibrato: extent", figures.vibratos(chosen, "cents", real=real), "%"))
        print(row_of("  vibrato: speed", figures.vibratos(chosen, "hz", real=real), "%"))
        right, false = figures.cracks(chosen, real=real)
        print(f"  attacks: cracked named {right[0]} of {right[1]}, others {false[0]} of {false[1]}")
        for kind in ("plain", "attacks", "band", "mute", "low"):
            shown = figures.live(kind, chosen, real=real)
            print(
                f"  live, {kind}: {shown.right / max(shown.frames, 1):.3f} of the names right, "
                f"{shown.changes / max(shown.notes, 1):.2f} changes of name a note"
            )
        for rt_s in (0.3, 0.6, 0.9):
            error = figures.echoes(f"echo-{rt_s}", chosen, real=real)
            print(row_of(f"  echo of {rt_s} s", error, "%"))
    print("followed live, tones and recorded notes")
    for kind in (*KINDS, "part"):
        one = figures.followed(kind, chosen)
        right, behind, wrong = (n / max(one.frames, 1) for n in (one.right, one.behind, one.wrong))
        print(
            f"  {kind:<12} right {right:.3f}  on a note of the same pitch {behind:.3f}  "
            f"wrong {wrong:.3f}  nothing told {1.0 - right - behind - wrong:.3f}"
        )


if __name__ == "__main__":
    main()
