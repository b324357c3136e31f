"""Chord symbols: a ``<harmony>`` to a root and the semitones above it.

Degrees as the MusicXML 4.0 schema explains them (``degree``). Kinds that say only what a chord does
in its key (Neapolitan, Italian, Tristan …), and ``other``, are their root alone. A bass other than
the root changes nothing: chords are tuned above their root.
"""

from typing import Any, NamedTuple

from handslide.edges.musicxml.signs import MOST_ALTER, number
from handslide.ground.chordkinds import KINDS, tones_of
from handslide.ground.pitch import STEPS, Pitch

NO_CHORD = "none"
_ROOT_ALONE = frozenset({"Neapolitan", "Italian", "French", "German", "Tristan", "other"})
_DEGREES = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 10}
"""What a degree is above a dominant chord's root."""
_MOST_DEGREE = 13


class Symbol(NamedTuple):
    """A chord symbol as written: no ``root`` where no chord is to sound, or none can be read."""

    root: Pitch | None
    kind: str
    semitones: tuple[int, ...]
    """Within an octave above the root, which is the first of them."""

    @property
    def unread(self) -> bool:
        """Whether a chord is meant that can't be read."""
        return self.root is None and self.kind != NO_CHORD


def symbol_of(harmony: Any) -> Symbol:
    """The chord of a ``<harmony>``, its root as written, in the fourth octave."""
    kind = (harmony.findtext("kind") or "").strip()
    if kind == NO_CHORD:
        return Symbol(None, NO_CHORD, ())
    step = (harmony.findtext("root/root-step") or "").strip()
    alter = number(harmony.findtext("root/root-alter") or "0")
    if step not in STEPS or alter is None or abs(alter) > MOST_ALTER or alter != round(alter):
        return Symbol(None, kind, ())
    tones = dict(KINDS.get(kind, {1: 0}))
    if kind in KINDS:
        for degree in harmony.iterchildren("degree"):
            _change(tones, degree)
    known = kind if kind in KINDS or kind in _ROOT_ALONE else "other"
    return Symbol(Pitch(step, round(alter), 4), known, tones_of(tones))


def _change(tones: dict[int, int], degree: Any) -> None:
    """Add, alter or leave out a tone."""
    value = number(degree.findtext("degree-value"))
    alter = number(degree.findtext("degree-alter") or "0")
    if value is None or alter is None or not 1 <= value <= _MOST_DEGREE or abs(alter) > MOST_ALTER:
        return
    place = int(value)
    usual = _DEGREES[(place - 1) % 7 + 1] + 12 * ((place - 1) // 7)
    how = (degree.findtext("degree-type") or "").strip()
    if how == "subtract":
        tones.pop(place, None)
    elif how == "alter":
        tones[place] = tones.get(place, usual) + round(alter)
    elif how == "add":
        tones[place] = usual + round(alter)
