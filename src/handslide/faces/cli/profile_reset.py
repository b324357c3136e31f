"""The command that makes a profile what it began from."""

import click

from handslide.faces.cli.shared import command, json_option, out, speech_here


@command()
@click.argument("name")
@json_option
def reset(name: str, as_json: bool) -> None:
    """Make a profile what it began from; what it was learnt from stays.

    'handslide profile learn NAME' learns it again.
    """
    from handslide.faces.cli.show_profile import began
    from handslide.jobs.profile.kept import reset as reset_of
    from handslide.jobs.profile.profilejson import kept_json
    from handslide.words.learnt import RESET

    (kept, path), say = reset_of(name), speech_here()
    if as_json:
        out(kept_json(kept) | {"files": [str(path)]}, as_json)
    else:
        out(say(RESET, name=name, began_from=began(say, kept)), as_json)
