"""The command line: each command parses, calls one job and shows the result."""

from typing import Any, NoReturn

import click

from handslide import __version__
from handslide.faces.cli.group import LazyGroup
from handslide.faces.cli.overview import COMMANDS_HELP, DESCRIPTION_HELP
from handslide.faces.cli.shared import speech_here
from handslide.faces.cli.terminal import tell, write_what_fits
from handslide.ground.errors import BadUsage, HandslideError, OutputError

COMMANDS = tuple(COMMANDS_HELP)


class _Main(LazyGroup):
    """Turns errors into one line on stderr and their exit code."""

    def main(self, *args: Any, **kwargs: Any) -> Any:
        write_what_fits()
        return super().main(*args, **kwargs)

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except HandslideError as error:
            _say(ctx, error)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        try:
            return super().parse_args(ctx, args)
        except (BadUsage, OutputError) as error:
            with ctx:
                _say(ctx, error)


def _say(ctx: click.Context, error: HandslideError) -> NoReturn:
    tell(f"handslide: {speech_here().fact(error)}", err=True)
    ctx.exit(error.exit_code)


@click.group(
    cls=_Main,
    help=DESCRIPTION_HELP,
    sentences=COMMANDS_HELP,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(__version__, prog_name="handslide")
def main() -> None:
    pass
