"""The commands that learn a profile from a teacher's own choices."""

import click

from handslide.faces.cli.group import LazyGroup

# Each has a module here, called profile_ and its name.
PROFILE_HELP = {
    "learn": "Learn a profile from parts with fingerings, or from the studio's choices.",
    "ask": "Ask which of two ways you would write, and learn from the answers.",
    "why": "Say what was learnt, each change with two places in the music.",
    "forget": "Forget what a profile was learnt from: all, a part, or one note.",
    "reset": "Make a profile what it began from; what it was learnt from stays.",
}


@click.group(cls=LazyGroup, sentences=PROFILE_HELP, before="profile_")
def profile() -> None:
    """Learn a profile from a teacher's own choices, say what was learnt, forget it."""
