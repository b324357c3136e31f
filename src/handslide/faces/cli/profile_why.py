"""The command that says what a profile learnt."""

import click

from handslide.faces.cli.shared import command, json_option, out, speech_here


@command()
@click.argument("name")
@json_option
def why(name: str, as_json: bool) -> None:
    """Say what was learnt, each change with two places in the music.

    Weights can't be known from places alone: what is told is what your choices look like.
    """
    from handslide.faces.cli.show_profile import why_text
    from handslide.instrument.markstyle import MarkStyle
    from handslide.jobs.profile.kept import find_kept
    from handslide.jobs.profile.profilejson import why_json
    from handslide.jobs.profile.why import why as changes_of

    kept, say, style = find_kept(name), speech_here(), MarkStyle()
    found = changes_of(kept)
    out(
        why_json(say, kept, found, style) if as_json else why_text(say, kept, found, style), as_json
    )
