"""Beams over notes that stand in one span."""

from collections.abc import Mapping, Sequence

from lxml import etree

FLAGS: Mapping[str, int] = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5}
"""Flags of the note values that have any: as many beams replace them."""


def beam_group(group: Sequence[etree._Element]) -> None:
    """Join neighbouring flagged notes with beams, as their types ask."""
    if len(group) < 2:
        return
    depths = [FLAGS[(note.findtext("type") or "").strip()] for note in group]
    for index, note in enumerate(group):
        before = depths[index - 1] if index else 0
        after = depths[index + 1] if index + 1 < len(group) else 0
        for level in range(1, depths[index] + 1):
            beam = etree.Element("beam", number=str(level))
            beam.text = _beam_word(level, before, after)
            anchor = [child for child in note if child.tag in ("notations", "lyric", "play")]
            if anchor:
                anchor[0].addprevious(beam)
            else:
                note.append(beam)


def _beam_word(level: int, before: int, after: int) -> str:
    joins_before, joins_after = level <= before, level <= after
    if joins_before and joins_after:
        return "continue"
    if joins_after:
        return "begin"
    if joins_before:
        return "end"
    return "forward hook" if after else "backward hook"
