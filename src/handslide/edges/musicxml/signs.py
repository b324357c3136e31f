"""Signs of a score that steer time: lengths, meters, tempo, repeats and jumps, one at a time."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from handslide.edges.musicxml.notevalues import QUARTERS
from handslide.ground.limits import XML_NUMBER_LETTERS

_QUARTERS = {kind: float(length) for kind, length in QUARTERS.items()}
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_WORD_JUMPS = (
    ("dacapo", re.compile(r"\bd\.?\s?c\.?(?![a-z])|\bda\s+capo\b", re.IGNORECASE)),
    ("dalsegno", re.compile(r"\bd\.?\s?s\.?(?![a-z])|\bdal\s+segno\b", re.IGNORECASE)),
    ("tocoda", re.compile(r"^\W*to\s+coda\b|^\W*alla\s+coda\b", re.IGNORECASE)),
    ("coda", re.compile(r"^\W*coda\W*$", re.IGNORECASE)),
    ("fine", re.compile(r"^\W*fine\W*$", re.IGNORECASE)),
)
JUMP_KINDS = ("dacapo", "dalsegno", "tocoda", "fine", "segno", "coda")


@dataclass(frozen=True, slots=True)
class Jump:
    """A sign that moves the player: where it stands (quarters into the measure) and its label."""

    kind: str
    label: str
    at_q: float
    text_only: bool = False


@dataclass(frozen=True, slots=True)
class Modulation:
    """A tempo that is ``factor`` times the one before: two note values set equal."""

    factor: float


@dataclass(slots=True)
class MeasureSigns:
    """The repeat signs of one measure."""

    forward: bool = False
    backward: bool = False
    times: int | None = None
    after_jump: bool = False
    ending: tuple[int, ...] | None = None
    """Passes that play the ending that starts here; empty when the file doesn't say."""
    ending_stops: bool = False
    final: bool = False
    """A thin and a thick line at the right: the end of a movement, unless it is a repeat."""
    jumps: list[Jump] = field(default_factory=list)


def nominal_q(kind: str | None, dots: int, ratio: tuple[float, float] | None) -> float | None:
    """Quarter notes of a printed note value, or None when it isn't printed.

    ``ratio`` is actual and normal notes of a tuplet: (3, 2) for a triplet.
    """
    base = _QUARTERS.get((kind or "").strip())
    if base is None:
        return None
    length = base * (2.0 - 0.5**dots)
    return length if ratio is None else length * ratio[1] / ratio[0]


def silence(note: Any, fields: Mapping[Any, Any]) -> str | None:
    """Why a pitched note is not for the player: ``cue``, ``hidden``, or None when it is.

    ``fields`` are its children by tag. A grace note is small without being a cue.
    """
    size = fields["type"].get("size") if "type" in fields else None
    if "cue" in fields or size == "grace-cue" or (size == "cue" and "grace" not in fields):
        return "cue"
    return "hidden" if note.get("print-object") == "no" else None


def silence_of(note: Any) -> str | None:
    """As `silence`, where the children haven't been gathered."""
    return silence(note, {child.tag: child for child in note.iterchildren("cue", "grace", "type")})


LEAST_DIVISIONS = 0.001
"""Of a quarter note: smaller ones make notes of no finite length."""

MOST_ALTER, MOST_FIFTHS = 3.0, 14.0
"""Furthest alteration in semitones, and signs of a key, that anybody prints."""


def number(text: str | None) -> float | None:
    """The decimal number in an element, or None."""
    text = (text or "").strip()
    if len(text) > XML_NUMBER_LETTERS:
        return None
    try:
        value = float(text)
    except ValueError:
        return None
    return value if abs(value) <= 1e9 else None


def meter_q(time: Any) -> float | None:
    """Quarter notes in a measure of this ``<time>``; None when it is free or can't be read."""
    total, beats = 0.0, 0.0
    for child in time:
        if child.tag == "beats":
            counts = [number(part) for part in (child.text or "").split("+")]
            beats = sum(count or 0.0 for count in counts)
        elif child.tag == "beat-type":
            unit = number(child.text)
            total += 4.0 * beats / unit if unit is not None and unit > 0 else 0.0
    return total if 0.0 < total < 1000.0 else None


def beat_q(time: Any) -> float:
    """Quarter notes in a beat of this ``<time>``: three of its units in 6/8, 9/8, 12/8."""
    beats, unit = number(time.findtext("beats")), number(time.findtext("beat-type"))
    if unit is None or not 1.0 <= unit <= 128.0:
        return 1.0
    compound = unit >= 8.0 and beats is not None and beats > 3.0 and beats % 3.0 == 0.0
    return 4.0 / unit * (3.0 if compound else 1.0)


def tempo_of(element: Any) -> float | None:
    """Quarter notes a minute of a ``<sound>`` or ``<metronome>``, or None."""
    if element.tag == "sound":
        tempo = number(element.get("tempo"))
    else:
        tempo = _metronome_qpm(element)
    return tempo if tempo is not None and 1.0 <= tempo <= 2000.0 else None


def _metronome_qpm(metronome: Any) -> float | None:
    units = metronome.findall("beat-unit")
    count = _NUMBER.search(metronome.findtext("per-minute") or "")
    if len(units) != 1 or count is None:
        return None
    unit = nominal_q(units[0].text, len(metronome.findall("beat-unit-dot")), None)
    return None if unit is None else unit * float(count[0].replace(",", "."))


def modulation_of(metronome: Any) -> Modulation | None:
    """What a ``<metronome>`` that sets two note values equal makes of the tempo, or None.

    The value of the old tempo stands before the sign, that of the new one behind it.
    """
    values: list[list[Any]] = []
    for child in metronome:
        if child.tag == "beat-unit":
            values.append([child.text, 0])
        elif child.tag == "beat-unit-dot" and values:
            values[-1][1] += 1
    if len(values) != 2:
        return None
    old, new = (nominal_q(kind, dots, None) for kind, dots in values)
    return None if old is None or new is None else Modulation(new / old)


def direction_tempo(direction: Any) -> float | Modulation | None:
    """Tempo of a ``<direction>``: what its ``<sound>`` says, else its metronome mark."""
    found: list[float | Modulation | None] = []
    found += [tempo_of(sound) for sound in direction.iterchildren("sound")]
    marks = list(direction.iter("metronome"))
    found += [tempo_of(metronome) for metronome in marks]
    found += [modulation_of(metronome) for metronome in marks]
    return next((tempo for tempo in found if tempo is not None), None)


def jumps_of(element: Any, at_q: float) -> Iterator[Jump]:
    """Jumps that a ``<direction>`` or ``<sound>`` orders, by its sound or else by its text."""
    sounds = [element] if element.tag == "sound" else list(element.iterchildren("sound"))
    spoken = False
    for sound in sounds:
        for kind in JUMP_KINDS:
            label = sound.get(kind)
            if label is not None and label != "no":
                spoken = True
                yield Jump(kind, label, at_q)
    if not spoken and element.tag == "direction":
        yield from _printed_jumps(element, at_q)


def _printed_jumps(direction: Any, at_q: float) -> Iterator[Jump]:
    for element in direction.iter("words", "segno", "coda"):
        if element.tag != "words":
            yield Jump(element.tag, "", at_q, text_only=True)
            continue
        for kind, pattern in _WORD_JUMPS:
            if pattern.search(element.text or ""):
                yield Jump(kind, "", at_q, text_only=True)
                break


def ending_passes(text: str | None) -> tuple[int, ...]:
    """Passes in which an ending is played: ``"1, 2"`` gives (1, 2), ``"2-4"`` gives (2, 3, 4)."""
    passes: set[int] = set()
    for first, last in re.findall(r"(\d{1,3})(?:\s*-\s*(\d{1,3}))?", text or ""):
        passes.update(range(int(first), int(last or first) + 1))
    return tuple(sorted(passes - {0}))


def add_barline(signs: MeasureSigns, barline: Any) -> None:
    """Note the repeat, ending and final bar of a ``<barline>``."""
    for child in barline:
        if child.tag == "repeat":
            if child.get("direction") == "forward":
                signs.forward = True
            else:
                times = number(child.get("times"))
                signs.backward = True
                signs.times = None if times is None else int(times)
                signs.after_jump = child.get("after-jump") == "yes"
        elif child.tag == "ending":
            if child.get("type") == "start":
                signs.ending = ending_passes(child.get("number"))
            else:
                signs.ending_stops = True
        elif child.tag == "bar-style" and barline.get("location", "right") == "right":
            signs.final = (child.text or "").strip() == "light-heavy"
