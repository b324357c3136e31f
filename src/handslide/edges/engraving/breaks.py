"""Line breaks: no single measure alone in a short last line, even lines where they are wished."""

from collections.abc import Sequence

from lxml import etree

from handslide.edges.engraving.shapes import SVG

MEI = "{http://www.music-encoding.org/ns/mei}"
XML_ID = "{http://www.w3.org/XML/1998/namespace}id"


def better_starts(svgs: Sequence[str], *, even: bool = False) -> list[str]:
    """Return the ids of the measures that should start lines; empty when all is well.

    When the last line has one measure, it shares the measures of the line before evenly with it.
    With ``even`` all lines share a short last line's lack of measures.
    """
    lines = []
    for svg in svgs:
        root = etree.fromstring(svg.encode())
        for group in root.iter(f"{SVG}g"):
            if group.get("class") == "system":
                names = [
                    g.get("id", "") for g in group.iter(f"{SVG}g") if g.get("class") == "measure"
                ]
                lines.append(names)
    if even and len(lines) > 1 and len(lines[-1]) < max(map(len, lines)) - 1:
        return _even_starts([name for line in lines for name in line], len(lines))
    if len(lines) < 2 or len(lines[-1]) != 1 or len(lines[-2]) < 3:
        return []
    shared = [*lines[-2], *lines[-1]]
    keep = (len(shared) + 1) // 2
    lines[-2:] = [shared[:keep], shared[keep:]]
    return [line[0] for line in lines[1:]]


def _even_starts(measures: Sequence[str], lines: int) -> list[str]:
    each, more = divmod(len(measures), lines)
    starts = [number * each + min(number, more) for number in range(1, lines)]
    return [measures[start] for start in starts]


def break_at(mei: bytes, starts: Sequence[str]) -> str:
    """Return the MEI document with a line break before each of the measures."""
    root = etree.fromstring(mei)
    wanted = set(starts)
    for old in list(root.iter(f"{MEI}sb", f"{MEI}pb")):
        old.getparent().remove(old)
    for measure in root.iter(f"{MEI}measure"):
        if measure.get(XML_ID) in wanted:
            measure.addprevious(etree.Element(f"{MEI}sb"))
    text: str = etree.tostring(root, encoding="unicode")
    return text
