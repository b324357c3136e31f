"""Slurs and glissandi: which segments are bound or glide to the next one."""

from collections.abc import Callable, Sequence

from handslide.edges.musicxml.ties import Sign

_GLIDES = frozenset({"glissando", "slide"})


class Curves:
    """The slurs that are open while a line is read, and what they and the glides have joined.

    Parameters
    ----------
    unclosed : callable
        Told the segment on which a slur starts that doesn't end; it is read to the next one.

    Attributes
    ----------
    slurred, gliding : set of int
        Segments slurred to the next one, and those from which the slide or the pitch glides.
    """

    def __init__(self, unclosed: Callable[[int], None]) -> None:
        self._unclosed = unclosed
        self._open: dict[str, int] = {}
        self.slurred: set[int] = set()
        self.gliding: set[int] = set()

    def add(self, signs: Sequence[Sign], segment: int) -> None:
        """Slurs and glides that end or start on a note; ends first."""
        for tag, kind, sign in signs:
            if kind == "stop" and tag == "slur":
                self._stop(sign.get("number", "1"), segment)
        for tag, kind, sign in signs:
            if kind == "start":
                if tag == "slur":
                    self._start(sign.get("number", "1"), segment)
                elif tag in _GLIDES:
                    self.gliding.add(segment)

    def finish(self) -> None:
        """The part is over: what is still open doesn't end."""
        for segment in self._open.values():
            self._leave_open(segment)
        self._open = {}

    def _start(self, label: str, segment: int) -> None:
        if self._open.get(label, segment) != segment:
            self._leave_open(self._open[label])
        self._open[label] = segment

    def _stop(self, label: str, segment: int) -> None:
        start = self._open.pop(label, None)
        if start is not None:
            self.slurred.update(range(start, segment))
        elif segment > 0:
            self.slurred.add(segment - 1)

    def _leave_open(self, segment: int) -> None:
        self.slurred.add(segment)
        self._unclosed(segment)
