"""Horns and profiles as TOML files: ours and the user's own by name, any other by path.

Every wrong file gets one sentence with the file, the key and the likely slip.
"""

import difflib
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import fields
from importlib import resources
from pathlib import Path
from typing import Any

from handslide.edges.files.userfolder import user_files
from handslide.ground.errors import BadData, HornError, PitchError
from handslide.ground.pitch import parse_pitch
from handslide.instrument.horn import (
    DEFAULT_LIP_UP_CENTS,
    Closed,
    Deviation,
    HornDescription,
    Uncertainty,
    ValveDescription,
)
from handslide.instrument.profile import Profile

HORN_ORDER = (
    "tenor", "tenor-f", "tenor-f-long", "tenor-e", "bass-independent", "bass-dependent",
    "alto", "alto-bb", "soprano", "tenor-c-bb", "contrabass-f",
)  # fmt: skip
PROFILES = ("classical", "beginner")
_MAX_BYTES = 1_000_000
_HORN_KEYS = (
    "title", "closed", "closed_hz", "travel_mm", "valves", "deviations", "lip_up_cents", "temp_c",
    "speed_scale", "uncertainty_at_mm", "uncertainties",
)  # fmt: skip
_VALVE_KEYS = ("name", "closed", "closed_hz", "needs")
_DEVIATION_KEYS = ("valves", "partial", "cents", "slope_cents_per_m")
_UNCERTAINTY_KEYS = ("valves", "partial", "half_width_mm")

Table = Mapping[str, Any]


def load_horn(name: str) -> HornDescription:
    """The horn called ``name`` (ours, or in the user's folder), or the horn file at that path.

    Raises
    ------
    HornError
        When there is none, or it can't be read.
    """
    return _load(name, "horn", HORN_ORDER, read_horn, HornError)


def horn_text(name: str) -> str:
    """The text of the horn file called ``name``, ours or in the user's folder; no path.

    Raises
    ------
    HornError
        When there is none of that name, or it can't be read.
    """
    if name in HORN_ORDER:
        file = resources.files("handslide") / "data" / "horns" / f"{name}.toml"
        return file.read_text(encoding="utf-8")
    own = user_files("horns")
    if name not in own:
        raise HornError(f"no horn called {name!r} (there are {', '.join((*HORN_ORDER, *own))})")
    return _text(own[name], "horn", HornError)


def load_profile(name: str) -> Profile:
    """The profile called ``name``, or the profile file at that path. Raises BadData."""
    return _load(name, "profile", PROFILES, read_profile, BadData)


def _load(
    name: str,
    kind: str,
    built_in: tuple[str, ...],
    read: Callable[[str, str], Any],
    error: type[BadData],
) -> Any:
    if name in built_in:
        file = resources.files("handslide") / "data" / f"{kind}s" / f"{name}.toml"
        return read(file.read_text(encoding="utf-8"), name)
    own = user_files(f"{kind}s")
    path = own.get(name, Path(name))
    if not (path.suffix or path.exists() or len(path.parts) > 1):
        known = (*built_in, *own)
        close = difflib.get_close_matches(name, known, 1)
        slip = f": did you mean {close[0]}?" if close else ""
        raise error(
            f"no {kind} called {name!r}{slip} (there are {', '.join(known)}, or the path of a "
            f"{kind} file of your own)"
        )
    return read(_text(path, kind, error), path.name)


def _text(path: Path, kind: str, error: type[BadData]) -> str:
    try:
        if path.is_dir():
            raise error(f"{path} is a folder, not a {kind} file")
        if path.stat().st_size > _MAX_BYTES:
            raise error(f"{path} is too large for a {kind} file")
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise error(f"there is no {kind} file {path}") from None
    except UnicodeDecodeError:
        raise error(f"{path} isn't text in UTF-8: is it a {kind} file?") from None
    except OSError as cause:
        raise error(f"can't read {path}: {cause.strerror or cause}") from cause


def read_horn(text: str, source: str) -> HornDescription:
    """A horn from TOML text; ``source`` names it in errors and, without suffix, is its name.

    Raises
    ------
    HornError
        One sentence with the key that is wrong.
    """
    table = _parse(text, source, HornError)
    try:
        _known(table, _HORN_KEYS, "")
        description = HornDescription(
            name=source.removesuffix(".toml"),
            title=_string(table, "title", source.removesuffix(".toml")),
            closed=_closed(table, ""),
            travel_m=_travel_m(table),
            valves=tuple(
                _valve(row, f"valve {number}: ")
                for number, row in enumerate(_tables(table, "valves"), 1)
            ),
            deviations=tuple(
                _deviation(row, f"deviation {number}: ")
                for number, row in enumerate(_tables(table, "deviations"), 1)
            ),
            lip_up_cents=_number(table, "lip_up_cents", DEFAULT_LIP_UP_CENTS, 0.0, 100.0, "cents"),
            temp_c=_number(table, "temp_c", 25.0, 0.0, 30.0, "°C"),
            speed_scale=_number(table, "speed_scale", 1.0, 0.9, 1.1, "times the formula"),
            uncertainties=_uncertainties(table),
        )
        description.tuned()
    except (HornError, PitchError) as error:
        raise HornError(f"{source}: {error}") from None
    return description


def _closed(table: Table, where: str) -> Closed:
    if ("closed" in table) == ("closed_hz" in table):
        raise HornError(
            f'{where}give either closed (a note such as "Bb1") or closed_hz (a measured '
            "frequency), for the first partial of the closed slide"
        )
    if "closed_hz" in table:
        return Closed(hz=_number(table, "closed_hz", 0.0, 15.0, 500.0, "Hz", where))
    text = table["closed"]
    if not isinstance(text, str):
        raise HornError(f'{where}closed = {text!r} must be a note in quotes, such as "Bb1"')
    return Closed(pitch=parse_pitch(text))


def _travel_m(table: Table) -> float:
    if "travel_mm" not in table:
        slips = {"travel_m": 1000.0, "travel_cm": 10.0, "travel": 1.0}
        slip = next((key for key in slips if key in table), None)
        hint = f" (there is {slip}: write it in millimetres)" if slip else ""
        raise HornError(f"travel_mm is missing: how far the slide goes out, in millimetres{hint}")
    value = _number(table, "travel_mm", 0.0, -1e6, 1e6, "mm")
    if 150.0 <= value <= 1200.0:
        return value / 1000.0
    slip = ""
    for factor, unit in ((1000.0, "metres"), (10.0, "centimetres"), (25.4, "inches")):
        if 300.0 <= value * factor <= 1000.0:
            slip = f": is that in {unit}? {value:g} {unit} are travel_mm = {value * factor:.0f}"
            break
    raise HornError(f"travel_mm = {value:g} is outside 150 to 1200 mm{slip}")


def _valve(row: Table, where: str) -> ValveDescription:
    _known(row, _VALVE_KEYS, where)
    name = row.get("name")
    if not isinstance(name, str) or not name.strip():
        raise HornError(f'{where}name is missing: the note of its loop, such as "F"')
    needs = row.get("needs")
    if needs is not None and not isinstance(needs, str):
        raise HornError(f"{where}needs = {needs!r} must be the name of another valve in quotes")
    return ValveDescription(name.strip(), _closed(row, where), needs)


def _deviation(row: Table, where: str) -> Deviation:
    _known(row, _DEVIATION_KEYS, where)
    partial = _partial(row, where)
    return Deviation(
        _valve_names(row, where),
        partial,
        _number(row, "cents", None, -100.0, 100.0, "cents", where),
        _number(row, "slope_cents_per_m", 0.0, -300.0, 300.0, "cents per metre", where),
    )


def _valve_names(row: Table, where: str) -> tuple[str, ...]:
    valves = row.get("valves", [])
    if not isinstance(valves, list) or not all(isinstance(v, str) for v in valves):
        raise HornError(
            f'{where}valves must be a list of names such as ["F"], [] for the open horn'
        )
    return tuple(valves)


def _partial(row: Table, where: str) -> int:
    partial = row.get("partial")
    if not isinstance(partial, int) or isinstance(partial, bool) or not 1 <= partial <= 16:
        raise HornError(f"{where}partial = {partial!r} must be a whole number from 1 to 16")
    return partial


def _uncertainties(table: Table) -> tuple[Uncertainty, ...]:
    rows = _tables(table, "uncertainties")
    if not rows:
        return ()
    at_mm = _numbers(table, "uncertainty_at_mm", "")
    found = []
    for number, row in enumerate(rows, 1):
        where = f"uncertainty {number}: "
        _known(row, _UNCERTAINTY_KEYS, where)
        partial = _partial(row, where) if "partial" in row else None
        widths = _numbers(row, "half_width_mm", where)
        found.append(Uncertainty(_valve_names(row, where), partial, at_mm, widths))
    return tuple(found)


def _numbers(table: Table, key: str, where: str) -> tuple[float, ...]:
    values = table.get(key)
    if not isinstance(values, list) or not values:
        raise HornError(f"{where}{key} = {values!r} must be a list of numbers, in mm")
    return tuple(_number({key: v}, key, None, 0.0, 10_000.0, "mm", where) for v in values)


def read_profile(text: str, source: str) -> Profile:
    """A profile from TOML text; keys left out keep their defaults. Raises BadData."""
    table = dict(_parse(text, source, BadData))
    known = tuple(item.name for item in fields(Profile) if item.name != "name")
    try:
        _known(table, known, "", BadData)
        partials = table.pop("partials", {})
        if not isinstance(partials, dict):
            raise BadData("partials must be a table such as [partials] with 7 = 0.2")
        worth = {}
        for key, points in partials.items():
            number = isinstance(points, int | float) and not isinstance(points, bool)
            if not key.isdigit() or not 1 <= int(key) <= 16 or not number or points < 0:
                raise BadData(f"partials: {key} = {points!r} must be a partial 1 to 16 = 0 or more")
            worth[int(key)] = float(points)
        return Profile(name=source.removesuffix(".toml"), partials=worth, **table)
    except BadData as error:
        raise BadData(f"{source}: {error}") from None


def _parse(text: str, source: str, error: type[BadData]) -> Table:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as cause:
        raise error(f"{source} isn't valid TOML: {cause}") from None


def _known(
    table: Table, known: tuple[str, ...], where: str, error: type[BadData] = HornError
) -> None:
    for key in table:
        if key in known or (key in ("travel_m", "travel_cm", "travel") and "travel_mm" in known):
            continue
        close = difflib.get_close_matches(key, known, 1)
        hint = f"did you mean {close[0]}?" if close else f"known keys are {', '.join(known)}"
        raise error(f"{where}unknown key {key!r}: {hint}")


def _tables(table: Table, key: str) -> list[Table]:
    rows = table.get(key, [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise HornError(f"{key} must be a list of tables: write [[{key}]] before each")
    return rows


def _string(table: Table, key: str, default: str) -> str:
    value = table.get(key, default)
    if not isinstance(value, str):
        raise HornError(f"{key} = {value!r} must be text in quotes")
    return value


def _number(
    table: Table,
    key: str,
    default: float | None,
    low: float,
    high: float,
    unit: str,
    where: str = "",
) -> float:
    value = table.get(key, default)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise HornError(f"{where}{key} = {value!r} must be a number, in {unit}")
    if not low <= value <= high:
        raise HornError(f"{where}{key} = {value:g} is outside {low:g} to {high:g} {unit}")
    return float(value)
