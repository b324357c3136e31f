"""The reference of the commands, made from the commands themselves.

Each command of the tree is a page in Markdown with its help, its arguments and all of its options,
and the first page lists them. `docs/conf.py` writes them before the documents are built.
"""

import re
from collections.abc import Iterator
from pathlib import Path

import click

from handslide.faces.cli.main import main

_HEAD = """# Commands

Every command with every option, made from the commands themselves: what `--help` says.

| command | |
|---|---|
"""


def every_command(
    group: click.Group = main, before: str = ""
) -> Iterator[tuple[str, click.Command]]:
    """All commands with their whole names, each group before what is in it."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None
        yield f"{before}{name}", command
        if isinstance(command, click.Group):
            yield from every_command(command, f"{before}{name} ")


def pages() -> dict[str, str]:
    """The pages by their file names without ending."""
    found = dict(every_command())
    rows = [
        f"| [handslide {name}]({_slug(name)}.md) | {_cell(command.get_short_help_str(1000))} |"
        for name, command in found.items()
    ]
    tree = "\n".join(_slug(name) for name in found)
    index = f"{_HEAD}{chr(10).join(rows)}\n\n```{{toctree}}\n:hidden:\n\n{tree}\n```\n"
    return {"index": index, **{_slug(name): _page(name, found[name]) for name in found}}


def write(folder: Path) -> None:
    """Write the pages; what hasn't changed stays untouched, what is no command any more goes."""
    folder.mkdir(parents=True, exist_ok=True)
    made = {folder / f"{name}.md": text for name, text in pages().items()}
    for path in folder.iterdir():
        if path not in made:
            path.unlink()
    for path, text in made.items():
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")


def _slug(name: str) -> str:
    return name.replace(" ", "-")


def _page(name: str, command: click.Command) -> str:
    context = click.Context(command, info_name=f"handslide {name}")
    usage = " ".join([context.command_path, *command.collect_usage_pieces(context)])
    parts = [f"# handslide {name}", f"    {usage}", _help(command.help or "")]
    if isinstance(command, click.Group):
        rows = [
            f"| [handslide {name} {each}]({_slug(f'{name} {each}')}.md) | {_cell(sentence)} |"
            for each in command.list_commands(context)
            if (below := command.get_command(context, each)) is not None
            for sentence in (below.get_short_help_str(1000),)
        ]
        parts.append("\n".join(["| command | |", "|---|---|", *rows]))
    options = [one for one in command.get_params(context) if isinstance(one, click.Option)]
    parts += ["## Options", *(f"{_names(one)}\n: {_told(one, context)}" for one in options)]
    return "\n\n".join(parts) + "\n"


def _help(text: str) -> str:
    """The paragraphs of a help; what it sets apart by a line of its own stays so."""
    blocks = [block.strip("\n") for block in re.split(r"\n\s*\n", text.strip())]
    return "\n\n".join(
        "```\n" + block.removeprefix("\b\n") + "\n```"
        if block.startswith("\b")
        else _plain(" ".join(block.split()))
        for block in blocks
    )


def _names(option: click.Option) -> str:
    """The names of an option as they are typed, with what stands behind them."""
    shown = [*option.opts, *option.secondary_opts]
    behind = "" if option.is_flag or option.count else f" {_metavar(option)}"
    return ", ".join(f"`{name}{behind if name == shown[-1] else ''}`" for name in shown)


def _metavar(option: click.Option) -> str:
    context = click.Context(click.Command("any"))
    return option.metavar or option.make_metavar(context)


def _told(option: click.Option, context: click.Context) -> str:
    """What the help says of it, with its default, as click would write it."""
    record = option.get_help_record(context)
    told = " ".join((record[1] if record else option.help or "").split())
    return _plain(told) or "–"


def _plain(text: str) -> str:
    """Text whose signs aren't Markdown's."""
    return re.sub(r"([\\`*_\[\]<>#~$])", r"\\\1", text)


def _cell(text: str) -> str:
    return _plain(text).replace("|", "\\|")
