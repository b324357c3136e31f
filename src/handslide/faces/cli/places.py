"""The command places."""

from typing import Any

import click

from handslide.faces.cli.shared import command, common, limits, out, setup_from, speech_here


@command()
@click.argument("notes", nargs=-1, required=True, metavar="NOTE...")
@limits
@common
def places(notes: tuple[str, ...], as_json: bool, **options: Any) -> None:
    """Show all places of notes such as C3, Eb2 or F#4 (middle C is C4)."""
    from handslide.faces.cli import show
    from handslide.jobs.mark.places import places_json, places_of

    setup = setup_from(**options)
    found, say = places_of(setup, notes), speech_here()
    told = places_json(say, setup, found) if as_json else show.places_text(say, setup, found)
    out(told, as_json)
