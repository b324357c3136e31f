"""A one-part MusicXML file in ABC notation (abcnotation.com, standard 2.1).

Enough for studies: one voice, chords, tuplets, grace notes, changes of clef, key and meter, repeats
and endings, slurs, ties, and the usual signs. Accidentals stand where the file prints them.
"""

from fractions import Fraction

from lxml import etree

_UNIT = Fraction(1, 8)
_KEYS = dict(zip(range(-7, 8), ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E",
                                "B", "F#", "C#")))  # fmt: skip
_CLEFS = {"F4": "bass", "C4": "tenor", "C3": "alto", "G2": "treble"}
_DYNAMICS = ("pp", "p", "mp", "mf", "f", "ff")
_TYPES = {"breve": Fraction(2), "whole": Fraction(1), "half": Fraction(1, 2),
          "quarter": Fraction(1, 4), "eighth": Fraction(1, 8), "16th": Fraction(1, 16),
          "32nd": Fraction(1, 32), "64th": Fraction(1, 64)}  # fmt: skip
_ACCIDENTALS = {"sharp": "^", "flat": "_", "natural": "=", "double-sharp": "^^",
                "sharp-sharp": "^^", "flat-flat": "__"}  # fmt: skip
_SIGNS = {"fermata": "!fermata!", "trill-mark": "!trill!", "staccato": ".", "accent": "!>!",
          "tenuto": "!tenuto!"}  # fmt: skip


class NoAbcError(Exception):
    """The part has what this writer doesn't write: a second voice, another clef."""


def abc_of(musicxml: bytes) -> str:
    """The part in ABC notation.

    Raises
    ------
    NoAbcError
        When it has more than one voice, or a clef or note value without a name here.
    """
    root = etree.fromstring(musicxml)
    part = root.find("part")
    if part.find(".//backup") is not None:
        raise NoAbcError("voices")
    title = root.findtext("work/work-title") or root.findtext("movement-title") or "Study"
    head = ["%%continueall 1", "X:1", f"T:{' '.join(title.split())}", f"L:{_UNIT}"]
    writer = _Writer()
    body = writer.measures(part.findall("measure"))
    return "\n".join([*head, f"M:{writer.first_meter}", writer.first_key, *body]) + "\n"


class _Writer:
    def __init__(self) -> None:
        self.first_meter, self.first_key = "4/4", "K:C"
        self._clef = self._key = ""
        self._meter = Fraction(1)
        self._begun = False

    def measures(self, measures: list[etree._Element]) -> list[str]:
        lines: list[str] = []
        rests = 0
        for number, measure in enumerate(measures):
            silent = number > 0 and _is_silent(measure)
            if rests and not silent:
                lines.append(f"Z{rests}|")
                rests = 0
            if silent:
                rests += 1
                continue
            lines.append(self._measure(measure))
        return [*lines, f"Z{rests}|]"] if rests else lines

    def _measure(self, measure: etree._Element) -> str:
        start, end = _barlines(measure)
        text = start
        notes = [one for one in measure if one.tag in ("attributes", "direction", "note")]
        for place, one in enumerate(notes):
            if one.tag == "attributes":
                text += self._attributes(one)
            elif one.tag == "direction":
                text += _direction(one)
            elif one.find("chord") is None:
                text += self._note(one, _chord(notes, place), _tuplet_size(notes, place))
        self._begun = True
        return text + end

    def _attributes(self, attributes: etree._Element) -> str:
        fields = []
        clef, fifths = attributes.find("clef"), attributes.findtext("key/fifths")
        if clef is not None:
            name = (clef.findtext("sign") or "") + (clef.findtext("line") or "")
            if name not in _CLEFS or clef.findtext("clef-octave-change", "0") != "0":
                raise NoAbcError(name)
            self._clef = f"clef={_CLEFS[name]}"
        if fifths is not None:
            self._key = _KEYS[int(fifths)]
        if clef is not None or fifths is not None:
            shown = f"{self._key} " if fifths is not None or not self._begun else ""
            fields.append(f"K:{shown}{self._clef}")
        time = attributes.find("time")
        if time is not None:
            meter = f"{time.findtext('beats')}/{time.findtext('beat-type')}"
            self._meter = sum(map(int, (time.findtext("beats") or "4").split("+"))) * Fraction(
                1, int(time.findtext("beat-type") or "4")
            )
            if self._begun:
                fields.append(f"M:{meter}")
            else:
                self.first_meter = "none" if time.get("print-object") == "no" else meter
        if not self._begun:
            self.first_key = next((one for one in fields if one.startswith("K:")), self.first_key)
            return ""
        return "".join(f"[{one}]" for one in fields)

    def _note(self, note: etree._Element, chord: list[etree._Element], tuplet: str) -> str:
        length = self._length(note)
        if note.find("rest") is not None:
            return f" {tuplet}{'x' if note.get('print-object') == 'no' else 'z'}{length}"
        notations = [one for holder in note.findall("notations") for one in holder.iter()]
        slurs = [one.get("type") for one in notations if one.tag == "slur"]
        before = "".join(_SIGNS[one.tag] for one in notations if one.tag in _SIGNS)
        heads = [_pitch(one) + "-" * _tied(one) for one in chord]
        body = f"[{''.join(heads)}]" if len(heads) > 1 else heads[0].rstrip("-")
        tie = "-" if len(heads) == 1 and _tied(note) else ""
        text = "(" * slurs.count("start") + before + body + length + tie
        text += ")" * slurs.count("stop")
        if note.find("grace") is not None:
            return f"{{{text}}}"
        beamed = note.findtext("beam") in ("continue", "end")
        return ("" if beamed else " ") + tuplet + text

    def _length(self, note: etree._Element) -> str:
        kind = note.findtext("type")
        rest = note.find("rest")
        if rest is not None and (kind is None or rest.get("measure") == "yes"):
            value = self._meter
        else:
            value = _nominal(note)
        times = value / _UNIT
        if times.denominator == 1:
            return "" if times == 1 else str(times.numerator)
        return f"{times.numerator}/{times.denominator}"


def _nominal(note: etree._Element) -> Fraction:
    kind = note.findtext("type") or ""
    if kind not in _TYPES:
        raise NoAbcError(kind)
    return _TYPES[kind] * (2 - Fraction(1, 2 ** len(note.findall("dot"))))


def _is_silent(measure: etree._Element) -> bool:
    notes = measure.findall("note")
    plain = all(one.tag in ("note", "print") for one in measure)
    return plain and len(notes) == 1 and notes[0].find("rest") is not None


def _barlines(measure: etree._Element) -> tuple[str, str]:
    start, end = "", "|"
    for bar in measure.findall("barline"):
        repeat, ending = bar.find("repeat"), bar.find("ending")
        if bar.get("location") == "left":
            start = "|:" if repeat is not None else start
            if ending is not None and ending.get("type") == "start":
                start += f"[{ending.get('number', '1').replace(' ', '')}"
        elif repeat is not None:
            end = ":|"
        elif bar.findtext("bar-style") == "light-heavy":
            end = "|]"
        elif bar.findtext("bar-style") == "light-light":
            end = "||"
    return start, end


def _direction(direction: etree._Element) -> str:
    words = direction.findtext("direction-type/words")
    dynamics = direction.find("direction-type/dynamics")
    text = ""
    if words and words.strip():
        place = "_" if direction.get("placement") == "below" else "^"
        text += f'"{place}{" ".join(words.split()).translate({34: None})}"'
    if dynamics is not None and len(dynamics) and dynamics[0].tag in _DYNAMICS:
        text += f"!{dynamics[0].tag}!"
    return text


def _chord(notes: list[etree._Element], place: int) -> list[etree._Element]:
    heads = [notes[place]]
    for one in notes[place + 1 :]:
        if one.tag != "note" or one.find("chord") is None:
            break
        heads.append(one)
    return heads


def _tuplet_size(notes: list[etree._Element], place: int) -> str:
    """The sign before the first note of a tuplet, with the notes that it counts."""
    first = notes[place]
    if not any(one.get("type") == "start" for one in first.iter("tuplet")):
        return ""
    count = 0
    for one in notes[place:]:
        if one.tag == "note" and one.find("chord") is None and one.find("grace") is None:
            count += 1
        if any(mark.get("type") == "stop" for mark in one.iter("tuplet")):
            break
    change = first.find("time-modification")
    if change is None:
        raise NoAbcError("tuplet")
    return f"({change.findtext('actual-notes')}:{change.findtext('normal-notes')}:{count}"


def _tied(note: etree._Element) -> bool:
    return any(one.get("type") == "start" for one in note.findall("tie"))


def _pitch(note: etree._Element) -> str:
    step = note.findtext("pitch/step") or ""
    octave = int(note.findtext("pitch/octave") or "4")
    letter = step.upper() if octave <= 4 else step.lower()
    marks = "," * (4 - octave) if octave <= 4 else "'" * (octave - 5)
    return _ACCIDENTALS.get(note.findtext("accidental") or "", "") + letter + marks
