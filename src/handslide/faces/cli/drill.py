"""The command drill."""

from pathlib import Path
from typing import Any

import click

from handslide.drills.kinds import DIRECTIONS, DRILLS, MOST_OCTAVES
from handslide.faces.cli.practice import (
    check_report,
    clef_option,
    drones_option,
    faults_of,
    handout_option,
    level_option,
    range_ends,
    report_option,
    seed_option,
)
from handslide.faces.cli.shared import (
    command,
    common,
    force_option,
    limits,
    out,
    paper_option,
    profile_option,
    setup_from,
    speech_here,
    student_option,
)
from handslide.ground.errors import BadUsage
from handslide.instrument.markstyle import SHOWN_ON_SHEETS
from handslide.words.names.practice import NAMES

_KINDS = "\n".join(f"  {name:<15}{NAMES['drill'][name].text}" for name in DRILLS)


@command(epilog=f"\b\nKinds:\n{_KINDS}")
@click.argument("kind", metavar="KIND")
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
    type=click.Choice(DIRECTIONS),
    help="Of scales.",
)
@click.option("--octaves", type=click.IntRange(1, MOST_OCTAVES), help="Of scales. Default: one.")
@click.option(
    "--valve-register", is_flag=True, help="Scales begin or end on a note that only a valve gives."
)
@click.option("--bars", type=int, metavar="NUMBER", help="About how long an exercise is.")
@click.option(
    "--exercises", "pieces", type=int, default=4, show_default=True, metavar="NUMBER",
    help="How many exercises at most.",
)  # fmt: skip
@click.option(
    "--teacher-horn", metavar="HORN",
    help="What plays the teacher's part of duets. Default: the same horn.",
)  # fmt: skip
@click.option(
    "--show",
    type=click.Choice(SHOWN_ON_SHEETS),
    default=SHOWN_ON_SHEETS[0],
    show_default=True,
    help="Which notes get a mark: all, those away from their usual place, each note's first time "
    "and its changes, or none (to read by oneself).",
)
@click.option("--tempo", "tempo_qpm", type=float, metavar="QPM", help="Quarter notes a minute.")
@level_option
@seed_option
@clef_option
@paper_option
@student_option
@report_option
@click.option(
    "-o",
    "--output",
    "folder",
    type=click.Path(path_type=Path),
    metavar="DIR",
    default=Path(),
    help="Folder for the results. Default: this one.",
)
@drones_option
@handout_option
@click.option("--no-pdf", is_flag=True, help="Write the marked score only.")
@force_option
@profile_option
@limits
@common
def drill(
    kind: str,
    span: str | None,
    seed: int,
    report: Path | None,
    folder: Path,
    drones: str | None,
    handout: bool,
    no_pdf: bool,
    force: bool,
    as_json: bool,
    **options: Any,
) -> None:
    """Make a sheet of exercises for this horn and student, with the places over the notes.

    KIND is one of the list below; trouble-spots are the notes that went worst in a report, given
    with --from. It may be a file of your own exercises, see docs/exercises.md. Writes
    KIND.musicxml and KIND.pdf; of exercises over a drone the drones, too; with --handout
    KIND.html.

    Rest when something hurts, and never stretch for a position.
    """
    from handslide.jobs.ahead import start_engraver

    if handout or not no_pdf:
        start_engraver()
    from handslide.faces.cli.show_practice import drill_text
    from handslide.jobs.handout.exercises import drill_handout
    from handslide.jobs.handout.handout import HandoutWishes, page_beside, write_page
    from handslide.jobs.mark.report import found_json
    from handslide.jobs.practice.drill import DrillWishes, make_drill, write_drill
    from handslide.jobs.practice.drilldrones import NONE, drone_paths, write_drones

    keys = (
        "level", "key", "scale", "rhythm", "articulation", "direction", "octaves", "valve_register",
        "bars", "pieces", "tempo_qpm", "clef", "paper", "student", "show", "teacher_horn",
    )  # fmt: skip
    values = {key: options.pop(key) for key in keys}
    setup = setup_from(**options)
    check_report((kind,), report)
    if report is not None and not (kind in DRILLS and DRILLS[kind].from_report):
        raise BadUsage("usage.report_unused", drill=kind)
    faults = faults_of(report, setup)
    low, high = range_ends(span)
    wishes = DrillWishes(**values, low=low, high=high, faults=faults)
    say = speech_here()
    sheet = make_drill(setup, kind, wishes, seed)
    form = NONE if drones is None and no_pdf else drones
    sounds = drone_paths(sheet, sheet.kind, folder, form, force=force)
    page = page_beside(folder / f"{sheet.kind}.pdf", force=force) if handout else None
    files, found = write_drill(sheet, folder, say, with_pdf=not no_pdf, force=force)
    write_drones(sheet, sheet.kind, sounds, force=force)
    files += sounds
    if page is not None:
        files.append(write_page(drill_handout(sheet, HandoutWishes(), say), page, force=force))
    if as_json:
        told = {
            "warnings": [found_json(say, row) for row in found],
            "files": [str(file) for file in files],
        }
        out(sheet.json(say) | told, as_json)
    else:
        out(drill_text(say, sheet, files, found), as_json)
