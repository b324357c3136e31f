"""The music of a stand for the screen: engraved once, its marks kept up to date in the page.

The engraving makes room for the marks of the route without locks, so that a choice doesn't engrave
it again; the page writes the marks of the present route into it. It comes in pieces, so that the
first can be read while the others are engraved.
"""

import hashlib
import json
import threading
from collections.abc import Callable, Iterator
from typing import Any

from handslide import __version__
from handslide.edges.engraving.engrave import engrave_column
from handslide.edges.engraving.screen import WIDTHS_MM, for_screen, joined, screen_paper
from handslide.edges.engraving.values import Piece
from handslide.ground.errors import NotFound, ScoreError
from handslide.ground.limits import OPEN_MUSIC_BYTES
from handslide.instrument.markreading import is_unplayable_sign
from handslide.instrument.marks import UNPLAYABLE
from handslide.studio.cache import CacheKind
from handslide.studio.parts.openpart import OpenPart
from handslide.studio.studio import Studio

MOST_ENGRAVED = 200


class ScreenMusic:
    """The music of a part, piece by piece as ``engrave`` gives it, in a thread of its own.

    Whoever asks for a piece waits until it is there. An error of the engraver comes out where the
    first piece that there is none of is asked for, and stays: nobody waits for it again.
    """

    def __init__(self, engrave: Callable[[], Iterator[Piece]], ended: Callable[[], None]) -> None:
        self._pieces: list[Piece] = []
        self._error: Exception | None = None
        self._going_on = True
        self._changed = threading.Condition()
        threading.Thread(target=self._fill, args=(engrave, ended), daemon=True).start()

    def _fill(self, engrave: Callable[[], Iterator[Piece]], ended: Callable[[], None]) -> None:
        try:
            for piece in engrave():
                ready = Piece(for_screen(piece.svg), piece.more)
                with self._changed:
                    self._pieces.append(ready)
                    self._changed.notify_all()
        except Exception as error:
            self._error = error
        finally:
            with self._changed:
                self._going_on = False
                self._changed.notify_all()
            ended()

    @property
    def weight(self) -> int:
        """Bytes so far."""
        return sum(len(piece.svg) for piece in self._pieces)

    @property
    def broken(self) -> bool:
        """Whether it fell of what nobody foresaw, and may be tried again."""
        return self._error is not None and not isinstance(self._error, ScoreError)

    def piece(self, number: int) -> Piece:
        """A piece, from 0. Raises ScoreError, and NotFound beyond the last."""
        with self._changed:
            self._changed.wait_for(lambda: not self._going_on or number < len(self._pieces))
        if number < len(self._pieces):
            return self._pieces[number]
        self._complain()
        raise NotFound("web.no_piece", number=number)

    @property
    def svg(self) -> str:
        """All of it as one SVG element. Raises ScoreError."""
        with self._changed:
            self._changed.wait_for(lambda: not self._going_on)
        self._complain()
        return joined(piece.svg for piece in self._pieces)

    def _complain(self) -> None:
        if self._error is not None:
            raise self._error.with_traceback(None)


_ENGRAVED: CacheKind[str, ScreenMusic] = CacheKind(
    MOST_ENGRAVED, lambda music: music.weight, OPEN_MUSIC_BYTES
)


def music_tag(part: OpenPart, width: str, other: OpenPart | None = None) -> str:
    """The name of what :func:`screen_music` gives, without engraving."""
    read = part.marked.part
    content: list[Any] = [__version__, part.key.digest, read.part_id, read.staff, read.voice, width]
    content += [sorted(marks.items()) for marks in _rows(part, other)]
    return hashlib.sha256(json.dumps(content).encode()).hexdigest()[:32]


def screen_music(
    studio: Studio, part: OpenPart, width: str, other: OpenPart | None = None
) -> ScreenMusic:
    """The music of a part in one of `WIDTHS_MM`.

    With ``other``, the same part for another student or horn, both have a row of marks as they
    are now; without, the marks are those of the route without locks. Raises ScoreError.
    """
    tag, engraved = music_tag(part, width, other), studio.caches.of(_ENGRAVED)

    def made() -> ScreenMusic:
        return ScreenMusic(lambda: _engrave(part, width, other), engraved.weigh_again)

    found = engraved.get(tag, made)
    if found.broken:
        engraved.forget(tag)
        found = engraved.get(tag, made)
    return found


def _rows(part: OpenPart, other: OpenPart | None) -> list[dict[int, str]]:
    ordinals = part.marked.part.ordinals
    if other is None:
        rows = [part.with_locks({}).marks]
    else:
        rows = [part.routed.marks, other.routed.marks]
    # Every note has room for a mark: what can't be played has a sign of its own.
    return [
        {ordinal: marks.get(number, UNPLAYABLE) for number, ordinal in enumerate(ordinals)}
        for marks in rows
    ]


def _engrave(part: OpenPart, width: str, other: OpenPart | None) -> Iterator[Piece]:
    read = part.marked.part
    marks, *second = _rows(part, other)
    return engrave_column(
        part.marked.score,
        read.part_id,
        marks,
        screen_paper(WIDTHS_MM[width]),
        staff=read.staff,
        second=second[0] if second else None,
        # What reads as a place is shown by the page's own marks.
        hidden={
            (read.notes[reading.number].ordinal, text)
            for reading in part.existing.readings
            if reading.is_mark
            for text in reading.texts
        }
        | {
            (row.ordinal, row.text)
            for row in part.existing.fingerings
            if is_unplayable_sign(row.text)
        },
    )
