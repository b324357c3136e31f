"""The command clip."""

from pathlib import Path
from typing import Any

import click

from handslide.faces.cli.markoptions import existing_option, reading_options, show_option
from handslide.faces.cli.playoptions import count_in_option, measures_option, pace_options
from handslide.faces.cli.shared import (
    command,
    common,
    force_option,
    limits,
    out,
    profile_option,
    setup_from,
    speech_here,
    student_option,
    switch,
)
from handslide.jobs.practice.soundwishes import SOLO_GAINS

_PLAYED = (
    "tempo_qpm", "speed_percent", "measures", "count_in", "clicks", "solo", "others",
)  # fmt: skip
_MARKED = ("student", "show", "existing")
_READ = ("part", "voice", "small_notes", "sounds")


@command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    "path",
    type=click.Path(path_type=Path),
    metavar="CLIP",
    help="A .mp4 or .webm file. Default: FILE-clip.mp4 beside FILE.",
)
@click.option(
    "--size",
    default="1280x720",
    show_default=True,
    metavar="WIDTHxHEIGHT",
    help="In pixels; higher than wide, such as 1080x1920, for a phone held upright.",
)
@click.option("--fps", default=30, show_default=True, metavar="N", help="Pictures a second.")
@click.option(
    "--title",
    metavar="TEXT",
    help=r"Words on a card before the music, \n for a new line; '' for no card. Default: the "
    "score's title and composer.",
)
@click.option("--end", default="", metavar="TEXT", help="Words on a card behind the music.")
@pace_options
@measures_option
@count_in_option
@switch(
    "click", help="Metronome clicks along the music.", to="clicks", on=False,
)  # fmt: skip
@click.option(
    "--solo",
    type=click.Choice(tuple(SOLO_GAINS)),
    default="loud",
    show_default=True,
    help="How loud the part itself is.",
)
@switch("others", help="The other parts of the score, softly.")
@reading_options
@student_option
@show_option
@existing_option
@force_option
@profile_option
@limits
@common
def clip(
    file: Path,
    path: Path | None,
    size: str,
    fps: int,
    title: str | None,
    end: str,
    force: bool,
    as_json: bool,
    **options: Any,
) -> None:
    """Make a video of a part: the music passes with its places, the slide moves, and it sounds.

    FILE is a score as for 'mark'. The slide is drawn to scale and moves as the arm does, in the
    time that the notes leave; repeats, rit. and fermatas are followed. Captions beside CLIP, with
    the ending .vtt, say the places of the notes. FFmpeg encodes it, which must be on the machine
    (HANDSLIDE_FFMPEG names one elsewhere).
    """
    from handslide.jobs.ahead import start_engraver

    start_engraver()
    from handslide.faces.cli.bar import progress_bar
    from handslide.jobs.clip.clip import clip_json, write_clip
    from handslide.jobs.clip.wishes import ClipWishes, read_size
    from handslide.jobs.mark.mark import MarkOptions
    from handslide.jobs.practice.soundwishes import PlayWishes
    from handslide.words.clips import MADE
    from handslide.words.listing import WRITTEN

    def typed(text: str) -> str:
        return text.replace("\\n", "\n")

    wishes = ClipWishes(read_size(size), fps, None if title is None else typed(title), typed(end))
    read = {key: options.pop(key) for key in _READ}
    play = PlayWishes(**read, **{key: options.pop(key) for key in _PLAYED})
    marks = MarkOptions(**read, **{key: options.pop(key) for key in _MARKED})
    setup, say = setup_from(**options), speech_here()
    with progress_bar() as progress:
        made = write_clip(
            file, setup, marks, play, wishes, say, path, force=force, progress=progress
        )
    if as_json:
        out(clip_json(say, made), as_json)
        return
    width, height = wishes.size
    told = say(
        MADE, title=made.marked.title, part=made.marked.part.name, length_s=made.length_s,
        width=width, height=height, fps=fps,
    )  # fmt: skip
    lines = [told, *map(say.fact, made.warnings)]
    lines += [say(WRITTEN, file=str(one)) for one in (made.path, made.captions)]
    out("\n".join(lines), as_json)
