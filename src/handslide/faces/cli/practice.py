"""The commands drill and lesson."""

from pathlib import Path
from typing import Any

import click

from handslide.faces.cli.shared import (
    common,
    force_option,
    limits,
    out,
    paper_option,
    part_option,
    setup_from,
    student_option,
    taste,
    tempo_option,
    voice_option,
)

_KINDS = (
    "scales", "arpeggios", "thirds", "register", "alternates", "accuracy", "glissandi", "slurs",
    "intonation", "worst",
)  # fmt: skip
_LEVELS = ("first-year", "second-year", "advanced")
_LEVEL = click.option(
    "--level",
    type=click.Choice(_LEVELS),
    default="second-year",
    show_default=True,
    help="What a student can do: range, keys, rhythms, tempo, and reach at most.",
)
_SEED = click.option(
    "--seed",
    type=click.IntRange(0, 10**9),
    default=1,
    show_default=True,
    metavar="NUMBER",
    help="Another number makes another sheet, the same number the same sheet.",
)
_CLEF = click.option(
    "--clef",
    type=click.Choice(["bass", "tenor", "alto", "treble", "treble-bb"]),
    help="Default: what the horn is usually read in.",
)
_REPORT = click.option(
    "--from",
    "report",
    type=click.Path(path_type=Path),
    metavar="REPORT.json",
    help="What 'handslide listen --json' or 'handslide progress --json' printed: the notes that "
    "went worst.",
)


@click.command()
@click.argument("kind", type=click.Choice(_KINDS), metavar="KIND")
@click.option("--key", metavar="TONIC", help="Tonic of the scales, such as Bb or F#.")
@click.option(
    "--scale",
    metavar="NAME",
    help="Which scale, such as major, harmonic-minor, dorian, chromatic, blues, minor-arpeggio.",
)
@click.option("--range", "span", metavar="LOW-HIGH", help="Sounding notes, such as E2-F4.")
@click.option(
    "--rhythm", metavar="NAME", help="Such as quarters, eighths, dotted, triplets, syncopated."
)
@click.option(
    "--articulation",
    metavar="NAME",
    help="Such as tongued, slur-2, slur-4, slur-2-tongue-2, staccato, legato.",
)
@click.option(
    "--direction",
    type=click.Choice(["up", "down", "up-and-down", "down-and-up"]),
    help="Of scales.",
)
@click.option("--octaves", type=click.IntRange(1, 4), help="Of scales. Default: one.")
@click.option(
    "--valve-register", is_flag=True, help="Scales begin or end on a note that only a valve gives."
)
@click.option("--bars", type=int, metavar="NUMBER", help="About how long an exercise is.")
@click.option(
    "--exercises", "pieces", type=int, default=4, show_default=True, metavar="NUMBER",
    help="How many exercises at most.",
)  # fmt: skip
@click.option("--tempo", "tempo_qpm", type=float, metavar="QPM", help="Quarter notes a minute.")
@_LEVEL
@_SEED
@_CLEF
@paper_option
@student_option
@_REPORT
@click.option(
    "-o",
    "--output",
    "folder",
    type=click.Path(path_type=Path),
    metavar="DIR",
    default=Path(),
    help="Folder for the results. Default: this one.",
)
@click.option("--no-pdf", is_flag=True, help="Write the marked score only.")
@force_option
@taste
@limits
@common
def drill(
    kind: str,
    span: str | None,
    seed: int,
    report: Path | None,
    folder: Path,
    no_pdf: bool,
    force: bool,
    as_json: bool,
    **options: Any,
) -> None:
    """Make a sheet of exercises for this horn and student, with the places over the notes.

    KIND is scales, arpeggios, thirds (broken ones), register (the notes that a valve brings),
    alternates (one figure in two places), accuracy (shifts of the slide), glissandi, slurs (natural
    ones and legato tongue), intonation (against a drone) or worst (the notes that went worst in a
    report, with --from). Writes KIND.musicxml and KIND.pdf.

    Rest when something hurts, and never stretch for a position.
    """
    from handslide.faces.cli.show_practice import drill_text
    from handslide.ground.errors import BadUsage
    from handslide.jobs.practice.drill import DrillWishes, make_drill, write_drill

    keys = (
        "level", "key", "scale", "rhythm", "articulation", "direction", "octaves", "valve_register",
        "bars", "pieces", "tempo_qpm", "clef", "paper", "student",
    )  # fmt: skip
    values = {key: options.pop(key) for key in keys}
    setup = setup_from(**options)
    if (kind == "worst") != (report is not None):
        raise BadUsage("the drill worst needs a report with --from, and no other drill takes one")
    faults = _faults(report, setup)
    low, high = _ends(span)
    wishes = DrillWishes(**values, low=low, high=high, faults=faults)
    sheet = make_drill(setup, kind, wishes, seed)
    files = write_drill(sheet, folder, with_pdf=not no_pdf, force=force)
    if as_json:
        out({**sheet.json(), "files": [str(file) for file in files]}, as_json)
    else:
        out(drill_text(sheet, files), as_json)


def _faults(report: Path | None, setup: Any) -> Any:
    if report is None:
        return ()
    # What reads reports knows of hearing, which takes long to load.
    from handslide.jobs.practice.faults import read_faults

    return read_faults(report, setup)


def _ends(span: str | None) -> tuple[str | None, str | None]:
    from handslide.ground.errors import BadUsage

    if span is None:
        return None, None
    low, dash, high = span.partition("-")
    if not dash or not low.strip() or not high.strip():
        raise BadUsage(f"{span!r} isn't a range: write two notes with a dash, such as E2-F4")
    return low.strip(), high.strip()


@click.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="PART")
@part_option
@voice_option
@click.option(
    "--drill",
    "drills",
    multiple=True,
    type=click.Choice(_KINDS),
    help="A drill of the week. Can be given again. Default: what suits horn and student.",
)
@tempo_option
@_LEVEL
@_SEED
@_CLEF
@paper_option
@student_option
@_REPORT
@click.option(
    "-o",
    "--output",
    "target",
    type=click.Path(path_type=Path),
    metavar="FILE.pdf",
    help="The sheet to write. Default: PART-lesson.pdf beside PART.",
)
@force_option
@taste
@limits
@common
def lesson(
    file: Path,
    drills: tuple[str, ...],
    seed: int,
    report: Path | None,
    target: Path | None,
    force: bool,
    as_json: bool,
    **options: Any,
) -> None:
    """Make a lesson sheet: warm-up, drills of the week, hard spots of PART, a log to tick.

    The hard spots are found from the part's own route: quickest moves, changes of valve, unusual
    places. With --from the notes that went worst are practised too. PART itself stays as it is.

    Rest when something hurts, and never stretch for a position.
    """
    from handslide.faces.cli.show_practice import lesson_text
    from handslide.ground.errors import BadUsage
    from handslide.jobs.practice.lesson import LessonWishes, lesson_file

    keys = ("level", "part", "voice", "tempo_qpm", "student", "paper", "clef")
    values = {key: options.pop(key) for key in keys}
    setup = setup_from(**options)
    if "worst" in drills and report is None:
        raise BadUsage("the drill worst needs a report with --from")
    faults = _faults(report, setup)
    wishes = LessonWishes(**values, drills=drills or None, faults=faults)
    made, pdf = lesson_file(file, setup, wishes, seed=seed, target=target, force=force)
    if as_json:
        out({**made.json(), "files": [str(pdf)]}, as_json)
    else:
        out(lesson_text(made, pdf), as_json)
