"""The report of a take: all that its page, its sheet and its JSON tell, as numbers and facts.

It is stored as JSON and read again in any language. The form of that JSON is `REPORT_FORM`; that of
older studios is brought up by `handslide.edges.store.oldreports`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from handslide.edges.files.factjson import fact_of_json, to_json
from handslide.ground.errors import BadData
from handslide.ground.facts import Fact
from handslide.ground.pitch import Pitch, parse_pitch
from handslide.instrument.habits import Habit
from handslide.instrument.practice import Practice
from handslide.jobs.hear.listening import Listening
from handslide.sound.follow import PLAYED
from handslide.sound.measure import LeftOut
from handslide.sound.notes import nothing_in

REPORT_FORM = 2


@dataclass(frozen=True, slots=True)
class ReportNote:
    """A note of the part in playing order, or a note that was heard in free playing.

    ``played``: ``right``, ``wrong``, ``missing``, ``octave``, ``unsure``, or ``free``. ``cents`` is
    how far it was above the note (beside its octave), ``slide_mm`` how far the slide was beyond the
    place at ``place_mm`` (positive = too far out), ``beside_mm`` that beside what the whole take is
    off by; ``heard`` a wrong note's pitch. ``outside``: not in the take. None where there is no
    such thing to say.
    """

    measure: str | None
    pitch: Pitch
    mark: str
    played: str
    told: tuple[Fact, ...]
    outside: bool = False
    confidence: float | None = None
    start_s: float | None = None
    end_s: float | None = None
    cents: float | None = None
    cents_se: float | None = None
    spread_cents: float | None = None
    slide_mm: float | None = None
    slide_se_mm: float | None = None
    beside_mm: float | None = None
    place_mm: float | None = None
    heard: Pitch | None = None


@dataclass(frozen=True, slots=True)
class ReportHabit:
    """A habit; the fields are those of `handslide.instrument.habits.Habit`."""

    kind: str
    cents: float
    slide_mm: float | None
    count: int
    total: int
    fact: Fact


@dataclass(frozen=True, slots=True)
class ReportExtra:
    """A heard note that isn't the part's; ``kind`` as of `handslide.sound.follow.Extra`."""

    start_s: float
    midi: int
    kind: str
    measure: str | None


@dataclass(frozen=True, slots=True, eq=False)
class TakeReport:
    """A take: ``kind`` is ``part`` (beside a part) or ``free``.

    ``horn`` is the line that states the horn, ``summary`` the take in a line of facts. ``doubt`` is
    there where hardly anything fits the part. ``positions_mm`` are the open positions as (number,
    extension). ``heard`` has the rows of the notes of free playing. ``common_cents`` is what the
    take is off by as a whole; 0 where it isn't. ``listening`` is what was heard besides pitch; a
    take of an older studio has none. ``as_told`` are sentences of one that can't be told anew.
    """

    kind: str
    title: str
    horn: Fact
    horn_name: str
    a4_hz: float
    summary: tuple[Fact, ...]
    notes: tuple[ReportNote, ...]
    habits: tuple[ReportHabit, ...]
    practice: tuple[Practice, ...]
    left_out: tuple[LeftOut, ...]
    warnings: tuple[Fact, ...]
    positions_mm: tuple[tuple[str, float], ...]
    doubt: Fact | None = None
    tempo_ratio: float | None = None
    offset_cents: float = 0.0
    restarts: int = 0
    extras: tuple[ReportExtra, ...] = ()
    heard: tuple[Mapping[str, Any], ...] = ()
    common_cents: float = 0.0
    listening: Listening | None = None
    as_told: tuple[Fact, ...] = ()

    @property
    def inside(self) -> tuple[ReportNote, ...]:
        """The notes that lie in the take."""
        return tuple(note for note in self.notes if not note.outside)

    @property
    def nothing(self) -> Fact | None:
        """Why no note was heard; None where some were."""
        return nothing_in(self.warnings)

    @property
    def counts(self) -> dict[str, int]:
        """How many notes were played in which way; those outside the take aren't counted."""
        inside = [note.played for note in self.inside]
        return {kind: inside.count(kind) for kind in PLAYED}


def report_habit(habit: Habit) -> ReportHabit:
    """A habit as a report keeps it."""
    return ReportHabit(
        habit.kind, habit.cents, habit.slide_mm, habit.count, habit.total, habit.fact
    )


# As JSON.

_NUMBERS = (
    "confidence", "start_s", "end_s", "cents", "cents_se", "spread_cents", "slide_mm",
    "slide_se_mm", "place_mm",
)  # fmt: skip


def report_json(report: TakeReport) -> dict[str, Any]:
    """A report as it is stored; `report_from` makes it again."""
    stored = {
        "form": REPORT_FORM,
        "kind": report.kind,
        "title": report.title,
        "horn": to_json(report.horn),
        "horn_name": report.horn_name,
        "a4_hz": report.a4_hz,
        "summary": to_json(report.summary),
        "doubt": to_json(report.doubt),
        "notes": [_note_json(note) for note in report.notes],
        "habits": [_habit_json(habit) for habit in report.habits],
        "practice": [_practice_json(item) for item in report.practice],
        "left_out": [
            {"start_s": row.start_s, "end_s": row.end_s, "why": to_json(row.why)}
            for row in report.left_out
        ],
        "warnings": to_json(report.warnings),
        "common_cents": report.common_cents,
        "positions_mm": [list(row) for row in report.positions_mm],
    }
    if report.kind == "part":
        stored |= {
            "tempo_ratio": report.tempo_ratio,
            "offset_cents": report.offset_cents,
            "restarts": report.restarts,
            "extra": [
                {"start_s": row.start_s, "midi": row.midi, "kind": row.kind,
                 "measure": row.measure}
                for row in report.extras
            ],
        }  # fmt: skip
    else:
        stored["heard"] = [dict(row) for row in report.heard]
    if report.listening is not None:
        stored["listening"] = _listening_json(report.listening)
    return stored | ({"as_told": to_json(report.as_told)} if report.as_told else {})


_HEARD_FACTS = ("findings", "quality", "believed", "advice")


def _listening_json(heard: Listening) -> dict[str, Any]:
    told = {name: to_json(getattr(heard, name)) for name in _HEARD_FACTS}
    return told | {"figures": dict(heard.figures), "trust": dict(heard.trust)}


def _note_json(note: ReportNote) -> dict[str, Any]:
    return {
        "measure": note.measure,
        "note": note.pitch.name,
        "mark": note.mark or None,
        "played": note.played,
        "outside": note.outside,
        **{key: getattr(note, key) for key in _NUMBERS},
        "beside_mm": note.beside_mm,
        "heard": None if note.heard is None else note.heard.name,
        "told": to_json(note.told),
    }


def _habit_json(habit: ReportHabit) -> dict[str, Any]:
    return {
        "kind": habit.kind,
        "cents": habit.cents,
        "slide_mm": habit.slide_mm,
        "notes": habit.count,
        "of": habit.total,
        "told": to_json(habit.fact),
    }


def _practice_json(item: Practice) -> dict[str, Any]:
    return {"what": to_json(item.what), "why": to_json(item.why), "how": to_json(item.how)}


def report_from(stored: Mapping[str, Any]) -> TakeReport:
    """The report of a take from its JSON. Raises BadData for what isn't one."""
    try:
        return _report(stored)
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise BadData("takes.unreadable_report") from error


def _report(stored: Mapping[str, Any]) -> TakeReport:
    doubt = stored["doubt"]
    return TakeReport(
        kind=stored["kind"],
        title=stored["title"],
        horn=fact_of_json(stored["horn"]),
        horn_name=stored["horn_name"],
        a4_hz=stored["a4_hz"],
        summary=facts_from(stored["summary"]),
        notes=tuple(map(_note, stored["notes"])),
        habits=tuple(map(_habit, stored["habits"])),
        practice=tuple(map(_practice, stored["practice"])),
        left_out=tuple(
            LeftOut(row["start_s"], row["end_s"], fact_of_json(row["why"]))
            for row in stored["left_out"]
        ),
        warnings=facts_from(stored["warnings"]),
        positions_mm=tuple((name, mm) for name, mm in stored["positions_mm"]),
        doubt=None if doubt is None else fact_of_json(doubt),
        tempo_ratio=stored.get("tempo_ratio"),
        offset_cents=stored.get("offset_cents", 0.0),
        restarts=stored.get("restarts", 0),
        extras=tuple(map(_extra, stored.get("extra", ()))),
        heard=tuple(stored.get("heard", ())),
        common_cents=stored.get("common_cents", 0.0),
        listening=_listening(stored.get("listening")),
        as_told=facts_from(stored.get("as_told", ())),
    )


def facts_from(stored: Any) -> tuple[Fact, ...]:
    """Facts from a list of their JSON. Raises BadData."""
    return tuple(map(fact_of_json, stored))


def _note(row: Mapping[str, Any]) -> ReportNote:
    return ReportNote(
        measure=row["measure"],
        pitch=parse_pitch(row["note"]),
        mark=row["mark"] or "",
        played=row["played"],
        told=facts_from(row["told"]),
        outside=row["outside"],
        beside_mm=row.get("beside_mm", row["slide_mm"]),
        heard=None if row["heard"] is None else parse_pitch(row["heard"]),
        **{key: row[key] for key in _NUMBERS},
    )


def _listening(stored: Mapping[str, Any] | None) -> Listening | None:
    if stored is None:
        return None
    told = {name: facts_from(stored[name]) for name in _HEARD_FACTS}
    return Listening(**told, figures=stored["figures"], trust=stored["trust"])


def _habit(row: Mapping[str, Any]) -> ReportHabit:
    told = fact_of_json(row["told"])
    return ReportHabit(row["kind"], row["cents"], row["slide_mm"], row["notes"], row["of"], told)


def _practice(row: Mapping[str, Any]) -> Practice:
    return Practice(*(fact_of_json(row[key]) for key in ("what", "why", "how")))


def _extra(row: Mapping[str, Any]) -> ReportExtra:
    measure = row["measure"]
    return ReportExtra(
        row["start_s"], row["midi"], row["kind"], None if measure is None else str(measure)
    )
