"""The parts of a score: which there are, and which one is meant."""

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from lxml import etree

from handslide.edges.musicxml.scorepart import PartInfo, ScoreWarning
from handslide.edges.musicxml.signs import silence_of
from handslide.edges.musicxml.staves import measures_of
from handslide.ground.cleantext import cut_line
from handslide.ground.errors import ScoreError
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import NAME_LETTERS, SCORE_PARTS
from handslide.ground.wholenumber import whole_number

_TROMBONE = re.compile(
    r"trombon|trombonn|posaun|puzon|pozoun|pasuuna|basuun|bazuin|basun\b|harsona|sackbut|"
    r"saqueboute|тромбон|トロンボーン|长号|長號"
)
_SHORT = re.compile(r"\b(?:tbn|trbn|tbne|pos)\b")

# Of a part, or in a timewise score of what it has of one measure.
_PITCHED = etree.XPath("count((measure/note | note)[pitch])")
_PITCHED_NOTES = etree.XPath("(measure/note | note)[pitch]")
_VOICES = etree.XPath("(measure/note | note)[pitch]/voice[1]/text()", smart_strings=False)
_UNPITCHED = etree.XPath("boolean(measure/note/unpitched|note/unpitched)")


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A part as found: ``roots`` is its element, or in a timewise score one in each measure."""

    part_id: str
    name: str
    names: tuple[str, ...]
    sounds: tuple[str, ...]
    roots: tuple[Any, ...]

    def measures(self) -> Iterator[Any]:
        """The elements that hold the notes, one a measure."""
        return measures_of(self.roots)

    def info(self) -> PartInfo:
        """What the part holds; walks through all of it."""
        pitched = 0
        voices: dict[str, None] = {}
        for root in self.roots:
            found = int(_PITCHED(root))
            texts = _VOICES(root)
            # A note without a voice is in the first: then each must be asked.
            if len(texts) != found:
                texts = [note.findtext("voice") or "1" for note in _PITCHED_NOTES(root)]
            pitched += found
            voices |= dict.fromkeys(texts)
        drums = pitched == 0 and any(_UNPITCHED(root) for root in self.roots)
        return PartInfo(self.part_id, self.name, pitched, drums, tuple(voices))

    def first_pitched(self) -> Any:
        """The first note with a pitch that isn't a cue, or None."""
        for measure in self.measures():
            for note in measure.iterchildren("note"):
                if note.find("pitch") is not None and silence_of(note) is None:
                    return note
        return None

    def likeness(self) -> int:
        """How much this looks like a trombone's part: 0 is not at all."""
        names = [_plain(name) for name in self.names]
        points = 4 if any(_TROMBONE.search(name) for name in names) else 0
        if any(sound.startswith(("brass.trombone", "brass.sackbut")) for sound in self.sounds):
            points += 2
        return points or int(any(_SHORT.search(name) for name in names))


def list_parts(root: Any, name: str) -> list[Part]:
    """All parts of a score.

    Raises ScoreError when this isn't a score, or has no part or far too many.
    """
    if root.tag not in ("score-partwise", "score-timewise"):
        raise ScoreError("scores.not_musicxml", file=name, what=_what_root(root))
    roots: dict[str, list[Any]] = {}
    holders = [root] if root.tag == "score-partwise" else root.iterchildren("measure")
    for holder in holders:
        for part in holder.iterchildren("part"):
            roots.setdefault(part.get("id") or "", []).append(part)
    listed = root.findall("part-list/score-part")
    # In a partwise score those of one id too: each is a part by itself, whatever it is called.
    found_parts = len(root.findall("part")) if holders == [root] else len(roots)
    if (count := max(len(listed), found_parts)) > SCORE_PARTS:
        raise ScoreError("scores.many_parts", file=name, count=count, most=SCORE_PARTS)
    parts = []
    for score_part in listed:
        found = roots.pop(score_part.get("id"), None)
        if found is not None:
            parts.append(_part(score_part.get("id"), score_part, found))
    parts.extend(_part(part_id, None, found) for part_id, found in roots.items())
    if not parts:
        raise ScoreError("scores.no_part", file=name)
    return parts


def choose_part(
    parts: list[Part], wanted: str | None, name: str
) -> tuple[Part, list[ScoreWarning]]:
    """The part that is meant, with a warning when it had to be guessed.

    Raises
    ------
    ScoreError
        No such part, several that fit, or a part without pitched notes.
    """
    if wanted is not None:
        part = _named(parts, wanted, name)
        _check_pitched(part, name)
        return part, []
    if len(parts) == 1:
        _check_pitched(parts[0], name)
        return parts[0], []
    pitched = [part for part in parts if part.first_pitched() is not None]
    if not pitched:
        raise ScoreError("scores.no_pitched_part", file=name, count=len(parts))
    likest = max(part.likeness() for part in pitched)
    fitting = [part for part in pitched if part.likeness() == likest]
    part = fitting[0]
    if len(fitting) == 1:
        return part, []
    values = {"part": part.name, "parts": _names(parts)}
    if likest > 0:
        told = fact("scores.first_trombone_part", **values)
    else:
        told = fact("scores.first_part", **values)
    return part, [ScoreWarning("", "part", told)]


def trombone_parts(parts: list[Part]) -> list[Part]:
    """The parts with pitched notes that are a trombone's by name or sound, in the score's order.

    Parts that only have an abbreviation of it count where no other does.
    """
    found = [(part.likeness(), part) for part in parts if part.first_pitched() is not None]
    sure = [part for likeness, part in found if likeness > 1]
    return sure or [part for likeness, part in found if likeness > 0]


def choose_voice(part: Part, wanted: str | None, name: str) -> tuple[str, str | None]:
    """The voice to read and the staff of its first note. Raises ScoreError when it isn't there."""
    if wanted is None:
        note = part.first_pitched()
        if note is None:
            raise ScoreError("scores.only_cues", file=name, part=part.name)
        return note.findtext("voice") or "1", note.findtext("staff")
    voices: dict[str, str | None] = {}
    for measure in part.measures():
        for note in measure.iterchildren("note"):
            if note.find("pitch") is not None:
                voices.setdefault(note.findtext("voice") or "1", note.findtext("staff"))
    if wanted not in voices:
        raise ScoreError(
            "scores.no_voice", file=name, part=part.name, voice=wanted, voices=list(voices)
        )
    return wanted, voices[wanted]


def _check_pitched(part: Part, name: str) -> None:
    if part.first_pitched() is not None:
        return
    info = part.info()
    if info.percussion:
        raise ScoreError("scores.unpitched_part", file=name, part=part.name)
    if info.notes > 0:
        raise ScoreError("scores.only_cues", file=name, part=part.name)
    raise ScoreError("scores.empty_part", file=name, part=part.name)


def _named(parts: list[Part], wanted: str, name: str) -> Part:
    """By id, else whole name, else number, else a piece of the name that only one part has."""
    sought = _plain(wanted)
    for part in parts:
        if part.part_id == wanted.strip():
            return part
    found = [part for part in parts if _plain(part.name) == sought]
    place = whole_number(sought)
    if not found and place is not None and 1 <= place <= len(parts):
        return parts[place - 1]
    if not found and sought:
        found = [part for part in parts if sought in _plain(part.name)]
    if len(found) == 1:
        return found[0]
    values = {"file": name, "wish": wanted, "parts": _names(parts)}
    if found:
        raise ScoreError("scores.several_parts", **values)
    raise ScoreError("scores.no_such_part", **values)


def _names(parts: list[Part]) -> tuple[str, ...]:
    return tuple(part.name for part in parts)


def _plain(text: str) -> str:
    decomposed = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(c for c in decomposed if not unicodedata.combining(c)).split())


def _part(part_id: str, score_part: Any, roots: list[Any]) -> Part:
    names: list[str] = []
    sounds: list[str] = []
    if score_part is not None:
        paths = ("part-name", "part-name-display/display-text", "score-instrument/instrument-name")
        for path in (*paths, "part-abbreviation"):
            for element in score_part.iterfind(path):
                if (element.text or "").strip():
                    names.append(cut_line(element.text, NAME_LETTERS))
        sounds = [
            one.text or "" for one in score_part.iterfind("score-instrument/instrument-sound")
        ]
    name = names[0] if names else part_id
    return Part(part_id, name, tuple(names), tuple(sounds), tuple(roots))


def _what_root(root: Any) -> Fact:
    tag = str(root.tag)
    if tag == "opus":
        return fact("scores.is_opus")
    if tag.lower() == "html":
        return fact("scores.is_web_page")
    if tag.endswith("}mei") or tag == "mei":
        return fact("scores.is_mei")
    if tag.startswith("{") and tag.rpartition("}")[2].startswith("score-"):
        return fact("scores.has_namespace")
    return fact("scores.begins_with", tag=tag)
