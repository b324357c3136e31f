"""Choosing literature from a marked library: what a student can play, in range and at what pace."""

from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from handslide.edges.manifest.manifest import FILE_NAME, Manifest, MarkedRow, Wish
from handslide.ground.errors import BadUsage, PitchError
from handslide.ground.pitch import parse_pitch
from handslide.instrument.pace import EASY_M_S, TOO_QUICK_M_S
from handslide.jobs.library.grade import Grade, grade_of_json

_SPEEDS = {"easy": EASY_M_S, "quick": TOO_QUICK_M_S}


@dataclass(frozen=True, slots=True)
class Found:
    """A marked part and its grade."""

    row: MarkedRow
    grade: Grade


def search_library(folder: Path, wish: Wish, who: str | None = None) -> list[Found]:
    """What of a library fits, the hardest first. ``who`` is a student, or the name of a horn.

    Raises
    ------
    StoreError
        When no library was marked into ``folder``.
    BadUsage
        When nobody is called ``who``.
    """
    with closing(Manifest.read(folder / FILE_NAME)) as manifest:
        if who is not None:
            wish = _for(wish, _label(manifest, who))
        return [Found(row, grade_of_json(row.result["grade"])) for row in _rows(manifest, wish)]


def _rows(manifest: Manifest, wish: Wish) -> Iterator[MarkedRow]:
    return (row for row in manifest.marked(wish) if row.result is not None)


def _for(wish: Wish, player: str) -> Wish:
    return Wish(
        player, wish.speed_m_s, wish.position, wish.low, wish.high, wish.valves, wish.unplayable
    )


def _label(manifest: Manifest, who: str) -> str:
    players = manifest.players()
    sought = who.casefold().strip()
    names = {label: [label, about["student"], about["horn"]] for label, about in players.items()}
    for fits in (str.__eq__, str.startswith):
        found = [
            label
            for label, called in names.items()
            if any(fits(name.casefold(), sought) for name in called if name)
        ]
        if len(found) == 1:
            return found[0]
    known = ", ".join(players[label]["student"] or label for label in players)
    raise BadUsage("library.no_player", name=who, known=known)


def parse_speed(text: str) -> float:
    """The peak speed in m/s that ``easy``, ``quick`` or a number stands for. Raises BadUsage."""
    try:
        speed = _SPEEDS[text] if text in _SPEEDS else float(text.replace(",", "."))
    except ValueError:
        speed = -1.0
    if not 0.0 <= speed < 1000.0:
        raise BadUsage("library.speed", text=text)
    return speed


def parse_range(text: str) -> tuple[int, int]:
    """The MIDI notes of ``E2-F4``, the lower first. Raises BadUsage."""
    for place in (at for at, sign in enumerate(text) if sign in "-–" and at > 0):
        try:
            ends = (
                parse_pitch(text[:place].strip()).midi,
                parse_pitch(text[place + 1 :].strip()).midi,
            )
        except PitchError:
            continue
        return min(ends), max(ends)
    raise BadUsage("library.range", text=text)
