"""The signs of a part that steer its playing, gathered by measure: tempos, repeats, jumps."""

from typing import Any

from handslide.edges.musicxml.clock import Clock
from handslide.edges.musicxml.signs import (
    Jump,
    MeasureSigns,
    Modulation,
    add_barline,
    direction_tempo,
    jumps_of,
    tempo_of,
)

_STEERING = ("sound", "metronome", "words", "segno", "coda")


class RoadSigns:
    """Signs as they come, each at the place where the ``clock`` stands.

    Attributes
    ----------
    by_measure : dict
        Repeats, endings and jumps of the measures that have any, by index of the measure.
    tempos : list of (float, float or Modulation)
        Quarter notes from the start of the part, quarter notes a minute.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self.by_measure: dict[int, MeasureSigns] = {}
        self.tempos: list[tuple[float, float | Modulation]] = []

    def add_direction(self, element: Any, measure: int) -> None:
        """Tempo and jumps of a ``<direction>``; most only say how loud."""
        if not any(map(_steers, element.iter(*_STEERING))):
            return
        at_q = self._clock.place(element.findtext("sound/offset") or element.findtext("offset"))
        self._add(direction_tempo(element), list(jumps_of(element, at_q)), at_q, measure)

    def add_sound(self, element: Any, measure: int) -> None:
        """Tempo and jumps of a ``<sound>`` that stands by itself."""
        at_q = self._clock.position
        self._add(tempo_of(element), list(jumps_of(element, at_q)), at_q, measure)

    def _add(
        self, tempo: float | Modulation | None, jumps: list[Jump], at_q: float, measure: int
    ) -> None:
        if tempo is not None:
            self.tempos.append((self._clock.measure_start + at_q, tempo))
        if jumps:
            self._of(measure).jumps.extend(jumps)

    def add_barline(self, element: Any, measure: int) -> bool:
        """Repeat, ending and jumps of a ``<barline>``; True when an ending begins with it."""
        signs = self._of(measure)
        had_ending = signs.ending is not None
        add_barline(signs, element)
        for kind in ("segno", "coda"):
            if element.get(kind) is not None or element.find(kind) is not None:
                signs.jumps.append(Jump(kind, element.get(kind) or "", self._clock.position))
        return signs.ending is not None and not had_ending

    def follows_ending(self, measure: int) -> bool:
        """Whether an ending stops just before a measure."""
        before = self.by_measure.get(measure - 1)
        return before is not None and before.ending_stops

    def _of(self, measure: int) -> MeasureSigns:
        return self.by_measure.setdefault(measure, MeasureSigns())


def _steers(sign: Any) -> bool:
    """Whether one of `_STEERING` can hold a tempo or a jump."""
    return bool(sign.tag != "sound" or sign.keys() != ["dynamics"])
