"""The drone and playalong commands: sound to practise against."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handslide.faces.cli.shared import (
    json_option,
    out,
    part_option,
    voice_option,
)

if TYPE_CHECKING:
    from handslide.jobs.practice.drone import Drone
    from handslide.jobs.practice.playalong import PlayAlong

CHORDS = (
    "unison", "minor-third", "major-third", "fourth", "fifth", "minor-sixth", "major-sixth",
    "octave", "fifth-octave", "minor", "major",
)  # fmt: skip


def sound_options(command: Any) -> Any:
    """Options of all commands that make a sound file."""
    for option in (
        json_option,
        click.option("--force", is_flag=True, help="Replace a file that exists."),
        click.option("--bits", type=click.Choice(["16", "24"]), default="16", show_default=True,
                     help="Of WAV and FLAC."),
        click.option("--level", "level_lufs", default=-23.0, show_default=True, metavar="LUFS",
                     help="Loudness, from -40 to -12; the tone gets brighter with it."),
        click.option("--a4", "a4_hz", default=440.0, show_default=True, metavar="HZ",
                     help="Tuning pitch."),
    ):  # fmt: skip
        command = option(command)
    return command


@click.command()
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


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@part_option
@voice_option
@click.option("--small-notes", is_flag=True, help="Notes printed small are the player's own.")
@click.option(
    "--tempo",
    "tempo_qpm",
    type=float,
    metavar="QPM",
    help="Quarter notes a minute at the start. Default: as the part says, else 80.",
)
@click.option(
    "--speed",
    "speed_percent",
    type=float,
    metavar="PERCENT",
    help="Tempo beside that of the part, such as 75.",
)
@click.option(
    "--count-in",
    default=1,
    show_default=True,
    metavar="MEASURES",
    help="Measures of clicks before the music.",
)
@click.option(
    "--click/--no-click",
    "clicks",
    default=True,
    show_default=True,
    help="Metronome clicks along the music.",
)
@click.option(
    "--solo",
    type=click.Choice(["loud", "quiet", "off"]),
    default="loud",
    show_default=True,
    help="The part itself.",
)
@click.option(
    "--others/--no-others",
    default=True,
    show_default=True,
    help="The other parts of the score, softly (the first voice of each).",
)
@click.option("--measures", metavar="FIRST-LAST", help="Only these, such as 5-12.")
@click.option(
    "-o",
    "--output",
    "path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A .wav, .flac or .ogg file. Default: FILE-playalong.wav beside FILE.",
)
@sound_options
def playalong(
    file: Path, path: Path | None, bits: str, force: bool, as_json: bool, **options: Any
) -> None:
    """Play a part or drill to practise along with, at sounding pitch, repeats followed.

    FILE is a score as for 'mark'. Each movement, and each exercise of a drill, is counted in. Begin
    softly, with headphones above all: long loud listening harms hearing.
    """
    from handslide.jobs.practice.playalong import PlayWishes, playalong_json, write_playalong

    made, path = write_playalong(file, PlayWishes(**options), path, bits=int(bits), force=force)
    if as_json:
        out(playalong_json(made) | {"files": [str(path)]}, as_json)
    else:
        out(playalong_text(made, path), as_json)


def playalong_text(made: "PlayAlong", path: Path) -> str:
    """What was made, for people."""
    from handslide.jobs.practice.drone import CAUTION

    lines = [
        f"{made.title}: {made.part.name}, {len(made.notes)} notes at {made.tempo_qpm:g} quarter "
        f"notes a minute; solo {made.wishes.solo}"
    ]
    if made.others:
        lines.append(f"with {', '.join(made.others)}")
    lines.append(
        f"{made.sound.length_s:.1f} s at {made.sound.lufs:.1f} LUFS; the music begins at "
        f"{made.begins_s:.2f} s"
    )
    return "\n".join([*lines, *made.warnings, f"written: {path}", CAUTION])
