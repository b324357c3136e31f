"""Line breaks: a movement begins a line, no single measure stands alone in a short last line, and
lines are even where they are wished."""

import itertools
from collections.abc import Collection, Mapping, Sequence

from lxml import etree

from handslide.edges.engraving.shapes import SVG, is_kind

MEI = "{http://www.music-encoding.org/ns/mei}"
XML_ID = "{http://www.w3.org/XML/1998/namespace}id"
# Clef and key of a line that doesn't begin a movement: its measures don't have them by themselves.
_HEAD_MM = 9.0
_FULL = 0.97


def lines_of(mei: bytes) -> list[list[str]]:
    """The ids of the measures of each line, from the engraver's page-based MEI."""
    return [
        [measure.get(XML_ID, "") for measure in system.iter(f"{MEI}measure")]
        for system in read_mei(mei).iter(f"{MEI}system")
    ]


def better_starts(lines: list[list[str]], *, even: bool = False) -> list[str]:
    """Return the ids of the measures that should start lines; empty when all is well.

    When the last line has one measure, it shares the measures of the line before evenly with it.
    With ``even`` all lines share a short last line's lack of measures.
    """
    if even and len(lines) > 1 and len(lines[-1]) < max(map(len, lines)) - 1:
        return _even_starts([name for line in lines for name in line], len(lines))
    if len(lines) < 2 or len(lines[-1]) != 1 or len(lines[-2]) < 3:
        return []
    shared = [*lines[-2], *lines[-1]]
    keep = (len(shared) + 1) // 2
    better = [*lines[:-2], shared[:keep], shared[keep:]]
    return [line[0] for line in better[1:]]


def _even_starts(measures: Sequence[str], lines: int) -> list[str]:
    each, more = divmod(len(measures), lines)
    starts = [number * each + min(number, more) for number in range(1, lines)]
    return [measures[start] for start in starts]


def cut_within(lines: Sequence[Sequence[str]], movements: Collection[str]) -> bool:
    """Whether a movement begins inside a line."""
    return any(name in movements for line in lines for name in line[1:])


def widths_of(svgs: Sequence[str]) -> dict[str, float]:
    """The width of each measure in mm, from a drawing of all of them in one line."""
    widths = {}
    for svg in svgs:
        for group in etree.fromstring(svg.encode()).iter(f"{SVG}g"):
            if not is_kind(group, "measure"):
                continue
            ends: list[float] = []
            for staff in group.iter(f"{SVG}g"):
                if is_kind(staff, "staff"):
                    for path in staff.findall(f"{SVG}path"):
                        numbers = path.get("d", "").replace("M", " ").replace("L", " ").split()
                        ends += [float(x) for x in numbers[::2]]
            if ends:
                widths[group.get("id", "")] = (max(ends) - min(ends)) / 100.0
    return widths


def movement_starts(
    lines: Sequence[Sequence[str]],
    movements: Collection[str],
    widths_mm: Mapping[str, float],
    column_mm: float,
) -> list[str]:
    """The measures that should start lines where each movement begins one.

    A movement takes as few lines as it can, and these are about equally full.
    """
    pieces: list[list[str]] = []
    for name in (name for line in lines for name in line):
        if not pieces or name in movements:
            pieces.append([])
        pieces[-1].append(name)
    starts = [
        line[0]
        for piece in pieces
        for line in _filled(piece, [widths_mm.get(name, 0.0) for name in piece], column_mm * _FULL)
    ]
    return starts[1:]


def _filled(names: Sequence[str], widths: Sequence[float], column: float) -> list[Sequence[str]]:
    """Measures in the fewest lines, with the least sum of squared slack.

    Dynamic programming over cuts; a line takes at least one measure.
    """
    best: list[tuple[int, float, int]] = [(0, 0.0, 0)]
    for end in range(1, len(names) + 1):
        offers = []
        for start in range(end - 1, -1, -1):
            needed = sum(widths[start:end]) + (_HEAD_MM if start else 0.0)
            if needed > column and end - start > 1:
                break
            slack = max(0.0, 1.0 - needed / column)
            offers.append((best[start][0] + 1, best[start][1] + slack * slack, start))
        best.append(min(offers))
    cuts = [len(names)]
    while cuts[-1]:
        cuts.append(best[cuts[-1]][2])
    cuts.reverse()
    return [names[start:end] for start, end in itertools.pairwise(cuts)]


def read_mei(mei: bytes) -> etree._Element:
    """The tree of the engraver's own MEI, which may have an attribute twice."""
    return etree.fromstring(mei, etree.XMLParser(recover=True, resolve_entities=False))


def break_at(mei: bytes, starts: Sequence[str], lines_a_page: int) -> str:
    """Return the MEI document with a line break before each of the measures.

    So many lines make a page of the engraver's.
    """
    root = read_mei(mei)
    line_of = {name: number for number, name in enumerate(starts, 1)}
    for old in list(root.iter(f"{MEI}sb", f"{MEI}pb")):
        old.getparent().remove(old)
    for measure in root.iter(f"{MEI}measure"):
        line = line_of.get(measure.get(XML_ID, ""))
        if line is not None:
            kind = "sb" if line % lines_a_page else "pb"
            measure.addprevious(etree.Element(f"{MEI}{kind}"))
    text: str = etree.tostring(root, encoding="unicode")
    return text
