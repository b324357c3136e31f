"""When a clip shows what: the notes as they sound, the slide, and where the music is looked at.

The onsets are those of the play-along, so that picture and sound are one.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from handslide.ground.minimumjerk import minimum_jerk
from handslide.instrument.effort import timing
from handslide.instrument.line import make_line
from handslide.instrument.marks import UNPLAYABLE
from handslide.instrument.places import Place
from handslide.instrument.slidemotion import SlideMotion, slide_motion
from handslide.jobs.mark.mark import MarkedPart
from handslide.jobs.practice.playalong import PlayAlong

Floats = NDArray[np.float64]

_BREATH_S = 0.25
_PAN_S = 0.5
_PAN_SHARE = 0.5  # of the time to the next note
_NEAR = 4  # written notes within which the next one is simply further on


@dataclass(frozen=True, slots=True)
class Shown:
    """A note while it sounds: its number in the part, and where it is played (None: nowhere)."""

    number: int
    onset_s: float
    end_s: float
    place: Place | None
    mark: str


@dataclass(frozen=True, eq=False)
class Course:
    """The notes in time, and the slide."""

    notes: tuple[Shown, ...]
    motion: SlideMotion

    def begun(self, time_s: float) -> int | None:
        """Which of the notes began last."""
        found = int(np.searchsorted(self.onsets_s, time_s + 1e-9, side="right")) - 1
        return None if found < 0 else found

    def sounding(self, time_s: float) -> int | None:
        """Which of the notes sounds; one before a short breath is still the one that is played."""
        now = self.begun(time_s)
        return now if now is None or time_s < self.until_s(now) else None

    def until_s(self, number: int) -> float:
        """Until when a note is the one that sounds."""
        end_s = self.notes[number].end_s
        if number + 1 == len(self.notes):
            return end_s
        next_s = float(self.onsets_s[number + 1])
        return next_s if next_s - end_s < _BREATH_S else end_s

    @cached_property
    def onsets_s(self) -> Floats:
        """When the notes begin, shape (n,)."""
        return np.array([note.onset_s for note in self.notes])


def course_of(marked: MarkedPart, made: PlayAlong) -> Course:
    """The course of a part as a play-along has it."""
    part, routed = marked.part, marked.routed
    joined = {n: (slur, gliss) for n, slur, gliss in zip(part.played, part.slur, part.gliss)}
    # Of notes that begin together the slide goes to one.
    played = {round(note.onset_s, 6): note for note in reversed(made.notes)}
    notes = sorted(played.values(), key=lambda note: note.onset_s)
    places = [routed.places.get(note.index) for note in notes]
    slurs, glisses = ([joined[note.index][which] for note in notes] for which in (0, 1))
    onsets, lengths = [n.onset_s for n in notes], [n.length_s for n in notes]
    midi = [routed.pitches[note.index].midi for note in notes]
    line = make_line(midi, onsets, lengths, slurs, glisses)
    kept = np.array([k for k, place in enumerate(places) if place is not None], np.intp)
    move_s = np.full(len(notes), np.nan)
    if len(kept):
        move_s[kept[1:]] = timing(routed.setup.profile, line.only(kept)).move_s
    extension_m = [np.nan if place is None else place.extension_m for place in places]
    motion = slide_motion(onsets, lengths, extension_m, move_s.tolist(), glisses)
    shown = tuple(
        Shown(
            note.index, note.onset_s, note.onset_s + note.length_s, place,
            routed.marks.get(note.index, UNPLAYABLE),
        )
        for note, place in zip(notes, places)
    )  # fmt: skip
    return Course(shown, motion)


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """Which place of the music is looked at: ``place`` (k,) in mm at ``time_s`` (k,)."""

    time_s: Floats
    place: Floats
    eased: NDArray[np.bool_]
    """Of each stretch between two times: it turns to another place and begins and ends slowly."""

    def at(self, time_s: float) -> float:
        """In mm along the music."""
        k = int(np.searchsorted(self.time_s, time_s, side="right")) - 1
        if k < 0:
            return float(self.place[0])
        if k >= len(self.eased):
            return float(self.place[-1])
        begin, end = self.time_s[k], self.time_s[k + 1]
        share = float((time_s - begin) / max(end - begin, 1e-9))
        if self.eased[k]:
            share = minimum_jerk(share)
        return float(self.place[k] + share * (self.place[k + 1] - self.place[k]))


def view_of(notes: Sequence[Shown], heads_mm: Mapping[int, float]) -> View:
    """The music flows from note head to note head; where a repeat or a jump leads elsewhere it
    stays on the note, and then turns there quickly. ``heads_mm`` by the notes' numbers."""
    seen = [(note, heads_mm[note.number]) for note in notes if note.number in heads_mm]
    if not seen:
        return View(np.zeros(1), np.zeros(1), np.zeros(0, np.bool_))
    times, places = [seen[0][0].onset_s], [seen[0][1]]
    eased: list[bool] = []
    for (before, here), (after, there) in pairwise(seen):
        elsewhere = there < here or not 0 <= after.number - before.number <= _NEAR
        if elsewhere:
            times.append(after.onset_s - min(_PAN_S, _PAN_SHARE * (after.onset_s - before.onset_s)))
            places.append(here)
            eased.append(False)
        times.append(after.onset_s)
        places.append(there)
        eased.append(elsewhere)
    return View(np.array(times), np.array(places), np.array(eased, np.bool_))
