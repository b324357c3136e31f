"""Keys, their signatures, and how the notes of scales and arpeggios are spelled in them.

A tonic is a Pitch whose octave doesn't matter. No key has more than six signs: where a name would
ask for more, its other name is taken (A flat minor is written as G sharp minor).

Common practice behind the table of kinds: harmonic and melodic minor keep the signature of their
minor key; a dominant seventh has that of the key it leads to; a blues scale that of its minor key;
a chromatic scale that of its major key, with raised notes on the way up and lowered ones on the way
down; whole-tone scales and diminished chords have no signature.
"""

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from functools import lru_cache

from handslide.drills.piece import Key
from handslide.ground.errors import BadUsage, PitchError
from handslide.ground.pitch import STEPS, Pitch, from_midi, parse_pitch

MOST_SIGNS = 6
_FIFTHS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
# Fifths from the signature of a major key to that of the mode on the same tonic.
_MODE_SHIFT = {
    "major": 0, "ionian": 0, "lydian": 1, "mixolydian": -1, "dorian": -2, "minor": -3,
    "aeolian": -3, "phrygian": -4, "locrian": -5, "none": 0,
}  # fmt: skip
_SHARPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_OCTAVE = 4
Steps = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Kind:
    """A scale or an arpeggio.

    ``rising`` are its notes as (letters, semitones) above the tonic, ``falling`` the same where it
    comes down another way. ``mode`` gives the signature; ``name_mode`` decides where the tonic
    changes its name. ``chord``: an arpeggio. ``plain``: which hard spellings become the natural
    note: ``none``, ``doubles``, or ``white`` (E sharp, B sharp, C flat and F flat as well).
    """

    name: str
    mode: str
    rising: Steps
    falling: Steps
    name_mode: str
    chord: bool = False
    plain: str = "none"

    @property
    def has_thirds(self) -> bool:
        """Whether broken thirds can be made of it: seven notes, one on each letter."""
        return not self.chord and [letters for letters, _ in self.rising] == list(range(7))


def _seven(*semitones: int) -> Steps:
    return tuple(enumerate(semitones))


_MAJOR = _seven(0, 2, 4, 5, 7, 9, 11)
_MINOR = _seven(0, 2, 3, 5, 7, 8, 10)


def _kind(
    name: str,
    mode: str,
    rising: Steps,
    falling: Steps | None = None,
    name_mode: str | None = None,
    **more: bool | str,
) -> Kind:
    return Kind(name, mode, rising, falling or rising, name_mode or mode, **more)  # type: ignore[arg-type]


_BLUES_UP = ((0, 0), (2, 3), (3, 5), (3, 6), (4, 7), (6, 10))
_BLUES_DOWN = ((0, 0), (2, 3), (3, 5), (4, 6), (4, 7), (6, 10))
KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        _kind("major", "major", _MAJOR),
        _kind("natural-minor", "minor", _MINOR),
        _kind("harmonic-minor", "minor", _seven(0, 2, 3, 5, 7, 8, 11)),
        _kind("melodic-minor", "minor", _seven(0, 2, 3, 5, 7, 9, 11), _MINOR),
        _kind("ionian", "ionian", _MAJOR),
        _kind("dorian", "dorian", _seven(0, 2, 3, 5, 7, 9, 10)),
        _kind("phrygian", "phrygian", _seven(0, 1, 3, 5, 7, 8, 10)),
        _kind("lydian", "lydian", _seven(0, 2, 4, 6, 7, 9, 11)),
        _kind("mixolydian", "mixolydian", _seven(0, 2, 4, 5, 7, 9, 10)),
        _kind("aeolian", "aeolian", _MINOR),
        _kind("locrian", "locrian", _seven(0, 1, 3, 5, 6, 8, 10)),
        # Its notes, and those of the whole-tone scale, are spelled by functions of their own.
        _kind("chromatic", "major", (), plain="white"),
        _kind("whole-tone", "none", (), plain="white"),
        _kind("blues", "minor", _BLUES_UP, _BLUES_DOWN, plain="white"),
        _kind("major-arpeggio", "major", ((0, 0), (2, 4), (4, 7)), chord=True),
        _kind("minor-arpeggio", "minor", ((0, 0), (2, 3), (4, 7)), chord=True),
        _kind(
            "diminished-arpeggio",
            "none",
            ((0, 0), (2, 3), (4, 6)),
            name_mode="minor",
            chord=True,
            plain="doubles",
        ),
        _kind(
            "diminished-seventh",
            "none",
            ((0, 0), (2, 3), (4, 6), (6, 9)),
            name_mode="minor",
            chord=True,
            plain="white",
        ),
        _kind(
            "dominant-seventh",
            "mixolydian",
            ((0, 0), (2, 4), (4, 7), (6, 10)),
            chord=True,
        ),
    )
}


def parse_tonic(text: str) -> Pitch:
    """Read a tonic such as ``Bb`` or ``F#``. Raises PitchError for anything else."""
    name = text.strip()
    if name.upper() == "H":
        raise PitchError("drills.german_tonic")
    try:
        if name and not name[-1].isdigit():
            return parse_pitch(f"{name}{_OCTAVE}")
    except PitchError:
        pass
    raise PitchError("drills.not_a_tonic", text=text)


def fifths_of(tonic: Pitch, mode: str = "major") -> int:
    """Sharps (negative: flats) in the signature of a tonic and mode."""
    return _FIFTHS[tonic.step] + 7 * tonic.alter + _MODE_SHIFT[mode]


def tonic_of(fifths: int, mode: str = "major") -> Pitch:
    """The tonic of a signature in a mode: the inverse of :func:`fifths_of`."""
    along = fifths - _MODE_SHIFT[mode] + 1
    return Pitch("FCGDAEB"[along % 7], along // 7, _OCTAVE)


def usual_tonic(kind: str, tonic: Pitch) -> Pitch:
    """``tonic``, by its other name where its key would have more than six signs."""
    mode = kind_of(kind).name_mode
    fifths = fifths_of(tonic, mode)
    while fifths > MOST_SIGNS:
        fifths -= 12
    while fifths < -MOST_SIGNS:
        fifths += 12
    return tonic_of(fifths, mode)


def signature(kind: str, tonic: Pitch) -> Key:
    """The key that a scale is written in. ``tonic`` is a usual one."""
    mode = kind_of(kind).mode
    return Key(0 if mode == "none" else fifths_of(tonic, mode), mode)


def tonics_within(kind: str, flats: int, sharps: int) -> tuple[Pitch, ...]:
    """The tonics of a kind whose keys have so many signs at most, from flats to sharps.

    Kinds without a signature count as the key that gives the tonic its name. F sharp and G flat
    major, and D sharp and E flat minor, are the same notes: the flats stay.
    """
    mode = kind_of(kind).name_mode
    most = min(sharps, 12 - flats - 1)
    return tuple(tonic_of(fifths, mode) for fifths in range(-flats, most + 1))


def kind_of(name: str) -> Kind:
    """A kind by its name. Raises BadUsage."""
    if name not in KINDS:
        raise BadUsage("drills.no_scale", wish=name, known=tuple(KINDS))
    return KINDS[name]


@lru_cache(maxsize=1024)
def spelled(kind: str, tonic: Pitch, falling: bool = False) -> tuple[Pitch, ...]:
    """The notes of a scale or arpeggio in one octave from ``tonic``, rising in pitch.

    ``falling`` gives the notes of the way down, still from the lowest. The octave above isn't
    among them.
    """
    if kind == "chromatic":
        return tuple(_chromatic(tonic, falling))
    if kind == "whole-tone":
        sharps = tonic.alter > 0 or (tonic.alter == 0 and not falling)
        return tuple(_by_signs(tonic.midi + 2 * n, sharps) for n in range(6))
    what = kind_of(kind)
    steps = what.falling if falling else what.rising
    return tuple(_made_plain(tonic.transposed(*step), what.plain) for step in steps)


def tones(kind: str, tonic: Pitch, low: int, high: int, falling: bool = False) -> tuple[Pitch, ...]:
    """All notes of a scale from MIDI ``low`` to ``high``, rising in pitch."""
    line, midis = _all_tones(kind, tonic, falling)
    return line[bisect_left(midis, low) : bisect_right(midis, high)]


@lru_cache(maxsize=1024)
def _all_tones(kind: str, tonic: Pitch, falling: bool) -> tuple[tuple[Pitch, ...], tuple[int, ...]]:
    octave = spelled(kind, tonic, falling)
    octaves = range(-_OCTAVE - 1, 7)
    line = tuple(note.transposed(7 * k, 12 * k) for k in octaves for note in octave)
    return line, tuple(note.midi for note in line)


def spell(midi: int, key: Key, falling: bool = False) -> Pitch:
    """A sounding note as it is written in a key.

    Notes of the key as its signature has them, others raised on the way up and lowered on the way
    down; in a minor key the 6th and 7th degrees are raised whichever way the line goes.
    """
    if key.mode in ("minor", "aeolian"):
        tonic = tonic_of(key.fifths, "minor")
        above = (midi - tonic.midi) % 12
        if above in (9, 11):
            raised = tonic.transposed(5 if above == 9 else 6, above)
            return _at(raised, midi)
    major = tonic_of(key.fifths)
    return _at(spelled("chromatic", major, falling)[(midi - major.midi) % 12], midi)


def _at(pitch: Pitch, midi: int) -> Pitch:
    octaves = (midi - pitch.midi) // 12
    return pitch.transposed(7 * octaves, 12 * octaves)


def _chromatic(tonic: Pitch, falling: bool) -> list[Pitch]:
    degrees = {semitones: tonic.transposed(letters, semitones) for letters, semitones in _MAJOR}
    degrees[12] = tonic.transposed(7, 12)
    found = []
    for above in range(12):
        if above in degrees:
            found.append(degrees[above])
            continue
        raised = degrees[above - 1].transposed(0, 1)
        lowered = degrees[above + 1].transposed(0, -1)
        found.append(_made_plain(lowered if falling else raised, "white"))
    return found


def _by_signs(midi: int, sharps: bool) -> Pitch:
    if sharps:
        return parse_pitch(f"{_SHARPS[midi % 12]}{midi // 12 - 1}")
    return from_midi(midi)


def _made_plain(pitch: Pitch, plain: str) -> Pitch:
    hard = abs(pitch.alter) > 1 or (
        plain == "white" and pitch.alter != 0 and pitch.midi % 12 in STEPS.values()
    )
    if plain == "none" or not hard:
        return pitch
    return from_midi(pitch.midi)
