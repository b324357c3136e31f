"""The report of a marked part: one page that a teacher reads before the lesson."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from handslide.edges.musicxml.scorepart import ScorePart
from handslide.edges.typesetting.part import Section
from handslide.ground.facts import Fact
from handslide.instrument.places import Place
from handslide.jobs.mark.routed import Routed
from handslide.words import report as words
from handslide.words.messages import Message
from handslide.words.reasons import reason_words
from handslide.words.report import listed_measures
from handslide.words.speech import Speech

QUICKEST = 6
LONGEST_LIST = 14
# From here on a child's arm is near its end (common practice: six positions at about ten years).
FAR_POSITION = 5.5
PLAY_KINDS = ("unplayable", "glissando")


@dataclass(frozen=True, slots=True)
class Found:
    """Something to tell about a measure: ``number`` and ``note`` where it is about one note.

    ``told`` is all of it; ``what`` is told where the measure stands beside it (None: the same).
    """

    measure: str
    number: int | None
    note: str | None
    kind: str
    told: Fact
    what: Fact | None = None

    def beside_measure(self, say: Speech) -> str:
        """What was found, where its measure stands beside it."""
        return say.fact(self.what or self.told)


def found_json(say: Speech, row: Found) -> dict[str, Any]:
    """The JSON object of a warning."""
    return {
        "measure": measure_number(row.measure),
        "note": row.note,
        "kind": row.kind,
        "text": say.fact(row.told),
    }


def measure_number(measure: str) -> int | str:
    """A measure's number as it stands in JSON."""
    return int(measure) if measure.isdecimal() else measure


def report_sections(
    say: Speech,
    routed: Routed,
    part: ScorePart,
    found: Sequence[Found],
    remedies: Section | None = None,
    trills: Section | None = None,
) -> tuple[Section, ...]:
    """All sections of the report that have something to say.

    ``remedies`` stand behind what can't be played, ``trills`` behind glissandi.
    """
    sections = [
        _summary(say, routed, part),
        _found(say, words.UNPLAYABLE, found, ("unplayable",)),
        remedies,
        _found(say, words.GLISSANDI, found, ("glissando",)),
        trills,
        _quickest(say, routed, part),
        _valves(say, routed, part),
        _unusual(say, routed, part),
        _found(say, words.CARE, found, None),
        Section(say(words.CAUTION), (), say(words.FAR)) if needs_caution(routed) else None,
    ]
    return tuple(section for section in sections if section is not None)


def needs_caution(routed: Routed, places: Iterable[Place] | None = None) -> bool:
    """Whether far positions are asked of an arm whose reach isn't known.

    ``places``: those looked at (None: all of the route).
    """
    if routed.setup.book.limits.reach is not None:
        return False
    asked = routed.places.values() if places is None else places
    return any(place.position >= FAR_POSITION for place in asked)


def _summary(say: Speech, routed: Routed, part: ScorePart) -> Section:
    said = [say(words.PLACED, placed=len(routed.places), count=len(part.notes))]
    if part.tempo_assumed:
        said.append(say(words.NO_TEMPO))
    if not routed.exact:
        said.append(say(words.NOT_EXACT))
    return Section(say(words.IN_SHORT), (), " ".join(said))


def _found(
    say: Speech, heading: Message, found: Iterable[Found], kinds: tuple[str, ...] | None
) -> Section | None:
    groups: dict[str, list[str]] = {}
    for row in found:
        if row.kind in kinds if kinds else row.kind not in PLAY_KINDS:
            groups.setdefault(row.beside_measure(say), []).append(row.measure)
    rows = [(listed_measures(say, measures, 8), text) for text, measures in groups.items()]
    return _section(say, heading, (words.MEASURE, None), rows)


def _section(
    say: Speech,
    heading: Message,
    header: tuple[Message | None, ...],
    rows: Sequence[tuple[str, ...]],
) -> Section | None:
    if not rows:
        return None
    more = len(rows) - LONGEST_LIST
    note = say(words.MORE, count=more) if more > 0 else ""
    heads = tuple("" if head is None else say(head) for head in header)
    return Section(say(heading), tuple(rows[:LONGEST_LIST]), note, heads)


def _quickest(say: Speech, routed: Routed, part: ScorePart) -> Section | None:
    moves = sorted(routed.moves(), key=lambda move: -move.speed_m_s)
    rows: list[tuple[str, ...]] = []
    seen = set()
    for move in moves:
        if (move.first, move.second) in seen or move.length_m < 0.02:
            continue
        seen.add((move.first, move.second))
        first, second = part.notes[move.first], part.notes[move.second]
        marks = routed.marks[move.first], routed.marks[move.second]
        rows.append(
            (
                second.measure,
                say(words.MOVE, first=first.sounding, second=second.sounding),
                say(words.MOVE, first=marks[0], second=marks[1]),
                say(words.CENTIMETRES, cm=100 * move.length_m),
                say(words.METRES_A_SECOND, speed_m_s=move.speed_m_s),
            )
        )
        if len(rows) == QUICKEST:
            break
    header = words.MEASURE, words.NOTES, words.PLACES, words.WAY, words.SPEED
    return _section(say, words.QUICKEST, header, rows)


def _valves(say: Speech, routed: Routed, part: ScorePart) -> Section | None:
    groups: dict[tuple[str, str], list[str]] = {}
    engaged: dict[tuple[str, str], Place] = {}
    for number, place in sorted(routed.places.items()):
        if place.valves:
            key = (say.note(part.notes[number].sounding), routed.marks[number])
            groups.setdefault(key, []).append(part.notes[number].measure)
            engaged[key] = place
    order = sorted(groups, key=lambda key: (engaged[key].valves, engaged[key].position))
    rows = [
        (
            name,
            text,
            say.valves(engaged[name, text].valves),
            listed_measures(say, groups[name, text]),
        )
        for name, text in order
    ]
    return _section(say, words.VALVES, (words.NOTE, words.MARK, None, words.MEASURES), rows)


def _unusual(say: Speech, routed: Routed, part: ScorePart) -> Section | None:
    groups: dict[tuple[str, str], list[int]] = {}
    for number in sorted(routed.places):
        if routed.is_unusual(number):
            key = (say.note(part.notes[number].sounding), routed.marks[number])
            groups.setdefault(key, []).append(number)
    rows = []
    for (name, text), numbers in groups.items():
        reason = routed.note(numbers[0]).reason
        why = say(words.NEARER) if reason is None else reason_words(say, reason)
        measures = list(dict.fromkeys(part.notes[number].measure for number in numbers))
        if len(measures) > 1:
            why = say(words.SO_IN, reason=why, measure=measures[0])
        rows.append((listed_measures(say, measures, 6), name, text, why))
    header = words.MEASURE, words.NOTE, words.MARK, None
    return _section(say, words.UNUSUAL, header, rows)
