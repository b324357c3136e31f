"""Every command and option is in the read-me or the documents."""

import re
from pathlib import Path

import click
import pytest

from handslide.faces.cli.main import main

ROOT = Path(__file__).resolve().parents[2]
TEXT = "\n".join(
    path.read_text(encoding="utf-8")
    for path in (ROOT / "README.md", *(ROOT / "docs").rglob("*.md"))
)


def every_command(group, before=""):
    """All commands with their names, those of groups below a group too."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if isinstance(command, click.Group):
            yield from every_command(command, f"{name} ")
        else:
            yield f"{before}{name}", command


COMMANDS = dict(every_command(main))


def written(option):
    return re.search(rf"(?<![\w-]){re.escape(option)}(?![\w-])", TEXT) is not None


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_and_its_options_are_described(name):
    command = COMMANDS[name]
    assert f"handslide {name}" in TEXT
    # Of a pair such as --click/--no-click the one that isn't the default is enough.
    missing = [
        option.opts
        for option in command.params
        if isinstance(option, click.Option)
        and not any(map(written, (*option.opts, *option.secondary_opts)))
    ]
    assert missing == []
