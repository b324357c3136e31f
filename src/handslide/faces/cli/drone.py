"""The drone and playalong commands: sound to practise against."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handslide.faces.cli.shared import (
    command,
    out,
    sound_options,
)

if TYPE_CHECKING:
    from handslide.jobs.practice.drone import Drone

CHORDS = (
    "unison", "minor-third", "major-third", "fourth", "fifth", "minor-sixth", "major-sixth",
    "octave", "fifth-octave", "minor", "major",
)  # fmt: skip


@command()
@click.argument("notes", nargs=-1, required=True, metavar="NOTE...")
@click.option("--chord", type=click.Choice(CHORDS), help="Hold this above the one NOTE.")
@click.option(
    "--just/--equal",
    "just",
    default=False,
    help="Pure intervals above the root, or equal temperament. Default: equal.",
)
@click.option("--root", metavar="NOTE", help="Root of pure intervals. Default: the lowest note.")
@click.option(
    "--length",
    "length_s",
    type=float,
    metavar="SECONDS",
    help="Default: 60; for a loop 10, and it may become longer.",
)
@click.option(
    "--loop", is_flag=True, help="A loop to repeat without a seam: it begins and ends sounding."
)
@click.option(
    "-o",
    "--output",
    "path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A .wav, .flac or .ogg file. Default: drone-NOTE.wav here.",
)
@sound_options
def drone(path: Path | None, bits: str, force: bool, as_json: bool, **options: Any) -> None:
    """Hold a note, or several, or a chord, to tune against.

    The pitch is exact to 0.1 cent. Begin softly, with headphones above all: long loud listening
    harms hearing.
    """
    from handslide.jobs.practice.drone import DroneWishes, default_path, drone_json, write_drone

    wishes = DroneWishes(**options)
    path = path or default_path(wishes)
    made = write_drone(wishes, path, bits=int(bits), force=force)
    if as_json:
        out(drone_json(made) | {"files": [str(path)]}, as_json)
    else:
        out(drone_text(made, path), as_json)


def drone_text(made: "Drone", path: Path) -> str:
    """What was made, for people."""
    from handslide.jobs.practice.drone import CAUTION

    lines = []
    for tone, hz in zip(made.tones, made.hz):
        line = f"{tone.pitch.pretty:<5}{hz:10.3f} Hz"
        if tone.ratio is not None:
            line += f"  {tone.ratio!s:>6}  {tone.offset_cents:+.1f} cents from equal"
        lines.append(line)
    kind = "loop" if made.wishes.loop else "drone"
    lines.append(f"{kind} of {made.sound.length_s:.2f} s at {made.sound.lufs:.1f} LUFS")
    return "\n".join([*lines, *made.warnings, f"written: {path}", CAUTION])
