"""The page of a take: what its report tells, put into what the sheet draws."""

from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.ground.papers import DEFAULT_PAPER
from handslide.instrument.heardplace import CLOSED_M
from handslide.jobs.hear.listening import Listening
from handslide.jobs.hear.report import ReportNote, TakeReport
from handslide.sheets.frame import Head
from handslide.sheets.shapes import Sheet
from handslide.sheets.takecontent import PageTexts, TakeNote, TakePage
from handslide.sheets.takereport import take_pages
from handslide.words.listening import changes_words
from handslide.words.speech import Speech
from handslide.words.takepage import (
    ABOUT_FREE,
    FIND_OUT,
    LEGEND,
    NOTHING,
    PRIVACY,
    PRIVACY_OF_STUDIO,
    RECORD_AGAIN,
    SHEET,
    WHAT_TO_DO,
    advice_text,
    sheet_title,
)
from handslide.words.takes import summary_line

_MOST_HABITS = 5
_LEAST_FIX_MM = 3.0
_VISIBLE_SE_CENTS = 2.0
_MARK_EVERY_S = 5


def sheet_pdf(
    report: TakeReport,
    say: Speech,
    student: str = "",
    paper: str = DEFAULT_PAPER,
    *,
    stored: bool = False,
) -> bytes:
    """The page of a take for a student, as a PDF; ``stored``: it is in a studio."""
    from handslide.edges.typesetting.drawing import render

    return render(take_sheet(report, say, student, paper, stored=stored))[0]


def take_sheet(
    report: TakeReport,
    say: Speech,
    student: str = "",
    paper: str = DEFAULT_PAPER,
    *,
    stored: bool = False,
) -> Sheet:
    """The sheet of a take: one page, or more for a long one; ``stored``: it is in a studio."""
    title = sheet_title(say, report.title, student)
    lines = [say.fact(report.horn)]
    lines += [summary_line(say, report.summary)] if report.nothing is None else []
    lines += [say(ABOUT_FREE)] if report.kind == "free" and report.notes else []
    content = take_page(report, say, stored=stored)
    head = Head(title, tuple(lines), paper, legend=take_legend(content.notes, say))
    return Sheet(title, take_pages(head, content), say.language.code)


def take_page(report: TakeReport, say: Speech, *, stored: bool = True) -> TakePage:
    """What the page and the pictures of a take show."""
    habits = [say.fact(habit.fact) for habit in report.habits[:_MOST_HABITS]]
    practice = [(say.fact(item.what), advice_text(say, item)) for item in report.practice]
    heard = report.listening
    if report.doubt is not None:
        habits.insert(0, say.fact(report.doubt))
        practice = [("", say(FIND_OUT))]
    texts = {name: say(text) for name, text in SHEET.items()}
    if report.nothing is not None:
        # There are no pictures to explain and nothing to practise.
        texts |= {"how_to": "", "habits": say(NOTHING), "practice": say(WHAT_TO_DO)}
        habits, practice, heard = [say.sentence(say.fact(report.nothing))], [], None
        practice.append(("", say(RECORD_AGAIN)))
    return TakePage(
        notes=tuple(_drawn(note, say, report.common_cents) for note in report.inside),
        habits=tuple(habits),
        practice=tuple(practice),
        positions_mm=report.positions_mm,
        texts=PageTexts(**texts, closing=say(PRIVACY_OF_STUDIO if stored else PRIVACY)),
        heard=None if heard is None else tuple(map(say.fact, heard.findings)),
        trust=None if heard is None else trust_lines(heard, say),
    )


def trust_lines(heard: Listening, say: Speech) -> tuple[str, ...]:
    """How far a take can be trusted: what the recording is like, what follows, what to do."""
    quality = say.capital(summary_line(say, heard.quality)) if heard.quality else ""
    told = [quality, *(say.fact(one) for one in (*heard.believed, *heard.advice))]
    told.append(changes_words(say, heard.figures["changes"]))
    return tuple(line for line in told if line)


def _drawn(note: ReportNote, say: Speech, common_cents: float) -> TakeNote:
    place, off = note.place_mm, note.slide_mm
    beside_cents = None if note.cents is None else note.cents - common_cents
    return TakeNote(
        measure=_minutes(note.start_s or 0.0) if note.measure is None else note.measure,
        name=say.note(note.pitch),
        mark=note.mark,
        played="right" if note.played == "free" else note.played,
        cents=note.cents,
        cents_se=note.cents_se,
        place_mm=place,
        slide_mm=None if place is None or off is None else place + off,
        fix_mm=fix_mm(place, note.beside_mm, beside_cents),
        heard="" if note.heard is None else say.note(note.heard),
    )


def _minutes(start_s: float) -> str:
    """Where a note of free playing stands, in minutes and seconds, to a few seconds."""
    begun = int(start_s) // _MARK_EVERY_S * _MARK_EVERY_S
    return f"{begun // 60}:{begun % 60:02d}"


def fix_mm(place_mm: float | None, off_mm: float | None, off_cents: float | None) -> float | None:
    """How far to move the slide (positive = out); None where it wouldn't help or be heard."""
    if place_mm is None or off_mm is None or off_cents is None:
        return None
    if abs(off_cents) < IN_TUNE_CENTS or abs(off_mm) < _LEAST_FIX_MM:
        return None
    # A closed slide that sounds sharp can't be mended by the slide.
    closed = place_mm <= 1000.0 * CLOSED_M and place_mm + off_mm < -1000.0 * CLOSED_M
    return None if closed else -off_mm


def take_legend(notes: tuple[TakeNote, ...], say: Speech) -> tuple[tuple[str, str], ...]:
    """The signs that the pictures of ``notes`` use."""
    kinds = {note.played for note in notes}
    fixes = [note.fix_mm for note in notes if note.fix_mm is not None]
    unsure = any((note.cents_se or 0.0) > _VISIBLE_SE_CENTS for note in notes)
    used = {
        "dot:0": bool(notes),
        "|": unsure,
        "↓12": any(mm > 0 for mm in fixes),
        "↑12": any(mm < 0 for mm in fixes),
        "×": "wrong" in kinds,
        "dot:1": "octave" in kinds,
        "ring:0": "missing" in kinds,
        "?": "unsure" in kinds,
    }
    return tuple((sign, say(LEGEND[sign])) for sign, here in used.items() if here)
