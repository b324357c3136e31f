"""The listen command."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handslide.faces.cli.bar import progress_bar
from handslide.faces.cli.markoptions import reading_options
from handslide.faces.cli.shared import (
    HORN_HELP,
    command,
    force_option,
    json_option,
    limits,
    out,
    paper_option,
    profile_option,
    setup_from,
    speech_here,
)
from handslide.ground.errors import BadUsage
from handslide.ground.pitch import Pitch, parse_pitch

if TYPE_CHECKING:
    from handslide.jobs.hear.follow import HeardPart
    from handslide.words.speech import Speech


@command()
@click.argument("take", type=click.Path(path_type=Path), metavar="TAKE")
@click.option("--a4", "a4_hz", type=float, metavar="HZ", help="Tuning pitch. Default: 440.")
@click.option("--estimate-a4", is_flag=True, help="Estimate the tuning pitch from the notes.")
@click.option(
    "--csv",
    "table",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write the notes as a table, too.",
)
@click.option(
    "--score",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Follow this part: say of each of its notes how it was played and where the slide was. "
    "Places written in it are kept, the others are chosen.",
)
@reading_options
@click.option(
    "--pdf",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="With --score: print the report as a page for the student.",
)
@click.option(
    "--handout",
    type=click.Path(path_type=Path),
    metavar="PAGE.html",
    help="With --score: give the report away as one file: what was heard over the notes, and the "
    "slide as it should go beside the slide as it went.",
)
@click.option(
    "--with-recording",
    is_flag=True,
    help="With --handout: the recording itself is in the file, too; only with --consent.",
)
@click.option(
    "--consent",
    is_flag=True,
    help="All who can be heard agree that the recording is given away; for minors their parents "
    "or guardians do, and your local rules allow it.",
)
@click.option(
    "--drone",
    metavar="NOTE",
    help="The held note that the take was played to: say how far each note was from the just "
    "interval, and how fast it beat.",
)
@click.option("--student", default="", metavar="NAME", help="Name to print on the page.")
@paper_option
@click.option("--horn", default="tenor", show_default=True, metavar="NAME_OR_FILE", help=HORN_HELP)
@click.option(
    "--temp-c",
    default=25.0,
    show_default=True,
    metavar="°C",
    help="Temperature of the air inside the horn.",
)
@profile_option
@limits
@force_option
@json_option
def listen(
    take: Path,
    a4_hz: float | None,
    estimate_a4: bool,
    table: Path | None,
    score: Path | None,
    force: bool,
    as_json: bool,
    **options: Any,
) -> None:
    """Hear the notes of a recording: how high each was, in cents, and how sure that is.

    With --score, follow a marked part: what was wrong, missed or played again, where the slide was
    and which habit is at fault.

    TAKE is WAV, FLAC, OGG, MP3 or what phones record (M4A), of one player. Nothing leaves this
    machine. Before you record minors, follow your local rules and get consent.
    """
    from handslide.faces.cli.show_listen import take_text
    from handslide.jobs.hear.listen import listen_file, take_json, write_csv

    if estimate_a4 and a4_hz is not None:
        raise BadUsage("usage.two_a4")
    wanted = None if estimate_a4 else 440.0 if a4_hz is None else a4_hz
    if options["handout"] is None and (options["with_recording"] or options["consent"]):
        raise BadUsage("handout.no_recording")
    if score is not None:
        _follow(take, score, wanted, table, options, force=force, as_json=as_json)
        return
    if options["pdf"] is not None:
        raise BadUsage("usage.pdf_without_score")
    if options["handout"] is not None:
        raise BadUsage("handout.no_score")
    drone = _drone(options)
    say = speech_here()
    with progress_bar() as progress:
        heard = listen_file(take, a4_hz=wanted, closely=True, progress=progress)
    if table is not None:
        write_csv(heard, table, force=force)
    out(take_json(heard, say, drone) if as_json else take_text(heard, say, drone), as_json)


def _drone(options: dict[str, Any]) -> Pitch | None:
    """The drone that was asked for, taken out of the options."""
    name = options.pop("drone")
    return None if name is None else parse_pitch(name)


def _follow(
    take: Path,
    score: Path,
    a4_hz: float | None,
    table: Path | None,
    options: dict[str, Any],
    *,
    force: bool,
    as_json: bool,
) -> None:
    """Follow a part and write what was asked for."""
    from handslide.faces.cli.show_listen import follow_text
    from handslide.jobs.hear.follow import follow_file, follow_json
    from handslide.jobs.partwishes import PartWishes
    from handslide.words.listing import WRITTEN

    pdf, student, paper = (options.pop(name) for name in ("pdf", "student", "paper"))
    given = options.pop("handout"), options.pop("with_recording"), options.pop("consent")
    _check_handout(*given, force=force)
    keys = ("part", "voice", "small_notes", "sounds")
    drone = _drone(options)
    wishes = PartWishes(**{key: options.pop(key) for key in keys})
    say = speech_here()

    def setup_at(hz: float) -> Any:
        return setup_from(a4_hz=hz, **options)

    with progress_bar() as progress:
        heard = follow_file(
            take, score, setup_at, wishes, say, a4_hz=a4_hz, table=table, pdf=pdf,
            student=student, drone=drone, paper=paper, force=force, progress=progress,
        )  # fmt: skip
    report = heard.report
    if given[0] is not None:
        _hand_out(heard, student, say, take, *given, force=force)
    files = [path for path in (table, pdf, given[0]) if path is not None]
    if as_json:
        out(follow_json(report, say) | {"files": [str(path) for path in files]}, as_json)
    else:
        lines = [
            follow_text(report, say, kept=given[1]),
            *(say(WRITTEN, file=str(path)) for path in files),
        ]
        out("\n".join(lines), as_json)


def _check_handout(
    target: Path | None, with_recording: bool, consent: bool, *, force: bool
) -> None:
    """Refuse before anything is heard what would be refused afterwards."""
    from handslide.jobs.handout.handout import check_target

    if target is None:
        return
    if with_recording and not consent:
        raise BadUsage("handout.no_consent")
    check_target(target, force=force)


def _hand_out(
    heard: "HeardPart",
    student: str,
    say: "Speech",
    take: Path,
    target: Path,
    with_recording: bool,
    consent: bool,
    *,
    force: bool,
) -> None:
    """Write the report as one file that is given away."""
    from handslide.jobs.handout.handout import write_made
    from handslide.jobs.handout.take import followed_part, take_handout

    part = followed_part(heard.score, heard.followed, student)
    recording = take if with_recording else None
    made = take_handout(part, heard.report, say, recording=recording, consent=consent)
    write_made(made, target, force=force)
