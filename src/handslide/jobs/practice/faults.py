"""The notes that went worst, read from a report: of a take, of a take beside a part, of weeks."""

import json
import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from statistics import median
from typing import Any

from handslide.drills.troublespots import TroubleSpot
from handslide.edges.files.plainfile import NotPlain, TooLarge, read_plain
from handslide.ground.errors import BadData, HandslideError
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import REPORT_BYTES
from handslide.ground.pitch import parse_pitch
from handslide.ground.system import system_reason
from handslide.instrument.habits import FAULT_CENTS
from handslide.instrument.heardplace import CLOSED_M, m_per_cent
from handslide.instrument.places import Place
from handslide.instrument.practice import FAULTS
from handslide.instrument.takeoffset import take_offset
from handslide.jobs.mark.locks import Lock, find_locked
from handslide.jobs.setup import Setup

_LEAST_CENTS = 8.0
# So many notes must surely go wrong before they count over weeks.
_SURE_FAULTS = 0.1
# Of one or two notes alone nobody knows the spread: that of a fair player, in cents.
_USUAL_SPREAD_CENTS, _LEAST_SPREAD_CENTS = 6.0, 3.0
_NO_FILE = fact("practice.the_report")
# A place within so much of the 1st position is one with the slide closed.
_CLOSED_POSITION, _AWAY = 1.1, 9.0
_Scored = tuple[float, TroubleSpot]
# What all notes with some valves are off by, in cents.
_OfValves = Mapping[tuple[str, ...], float]


def read_faults(path: Path, setup: Setup) -> tuple[TroubleSpot, ...]:
    """The notes to practise in a report file, worst first; none if all was well.

    The file is the JSON of ``handslide listen`` (with or without ``--part``) or of ``handslide
    progress``. Raises BadData.
    """
    try:
        data = json.loads(read_plain(path, REPORT_BYTES))
    except TooLarge:
        raise BadData("practice.large_report", file=str(path)) from None
    except NotPlain:
        raise BadData("files.not_plain", path=str(path)) from None
    except OSError as error:
        problem = system_reason(error)
        raise BadData("practice.unread_report", file=str(path), problem=problem) from error
    except (RecursionError, ValueError) as error:
        raise BadData("practice.not_json", file=str(path)) from error
    return faults_of(data, setup, str(path))


def faults_of(data: Any, setup: Setup, file: str | Fact = _NO_FILE) -> tuple[TroubleSpot, ...]:
    """The notes to practise in a report, worst first. Raises BadData.

    What the whole report is off by is nobody's fault: notes are judged beside it.
    """
    reader: Callable[[list[Any], Setup], Iterable[_Scored]] | None = None
    rows: Any = None
    if isinstance(data, dict):
        if isinstance(data.get("groups"), list):
            reader, rows = _of_weeks, data["groups"]
        elif isinstance(data.get("notes"), list):
            beside = any(isinstance(one, dict) and "played" in one for one in data["notes"])
            reader, rows = _of_part if beside else _of_take, data["notes"]
    if reader is None:
        raise BadData("practice.not_a_report", file=file)
    try:
        found = list(reader(rows, setup))
    except (AttributeError, KeyError, OverflowError, TypeError, ValueError) as error:
        if isinstance(error, HandslideError):
            raise
        raise BadData("practice.broken_report", file=file) from error
    return tuple(row for _, row in sorted(found, key=lambda one: (-one[0], one[1].midi)))


def _of_part(notes: list[Any], setup: Setup) -> Iterator[_Scored]:
    """Of a take beside a part: notes and their marks, as they were off or missed."""
    yield from _valves_apart(*_notes_of_part(notes, setup))


def _notes_of_part(notes: list[Any], setup: Setup) -> tuple[list[_Scored], _OfValves]:
    """The notes, judged beside what the whole take is off by, and what all of a valve are."""
    groups: dict[tuple[str, str], list[int]] = {}
    for number, note in enumerate(notes):
        # Reports of before say of a note outside the take only that it is missing.
        if not note.get("outside"):
            groups.setdefault((note["note"], note["mark"] or ""), []).append(number)
    places = {key: _marked(setup, key[1], key[0]) for key in groups}
    common, of_valves = _offsets(
        (places[key], float(notes[number]["cents"]))
        for key, numbers in groups.items()
        for number in numbers
        if notes[number]["played"] == "right" and notes[number]["cents"] is not None
    )
    found: list[_Scored] = []
    for (name, mark), numbers in groups.items():
        pitch, place = parse_pitch(name), places[name, mark]
        per_cent = 0.0 if place is None else 1000.0 * m_per_cent(setup.horn, place)
        rows = [notes[number] for number in numbers]
        wrong = sum(row["played"] in FAULTS for row in rows)
        cents = [float(row["cents"]) - common for row in rows if row["cents"] is not None]
        slide = [
            float(row["slide_mm"]) + per_cent * common
            for row in rows
            if row["slide_mm"] is not None and (place is not None or not common)
        ]
        score = _score(cents, wrong / len(rows), len(rows))
        if score is not None:
            before = _before(notes, numbers)
            within = per_cent * _uncertain_cents(cents)
            found.append((score, _spot(pitch.midi, place, before, cents, slide, within)))
    return found, of_valves


def _offsets(right: Iterable[tuple[Place | None, float]]) -> tuple[float, _OfValves]:
    """What a take is off by as a whole, and beside that all its notes with the same valves."""
    rows = [
        (() if at is None else at.valves, off, None if at is None else at.extension_m < CLOSED_M)
        for at, off in right
    ]
    common = take_offset([(off, closed) for _, off, closed in rows])
    beside: dict[tuple[str, ...], list[tuple[float, bool | None]]] = {}
    for valves, off, closed in rows:
        if valves:
            beside.setdefault(valves, []).append((off - common, closed))
    return common, {valves: take_offset(some) for valves, some in beside.items()}


def _valves_apart(found: Iterable[_Scored], of_valves: _OfValves) -> Iterator[_Scored]:
    """Of a valve that is off as a whole the note that shows it best, and no slide is blamed."""
    shown: dict[tuple[str, ...], _Scored] = {}
    for score, spot in found:
        common = of_valves.get(spot.valves or (), 0.0)
        if (
            not spot.valves
            or spot.cents is None
            or abs(common) < _LEAST_CENTS
            or abs(spot.cents - common) >= _LEAST_CENTS
        ):
            yield score, spot
        elif spot.valves not in shown or score > shown[spot.valves][0]:
            shown[spot.valves] = (
                score,
                replace(spot, cents=common, slide_mm=None, uncertain_mm=0.0, of_valve=True),
            )
    yield from shown.values()


def _before(notes: list[Any], numbers: Sequence[int]) -> int | None:
    """The note that most often came before these."""
    names = [notes[number - 1]["note"] for number in numbers if number > 0]
    here = notes[numbers[0]]["note"]
    counted = Counter(name for name in names if name != here)
    return parse_pitch(counted.most_common(1)[0][0]).midi if counted else None


def _marked(setup: Setup, mark: str, name: str) -> Place | None:
    if not mark:
        return None
    try:
        return find_locked(setup, Lock(None, 1, mark), parse_pitch(name))
    except HandslideError:
        # Another horn or other limits now: the note's usual place.
        return None


def _of_take(notes: list[Any], setup: Setup) -> Iterator[_Scored]:
    """Of a take alone: the notes that were off, wherever they were played."""
    groups: dict[int, list[float]] = {}
    heard = [note for note in notes if note["cents"] is not None]
    common = take_offset([(float(note["cents"]), None) for note in heard])
    for note in heard:
        groups.setdefault(int(note["midi"]), []).append(float(note["cents"]) - common)
    for midi, cents in groups.items():
        score = _score(cents, 0.0, len(cents))
        if score is not None:
            yield score, _spot(midi, None, None, cents, [])


def _of_weeks(groups: list[Any], setup: Setup) -> Iterator[_Scored]:
    """Of weeks of takes: the notes, each in its place."""
    of_valves = {
        tuple(group["valves"]): float(group["cents"]["value"])
        for group in groups
        if group["kind"] == "valve" and group["valves"] and _surely_off(group["cents"])
    }
    # Where the closed slide is in tune it is the hand, and not the valve.
    for valves, common in tuple(of_valves.items()):
        closed = [
            float(group["cents"]["value"])
            for group in groups
            if group["kind"] == "note" and group["cents"]
            and tuple(group["valves"] or ()) == valves
            and (group.get("position") or _AWAY) < _CLOSED_POSITION
        ]  # fmt: skip
        if closed and median(closed) / common <= 0.5:
            del of_valves[valves]
    yield from _valves_apart(_notes_of_weeks(groups, setup), of_valves)


def _notes_of_weeks(groups: list[Any], setup: Setup) -> Iterator[_Scored]:
    for group in groups:
        if group["kind"] != "note" or group["midi"] is None:
            continue
        cents = [float(group["cents"]["value"])] if group["cents"] else []
        slide = [float(group["slide_mm"])] if group["slide_mm"] is not None else []
        wrong = 1.0 - float(group["right"]["value"]) if group["right"] else 0.0
        # By its interval: an unlucky take or two is no weakness.
        if not _surely_off(group["cents"]):
            cents, slide = [], []
        if not group["right"] or (group["right"].get("high") or 1.0) > 1.0 - _SURE_FAULTS:
            wrong = 0.0
        score = _score(cents, wrong, int(group["notes"]))
        if score is not None:
            yield score, _spot_of_weeks(group, cents, slide)


def _spot_of_weeks(
    group: dict[str, Any], cents: Sequence[float], slide: Sequence[float]
) -> TroubleSpot:
    within = 0.0
    if cents and slide and cents[0]:
        half = 0.5 * (float(group["cents"]["high"]) - float(group["cents"]["low"]))
        within = half * abs(slide[0] / cents[0])
    valves, partial, position = group["valves"], group["partial"], group.get("position")
    return replace(
        _spot(int(group["midi"]), None, None, cents, slide, within),
        valves=None if valves is None else tuple(valves),
        partial=None if partial is None else int(partial),
        position=None if position is None else float(position),
    )


def _surely_off(cents: dict[str, Any] | None) -> bool:
    """Whether the whole interval of an estimate lies on one side of 0."""
    if not cents or cents.get("low") is None or cents.get("high") is None:
        return False
    return float(cents["low"]) > 0.0 or float(cents["high"]) < 0.0


def _uncertain_cents(cents: Sequence[float]) -> float:
    """Two standard errors of a median: 2 · 1.2533·s/√n, s from the median absolute deviation."""
    if not cents:
        return 0.0
    spread = _USUAL_SPREAD_CENTS
    if len(cents) > 2:
        middle = median(cents)
        spread = max(1.4826 * median(abs(c - middle) for c in cents), _LEAST_SPREAD_CENTS)
    return 2.0 * 1.2533 * spread / math.sqrt(len(cents))


def _score(cents: Sequence[float], wrong: float, count: int) -> float | None:
    """How much a note asks for practice; None if it was well enough."""
    off = abs(median(cents)) if cents else 0.0
    if off < _LEAST_CENTS and wrong < 0.2:
        return None
    return (off + FAULT_CENTS * wrong) * math.sqrt(count)


def _spot(
    midi: int,
    place: Place | None,
    before: int | None,
    cents: Sequence[float],
    slide_mm: Sequence[float],
    uncertain_mm: float = 0.0,
) -> TroubleSpot:
    if not 0 <= midi <= 127 or not all(map(math.isfinite, (*cents, *slide_mm))):
        raise ValueError(midi)
    return TroubleSpot(
        midi,
        None if place is None else place.valves,
        None if place is None else place.partial,
        before,
        median(cents) if cents else None,
        median(slide_mm) if slide_mm else None,
        uncertain_mm,
    )
