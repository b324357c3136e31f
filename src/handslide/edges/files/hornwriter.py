"""A horn as TOML text with comments, for people and for `tomlfile`, which reads back the same."""

import math

from handslide.instrument.horn import Closed, Deviation, HornDescription, Uncertainty


def horn_toml(horn: HornDescription, notes: tuple[str, ...] = ()) -> str:
    """``horn`` as the text of a horn file; ``notes`` are comment lines for its head.

    Reading the text gives an equal description (apart from the name, which is the file's).
    """
    lines = [f"# {line}".rstrip() for note in notes for line in note.splitlines()]
    lines += [f"title = {_string(horn.title)}", ""]
    lines += _closed(horn.closed, "first partial of the closed slide")
    lines += [f"travel_mm = {_travel_mm(horn.travel_m)}"]
    lines += [f"lip_up_cents = {_number(horn.lip_up_cents)}"]
    lines += [f"temp_c = {_number(horn.temp_c)}  # air in the horn while it was measured"]
    lines += [
        f"speed_scale = {_number(horn.speed_scale)}  # of the millimetres: speed of sound "
        "found / formula"
    ]
    if horn.uncertainties:
        at_mm = horn.uncertainties[0].at_mm
        lines += ["", "# Extensions for the half-widths below (95 % intervals of places, mm).",
                  f"uncertainty_at_mm = {_list(at_mm)}"]  # fmt: skip
    for valve in horn.valves:
        lines += ["", "[[valves]]", f"name = {_string(valve.name)}"]
        lines += [] if valve.needs is None else [f"needs = {_string(valve.needs)}"]
        lines += _closed(valve.closed, "first partial of the closed slide with the valve down")
    for deviation in horn.deviations:
        lines += _deviation(deviation)
    for row in horn.uncertainties:
        lines += _uncertainty(row)
    return "\n".join(lines) + "\n"


def _closed(closed: Closed, comment: str) -> list[str]:
    if closed.hz is not None:
        return [f"closed_hz = {_number(closed.hz)}  # {comment}"]
    assert closed.pitch is not None
    return [f"closed = {_string(closed.pitch.name)}  # {comment}"]


def _deviation(row: Deviation) -> list[str]:
    return [
        "",
        "[[deviations]]",
        f"valves = {_names(row.valves)}",
        f"partial = {row.partial}",
        f"cents = {_number(row.cents)}",
        f"slope_cents_per_m = {_number(row.slope_cents_per_m)}",
    ]


def _uncertainty(row: Uncertainty) -> list[str]:
    partial = "# all other partials" if row.partial is None else f"partial = {row.partial}"
    return [
        "",
        "[[uncertainties]]",
        f"valves = {_names(row.valves)}",
        partial,
        f"half_width_mm = {_list(row.half_width_mm)}",
    ]


def _names(names: tuple[str, ...]) -> str:
    return f"[{', '.join(_string(name) for name in names)}]"


def _list(values: tuple[float, ...]) -> str:
    return f"[{', '.join(_number(value) for value in values)}]"


def _number(value: float) -> str:
    return repr(int(value)) if value == int(value) and abs(value) < 1e15 else repr(float(value))


def _travel_mm(travel_m: float) -> str:
    # The shortest number that divides back to the same metres.
    exact = 1000.0 * travel_m
    for value in (
        *(round(exact, digits) for digits in range(13)),
        exact,
        math.nextafter(exact, 0.0),
        math.nextafter(exact, math.inf),
    ):
        if value / 1000.0 == travel_m:
            return _number(value)
    return _number(exact)


def _string(text: str) -> str:
    quoted = text.replace("\\", "\\\\").replace('"', '\\"')
    return (
        '"' + "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04x}" for c in quoted) + '"'
    )
