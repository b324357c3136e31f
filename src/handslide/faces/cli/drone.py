"""The drone and playalong commands: sound to practise against."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handslide.faces.cli.shared import (
    command,
    out,
    sound_options,
    speech_here,
)
from handslide.ground.temperament import CHORDS

if TYPE_CHECKING:
    from handslide.jobs.practice.drone import Drone
    from handslide.words.speech import Speech


@command()
@click.argument("notes", nargs=-1, required=True, metavar="NOTE...")
@click.option("--chord", type=click.Choice(tuple(CHORDS)), help="Hold this above the one NOTE.")
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
    from handslide.jobs.practice.drone import default_path, drone_json, write_drone
    from handslide.jobs.practice.soundwishes import DroneWishes

    say = speech_here()
    wishes = DroneWishes(**options)
    path = path or default_path(wishes)
    made = write_drone(wishes, path, bits=int(bits), force=force)
    if as_json:
        out(drone_json(made, say) | {"files": [str(path)]}, as_json)
    else:
        out(drone_text(say, made, path), as_json)


def drone_text(say: "Speech", made: "Drone", path: Path) -> str:
    """What was made, for people."""
    from handslide.words.cautions import HEARING
    from handslide.words.listing import WRITTEN
    from handslide.words.sounds import DRONE, FROM_EQUAL, LOOP

    lines = []
    for tone, hz in zip(made.tones, made.hz):
        line = f"{say.note(tone.pitch):<5}{say.number(hz, 3):>10} Hz"
        if tone.ratio is not None:
            line += f"  {tone.ratio!s:>6}  {say(FROM_EQUAL, offset_cents=tone.offset_cents)}"
        lines.append(line)
    kind = LOOP if made.wishes.loop else DRONE
    lines.append(say(kind, length_s=made.sound.length_s, level_lufs=made.sound.lufs))
    lines += map(say.fact, made.warnings)
    return "\n".join([*lines, say(WRITTEN, file=str(path)), say(HEARING)])
