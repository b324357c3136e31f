"""Progress in words: for a teacher in a terminal, and for parents who play nothing."""

from datetime import date
from typing import TYPE_CHECKING

from handslide.ground.notenames import full_name
from handslide.ground.pitch import from_midi
from handslide.instrument.marks import ordinal, place_words, valve_words
from handslide.instrument.places import Place
from handslide.instrument.progress.advice import Next
from handslide.instrument.progress.judge import Change, GroupProgress
from handslide.jobs.hear.words import HOW_FAULTS, Practice, how_to_mend

if TYPE_CHECKING:
    from handslide.studio.progress.progress import StudentProgress

_HOW_UNSTEADY = "play it three times in a row, each time from the air, until all three sound alike"


def group_words(group: GroupProgress, names: str = "english") -> str:
    """The group in words: ``6th position``, ``C3 in 1st with the F valve``, ``moves out``."""
    if group.kind == "note":
        assert group.midi is not None
        note = full_name(from_midi(group.midi), names)
        return note if group.position is None else f"{note} in {_place(group)}"
    if group.kind == "place":
        words = _place(group)
        return words if words.startswith("halfway") or group.valves else f"{words} position"
    if group.kind == "valve":
        return f"notes{valve_words(group.valves or ())}"
    if group.kind == "partial":
        return f"notes on the {ordinal(group.partial or 1)} partial"
    return {
        "all": "all notes",
        "away": "all places away from 1st",
        "out": "notes after a move out",
        "in": "notes after a move in",
    }[group.kind]


def _place(group: GroupProgress) -> str:
    return place_words(Place(group.valves or (), 1, 0.0, group.position or 1.0))


def high_low(cents: float) -> str:
    """``12 cents too high``; ``in tune`` for less than one."""
    if round(abs(cents)) == 0:
        return "in tune"
    size = f"{abs(cents):.0f} cent{'' if round(abs(cents)) == 1 else 's'}"
    return f"{size} too {'high' if cents > 0 else 'low'}"


def change_words(group: GroupProgress, change: Change, names: str = "english") -> str:
    """One sentence on a change that is sure."""
    what = _capital(group_words(group, names))
    early, late = change.early, change.late
    if change.measure == "bias":
        return f"{what}: {high_low(early)} at first, {high_low(late)} now."
    if change.measure == "spread":
        words = "steadier" if late < early else "less steady"
        return f"{what}: {words}, ±{early:.0f} cents at first, ±{late:.0f} now."
    return f"{what}: {100 * early:.0f} of 100 right at first, {100 * late:.0f} now."


def practice_of(report: "StudentProgress", found: Next) -> Practice:
    """What to practise, why and how, in the words of the report of a take."""
    group, names = found.group, report.student.names
    what = group_words(group, names)
    note = full_name(from_midi(found.midi), names)
    if group.kind not in ("note", "all"):
        what = f"{what} (such as {note})"
    why = why_words(found)
    if found.on_stand:
        times = "once" if found.on_stand == 1 else f"{found.on_stand} times"
        why += f"; on the stand {times}"
    return Practice(what, why, _how(found))


def why_words(found: Next) -> str:
    """What is the matter, and whether that is sure."""
    return _why(found) + ("" if found.sure else ", as far as can be told yet")


def _why(found: Next) -> str:
    group = found.group
    if found.why == "off":
        assert group.bias is not None
        slide = group.slide_mm
        if group.kind == "valve":
            way = "out" if group.bias.value > 0 else "in"
            off = high_low(group.bias.value)
            return f"{off}: the valve's own tuning slide may have to go {way}"
        if slide is None:
            return high_low(group.bias.value)
        way = "too far out" if slide > 0 else "too short"
        return f"{high_low(group.bias.value)}: the slide is about {abs(slide):.0f} mm {way}"
    if found.why == "unsteady":
        return f"now higher, now lower: ±{group.spread or 0.0:.0f} cents"
    tried, right = group.scored
    return f"{tried - right} of {tried} wrong or not heard"


def _how(found: Next) -> str:
    if found.why == "faults":
        return HOW_FAULTS
    if found.why == "unsteady":
        return _HOW_UNSTEADY
    return how_to_mend(found.group.kind, found.group.slide_mm)


def tuning_words(report: "StudentProgress") -> str | None:
    """What the tuning of the horn was in the last takes; None where it wasn't off."""
    now = report.progress.tuning_now
    if now is None or not report.tuning_off:
        return None
    way = "out" if now.value > 0 else "in"
    return (
        f"Tuning of the horn: {high_low(now.value)} as a whole in the last takes; the main tuning "
        f"slide may have to go {way}. This is taken off from everything below."
    )


def need_words(report: "StudentProgress") -> tuple[str, ...]:
    """What can't be told yet, and what would tell."""
    if not report.takes:
        return ("There are no takes yet: record one, then come back.",)
    said = []
    needs, places = report.needs, report.progress.of_kind("place")
    if needs.known < needs.places:
        words = f"{needs.known} of {needs.places} places are known to within what a listener hears"
        if needs.near:
            words += f"; {more_words(needs.more)} would tell of {needs.near} more"
        said.append(f"{words}.")
    if not needs.changes:
        said.append(
            "Nothing can be said about changes yet: that takes four takes of a place over ten days "
            "or more."
        )
        return tuple(said)
    asked = [place.more_for_change for place in places if _open_question(place)]
    known = [one for one in asked if one]
    if known:
        said.append(
            "Where nothing is said, a change that is heard would show after "
            f"{more_words(min(known))} of that place at the earliest."
        )
    return tuple(said)


def _open_question(place: GroupProgress) -> bool:
    change = place.change("bias")
    return change is None or change.verdict == "unclear"


def more_words(more: int | None) -> str:
    """``about 3 more takes``."""
    if more is None:
        return "many more takes"
    if more == 0:
        return "enough takes"
    return "one more take" if more == 1 else f"about {more} more takes"


def cautions(report: "StudentProgress") -> tuple[str, ...]:
    """What must be known to read the numbers rightly."""
    said = []
    if report.doubtful:
        n = report.doubtful
        said.append(f"{n} take{'s' if n > 1 else ''} didn't fit the part and {_arent(n)} counted.")
    if report.guessed:
        said.append("Notes played without a part are counted in their usual place.")
    if report.takes and not report.tuning_told:
        said.append(
            "No take has enough notes in 1st: the tuning of the horn can't be told from the slide."
        )
    if report.progress.tests:
        said.append(
            f"{report.progress.tests} changes were looked at together; on average one in twenty of "
            "those called better or worse is chance, at most."
        )
    return tuple(said)


def _arent(count: int) -> str:
    return "aren't" if count > 1 else "isn't"


def day_words(day: date) -> str:
    """``5 September 2026``."""
    return f"{day.day} {day:%B %Y}"


def span_words(report: "StudentProgress") -> str:
    """``5 September to 25 November 2026 · 14 takes · 620 notes``."""
    if report.first_day is None or report.last_day is None:
        return "no takes yet"
    first, last = day_words(report.first_day), day_words(report.last_day)
    days = last if first == last else f"{first} to {last}"
    notes = len(report.rows)
    takes = "one take" if report.takes == 1 else f"{report.takes} takes"
    return f"{days} · {takes} · {notes} notes"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
