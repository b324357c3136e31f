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
