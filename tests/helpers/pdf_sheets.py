"""PDFs of parts whose truth is known: sheets of our own, engraved without marks."""

from functools import cache
from pathlib import Path

from handslide.edges.engraving.engrave import engrave_part, paper_named
from handslide.edges.musicxml.read import open_score
from handslide.edges.typesetting.part import PartSheet, typeset_part

SCORES = Path(__file__).parents[1] / "scores"
SLAMA = SCORES / "Slama_01.musicxml"  # 93 notes in bass clef, one page


@cache
def sheet(path=SLAMA) -> bytes:
    """The part of a score as a PDF."""
    score = open_score(path)
    part = score.read_part()
    paper = paper_named("a4")
    pages = engrave_part(score, part.part_id, {}, paper, staff=part.staff).pages
    texts = PartSheet("Etude", "", part.name, "", "", (), (), paper)
    return typeset_part(texts, pages)


@cache
def duet() -> bytes:
    """A score of two staves a system: the study, and under it a whole note a measure."""
    import verovio
    from lxml import etree

    root = etree.parse(SLAMA).getroot()
    names = root.find("part-list")
    second = etree.SubElement(names, "score-part", id="P2")
    etree.SubElement(second, "part-name").text = "Trombone 2"
    lower = etree.SubElement(root, "part", id="P2")
    for number, measure in enumerate(root.find("part").findall("measure"), 1):
        bar = etree.SubElement(lower, "measure", number=str(number))
        if number == 1:
            bar.append(measure.find("attributes").__copy__())
        note = etree.SubElement(bar, "note")
        pitch = etree.SubElement(note, "pitch")
        etree.SubElement(pitch, "step").text = "CDEFGAB"[number % 7]
        etree.SubElement(pitch, "octave").text = "3"
        time = measure.getparent().find("measure/attributes")
        etree.SubElement(note, "duration").text = str(4 * int(time.findtext("divisions")))
        etree.SubElement(note, "type").text = "whole"
    engraver = verovio.toolkit()
    engraver.setOptions({"pageHeight": 2500, "pageWidth": 2000, "footer": "none"})
    engraver.loadData(etree.tostring(root, encoding="unicode"))
    texts = PartSheet("Duet", "", "", "", "", (), (), paper_named("a4"))
    return typeset_part(texts, [engraver.renderToSVG(1)])
