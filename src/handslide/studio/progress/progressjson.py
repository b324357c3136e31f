"""JSON of ``handslide progress``."""

from collections.abc import Mapping
from typing import Any

from handslide.instrument.progress.estimate import Estimate
from handslide.instrument.progress.judge import GroupProgress
from handslide.studio.progress.progress import StudentProgress
from handslide.words.progress import group_words, practise_what, practise_why
from handslide.words.speech import Speech


def progress_json(report: StudentProgress, say: Speech) -> dict[str, Any]:
    """JSON of ``handslide progress``; cents above (+) or below (-), slide in mm too far out (+).

    ``name``, ``what``, ``why`` and ``how`` are texts, as ``say`` speaks.
    """
    progress = report.progress
    return {
        "student": report.student.name,
        "from": None if report.first_day is None else report.first_day.isoformat(),
        "to": None if report.last_day is None else report.last_day.isoformat(),
        "takes": report.takes,
        "doubtful_takes": report.doubtful,
        "notes_in_usual_place": report.guessed,
        "tests": progress.tests,
        "tuning": {
            "now": _estimate(progress.tuning_now),
            "takes": [
                {"day": round(one.when_days, 2), "cents": round(one.cents, 1), "closed": one.closed}
                for one in progress.tuning
            ],
        },
        "groups": [
            {"kind": group.kind, "name": group_words(say, group)} | _numbers(report, group)
            for group in progress.groups
        ],
        "practice": [
            {
                "what": practise_what(say, thing.found),
                "why": practise_why(say, thing.found),
                "why_kind": thing.found.why,
                "how": say.fact(thing.found.how),
                "sure": thing.found.sure,
                "on_stand": thing.found.on_stand,
            }
            for thing in report.next
        ],
    }


def _numbers(report: StudentProgress, group: GroupProgress) -> dict[str, Any]:
    return {
        "kind": group.kind,
        "valves": None if group.valves is None else list(group.valves),
        "position": _round(group.position, 2),
        "mark": report.mark_of(group) or None,
        "midi": group.midi,
        "partial": group.partial,
        "notes": group.notes,
        "takes": group.takes,
        "right": _estimate(group.right, 3),
        "cents": _estimate(group.bias),
        "slide_mm": _round(group.slide_mm, 1),
        "spread_cents": _round(group.spread, 1),
        "changes": [
            {
                "measure": change.measure,
                "early": round(change.early, 3),
                "late": round(change.late, 3),
                "by": _estimate(change.by, 3),
                "p": float(f"{change.p:.3g}"),
                "p_adjusted": float(f"{change.p_adjusted:.3g}"),
                "verdict": change.verdict,
            }
            for change in group.changes
        ],
        "more_takes": group.more,
        "more_takes_for_change": group.more_for_change,
    }


def _estimate(one: Estimate | None, digits: int = 1) -> Mapping[str, float | None] | None:
    if one is None:
        return None
    sure = one.df > 0
    return {
        "value": round(one.value, digits),
        "low": round(one.low, digits) if sure else None,
        "high": round(one.high, digits) if sure else None,
    }


def _round(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
