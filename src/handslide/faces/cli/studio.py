"""The command that opens the studio in the browser."""

import os
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from handslide.faces.cli.shared import command, speech_here
from handslide.faces.cli.terminal import tell
from handslide.ground.errors import BadUsage
from handslide.ground.system import system_reason

if TYPE_CHECKING:
    from handslide.edges.files.certificate import Certificate
    from handslide.words.speech import Speech

PORT = 8471
PASSWORD_VARIABLE = "HANDSLIDE_PASSWORD"
_SHORTEST = 8
_HOST = re.compile(r"[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?(:[0-9]{1,5})?", re.ASCII)


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
@click.option(
    "--public",
    metavar="HOST",
    help="A reverse proxy on this machine shows the studio by https at this host; needs a "
    "password. See docs/howto/network.md.",
)
@click.option(
    "--certificate",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="A certificate of your own (PEM), for https to tablets and other machines; needs --key.",
)
@click.option(
    "--key",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="The certificate's key (PEM).",
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
    public: str | None,
    certificate: Path | None,
    key: Path | None,
    no_browser: bool,
    recover: bool,
) -> None:
    """Open the studio, all of it, in the browser: students, parts, charts, takes."""
    from handslide.faces.web.safety import Rules, is_loopback
    from handslide.faces.web.serve import answers, open_browser, serve, warnings_of
    from handslide.faces.web.sockets import listen
    from handslide.studio.care.running import noted, recover_studio, start_studio
    from handslide.studio.studio import studio_folder
    from handslide.words import studio as words

    say = speech_here()
    if public is not None and not _HOST.fullmatch(public):
        raise BadUsage("web.no_public", text=public)
    needed = public is not None or not is_loopback(address)
    password = _password(say, password_file, needed=needed)
    own = _certificate(certificate, key)
    running = noted(studio_folder(folder))
    if running is not None and answers(running):
        tell(say(words.RUNS_ALREADY, url=running.url))
        if not no_browser:
            open_browser(running.url)
        return
    if recover:
        tell(say.fact(recover_studio(folder)))
    opened, failed = start_studio(folder)
    try:
        line = listen(address, port)
    except BadUsage:
        opened.close()
        raise
    secure = own is not None and public is None and not is_loopback(address)
    rules = Rules(address=address, password=password, public=public, secure=secure)
    warnings = failed + warnings_of(rules, line.getsockname()[1])

    def ready(url: str) -> None:
        tell(say(words.OPEN, url=url, folder=str(opened.folder)))
        for warning in warnings:
            tell(f"  {say.fact(warning)}", err=True)
        if not no_browser:
            open_browser(url)

    serve(opened, line, rules, ready, own)
    tell(say(words.CLOSED))


def _certificate(file: Path | None, key: Path | None) -> "Certificate | None":
    """The user's own certificate. Raises BadUsage, BadData."""
    if file is None and key is None:
        return None
    if file is None or key is None:
        raise BadUsage("certificate.both")
    from handslide.edges.files.certificate import given_certificate

    return given_certificate(file, key)


def _password(say: "Speech", file: Path | None, *, needed: bool) -> str | None:
    """The password from the file, the environment or the keyboard. Raises BadUsage."""
    from handslide.edges.files.plainfile import read_plain
    from handslide.ground.limits import TYPED_BYTES
    from handslide.words.studio import PASSWORD

    found = os.environ.get(PASSWORD_VARIABLE)
    if file is not None:
        try:
            lines = read_plain(file, TYPED_BYTES).decode().splitlines()
        except (OSError, UnicodeDecodeError) as error:
            reason = system_reason(error)
            raise BadUsage("usage.password_file", file=str(file), reason=reason) from error
        found = lines[0] if lines else ""
    elif found is None and needed and sys.stdin.isatty():
        found = click.prompt(say(PASSWORD), hide_input=True)
    if found is None and needed:
        raise BadUsage("usage.password_missing", variable=PASSWORD_VARIABLE)
    if found is not None and len(found) < _SHORTEST:
        raise BadUsage("usage.password_short", least=_SHORTEST)
    return found
