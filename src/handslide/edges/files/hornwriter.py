"""A horn as TOML text, for people and for `horns`, which reads back the same.

What is said to people are comments, in the language of whoever writes the file: nothing that is
read back depends on them.
"""

import math
from dataclasses import dataclass

from handslide.edges.files.toml import toml_string
from handslide.instrument.horn import Closed, Deviation, HornDescription, Uncertainty


@dataclass(frozen=True, slots=True)
class HornComments:
    """The comments of a horn file, by what they stand beside; empty: none there.

    ``head`` are the first lines.
    """

    head: tuple[str, ...] = ()
    closed: str = ""
    closed_with_valve: str = ""
    temp: str = ""
    speed_scale: str = ""
    extensions: str = ""
    other_partials: str = ""


_NONE = HornComments()


def horn_toml(horn: HornDescription, comments: HornComments = _NONE) -> str:
    """``horn`` as the text of a horn file.

    Reading the text gives an equal description (apart from the name, which is the file's).
    """
    lines = [_comment(line) for note in comments.head for line in note.splitlines()]
    lines += [f"title = {toml_string(horn.title)}"] if horn.title else []
    lines += [f"model = {toml_string(horn.model)}"] if horn.model else []
    lines += [""]
    lines += [_closed(horn.closed, comments.closed)]
    lines += [f"travel_mm = {_millimetres(horn.travel_m)}"]
    lines += [f"lip_up_cents = {_number(horn.lip_up_cents)}"]
    lines += [_beside(f"temp_c = {_number(horn.temp_c)}", comments.temp)]
    lines += [_beside(f"speed_scale = {_number(horn.speed_scale)}", comments.speed_scale)]
    lines += [] if horn.bell_m is None else [f"bell_mm = {_millimetres(horn.bell_m)}"]
    if horn.uncertainties:
        at_mm = horn.uncertainties[0].at_mm
        said = [_comment(line) for line in comments.extensions.splitlines()]
        lines += ["", *said, f"uncertainty_at_mm = {_list(at_mm)}"]
    for valve in horn.valves:
        lines += ["", "[[valves]]", f"name = {toml_string(valve.name)}"]
        lines += [] if valve.needs is None else [f"needs = {toml_string(valve.needs)}"]
        lines += [_closed(valve.closed, comments.closed_with_valve)]
    for deviation in horn.deviations:
        lines += _deviation(deviation)
    for row in horn.uncertainties:
        lines += _uncertainty(row, comments.other_partials)
    return "\n".join(lines) + "\n"


def _comment(text: str) -> str:
    return f"# {_plain(text)}".rstrip()


def _beside(line: str, comment: str) -> str:
    return f"{line}  # {_plain(comment)}" if comment else line


def _plain(text: str) -> str:
    # A comment is one line, and TOML allows no control signs in it.
    return "".join(c if c >= " " and c != "\x7f" else " " for c in text)


def _closed(closed: Closed, comment: str) -> str:
    if closed.hz is not None:
        return _beside(f"closed_hz = {_number(closed.hz)}", comment)
    assert closed.pitch is not None
    return _beside(f"closed = {toml_string(closed.pitch.name)}", comment)


def _deviation(row: Deviation) -> list[str]:
    return [
        "",
        "[[deviations]]",
        f"valves = {_names(row.valves)}",
        f"partial = {row.partial}",
        f"cents = {_number(row.cents)}",
        f"slope_cents_per_m = {_number(row.slope_cents_per_m)}",
    ]


def _uncertainty(row: Uncertainty, other_partials: str) -> list[str]:
    partial = [f"partial = {row.partial}"]
    if row.partial is None:
        partial = [_comment(other_partials)] if other_partials else []
    return [
        "",
        "[[uncertainties]]",
        f"valves = {_names(row.valves)}",
        *partial,
        f"half_width_mm = {_list(row.half_width_mm)}",
    ]


def _names(names: tuple[str, ...]) -> str:
    return f"[{', '.join(toml_string(name) for name in names)}]"


def _list(values: tuple[float, ...]) -> str:
    return f"[{', '.join(_number(value) for value in values)}]"


def _number(value: float) -> str:
    return repr(int(value)) if value == int(value) and abs(value) < 1e15 else repr(float(value))


def _millimetres(metres: float) -> str:
    # The shortest number that divides back to the same metres.
    exact = 1000.0 * metres
    for value in (
        *(round(exact, digits) for digits in range(13)),
        exact,
        math.nextafter(exact, 0.0),
        math.nextafter(exact, math.inf),
    ):
        if value / 1000.0 == metres:
            return _number(value)
    return _number(exact)
