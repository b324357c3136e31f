"""What the page of a part lists beside the music: unusual places, quick moves, signs."""

from dataclasses import dataclass

from handslide.ground.notenames import full_name
from handslide.instrument.pace import pace
from handslide.jobs.mark.measures import MeasureNames
from handslide.jobs.mark.report import QUICKEST, needs_caution, unusual_groups
from handslide.studio.parts.openpart import OpenPart
from handslide.words import report as words
from handslide.words.marks import legend
from handslide.words.reasons import shared_words
from handslide.words.speech import Speech

_STILL_M = 0.02


@dataclass(frozen=True, slots=True)
class Span:
    """Measures ``first`` to ``last`` of a part by their index, both included; None: open."""

    first: int | None = None
    last: int | None = None

    def holds(self, measure_index: int) -> bool:
        """Whether a measure lies in it."""
        after = self.first is None or measure_index >= self.first
        return after and (self.last is None or measure_index <= self.last)


@dataclass(frozen=True, slots=True)
class WarningRow:
    """Something to be told: of the part, or of ``measures``, each with its first note, if any."""

    measures: tuple[tuple[str, int | None], ...]
    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class UnusualRow:
    """Notes of one pitch in one unusual place for one kind of reason: the written notes, and why.

    ``words`` are the place in words, ``reason`` a sentence.
    """

    numbers: tuple[int, ...]
    measures: tuple[str, ...]
    name: str
    mark: str
    words: str
    reason: str


@dataclass(frozen=True, slots=True)
class QuickRow:
    """A quick move of the slide between two written notes; ``pace`` is one of `pace.PACES`."""

    first: int
    second: int
    measure: str
    names: tuple[str, str]
    marks: tuple[str, str]
    length_m: float
    speed_m_s: float
    pace: str


@dataclass(frozen=True, slots=True)
class PartLists:
    """Everything that the page lists; ``placed`` of ``count`` notes have a place.

    ``caution`` is a sentence.
    """

    placed: int
    count: int
    tempo_assumed: bool
    exact: bool
    warnings: tuple[WarningRow, ...]
    unusual: tuple[UnusualRow, ...]
    quickest: tuple[QuickRow, ...]
    signs: tuple[tuple[str, str], ...]
    caution: str | None


def part_lists(say: Speech, part: OpenPart, span: Span | None = None) -> PartLists:
    """The lists of a part, or of some of its measures."""
    span = Span() if span is None else span
    notes = part.marked.part.notes
    names = part.marked.measures
    inside = {note.index for note in notes if span.holds(note.measure_index)}
    routed = part.routed
    placed = {number: place for number, place in routed.places.items() if number in inside}
    return PartLists(
        placed=len(placed),
        count=len(inside),
        tempo_assumed=part.marked.part.tempo_assumed,
        exact=routed.exact,
        warnings=_warnings(say, part, names, inside),
        unusual=_unusual(say, part, names, inside),
        quickest=_quickest(say, part, names, inside),
        signs=legend(
            say,
            routed.setup.horn,
            sorted(set(placed.values()), key=lambda p: (p.position, len(p.valves))),
            routed.setup.style,
            unplayable=len(placed) < len(inside),
        ),
        caution=say(words.FAR) if needs_caution(routed, placed.values()) else None,
    )


def _warnings(
    say: Speech, part: OpenPart, names: MeasureNames, inside: set[int]
) -> tuple[WarningRow, ...]:
    """What is to be told, the same of several notes once."""
    groups: dict[tuple[str, str], dict[str, int | None]] = {}
    for row in part.found:
        if row.number is None or row.number in inside:
            measures = groups.setdefault((row.kind, row.beside_measure(say)), {})
            if measure := row.measure_name(names):
                measures.setdefault(measure, row.number)
    return tuple(WarningRow(tuple(measures.items()), *key) for key, measures in groups.items())


def _unusual(
    say: Speech, part: OpenPart, names: MeasureNames, inside: set[int]
) -> tuple[UnusualRow, ...]:
    routed, notes = part.routed, part.marked.part.notes
    rows = []
    for group in unusual_groups(routed, inside & routed.places.keys()):
        first = group.numbers[0]
        rows.append(
            UnusualRow(
                numbers=group.numbers,
                measures=tuple(names.name(notes[number].measure_index) for number in group.numbers),
                name=full_name(notes[first].sounding, say.names),
                mark=routed.marks[first],
                words=say.place(routed.setup.told(routed.places[first])),
                reason=shared_words(say, group.reasons),
            )
        )
    return tuple(rows)


def _quickest(
    say: Speech, part: OpenPart, names: MeasureNames, inside: set[int]
) -> tuple[QuickRow, ...]:
    routed, notes = part.routed, part.marked.part.notes
    rows: dict[tuple[int, int], QuickRow] = {}
    for move in sorted(routed.moves(), key=lambda move: -move.speed_m_s):
        pair = move.first, move.second
        if pair in rows or move.length_m < _STILL_M or not inside.issuperset(pair):
            continue
        first, second = (full_name(notes[number].sounding, say.names) for number in pair)
        rows[pair] = QuickRow(
            *pair,
            names.name(notes[move.second].measure_index),
            (first, second),
            (routed.marks[move.first], routed.marks[move.second]),
            move.length_m,
            move.speed_m_s,
            pace(move.speed_m_s),
        )
        if len(rows) == QUICKEST:
            break
    return tuple(rows.values())
