"""Where a metronome beats along a line as it is played."""

from collections.abc import Sequence

from handslide.edges.musicxml_line import WrittenLine
from handslide.edges.musicxml_order import Span
from handslide.edges.musicxml_time import TempoMap

_SLACK_Q = 1e-3
_MOST = 200_000


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
        places = _places(line, span.measure, length_q)
        ends = tempo.seconds([begin_q + span.from_q, begin_q + to_q])
        at_s = tempo.seconds([begin_q + place for place, _ in places])
        for (place, first), second in zip(places, at_s):
            if span.from_q - _SLACK_Q <= place < to_q - _SLACK_Q:
                beats.append((clock_s + second - ends[0], first))
        clock_s += ends[1] - ends[0]
        if len(beats) > _MOST:
            break
    return tuple(beats)


def _places(line: WrittenLine, measure: int, length_q: float) -> list[tuple[float, bool]]:
    meter_q, beat_q = line.meters[measure]
    upbeat = measure in line.upbeats and length_q < meter_q - _SLACK_Q
    begin = length_q % beat_q if upbeat else 0.0
    count = int((length_q - begin) / beat_q + 1 - _SLACK_Q)
    return [(begin + number * beat_q, number == 0 and not upbeat) for number in range(count)]
