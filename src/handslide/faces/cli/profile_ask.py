"""The command that asks which of two ways a teacher would write."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handslide.faces.cli.markoptions import reading_options
from handslide.faces.cli.profile_options import base_option, part_wishes, stand_from
from handslide.faces.cli.shared import (
    command,
    common,
    force_option,
    limits,
    out,
    speech_here,
    tempo_option,
)
from handslide.faces.cli.terminal import is_asked, tell, typed
from handslide.ground.errors import BadUsage

if TYPE_CHECKING:
    from handslide.jobs.profile.ask import Asking, Picked
    from handslide.words.speech import Speech

ANSWERS: "dict[str, Picked]" = {"1": 1, "2": 2, "neither": 0, "0": 0}
_STOP = ("q", "Q")


@command()
@click.argument("name")
@click.argument("file", type=click.Path(path_type=Path), metavar="PART")
@click.option(
    "--answer",
    type=click.Choice(["1", "2", "neither"]),
    help="Answer the question that is asked now, and end.",
)
@click.option(
    "-n",
    "--count",
    type=click.IntRange(1, 100),
    default=5,
    show_default=True,
    help="How many questions to ask.",
)
@click.option(
    "-o",
    "--output",
    "picture",
    type=click.Path(path_type=Path),
    metavar="FILE.png",
    help="Picture of both ways. Default: NAME.question.png beside the profile, for each question.",
)
@force_option
@base_option
@reading_options
@tempo_option
@limits
@common
def ask(
    name: str,
    file: Path,
    answer: str | None,
    count: int,
    picture: Path | None,
    force: bool,
    base: str | None,
    as_json: bool,
    **options: Any,
) -> None:
    """Ask which of two ways you would write, and learn from the answers.

    Each question is drawn as a picture, with both ways' positions over the notes: say 1, 2 or
    neither. The question is the one whose answer says most about your choices in PART. With --json
    the question is printed, and --answer answers it.
    """
    from handslide.faces.cli.show_profile import learned_text
    from handslide.jobs.profile.ask import Asking

    say, wishes, marks = speech_here(), part_wishes(options), options["marks"]
    asking = Asking.begin(name, file, stand_from(options), wishes, say, base=base, marks=marks)
    if as_json or answer is not None:
        _once(say, asking, answer, picture, force=force, as_json=as_json)
        return
    if not is_asked():
        raise BadUsage("profile.no_terminal")
    learned, number = None, 0
    while number < count and (picked := _ask(say, asking, picture, force=force or number > 0)):
        learned, number = asking.answer(ANSWERS[picked]), number + 1
    asking.tidy()
    if learned is not None:
        out(learned_text(say, learned, asking.style), as_json)


def _once(
    say: "Speech",
    asking: "Asking",
    answer: str | None,
    picture: Path | None,
    *,
    force: bool,
    as_json: bool,
) -> None:
    """Print the question, or answer it."""
    from handslide.faces.cli.show_profile import learned_text
    from handslide.jobs.profile.profilejson import learned_json, question_json
    from handslide.words.learnt import NOTHING_TO_ASK

    style, asked = asking.style, asking.question
    shown = None if asked is None else question_json(asked, style)
    files = []
    if picture is not None and asked is not None:
        files.append(str(asking.draw(say, picture, force=force)))
    if answer is None or asked is None:
        if as_json:
            out({"name": asking.kept.name, "question": shown, "files": files}, as_json)
        else:
            out(say(NOTHING_TO_ASK), as_json)
        return
    learned = asking.answer(ANSWERS[answer])
    if as_json:
        told = learned_json(say, learned, style)
        out({**told, "question": shown, "picked": ANSWERS[answer]}, as_json)
    else:
        out(learned_text(say, learned, style), as_json)


def _ask(say: "Speech", asking: "Asking", picture: Path | None, *, force: bool) -> str | None:
    """Ask a question on the terminal; the answer, None to stop."""
    from handslide.faces.cli.show_profile import question_text
    from handslide.words import learnt as words

    asked = asking.question
    if asked is None:
        tell(say(words.NOTHING_TO_ASK))
        return None
    path = asking.draw(say, picture, force=force)
    tell(f"{question_text(say, asking.setup, asked)}\n{say(words.PICTURE, path=path)}")
    while (line := typed(say(words.PROMPT))) is not None and line not in _STOP:
        if line in ANSWERS:
            return line
        tell(say(words.NOT_AN_ANSWER))
    tell(say(words.STOPPED))
    return None
