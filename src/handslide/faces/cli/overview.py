"""What the command line can do, as a page that shows at once: it needs nothing of what works."""

import os
import textwrap

# Each has a module of its name here, which is loaded when the command is asked for.
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
DESCRIPTION_HELP = "Where every note lies on this student's own slide, and which way to go there."
_OPTIONS_HELP = {
    "--version": "Show the version and exit.",
    "-h, --help": "Show this message and exit.",
}
# The widths within which click writes the help of a command, and its margin.
_LEAST, _MOST, _MARGIN = 50, 80, 2


def overview(columns: int) -> str:
    """The help of all commands for a terminal of so many columns, as click writes it."""
    width = max(_LEAST, min(columns, _MOST) - _MARGIN)
    said = textwrap.fill(DESCRIPTION_HELP, width, initial_indent="  ", subsequent_indent="  ")
    options, commands = _listed(_OPTIONS_HELP, width), _listed(COMMANDS_HELP, width)
    return (
        f"Usage: handslide [OPTIONS] COMMAND [ARGS]...\n\n{said}\n\n"
        f"Options:\n{options}\n\nCommands:\n{commands}"
    )


def _listed(sentences: dict[str, str], width: int) -> str:
    first = max(map(len, sentences)) + 4
    lines = []
    for name, sentence in sentences.items():
        start = f"  {name:<{first - 2}}"
        lines.append(start + f"\n{' ' * first}".join(textwrap.wrap(sentence, width - first)))
    return "\n".join(lines)


def columns() -> int:
    """How wide the terminal is, as `shutil.get_terminal_size` tells it."""
    told = os.environ.get("COLUMNS", "")
    if told.isdecimal() and int(told):
        return int(told)
    try:
        return os.get_terminal_size(1).columns or _MOST
    except OSError:
        return _MOST
