"""An engraved page made ready to stand inside a web page: its ink follows the page's own.

Only plain drawing passes: a text of the score that looks like markup has been escaped long before,
and whatever isn't a shape, a text or a reference within the drawing is taken out here.
"""

from collections.abc import Iterable

from lxml import etree

from handslide.edges.engraving.marks import mark_width_em
from handslide.edges.engraving.shapes import HREF, SVG, is_kind
from handslide.edges.engraving.values import Paper

# Widths in mm at which staves and marks are legible on a phone, a tablet in portrait, a desk.
WIDTHS_MM = {"narrow": 88.0, "medium": 138.0, "wide": 190.0}
_ENDLESS_MM = 1e6
_ALLOWED = {
    "svg", "defs", "symbol", "g", "use", "path", "rect", "circle", "ellipse", "line", "polyline",
    "polygon", "text", "tspan",
}  # fmt: skip


def screen_paper(width_mm: float) -> Paper:
    """One endless page of this width: on a screen nobody turns."""
    return Paper(
        "screen", width_mm, _ENDLESS_MM,
        side_mm=0.0, top_mm=0.0, foot_mm=0.0, title_mm=0.0, hang_mm=3.0,
    )  # fmt: skip


def for_screen(svg: str) -> str:
    """The same picture as an element for HTML: hidden from screen readers, black as ink.

    It has no size of its own; its ``viewBox`` gives the proportions. Marks are set from their
    middle, so that a script can write another one.
    """
    root = etree.fromstring(svg.encode())
    for element in list(root.iter()):
        plain = isinstance(element.tag, str) and element.tag.removeprefix(SVG) in _ALLOWED
        if not plain:
            parent = element.getparent()
            if parent is not None:
                parent.remove(element)
            continue
        for name, value in list(element.attrib.items()):
            points_away = name in (HREF, "href") and not value.startswith("#")
            if points_away or name == "style" or name.lower().startswith("on"):
                del element.attrib[name]
            elif name in ("fill", "stroke") and value == "black":
                element.set(name, "currentColor")
        if is_kind(element, "mark"):
            _centre(element)
    for name in ("width", "height"):
        root.attrib.pop(name, None)
    root.set("fill", "currentColor")
    root.set("aria-hidden", "true")
    root.set("focusable", "false")
    text: str = etree.tostring(root, encoding="unicode")
    return text


def joined(pieces: Iterable[str]) -> str:
    """Pieces of one endless page, each made ready, as one element."""
    first, *more = (etree.fromstring(piece.encode()) for piece in pieces)
    defs = first.find(f"{SVG}defs")
    left, top, width, height = (int(number) for number in first.get("viewBox", "").split())
    known = {symbol.get("id") for symbol in defs}
    for root in more:
        height += int(root.get("viewBox", "").split()[3])
        for symbol in list(root.find(f"{SVG}defs")):
            if symbol.get("id") not in known:
                known.add(symbol.get("id"))
                defs.append(symbol)
        first.extend(root.findall(f"{SVG}g"))
    first.set("viewBox", f"{left} {top} {width} {height}")
    text: str = etree.tostring(first, encoding="unicode")
    return text


def _centre(mark: etree._Element) -> None:
    size = float((mark.get("font-size") or "0").removesuffix("px"))
    half = mark_width_em(mark.text or "") * size / 2
    mark.set("x", f"{float(mark.get('x') or 0) + half:.0f}")
    mark.set("text-anchor", "middle")
