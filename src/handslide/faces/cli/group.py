"""A group of commands, each in a module that is loaded when it is asked for."""

from collections.abc import Mapping
from importlib import import_module
from typing import Any

import click

from handslide.faces.cli.usage import help_of, told
from handslide.ground.errors import BadUsage


class LazyGroup(click.Group):
    """Commands by name, in modules called ``before`` and the name; ``sentences`` are what the help
    of the group says of them, which loads none."""

    def __init__(
        self, *args: Any, sentences: Mapping[str, str], before: str = "", **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.sentences = sentences
        self.before = before

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.sentences)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in self.sentences:
            return None
        module = import_module(f"handslide.faces.cli.{self.before}{cmd_name}")
        command: click.Command = getattr(module, cmd_name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(self.sentences.items()))

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        with told(ctx):
            return super().parse_args(ctx, args)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args[0].isalnum() and args[0] not in self.sentences:
            raise BadUsage("usage.no_command", name=args[0], help=help_of(ctx))
        return super().resolve_command(ctx, args)
