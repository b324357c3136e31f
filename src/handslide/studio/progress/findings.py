"""What there is to be said of a student's progress as a whole: its tuning, what is unknown yet."""

from handslide.ground.facts import Fact, fact
from handslide.instrument.progress.judge import GroupProgress
from handslide.studio.progress.progress import StudentProgress


def tuning_finding(report: StudentProgress) -> Fact | None:
    """What the tuning of the horn was in the last takes; None where it wasn't off."""
    now = report.progress.tuning_now
    if now is None or not report.tuning_off:
        return None
    return fact("progress.tuning", cents=now.value)


def needs_found(report: StudentProgress) -> tuple[Fact, ...]:
    """What can't be told yet, and what would tell."""
    if not report.takes:
        return (fact("progress.no_takes"),)
    found = []
    needs, places = report.needs, report.progress.of_kind("place")
    if needs.known < needs.places:
        known = {"known": needs.known, "places": needs.places}
        if needs.near:
            more = {"count": needs.more, "near": needs.near}
            found.append(fact("progress.known_and_more", **known, **more))
        else:
            found.append(fact("progress.known", **known))
    if not needs.changes:
        return (*found, fact("progress.no_changes_yet"))
    asked = [place.more_for_change for place in places if _open_question(place)]
    earliest = min((one for one in asked if one), default=None)
    if earliest is not None:
        found.append(fact("progress.change_after", count=earliest))
    return tuple(found)


def _open_question(place: GroupProgress) -> bool:
    change = place.change("bias")
    return change is None or change.verdict == "unclear"


def cautions(report: StudentProgress) -> tuple[Fact, ...]:
    """What must be known to read the numbers rightly."""
    found = []
    if report.doubtful:
        found.append(fact("progress.doubtful", count=report.doubtful))
    if report.guessed:
        found.append(fact("progress.guessed"))
    if report.takes and not report.tuning_told:
        found.append(fact("progress.tuning_untold"))
    if report.progress.tests:
        found.append(fact("progress.tests", count=report.progress.tests))
    return tuple(found)
