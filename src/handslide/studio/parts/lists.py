"""What the page of a part lists beside the music: unusual places, quick moves, signs."""

from dataclasses import dataclass

from handslide.ground.notenames import full_name
from handslide.jobs.mark.report import QUICKEST, needs_caution
from handslide.studio.parts.openpart import OpenPart
from handslide.words import report as words
from handslide.words.marks import legend
from handslide.words.reasons import reason_words
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
    """Something to be told of a measure (empty: of the part), and its written note, if any."""

    measure: str
    number: int | None
    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class UnusualRow:
    """Notes of one pitch in one unusual place: the written notes, and why the first has it.

    ``words`` are the place in words, ``reason`` a sentence.
    """

    numbers: tuple[int, ...]
    measures: tuple[str, ...]
    name: str
    mark: str
    words: str
    reason: str | None


@dataclass(frozen=True, slots=True)
class QuickRow:
    """A quick move of the slide between two written notes."""

    first: int
    second: int
    measure: str
    names: tuple[str, str]
    marks: tuple[str, str]
    length_m: float
    speed_m_s: float


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
    inside = {note.index for note in notes if span.holds(note.measure_index)}
    routed = part.routed
    placed = {number: place for number, place in routed.places.items() if number in inside}
    return PartLists(
        placed=len(placed),
        count=len(inside),
        tempo_assumed=part.marked.part.tempo_assumed,
        exact=routed.exact,
        warnings=tuple(
            WarningRow(row.measure, row.number, row.kind, row.beside_measure(say))
            for row in part.found
            if row.number is None or row.number in inside
        ),
        unusual=_unusual(say, part, inside),
        quickest=_quickest(say, part, inside),
        signs=legend(
            say,
            routed.setup.horn,
            sorted(set(placed.values()), key=lambda p: (p.position, len(p.valves))),
            routed.setup.style,
        ),
        caution=say(words.FAR) if needs_caution(routed, placed.values()) else None,
    )


def _unusual(say: Speech, part: OpenPart, inside: set[int]) -> tuple[UnusualRow, ...]:
    routed, notes = part.routed, part.marked.part.notes
    groups: dict[tuple[int, str], list[int]] = {}
    for number in sorted(routed.places):
        if number in inside and routed.is_unusual(number):
            key = routed.pitches[number].midi, routed.marks[number]
            groups.setdefault(key, []).append(number)
    rows = []
    for (_, text), numbers in groups.items():
        first = numbers[0]
        reason = routed.note(first).reason
        rows.append(
            UnusualRow(
                numbers=tuple(numbers),
                measures=tuple(notes[number].measure for number in numbers),
                name=full_name(notes[first].sounding, say.names),
                mark=text,
                words=say.place(routed.places[first]),
                reason=None if reason is None else reason_words(say, reason),
            )
        )
    return tuple(rows)


def _quickest(say: Speech, part: OpenPart, inside: set[int]) -> tuple[QuickRow, ...]:
    routed, notes = part.routed, part.marked.part.notes
    rows: dict[tuple[int, int], QuickRow] = {}
    for move in sorted(routed.moves(), key=lambda move: -move.speed_m_s):
        pair = move.first, move.second
        if pair in rows or move.length_m < _STILL_M or not inside.issuperset(pair):
            continue
        first, second = (full_name(notes[number].sounding, say.names) for number in pair)
        rows[pair] = QuickRow(
            *pair,
            notes[move.second].measure,
            (first, second),
            (routed.marks[move.first], routed.marks[move.second]),
            move.length_m,
            move.speed_m_s,
        )
        if len(rows) == QUICKEST:
            break
    return tuple(rows.values())
