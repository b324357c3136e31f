"""The command that forgets what a profile was learnt from."""

import click

from handslide.faces.cli.shared import command, json_option, out, speech_here


@command()
@click.argument("name")
@click.argument("part", required=False)
@click.argument("spot", required=False, metavar="[MEASURE:INDEX]")
@json_option
def forget(name: str, part: str | None, spot: str | None, as_json: bool) -> None:
    """Forget what a profile was learnt from: all, a part, or one note.

    PART is the name of its file, MEASURE:INDEX a note of it, such as 12:3. The profile is learnt
    again from the rest; without PART it begins anew.
    """
    from handslide.faces.cli.bar import progress_bar
    from handslide.faces.cli.show_profile import forgotten_text
    from handslide.instrument.markstyle import MarkStyle
    from handslide.jobs.profile.profilejson import forgotten_json
    from handslide.jobs.profile.teach import forget as forget_of

    say, style = speech_here(), MarkStyle()
    with progress_bar() as progress:
        progress("learning", 0, 1)
        gone = forget_of(name, part, spot)
    out(forgotten_json(say, gone, style) if as_json else forgotten_text(say, gone, style), as_json)
