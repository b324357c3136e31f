"""Slurs and lines that are never ended, in the copy that the engraver gets."""

from lxml import etree
from musicxml_build import note, notes, part

from handslide.edges.engraving.spans import close_spans
from handslide.ground.limits import ENGRAVED_OPEN


def test_of_what_never_ends_few_stay_open_for_the_engraver():
    def started(tag, count, kind="start"):
        return notes("C3 " * count, notations=f'<{tag} type="{kind}"/>')

    def dashes(kind):
        return (f'<direction><direction-type><dashes type="{kind}"/></direction-type>'
                "<staff>1</staff></direction>")  # fmt: skip

    measures = etree.fromstring(
        part(started("slur", 100) + started("slur", 1, "stop"), dashes("start") * 40, note())
    )
    close_spans(measures)
    slurs = list(measures.iter("slur"))
    assert len(slurs) == ENGRAVED_OPEN + 1 and slurs[-1].get("type") == "stop"
    # The oldest went, and with a sign of a direction the direction.
    assert slurs[0].getparent().getparent() is measures.findall(".//note")[100 - ENGRAVED_OPEN]
    assert len(measures.findall(".//direction")) == ENGRAVED_OPEN
    assert len(measures.findall(".//dashes")) == ENGRAVED_OPEN


def test_what_ends_stays_however_much_it_is():
    def words(kind):
        return f'<direction><direction-type><wedge type="{kind}"/></direction-type></direction>'

    slurred = (note(notations='<slur type="start" number="2"/>')
               + note(notations='<slur type="stop" number="2"/><slur type="start" number="1"/>')
               + note(notations='<slur type="stop" number="1"/>'))  # fmt: skip
    measures = etree.fromstring(
        part(*[words("crescendo") + slurred + words("stop")] * 3 * ENGRAVED_OPEN)
    )
    before = etree.tostring(measures)
    close_spans(measures)
    assert etree.tostring(measures) == before
