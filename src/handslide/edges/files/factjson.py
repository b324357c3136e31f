"""Facts as JSON and back, for what is stored and for machines.

A fact is ``{"kind": …, "values": {…}}`` (no ``values`` where it has none), a pitch ``{"pitch":
"Eb3"}``, a place ``{"place": {…}}`` with the fields of `handslide.instrument.places.Place`; tuples
are lists, and everything else stands for itself. What is read back is what was written.
"""

from dataclasses import asdict
from typing import Any

from handslide.ground.errors import BadData
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, parse_pitch
from handslide.instrument.places import Place


def to_json(value: Any) -> Any:
    """A fact, or any value that a fact may have, as JSON.

    Raises
    ------
    TypeError
        For what no fact holds.
    """
    match value:
        case Fact():
            values = {name: to_json(held) for name, held in value.items}
            return {"kind": value.kind} | ({"values": values} if values else {})
        case Pitch():
            return {"pitch": value.name}
        case Place():
            return {"place": asdict(value) | {"valves": list(value.valves)}}
        case tuple() | list():
            return [to_json(held) for held in value]
        case None | str() | bool() | int() | float():
            return value
    raise TypeError(f"{value!r} is no value of a fact")


def from_json(value: Any) -> Any:
    """What `to_json` made JSON of: a fact, a pitch, a place, a tuple, or a plain value.

    Raises
    ------
    BadData
        When it isn't of the form above.
    """
    try:
        return _read(value)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise BadData("files.not_a_fact", text=repr(value)[:200]) from error


def _read(value: Any) -> Any:
    match value:
        case {"kind": str() as kind, **rest}:
            values: Any = rest.pop("values", {})
            if rest:
                raise ValueError(value)
            return fact(kind, **{name: _read(held) for name, held in values.items()})
        case {"pitch": str() as name}:
            return parse_pitch(name)
        case {"place": dict() as fields}:
            return Place(**fields | {"valves": tuple(fields["valves"])})
        case list():
            return tuple(_read(held) for held in value)
        case None | str() | bool() | int() | float():
            return value
    raise ValueError(value)


def fact_of_json(value: Any) -> Fact:
    """A fact from its JSON. Raises BadData as `from_json` does, and for what is no fact."""
    found = from_json(value)
    if not isinstance(found, Fact):
        raise BadData("files.not_a_fact", text=repr(value)[:200])
    return found
