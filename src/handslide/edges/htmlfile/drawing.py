"""Engraved music for a page that is one file: the same drawing in half the letters.

The engraver groups and names everything; kept is what scripts and style sheets look for. Glyphs are
taken out, for many drawings of a page share them.
"""

import itertools
from collections.abc import Iterable
from dataclasses import dataclass

from lxml import etree

from handslide.edges.engraving.marks import ordinal_of
from handslide.edges.engraving.shapes import HREF, SVG, is_kind

_KEPT = {
    "system", "measure", "staff", "note", "notehead", "dynam", "hairpin", "verse", "tempo", "dir",
    "mark",
}  # fmt: skip
_THEIRS = "theirs"  # what sets the marks of another player apart


@dataclass(frozen=True, slots=True)
class Drawn:
    """Music as one drawing a system, from top to bottom, and the glyphs that they use."""

    systems: tuple[str, ...]
    glyphs: dict[str, str]


def systems_of(pieces: Iterable[str], own: int | None = None) -> Drawn:
    """Pieces of an endless page, made ready for a page, cut between their systems.

    The drawings stand below each other without a gap, as the pieces did. Notes from the ordinal
    ``own`` on are of another player: they have no name for a script, their marks are ``theirs``.
    """
    glyphs: dict[str, str] = {}
    drawings: list[str] = []
    for piece in pieces:
        root = etree.fromstring(piece.encode())
        if own is not None:
            _set_apart(root, own)
        for symbol in root.iterfind(f"{SVG}defs/*"):
            glyphs.setdefault(symbol.get("id", ""), _text(_slim(symbol)))
        drawings += _cut(root)
    return Drawn(tuple(drawings), glyphs)


def _cut(root: etree._Element) -> list[str]:
    left, top, width, height = (int(number) for number in root.get("viewBox", "").split())
    groups = [group for group in root if group.tag == f"{SVG}g"]
    inks = [_ink(group) for group in groups]
    edges = [
        top,
        *(round((above[1] + below[0]) / 2) for above, below in itertools.pairwise(inks)),
        top + height,
    ]
    found = []
    for group, first, last in zip(groups, edges, edges[1:]):
        one = etree.Element(f"{SVG}svg", dict(root.attrib), nsmap={None: SVG[1:-1]})
        one.set("viewBox", f"{left} {first} {width} {last - first}")
        one.append(_slim(group))
        found.append(_text(one))
    return found


def _set_apart(root: etree._Element, own: int) -> None:
    for element in root.iter(f"{SVG}g", f"{SVG}text"):
        name = "data-note" if is_kind(element, "mark") else "id"
        if ordinal_of(element.get(name, "")) < own:
            continue
        del element.attrib[name]
        if name == "id":
            element.attrib.pop("class", None)
        else:
            element.set("class", f"mark {_THEIRS}")


def _ink(group: etree._Element) -> tuple[float, float]:
    """From where to where a system's ink reaches."""
    system = group.find(f"{SVG}g")
    assert system is not None
    down = float(group.get("transform", "translate(0, 0)").rstrip(")").rpartition(",")[2])
    first, last = (float(number) for number in (system.get("data-ink") or "0 0").split())
    return down + first, down + last


def _slim(element: etree._Element) -> etree._Element:
    for inner in list(element.iter(etree.Element)):
        if HREF in inner.attrib:
            inner.set("href", inner.attrib.pop(HREF))
        if inner.tag == f"{SVG}tspan":
            continue  # its spaces are letters
        inner.tail = None
        if inner.tag == f"{SVG}text":
            continue
        inner.text = None
        if inner.tag == f"{SVG}g" and inner is not element:
            _ungroup(inner)
    element.tail = None
    return element


def _ungroup(group: etree._Element) -> None:
    """Take out a group that says nothing."""
    classes = (group.get("class") or "").split()
    kept = [name for name in classes if name in _KEPT]
    parent = group.getparent()
    assert parent is not None
    if not len(group):
        parent.remove(group)
    elif kept or set(group.attrib) - {"class", "id"} or "hs-n" in group.get("id", ""):
        if kept:
            group.set("class", " ".join(kept))
        else:
            group.attrib.pop("class", None)
    else:
        at = parent.index(group)
        parent[at : at + 1] = list(group)


def _text(element: etree._Element) -> str:
    text: str = etree.tostring(element, encoding="unicode", with_tail=False)
    return text.replace(' xmlns:xlink="http://www.w3.org/1999/xlink"', "")
