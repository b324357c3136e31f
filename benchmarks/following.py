"""Following written parts that were played with faults, heard from sound.

    python benchmarks/following.py [--takes 40] [--half open|kept|both] [--notes]

The parts and takes are drawn by tests/helpers/truetakes/parts.py from recorded notes (even numbers)
and from tones (odd numbers); the recordings are the shared ones where they are. Beside hearing, the
follower is given the true notes: what it loses then is its own.
"""

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "helpers"))

from truetakes.parts import FollowTally, PlayedPart, play_part

from handslide.ground.units import A4_MIDI, cents
from handslide.jobs.hear.followed import heard_rows
from handslide.sound.follow import Followed, Heard, follow
from handslide.sound.notes import hear

GOALS = {"matched": 0.98, "missing named": 0.95, "false alarms a take": 1.0}


def true_rows(take: PlayedPart) -> list[Heard]:
    """The notes as they were played."""
    return [
        Heard(note.onset_s, note.offset_s, A4_MIDI + cents(note.hz / 440.0) / 100.0)
        for note in take.notes
    ]


def row_of(title: str, tally: FollowTally) -> str:
    """A row of the table."""
    return (
        f"{title:<22} {tally.takes:>5} takes {tally.played:>5} played  "
        f"matched {tally.matched / max(tally.played, 1):6.3f}  "
        f"missing named {tally.named:>3} of {tally.missing:<3} "
        f"wrong named {tally.wrong_named:>3} of {tally.wrong:<3} "
        f"false alarms {tally.alarms / max(tally.takes, 1):5.2f} a take  unsure {tally.unsure:>3}"
    )


def show_take(number: int, take: PlayedPart, followed: Followed, heard: list[Heard]) -> None:
    """The notes of a take of which something else is said than is true."""
    for index, (match, became) in enumerate(zip(followed.matches, take.played)):
        at_s = None if match.heard is None else heard[match.heard].start_s
        if match.played != became or match.outside:
            said = f"{match.played}{' outside' * match.outside}{' joined' * match.joined}"
            print(f"  take {number}, note {index}: {became} {take.attempts[index]}: {said} {at_s}")


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--takes", type=int, default=40)
    parser.add_argument("--half", choices=("open", "kept", "both"), default="open")
    parser.add_argument("--notes", action="store_true", help="show what is told wrong")
    options = parser.parse_args()
    tallies = {
        f"{source} {by}": FollowTally()
        for source in ("recordings", "tones")
        for by in ("heard", "true notes")
    }
    for kept in {"open": (False,), "kept": (True,), "both": (False, True)}[options.half]:
        for number in range(options.takes):
            real = number % 2 == 0
            take = play_part(number, real=real, kept=kept)
            source = "recordings" if real else "tones"
            for by, rows in (
                ("heard", heard_rows(hear(take.samples, take.rate_hz))),
                ("true notes", true_rows(take)),
            ):
                followed = follow(take.part, rows)
                tallies[f"{source} {by}"].add(take, followed, rows)
                if options.notes and by == "heard":
                    show_take(number, take, followed, rows)
    for title, tally in tallies.items():
        print(row_of(title, tally))
    real = tallies["recordings heard"]
    for title, value in (
        ("matched", real.matched / max(real.played, 1)),
        ("missing named", real.named / max(real.missing, 1)),
        ("false alarms a take", real.alarms / max(real.takes, 1)),
    ):
        kept = value < GOALS[title] if "alarms" in title else value >= GOALS[title]
        print(f"goal: {title} {GOALS[title]}: {value:.3f}: {'kept' if kept else 'NOT KEPT'}")


if __name__ == "__main__":
    main()
