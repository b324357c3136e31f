"""The command that opens the studio in the browser."""

import os
import sys
from pathlib import Path

import click

from handslide.faces.cli.shared import command
from handslide.ground.errors import BadUsage

PORT = 8471
PASSWORD_VARIABLE = "HANDSLIDE_PASSWORD"
_SHORTEST = 8


@command()
@click.option(
    "--folder",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Where the studio's data lies. Default: your data folder.",
)
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=PORT,
    show_default=True,
    help="If it is taken, the next free one is used.",
)
@click.option(
    "--address",
    default="127.0.0.1",
    show_default=True,
    help="Another address lets other machines in; it needs a password.",
)
@click.option(
    "--password-file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help=f"The password stands in its first line. Or set {PASSWORD_VARIABLE}.",
)
@click.option("--no-browser", is_flag=True, help="Don't open the browser.")
@click.option(
    "--recover",
    is_flag=True,
    help="Put the newest good backup in place of a damaged studio, which is kept beside.",
)
def studio(
    folder: Path | None,
    port: int,
    address: str,
    password_file: Path | None,
    no_browser: bool,
    recover: bool,
) -> None:
    """Open the studio, all of it, in the browser: students, parts, charts, takes."""
    from handslide.faces.web.safety import Rules, is_loopback
    from handslide.faces.web.serve import answers, listen, open_browser, serve, warning_of
    from handslide.studio.running import noted, recover_studio, start_studio
    from handslide.studio.studio import studio_folder

    password = _password(password_file, needed=not is_loopback(address))
    running = noted(studio_folder(folder))
    if running is not None and answers(running):
        click.echo(f"The studio runs already, at {running.url}; it was started in another window.")
        if not no_browser:
            open_browser(running.url)
        return
    if recover:
        click.echo(recover_studio(folder))
    opened, warnings = start_studio(folder)
    try:
        line = listen(address, port)
    except BadUsage:
        opened.close()
        raise
    rules = Rules(address=address, password=password)
    warnings += warning_of(rules, line.getsockname()[1])

    def ready(url: str) -> None:
        click.echo(f"The studio is open at {url} (its data: {opened.folder}). Ctrl-C closes it.")
        for warning in warnings:
            click.echo(f"  {warning}", err=True)
        if not no_browser:
            open_browser(url)

    serve(opened, line, rules, ready)
    click.echo("The studio is closed; all is saved.")


def _password(file: Path | None, *, needed: bool) -> str | None:
    """The password from the file, the environment or the keyboard. Raises BadUsage."""
    found = os.environ.get(PASSWORD_VARIABLE)
    if file is not None:
        try:
            lines = file.read_text(encoding="utf-8").splitlines()
        except (OSError, UnicodeDecodeError) as error:
            raise BadUsage(f"can't read the password in {file}: {error}") from error
        found = lines[0] if lines else ""
    elif found is None and needed and sys.stdin.isatty():
        found = click.prompt("A password for other machines", hide_input=True)
    if found is None and needed:
        raise BadUsage(
            "an address that other machines reach needs a password: give --password-file FILE or "
            f"set {PASSWORD_VARIABLE}, or leave --address out"
        )
    if found is not None and len(found) < _SHORTEST:
        raise BadUsage(f"the password must have at least {_SHORTEST} characters")
    return found
