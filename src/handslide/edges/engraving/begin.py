"""The beginning of a long part, to be engraved by itself while the whole is still to come.

The engraver fills line after line, so that the first lines of the beginning are those of the whole
part: all but the last, which may lack measures, and what reaches beyond the cut.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from lxml import etree

from handslide.edges.engraving.spans import open_spans
from handslide.edges.engraving.values import EngravingCopy, Paper

_NOTES = 320  # of the beginning: more than twice what a desk's first piece holds
_MOST = 1000  # where a movement goes on for so long, it isn't sooner there than the whole
_LONG = 800  # notes of a part from which on the whole takes longer than one waits


@dataclass(frozen=True, slots=True)
class Beginning:
    """The first measures of a part as a document; ``open_in``: ids of measures in which something
    begins that ends beyond it."""

    document: bytes
    open_in: frozenset[str]

    def holds(self, measures: Collection[str]) -> bool:
        """Whether these measures look as they do in the whole."""
        return self.open_in.isdisjoint(measures)


def beginning(prepared: EngravingCopy, paper: Paper) -> Beginning | None:
    """The first measures of a long part, or None where its lines depend on what comes later."""
    if prepared.players > 1 or paper.even_lines or paper.one_line or len(prepared.drawn) < _LONG:
        return None
    root = etree.fromstring(prepared.document)
    measures = list(root.iter("measure"))
    kept = _kept(measures, prepared.movements)
    if kept is None:
        return None
    for measure in measures[kept:]:
        measure.getparent().remove(measure)
    part = root.find("part")
    open_in = {str(_measure_of(one).get("id")) for one in (*open_spans(part), *_endings(part))}
    return Beginning(etree.tostring(root, encoding="UTF-8"), frozenset(open_in))


def _kept(measures: Sequence[etree._Element], movements: Collection[str]) -> int | None:
    """How many measures; with movements some whole ones, as each has its lines by itself."""
    notes, begun = 0, 0
    for number, measure in enumerate(measures):
        begins = measure.get("id") in movements
        if notes >= _NOTES and (not movements or (begins and begun)):
            return number
        if notes > _MOST:
            break
        begun += begins
        notes += len(measure.findall("note"))
    return None


def _measure_of(element: etree._Element) -> etree._Element:
    return next(element.iterancestors("measure"))


def _endings(part: etree._Element) -> Iterator[etree._Element]:
    """The first and second endings that aren't closed."""
    found: etree._Element | None = None
    for ending in part.iter("ending"):
        found = ending if ending.get("type") == "start" else None
    if found is not None:
        yield found


def lines_started(lines: Sequence[Sequence[str]], starts: Collection[str]) -> list[list[str]]:
    """The same measures in the lines that ``starts`` begin."""
    found: list[list[str]] = [[]]
    for name in (name for line in lines for name in line):
        if name in starts and found[-1]:
            found.append([])
        found[-1].append(name)
    return found


def lines_begun(
    lines: Sequence[Sequence[str]], begun: Sequence[Sequence[str]], following: str
) -> list[str]:
    """The measures that start lines where the first ones are ``begun``, the measure ``following``
    starts the next, and the others are as in ``lines``; empty where they are so already."""
    wanted = [line[0] for line in begun[1:]] + [following]
    there = [line[0] for line in lines[1:]]
    if there[: len(wanted)] == wanted:
        return []
    order = {name: number for number, name in enumerate(name for line in lines for name in line)}
    return wanted + [name for name in there if order[name] > order[following]]
