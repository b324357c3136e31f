"""How often the root that is found in the parts is the one that people told, and how sure it was.

The weights of `handslide.sound.playing.harmony` were found on every second chorale and every fourth
madrigal (``--half open``, in the order of the list of those that can be compared); the others are
for the last look (``--half kept``).
"""

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "helpers"))
from known_roots import chorales, compared, madrigals

from handslide.sound.playing.harmony import SURE


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--half", choices=("open", "kept", "all"), default="open")
    wanted = parser.parse_args().half
    for name, pieces, every in (("chorales", chorales(), 2), ("madrigals", madrigals(), 4)):
        rows = [row for row in (compared(*piece) for piece in pieces) if row is not None]
        print(f"{name}: {len(rows)} of {len(pieces)} go along with their analyses")
        open_rows = rows[::every]
        kept = [row for at, row in enumerate(rows) if at % every]
        chosen = {"open": open_rows, "kept": kept, "all": rows}[wanted]
        right, sure = np.array([beat for row in chosen for beat in row]).T
        print(f"  {len(right)} beats, root right in {right.mean():.1%}")
        for low in (0.6, SURE, 0.8, 0.9):
            taken = sure >= low
            print(
                f"  sure ≥ {low:.1f}: {taken.mean():.1%} of beats, right {right[taken].mean():.1%}"
            )


if __name__ == "__main__":
    main()
