"""Progress of a student as plain text for a terminal."""

from handslide.faces.cli.show import listed, table
from handslide.instrument.progress.judge import GroupProgress
from handslide.studio.progress.findings import cautions, needs_found, tuning_finding
from handslide.studio.progress.progress import StudentProgress
from handslide.words.progress import (
    BETTER,
    COLUMNS,
    NOTHING_STANDS_OUT,
    NOTHING_SURE,
    PRACTISE,
    RIGHT_OF,
    WORSE,
    changed_words,
    practise_words,
    span_words,
)
from handslide.words.speech import Speech


def progress_text(report: StudentProgress, say: Speech) -> str:
    """Progress for a terminal, as ``say`` speaks."""
    better, worse = (
        [changed_words(say, group, change) for group, change in report.changed(verdict)]
        for verdict in ("improved", "worse")
    )
    practice = [practise_words(say, thing.found) for thing in report.next]
    rows = [_row(report, place, say) for place in report.progress.of_kind("place")]
    span = span_words(say, report.first_day, report.last_day, report.takes, len(report.rows))
    tuning = tuning_finding(report)
    parts = [
        f"{report.student.name}\n{span}",
        "" if tuning is None else say.fact(tuning),
        table(rows, [say(column) for column in COLUMNS]) if rows else "",
        listed(say(BETTER), better, say(NOTHING_SURE)),
        listed(say(WORSE), worse, say(NOTHING_SURE)) if worse else "",
        listed(say(PRACTISE), practice, say(NOTHING_STANDS_OUT)),
        "\n".join(map(say.fact, (*needs_found(report), *cautions(report)))),
    ]
    return "\n\n".join(part for part in parts if part)


def _row(report: StudentProgress, place: GroupProgress, say: Speech) -> tuple[str, ...]:
    bias, slide, change = place.bias, place.slide_mm, place.change("bias")
    now = ""
    if bias is not None:
        now = say.spelled_number(bias.value, "+.0f")
        now += f" ± {say.number(bias.half_width, 0)}" if bias.df > 0 else ""
    tried, right = place.scored
    return (
        report.mark_of(place),
        now,
        "" if slide is None else f"{say.spelled_number(slide, '+.0f')} mm",
        "" if place.spread is None else f"± {say.number(place.spread, 0)}",
        say(RIGHT_OF, right=right, tried=tried) if tried else "",
        str(place.notes),
        str(place.takes),
        say.named("verdict", "few" if change is None else change.verdict),
    )
