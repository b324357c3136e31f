"""Measures of a line as it is played, and where a metronome beats along it."""

from collections.abc import Iterator, Sequence

from handslide.edges.musicxml.line import WrittenLine
from handslide.edges.musicxml.order import Span, movement_starts
from handslide.edges.musicxml.scorepart import PlayedMeasure
from handslide.edges.musicxml.time import TempoMap
from handslide.ground.limits import PLAYED_BEATS

_SLACK_Q = 1e-3
_SOON_Q = 1e-3


def beats_of(
    line: WrittenLine, spans: Sequence[Span], tempo: TempoMap
) -> tuple[tuple[float, bool], ...]:
    """Every beat as (second, whether it begins a measure), repeats and jumps followed.

    A measure shorter than its meter at the start or marked as implicit is an upbeat: its beats
    count from its end.
    """
    firsts: list[list[bool]] = []
    places_q: list[float] = []
    count = 0
    for span in spans:
        begin_q, length_q = line.measure_q[span.measure], line.measure_length_q[span.measure]
        to_q = min(span.to_q, length_q)
        if count + (to_q - span.from_q) / line.meters[span.measure][1] > PLAYED_BEATS:
            break
        low_q, high_q = span.from_q - _SLACK_Q, to_q - _SLACK_Q
        places = [row for row in _places(line, span, length_q) if low_q <= row[0] < high_q]
        count += len(places)
        firsts.append([first for _, first in places])
        places_q += begin_q + span.from_q, *(begin_q + place for place, _ in places), begin_q + to_q
    beats: list[tuple[float, bool]] = []
    clock_s = 0.0
    second = iter(tempo.seconds(places_q))
    for measure in firsts:
        begin_s = next(second)
        beats += [(clock_s + next(second) - begin_s, first) for first in measure]
        clock_s += next(second) - begin_s
    return tuple(beats)


def measures_of(
    line: WrittenLine, spans: Sequence[Span], tempo: TempoMap
) -> tuple[PlayedMeasure, ...]:
    """The measures in playing order, with their times."""
    found: list[PlayedMeasure] = []
    clock_s = 0.0
    starts = set(movement_starts(line.numbers, line.signs)[1:])
    spans = spans[: PLAYED_BEATS + 1]
    for span, (begin_s, end_s, soon_s) in zip(spans, _times_of(line, spans, tempo)):
        index = span.measure
        # A movement that is repeated from its beginning goes on.
        came = bool(found) and found[-1].index < index
        meter_q, beat_q = line.meters[index]
        per_q = (soon_s - begin_s) / _SOON_Q
        found.append(
            PlayedMeasure(
                line.numbers[index], index, clock_s, clock_s + end_s - begin_s,
                meter_q * per_q, beat_q * per_q, _is_upbeat(line, index),
                came and index in starts,
            )
        )  # fmt: skip
        clock_s += end_s - begin_s
    return tuple(found)


def _times_of(
    line: WrittenLine, spans: Sequence[Span], tempo: TempoMap
) -> Iterator[tuple[float, float, float]]:
    """Of each span the seconds at its beginning, at its end, and just after its beginning."""
    places_q: list[float] = []
    for span in spans:
        begin_q, length_q = line.measure_q[span.measure], line.measure_length_q[span.measure]
        from_q = begin_q + span.from_q
        places_q += from_q, begin_q + min(span.to_q, length_q), from_q + _SOON_Q
    seconds = iter(tempo.seconds(places_q))
    return zip(seconds, seconds, seconds)


def _is_upbeat(line: WrittenLine, measure: int) -> bool:
    short = line.measure_length_q[measure] < line.meters[measure][0] - _SLACK_Q
    return measure in line.upbeats and short


def _places(line: WrittenLine, span: Span, length_q: float) -> list[tuple[float, bool]]:
    """The beats of a measure up to the end of what is played of it, and about from its start."""
    _, beat_q = line.meters[span.measure]
    upbeat = _is_upbeat(line, span.measure)
    begin = length_q % beat_q if upbeat else 0.0
    first = max(0, int((span.from_q - begin) / beat_q) - 1)
    count = int((min(span.to_q, length_q) - begin) / beat_q + 1 - _SLACK_Q)
    return [(begin + number * beat_q, number == 0 and not upbeat) for number in range(first, count)]
