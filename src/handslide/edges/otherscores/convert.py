"""Scores in other formats, read by music21 and turned into MusicXML: the work of a child process.

music21 is imported where it is used: it takes half a second.
"""

import contextlib
import gc
import re
from collections.abc import Callable
from typing import Any

from handslide.edges.files.safexml import read_document
from handslide.edges.otherscores.quick import known_barlines, known_meters, measures_in_meter
from handslide.ground.errors import ScoreError

_MEI = "{http://www.music-encoding.org/ns/mei}"
_NO_XML = re.compile(rb"[\x00-\x08\x0b\x0c\x0e-\x1f]|\xef\xbf[\xbe\xbf]")
_XML_ID = "{http://www.w3.org/XML/1998/namespace}id"


def converted(form: str, format_name: str, data: bytes, name: str) -> bytes:
    """MusicXML of a score in ``form``: ``humdrum``, ``mei``, ``abc`` or ``midi``.

    ``format_name`` and ``name`` are what errors call the format and the file. Raises ScoreError.
    Cycles of objects are left to whoever called it: the leash's child looks for them when it has
    answered.
    """
    # Hundreds of thousands of objects come and go: looking for cycles among them takes a fifth.
    gc.disable()
    try:
        return _converted(form, data, name, _part_names(form, data, name))
    except (ScoreError, MemoryError):
        raise
    except RecursionError:
        raise ScoreError("scores.nested", file=name) from None
    except Exception as error:
        # A foreign reader on a foreign file: whatever it raises is about the file, in words that
        # are its own.
        raise ScoreError("scores.not_readable_as", file=name, format=format_name) from error


def _converted(form: str, data: bytes, name: str, names: list[str | None]) -> bytes:
    from music21 import converter, stream

    source: Any = data if form == "midi" else _text(data)
    if form == "abc":
        source = _with_length(source)
    with known_barlines() if form == "humdrum" else contextlib.nullcontext():
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
    return _with_plain_ids(_exported(score))


def _exported(score: Any) -> bytes:
    """What the library's `GeneralObjectExporter.parse` gives, without its copy of all there is."""
    from music21 import stream
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    exporter: Any = GeneralObjectExporter(score)
    if not isinstance(score, stream.Score):
        alone: bytes = exporter.parse()
        return alone
    whole: Any = score
    with known_meters(list(whole.parts)):
        whole.makeRests(
            refStreamOrTimeRange=[0.0, whole.highestTime],
            fillGaps=True,
            inPlace=True,
            hideRests=True,
            timeRangeFromBarDuration=True,
        )
    written: bytes = exporter.parseWellformedObject(exporter.fromScore(whole))
    return written


def _text(data: bytes) -> str:
    for encoding in ("utf-8-sig", "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8"):
        with contextlib.suppress(UnicodeError):
            return data.decode(encoding)
    return data.decode("latin-1")


def _with_length(abc: str) -> str:
    """With the unit note length that a tune without length and meter has by the standard (ABC 2.1,
    3.1.7): the library refuses it."""
    if re.search(r"^[LM]:", abc, re.MULTILINE):
        return abc
    return re.sub(r"^(?=K:)", "L:1/8\n", abc, flags=re.MULTILINE)


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

    for measure, meter in measures_in_meter(part):
        bar_q = (measure if meter is None else meter).barDuration.quarterLength
        rests = list(measure.notesAndRests)
        if len(rests) == 1 and rests[0].isRest and rests[0].quarterLength > bar_q:
            rests[0].quarterLength = bar_q
        elif not rests and not measure.voices:
            measure.insert(0, note.Rest(quarterLength=bar_q))
    # Places come last: with each that moves, the library forgets what it knows of the part.
    place_q = 0.0
    for measure in part.getElementsByClass("Measure"):
        part.setElementOffset(measure, place_q)
        place_q += max(measure.highestTime, 0.0)


def _with_plain_ids(xml: bytes) -> bytes:
    """The library's ids are random and its date is today's; the same file must give the same.

    It writes every sign that it reads, also those that XML can't hold.
    """
    xml = _NO_XML.sub(b"", xml)
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
