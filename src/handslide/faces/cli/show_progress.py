"""Progress of a student as plain text for a terminal."""

from handslide.faces.cli.show import listed, table
from handslide.instrument.progress.judge import GroupProgress
from handslide.studio.progress.progress import StudentProgress
from handslide.studio.progress.words import (
    cautions,
    change_words,
    need_words,
    span_words,
    tuning_words,
)


def progress_text(report: StudentProgress) -> str:
    """Progress for a terminal."""
    names = report.student.names
    better, worse = (
        [change_words(group, change, names) for group, change in report.changed(verdict)]
        for verdict in ("improved", "worse")
    )
    practice = [
        f"{item.practice.what}: {item.practice.why}; {item.practice.how}." for item in report.next
    ]
    rows = [_row(report, place) for place in report.progress.of_kind("place")]
    heads = ("place", "now", "slide", "spread", "right", "notes", "takes", "change")
    parts = [
        f"{report.student.name}\n{span_words(report)}",
        tuning_words(report) or "",
        table(rows, heads) if rows else "",
        listed("Better", better, "nothing that is sure"),
        listed("Worse", worse, "nothing that is sure") if worse else "",
        listed("Practise", practice, "nothing stands out"),
        "\n".join((*need_words(report), *cautions(report))),
    ]
    return "\n\n".join(part for part in parts if part)


def _row(report: StudentProgress, place: GroupProgress) -> tuple[str, ...]:
    bias, slide, change = place.bias, place.slide_mm, place.change("bias")
    now = ""
    if bias is not None:
        now = f"{bias.value:+.0f}" + (f" ± {bias.half_width:.0f}" if bias.df > 0 else "")
    return (
        report.mark_of(place),
        now,
        "" if slide is None else f"{slide:+.0f} mm",
        "" if place.spread is None else f"± {place.spread:.0f}",
        f"{place.scored[1]} of {place.scored[0]}" if place.scored[0] else "",
        str(place.notes),
        str(place.takes),
        "too few takes" if change is None else change.verdict,
    )
