"""The command line: each command parses, calls one job and shows the result."""

from typing import Any, NoReturn

import click

from handslide import __version__
from handslide.faces.cli.chart import chart
from handslide.faces.cli.drill import drill
from handslide.faces.cli.drone import drone
from handslide.faces.cli.fit import fit
from handslide.faces.cli.horns import horns
from handslide.faces.cli.lesson import lesson
from handslide.faces.cli.line import line
from handslide.faces.cli.listen import listen
from handslide.faces.cli.mark import mark
from handslide.faces.cli.places import places
from handslide.faces.cli.playalong import playalong
from handslide.faces.cli.progress import progress
from handslide.faces.cli.section import section
from handslide.faces.cli.shared import speech_here
from handslide.faces.cli.studio import studio
from handslide.faces.cli.terminal import tell
from handslide.faces.cli.transpose import transpose
from handslide.faces.cli.tune import tune
from handslide.faces.cli.usage import help_of, told
from handslide.ground.errors import BadUsage, HandslideError


class _Group(click.Group):
    """Turns errors into one line on stderr and the exit code that they carry."""

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


for _command in (
    horns, places, line, mark, section, chart, transpose, tune, fit, listen, progress,
    drill, lesson, drone, playalong, studio,
):  # fmt: skip
    main.add_command(_command)
