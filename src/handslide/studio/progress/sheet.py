"""The sheet for parents: progress in plain words for somebody who plays nothing."""

from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.ground.papers import DEFAULT_PAPER
from handslide.instrument.marks import valve_words
from handslide.instrument.progress.judge import Change, GroupProgress
from handslide.sheets.frame import Head
from handslide.sheets.progress import MOST_SERIES, ProgressPage, progress_pages
from handslide.sheets.shapes import Sheet
from handslide.studio.progress.progress import NextThing, StudentProgress
from handslide.studio.progress.view import main_places, series_of, strip_of
from handslide.studio.progress.words import (
    cautions,
    group_words,
    high_low,
    need_words,
    practice_of,
    span_words,
    tuning_words,
    why_words,
)

_MOST_BETTER = 3
_HELP = (
    "Ten minutes a day do more than an hour on Sunday. Listen to one of these notes at the "
    "beginning and at the end, ask which was easier, and praise what got better.",
    "A drone is a long, soft tone that a note is held against. Two tones that nearly agree waver: "
    "these are the beats. When they stop, the note is in tune.",
)
_SAFE = (
    "Far positions and long practice can hurt, above all a growing player: rest when something "
    "hurts. Play drones and recordings softly, above all on headphones. This sheet holds no "
    "recordings."
)
_SERIES_NOTE = (
    "Each dot is a take: above the line it was too high, below it too low; the thin line through "
    "it shows how far its notes lay apart. Inside the grey band most listeners hear no "
    "difference. A semitone, the smallest step on a piano, is 100 cents on this scale."
)
_STRIP_NOTE = (
    "The slide, drawn to scale: the grey strokes are where the notes lie, the dots where they were "
    "played in the last takes, the bars how much that varied."
)
_VERDICTS = {"improved": "better", "worse": "further off", "steady": "as before", "unclear": ""}


def progress_sheet(report: StudentProgress, paper: str = DEFAULT_PAPER) -> Sheet:
    """The sheet of a student's progress."""
    title = f"Progress: {report.student.name}"
    lines = [span_words(report)]
    if report.setup is not None:
        lines.append(report.setup.horn_line)
    legend = (("2, 3 …", "slide position: 1st is closed, 7th is furthest out"),)
    head = Head(title, tuple(lines), paper, legend=legend if report.takes else ())
    return Sheet(title, progress_pages(head, _content(report)))


def _content(report: StudentProgress) -> ProgressPage:
    series = tuple(
        series_of(report, place, _heading(place), _said(place))
        for place in main_places(report, MOST_SERIES)
    )
    return ProgressPage(
        summary=_summary(report),
        better_heading=_better_heading(report),
        better=_better(report),
        next_heading="What comes next",
        next=_next(report),
        helping_heading="How to help",
        helping=tuple(("", text) for text in _HELP) if report.next else (),
        series=series,
        series_note=_SERIES_NOTE,
        strip=strip_of(report, _lane),
        strip_note=_STRIP_NOTE,
        days=_days(report),
        closing=(*cautions(report), _SAFE),
    )


def _summary(report: StudentProgress) -> str:
    name = report.student.name
    if not report.takes:
        return f"{name} has no takes yet: with the first recording this sheet begins to fill."
    everything = report.progress.of_kind("all")[0]
    said = []
    tried, right = everything.scored
    if tried:
        said.append(f"{name} played {right} of {tried} notes right in the last takes")
    if report.in_tune is not None:
        clean = round(10 * report.in_tune)
        said.append(f"about {clean} in 10 sound in tune to a listener")
    first = "; ".join(said) + "." if said else ""
    improved, worse = (len(report.changed(verdict)) for verdict in ("improved", "worse"))
    if report.progress.tests == 0:
        second = "It is too early to say what changes."
    elif improved + worse == 0:
        second = "No change is sure yet: small steps take many takes to show."
    else:
        second = f"Surely better: {_things(improved)}; surely worse: {_things(worse)}."
    return " ".join(part for part in (first, second) if part)


def _things(count: int) -> str:
    return "nothing" if count == 0 else "one thing" if count == 1 else f"{count} things"


def _better_heading(report: StudentProgress) -> str:
    changed = report.changed("improved") or report.changed("worse")
    return "What got better" if changed else "What changed: too early to tell"


def _better(report: StudentProgress) -> tuple[tuple[str, str], ...]:
    names = report.student.names
    rows = [
        (_capital(group_words(group, names)), _told(change) + ".")
        for group, change in report.changed("improved")[:_MOST_BETTER]
    ]
    for group, change in report.changed("worse")[:2]:
        rows.append((f"Not better: {group_words(group, names)}", _told(change) + "."))
    if rows:
        return tuple(rows)
    return tuple(("", text) for text in need_words(report)) or (
        ("", "Everything is as it was, as far as a listener can hear."),
    )


def _told(change: Change) -> str:
    early, late = change.early, change.late
    if change.measure == "bias":
        near = abs(late) < IN_TUNE_CENTS <= abs(early)
        end = ": most listeners don't hear that any more" if near else ""
        return f"At first {high_low(early)}, now {high_low(late)}{end}"
    if change.measure == "spread":
        way = "Steadier" if late < early else "Less steady"
        return f"{way}: the notes lie within ±{late:.0f} cents, before within ±{early:.0f}"
    return f"{100 * late:.0f} of 100 notes right, before {100 * early:.0f}"


def _next(report: StudentProgress) -> tuple[tuple[str, str], ...]:
    rows = [_item(report, thing) for thing in report.next]
    tuning = tuning_words(report)
    if tuning is not None:
        rows.append(("", tuning))
    if not rows:
        text = "Nothing stands out: play to somebody." if report.takes else "Record the first take."
        rows.append(("", text))
    return tuple(rows)


def _item(report: StudentProgress, thing: NextThing) -> tuple[str, str]:
    said = practice_of(report, thing.found)
    where = ""
    if thing.where:
        first = thing.where[0]
        times = "Once" if first.count == 1 else f"{first.count} times"
        where = f" {times} in {first.title}, first in measure {first.measure}."
    text = f"{_capital(why_words(thing.found))}. {_capital(said.how)}.{where}"
    return _capital(said.what), text


def _heading(place: GroupProgress) -> str:
    return _capital(group_words(place))


def _said(place: GroupProgress) -> str:
    change = place.change("bias")
    return "" if change is None else _VERDICTS[change.verdict]


def _lane(valves: tuple[str, ...]) -> str:
    return valve_words(valves).strip() or "open horn"


def _days(report: StudentProgress) -> tuple[str, str]:
    if report.first_day is None or report.last_day is None:
        return "", ""
    first, last = (f"{day.day} {day:%b %Y}" for day in (report.first_day, report.last_day))
    return first, last


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
