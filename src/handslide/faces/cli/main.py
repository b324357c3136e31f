"""The command line: each command parses, calls one job and shows the result."""

from importlib import import_module
from typing import Any, NoReturn

import click

from handslide import __version__
from handslide.faces.cli.shared import speech_here
from handslide.faces.cli.terminal import tell
from handslide.faces.cli.usage import help_of, told
from handslide.ground.errors import BadUsage, HandslideError

# Each has a module of its name here, which is loaded when the command is asked for.
COMMANDS = (
    "horns", "places", "line", "mark", "section", "chart", "transpose", "tune", "fit", "listen",
    "progress", "drill", "lesson", "drone", "playalong", "studio",
)  # fmt: skip


class _Group(click.Group):
    """Loads the command asked for; turns errors into one line on stderr and their exit code."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = getattr(import_module(f"handslide.faces.cli.{cmd_name}"), cmd_name)
        return command

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except HandslideError as error:
            _say(ctx, error)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        try:
            with told(ctx):
                return super().parse_args(ctx, args)
        except BadUsage as error:
            with ctx:
                _say(ctx, error)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args[0].isalnum() and self.get_command(ctx, args[0]) is None:
            raise BadUsage("usage.no_command", name=args[0], help=help_of(ctx))
        return super().resolve_command(ctx, args)


def _say(ctx: click.Context, error: HandslideError) -> NoReturn:
    tell(f"handslide: {speech_here().fact(error)}", err=True)
    ctx.exit(error.exit_code)


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="handslide")
def main() -> None:
    """Where every note lies on this student's own slide, and which way to go there."""
