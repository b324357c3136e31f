"""What the page of a take shows: its report in the reader's language, its pictures, its table."""

from collections import Counter
from dataclasses import dataclass

from handslide.edges.store.takes import Take
from handslide.edges.typesetting.screen import Spot, screen_svg
from handslide.ground.facts import fact
from handslide.ground.limits import OPEN_SHEETS_BYTES
from handslide.jobs.hear.judge import IN_TUNE, IN_TUNE_WITH_REST
from handslide.jobs.hear.report import ReportNote, TakeReport, report_from
from handslide.jobs.hear.sheet import take_legend, take_page, trust_lines
from handslide.sheets.takescreen import screen_pieces
from handslide.studio.cache import CacheKind
from handslide.studio.studio import Studio
from handslide.studio.takes.changes import Since
from handslide.words.listening import SINCE
from handslide.words.speech import Speech
from handslide.words.takepage import NAMED_NOTE, RECORD_AGAIN, advice_text
from handslide.words.takes import remarks

_PX_PER_MM = 4.2
_PICTURES: CacheKind[tuple[int, str, str, str], tuple[str, ...]] = CacheKind(
    100, lambda drawn: sum(map(len, drawn)), OPEN_SHEETS_BYTES
)
# Reasons for leaving something out that are told one by one.
_FEW = 3


@dataclass(frozen=True, slots=True)
class NoteLine:
    """A note in the page's table; ``fine``: in tune, and nothing else to say of it."""

    where: str | None
    name: str
    mark: str
    played: str
    start_s: float | None
    end_s: float | None
    cents: float | None
    cents_se: float | None
    slide_mm: float | None
    words: str
    fine: bool


@dataclass(frozen=True, slots=True)
class AdviceLine:
    """A thing to practise: what, and why and how."""

    what: str
    text: str


@dataclass(frozen=True, slots=True)
class LeftOutRow:
    """What was left out for one reason: how often, and where (seconds), if that was seldom."""

    why: str
    count: int
    where_s: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class SinceLine:
    """What changed since the take ``take_id``: a heading and what there is to say."""

    take_id: int
    heading: str
    changes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReportPage:
    """A report as its page says it. ``kind``: ``part`` or ``free``.

    ``nothing`` says that no note was heard and what to do; it is empty where some were.
    ``heard`` is what a listener notices, None for a take that wasn't listened to so closely.
    """

    kind: str
    horn: str
    nothing: tuple[str, ...]
    doubt: str | None
    summary: tuple[str, ...]
    practice: tuple[AdviceLine, ...]
    habits: tuple[str, ...]
    heard: tuple[str, ...] | None
    trust: tuple[str, ...]
    since: SinceLine | None
    notes: tuple[NoteLine, ...]
    legend: tuple[tuple[str, str], ...]
    warnings: tuple[str, ...]
    left_out: tuple[LeftOutRow, ...]


def report_page(take: Take, say: Speech, since: Since | None = None) -> ReportPage:
    """The report of a take in the reader's language, with what changed ``since`` the one before.

    Raises BadData for one that can't be read.
    """
    report = report_from(take.report)
    heard = report.listening
    return ReportPage(
        kind=report.kind,
        horn=say.fact(report.horn),
        nothing=_nothing(report, say),
        doubt=None if report.doubt is None else say.fact(report.doubt),
        summary=tuple(map(say.fact, report.summary)),
        practice=tuple(
            AdviceLine(say.fact(item.what), advice_text(say, item)) for item in report.practice
        ),
        habits=tuple(say.fact(habit.fact) for habit in report.habits),
        heard=None if heard is None else tuple(map(say.fact, heard.findings)),
        trust=() if heard is None else trust_lines(heard, say),
        since=None if since is None else _since_line(since, say),
        notes=tuple(_note_line(note, say) for note in report.inside),
        legend=take_legend(take_page(report, say).notes, say),
        warnings=tuple(
            say.fact(one) for one in (*report.warnings, *report.as_told) if one != report.nothing
        ),
        left_out=_left_out(report, say),
    )


def _nothing(report: TakeReport, say: Speech) -> tuple[str, ...]:
    if report.nothing is None:
        return ()
    told = fact("takes.nothing_heard", why=report.nothing)
    return say.sentence(say.fact(told)), say(RECORD_AGAIN)


def _since_line(since: Since, say: Speech) -> SinceLine:
    heading = say(SINCE, day=say.day(since.recorded_at))
    return SinceLine(since.take_id, heading, tuple(map(say.fact, since.changes)))


def _note_line(note: ReportNote, say: Speech) -> NoteLine:
    return NoteLine(
        where=note.measure,
        name=say.note(note.pitch),
        mark=note.mark,
        played=note.played,
        start_s=_moment(note.start_s),
        end_s=_moment(note.end_s),
        cents=note.cents,
        cents_se=note.cents_se,
        slide_mm=note.slide_mm,
        words=remarks(say, note.told),
        fine=note.told in ((IN_TUNE,), (IN_TUNE_WITH_REST,)),
    )


def _moment(seconds: float | None) -> float | None:
    return None if seconds is None else round(seconds, 3)


def take_pictures(studio: Studio, take: Take, say: Speech) -> tuple[str, ...]:
    """The pictures of a take as pieces of SVG; each note's column has the note's number.

    Raises BadData for a report that can't be read.
    """
    key = take.id, take.created_at, say.language.code, say.names
    return studio.caches.of(_PICTURES).get(key, lambda: _drawn(take, say))


def _drawn(take: Take, say: Speech) -> tuple[str, ...]:
    drawn = []
    report = report_from(take.report)
    names = [
        say(NAMED_NOTE, note=note.pitch, words=remarks(say, note.told)) for note in report.inside
    ]
    for piece in screen_pieces(take_page(report, say)):
        last = piece.first + len(piece.spots)
        spots = [Spot(box, str(piece.first + k)) for k, box in enumerate(piece.spots)]
        label = "; ".join(names[piece.first : last])
        drawn.append(
            screen_svg(
                piece.shapes, piece.width_mm, piece.height_mm, label=label, spots=spots,
                px_per_mm=_PX_PER_MM,
            )
        )  # fmt: skip
    return tuple(drawn)


def _left_out(report: TakeReport, say: Speech) -> tuple[LeftOutRow, ...]:
    """What was left out of the hearing, the most frequent reason first."""
    counts = Counter(row.why for row in report.left_out)
    found = []
    for why, count in counts.most_common():
        where = [(row.start_s, row.end_s) for row in report.left_out if row.why == why]
        found.append(LeftOutRow(say.fact(why), count, tuple(where) if count <= _FEW else ()))
    return tuple(found)
