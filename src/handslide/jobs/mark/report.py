"""The report of a marked part: one page that a teacher reads before the lesson."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from handslide.edges.musicxml.scorepart import ScorePart
from handslide.edges.typesetting.part import Section
from handslide.ground.facts import Fact
from handslide.ground.wholenumber import whole_number
from handslide.instrument.pace import pace
from handslide.instrument.places import Place
from handslide.instrument.rivalry import Reason
from handslide.jobs.mark.measures import MeasureNames, measure_names
from handslide.jobs.mark.routed import Routed
from handslide.words import report as words
from handslide.words.messages import Message
from handslide.words.reasons import shared_words
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
    ``measure_index`` is the measure's place in the part, where it is known.
    """

    measure: str
    number: int | None
    note: str | None
    kind: str
    told: Fact
    what: Fact | None = None
    measure_index: int | None = None

    def measure_name(self, names: MeasureNames) -> str:
        """What its measure is called."""
        return self.measure if self.measure_index is None else names.name(self.measure_index)

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
    number = whole_number(measure)
    return measure if number is None else number


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
    names = measure_names(part)
    sections = [
        _summary(say, routed, part, names),
        _found(say, names, words.UNPLAYABLE, found, ("unplayable",)),
        remedies,
        _found(say, names, words.GLISSANDI, found, ("glissando",)),
        trills,
        _quickest(say, routed, part, names),
        _valves(say, routed, part, names),
        _unusual(say, routed, part, names),
        _found(say, names, words.CARE, found, None),
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


def _summary(say: Speech, routed: Routed, part: ScorePart, names: MeasureNames) -> Section | None:
    """What holds for the whole part; None when all is well."""
    said = []
    if len(routed.places) < len(part.notes):
        said.append(say(words.PLACED, placed=len(routed.places), count=len(part.notes)))
    if part.tempo_assumed:
        said.append(say(words.NO_TEMPO))
    if not routed.exact:
        said.append(say(words.NOT_EXACT))
    if names.movements:
        said.append(say(words.MOVEMENTS))
    return Section(say(words.IN_SHORT), (), " ".join(said)) if said else None


def _found(
    say: Speech,
    names: MeasureNames,
    heading: Message,
    found: Iterable[Found],
    kinds: tuple[str, ...] | None,
) -> Section | None:
    groups: dict[str, list[Found]] = {}
    for row in found:
        if row.kind in kinds if kinds else row.kind not in PLAY_KINDS:
            groups.setdefault(row.beside_measure(say), []).append(row)
    rows = []
    for text, group in groups.items():
        known = [row.measure_index for row in group if row.measure_index is not None]
        listed = names.listed(say, known, 8) or listed_measures(say, [r.measure for r in group])
        rows.append((listed, text))
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


def _quickest(say: Speech, routed: Routed, part: ScorePart, names: MeasureNames) -> Section | None:
    moves = sorted(routed.moves(), key=lambda move: -move.speed_m_s)
    rows: list[tuple[str, ...]] = []
    seen = set()
    for move in moves:
        if (move.first, move.second) in seen or move.length_m < 0.02:
            continue
        seen.add((move.first, move.second))
        first, second = part.notes[move.first], part.notes[move.second]
        marks = routed.marks[move.first], routed.marks[move.second]
        speed = move.speed_m_s
        rows.append(
            (
                names.name(second.measure_index),
                say(words.MOVE, first=first.sounding, second=second.sounding),
                say(words.MOVE, first=marks[0], second=marks[1]),
                say(words.CENTIMETRES, cm=100 * move.length_m),
                say(words.PACE, pace=say.named("pace", pace(speed)), speed_m_s=speed),
            )
        )
        if len(rows) == QUICKEST:
            break
    header = words.MEASURE, words.NOTES, words.PLACES, words.WAY, words.SPEED
    return _section(say, words.QUICKEST, header, rows)


def _valves(say: Speech, routed: Routed, part: ScorePart, names: MeasureNames) -> Section | None:
    groups: dict[tuple[str, str], list[int]] = {}
    engaged: dict[tuple[str, str], Place] = {}
    for number, place in sorted(routed.places.items()):
        if place.valves:
            key = (say.note(part.notes[number].sounding), routed.marks[number])
            groups.setdefault(key, []).append(part.notes[number].measure_index)
            engaged[key] = place
    order = sorted(groups, key=lambda key: (engaged[key].valves, engaged[key].position))
    rows = [
        (
            name,
            text,
            say.valves(engaged[name, text].valves),
            names.listed(say, groups[name, text]),
        )
        for name, text in order
    ]
    return _section(say, words.VALVES, (words.NOTE, words.MARK, None, words.MEASURES), rows)


def _unusual(say: Speech, routed: Routed, part: ScorePart, names: MeasureNames) -> Section | None:
    rows = []
    for group in unusual_groups(routed, routed.places):
        measures = [part.notes[number].measure_index for number in group.numbers]
        first = group.numbers[0]
        rows.append(
            (
                names.listed(say, measures, 6),
                say.note(part.notes[first].sounding),
                routed.marks[first],
                shared_words(say, group.reasons),
            )
        )
    header = words.MEASURE, words.NOTE, words.MARK, None
    return _section(say, words.UNUSUAL, header, rows)


@dataclass(frozen=True, slots=True)
class UnusualGroup:
    """Written notes of one pitch in one unusual place for one kind of reason, and their reasons."""

    numbers: tuple[int, ...]
    reasons: tuple[Reason, ...]


def unusual_groups(routed: Routed, numbers: Iterable[int]) -> list[UnusualGroup]:
    """Those of the notes ``numbers`` that lie in unusual places, in the order of the part."""
    groups: dict[tuple[str, str, str], list[tuple[int, Reason]]] = {}
    for number in sorted(numbers):
        if routed.is_unusual(number):
            reason = routed.why(number)
            key = routed.pitches[number].name, routed.marks[number], reason.kind
            groups.setdefault(key, []).append((number, reason))
    return [UnusualGroup(*(tuple(column) for column in zip(*rows))) for rows in groups.values()]
