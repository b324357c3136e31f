"""Options and endings that several commands share."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handslide.faces.cli.terminal import tell, tell_json
from handslide.faces.cli.usage import help_of, told
from handslide.ground.errors import BadUsage
from handslide.ground.papers import DEFAULT_PAPER, PAPERS
from handslide.instrument.markstyle import COUNTINGS, NUMERALS, VALVE_SIGNS
from handslide.jobs.practice.soundwishes import CALM_LUFS, LOUDEST_LUFS, SOFTEST_LUFS

if TYPE_CHECKING:
    from handslide.words.speech import Speech

Command = Callable[..., Any]
HORN_HELP = "A horn by name (see 'handslide horns') or the path of a horn file."

json_option = click.option("--json", "as_json", is_flag=True, help="Machine output on stdout.")
force_option = click.option("--force", is_flag=True, help="Replace results that exist.")
part_option = click.option(
    "--part", metavar="NAME", help="Part by name, number or id. Default: the trombone's."
)
voice_option = click.option(
    "--voice", metavar="NUMBER", help="Voice of the part. Default: its first."
)
tempo_option = click.option(
    "--tempo", "tempo_qpm", default=80.0, show_default=True, metavar="QPM",
    help="Quarter notes a minute where the part states none.",
)  # fmt: skip
student_option = click.option(
    "--student", default="", metavar="NAME", help="Name to print on the sheet."
)
paper_option = click.option(
    "--paper", type=click.Choice(tuple(PAPERS)), default=DEFAULT_PAPER, show_default=True
)
folder_option = click.option(
    "-o", "--output", "folder", type=click.Path(path_type=Path), metavar="DIR",
    help="Folder for the results. Default: beside FILE.",
)  # fmt: skip


def switch(
    name: str, *, help: str, to: str | None = None, on: bool = True
) -> Callable[[Command], Command]:
    """An option ``--name`` with its opposite ``--no-name``; ``to`` is the wish that it sets."""
    declared = (f"--{name}/--no-{name}", *([] if to is None else [to]))
    return click.option(*declared, default=on, show_default=True, help=help)


_LANGUAGE = "handslide.language"


class LanguageCommand(click.Command):
    """A command that speaks the language of its reader: ``--language``, else the environment's."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.params.append(
            click.Option(
                ["--language"], metavar="CODE", expose_value=False, callback=_keep_language,
                is_eager=True, help="Language of all texts: en, de, es, fr. Default: "
                "HANDSLIDE_LANGUAGE, else the system's.",
            )
        )  # fmt: skip

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        # What is wrong with the other options is said in the language that is asked for.
        for word, after in zip(args, [*args[1:], ""]):
            if word == "--language" or word.startswith("--language="):
                _keep_language(ctx, self.params[-1], word.partition("=")[2] or after)
        # Words too many are told of here, not by click.
        ctx.allow_extra_args = True
        with told(ctx):
            rest = super().parse_args(ctx, args)
        if ctx.args and not ctx.resilient_parsing:
            raise BadUsage("usage.too_much", words=" ".join(ctx.args), help=help_of(ctx))
        return rest


def _keep_language(context: click.Context, _: click.Parameter, wish: str | None) -> None:
    if wish is not None:
        from handslide.words.catalogues import known, languages

        if not known(wish):
            raise BadUsage("usage.language", wish=wish, known=tuple(languages()))
    context.meta[_LANGUAGE] = wish


def command(**kwargs: Any) -> Callable[[Command], click.Command]:
    """`click.command` with the option ``--language``."""
    return click.command(cls=LanguageCommand, **kwargs)


def speech_here(names: str | None = None) -> "Speech":
    """The speech of the command that runs; ``names``: how notes are named (None: the usual way)."""
    from handslide.words.catalogues import chosen_language
    from handslide.words.hints import TERMINAL
    from handslide.words.speech import speech

    wish = click.get_current_context().meta.get(_LANGUAGE)
    return speech(chosen_language(wish), names, TERMINAL)


def common(command: Command) -> Command:
    """Options of all commands that need a horn in tune."""
    for option in (
        json_option,
        click.option("--temp-c", type=float, metavar="°C",
                     help="Temperature of the air inside the horn. Default: that of the horn "
                     "file, 25 unless it was measured at another."),
        click.option("--a4", "a4_hz", default=440.0, show_default=True, metavar="HZ",
                     help="Tuning pitch."),
        click.option("--horn", default="tenor", show_default=True, metavar="NAME_OR_FILE",
                     help=HORN_HELP),
    ):  # fmt: skip
        command = option(command)
    return command


def sound_options(command: Any) -> Any:
    """Options of all commands that make a sound file."""
    for option in (
        json_option,
        click.option("--force", is_flag=True, help="Replace a file that exists."),
        click.option("--bits", type=click.Choice(["16", "24"]), default="16", show_default=True,
                     help="Of WAV and FLAC."),
        click.option("--level", "level_lufs", default=CALM_LUFS, show_default=True, metavar="LUFS",
                     help=f"Loudness, from {SOFTEST_LUFS:g} to {LOUDEST_LUFS:g}; the tone gets "
                     "brighter with it."),
        click.option("--a4", "a4_hz", default=440.0, show_default=True, metavar="HZ",
                     help="Tuning pitch."),
    ):  # fmt: skip
        command = option(command)
    return command


def limits(command: Command) -> Command:
    """Options for what a student can use."""
    for option in (
        click.option("--valves", metavar="NAMES",
                     help="Valves that the student has learned, such as F or F,Gb; 'none' for "
                     "none. Default: all that the horn has."),
        click.option("--reach", type=float, metavar="POSITION",
                     help="Furthest position that the student reaches at ease, such as 6."),
        click.option("--marks", default="", metavar="STYLE",
                     help=f"How marks are written: words out of {', '.join(VALVE_SIGNS)} (valve "
                     f"sign), {', '.join(COUNTINGS)} (which scale positions count along), "
                     f"{', '.join(NUMERALS)}."),
    ):  # fmt: skip
        command = option(command)
    return command


def profile_option(command: Command) -> Command:
    """The option for what a route is chosen by."""
    return click.option(
        "--profile", metavar="NAME_OR_FILE",
        help="What to choose by: classical, beginner, bass, jazz, one of your own by its name, or "
        "a profile file. Default: bass for a horn with two valves, else classical.",
    )(command)  # fmt: skip


def setup_from(valves: str | None = None, **options: Any) -> Any:
    """A setup from the options above."""
    from handslide.jobs.setup import make_setup, parse_learned

    return make_setup(learned=parse_learned(valves), **options)


def out(result: Any, as_json: bool) -> None:
    """Print a result: JSON for machines, text for people."""
    if as_json:
        tell_json(result)
    else:
        tell(str(result))
