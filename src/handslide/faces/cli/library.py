"""The commands of a library of parts."""

import click

from handslide.faces.cli.group import LazyGroup

# Each has a module here, called library_ and its name.
LIBRARY_HELP = {
    "run": "Mark every part of every score in a folder; the word run may be left out.",
    "search": "Find parts of a marked library by student, range, speed and reach.",
}


class _Library(LazyGroup):
    """``handslide library IN OUT`` is ``handslide library run IN OUT``."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        plain = args and args[0] not in (*self.sentences, "--help", "-h")
        return super().parse_args(ctx, ["run", *args] if plain else args)


@click.group(cls=_Library, sentences=LIBRARY_HELP, before="library_")
def library() -> None:
    """Mark a whole library of parts, and find literature in it.

    handslide library IN OUT is short for handslide library run IN OUT.
    """
