"""Where the reading of a measure stands, in quarter notes.

MusicXML writes the voices of a measure one after the other: a note moves on, ``<backup>`` goes
back to begin another voice, ``<forward>`` leaves a gap. Lengths are in divisions of a quarter note.
"""

from typing import Any

from handslide.edges.musicxml.signs import beat_q, meter_q, number
from handslide.edges.musicxml.values import Fields, Lengths, Warn
from handslide.ground.facts import fact

_EPS_Q = 0.02
_SLACK_Q = 0.1
"""A measure this near to its meter is taken as full: rounded divisions add up to less."""


class Clock:
    """The position in the present measure, and where measures begin.

    Attributes
    ----------
    onset : float
        Of the note that was struck last, in quarter notes from the start of the measure.
    position, furthest : float
        Where the next note stands, and the furthest that any voice has come.
    measure_start : float
        Of the present measure, from the start of the part.
    meter, beat_q : float
        Quarter notes in a measure (None: free, or not given) and in a beat.
    """

    def __init__(self, warn: Warn) -> None:
        self._warn = warn
        self._lengths = Lengths(warn)
        self._length_of = self._lengths.of
        self.meter: float | None = None
        self.beat_q = 1.0
        self.measure_start = 0.0
        self.onset = self.position = self.furthest = 0.0

    def set_divisions(self, text: str | None) -> None:
        """Take over a ``<divisions>``."""
        self._lengths.set_divisions(text)

    def set_time(self, time: Any) -> None:
        """Take over a ``<time>``."""
        self.meter, self.beat_q = meter_q(time), beat_q(time)

    def strike(self, fields: Fields) -> float:
        """The length of a note or rest, from its ``fields``; `onset` and `position` move on.

        A further note of a chord stands where the one before it stands.
        """
        length = self._length_of(fields, self.meter)
        if "chord" not in fields:
            self.onset = self.position
            self.position = end = self.onset + length
            if end > self.furthest:
                self.furthest = end
        return length

    def move(self, element: Any) -> None:
        """Follow a ``<backup>`` or ``<forward>``."""
        duration = number(element.findtext("duration"))
        if duration is None or duration < 0.0:
            self._warn("duration", fact("scores.move_without_duration", tag=element.tag))
            return
        step = duration / self._lengths.divisions
        self.position += step if element.tag == "forward" else -step
        if self.position < 0.0:
            if self.position < -_EPS_Q:
                self._warn("duration", fact("scores.backup_too_far"))
            self.position = 0.0
        self.furthest = max(self.furthest, self.position)

    def place(self, offset: str | None) -> float:
        """The position, moved by an ``<offset>`` that is counted in divisions."""
        moved = number(offset)
        if moved is None:
            return self.position
        return max(0.0, self.position + moved / self._lengths.divisions)

    def close_measure(self, *, implicit: bool) -> float:
        """The length of the measure that ends; the next one begins behind it.

        ``implicit``: it isn't counted, and may be of any length.
        """
        length, meter = self.furthest, self.meter
        if meter is not None and (length == 0.0 or abs(length - meter) < _SLACK_Q):
            length = meter
        elif length == 0.0:
            length = 4.0
        elif meter is not None and length > meter and not implicit:
            self._warn("duration", fact("scores.long_measure", length=length, meter=meter))
        self.measure_start += length
        self.position = self.furthest = self.onset = 0.0
        return length
