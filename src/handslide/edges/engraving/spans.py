"""Slurs, lines and brackets that stand open at once, in the engraving copy.

The engraver asks at every note about each that is open, and draws those that never end to the end
of the part: thousands that were begun and not ended take it minutes. A part that is well written
has none of them, and a score with mistakes a few; what is beyond is taken out.
"""

from collections import OrderedDict

from lxml import etree

from handslide.ground.limits import ENGRAVED_OPEN

_SPANS = (
    "slur", "tied", "tuplet", "glissando", "slide", "wavy-line", "wedge", "octave-shift", "pedal",
    "dashes", "bracket",
)  # fmt: skip
_STARTS = frozenset(
    {"start", "crescendo", "diminuendo", "up", "down", "sostenuto", "resume", "change"}
)
_ENDS = frozenset({"stop", "discontinue", "change"})


def close_spans(part: etree._Element) -> None:
    """Take out the longest open of each kind wherever more than `ENGRAVED_OPEN` are."""
    _walked(part)


def open_spans(part: etree._Element) -> list[etree._Element]:
    """What begins in a part and doesn't end in it; of a part that :func:`close_spans` has seen."""
    return [element for each in _walked(part) for element in each.left]


def _walked(part: etree._Element) -> list["_Open"]:
    spans: dict[str, _Open] = {tag: _Open() for tag in _SPANS}
    for element in list(part.iter(*_SPANS)):
        spans[str(element.tag)].add(element)
    return list(spans.values())


class _Open:
    """The open spans of one kind: the newest of each number is the first to be ended."""

    def __init__(self) -> None:
        self._all: OrderedDict[int, etree._Element] = OrderedDict()
        self._by_number: dict[str, list[int]] = {}
        self._count = 0

    def add(self, element: etree._Element) -> None:
        kind, number = element.get("type", ""), element.get("number", "1")
        if kind in _ENDS:
            self._end(number)
        if kind in _STARTS:
            self._count += 1
            self._all[self._count] = element
            self._by_number.setdefault(number, []).append(self._count)
            if len(self._all) > ENGRAVED_OPEN:
                _take_out(self._all.popitem(last=False)[1])

    @property
    def left(self) -> list[etree._Element]:
        """Those that are open still."""
        return list(self._all.values())

    def _end(self, number: str) -> None:
        begun = self._by_number.get(number, [])
        if begun:
            self._all.pop(begun.pop(), None)


def _take_out(element: etree._Element) -> None:
    """With the direction that it was alone in."""
    parent = element.getparent()
    parent.remove(element)
    while parent.tag in ("direction-type", "direction") and _is_idle(parent):
        element, parent = parent, parent.getparent()
        parent.remove(element)


def _is_idle(element: etree._Element) -> bool:
    first = next(element.iterchildren("*"), None)
    return (
        first is None if element.tag == "direction-type" else element.find("direction-type") is None
    )
