"""Exercises as TOML files: ours and the teacher's own by name, any other by path."""

import re
from collections.abc import Mapping
from typing import Any

from handslide.drills.exercise import (
    COUNTED,
    MOST_BARS,
    MOST_EXERCISES,
    MOST_PASSES,
    ROADS,
    THROUGH,
    WITH_TEACHER,
    Exercise,
    Figure,
    Series,
    parse_figure,
)
from handslide.drills.keys import KINDS, parse_tonic
from handslide.drills.levels import LEVELS
from handslide.drills.placed import FASTEST_QPM, SLOWEST_QPM
from handslide.drills.rhythms import METERS
from handslide.edges.files.named import FileKind
from handslide.ground.errors import BadData, PitchError

EXERCISE_FILES = FileKind(
    folder="exercises",
    error=BadData,
    unknown="exercises.unknown",
    unknown_near="exercises.unknown_near",
    unknown_here="exercises.unknown_here",
    is_folder="exercises.is_folder",
    too_large="exercises.too_large",
    missing="exercises.missing",
    not_text="exercises.not_text",
    unreadable="exercises.unreadable",
    not_toml="exercises.not_toml",
    unknown_key="exercises.unknown_key",
    unknown_key_near="exercises.unknown_key_near",
)
_KEYS = (
    "name", "title", "text", "levels", "meter", "tempo_qpm", "counted", "through", "from", "to",
    "back", "scale", "keys", "start", "valve", "bars", "ending", "teacher",
)  # fmt: skip
_METER = re.compile(r"(\d{1,2})/(\d{1,2})", re.ASCII)
MOST_TITLE, _MOST_TEXT = 80, 400
_RANGES = {"positions": (1, 7), "partials": (1, 16), "half-steps": (-24, 24)}
_USUAL = {"positions": (1, 7), "partials": (2, 5), "half-steps": (0, -6)}


def load_series(name: str) -> Series:
    """The exercises called ``name``, or those of the file at that path. Raises BadData."""
    return EXERCISE_FILES.load(name, read_series)


def read_series(text: str, source: str) -> Series:
    """Exercises from TOML text; see docs/exercises.md. Raises BadData."""
    table = EXERCISE_FILES.parse(text, source)
    try:
        EXERCISE_FILES.check_keys(table, ("title", "exercise"))
        rows = table.get("exercise")
        title = _text(table, "title", MOST_TITLE)
        if not isinstance(rows, list) or not rows or not all(isinstance(r, dict) for r in rows):
            raise BadData("exercises.none")
        if len(rows) > MOST_EXERCISES:
            raise BadData("exercises.too_many", count=len(rows), most=MOST_EXERCISES)
    except BadData as error:
        raise BadData("exercises.in_file", source=source, cause=error.fact) from None
    found = []
    for number, row in enumerate(rows, 1):
        try:
            found.append(_exercise(row))
        except (BadData, PitchError) as error:
            raise BadData(
                "exercises.in_exercise", source=source, number=number, cause=error.fact
            ) from None
    return Series(source.removesuffix(".toml"), tuple(found), title)


def _exercise(row: Mapping[str, Any]) -> Exercise:
    EXERCISE_FILES.check_keys(row, _KEYS)
    counted = _choice(row, "counted", COUNTED, "degrees")
    through = _choice(row, "through", THROUGH, ROADS[counted][0])
    if through not in ROADS[counted]:
        raise BadData("exercises.road", counted=counted, through=through, known=ROADS[counted])
    meter = _meter(row)
    first, last = _way(row, through)
    if "bars" not in row:
        raise BadData("exercises.no_bars")
    figure = parse_figure(_texts(row, "bars", MOST_BARS), counted, meter)
    return Exercise(
        figure=figure,
        teacher=_teacher(row, figure, counted, through, meter),
        ending=parse_figure(_texts(row, "ending", MOST_BARS), counted, meter),
        counted=counted,
        through=through,
        meter=meter,
        tempo_qpm=_tempo(row),
        first=first,
        last=last,
        back=_flag(row, "back"),
        name=_text(row, "name", MOST_TITLE),
        title=_text(row, "title", MOST_TITLE),
        text=_text(row, "text", _MOST_TEXT),
        levels=_levels(row),
        scale=_choice(row, "scale", tuple(KINDS), "major"),
        keys=tuple(parse_tonic(name).name[:-1] for name in _texts(row, "keys", MOST_PASSES)),
        start=_number(row, "start", 1, 12, 3 if through == "half-steps" else 1),
        valve=_number(row, "valve", 0, 3, 0),
    )


def _teacher(
    row: Mapping[str, Any], figure: Figure, counted: str, through: str, meter: tuple[int, int]
) -> Figure:
    """The second voice, as long as the first."""
    bars = _texts(row, "teacher", MOST_BARS)
    if not bars:
        return ()
    if through not in WITH_TEACHER:
        raise BadData("exercises.no_teacher", through=through, known=WITH_TEACHER)
    if "ending" in row:
        raise BadData("exercises.teacher_ending")
    if len(bars) != len(figure):
        raise BadData("exercises.teacher_bars", count=len(bars), bars=len(figure))
    try:
        return parse_figure(bars, counted, meter)
    except BadData as error:
        raise BadData("exercises.in_teacher", cause=error.fact) from None


def _way(row: Mapping[str, Any], through: str) -> tuple[int, int]:
    """From which number to which one it goes."""
    if through not in _RANGES:
        for key in ("from", "to", "back"):
            if key in row:
                raise BadData("exercises.no_way", key=key, through=through)
        return 1, 1
    (low, high), (first, last) = _RANGES[through], _USUAL[through]
    return _number(row, "from", low, high, first), _number(row, "to", low, high, last)


def _meter(row: Mapping[str, Any]) -> tuple[int, int]:
    known = tuple(f"{beats}/{unit}" for beats, unit in METERS)
    match = _METER.fullmatch(_choice(row, "meter", known, "4/4"))
    assert match is not None
    return int(match[1]), int(match[2])


def _levels(row: Mapping[str, Any]) -> tuple[str, ...]:
    names = _texts(row, "levels", len(LEVELS))
    for name in names:
        if name not in LEVELS:
            raise BadData("exercises.choice", key="levels", value=name, known=tuple(LEVELS))
    return tuple(names)


def _choice(row: Mapping[str, Any], key: str, known: tuple[str, ...], usual: str) -> str:
    value = row.get(key, usual)
    if not isinstance(value, str) or value not in known:
        raise BadData("exercises.choice", key=key, value=str(value), known=known)
    return value


def _number(row: Mapping[str, Any], key: str, low: int, high: int, usual: int) -> int:
    value = row.get(key, usual)
    if type(value) is not int or not low <= value <= high:
        raise BadData("exercises.number", key=key, value=str(value), low=low, high=high)
    return value


def _tempo(row: Mapping[str, Any]) -> float:
    value = row.get("tempo_qpm", 60.0)
    if type(value) not in (int, float) or not SLOWEST_QPM <= value <= FASTEST_QPM:
        raise BadData(
            "exercises.number",
            key="tempo_qpm",
            value=str(value),
            low=int(SLOWEST_QPM),
            high=int(FASTEST_QPM),
        )
    return float(value)


def _flag(row: Mapping[str, Any], key: str) -> bool:
    value = row.get(key, False)
    if type(value) is not bool:
        raise BadData("exercises.choice", key=key, value=str(value), known=("true", "false"))
    return value


def _text(row: Mapping[str, Any], key: str, most: int) -> str:
    value = row.get(key, "")
    if not isinstance(value, str) or len(value) > most:
        raise BadData("exercises.text", key=key, most=most)
    return " ".join(value.split())


def _texts(row: Mapping[str, Any], key: str, most: int) -> list[str]:
    value = row.get(key, [])
    if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
        raise BadData("exercises.texts", key=key)
    if (key in row and not value) or len(value) > most:
        raise BadData("exercises.how_many", key=key, count=len(value), most=most)
    return value
