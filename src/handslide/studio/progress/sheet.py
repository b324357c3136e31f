"""The sheet for parents: progress in plain words for somebody who plays nothing."""

from handslide.ground.papers import DEFAULT_PAPER
from handslide.instrument.progress.judge import GroupProgress
from handslide.sheets.frame import Head
from handslide.sheets.progress import MOST_SERIES, ProgressPage, progress_pages
from handslide.sheets.shapes import Sheet
from handslide.studio.progress.findings import cautions, needs_found, tuning_finding
from handslide.studio.progress.progress import NextThing, StudentProgress
from handslide.studio.progress.view import (
    ends_of_time,
    main_places,
    picture_texts,
    series_of,
    strip_of,
)
from handslide.words import parents
from handslide.words.horns import horn_line
from handslide.words.progress import group_heading, group_words, practise_what, span_words
from handslide.words.speech import Speech

_MOST_BETTER, _MOST_WORSE = 3, 2


def progress_sheet(report: StudentProgress, say: Speech, paper: str = DEFAULT_PAPER) -> Sheet:
    """The sheet of a student's progress, as ``say`` speaks."""
    title = say(parents.TITLE, name=report.student.name)
    lines = [span_words(say, report.first_day, report.last_day, report.takes, len(report.rows))]
    if report.setup is not None:
        lines.append(horn_line(say, report.setup.horn))
    legend = (("2, 3 …", say(parents.LEGEND)),)
    head = Head(title, tuple(lines), paper, legend=legend if report.takes else ())
    return Sheet(title, progress_pages(head, _content(report, say)))


def _content(report: StudentProgress, say: Speech) -> ProgressPage:
    changed = report.changed("improved") or report.changed("worse")
    return ProgressPage(
        summary=_summary(report, say),
        better_heading=say(parents.BETTER if changed else parents.TOO_EARLY),
        better=_better(report, say),
        next_heading=say(parents.NEXT),
        next=_next(report, say),
        helping_heading=say(parents.HELPING),
        helping=tuple(("", say(text)) for text in parents.HELP) if report.next else (),
        series=tuple(
            series_of(report, place, group_heading(say, place), _said(place, say))
            for place in main_places(report, MOST_SERIES)
        ),
        series_note=say(parents.SERIES_NOTE),
        strip=strip_of(report, say),
        strip_note=say(parents.STRIP_NOTE),
        pictures=picture_texts(say),
        days=ends_of_time(report, say),
        closing=(*map(say.fact, cautions(report)), say(parents.SAFE)),
    )


def _summary(report: StudentProgress, say: Speech) -> str:
    name = report.student.name
    if not report.takes:
        return parents.empty_words(say, name)
    tried, right = report.progress.of_kind("all")[0].scored
    improved, worse = (len(report.changed(verdict)) for verdict in ("improved", "worse"))
    played = parents.played_words(say, name, right, tried, report.in_tune)
    counted = parents.count_words(say, improved, worse, report.progress.tests)
    return " ".join(part for part in (played, counted) if part)


def _better(report: StudentProgress, say: Speech) -> tuple[tuple[str, str], ...]:
    rows = [
        (group_heading(say, group), parents.change_sentence(say, change))
        for group, change in report.changed("improved")[:_MOST_BETTER]
    ]
    for group, change in report.changed("worse")[:_MOST_WORSE]:
        heading = say(parents.NOT_BETTER, group=group_words(say, group))
        rows.append((heading, parents.change_sentence(say, change)))
    if rows:
        return tuple(rows)
    needs = tuple(("", say.fact(need)) for need in needs_found(report))
    return needs or (("", say(parents.NO_CHANGE)),)


def _next(report: StudentProgress, say: Speech) -> tuple[tuple[str, str], ...]:
    rows = [_item(thing, say) for thing in report.next]
    tuning = tuning_finding(report)
    if tuning is not None:
        rows.append(("", say.fact(tuning)))
    if not rows:
        rows.append(("", say(parents.NOTHING_STANDS_OUT if report.takes else parents.FIRST_TAKE)))
    return tuple(rows)


def _item(thing: NextThing, say: Speech) -> tuple[str, str]:
    found = thing.found
    what = practise_what(say, found)
    said = [say.sentence(say.fact(one)) for one in (found.reason, found.how)]
    if thing.where:
        first = thing.where[0]
        values = {"count": first.count, "title": first.title, "measure": first.measure}
        said.append(say(parents.WHERE, **values))
    return what if found.group.kind == "note" else say.capital(what), " ".join(said)


def _said(place: GroupProgress, say: Speech) -> str:
    change = place.change("bias")
    if change is None or change.verdict == "unclear":
        return ""
    return say.named("verdict", change.verdict)
