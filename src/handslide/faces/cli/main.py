"""The command line: each command parses, calls one job and shows the result."""

from typing import Any, NoReturn

import click

from handslide import __version__
from handslide.faces.cli.group import LazyGroup
from handslide.faces.cli.shared import speech_here
from handslide.faces.cli.terminal import tell, write_what_fits
from handslide.ground.errors import BadUsage, HandslideError

# Each has a module of its name here, which is loaded when the command is asked for; the help of the
# group shows these sentences and loads none.
COMMANDS_HELP = {
    "horns": "List the horns that can be named, and your own.",
    "places": "Show all places of notes such as C3, Eb2 or F#4 (middle C is C4).",
    "line": 'Choose the best route through a typed line, such as "Eb3 D3 Db3 C3".',
    "mark": "Mark a part: write its places over the notes, as a score and as a PDF.",
    "section": "Mark several parts of one score, each for its own student and horn.",
    "library": "Mark a whole library of parts, and find literature in it.",
    "chart": "Print a chart of the horn: its notes and where they lie on the slide.",
    "profile": "Learn a profile from a teacher's own choices, say what was learnt, forget it.",
    "transpose": "Move a part by an interval, such as down the octave, and mark it there.",
    "tune": "Say which tuning slide to move, which way and how far.",
    "fit": "Fit a horn to notes at known extensions and write it as a horn file.",
    "listen": "Hear the notes of a recording: how high each was, in cents, and how sure that is.",
    "progress": "Say how a student's playing changed over the weeks, and what to practise next.",
    "drill": "Make a sheet of exercises for this horn and student, with the places over the notes.",
    "lesson": (
        "Make a lesson sheet: warm-up, drills of the week, hard spots of PART, a log to tick."
    ),
    "routine": "Make a daily routine of 10, 20 or 30 minutes for a week, with boxes to tick.",
    "plan": "Plan weeks of practice: a key a week, each day in another articulation.",
    "drone": (
        "Hold a note, or several, or a chord, to tune against; or follow the harmony of a score."
    ),
    "playalong": (
        "Play a part or drill to practise along with, at sounding pitch, as the score has it."
    ),
    "clip": (
        "Make a video of a part: the music passes with its places, the slide moves, and it sounds."
    ),
    "handout": "Give a part away as one file that plays, shows the slide and prints.",
    "studio": "Open the studio, all of it, in the browser: students, parts, charts, takes.",
}
COMMANDS = tuple(COMMANDS_HELP)


class _Main(LazyGroup):
    """Turns errors into one line on stderr and their exit code."""

    def main(self, *args: Any, **kwargs: Any) -> Any:
        write_what_fits()
        return super().main(*args, **kwargs)

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except HandslideError as error:
            _say(ctx, error)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        try:
            return super().parse_args(ctx, args)
        except BadUsage as error:
            with ctx:
                _say(ctx, error)


def _say(ctx: click.Context, error: HandslideError) -> NoReturn:
    tell(f"handslide: {speech_here().fact(error)}", err=True)
    ctx.exit(error.exit_code)


@click.group(
    cls=_Main,
    sentences=COMMANDS_HELP,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(__version__, prog_name="handslide")
def main() -> None:
    """Where every note lies on this student's own slide, and which way to go there."""
