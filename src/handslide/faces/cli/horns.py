"""The command horns."""

from handslide.faces.cli.shared import command, common, out, speech_here


@command()
@common
def horns(horn: str, a4_hz: float, temp_c: float | None, as_json: bool) -> None:
    """List the horns that can be named, and your own."""
    from handslide.faces.cli import show
    from handslide.jobs.setup import list_horns

    rows, say = list_horns(a4_hz, temp_c), speech_here()
    out(show.horns_json(say, rows) if as_json else show.horns_text(say, rows), as_json)
