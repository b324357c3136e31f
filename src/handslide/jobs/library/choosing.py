"""Which parts of a score a slide player is to get: by name, else by clef and range.

A part that is called a trombone's is taken. Where none of a score is, those are taken that nobody
else is named for, that stand in a clef of slide players and go no further than a slide does; a
person's word (`handslide.edges.files.partchoice`) stands above both.
"""

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from handslide.edges.files.partchoice import PartChoice
from handslide.edges.musicxml.looks import PartLook
from handslide.ground.errors import BadData

# Why a part is taken or not; `handslide.words.library` has the words.
NAME, CLEF, PERSON = "name", "clef_and_range", "person"
OTHERS, INSTRUMENT, WRONG_CLEF, RANGE, CHORDS, EMPTY, UNASKED = (
    "others_named", "instrument", "clef", "range", "chords", "empty", "person",
)  # fmt: skip
_CLEFS = frozenset(("F4", "F3", "C3", "C4", "F", "C"))
# From the pedal E of a tenor to what the highest études ask for.
LOWEST, HIGHEST = 28, 79
# A line may have a double stop here and there; a chordal part is somebody else's.
_MOST_CHORDS = 0.05
_OTHER = re.compile(
    r"\b(?:violin|violon|viola|bratsche|cello|violoncell|kontrabass|contrabass|contrebasse|"
    r"double.?bass|guitar|gitarre|harp|harfe|piano|klavier|organ|orgel|orgue|cembalo|"
    r"harpsichord|keyboard|timpani|pauken|timbales|drum|percussion|schlag|marimba|xylo|glocken|vibra|"
    r"flute|flote|flauta|piccolo|oboe|hautbois|clarinet|klarinette|clarinette|bassoon|fagott|basson|"
    r"fagot|saxo|horn|corno|cor\b|cornet|kornett|trumpet|trompet|tromba|tromp|flugel|fiscorn|euphonium|"
    r"baritone|bariton|tenorhorn|tuba|sousaphon|helicon|serpent|recorder|blockflote|"
    r"soprano?|sopran|tenore?\b|singstimme|gesang|voice|voz|voix|chant|canto|choir|chor\b|strings|"
    r"streicher|accord|lute|laute|mandolin|banjo|ukulele|celesta|continuo)"
)


@dataclass(frozen=True, slots=True)
class Chosen:
    """A part of a score, whether it is ``taken``, and for what ``why``."""

    look: PartLook
    taken: bool
    why: str


def choose_parts(looks: Sequence[PartLook], choice: PartChoice) -> tuple[Chosen, ...]:
    """What is taken of a score. Raises BadData where a person asks for a part that isn't there."""
    if choice.take is not None:
        wanted = _asked(looks, choice.take)
        return tuple(Chosen(look, look.part_id in wanted, PERSON) for look in looks)
    sounding = [look for look in looks if look.notes]
    likest = 2 if any(look.likeness > 1 for look in sounding) else 1
    if any(look.likeness >= likest for look in sounding):
        return tuple(
            Chosen(look, True, NAME)
            if look.notes and look.likeness >= likest
            else Chosen(look, False, OTHERS if look.notes else EMPTY)
            for look in looks
        )
    return tuple(_by_clef_and_range(look) for look in looks)


def _by_clef_and_range(look: PartLook) -> Chosen:
    wrong = None
    if look.notes == 0 or look.low is None or look.high is None:
        wrong = EMPTY
    elif any(_OTHER.search(_plain(name)) for name in look.names):
        wrong = INSTRUMENT
    elif not _CLEFS.issuperset(look.clefs) or not look.clefs:
        wrong = WRONG_CLEF
    elif look.low < LOWEST or look.high > HIGHEST:
        wrong = RANGE
    elif look.staves > 1 or look.chords > _MOST_CHORDS * look.notes:
        wrong = CHORDS
    return Chosen(look, wrong is None, wrong or CLEF)


def _asked(looks: Sequence[PartLook], take: Sequence[str]) -> set[str]:
    found: set[str] = set()
    for name in take:
        fitting = [look.part_id for look in looks if _is_called(look, name) and look.notes]
        if name == "*":
            fitting = [look.part_id for look in looks if look.notes]
        if not fitting and name.isdecimal() and 1 <= int(name) <= len(looks):
            fitting = [looks[int(name) - 1].part_id]
        if not fitting:
            parts = tuple(look.name for look in looks)
            raise BadData("library.no_such_part", name=name, parts=parts)
        found.update(fitting)
    return found


def _is_called(look: PartLook, name: str) -> bool:
    return look.part_id == name or _plain(look.name) == _plain(name)


def _plain(text: str) -> str:
    decomposed = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(c for c in decomposed if not unicodedata.combining(c)).split())


def look_json(look: PartLook) -> dict[str, Any]:
    """A look as it is kept in the manifest."""
    return {
        "part_id": look.part_id, "name": look.name, "names": list(look.names),
        "likeness": look.likeness, "notes": look.notes, "chords": look.chords,
        "staves": look.staves, "clefs": list(look.clefs), "low": look.low, "high": look.high,
    }  # fmt: skip


def look_of_json(row: dict[str, Any]) -> PartLook:
    """What `look_json` kept."""
    return PartLook(**row | {"names": tuple(row["names"]), "clefs": tuple(row["clefs"])})
