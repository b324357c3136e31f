"""Bytes to an XML tree and back, without trusting the bytes.

What a file is, is decided by its content: a zip archive (``.mxl``) or plain XML in UTF-8, UTF-16
or any declared encoding in which ASCII is ASCII. Nothing is fetched, a document type may define
nothing of its own, and sizes are bounded while reading, never by what a header promises.

A `Package` remembers everything around the root element (declaration, document type, comments, line
ends, the archive's other entries), so that the tree goes back into the same kind of file.
"""

import codecs
import io
import re
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias

from lxml import etree

from handslide.edges.files.plainfile import NotPlain, TooLarge, read_plain
from handslide.edges.files.safezip import ManyEntries, OtherMethod, open_zip
from handslide.ground.errors import ScoreError
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import (
    MB,
    SCORE_BYTES,
    SCORE_DIRECTORY_BYTES,
    SCORE_ENTRIES,
    SCORE_UNPACKED_BYTES,
    XML_ATTRIBUTES,
    XML_ELEMENTS,
)
from handslide.ground.system import system_reason

_CONTAINER = "META-INF/container.xml"
_PROLOG = re.compile(r"\s*(?:<\?.*?\?>|<!--.*?-->)", re.DOTALL)
_DECLARATION = re.compile(r"""<\?xml\s[^>]*?encoding\s*=\s*["']([A-Za-z0-9._-]+)["']""")
_DOCTYPE = re.compile(r"""\s*<!DOCTYPE(?:"[^"]*"|'[^']*'|[^"'>\[])*""")
_ROOT = re.compile(r"\s*<([A-Za-z_][^\s/>]*)")
_ASCII = bytes(range(32, 127))
# Encodings in which signs change the meaning of those that follow.
_SHIFTING = ("utf-7", "utf_7", "hz", "iso2022", "iso-2022", "punycode", "idna", "unicode", "raw")
# Without huge_tree the parser also stops at 256 levels and at texts of 10 MB.
_ENTITY = re.compile(rb"&(?!amp;|lt;|gt;|quot;|apos;|#)")
_PARSER_OPTIONS: dict[str, Any] = {
    "resolve_entities": False,
    "no_network": True,
    "load_dtd": False,
    "dtd_validation": False,
    "huge_tree": False,
}


_HEAD_BYTES, _LONG_HEAD_BYTES = 8192, 65_536

Name: TypeAlias = str | Fact
"""What errors call a file: its name, or an entry and the name of its archive."""


@dataclass(frozen=True, slots=True, eq=False)
class Document:
    """One parsed XML file: its root, and the text around the root as it was found.

    ``encoding`` is a Python codec name; ``bom`` the byte order mark that stood in front.
    """

    root: Any
    head: str
    tail: str
    encoding: str
    bom: bytes
    crlf: bool
    has_instructions: bool
    """There may be processing instructions inside the root."""
    has_fingerings: bool
    """There may be fingerings in it."""

    def to_bytes(self) -> bytes:
        """The document in its own encoding, with its own declaration and document type."""
        body: bytes = etree.tostring(self.root, encoding="UTF-8", with_tail=False)
        if self.crlf:
            body = body.replace(b"\n", b"\r\n")
        if self.encoding == "utf-8":
            return b"".join((self.bom, self.head.encode(), body, self.tail.encode()))
        text = self.head + body.decode() + self.tail
        return self.bom + text.encode(self.encoding, "xmlcharrefreplace")


@dataclass(frozen=True, slots=True, eq=False)
class Package:
    """A score file: a document by itself, or inside a zip archive with other entries."""

    document: Document
    entry: str | None = None
    entries: tuple[tuple[zipfile.ZipInfo, bytes], ...] = ()

    def to_bytes(self) -> bytes:
        """The same kind of file; in an archive every other entry keeps its bytes and place."""
        data = self.document.to_bytes()
        if self.entry is None:
            return data
        buffer = io.BytesIO()
        with zipfile.ZipFile(buffer, "w") as archive:
            for info, content in self.entries:
                new = data if info.filename == self.entry else content
                archive.writestr(_copied_info(info), new, compress_type=info.compress_type)
        return buffer.getvalue()


def read_file(path: Path) -> bytes:
    """The bytes of a score file.

    Raises
    ------
    ScoreError
        When the file is missing, a folder, a device, unreadable, empty or larger than 64 MB.
    """
    try:
        data = read_plain(path, SCORE_BYTES)
    except FileNotFoundError:
        raise ScoreError("scores.missing", file=str(path)) from None
    except IsADirectoryError:
        raise ScoreError("scores.is_folder", file=str(path)) from None
    except NotPlain:
        raise ScoreError("files.not_plain", path=str(path)) from None
    except TooLarge:
        most = SCORE_BYTES // MB
        raise ScoreError("scores.too_large", file=str(path), most_mb=most) from None
    except OSError as error:
        reason = system_reason(error)
        raise ScoreError("scores.unreadable", file=str(path), reason=reason) from None
    _check_size(data, str(path))
    return data


def read_package(data: bytes, name: str) -> Package:
    """Parse a score file that is XML or an archive with XML in it.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        What to call it in an error.

    Raises
    ------
    ScoreError
        One sentence: empty, not XML, cut off, entities, a bad archive, too large.
    """
    _check_size(data, name)
    if is_zip(data):
        return _read_archive(data, name)
    return Package(read_document(data, name))


def is_zip(data: bytes) -> bool:
    """Whether the bytes begin as a zip archive does."""
    return data[:4] in (b"PK\x03\x04", b"PK\x05\x06")


def read_document(data: bytes, name: Name) -> Document:
    """Parse one XML file (not an archive). Raises ScoreError as `read_package` does."""
    encoding, bom = _encoding(data)
    body = data[len(bom) :]
    wide = encoding.startswith("utf-16")
    try:
        start = body.decode(encoding) if wide else body[:_HEAD_BYTES].decode("latin-1")
    except UnicodeError:
        raise ScoreError("scores.not_text", file=name) from None
    if not wide and "<score" not in start:
        start = body[:_LONG_HEAD_BYTES].decode("latin-1")  # long comments before the root
    head_length = _head_length(start, name)
    if wide:
        # The parser gets UTF-8; a blank in place of the declaration keeps the line numbers.
        source = re.sub(r"<\?xml\s.*?\?>", _blanked, start, count=1, flags=re.DOTALL).encode()
    else:
        source = body
        encoding = encoding if bom else _declared(start[:head_length], name)
    root = _parsed(source, name, encoding if not bom and not wide else None)
    text = start if wide else body.decode(encoding, "replace") if encoding != "utf-8" else None
    if text is not None:
        head, tail = text[:head_length], text[_root_end(text, root.tag) :]
    else:
        head = body[:head_length].decode()
        tail = body[_root_end(body, root.tag) :].decode()
    # One rare character is found much sooner than "<?".
    instructions = wide or body.find(b"?", head_length) >= 0
    fingerings = wide or b"<fingering" in body
    crlf = "\r\n" in start[:2000]
    return Document(root, head, tail, encoding, bom, crlf, instructions, fingerings)


def _check_size(data: bytes, name: Name) -> None:
    if not data or not data.strip(b"\0 \t\r\n"):
        raise ScoreError("scores.empty", file=name)
    if len(data) > SCORE_BYTES:
        raise ScoreError("scores.too_large", file=name, most_mb=SCORE_BYTES // MB)


def _encoding(data: bytes) -> tuple[str, bytes]:
    for bom, encoding in (
        (codecs.BOM_UTF8, "utf-8"),
        (codecs.BOM_UTF16_LE, "utf-16-le"),
        (codecs.BOM_UTF16_BE, "utf-16-be"),
    ):
        if data.startswith(bom):
            return encoding, bom
    if data[:2] == b"<\0":
        return "utf-16-le", b""
    if data[:2] == b"\0<":
        return "utf-16-be", b""
    return "utf-8", b""


def _declared(head: str, name: Name) -> str:
    match = _DECLARATION.search(head)
    if match is None:
        return "utf-8"
    try:
        encoding = codecs.lookup(match[1]).name
        plain = _ASCII.decode(encoding) == _ASCII.decode("ascii")
    except (LookupError, UnicodeError):
        plain = False
    # The head was read as ASCII: nobody else may read another text there.
    if not plain or encoding.startswith(_SHIFTING):
        raise ScoreError("scores.unknown_encoding", file=name, encoding=match[1])
    return encoding


def _blanked(match: re.Match[str]) -> str:
    return re.sub(r"[^\n]", " ", match[0]).lstrip(" ") or ""


def _head_length(text: str, name: Name) -> int:
    """Length of everything before the root element; refuses a document type with entities."""
    place = 0
    while True:
        if match := _PROLOG.match(text, place):
            place = match.end()
        elif match := _DOCTYPE.match(text, place):
            place = _doctype_end(text, match.end(), name)
        elif match := _ROOT.match(text, place):
            return match.start(1) - 1
        else:
            raise ScoreError("scores.not_score", file=name, what=_what_instead(text))


def _doctype_end(text: str, place: int, name: Name) -> int:
    # What a document type defines can be disguised in too many ways to look for entities only.
    if text[place : place + 1] != ">":
        raise _at_line(name, text.count("\n", 0, place) + 1, fact("scores.own_entities"))
    return place + 1


def _what_instead(text: str) -> Fact:
    known = (
        ("%PDF", fact("scores.is_pdf")),
        ("MThd", fact("scores.is_midi")),
        ("\x89PNG", fact("scores.is_picture")),
        ("\xff\xd8", fact("scores.is_picture")),
        ("{", fact("scores.is_other_data")),
    )
    for sign, what in known:
        if text.lstrip().startswith(sign):
            return what
    return fact("scores.begins_otherwise")


def _at_line(name: Name, line: int, what: Fact) -> ScoreError:
    return ScoreError("scores.at_line", file=name, line=line, what=what)


def _parsed(source: bytes, name: Name, encoding: str | None) -> Any:
    # A short file can't have too many of them, and counting takes as long as parsing some of it.
    size = len(source)
    elements = size > XML_ELEMENTS and source.count(b"<") - source.count(b"</") > XML_ELEMENTS
    if elements or (size > XML_ATTRIBUTES and source.count(b"=") > XML_ATTRIBUTES):
        raise ScoreError("scores.many_elements", file=name)
    options = dict(_PARSER_OPTIONS)
    if encoding is not None and encoding != "utf-8":
        options["encoding"] = encoding
    try:
        root = etree.fromstring(source, etree.XMLParser(**options))
    except (etree.XMLSyntaxError, ValueError, LookupError) as error:
        raise _syntax_error(error, source, name) from None
    # Only a file with a document type may hold entities that stay unexpanded.
    own = root.getroottree().docinfo.internalDTD
    if own is not None:
        if next(own.iterentities(), None) is not None:
            raise _at_line(name, 1, fact("scores.own_entities"))
        if _ENTITY.search(source):
            _check_entities(root, name)
    return root


def _check_entities(root: Any, name: Name) -> None:
    for entity in root.iter(etree.Entity):
        undefined = fact("scores.undefined_entity", entity=entity.text)
        raise _at_line(name, entity.sourceline, undefined)


def _syntax_error(error: Exception, source: bytes, name: Name) -> ScoreError:
    message = str(getattr(error, "msg", error) or "unreadable")
    line = getattr(error, "lineno", None) or 1
    # Some versions of the reader say it in several lines.
    plain = " ".join(re.sub(r",? ?line \d+, column \d+.*", "", message).split())
    if "Excessive depth" in message:
        return _at_line(name, line, fact("scores.deep_elements"))
    if "entity" in message.lower() and "loop" in message.lower():
        return _at_line(name, line, fact("scores.entity_loop"))
    last_line = source.rstrip().count(b"\n") + 1
    cut = "Premature end" in message or "EndTag: '</' not found" in message
    if cut or (line >= last_line and not source.rstrip().endswith(b">")):
        return _at_line(name, line, fact("scores.cut_off"))
    return _at_line(name, line, fact("scores.not_well_formed", reason=plain))


def _root_end(text: Any, tag: str) -> int:
    """Where the text after the root element begins."""
    closing: Any = f"</{tag}"
    bracket: Any = ">"
    if isinstance(text, bytes):
        closing, bracket = closing.encode(), b">"
    place = text.rfind(closing)
    return int(text.find(bracket, place) + 1) if place >= 0 else len(text)


def _read_archive(data: bytes, name: str) -> Package:
    try:
        with open_zip(io.BytesIO(data), SCORE_ENTRIES, SCORE_DIRECTORY_BYTES) as archive:
            entries = _unpacked(archive, name)
    except ManyEntries:
        raise ScoreError("scores.many_entries", file=name, most=SCORE_ENTRIES) from None
    except OtherMethod:
        raise ScoreError("scores.other_packing", file=name) from None
    except (zipfile.BadZipFile, EOFError, OSError, ValueError) as error:
        if isinstance(error, ScoreError):
            raise
        reason = str(error) or fact("scores.archive_cut_off")
        raise ScoreError("scores.damaged_archive", file=name, reason=reason) from None
    except Exception as error:
        # zlib.error, NotImplementedError, RuntimeError (encrypted): zipfile has no common root.
        raise ScoreError("scores.not_unpacked", file=name, reason=str(error)) from None
    contents = {info.filename: content for info, content in entries}
    entry = _root_entry(contents, name)
    return Package(read_document(contents[entry], _inside(entry, name)), entry, entries)


def _inside(entry: str, archive: str) -> Fact:
    return fact("scores.inside", entry=entry, archive=archive)


def _unpacked(archive: zipfile.ZipFile, name: str) -> tuple[tuple[zipfile.ZipInfo, bytes], ...]:
    seen: set[str] = set()
    entries, left = [], SCORE_UNPACKED_BYTES
    for info in archive.infolist():
        _check_entry_name(info, seen, name)
        with archive.open(info) as file:
            content = file.read(min(left, SCORE_BYTES) + 1)
        left -= len(content)
        if left < 0 or len(content) > SCORE_BYTES:
            raise ScoreError("scores.unpacks_large", file=name, most_mb=SCORE_BYTES // MB)
        entries.append((info, content))
    return tuple(entries)


def _check_entry_name(info: zipfile.ZipInfo, seen: set[str], name: str) -> None:
    entry = info.orig_filename
    tricky = entry.startswith("/") or "\\" in entry or "\0" in entry or ":" in entry
    if tricky or ".." in entry.split("/"):
        raise ScoreError("scores.entry_outside", file=name, entry=entry)
    if entry in seen:
        raise ScoreError("scores.entry_twice", file=name, entry=entry)
    seen.add(entry)


def _root_entry(contents: dict[str, bytes], name: str) -> str:
    if _CONTAINER not in contents:
        raise ScoreError("scores.no_container", file=name, container=_CONTAINER)
    container = read_document(contents[_CONTAINER], _inside(_CONTAINER, name)).root
    for rootfile in container.iter("{*}rootfile"):
        entry = rootfile.get("full-path", "")
        if entry in contents:
            return str(entry)
        raise ScoreError("scores.no_entry", file=name, entry=entry)
    raise ScoreError("scores.no_entry_named", file=name, container=_CONTAINER)


def _copied_info(info: zipfile.ZipInfo) -> zipfile.ZipInfo:
    copy = zipfile.ZipInfo(info.filename, info.date_time)
    copy.compress_type = info.compress_type
    copy.comment, copy.extra = info.comment, info.extra
    copy.create_system, copy.create_version = info.create_system, info.create_version
    copy.external_attr, copy.internal_attr = info.external_attr, info.internal_attr
    return copy
