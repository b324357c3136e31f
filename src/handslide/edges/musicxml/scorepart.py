"""What a read part is: its notes as written, and the line as played."""

from dataclasses import dataclass, field
from typing import NamedTuple

from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch


class ScoreNote(NamedTuple):
    """A written note that can carry a mark.

    A NamedTuple, not a frozen dataclass: making one takes a third of the time, and a part is read
    within the time that its bare XML takes to parse.
    """

    index: int  # type: ignore[assignment]  # hides tuple.index, which nobody needs here
    """0-based, in written order, among the notes that can carry a mark."""
    measure: str
    """Measure number as printed; may repeat, need not be a number."""
    measure_index: int
    """0-based place of the measure in the part."""
    number: int
    """1-based place of the note among the marked notes of its measure."""
    written: Pitch
    sounding: Pitch
    """After the transposition in force at this note."""
    beats: float
    """Length in quarter notes, ties included; 0 for a grace note."""
    grace: bool
    ordinal: int
    """0-based, among all ``<note>`` elements of its part: the score finds it by this number."""


class ScoreWarning(NamedTuple):
    """Something in a part that may not have been meant so.

    ``kind`` is one word for a group of them; ``what`` says it without the measure.
    """

    measure: str
    kind: str
    what: Fact
    named: bool = False
    """``what`` must be told with its measure."""
    measure_index: int | None = None
    """0-based place of the measure in the part; None where it is about none, or about several."""

    @property
    def told(self) -> Fact:
        """What is said where the measure doesn't stand beside it."""
        if not self.named:
            return self.what
        return fact("scores.in_measure", measure=self.measure, what=self.what)


@dataclass(frozen=True, slots=True)
class PartInfo:
    """A part of a score, for choosing: ``notes`` counts its pitched notes."""

    part_id: str
    name: str
    notes: int
    percussion: bool
    voices: tuple[str, ...]


class PlayedMeasure(NamedTuple):
    """A measure, or what is played of it, in the line as played."""

    number: str
    """As printed."""
    index: int  # type: ignore[assignment]  # hides tuple.index
    """0-based place of the measure in the part."""
    begin_s: float
    end_s: float
    full_s: float
    """What the whole meter takes at the tempo of its beginning."""
    beat_s: float
    upbeat: bool
    """It is shorter than its meter, and its beats count from its end."""
    anew: bool = False
    """Another movement or exercise begins with it."""


@dataclass(frozen=True, slots=True, eq=False)
class ScorePart:
    """One voice of one part: the notes as written and the line as played.

    The columns ``played``, ``onset_s``, ``length_s``, ``slur`` and ``gliss`` have one entry for
    each note that the player strikes, with repeats, endings and jumps followed. Tied notes are one
    note; articulation doesn't shorten. A grace note takes its time from what is before it.
    """

    part_id: str
    name: str
    voice: str
    staff: str | None
    notes: tuple[ScoreNote, ...]
    played: tuple[int, ...]
    """Index into ``notes``."""
    onset_s: tuple[float, ...]
    length_s: tuple[float, ...]
    slur: tuple[bool, ...]
    """Slurred to the next played note."""
    gliss: tuple[bool, ...]
    """Glissando or slide to the next played note."""
    warnings: tuple[ScoreWarning, ...]
    tempo_assumed: bool = False
    """No tempo was given at the start of the part, so the default was taken."""
    beats_s: tuple[tuple[float, bool], ...] = field(default=(), repr=False)
    """Every beat of the line as played: its second, and whether it begins a measure."""
    measures: tuple[PlayedMeasure, ...] = field(default=(), repr=False)
    """The measures in the order in which they are played."""
    tempo_qpm: float = 80.0
    """Quarter notes a minute at the start."""

    @property
    def ordinals(self) -> tuple[int, ...]:
        """Of each of ``notes``, its number among all notes of the part."""
        return tuple(note.ordinal for note in self.notes)
