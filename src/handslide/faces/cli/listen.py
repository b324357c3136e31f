"""The listen command."""

from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handslide.faces.cli.bar import progress_bar
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
    voice_option,
)
from handslide.ground.errors import BadUsage
from handslide.ground.pitch import from_midi

if TYPE_CHECKING:
    from handslide.sound.notes import HeardNote, HeardTake

_FEW = 3  # stretches left out for one reason that are told one by one


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
    "--part",
    "score",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Follow this part: say of each of its notes how it was played and where the slide was. "
    "Places written in it are kept, the others are chosen.",
)
@click.option("--part-name", metavar="NAME", help="Part of FILE by name, number or id.")
@voice_option
@click.option(
    "--pdf",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="With --part: print the report as a page for the student.",
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

    With --part, follow a marked part: what was wrong, missed or played again, where the slide was
    and which habit is at fault.

    TAKE is WAV, FLAC, OGG, MP3 or what phones record (M4A), of one player. Nothing leaves this
    machine. Before you record minors, follow your local rules and get consent.
    """
    from handslide.jobs.hear.listen import listen_file, take_json, write_csv

    if estimate_a4 and a4_hz is not None:
        raise BadUsage("--a4 gives the tuning pitch and --estimate-a4 asks for it: choose one")
    wanted = None if estimate_a4 else 440.0 if a4_hz is None else a4_hz
    if score is not None:
        _follow(take, score, wanted, table, options, force=force, as_json=as_json)
        return
    if options["pdf"] is not None:
        raise BadUsage("--pdf prints how a part was played: give the part with --part")
    with progress_bar() as progress:
        heard = listen_file(take, a4_hz=wanted, progress=progress)
    if table is not None:
        write_csv(heard, table, force=force)
    out(take_json(heard) if as_json else take_text(heard), as_json)


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
    from handslide.faces.cli.show_follow import follow_text
    from handslide.jobs.hear.follow import FollowOptions, follow_file, follow_json

    pdf = options.pop("pdf")
    wishes = FollowOptions(
        part=options.pop("part_name"),
        voice=options.pop("voice"),
        student=options.pop("student"),
        paper=options.pop("paper"),
    )

    def setup_at(hz: float) -> Any:
        return setup_from(a4_hz=hz, **options)

    with progress_bar() as progress:
        written = follow_file(
            take, score, setup_at, wishes, a4_hz=a4_hz, table=table, pdf=pdf, force=force,
            progress=progress,
        )  # fmt: skip
    files = [path for path in (table, pdf) if path is not None]
    if as_json:
        out(follow_json(written) | {"files": [str(path) for path in files]}, as_json)
    else:
        lines = [follow_text(written), *(f"written: {path}" for path in files)]
        out("\n".join(lines), as_json)


def take_text(take: "HeardTake") -> str:
    """The report of a take for people."""
    from handslide.jobs.hear.listen import PRIVACY

    origin = "estimated from the notes" if take.a4_estimated else "given"
    lines = [f"A4 = {take.a4_hz:.1f} Hz ({origin}); {take.length_s:.1f} s; cents are against equal "
             "temperament"]  # fmt: skip
    if take.notes:
        lines += ["", "note    start s   length s     cents    ±      spread  vibrato", ""]
        lines += [_note_line(note) for note in take.notes]
    lines += ["", *_left_out_lines(take)] if take.left_out else []
    lines += ["", *take.warnings] if take.warnings else []
    return "\n".join([*lines, "", PRIVACY])


def _note_line(note: "HeardNote") -> str:
    vibrato = "-"
    if note.vibrato_hz is not None and note.vibrato_cents is not None:
        vibrato = f"±{note.vibrato_cents:.0f} at {note.vibrato_hz:.1f} Hz"
    return (
        f"{from_midi(note.midi).pretty:<6}{note.start_s:9.2f}{note.end_s - note.start_s:11.2f}"
        f"{note.cents:+10.1f}  ± {max(note.cents_se, 0.1):<6.1f}{note.spread_cents:6.1f}  {vibrato}"
    )


def _left_out_lines(take: "HeardTake") -> list[str]:
    counts = Counter(row.why for row in take.left_out)
    lines = ["left out:"]
    for why, count in counts.most_common():
        rows = [row for row in take.left_out if row.why == why]
        if count <= _FEW:
            where = ", ".join(f"{row.start_s:.2f} to {row.end_s:.2f} s" for row in rows)
        else:
            length = sum(row.end_s - row.start_s for row in rows)
            where = f"{count} times between {rows[0].start_s:.2f} and {rows[-1].end_s:.2f} s, "
            where += f"{length:.2f} s in all"
        lines.append(f"  {why}: {where}")
    return lines
