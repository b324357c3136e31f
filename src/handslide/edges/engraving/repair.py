"""What a file may lack and the engraver dies of, mended in the engraving copy.

The engraver divides by divisions, beat types and tuplet numbers without asking whether they are
zero, and allocates what a number says. What can be guessed as the reader guesses it is put in;
what can't is taken out.
"""

import re

from lxml import etree

from handslide.edges.engraving.spans import close_spans
from handslide.ground.cleantext import cut_line
from handslide.ground.limits import ENGRAVED_LETTERS, ENGRAVED_QUARTERS

_NUMBER = re.compile(r"[+-]?(\d{1,12}(\.\d{0,12})?|\.\d{1,12})")
_WHOLE = re.compile(r"[+-]?\d{1,6}")
_BEATS = re.compile(r"\d{1,3}(\s*\+\s*\d{1,3})*")
_BEAT_TYPES = {str(2**power) for power in range(9)}
_QUARTERS = {
    "maxima": 32.0, "long": 16.0, "breve": 8.0, "whole": 4.0, "half": 2.0, "quarter": 1.0,
    "eighth": 1 / 2, "16th": 1 / 4, "32nd": 1 / 8, "64th": 1 / 16, "128th": 1 / 32,
    "256th": 1 / 64, "512th": 1 / 128, "1024th": 1 / 256,
}  # fmt: skip
# What is a number, and its bounds; anything else of that name is taken out.
_BOUNDS = {
    "fifths": (-7, 7), "octave": (0, 9), "line": (1, 9), "staff-lines": (1, 9), "staff": (1, 9),
    "clef-octave-change": (-3, 3), "actual-notes": (1, 64), "normal-notes": (1, 64),
    "tremolo": (0, 8), "staves": (1, 9), "dots": (0, 4),
}  # fmt: skip


_LONG_TEXTS = etree.XPath(f"descendant::*[string-length(text()) > {ENGRAVED_LETTERS}]")
_LONG_ATTRIBUTES = etree.XPath(f"descendant::*/@*[string-length() > {ENGRAVED_LETTERS}]")


def repair(part: etree._Element) -> None:
    """Mend a part in place: divisions, meters, durations, odd numbers, endless texts and lines."""
    _cut_texts(part)
    close_spans(part)
    for element in list(part.iter(*_BOUNDS)):
        _bound(element)
    for repeat in part.iter("repeat"):
        # Nothing of it is drawn, and the engraver plays it through: 999,999 times.
        repeat.attrib.pop("times", None)
    for time in list(part.iter("time")):
        _mend_time(time)
    for tuplet in list(part.iter("time-modification")):
        if tuplet.find("actual-notes") is None or tuplet.find("normal-notes") is None:
            tuplet.getparent().remove(tuplet)
    divisions = 1.0
    for element in list(part.iter("divisions", "duration", "note", "forward", "backup")):
        if element.tag == "divisions":
            found = _number(element)
            if found is None or not 1e-3 <= found <= 1e6:
                element.text = f"{divisions:g}"
            else:
                divisions = found
        elif element.tag != "duration":
            _mend_duration(element, divisions)


def _cut_texts(part: etree._Element) -> None:
    """Cut texts, and take out attributes, that the engraver takes minutes over."""
    for element in _LONG_TEXTS(part):
        element.text = cut_line(element.text, ENGRAVED_LETTERS)
    for value in _LONG_ATTRIBUTES(part):
        del value.getparent().attrib[value.attrname]


def _number(element: etree._Element | None) -> float | None:
    text = "" if element is None else (element.text or "").strip()
    return float(text) if _NUMBER.fullmatch(text) else None


def _bound(element: etree._Element) -> None:
    least, most = _BOUNDS[element.tag]
    text = (element.text or "").strip()
    if not _WHOLE.fullmatch(text) or not least <= int(text) <= most:
        element.getparent().remove(element)


def _mend_time(time: etree._Element) -> None:
    """A beat type that isn't there, or can't be, is a quarter; without beats there is no meter."""
    if time.find("senza-misura") is not None:
        return
    beats = time.findall("beats")
    if not beats or not all(_BEATS.fullmatch((one.text or "").strip()) for one in beats):
        time.getparent().remove(time)
        return
    for kind in time.findall("beat-type"):
        if (kind.text or "").strip() not in _BEAT_TYPES:
            time.remove(kind)
    for one in beats:
        if not any(int(count) for count in (one.text or "").split("+")):
            one.text = "4"
        following = one.getnext()
        if following is None or following.tag != "beat-type":
            kind = etree.Element("beat-type")
            kind.text = "4"
            one.addnext(kind)


def _mend_duration(element: etree._Element, divisions: float) -> None:
    """Give a note its printed length, else a quarter; drop a move that leads nowhere."""
    grace = element.tag == "note" and element.find("grace") is not None
    durations = element.findall("duration")
    for more in durations if grace else durations[1:]:
        element.remove(more)
    if grace:
        return
    found = _number(durations[0]) if durations else None
    least = 0.0 if element.tag == "note" else 1e-9
    if found is not None and least <= found <= ENGRAVED_QUARTERS * divisions:
        return
    if element.tag != "note":
        element.getparent().remove(element)
        return
    kind = (element.findtext("type") or "").strip()
    quarters = _QUARTERS.get(kind, 1.0) * (2.0 - 0.5 ** len(element.findall("dot")))
    if durations:
        duration = durations[0]
    else:
        duration = etree.Element("duration")
        before = [child for child in element if child.tag in _BEFORE_DURATION]
        if before:
            before[-1].addnext(duration)
        else:
            element.insert(0, duration)
    duration.text = f"{max(1, round(quarters * divisions))}"


_BEFORE_DURATION = ("cue", "chord", "pitch", "unpitched", "rest")
