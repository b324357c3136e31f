"""Signs of a score that say how it is to be played: one element to plain rows.

Words are read in the languages that scores are printed in. What is read here is interpreted in
`handslide.sound.playing`.
"""

import re
from collections.abc import Iterator
from typing import Any, NamedTuple

from handslide.edges.musicxml.articulations import signs_of
from handslide.edges.musicxml.signs import number

LEVELS = ("pppp", "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "ffff")
_SUDDEN = frozenset({"sf", "sfz", "sffz", "fz", "rf", "rfz", "sfp", "sfpp", "fp", "sfzp", "pf"})
_SOFT_AFTER = {"sfp": "p", "sfpp": "pp", "fp": "p", "sfzp": "p"}
_STRENGTH = (
    ("poco", re.compile(r"\b(?:poco|un\speu|etwas|ein\swenig)\b(?!\sa\spoco)")),
    ("molto", re.compile(r"\b(?:molto|très|sehr|much)\b")),
)
_TEMPO_WORDS = (
    ("atempo", re.compile(r"\b(?:a|im|in)\stempo\b|\btempo\s(?:i|1|1mo|primo)\b|"
                          r"\bau\smouvement\b")),
    ("slower", re.compile(r"\brit(?:\b|ard|en)|\brall(?:\b|ent)|\ballarg|\bslentando\b|"
                          r"\bcalando\b|\bmorendo\b|\bsmorz|\ben\sélargissant\b|"
                          r"\blangsamer\swerdend|\bslowing\b")),
    ("quicker", re.compile(r"\baccel|\bstring(?:endo|\.)|\baffrett|\bschneller\swerdend|"
                           r"\ben\sserrant\b")),
)  # fmt: skip
_LEVEL_WORDS = (
    ("crescendo", re.compile(r"\bcresc")),
    ("diminuendo", re.compile(r"\bdim(?:\b|in)|\bdecresc")),
)
_SWING = re.compile(r"\bswing\b|\bswung\b|\bshuffle\b|\bternaire\b")
_STRAIGHT = re.compile(
    r"\bstraight\b|\beven\s(?:8ths|eighths?)\b|\bno\sswing\b|\bbinaire\b|\bgerade\sachtel\b"
)
_UNITS_Q = {"eighth": 0.5, "16th": 0.25}


class Sign(NamedTuple):
    """What a direction says: ``kind``, and by kind a ``value``.

    ===============  ======================================================================
    level            the dynamic mark
    sudden           a mark such as ``sf``, for the note here
    wedge            ``crescendo``, ``diminuendo`` or ``stop``, with its ``number``
    levelwords       ``crescendo`` or ``diminuendo``, in words
    dashes           ``start`` or ``stop``, with their ``number``
    tempowords       ``slower``, ``quicker`` or ``atempo``, with its ``strength``
    swing            the ratio of the long to the short note, 0 when the file doesn't say, 1 for
                     straight; ``unit_q`` is the note that is swung
    ===============  ======================================================================
    """

    kind: str
    value: str = ""
    strength: str = ""
    ratio: float = 0.0
    unit_q: float = 0.5
    number: str = "1"


def signs_of_direction(direction: Any) -> Iterator[Sign]:
    """All that a ``<direction>`` says about playing."""
    for holder in direction.iterchildren("direction-type"):
        for element in holder:
            if element.tag == "dynamics":
                yield from dynamics_of(element)
            elif element.tag == "wedge" and element.get("type") in _WEDGES:
                yield Sign("wedge", element.get("type"), number=element.get("number") or "1")
            elif element.tag == "dashes" and element.get("type") in ("start", "stop"):
                yield Sign("dashes", element.get("type"), number=element.get("number") or "1")
            elif element.tag == "words":
                yield from _words(" ".join((element.text or "").casefold().split()))
            elif element.tag == "metronome":
                yield from _swung_metronome(element)
    for sound in direction.iterchildren("sound"):
        yield from signs_of_sound(sound)


_WEDGES = frozenset({"crescendo", "diminuendo", "stop"})


def signs_of_sound(sound: Any) -> Iterator[Sign]:
    """The swing of a ``<sound>`` (MusicXML 4)."""
    for swing in sound.iterchildren("swing"):
        unit_q = _UNITS_Q.get((swing.findtext("swing-type") or "eighth").strip(), 0.5)
        if swing.find("straight") is not None:
            yield Sign("swing", ratio=1.0, unit_q=unit_q)
            continue
        first, second = number(swing.findtext("first")), number(swing.findtext("second"))
        if first and second and 1.0 <= first / second <= _MOST_SWING:
            yield Sign("swing", ratio=first / second, unit_q=unit_q)


_MOST_SWING = 9.0


def dynamics_of(dynamics: Any) -> Iterator[Sign]:
    """The marks of a ``<dynamics>``; of ``fp`` both."""
    for child in dynamics:
        if child.tag in LEVELS:
            yield Sign("level", child.tag)
        elif child.tag in _SUDDEN:
            yield Sign("sudden", child.tag)
            if child.tag in _SOFT_AFTER:
                yield Sign("level", _SOFT_AFTER[child.tag])


def _words(text: str) -> Iterator[Sign]:
    strength = next((name for name, pattern in _STRENGTH if pattern.search(text)), "")
    for kind, pattern in _TEMPO_WORDS:
        if pattern.search(text):
            yield Sign("tempowords", kind, strength)
            break
    for kind, pattern in _LEVEL_WORDS:
        if pattern.search(text):
            yield Sign("levelwords", kind)
            break
    if _STRAIGHT.search(text):
        yield Sign("swing", ratio=1.0)
    elif _SWING.search(text):
        yield Sign("swing")


def _swung_metronome(metronome: Any) -> Iterator[Sign]:
    """Two even notes set equal to a long and a short one of a triplet."""
    groups: list[list[tuple[str, bool]]] = [[]]
    for child in metronome:
        if child.tag == "metronome-relation":
            groups.append([])
        elif child.tag == "metronome-note":
            kind = (child.findtext("metronome-type") or "").strip()
            groups[-1].append((kind, child.find("metronome-tuplet") is not None))
    if len(groups) != 2 or len(groups[0]) != 2 or len(groups[1]) != 2:
        return
    (one, _), (other, _) = groups[0]
    triplet = any(tuplet for _, tuplet in groups[1])
    if one == other and one in _UNITS_Q and triplet:
        yield Sign("swing", ratio=2.0, unit_q=_UNITS_Q[one])


class NoteSigns(NamedTuple):
    """What stands at a note: its articulations, a fermata's shape, a breath or a caesura."""

    signs: frozenset[str]
    fermata: str = ""
    pause: str = ""
    marks: tuple[Sign, ...] = ()
    slurs: tuple[tuple[str, str], ...] = ()
    """(type, number) of the slurs that begin or end here."""


def signs_of_note(note: Any) -> NoteSigns:
    """What the ``<notations>`` of a note say about playing it."""
    fermata = pause = ""
    marks: list[Sign] = []
    slurs: list[tuple[str, str]] = []
    for notations in note.iterchildren("notations"):
        for child in notations:
            if child.tag == "fermata":
                fermata = (child.text or "").strip() or "normal"
            elif child.tag == "dynamics":
                marks += dynamics_of(child)
            elif child.tag == "slur":
                slurs.append((child.get("type") or "", child.get("number") or "1"))
            elif child.tag == "articulations":
                pause = next((one.tag for one in child if one.tag in _PAUSES), pause)
    return NoteSigns(signs_of(note), fermata, pause, tuple(marks), tuple(slurs))


_PAUSES = frozenset({"breath-mark", "caesura"})
