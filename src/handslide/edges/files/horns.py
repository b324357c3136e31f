"""Horns as TOML files: ours and the user's own by name, any other by path.

What is wrong with a file is a fact that names the file, the key and the likely slip.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from handslide.edges.files.named import FileKind, Table
from handslide.ground.errors import HornError, PitchError
from handslide.ground.pitch import parse_pitch
from handslide.instrument.horn import (
    DEFAULT_LIP_UP_CENTS,
    Closed,
    Deviation,
    HornDescription,
    Uncertainty,
    ValveDescription,
)

HORN_FILES = FileKind(
    folder="horns",
    error=HornError,
    unknown="horn.unknown",
    unknown_near="horn.unknown_near",
    unknown_here="horn.unknown_here",
    is_folder="horn.is_folder",
    too_large="horn.too_large",
    missing="horn.missing",
    not_text="horn.not_text",
    unreadable="horn.unreadable",
    not_toml="horn.not_toml",
    unknown_key="horn.unknown_key",
    unknown_key_near="horn.unknown_key_near",
)
_HORN_KEYS = (
    "title", "model", "closed", "closed_hz", "travel_mm", "valves", "deviations", "lip_up_cents",
    "temp_c", "speed_scale", "bell_mm", "uncertainty_at_mm", "uncertainties",
)  # fmt: skip
# Where the bell's rim can be along a slide, from that of a soprano to that of a contrabass.
BELL_MM = (30.0, 900.0)
# Other ways to write the travel, and how many millimetres each is.
_TRAVELS = {"travel_m": 1000.0, "travel_cm": 10.0, "travel": 1.0}
_VALVE_KEYS = ("name", "closed", "closed_hz", "needs")
_DEVIATION_KEYS = ("valves", "partial", "cents", "slope_cents_per_m")
_UNCERTAINTY_KEYS = ("valves", "partial", "half_width_mm")


def load_horn(name: str) -> HornDescription:
    """The horn called ``name`` (ours, or in the user's folder), or the horn file at that path.

    Raises
    ------
    HornError
        When there is none, or it can't be read.
    """
    return HORN_FILES.load(name, read_horn)


def horn_text(name: str) -> str:
    """The text of the horn file called ``name``, ours or in the user's folder; no path.

    Raises
    ------
    HornError
        When there is none of that name, or it can't be read.
    """
    return HORN_FILES.named_text(name)


def read_horn(text: str, source: str) -> HornDescription:
    """A horn from TOML text; ``source`` names it in errors and, without suffix, is its name.

    A horn without a title and a model of ours is called by its name.

    Raises
    ------
    HornError
        ``horn.in_file``, whose ``cause`` says which key is wrong.
    """
    table = HORN_FILES.parse(text, source)
    name = source.removesuffix(".toml")
    with _inside("horn.in_file", source=source):
        HORN_FILES.check_keys({k: v for k, v in table.items() if k not in _TRAVELS}, _HORN_KEYS)
        description = HornDescription(
            name=name,
            title=_string(table, "title", "" if "model" in table else name),
            model=_string(table, "model", ""),
            closed=_closed(table),
            travel_m=_travel_m(table),
            valves=tuple(
                _valve(row, number) for number, row in enumerate(_tables(table, "valves"), 1)
            ),
            deviations=tuple(
                _deviation(row, number)
                for number, row in enumerate(_tables(table, "deviations"), 1)
            ),
            lip_up_cents=_number(table, "lip_up_cents", DEFAULT_LIP_UP_CENTS, 0.0, 100.0, "cents"),
            temp_c=_number(table, "temp_c", 25.0, 0.0, 30.0, "°C"),
            speed_scale=_number(table, "speed_scale", 1.0, 0.9, 1.1, "formula"),
            uncertainties=_uncertainties(table),
            bell_m=_bell_m(table),
        )
        description.tuned()
    return description


@contextmanager
def _inside(kind: str, **where: str | int) -> Iterator[None]:
    """Says of an error where in the file it is."""
    try:
        yield
    except (HornError, PitchError) as error:
        raise HornError(kind, cause=error.fact, **where) from None


def _closed(table: Table) -> Closed:
    if ("closed" in table) == ("closed_hz" in table):
        raise HornError("horn.closed_or_hz")
    if "closed_hz" in table:
        return Closed(hz=_number(table, "closed_hz", 0.0, 15.0, 500.0, "Hz"))
    text = table["closed"]
    if not isinstance(text, str):
        raise HornError("horn.closed_in_quotes", value=repr(text))
    return Closed(pitch=parse_pitch(text))


def _travel_m(table: Table) -> float:
    if "travel_mm" not in table:
        other = next((key for key in _TRAVELS if key in table), None)
        if other is not None:
            raise HornError("horn.travel_in_mm", key=other)
        raise HornError("horn.travel_missing")
    value = _number(table, "travel_mm", 0.0, -1e6, 1e6, "mm")
    if 150.0 <= value <= 1200.0:
        return value / 1000.0
    for factor, kind in (
        (1000.0, "horn.travel_metres"),
        (10.0, "horn.travel_centimetres"),
        (25.4, "horn.travel_inches"),
    ):
        if 300.0 <= value * factor <= 1000.0:
            raise HornError(kind, value=value, travel_mm=value * factor)
    raise HornError("horn.travel_outside", value=value)


def _bell_m(table: Table) -> float | None:
    if "bell_mm" not in table:
        return None
    return _number(table, "bell_mm", None, *BELL_MM, "mm") / 1000.0


def _valve(row: Table, number: int) -> ValveDescription:
    with _inside("horn.in_valve", number=number):
        HORN_FILES.check_keys(row, _VALVE_KEYS)
        name = row.get("name")
        if not isinstance(name, str) or not name.strip():
            raise HornError("horn.valve_name")
        needs = row.get("needs")
        if needs is not None and not isinstance(needs, str):
            raise HornError("horn.valve_needs_name", value=repr(needs))
        return ValveDescription(name.strip(), _closed(row), needs)


def _deviation(row: Table, number: int) -> Deviation:
    with _inside("horn.in_deviation", number=number):
        HORN_FILES.check_keys(row, _DEVIATION_KEYS)
        return Deviation(
            partial=_partial(row),
            valves=_valve_names(row),
            cents=_number(row, "cents", None, -100.0, 100.0, "cents"),
            slope_cents_per_m=_number(row, "slope_cents_per_m", 0.0, -300.0, 300.0, "cents_per_m"),
        )


def _valve_names(row: Table) -> tuple[str, ...]:
    valves = row.get("valves", [])
    if not isinstance(valves, list) or not all(isinstance(v, str) for v in valves):
        raise HornError("horn.valve_list")
    return tuple(valves)


def _partial(row: Table) -> int:
    partial = row.get("partial")
    if not isinstance(partial, int) or isinstance(partial, bool) or not 1 <= partial <= 16:
        raise HornError("horn.partial", value=repr(partial))
    return partial


def _uncertainties(table: Table) -> tuple[Uncertainty, ...]:
    rows = _tables(table, "uncertainties")
    if not rows:
        return ()
    at_mm = _numbers(table, "uncertainty_at_mm")
    return tuple(_uncertainty(row, number, at_mm) for number, row in enumerate(rows, 1))


def _uncertainty(row: Table, number: int, at_mm: tuple[float, ...]) -> Uncertainty:
    with _inside("horn.in_uncertainty", number=number):
        HORN_FILES.check_keys(row, _UNCERTAINTY_KEYS)
        partial = _partial(row) if "partial" in row else None
        return Uncertainty(_valve_names(row), partial, at_mm, _numbers(row, "half_width_mm"))


def _numbers(table: Table, key: str) -> tuple[float, ...]:
    values = table.get(key)
    if not isinstance(values, list) or not values:
        raise HornError("horn.number_list", key=key, value=repr(values))
    return tuple(_number({key: v}, key, None, 0.0, 10_000.0, "mm") for v in values)


def _tables(table: Table, key: str) -> list[Table]:
    rows = table.get(key, [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise HornError("horn.table_list", key=key)
    return rows


def _string(table: Table, key: str, default: str) -> str:
    value = table.get(key, default)
    if not isinstance(value, str):
        raise HornError("horn.not_text_value", key=key, value=repr(value))
    return value


def _number(
    table: Table, key: str, default: float | None, low: float, high: float, unit: str
) -> float:
    value: Any = table.get(key, default)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise HornError("horn.not_a_number", key=key, value=repr(value), unit=unit)
    if not low <= value <= high:
        raise HornError("horn.outside", key=key, value=value, low=low, high=high, unit=unit)
    return float(value)
