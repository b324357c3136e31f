"""Other score formats (Humdrum, MEI, ABC, MIDI), read by music21 and turned into MusicXML.

music21 is imported where it is used: it takes half a second.
"""

import contextlib
import io
import re
import warnings
from collections.abc import Callable
from pathlib import PurePath
from typing import Any

from handslide.edges.files.safexml import is_zip, read_document
from handslide.ground.errors import ScoreError

MAX_BYTES = 8 * 2**20
_ENDINGS = {
    ".krn": "humdrum", ".kern": "humdrum", ".hmd": "humdrum",
    ".mei": "mei", ".abc": "abc", ".mid": "midi", ".midi": "midi", ".smf": "midi",
}  # fmt: skip
_FORMAT_NAMES = {"humdrum": "Humdrum", "mei": "MEI", "abc": "ABC", "midi": "MIDI"}
_MEI = "{http://www.music-encoding.org/ns/mei}"
_XML_ID = "{http://www.w3.org/XML/1998/namespace}id"


def wants_conversion(name: str, data: bytes) -> bool:
    """Whether this file is in one of the other formats."""
    return _format(name, data) is not None


def to_musicxml(data: bytes, name: str) -> bytes:
    """MusicXML of a score in another format.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        Its name; the ending decides where the content leaves a doubt.

    Raises
    ------
    ScoreError
        One sentence: unknown format, too large, not readable, several tunes, no notes.
    """
    form = _format(name, data)
    if form is None:
        raise ScoreError("scores.unknown_format", file=name)
    if len(data) > MAX_BYTES:
        limit = MAX_BYTES // 2**20
        raise ScoreError(
            "scores.too_large_kind", file=name, format=_FORMAT_NAMES[form], most_mb=limit
        )
    names = _part_names(form, data, name)
    try:
        with _quiet():
            return _converted(form, data, name, names)
    except ScoreError:
        raise
    except RecursionError:
        raise ScoreError("scores.nested", file=name) from None
    except Exception as error:
        # A foreign reader on a foreign file: whatever it raises is about the file.
        why = " ".join(str(error).split())[:200] or type(error).__name__
        raise ScoreError(
            "scores.not_readable_as", file=name, format=_FORMAT_NAMES[form], reason=why
        ) from None


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


@contextlib.contextmanager
def _quiet() -> Any:
    with (
        warnings.catch_warnings(),
        contextlib.redirect_stderr(io.StringIO()),
        contextlib.redirect_stdout(io.StringIO()),
    ):
        warnings.simplefilter("ignore")
        yield


def _converted(form: str, data: bytes, name: str, names: list[str | None]) -> bytes:
    from music21 import converter, stream
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    source: Any = data if form == "midi" else _text(data)
    score = converter.parseData(source, format=form)
    if isinstance(score, stream.Opus):
        score = _only_tune(list(score.scores), name)
    if not score.recurse().notes:
        raise ScoreError("scores.no_notes", file=name)
    if form == "midi":
        _drop_percussion(score, name)
    parts = list(getattr(score, "parts", []))
    _name_parts(parts, names)
    _keep_metadata(score, _mei_title(data, name) if form == "mei" else None)
    if form == "humdrum":
        for part in parts:
            _spread_long_rests(part)
    elif form == "midi":
        _tidy_midi(parts)
    return _with_plain_ids(GeneralObjectExporter(score).parse())


def _text(data: bytes) -> str:
    for encoding in ("utf-8-sig", "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8"):
        with contextlib.suppress(UnicodeError):
            return data.decode(encoding)
    return data.decode("latin-1")


def _only_tune(tunes: list[Any], name: str) -> Any:
    if len(tunes) == 1:
        return tunes[0]
    titles = [str(tune.metadata.bestTitle or "?") for tune in tunes if tune.metadata is not None]
    raise ScoreError("scores.several_tunes", file=name, tunes=len(tunes), titles=titles[:5])


def _keep_metadata(score: Any, title: str | None) -> None:
    """Without a title or a composer of its own, a score must not get the library's name."""
    from music21 import metadata

    if score.metadata is None:
        score.insert(0, metadata.Metadata())
    if title is not None:
        score.metadata.title = title
    if score.metadata.bestTitle is None:
        score.metadata.movementName = " "
    if score.metadata.composer is None:
        score.metadata.composer = " "


def _name_parts(parts: list[Any], names: list[str | None]) -> None:
    """Names as printed; parts of the same name get numbers, so that each can be chosen."""
    if len(names) == len(parts):
        for part, name in zip(parts, names):
            if name:
                part.partName = name
    for place, part in enumerate(parts, start=1):
        if not part.partName:
            part.partName = f"Part {place}"


def _spread_long_rests(part: Any) -> None:
    """A rest over several measures may stand in the first as one long rest; give each its own."""
    from music21 import note

    place_q = 0.0
    for measure in part.getElementsByClass("Measure"):
        bar_q = measure.barDuration.quarterLength
        rests = list(measure.notesAndRests)
        if len(rests) == 1 and rests[0].isRest and rests[0].quarterLength > bar_q:
            rests[0].quarterLength = bar_q
        elif not rests and not measure.voices:
            measure.insert(0, note.Rest(quarterLength=bar_q))
        part.setElementOffset(measure, place_q)
        place_q += max(measure.highestTime, 0.0)


def _with_plain_ids(xml: bytes) -> bytes:
    """The library's ids are random and its date is today's; the same file must give the same."""
    xml = re.sub(rb"\s*<encoding-date>[^<]*</encoding-date>", b"", xml)
    for sign in (b"P", b"I"):
        found = dict.fromkeys(re.findall(rb'<score-\w+ id="(%b[0-9a-f]{31,32})"' % sign, xml))
        for place, old in enumerate(found, start=1):
            xml = xml.replace(b'"%b"' % old, b'"%b%d"' % (sign, place))
    return xml


def _drop_percussion(score: Any, name: str) -> None:
    """Percussion tracks have no pitch to play, and the library can't write all of them."""
    for part in list(getattr(score, "parts", [])):
        if not any(note.pitches for note in part.recurse().notes):
            score.remove(part)
    if not any(note.pitches for note in score.recurse().notes):
        raise ScoreError("scores.only_percussion", file=name)


def _tidy_midi(parts: list[Any]) -> None:
    """A recording of keys has no clefs: low parts get a bass clef for the whole part."""
    from music21 import clef

    for part in parts:
        pitches = sorted(pitch.midi for note in part.recurse().notes for pitch in note.pitches)
        if not pitches:
            continue
        for old in list(part.recurse().getElementsByClass(clef.Clef)):
            part.remove(old, recurse=True)
        middle = pitches[len(pitches) // 2]
        first = part.recurse().getElementsByClass("Measure").first() or part
        first.insert(0, clef.clefFromString("F" if middle < 60 else "G"))


def _part_names(form: str, data: bytes, name: str) -> list[str | None]:
    """Printed part names in the order of the score, as far as the library loses them."""
    finders: dict[str, Callable[[bytes, str], list[str | None]]] = {
        "mei": _mei_names,
        "humdrum": _humdrum_names,
    }
    return finders[form](data, name) if form in finders else []


def _mei_names(data: bytes, name: str) -> list[str | None]:
    # The safe parser comes first: the library's own expands entities.
    root = read_document(data, name).root
    names: dict[str, str | None] = {}
    for staff in root.iter(f"{_MEI}staffDef"):
        label = staff.find(f"{_MEI}label")
        text = staff.get("label") or ("" if label is None else "".join(label.itertext()))
        number = staff.get("n") or staff.get(_XML_ID) or ""
        if not names.get(number):
            names[number] = " ".join(text.split()) or None
    return list(names.values())


def _mei_title(data: bytes, name: str) -> str | None:
    for title in read_document(data, name).root.iter(f"{_MEI}title"):
        # A <titlePart> inside says "an electronic transcription" and the like.
        text = " ".join((title.text or title.findtext(f"{_MEI}rend") or "").split())
        if text:
            return text
    return None


def _humdrum_names(data: bytes, name: str) -> list[str | None]:
    """Names of the **kern spines, last spine first as scores are read upwards."""
    kinds: list[str] = []
    found: dict[int, str] = {}
    for line in _text(data).splitlines():
        cells = line.split("\t")
        if line.startswith("**"):
            kinds = cells
        elif line.startswith("*") and len(cells) == len(kinds):
            for place, cell in enumerate(cells):
                if cell.startswith('*I"'):
                    found.setdefault(place, cell[3:].strip())
        elif kinds and not line.startswith(("!", "*")):
            break
    return [found.get(place) for place, kind in enumerate(kinds) if kind == "**kern"][::-1]
