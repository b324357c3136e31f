"""The page of a followed take: what the job knows, put into what the sheet draws."""

from dataclasses import asdict, dataclass
from typing import Any

from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.ground.papers import DEFAULT_PAPER
from handslide.ground.pitch import from_midi
from handslide.instrument.heardplace import CLOSED_M
from handslide.instrument.horn import Horn
from handslide.jobs.hear.follow import FollowedTake, NoteReport
from handslide.jobs.hear.listen import PRIVACY
from handslide.sheets.frame import Head
from handslide.sheets.shapes import Sheet
from handslide.sheets.takereport import TakeNote, TakeReport, take_pages

_MOST_HABITS = 5
_LEAST_FIX_MM = 3.0
_VISIBLE_SE_CENTS = 2.0


@dataclass(frozen=True, slots=True)
class TakeContent:
    """All that the page of a take says, apart from the student's name and the paper."""

    title: str
    lines: tuple[str, ...]
    legend: tuple[tuple[str, str], ...]
    report: TakeReport


def follow_sheet(followed: FollowedTake) -> Sheet:
    """The sheet of a take: one page, or more for a long one."""
    options = followed.options
    return content_sheet(follow_content(followed), options.student, options.paper)


def content_sheet(content: TakeContent, student: str = "", paper: str = DEFAULT_PAPER) -> Sheet:
    """The sheet of a take, for a student and on a paper."""
    title = f"How it sounded: {content.title}"
    if student:
        title += f" · {student}"
    head = Head(title, content.lines, paper, legend=content.legend)
    return Sheet(title, take_pages(head, content.report))


def follow_content(followed: FollowedTake) -> TakeContent:
    """What the page of a followed take says."""
    notes = tuple(_note(note) for note in followed.notes if not note.outside)
    setup = followed.setup
    report = TakeReport(
        notes=notes,
        habits=_first(followed) + tuple(habit.words for habit in followed.habits[:_MOST_HABITS]),
        practice=_practice(followed),
        positions_mm=shown_positions(setup.horn),
        closing=PRIVACY,
    )
    lines = (setup.horn_line, summary(followed))
    return TakeContent(followed.title, lines, take_legend(notes), report)


def content_json(content: TakeContent) -> dict[str, Any]:
    """The content as JSON; `content_from` makes it again, number for number."""
    return asdict(content)


def content_from(data: dict[str, Any]) -> TakeContent:
    """The content of a take from its JSON. Raises KeyError or TypeError for another form."""
    report = data["report"]
    return TakeContent(
        title=data["title"],
        lines=tuple(data["lines"]),
        legend=_pairs(data["legend"]),
        report=TakeReport(
            notes=tuple(TakeNote(**note) for note in report["notes"]),
            habits=tuple(report["habits"]),
            practice=_pairs(report["practice"]),
            positions_mm=_pairs(report["positions_mm"]),
            closing=report["closing"],
        ),
    )


def _pairs(rows: list[list[Any]]) -> tuple[tuple[Any, Any], ...]:
    return tuple((first, second) for first, second in rows)


def shown_positions(horn: Horn) -> tuple[tuple[str, float], ...]:
    """The open positions that the slide has, as (number, extension in mm)."""
    rows = [(str(n), 1000.0 * horn.extension_m(n)) for n in range(1, 13)]
    return tuple(row for row in rows if row[1] <= 1000.0 * horn.travel_m + 1.0)


def _first(followed: FollowedTake) -> tuple[str, ...]:
    """What to know before all habits."""
    return (followed.doubt,) if followed.doubt else ()


def _practice(followed: FollowedTake) -> tuple[tuple[str, str], ...]:
    if followed.doubt:
        return (("", "First find out which part this is, and how it is read."),)
    return tuple((item.what, f"{item.why}: {item.how}.") for item in followed.practice)


def _note(note: NoteReport) -> TakeNote:
    place = None if note.place is None else 1000.0 * note.place.extension_m
    heard = note.heard
    return TakeNote(
        measure=note.measure,
        name=note.pitch.pretty,
        mark=note.mark,
        played=note.played,
        cents=note.cents,
        cents_se=None if heard is None else heard.cents_se,
        place_mm=place,
        slide_mm=None if place is None or note.slide_mm is None else place + note.slide_mm,
        fix_mm=fix_mm(place, note.slide_mm, note.cents),
        heard="" if heard is None or note.played != "wrong" else from_midi(heard.midi).pretty,
    )


def fix_mm(place_mm: float | None, off_mm: float | None, off_cents: float | None) -> float | None:
    """How far to move the slide (positive = out); None where it wouldn't help or be heard."""
    if place_mm is None or off_mm is None or off_cents is None:
        return None
    if abs(off_cents) < IN_TUNE_CENTS or abs(off_mm) < _LEAST_FIX_MM:
        return None
    # A closed slide that sounds sharp can't be mended by the slide.
    closed = place_mm <= 1000.0 * CLOSED_M and place_mm + off_mm < -1000.0 * CLOSED_M
    return None if closed else -off_mm


def take_legend(notes: tuple[TakeNote, ...]) -> tuple[tuple[str, str], ...]:
    """The signs that the pictures of ``notes`` use."""
    kinds = {note.played for note in notes}
    rows = [("dot:0", "as played")]
    if any((note.cents_se or 0.0) > _VISIBLE_SE_CENTS for note in notes):
        rows.append(("|", "how sure the pitch is"))
    if any(note.fix_mm is not None and note.fix_mm > 0 for note in notes):
        rows.append(("↓12", "slide 12 mm further out"))
    if any(note.fix_mm is not None and note.fix_mm < 0 for note in notes):
        rows.append(("↑12", "slide 12 mm further in"))
    if "wrong" in kinds:
        rows.append(("×", "another note (its name below)"))
    if "octave" in kinds:
        rows.append(("dot:1", "in another octave"))
    if "missing" in kinds:
        rows.append(("ring:0", "not heard"))
    if "unsure" in kinds:
        rows.append(("?", "not sure"))
    return tuple(rows)


def summary(followed: FollowedTake) -> str:
    """One line on the whole take."""
    counts = followed.counts
    said = [f"{counts['right']} of {sum(counts.values())} notes right"]
    for kind, words in (
        ("wrong", "wrong"),
        ("octave", "in another octave"),
        ("missing", "not heard"),
        ("unsure", "not sure"),
    ):
        if counts[kind]:
            said.append(f"{counts[kind]} {words}")
    kinds = [extra.kind for extra in followed.followed.extras]
    if kinds.count("extra"):
        said.append(f"{kinds.count('extra')} that aren't in the part")
    if len(kinds) > kinds.count("extra"):
        said.append(f"{len(kinds) - kinds.count('extra')} played again")
    outside = sum(note.outside for note in followed.notes)
    if outside:
        are = "note of the part is" if outside == 1 else "notes of the part are"
        said.append(f"{outside} {are} before or after this take")
    if followed.tempo_ratio is not None:
        said.append(f"tempo {100 * followed.tempo_ratio:.0f} % of the part's")
    return " · ".join(said)
