"""What a profile is learnt from, as a JSON file beside it.

The file has a ``form``, which grows when it changes. Each stand is written once, its horn as the
text of a horn file; examples and answers name it by its number. A note is a row of the fields of
`ChosenNote`, in their order. What is read back is what was written.
"""

from collections.abc import Iterable
from dataclasses import replace
from itertools import chain, pairwise
from typing import Annotated, Any, Literal, TypeAlias

import msgspec
from msgspec import Meta, Struct

from handslide.edges.files.horns import read_horn
from handslide.edges.files.hornwriter import horn_toml
from handslide.edges.files.plainfile import TooLarge
from handslide.ground.errors import BadData, HandslideError
from handslide.ground.limits import (
    EXAMPLES_ANSWERS,
    EXAMPLES_BYTES,
    EXAMPLES_NOTES,
    MEASURE_LETTERS,
    NAME_LETTERS,
    NOTE_FINGERINGS,
    NUMBER_DIGITS,
)
from handslide.ground.pitch import parse_pitch
from handslide.instrument.learning.example import (
    Answer,
    ChosenNote,
    Example,
    Examples,
    How,
    Question,
    Stand,
    Wish,
)
from handslide.instrument.places import TOP_PARTIAL

FORM = 1
_Name: TypeAlias = Annotated[str, Meta(min_length=1, max_length=2 * NAME_LETTERS)]
_Title: TypeAlias = Annotated[str, Meta(max_length=2 * NAME_LETTERS)]
_Count: TypeAlias = Annotated[int, Meta(ge=0, le=10**NUMBER_DIGITS)]
_Seconds: TypeAlias = Annotated[float, Meta(ge=0.0, le=1e9)]
_Valves: TypeAlias = Annotated[tuple[str, ...], Meta(max_length=4)]
_Wish: TypeAlias = tuple[_Valves, Annotated[int, Meta(ge=1, le=TOP_PARTIAL)]]


class _Stand(Struct, forbid_unknown_fields=True):
    name: _Title
    horn: str
    a4_hz: float
    temp_c: float | None
    reach: Annotated[float, Meta(ge=1.0, le=12.0)] | None
    learned: tuple[str, ...] | None


class _Note(Struct, array_like=True, forbid_unknown_fields=True):
    midi: Annotated[int, Meta(ge=0, le=127)]
    spelled: str
    onset_s: _Seconds
    length_s: _Seconds
    slur: bool
    gliss: bool
    measure: Annotated[str, Meta(max_length=2 * MEASURE_LETTERS)]
    index: _Count
    number: _Count
    how: How | None
    places: Annotated[tuple[_Wish, ...], Meta(max_length=NOTE_FINGERINGS)]


class _Example(Struct, forbid_unknown_fields=True):
    key: _Name
    title: _Title
    stand: _Count
    notes: tuple[_Note, ...]


class _Answer(Struct, forbid_unknown_fields=True):
    key: _Name
    title: _Title
    stand: _Count
    notes: tuple[_Note, ...]
    begins: bool
    first: tuple[_Wish, ...]
    second: tuple[_Wish, ...]
    picked: Literal[0, 1, 2]


class _File(Struct, forbid_unknown_fields=True):
    form: Literal[1]
    stands: tuple[_Stand, ...]
    examples: tuple[_Example, ...]
    answers: Annotated[tuple[_Answer, ...], Meta(max_length=EXAMPLES_ANSWERS)]


class _Head(Struct):
    form: Annotated[int, Meta(ge=1)]


def examples_json(examples: Examples) -> bytes:
    """Examples as the bytes of their file.

    Raises
    ------
    BadData
        ``profile.examples_full``: they are more than a file may hold.
    """
    _check_room(examples)
    stands = dict.fromkeys(
        [one.stand for one in examples.examples] + [one.question.stand for one in examples.answers]
    )
    numbers = {stand: number for number, stand in enumerate(stands)}
    file = {
        "form": FORM,
        "stands": [_stand_row(stand) for stand in stands],
        "examples": [
            {
                "key": one.key,
                "title": one.title,
                "stand": numbers[one.stand],
                "notes": _rows(one.notes),
            }
            for one in examples.examples
        ],
        "answers": [
            {
                "key": one.question.key,
                "title": one.question.title,
                "stand": numbers[one.question.stand],
                "notes": _rows(one.question.notes),
                "begins": one.question.begins,
                "first": one.question.first,
                "second": one.question.second,
                "picked": one.picked,
            }
            for one in examples.answers
        ],
    }
    data = msgspec.json.encode(file) + b"\n"
    if len(data) > EXAMPLES_BYTES:
        raise BadData("profile.examples_full")
    return data


def _check_room(examples: Examples) -> None:
    notes = sum(len(one.notes) for one in examples.examples)
    notes += sum(len(one.question.notes) for one in examples.answers)
    if notes > EXAMPLES_NOTES or len(examples.answers) > EXAMPLES_ANSWERS:
        raise BadData("profile.examples_full")


def _stand_row(stand: Stand) -> dict[str, Any]:
    return {
        "name": stand.horn.name,
        "horn": horn_toml(stand.horn),
        "a4_hz": stand.a4_hz,
        "temp_c": stand.temp_c,
        "reach": stand.reach,
        "learned": stand.learned,
    }


def _rows(notes: Iterable[ChosenNote]) -> list[tuple[Any, ...]]:
    names = _Note.__struct_fields__
    return [tuple(getattr(note, name) for name in names) for note in notes]


def read_examples(data: bytes, source: str) -> Examples:
    """Examples from the bytes of their file, which ``source`` names.

    Raises
    ------
    BadData
        When a newer handslide has written it, or it isn't what `examples_json` writes.
    """
    try:
        if len(data) > EXAMPLES_BYTES:
            raise TooLarge
        if msgspec.json.decode(data, type=_Head).form > FORM:
            raise BadData("profile.examples_newer", path=source)
        file = msgspec.json.decode(data, type=_File)
        stands = tuple(map(_read_stand, file.stands))
        examples = Examples(
            tuple(_read_example(stands, one) for one in file.examples),
            tuple(_read_answer(stands, one) for one in file.answers),
        )
        _check_room(examples)
    except BadData as error:
        if error.fact.kind == "profile.examples_newer":
            raise
        raise _damaged(source) from error
    except (msgspec.MsgspecError, HandslideError, ValueError, RecursionError, OSError) as error:
        raise _damaged(source) from error
    return examples


def _damaged(source: str) -> BadData:
    return BadData("profile.examples_damaged", path=source)


def _read_stand(row: _Stand) -> Stand:
    described = replace(read_horn(row.horn, row.name), name=row.name)
    stand = Stand(described, row.a4_hz, row.temp_c, row.reach, row.learned)
    names = {valve.name for valve in stand.tuned().valves}
    _require(names.issuperset(row.learned or ()))
    return stand


def _require(true: bool) -> None:
    if not true:
        raise ValueError


def _read_notes(stand: Stand, rows: tuple[_Note, ...]) -> tuple[ChosenNote, ...]:
    notes = tuple(ChosenNote(*msgspec.structs.astuple(row)) for row in rows)
    _require(bool(notes))
    _require(len({note.number for note in notes}) == len(notes))
    _require(all(now.onset_s <= later.onset_s for now, later in pairwise(notes)))
    for note in notes:
        _require(parse_pitch(note.spelled).midi == note.midi)
        _require((note.how is None) == (not note.places))
        _check_wishes(stand, note.places)
    return notes


def _check_wishes(stand: Stand, wishes: Iterable[Wish]) -> None:
    names = {valve.name for valve in stand.horn.valves}
    _require(names.issuperset(chain.from_iterable(valves for valves, _ in wishes)))


def _read_example(stands: tuple[Stand, ...], row: _Example) -> Example:
    stand = _numbered(stands, row.stand)
    return Example(row.key, row.title, stand, _read_notes(stand, row.notes))


def _read_answer(stands: tuple[Stand, ...], row: _Answer) -> Answer:
    stand = _numbered(stands, row.stand)
    notes = _read_notes(stand, row.notes)
    _require(len(row.first) == len(row.second) == len(notes) and row.first != row.second)
    _check_wishes(stand, (*row.first, *row.second))
    question = Question(row.key, row.title, stand, notes, row.begins, row.first, row.second)
    return Answer(question, row.picked)


def _numbered(stands: tuple[Stand, ...], number: int) -> Stand:
    _require(number < len(stands))
    return stands[number]
