"""Where in a part a player may be: every note of it is weighed, frame by frame.

A hidden Markov model, of which the likeliest way to each note is kept (A. J. Viterbi, IEEE Trans.
Inf. Theory 13 (1967) 260-269). From a note one goes to the next; now and then one is left out, or
another tone sounds in its stead or before it; rarely somebody begins elsewhere. What is weighed are
natural logarithms of odds, roughly: a whole tone that fits bears about 2.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# A tone within this many semitones of a note is that note, badly in tune.
SAME = 0.65
# What a first frame on the note says for it, and any frame at most against it.
_FITS, _AGAINST = 0.3, 0.6
# The ways on: to the next note; for each that is left out or that the frame doesn't fit; for one
# that ran together with the note before it, which has its pitch; from another tone to the note that
# comes, and to the one after it, whose place the tone took.
_NEXT, _LEFT_OUT, _RAN_TOGETHER, _AFTER_OTHER, _INSTEAD = 1.0, 1.5, 0.3, 0.5, 0.3
_MOST_LEFT_OUT = 6
# Another tone sounds; one more; any place but these.
_OTHER, _MORE_OTHERS, _ELSEWHERE = 2.0, 0.8, 6.0
# A tone that is struck isn't the note that sounded; one that isn't, hardly a repeated note.
_STRUCK, _UNSTRUCK = 1.5, 4.0
# After a stop one goes on as readily as one begins anywhere.
_ANYWHERE = _NEXT
# The track takes two to four periods for one where odd harmonics are weak, or half of one: such a
# frame says nothing of the note.
_OCTAVES = np.array([12.0, 12.0 * np.log2(3.0), 24.0, -12.0])
_OCTAVE_NEAR = 0.3


def is_octave_of(pitch: float, other: float) -> bool:
    """Whether a pitch is ``other`` as the track may take it by whole periods."""
    return bool(np.min(np.abs(other - pitch - _OCTAVES)) < _OCTAVE_NEAR)


class Whereabouts:
    """The weights of all notes of a part, (n,) MIDI numbers in playing order."""

    def __init__(self, midis: Sequence[float]) -> None:
        self._midis: Floats = np.array(midis, np.float64)
        n = len(self._midis)
        self._repeats = np.zeros(n, bool)
        self._repeats[1:] = self._midis[1:] == self._midis[:-1]
        left_out = np.where(self._repeats, _RAN_TOGETHER, _LEFT_OUT)
        total = np.concatenate([[0.0], np.cumsum(left_out)])
        # [s - 2][k]: what it costs to come from note k to note k + s.
        self._over = [
            _NEXT + total[step:n] - total[1 : n - step + 1]
            for step in range(2, min(_MOST_LEFT_OUT + 2, n))
        ]
        self.begin(0)

    def begin(self, first: int) -> None:
        """The next note is ``first``, most likely."""
        n = len(self._midis)
        # On the note; and after note k - 1 on another tone.
        self._on = np.full(n, -_ELSEWHERE)
        self._off = np.full(n + 1, -_ELSEWHERE)
        self._off[min(first, n)] = 0.0

    def begin_anywhere(self) -> None:
        """He has stopped: any note may be next."""
        np.maximum(self._off, self._best() - _ANYWHERE + _AFTER_OTHER, out=self._off)

    def begin_tone(self) -> None:
        """What sounds isn't the tone any more that it was."""
        self._off -= _MORE_OTHERS

    def weigh(self, pitch: float, says: float, struck: float, too_soon: int | None) -> None:
        """A frame of ``pitch`` (a MIDI number with fraction) that ``says`` 0 to 1 of the note.

        ``struck``: how surely the tone begins anew here, 0 to 1. ``too_soon``: a note that would
        hardly be over by then.
        """
        on, off = self._on, self._off
        least = self._best() - _ELSEWHERE
        np.maximum(on, least, out=on)
        np.maximum(off, least, out=off)
        stays, onward = on, np.where(self._repeats, _UNSTRUCK, _NEXT)
        if struck:
            stays = on - _STRUCK * struck
            onward[self._repeats] -= (_UNSTRUCK - _NEXT) * struck
            if too_soon is not None:
                stays[too_soon] = on[too_soon]
        comes = off[:-1] - _AFTER_OTHER
        comes[1:] = np.maximum(comes[1:], off[:-2] - _AFTER_OTHER - _INSTEAD)
        comes[1:] = np.maximum(comes[1:], on[:-1] - onward[1:])
        for step, over in enumerate(self._over, 2):
            comes[step:] = np.maximum(comes[step:], on[:-step] - over)
        self._off[1:] = np.maximum(off[1:], on - _OTHER)
        fits = self._fits(pitch)
        comes[fits < 0.0] -= _LEFT_OUT
        self._on = np.maximum(stays, comes) + says * fits

    def _fits(self, pitch: float) -> Floats:
        """What a whole frame says for each note, (n,)."""
        away = self._midis - pitch
        fits = np.maximum(_FITS * (1.0 - (away / SAME) ** 2), -_AGAINST)
        octave = np.min(np.abs(away[:, None] - _OCTAVES), axis=1) < _OCTAVE_NEAR
        return np.where(octave, np.maximum(fits, 0.0), fits)

    def _best(self) -> float:
        return max(float(np.max(self._on, initial=-np.inf)), float(np.max(self._off)))

    def likeliest(self) -> tuple[int | None, float]:
        """The likeliest note, None where it is another tone; and by how much it is ahead of all
        other places, its neighbours left aside.
        """
        if not len(self._on) or float(np.max(self._off)) > float(np.max(self._on)):
            return None, 0.0
        note = int(np.argmax(self._on))
        elsewhere = np.concatenate([self._on, self._off])
        elsewhere[max(0, note - 1) : note + 2] = -np.inf
        off = len(self._on) + note
        elsewhere[max(len(self._on), off - 1) : off + 3] = -np.inf
        return note, float(self._on[note] - np.max(elsewhere))
