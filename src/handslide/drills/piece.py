"""What a drill is made of: notes in bars, in a key and a meter."""

from dataclasses import dataclass
from fractions import Fraction

from handslide.ground.facts import Fact
from handslide.ground.pitch import Pitch

ARTICULATIONS = ("", "staccato", "tenuto", "accent")
DYNAMICS = ("", "pp", "p", "mp", "mf", "f", "ff")
SWELLS = ("", "<", ">", "<>")
MODES = (
    "major", "minor", "ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian",
    "none",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Key:
    """A key signature: ``fifths`` sharps (negative: flats), and its mode as MusicXML names it."""

    fifths: int
    mode: str = "major"


@dataclass(frozen=True, slots=True)
class DrillNote:
    """A note, or a rest where ``pitch`` (as it sounds) is None.

    ``beats`` are quarter notes. ``slur``, ``gliss`` and ``tie`` lead to the next note. ``lock`` is
    the place that is meant: valves and partial; None: the route chooses. ``remark`` stands below.

    ``dynamic`` (one of DYNAMICS) holds from here on. ``swell`` is louder or softer while this note
    and those after it that have the same one last; ``<>`` is both, on this note alone. The player
    breathes after a ``breath``.
    """

    pitch: Pitch | None
    beats: Fraction
    slur: bool = False
    gliss: bool = False
    tie: bool = False
    articulation: str = ""
    lock: tuple[tuple[str, ...], int] | None = None
    remark: Fact | None = None
    dynamic: str = ""
    swell: str = ""
    breath: bool = False
    fermata: bool = False


@dataclass(frozen=True, slots=True)
class Piece:
    """One exercise. ``meter`` is (beats, beat type); each bar is full.

    ``title`` and the sentences of ``instruction`` stand above the music; ``clef`` None is the
    horn's usual one. ``teacher`` is a second part for another player, bar by bar; empty without
    one. ``clef_changes`` are bars, counted from 0, and the clef from there on; none of
    them transposes, nor does ``clef`` where there are some. ``drone`` is what sounds below,
    and what its notes are tuned to.
    """

    title: Fact
    instruction: tuple[Fact, ...]
    key: Key
    meter: tuple[int, int]
    tempo_qpm: float
    bars: tuple[tuple[DrillNote, ...], ...]
    clef: str | None = None
    teacher: tuple[tuple[DrillNote, ...], ...] = ()
    clef_changes: tuple[tuple[int, str], ...] = ()
    drone: Pitch | None = None

    @property
    def bar_beats(self) -> Fraction:
        """Quarter notes in a full bar."""
        return Fraction(4 * self.meter[0], self.meter[1])

    @property
    def notes(self) -> tuple[DrillNote, ...]:
        """All notes and rests in their order."""
        return tuple(note for bar in self.bars for note in bar)
