"""Other score formats in: which one a file is in, and its conversion in a child process.

The library that reads them takes seconds over some files and prints what it likes: it runs on a
leash.
"""

import importlib.util
import re
from functools import lru_cache
from pathlib import PurePath

from handslide.edges.files.safexml import is_zip
from handslide.edges.leash.leash import Fallen, Leash, Limits
from handslide.edges.otherscores.convert import converted
from handslide.ground.errors import NotInstalled, ScoreError
from handslide.ground.limits import (
    MB,
    MIDI_TRACKS,
    OTHER_SCORE_BYTES,
    READER_BPS,
    READER_BYTES,
    READER_MORE_S,
    READER_S,
)

_ENDINGS = {
    ".krn": "humdrum", ".kern": "humdrum", ".hmd": "humdrum",
    ".mei": "mei", ".abc": "abc", ".mid": "midi", ".midi": "midi", ".smf": "midi",
}  # fmt: skip
ENDINGS = tuple(_ENDINGS)
"""What the names of such files end in."""
_FORMAT_NAMES = {"humdrum": "Humdrum", "mei": "MEI", "abc": "ABC", "midi": "MIDI"}
_LEASH = Leash(
    Limits(seconds=READER_S, memory_mb=READER_BYTES // MB, children=2, kept=1),
    preload=("handslide.edges.otherscores.convert", "music21.converter"),
)


def wants_conversion(name: str, data: bytes) -> bool:
    """Whether this file is in one of the other formats."""
    return _format(name, data) is not None


def can_convert() -> bool:
    """Whether the library that reads them is installed: it is large, and an extra."""
    return importlib.util.find_spec("music21") is not None


def to_musicxml(data: bytes, name: str) -> bytes:
    """MusicXML of a score in another format; of the last few files it is kept.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        Its name; the ending decides where the content leaves a doubt.

    Raises
    ------
    ScoreError
        One sentence: unknown format, too large, too many tracks, not readable, too slow to read,
        several tunes, no notes.
    NotInstalled
        Without the extra ``formats``.
    """
    form = _format(name, data)
    if form is None:
        raise ScoreError("scores.unknown_format", file=name)
    called = {"file": name, "format": _FORMAT_NAMES[form]}
    if not can_convert():
        raise NotInstalled("scores.no_reader", **called)
    if len(data) > OTHER_SCORE_BYTES:
        raise ScoreError("scores.too_large_kind", **called, most_mb=OTHER_SCORE_BYTES // MB)
    if form == "midi" and (tracks := data.count(b"MTrk")) > MIDI_TRACKS:
        raise ScoreError("scores.many_tracks", file=name, tracks=tracks, most=MIDI_TRACKS)
    return _on_leash(form, data, name)


# It takes seconds. Who takes a score in opens it next; the parts of a library's file come one after
# the other for all players.
@lru_cache(maxsize=4)
def _on_leash(form: str, data: bytes, name: str) -> bytes:
    called = {"file": name, "format": _FORMAT_NAMES[form]}
    more_s = min(len(data) / READER_BPS, READER_MORE_S)
    try:
        return _LEASH.call(converted, form, _FORMAT_NAMES[form], data, name, more_s=more_s)
    except Fallen as fallen:
        if fallen.why == "slow":
            seconds = _LEASH.limits.seconds + more_s
            raise ScoreError("scores.reader_slow", **called, seconds=seconds) from fallen
        if fallen.why == "memory":
            raise ScoreError("scores.reader_memory", **called) from fallen
        raise ScoreError("scores.reader_died", **called) from fallen


def _format(name: str, data: bytes) -> str | None:
    """``humdrum``, ``mei``, ``abc``, ``midi``, or None; the content has the first word."""
    if is_zip(data):
        return None
    if data.startswith(b"MThd") or (data.startswith(b"RIFF") and data[8:12] == b"RMID"):
        return "midi"
    text = data[:65536].replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n")
    if text.startswith(b"<"):
        root = re.search(rb"<([A-Za-z_][\w.:-]*)", text)
        return "mei" if root is not None and root[1].split(b":")[-1] == b"mei" else None
    if re.search(rb"^\*\*(?:kern|recip|dynam)", text, re.MULTILINE):
        return "humdrum"
    if re.search(rb"^X:\s*\d+", text, re.MULTILINE) and re.search(rb"^K:", text, re.MULTILINE):
        return "abc"
    return _ENDINGS.get(PurePath(name).suffix.lower())
