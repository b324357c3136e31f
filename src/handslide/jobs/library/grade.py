"""What a marked part asks of a player: range, reach, speed, valves, and what can't be played."""

from collections import Counter
from dataclasses import asdict, dataclass
from typing import Any

from handslide.edges.files.factjson import from_json, to_json
from handslide.ground.facts import Fact
from handslide.jobs.mark.mark import MarkedPart

# A note that can't be played is told with so many of its measures.
_MEASURES = 12


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something that can't be played, in all the ``measures`` where it comes (the first of them;
    ``count`` counts all)."""

    kind: str
    told: Fact
    count: int
    measures: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Grade:
    """A part as one player meets it.

    ``low`` and ``high`` are the sounding MIDI notes that bound it, ``position`` the furthest one
    on its route (None where nothing can be played), ``speed_m_s`` the peak of the quickest move of
    the slide, ``valves`` how many notes use each set of valves, ``effort`` points a note as the
    profile counts them, ``seconds`` how long it lasts as played. ``warnings`` were found in
    reading it, by kind.
    """

    title: str
    composer: str
    notes: int
    unplayable: int
    low: int
    high: int
    position: float | None
    speed_m_s: float
    valves: tuple[tuple[str, int], ...]
    effort: float
    seconds: float
    troubles: tuple[Trouble, ...] = ()
    warnings: tuple[tuple[str, int], ...] = ()

    @property
    def figures(self) -> dict[str, Any]:
        """What can be sought in a manifest."""
        names = "notes", "unplayable", "low", "high", "position", "speed_m_s", "effort"
        return {name: getattr(self, name) for name in names} | {
            "valves": sum(count for _, count in self.valves)
        }


def grade_of(marked: MarkedPart) -> Grade:
    """Look at a marked part."""
    part, routed = marked.part, marked.routed
    places = routed.places
    midi = [note.sounding.midi for note in part.notes]
    moves = routed.moves()
    solution = routed.solution
    ends = [onset + length for onset, length in zip(part.onset_s, part.length_s)]
    return Grade(
        title=marked.title,
        composer=marked.score.composer or "",
        notes=len(part.notes),
        unplayable=len(part.notes) - len(places),
        low=min(midi),
        high=max(midi),
        position=max((place.position for place in places.values()), default=None),
        speed_m_s=max((move.speed_m_s for move in moves), default=0.0),
        valves=tuple(
            sorted(Counter("+".join(p.valves) for p in places.values() if p.valves).items())
        ),
        effort=0.0 if solution is None else float(solution.total) / len(solution.chosen),
        seconds=max(ends, default=0.0),
        troubles=_troubles(marked),
        warnings=tuple(sorted(Counter(row.kind for row in part.warnings).items())),
    )


def _troubles(marked: MarkedPart) -> tuple[Trouble, ...]:
    groups: dict[tuple[str, Fact], list[str]] = {}
    for row in marked.found:
        if row.kind in ("unplayable", "glissando"):
            measures = groups.setdefault((row.kind, row.what or row.told), [])
            measures.append(row.measure_name(marked.measures))
    return tuple(
        Trouble(kind, told, len(measures), tuple(dict.fromkeys(measures))[:_MEASURES])
        for (kind, told), measures in groups.items()
    )


def grade_json(grade: Grade) -> dict[str, Any]:
    """A grade as it is kept in the manifest."""
    return asdict(grade) | {
        "troubles": [
            {"kind": one.kind, "told": to_json(one.told), "count": one.count,
             "measures": list(one.measures)}
            for one in grade.troubles
        ],
    }  # fmt: skip


def grade_of_json(row: dict[str, Any]) -> Grade:
    """What `grade_json` kept."""
    troubles = tuple(
        Trouble(one["kind"], from_json(one["told"]), one["count"], tuple(one["measures"]))
        for one in row["troubles"]
    )
    pairs = {
        name: tuple((key, count) for key, count in row[name]) for name in ("valves", "warnings")
    }
    return Grade(**row | pairs | {"troubles": troubles})
