"""The command playalong."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handslide.faces.cli.markoptions import reading_options
from handslide.faces.cli.playoptions import count_in_option, measures_option, pace_options
from handslide.faces.cli.shared import command, out, sound_options, speech_here, switch
from handslide.ground.errors import BadUsage
from handslide.jobs.practice.soundwishes import (
    HARMONY_SOURCES,
    HELD_TONES,
    SOLO_GAINS,
    HarmonyWishes,
    PlayWishes,
    read_tempos,
)

if TYPE_CHECKING:
    from handslide.jobs.practice.playalong import PlayAlong
    from handslide.words.speech import Speech


@command()
@click.argument("file", type=click.Path(path_type=Path))
@reading_options
@pace_options
@click.option(
    "--tempos",
    "tempos_qpm",
    default="",
    metavar="QPM,QPM...",
    help="The music once in each of these tempos, such as 60,66,72.",
)
@click.option(
    "--times",
    default=1,
    show_default=True,
    help="How often it is played in each tempo, counted in every time (--count-in 0: on and on).",
)
@count_in_option
@switch(
    "click",
    help="Metronome clicks along the music; without, only those of the count-in.",
    to="clicks",
)
@click.option(
    "--click-level",
    "click_db",
    default=0.0,
    show_default=True,
    metavar="DB",
    help="Clicks louder (+) or softer (−).",
)
@switch("accent", help="A stronger click on the first beat of a measure.")
@click.option(
    "--subdivide",
    "click_parts",
    default=1,
    show_default=True,
    metavar="PARTS",
    help="Clicks in each beat, up to 4.",
)
@switch(
    "expression",
    help="Dynamics, rit. and accel., fermatas, breaths and swing as the score has them; without, "
    "all notes equally loud and in strict time.",
)
@switch("life", help="A little drift of pitch about the exact one, and breath.")
@switch("room", help="The sound of a small room.")
@click.option(
    "--solo",
    type=click.Choice(tuple(SOLO_GAINS)),
    default="loud",
    show_default=True,
    help="The part itself.",
)
@switch("others", help="The other parts of the score, softly: all their voices and chords.")
@click.option(
    "--drone",
    "drone_tones",
    type=click.Choice(HELD_TONES),
    help="A drone below that follows the harmony, just above each root, and the part in tune with "
    "it: of each chord its root, root and fifth, or all. More wishes: 'drone --follow'.",
)
@click.option(
    "--drone-from",
    "source",
    type=click.Choice(HARMONY_SOURCES),
    help="The harmony by the chord symbols, or found in the parts. Default: symbols where there "
    "are some.",
)
@measures_option
@click.option(
    "-o",
    "--output",
    "path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A .wav, .flac, .ogg or .mp3 file. Default: FILE-playalong.wav beside FILE.",
)
@sound_options
def playalong(
    file: Path,
    path: Path | None,
    bits: str,
    force: bool,
    as_json: bool,
    tempos_qpm: str,
    drone_tones: str | None,
    source: str | None,
    **options: Any,
) -> None:
    """Play a part or drill to practise along with, at sounding pitch, as the score has it.

    FILE is a score as for 'mark'. Repeats and jumps are followed, dynamics, changes of tempo,
    fermatas, breaths and swing are played. Each movement, and each exercise of a drill, is counted
    in. Begin softly, with headphones above all: long loud listening harms hearing.
    """
    from handslide.jobs.practice.playalong import playalong_json, write_playalong

    say = speech_here()
    if source is not None and drone_tones is None:
        raise BadUsage("usage.drone_from_alone")
    drone = None if drone_tones is None else HarmonyWishes(source, drone_tones)
    wishes = PlayWishes(tempos_qpm=read_tempos(tempos_qpm), drone=drone, **options)
    made, path = write_playalong(file, wishes, path, bits=int(bits), force=force)
    if as_json:
        out(playalong_json(made, say) | {"files": [str(path)]}, as_json)
    else:
        out(playalong_text(say, made, path), as_json)


def playalong_text(say: "Speech", made: "PlayAlong", path: Path) -> str:
    """What was made, for people."""
    from handslide.words.cautions import HEARING
    from handslide.words.listing import WRITTEN
    from handslide.words.sounds import PASSES, PLAYED, PLAYED_LENGTH, WITH_OTHERS

    played = say(
        PLAYED,
        title=made.title,
        part=made.part.name,
        count=len(made.notes),
        tempo_qpm=made.tempo_qpm,
        solo=say.named("solo", made.wishes.solo),
    )
    length = say(
        PLAYED_LENGTH,
        length_s=made.sound.length_s,
        level_lufs=made.sound.lufs,
        begins_s=made.begins_s,
    )
    lines = [played, *([say(WITH_OTHERS, others=made.others)] if made.others else []), length]
    if len(made.passes) > 1:
        lines += [
            say(PASSES, tempo_qpm=one.tempo_qpm, begins_s=one.begins_s) for one in made.passes
        ]
    lines += map(say.fact, made.warnings)
    return "\n".join([*lines, say(WRITTEN, file=str(path)), say(HEARING)])
