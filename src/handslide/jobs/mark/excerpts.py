"""The hard spots of a part, found from its route and cut out to practise.

Three things make a spot: the quickest moves of the slide, changes of valve in short time, and
places away from the usual. The marks are those of the whole part; nothing is routed again.
"""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from handslide.edges.musicxml.cut import Cut, cut_measures
from handslide.ground.facts import Fact, fact
from handslide.instrument.places import Place
from handslide.jobs.mark.mark import MarkedPart

MOST_SPOTS = 6
MOST_MEASURES = 3
_OF_A_KIND = 3
_MOST_REASONS = 3
# More than this over a few bars nobody reads.
_MOST_SAID = 2
_LEAST_MOVE_M = 0.05
_LONG_CHANGE_S = 2.0


@dataclass(frozen=True, slots=True)
class _Reason:
    """Why a spot is hard: between which notes, and what more there is to say."""

    first: int
    second: int
    why: Fact
    more: Fact | None = None


@dataclass(frozen=True, slots=True)
class Spot:
    """A hard spot: measures ``first`` to ``last`` from 0, and why, the worst first.

    ``between``: the notes of the part that the worst reason is about.
    """

    first: int
    last: int
    reasons: tuple[Fact, ...]
    more: tuple[Fact, ...] = ()
    between: tuple[int, int] = (0, 0)


@dataclass(frozen=True, slots=True, eq=False)
class Excerpt:
    """A spot as a score of its own. ``marks`` by number of its ``<note>`` from 0.

    ``hidden`` are fingerings in whose place marks stand, by the same number.
    """

    spot: Spot
    title: Fact
    instruction: tuple[Fact, ...]
    cut: Cut
    staff: str | None
    marks: dict[int, str]
    hidden: frozenset[tuple[int, str]]
    places: frozenset[Place]
    tempo_qpm: float | None


def excerpts_of(marked: MarkedPart, most: int = MOST_SPOTS) -> tuple[Excerpt, ...]:
    """The hard spots of a marked part as excerpts, in the order of the part."""
    return tuple(cut_spot(marked, spot) for spot in find_spots(marked, most))


def find_spots(marked: MarkedPart, most: int = MOST_SPOTS) -> tuple[Spot, ...]:
    """At most ``most`` spots of one to three measures, in the order of the part.

    The worst of each kind come first in turn. Spots that overlap become one where it stays within
    three measures; a passage that comes back note for note is taken once.
    """
    kinds = [list(itertools.islice(kind(marked), 3 * most)) for kind in _KINDS]
    taken = [0] * len(kinds)
    spots: list[Spot] = []
    seen: set[tuple[object, ...]] = set()
    for row in itertools.zip_longest(*kinds):
        for kind, reason in enumerate(row):
            if reason is None or taken[kind] >= _OF_A_KIND:
                continue
            before = len(spots)
            _add(marked, spots, seen, reason, most)
            taken[kind] += len(spots) > before
    return tuple(sorted(spots, key=lambda spot: spot.first))


def _add(
    marked: MarkedPart,
    spots: list[Spot],
    seen: set[tuple[object, ...]],
    reason: _Reason,
    most: int,
) -> None:
    """Add a spot, join it to those that it overlaps, or leave it where there is no room."""
    first, last = _window(marked, reason)
    met: list[Spot] = []
    while more := [s for s in spots if s not in met and first <= s.last and s.first <= last]:
        met += more
        first, last = min(first, *(s.first for s in met)), max(last, *(s.last for s in met))
    if last - first >= MOST_MEASURES or any(len(s.reasons) >= _MOST_REASONS for s in met):
        return
    if met:
        kept = [spot for spot in spots if spot not in met]
        reasons = [why for spot in met for why in spot.reasons]
        said = [more for spot in met for more in spot.more]
        said += [reason.more] if reason.more else []
        joined = Spot(first, last, (*reasons, reason.why), tuple(said), met[0].between)
        spots[:] = [*kept, joined]
        return
    if len(spots) >= most:
        return
    content = _content(marked, first, last)
    if content in seen:
        return
    seen.add(content)
    told = (reason.more,) if reason.more else ()
    spots.append(Spot(first, last, (reason.why,), told, (reason.first, reason.second)))


def _window(marked: MarkedPart, reason: _Reason) -> tuple[int, int]:
    """The measures to cut: those of the notes, and a lead-in where these begin a measure."""
    notes = marked.part.notes
    first, last = notes[reason.first].measure_index, notes[reason.second].measure_index
    if first == last and notes[reason.first].number == 1 and reason.first > 0:
        before = notes[reason.first - 1].measure_index
        if before == first - 1:
            first = before
    return first, last


def _content(marked: MarkedPart, first: int, last: int) -> tuple[object, ...]:
    return tuple(
        (note.sounding.midi, note.beats, marked.routed.marks.get(note.index))
        for note in marked.part.notes
        if first <= note.measure_index <= last
    )


def _near(marked: MarkedPart, first: int, second: int) -> bool:
    """Whether two notes follow each other on the page, not only over a repeat."""
    notes = marked.part.notes
    step = notes[second].measure_index - notes[first].measure_index
    return second - first == 1 and 0 <= step <= 1


def _quickest(marked: MarkedPart) -> Iterator[_Reason]:
    moves = [move for move in marked.routed.moves() if move.length_m >= _LEAST_MOVE_M]
    pitches = marked.routed.pitches
    said: set[tuple[int, int]] = set()
    for move in sorted(moves, key=lambda move: -move.speed_m_s):
        pair = pitches[move.first].midi, pitches[move.second].midi
        if pair in said or not _near(marked, move.first, move.second):
            continue
        kind = "practice.quick_move" if said else "practice.quickest_move"
        said.add(pair)
        why = fact(
            kind,
            first=pitches[move.first],
            second=pitches[move.second],
            way_cm=100.0 * move.length_m,
            time_s=round(move.time_s, 2),
        )
        yield _Reason(move.first, move.second, why)


def _valve_changes(marked: MarkedPart) -> Iterator[_Reason]:
    routed = marked.routed
    if routed.solution is None:
        return
    rows = zip(routed.moves(), itertools.pairwise(routed.solution.places))
    changes = [
        (move, before, after)
        for move, (before, after) in rows
        if before.valves != after.valves and move.time_s <= _LONG_CHANGE_S
    ]
    said: set[tuple[int, int]] = set()
    for move, before, after in sorted(changes, key=lambda row: (row[0].time_s, -row[0].length_m)):
        pair = routed.pitches[move.first].midi, routed.pitches[move.second].midi
        if pair in said or not _near(marked, move.first, move.second):
            continue
        said.add(pair)
        why = fact(
            "practice.valve_change",
            first=routed.pitches[move.first],
            first_valves=before.valves,
            second=routed.pitches[move.second],
            second_valves=after.valves,
        )
        yield _Reason(move.first, move.second, why)


def _unusual(marked: MarkedPart) -> Iterator[_Reason]:
    routed = marked.routed
    found = [number for number in routed.places if routed.is_unusual(number)]
    said: set[tuple[int, Place]] = set()
    for number in sorted(found):
        place, pitch = routed.places[number], routed.pitches[number]
        if (pitch.midi, place) in said:
            continue
        said.add((pitch.midi, place))
        reason = routed.note(number).reason
        yield _Reason(
            number,
            number,
            fact("practice.unusual_place", note=pitch, place=routed.setup.told(place)),
            fact("practice.why", note=pitch, reason=reason) if reason else None,
        )


_KINDS = (_quickest, _valve_changes, _unusual)


def cut_spot(marked: MarkedPart, spot: Spot) -> Excerpt:
    """A spot as a score of its own, with the marks of the whole part."""
    part = marked.part
    title = fact(
        "practice.spot",
        measures=marked.measures.told(spot.first, spot.last),
        reason=spot.reasons[0],
    )
    cut = cut_measures(marked.score, part.part_id, spot.first, spot.last, marked.title)
    ordinals = part.ordinals
    inside = {
        number: ordinals[number] - cut.first_note
        for number in marked.printed
        if 0 <= ordinals[number] - cut.first_note < cut.notes
    }
    marks = {ordinal: marked.printed[number] for number, ordinal in inside.items()}
    hidden = frozenset(
        (ordinal - cut.first_note, text)
        for ordinal, text in marked.hidden
        if 0 <= ordinal - cut.first_note < cut.notes
    )
    _, *others = dict.fromkeys(spot.reasons)
    also = (*(fact("practice.also", reason=reason) for reason in others), *dict.fromkeys(spot.more))
    held = max((n for n in marked.printed if ordinals[n] < cut.first_note), default=None)
    if held is not None:
        # A note that is held over from before the excerpt begins it, and is played there.
        marks |= dict.fromkeys(cut.continued[:1], marked.printed[held])
    routed = marked.routed.places
    places = frozenset(routed[number] for number in inside if number in routed)
    tempo = _tempo_of(marked, spot)
    return Excerpt(spot, title, also[:_MOST_SAID], cut, part.staff, marks, hidden, places, tempo)


def _tempo_of(marked: MarkedPart, spot: Spot) -> float | None:
    """Quarter notes a minute of the spot, the quickest that lasts for a note or more; None where
    there are only grace notes."""
    part = marked.part
    tempos = [
        60.0 * part.notes[number].beats / part.length_s[played]
        for played, number in enumerate(part.played)
        if spot.first <= part.notes[number].measure_index <= spot.last
        and part.notes[number].beats > 0
        and part.length_s[played] > 0
    ]
    return max(tempos, default=None)
