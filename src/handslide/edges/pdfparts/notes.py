"""From what was walked through to what was read: notes, measures and changes of the part."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from handslide.edges.pdfparts.corrected import Corrector
from handslide.edges.pdfparts.directions import Direction
from handslide.edges.pdfparts.found import Event, Head
from handslide.edges.pdfparts.reading import Change, ReadMeasure, ReadNote, Spot
from handslide.edges.pdfparts.walk import Turn, Walk, WalkedBar
from handslide.ground.facts import Fact, fact

_LETTERS = "CDEFGAB"


def notes_of(walk: Walk, corrector: Corrector) -> list[ReadNote]:
    """All heads and rests, in reading order. What a person called no note is left out."""
    found = []
    for walked in walk.bars:
        for item, (event, head, first) in enumerate(_items(walked.bar.events), 1):
            spot = Spot(walked.spot.page, walked.spot.system, walked.spot.bar, item)
            if head is None:
                found.append(_rest(walked, spot, event))
            elif not (spot in corrector.notes and corrector.notes[spot] is None):
                found.append(_note(walked, spot, event, head, first, corrector))
    return found


def _items(events: Iterable[Event]) -> Iterator[tuple[Event, Head | None, bool]]:
    for event in events:
        if not event.heads:
            yield event, None, True
        for index, head in enumerate(event.heads):
            yield event, head, index == 0


def _rest(walked: WalkedBar, spot: Spot, event: Event) -> ReadNote:
    rest = event.rest
    return ReadNote(
        spot=spot, measure=walked.measure, x=(event.x + event.right) / 2, y=event.y, left=event.x,
        right=event.right, step=None, octave=0, alter=0, shown=False, kind=event.value,
        dots=event.dots, actual=event.actual, normal=event.normal, onset=event.onset,
        length=event.length, voice=event.voice, chord=False, grace=False, cue=event.cue,
        tie_to=False, tie_from=False, slur_start=0, slur_stop=0, gliss_to=False, beams=0,
        stem_up=None, doubts=() if rest is None or rest.sure else (_unsure_rest(),),
    )  # fmt: skip


def _unsure_rest() -> Fact:
    return fact("pdfparts.doubt_rest")


def _note(
    walked: WalkedBar, spot: Spot, event: Event, head: Head, first: bool, corrector: Corrector
) -> ReadNote:
    said = corrector.notes.get(spot)
    octave, step = divmod(head.step, 7)
    alter, doubts = head.alter, tuple(dict.fromkeys(head.doubts))
    if said is not None:
        step, octave, alter, doubts = _LETTERS.index(said.step), said.octave, said.alter, ()
    return ReadNote(
        spot=spot, measure=walked.measure, x=head.middle, y=head.y, left=head.x, right=head.right,
        step=step, octave=octave, alter=alter, shown=head.sign is not None, kind=event.value,
        dots=event.dots, actual=event.actual, normal=event.normal, onset=event.onset,
        length=event.length, voice=event.voice, chord=not first, grace=event.grace, cue=event.cue,
        tie_to=head.tie_to is not None, tie_from=head.tie_from is not None,
        slur_start=event.slur_starts if first else 0, slur_stop=event.slur_stops if first else 0,
        gliss_to=event.gliss and first,
        beams=len(event.stem.slabs) if event.stem is not None else 0, stem_up=event.up,
        doubts=doubts, corrected=said is not None,
    )  # fmt: skip


def measures_of(walk: Walk) -> list[ReadMeasure]:
    """The measures; one that goes on in the next system is told once, where it begins."""
    found: list[ReadMeasure] = []
    printed = 1
    for walked in walk.bars:
        bar = walked.bar
        if walked.offset and found:
            found[-1] = replace(
                found[-1], filled=walked.offset + walked.filled, repeat_end=bar.repeat_end,
                final=bar.final, double=bar.double, jumps=(*found[-1].jumps, *bar.jumps),
            )  # fmt: skip
            continue
        upbeat = not found and walked.filled < walked.meter and bool(bar.events)
        number = "0" if upbeat else str(printed)
        found.append(_measure(walked, number))
        printed += 0 if upbeat else bar.rests
    return found


def _measure(walked: WalkedBar, number: str) -> ReadMeasure:
    bar = walked.bar
    return ReadMeasure(
        spot=walked.spot, x0=bar.x0, x1=bar.x1, number=number, meter=walked.meter,
        filled=walked.filled, repeat_start=bar.repeat_start, repeat_end=bar.repeat_end,
        ending=bar.ending, final=bar.final, double=bar.double, rests=bar.rests,
        jumps=tuple(dict.fromkeys(bar.jumps)),
    )  # fmt: skip


def changes_of(walk: Walk, directions: Mapping[Spot, Sequence[Direction]]) -> list[Change]:
    """Clefs, keys, meters and orders, in the order of the part.

    ``directions`` are those of each staff, by its spot.
    """
    bars = {walked.spot: walked for walked in walk.bars}
    found = [
        Change(*_begin(turn, bars, walk), turn.kind, turn.value, turn.spot, turn.doubts)
        for turn in walk.turns
    ]
    for spot, orders in directions.items():
        for order in orders:
            at = _bar_under(walk, spot, order.x)
            if at is not None:
                onset = _onset_at(at, order.x)
                found.append(Change(at.measure, onset, order.kind, order.value, at.spot))
    return sorted(found, key=lambda change: (change.measure, change.onset))


def _begin(turn: Turn, bars: Mapping[Spot, WalkedBar], walk: Walk) -> tuple[int, Fraction]:
    """The measure and onset from which a turn holds."""
    walked = bars.get(turn.spot)
    if walked is None:
        later = [one for one in walk.bars if _order(one.spot) > _order(turn.spot)]
        measure = later[0].measure if later else (walk.bars[-1].measure + 1 if walk.bars else 0)
        return measure, later[0].offset if later else Fraction(0)
    after = [event.onset for event in walked.bar.events if event.x > turn.x]
    if after:
        first = min(after)
        return walked.measure, first if turn.kind == "clef" and turn.x else walked.offset
    return walked.measure, walked.offset + walked.filled


def _order(spot: Spot) -> tuple[int, int, int]:
    return spot.page, spot.system, spot.bar


def _bar_under(walk: Walk, spot: Spot, x: float) -> WalkedBar | None:
    own = [one for one in walk.bars if (one.spot.page, one.spot.system) == (spot.page, spot.system)]
    return next((one for one in own if x < one.bar.x1), own[-1] if own else None)


def _onset_at(walked: WalkedBar, x: float) -> Fraction:
    """That of the event which stands nearest over ``x``; the bar's where x is before all."""
    space = walked.read.ink.staff.space
    events = [event for event in walked.bar.events if not event.grace]
    after = [event.onset for event in events if event.right > x - 0.5 * space]
    if not after:
        return max((event.onset for event in events), default=walked.offset)
    return min(after)
