"""Measures of a line as it is played, and where a metronome beats along it."""

from collections.abc import Sequence

from handslide.edges.musicxml.line import WrittenLine
from handslide.edges.musicxml.order import Span, movement_starts
from handslide.edges.musicxml.scorepart import PlayedMeasure
from handslide.edges.musicxml.time import TempoMap
from handslide.ground.limits import PLAYED_BEATS

_SLACK_Q = 1e-3


def beats_of(
    line: WrittenLine, spans: Sequence[Span], tempo: TempoMap
) -> tuple[tuple[float, bool], ...]:
    """Every beat as (second, whether it begins a measure), repeats and jumps followed.

    A measure shorter than its meter at the start or marked as implicit is an upbeat: its beats
    count from its end.
    """
    beats: list[tuple[float, bool]] = []
    clock_s = 0.0
    for span in spans:
        begin_q, length_q = line.measure_q[span.measure], line.measure_length_q[span.measure]
        to_q = min(span.to_q, length_q)
        if len(beats) + (to_q - span.from_q) / line.meters[span.measure][1] > PLAYED_BEATS:
            break
        places = _places(line, span, length_q)
        ends = tempo.seconds([begin_q + span.from_q, begin_q + to_q])
        at_s = tempo.seconds([begin_q + place for place, _ in places])
        for (place, first), second in zip(places, at_s):
            if span.from_q - _SLACK_Q <= place < to_q - _SLACK_Q:
                beats.append((clock_s + second - ends[0], first))
        clock_s += ends[1] - ends[0]
    return tuple(beats)


def measures_of(
    line: WrittenLine, spans: Sequence[Span], tempo: TempoMap
) -> tuple[PlayedMeasure, ...]:
    """The measures in playing order, with their times."""
    found: list[PlayedMeasure] = []
    clock_s = 0.0
    starts = set(movement_starts(line.numbers, line.signs)[1:])
    for span in spans:
        index = span.measure
        # A movement that is repeated from its beginning goes on.
        came = bool(found) and found[-1].index < index
        length_q = line.measure_length_q[index]
        meter_q, beat_q = line.meters[index]
        from_q = line.measure_q[index] + span.from_q
        to_q = line.measure_q[index] + min(span.to_q, length_q)
        begin_s, end_s, soon_s = tempo.seconds([from_q, to_q, from_q + 1e-3])
        per_q = (soon_s - begin_s) / 1e-3
        found.append(
            PlayedMeasure(
                line.numbers[index], index, clock_s, clock_s + end_s - begin_s,
                meter_q * per_q, beat_q * per_q, _is_upbeat(line, index),
                came and index in starts,
            )
        )  # fmt: skip
        clock_s += end_s - begin_s
        if len(found) > PLAYED_BEATS:
            break
    return tuple(found)


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
