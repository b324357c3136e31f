"""Every command and option is in the read-me or the documents."""

import re
from pathlib import Path

import click
import pytest

from handslide.faces.cli.main import main

ROOT = Path(__file__).resolve().parents[2]
TEXT = "\n".join(
    path.read_text(encoding="utf-8") for path in (ROOT / "README.md", *(ROOT / "docs").glob("*.md"))
)
COMMANDS = sorted(main.list_commands(click.Context(main)))


def written(option):
    return re.search(rf"(?<![\w-]){re.escape(option)}(?![\w-])", TEXT) is not None


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_and_its_options_are_described(name):
    command = main.get_command(click.Context(main), name)
    assert f"handslide {name}" in TEXT
    # Of a pair such as --click/--no-click the one that isn't the default is enough.
    missing = [
        option.opts
        for option in command.params
        if isinstance(option, click.Option)
        and not any(map(written, (*option.opts, *option.secondary_opts)))
    ]
    assert missing == []
