"""A take against the one before it: what changed by more than chance."""

from dataclasses import dataclass

from handslide.edges.store.takes import Take, find_take_before
from handslide.ground.facts import Fact, fact
from handslide.jobs.hear.report import report_from
from handslide.sound.change import Figure, is_change
from handslide.studio.studio import Studio
from handslide.studio.takes.takes import get_take


@dataclass(frozen=True, slots=True)
class Since:
    """What changed since the take before: its number, when it was made, and the changes."""

    take_id: int
    recorded_at: str
    changes: tuple[Fact, ...]


def since_before(studio: Studio, take: Take) -> Since | None:
    """What changed since the student's last take of the same part.

    None for a first take, and where one of the two wasn't listened to so closely. Raises BadData
    for a report that can't be read.
    """
    with studio.store.read() as db:
        number = find_take_before(db, take.id)
    if number is None or take.report.get("doubt") is not None:
        return None
    other = get_take(studio, number)
    now, before = _figures(take), _figures(other)
    if not now.keys() & before.keys():
        return None
    changes = tuple(
        fact("listening.change", figure=name, now=one.value, before=before[name].value)
        for name, one in now.items()
        if name in before and is_change(one, before[name])
    )
    return Since(number, other.recorded_at, changes or (fact("listening.no_change"),))


def _figures(take: Take) -> dict[str, Figure]:
    """The figures by which a take can be compared, as far as they can be believed."""
    heard = report_from(take.report).listening
    if heard is None:
        return {}
    lost = {name for name, grade in heard.trust["believed"].items() if grade == "not"}
    return {
        row["figure"]: Figure(row["figure"], row["value"], row["se"], row["notes"])
        for row in heard.figures["changes"]
        if _NEEDS[row["figure"]] not in lost
    }


# What must be believed for a figure to be compared.
_NEEDS = {
    "intonation_cents": "pitch",
    "rhythm_ms": "rhythm",
    "transit_ms": "slurs",
    "pitch_sd_cents": "steadiness",
    "level_sd_db": "steadiness",
}
