"""Where a player has rests enough to turn a page."""

from fractions import Fraction

from lxml import etree

from handslide.edges.engraving.mend import duration, length_of, quarters
from handslide.edges.engraving.turns import MeasureRests
from handslide.edges.musicxml.signs import silence

_TOLD = ("chord", "cue", "duration", "grace", "rest", "type")


def measure_rests(part: etree._Element) -> dict[str, MeasureRests]:
    """The rests of each measure by its id; a player rests while others' cues are printed."""
    found: dict[str, MeasureRests] = {}
    divisions = Fraction(1)
    run = 0
    for measure in part.iter("measure"):
        for attributes in measure.findall("attributes"):
            divisions = quarters(attributes.findtext("divisions"), divisions)
            text = attributes.findtext("measure-style/multiple-rest")
            run = int(text) if text else run
        rests = _rests_of(measure, divisions)
        if run and rests.all_q is not None:
            # Of a multiple rest only the first measure is drawn.
            whole_q = rests.all_q * run
            rests = MeasureRests(whole_q, whole_q, whole_q)
        run = 0
        found[measure.get("id", "")] = rests
    return found


def _rests_of(measure: etree._Element, divisions: Fraction) -> MeasureRests:
    sounds: list[tuple[Fraction | int, Fraction | int]] = []
    at: Fraction | int = 0
    end: Fraction | int = 0
    for element in measure:
        if element.tag == "backup":
            at -= _divisions(duration(element))
        elif element.tag == "forward":
            at += _divisions(duration(element))
        elif element.tag == "note":
            fields = {child.tag: child for child in element.iterchildren(*_TOLD)}
            if "chord" not in fields:
                length = _divisions(length_of(fields.get("duration")))
                if "rest" not in fields and silence(element, fields) is None:
                    sounds.append((at, at + length))
                at += length
        end = max(end, at)
    whole = float(end / divisions)
    if not sounds:
        return MeasureRests(whole, whole, whole)
    first, last = min(sounds)[0], max(stop for _, stop in sounds)
    return MeasureRests(float(first / divisions), float((end - last) / divisions), None)


def _divisions(length: Fraction) -> Fraction | int:
    """The same; nearly all are whole, and whole numbers are added ten times as fast."""
    return length.numerator if length.denominator == 1 else length
