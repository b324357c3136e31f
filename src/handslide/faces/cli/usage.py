"""What is wrong with a command as it was typed, as errors of ours: in the reader's language."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import click

from handslide.faces.cli.terminal import writing
from handslide.ground.errors import BadUsage


@contextmanager
def told(context: click.Context) -> Iterator[None]:
    """Raises BadUsage for what click finds wrong, where we have words for it, and OutputError where
    the help can't be written."""
    try:
        with writing():
            yield
    except click.UsageError as wrong:
        error = _error(context, wrong)
        if error is None:
            raise
        raise error from wrong


def help_of(context: click.Context) -> str:
    """What to type for the help of a command: ``handslide mark --help``."""
    names = ["--help"]
    while context.parent is not None:
        names.insert(0, context.info_name or "")
        context = context.parent
    return " ".join(["handslide", *names])


def _error(context: click.Context, wrong: click.UsageError) -> BadUsage | None:
    if isinstance(wrong, click.NoSuchOption):
        option = wrong.option_name
        if wrong.possibilities:
            return BadUsage("usage.option_near", option=option, known=tuple(wrong.possibilities))
        return BadUsage("usage.no_option", option=option, help=help_of(context))
    if isinstance(wrong, click.BadOptionUsage):
        named = [one for one in context.command.params if wrong.option_name in one.opts]
        flag = any(isinstance(one, click.Option) and one.is_flag for one in named)
        kind = "usage.option_alone" if flag else "usage.option_value"
        return BadUsage(kind, option=wrong.option_name)
    if isinstance(wrong, click.BadParameter) and wrong.param is not None:
        name = _name(wrong.param)
        if isinstance(wrong, click.MissingParameter):
            return BadUsage("usage.missing", name=name, help=help_of(context))
        return _bad_value(name, wrong.param.type)
    return None


def _name(parameter: click.Parameter) -> str:
    """``--tempo`` of an option, ``FILE`` of an argument."""
    if isinstance(parameter, click.Option):
        return max(parameter.opts, key=len)
    return (parameter.metavar or (parameter.name or "").upper()).strip("[].")


def _bad_value(name: str, wanted: Any) -> BadUsage | None:
    if isinstance(wanted, click.Choice):
        return BadUsage("usage.choice", name=name, known=tuple(map(str, wanted.choices)))
    if isinstance(wanted, (click.IntRange, click.FloatRange)):
        return BadUsage("usage.between", name=name, low=wanted.min, high=wanted.max)
    if isinstance(wanted, click.types.IntParamType):
        return BadUsage("usage.whole_number", name=name)
    if isinstance(wanted, click.types.FloatParamType):
        return BadUsage("usage.number", name=name)
    return None
