"""The single-staff parts of a folder of scores, each as a MusicXML file of its own."""

import hashlib
import io
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from lxml import etree

HALVES = ("open", "kept")
_SEED = "parts as pdf"
_FOLDERS = ("trombone_xml", "trombone_mxl", "lieder", "quartets", "orchestra")
# Of scores that aren't for trombones: parts in all clefs, transposing ones among them.
_OTHERS = {
    "lieder": ("P1",),
    "quartets": ("P3", "P4"),
    "orchestra": ("P5", "P8", "P10", "P14", "P16", "P17", "P18", "P19", "P26", "P27"),
}


@dataclass(frozen=True, slots=True)
class SourcePart:
    """One part of a score. ``name`` tells it in file names and tables."""

    path: Path
    part_id: str
    name: str
    half: str

    def musicxml(self) -> bytes:
        """The part alone, as a partwise MusicXML file."""
        return cut(self.path, self.part_id)


def half_of(path: str) -> str:
    """Which half a score belongs to: the same on every machine, whole files together."""
    digest = hashlib.sha256(f"{_SEED}:{path}".encode()).digest()
    return HALVES[digest[0] % 2]


def read_tree(path: Path) -> etree._Element:
    """The root of a MusicXML file, compressed or not."""
    data = path.read_bytes()
    if path.suffix == ".mxl":
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            name = next(
                one for one in archive.namelist() if one.endswith("xml") and "META-INF" not in one
            )
            data = archive.read(name)
    return etree.fromstring(data, etree.XMLParser(resolve_entities=False, no_network=True))


def cut(path: Path, part_id: str) -> bytes:
    """One part of a score as a file of its own."""
    root = read_tree(path)
    for tag in ("part", "part-list/score-part"):
        for element in root.findall(tag):
            if element.get("id") != part_id:
                element.getparent().remove(element)
    for group in root.findall("part-list/part-group"):
        group.getparent().remove(group)
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8")


def source_parts(scores: Path) -> Iterator[SourcePart]:
    """All parts to engrave, in a fixed order; of a plain folder all MusicXML files."""
    for folder in _FOLDERS if (scores / _FOLDERS[0]).is_dir() else (".",):
        for path in sorted((scores / folder).rglob("*")):
            if path.suffix in (".musicxml", ".mxl", ".xml"):
                yield from _parts_of(path, folder, path.relative_to(scores).as_posix())


def _parts_of(path: Path, folder: str, relative: str) -> Iterator[SourcePart]:
    root = read_tree(path)
    wanted = _OTHERS.get(folder)
    for part in root.findall("part"):
        number = part.get("id", "")
        one_staff = all(element.text == "1" for element in part.iter("staves"))
        if one_staff and (wanted is None or number in wanted):
            yield SourcePart(path, number, f"{path.stem[:36]}-{number}", half_of(relative))
