"""The drone and playalong commands: sound to practise against."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handslide.faces.cli.markoptions import reading_options
from handslide.faces.cli.shared import (
    command,
    out,
    sound_options,
    speech_here,
    switch,
)
from handslide.ground.errors import BadUsage
from handslide.ground.temperament import CHORDS
from handslide.jobs.practice.soundwishes import (
    HARMONY_SOURCES,
    HELD_TONES,
    DroneWishes,
    HarmonyWishes,
    PlayWishes,
)

if TYPE_CHECKING:
    from handslide.jobs.practice.drone import Drone
    from handslide.jobs.practice.playalong import PlayAlong
    from handslide.words.speech import Speech

# Options that hold a tone, and those that follow a score; the rest go with both.
_HOLDING: dict[str, Any] = {"chord": None, "length_s": None, "loop": False}
_READING: dict[str, Any] = {"part": None, "voice": None, "small_notes": False, "sounds": None}
_PLAYING: dict[str, Any] = {
    "tempo_qpm": None, "speed_percent": None, "measures": None, "count_in": 1, "clicks": False,
}  # fmt: skip
_FOLLOWING: dict[str, Any] = {"source": None, "tones": "fifth", "own": True, "low": "F2"}


@command()
@click.argument("notes", nargs=-1, metavar="[NOTE...]")
@click.option("--chord", type=click.Choice(tuple(CHORDS)), help="Hold this above the one NOTE.")
@click.option(
    "--just/--equal",
    "just",
    default=None,
    help="Pure intervals above the root, or equal temperament. Default: equal; with --follow just.",
)
@click.option(
    "--root",
    metavar="NOTE",
    help="Root of pure intervals. Default: the lowest note. With --follow the roots of the chords "
    "are just above this note; default: they are in equal temperament.",
)
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
    "--follow",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Follow the harmony of this score instead, in its tempo.",
)
@click.option(
    "--from",
    "source",
    type=click.Choice(HARMONY_SOURCES),
    help="With --follow: the harmony by the chord symbols, or found in what the parts play. "
    "Default: chord symbols where there are some.",
)
@click.option(
    "--tones",
    type=click.Choice(HELD_TONES),
    default="fifth",
    show_default=True,
    help="With --follow: what is held of each chord; fifth is the root and its fifth.",
)
@click.option(
    "--own/--without-own",
    default=True,
    show_default=True,
    help="With --follow: without, a tone is silent while the part itself has it.",
)
@click.option(
    "--low",
    metavar="NOTE",
    default="F2",
    show_default=True,
    help="With --follow: the lowest root; the others are within an octave above it.",
)
@reading_options
@click.option(
    "--tempo",
    "tempo_qpm",
    type=float,
    metavar="QPM",
    help="With --follow: quarter notes a minute at the start.",
)
@click.option(
    "--speed",
    "speed_percent",
    type=float,
    metavar="PERCENT",
    help="With --follow: tempo beside that of the part.",
)
@click.option("--measures", metavar="FIRST-LAST", help="With --follow: only these, such as 5-12.")
@click.option(
    "--count-in",
    default=1,
    show_default=True,
    metavar="MEASURES",
    help="With --follow: measures of clicks before the music.",
)
@switch("click", help="With --follow: clicks along the music, too.", to="clicks", on=False)
@click.option(
    "-o",
    "--output",
    "path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A .wav, .flac, .ogg or .mp3 file. Default: drone-NOTE.wav here; with --follow "
    "FILE-drone.wav beside FILE.",
)
@sound_options
def drone(
    notes: tuple[str, ...],
    follow: Path | None,
    just: bool | None,
    path: Path | None,
    bits: str,
    force: bool,
    as_json: bool,
    **options: Any,
) -> None:
    """Hold a note, or several, or a chord, to tune against; or follow the harmony of a score.

    The pitch is exact to 0.1 cent. Begin softly, with headphones above all: long loud listening
    harms hearing.
    """
    _check_options(follow, notes, options)
    if follow is not None:
        wishes = _following(just is not False, options)
        _follow(follow, wishes, path, int(bits), force=force, as_json=as_json)
        return
    from handslide.jobs.practice.drone import default_path, drone_json, write_drone

    say = speech_here()
    held = {key: options[key] for key in (*_HOLDING, "root", "level_lufs", "a4_hz")}
    one = DroneWishes(notes, just=bool(just), **held)
    path = path or default_path(one)
    made = write_drone(one, path, bits=int(bits), force=force)
    if as_json:
        out(drone_json(made, say) | {"files": [str(path)]}, as_json)
    else:
        out(drone_text(say, made, path), as_json)


def _check_options(follow: Path | None, notes: tuple[str, ...], options: dict[str, Any]) -> None:
    """Raise BadUsage for what doesn't go together."""
    if follow is not None and notes:
        raise BadUsage("usage.note_or_follow")
    unused = _HOLDING if follow is not None else _READING | _PLAYING | _FOLLOWING
    for key, usual in unused.items():
        if options[key] != usual:
            kind = "usage.not_with_follow" if follow is not None else "usage.follow_only"
            raise BadUsage(kind, option=_OPTIONS.get(key, "--" + key.replace("_", "-")))


_OPTIONS = {
    "length_s": "--length", "source": "--from", "own": "--without-own", "tempo_qpm": "--tempo",
    "speed_percent": "--speed", "clicks": "--click",
}  # fmt: skip


def _following(just: bool, options: dict[str, Any]) -> PlayWishes:
    """The play-along of nothing but its drone."""
    harmony = HarmonyWishes(
        **{key: options[key] for key in _FOLLOWING}, just=just, base=options["root"]
    )
    given = {key: options[key] for key in (*_READING, *_PLAYING, "level_lufs", "a4_hz")}
    return PlayWishes(**given, drone=harmony, solo="off", others=False, life=False, room=False)


def _follow(
    file: Path, wishes: PlayWishes, path: Path | None, bits: int, *, force: bool, as_json: bool
) -> None:
    from handslide.jobs.practice.playalong import playalong_json, write_playalong

    say = speech_here()
    path = path or file.with_name(f"{file.stem}-drone.wav")
    made, path = write_playalong(file, wishes, path, bits=bits, force=force)
    if as_json:
        out(playalong_json(made, say) | {"files": [str(path)]}, as_json)
    else:
        out(followed_text(say, made, path), as_json)


def followed_text(say: "Speech", made: "PlayAlong", path: Path) -> str:
    """What was made of a score's harmony, for people."""
    from handslide.words.cautions import HEARING
    from handslide.words.listing import WRITTEN
    from handslide.words.sounds import FOLLOWED, PLAYED_LENGTH

    assert made.harmony is not None
    told = say(
        FOLLOWED[made.harmony.source],
        title=made.title,
        part=made.part.name,
        count=sum(one.root is not None for one in made.chords),
        tempo_qpm=made.tempo_qpm,
    )
    length = say(
        PLAYED_LENGTH,
        length_s=made.sound.length_s,
        level_lufs=made.sound.lufs,
        begins_s=made.begins_s,
    )
    lines = [told, length, *map(say.fact, made.warnings)]
    return "\n".join([*lines, say(WRITTEN, file=str(path)), say(HEARING)])


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
