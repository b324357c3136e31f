"""What music21 looks for again and again in a score, found once.

It sums up a whole spine of Humdrum at each barline, and searches the meter of each measure through
all of its part: both grow with the square of a score's length. Two of its functions are replaced
while they are needed, in the version that was looked at; another one works as it likes.
"""

import contextlib
from collections.abc import Iterator, Sequence
from typing import Any

LOOKED_AT = "10.5.1"
"""The version of the library whose functions are known here."""


def measures_in_meter(part: Any) -> Iterator[tuple[Any, Any]]:
    """The measures of a part, each with the meter that holds at its begin, or None."""
    from music21 import meter, stream

    last = None
    for element in part:
        if isinstance(element, meter.TimeSignature):
            last = element
        elif isinstance(element, stream.Measure):
            own = list(element[meter.TimeSignature])
            yield element, own[0] if own else last
            last = own[-1] if own else last


@contextlib.contextmanager
def known_barlines() -> Iterator[None]:
    """Within it, a spine of Humdrum isn't forgotten how long it is when a barline ends a measure.

    The measure is empty then and stays as long as before; what comes after it is told anew.
    """
    from music21.humdrum import spineParser

    ended = spineParser.hdStringToMeasure

    def with_lengths(contents: str, before: Any = None) -> Any:
        sites = () if before is None else tuple(before.sites)
        lengths = [(site, site._cache.get("HighestTime")) for site in sites]
        measure = ended(contents, before)
        for site, length in lengths:
            if length is not None:
                site._setHighestTime(length)
        return measure

    with _in_place_of(spineParser, "hdStringToMeasure", with_lengths):
        yield


@contextlib.contextmanager
def known_meters(parts: Sequence[Any]) -> Iterator[None]:
    """Within it, measures of these parts know how long their bars are by the meter that holds.

    The library adds all of them up before it fills a part with rests.
    """
    from music21 import stream

    searched: Any = stream.Measure.barDuration
    known = {
        id(measure): meter.barDuration
        for part in parts
        for measure, meter in measures_in_meter(part)
        if meter is not None
    }

    def duration(measure: Any) -> Any:
        found = known.get(id(measure))
        return searched.fget(measure) if found is None else found

    with _in_place_of(stream.Measure, "barDuration", property(duration)):
        yield


@contextlib.contextmanager
def _in_place_of(owner: Any, name: str, other: Any) -> Iterator[None]:
    import music21

    if music21.__version__ != LOOKED_AT:
        yield
        return
    own = getattr(owner, name)
    setattr(owner, name, other)
    try:
        yield
    finally:
        setattr(owner, name, own)
