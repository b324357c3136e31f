"""The kinds of chords and their tones, named as in MusicXML 4.0 (``kind-value``)."""

_TRIADS = {"major": (4, 7), "minor": (3, 7), "augmented": (4, 8), "diminished": (3, 6)}
_SEVENTHS = {
    "dominant": ("major", 10), "major-seventh": ("major", 11), "minor-seventh": ("minor", 10),
    "diminished-seventh": ("diminished", 9), "augmented-seventh": ("augmented", 10),
    "half-diminished": ("diminished", 10), "major-minor": ("minor", 11),
}  # fmt: skip
_NINTHS = {"dominant": "dominant", "major": "major-seventh", "minor": "minor-seventh"}


def _kinds() -> dict[str, dict[int, int]]:
    found = {name: {1: 0, 3: third, 5: fifth} for name, (third, fifth) in _TRIADS.items()}
    found |= {name: found[triad] | {7: above} for name, (triad, above) in _SEVENTHS.items()}
    found |= {f"{name}-sixth": found[name] | {6: 9} for name in ("major", "minor")}
    for name, seventh in _NINTHS.items():
        ninth = found[seventh] | {9: 14}
        found[f"{name}-ninth"] = ninth
        found[f"{name}-11th"] = ninth | {11: 17}
        # Nobody plays the eleventh against the third of a thirteenth.
        found[f"{name}-13th"] = ninth | {13: 21}
    found |= {"suspended-second": {1: 0, 2: 2, 5: 7}, "suspended-fourth": {1: 0, 4: 5, 5: 7}}
    return found | {"power": {1: 0, 5: 7}, "pedal": {1: 0}}


KINDS = _kinds()
"""Of each kind its degrees with their semitones above the root."""


def tones_of(degrees: dict[int, int]) -> tuple[int, ...]:
    """The semitones above the root within an octave, the root first."""
    return tuple(sorted({0, *(semitones % 12 for semitones in degrees.values())}))
