"""Other score formats (Humdrum, MEI, ABC, MIDI), read by music21 and turned into MusicXML."""


def wants_conversion(name: str, data: bytes) -> bool:
    """Whether this file is in one of the other formats."""
    return False


def to_musicxml(data: bytes, name: str) -> bytes:
    """MusicXML of a score in another format."""
    raise NotImplementedError
