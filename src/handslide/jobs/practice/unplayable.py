"""What of a part can't be played on a lesson sheet: which notes, what forbids them, what helps."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from handslide.drills.levels import LEVELS, Level
from handslide.drills.ranges import limited
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch
from handslide.instrument.elsewhere import playable_on
from handslide.instrument.places import Limits, PlaceBook
from handslide.jobs.mark.mark import MarkedPart
from handslide.jobs.mark.remedies import remedies_json
from handslide.jobs.setup import Setup
from handslide.words.speech import Speech

_MOST_PITCHES = 8


@dataclass(frozen=True, eq=False)
class Unplayable:
    """The notes of a part that can't be played at a level. ``setup`` is without the level."""

    setup: Setup
    level: Level
    marked: MarkedPart

    @cached_property
    def pitches(self) -> dict[Pitch, list[str]]:
        """Each such pitch with the measures that it stands in, note by note, lowest first."""
        part, found = self.marked.part, dict[Pitch, list[str]]()
        for note in part.notes:
            if note.index not in self.marked.routed.places:
                measure = self.marked.measures.name(note.measure_index)
                found.setdefault(note.sounding, []).append(measure)
        return dict(sorted(found.items(), key=lambda row: row[0].midi))

    @property
    def count(self) -> int:
        """How many notes."""
        return sum(map(len, self.pitches.values()))

    @cached_property
    def by(self) -> dict[str, int]:
        """How many of them the ``horn`` hasn't, the ``limits`` or the ``level`` forbid."""
        free = PlaceBook(self.setup.horn, Limits())
        counts = {"horn": 0, "limits": 0, "level": 0}
        for pitch, measures in self.pitches.items():
            if not free.places(pitch.midi):
                counts["horn"] += len(measures)
            elif not self.setup.book.places(pitch.midi):
                counts["limits"] += len(measures)
            else:
                counts["level"] += len(measures)
        return counts

    @cached_property
    def other_level(self) -> str | None:
        """The first level at which all could be played; None where no level helps."""
        midis = [note.sounding.midi for note in self.marked.part.notes]
        return next(
            (
                name
                for name, level in LEVELS.items()
                if level != self.level and playable_on(midis, limited(self.setup.book, level))
            ),
            None,
        )

    def facts(self) -> Iterator[Fact]:
        """What is said of them: which, why, and what would help."""
        if not self.pitches:
            return
        rows = list(self.pitches.items())
        yield fact(
            "practice.unplayable",
            count=self.count,
            total=len(self.marked.part.notes),
            pitches=[
                fact("transpose.pitch", pitch=pitch, measures=measures)
                for pitch, measures in rows[:_MOST_PITCHES]
            ],
            more=max(len(rows) - _MOST_PITCHES, 0),
            by=self.by,
        )
        helps = []
        if self.other_level is not None:
            helps.append(fact("practice.other_level", level=self.other_level))
        if self.marked.remedies is not None:
            # A reach or valves are what a level holds back: the level says it better.
            held = ("reach", "valves") if self.other_level is not None else ()
            helps += [told for row, told in self.marked.remedies.facts() if row not in held]
        if helps:
            yield fact("practice.helps", ways=helps)

    def json(self, say: Speech) -> dict[str, Any] | None:
        """The JSON object of them; None where all can be played."""
        if not self.pitches:
            return None
        helps = self.marked.remedies
        return {
            "count": self.count,
            "total": len(self.marked.part.notes),
            "notes": [
                {"note": pitch.name, "midi": pitch.midi, "measures": measures}
                for pitch, measures in self.pitches.items()
            ],
            "forbidden_by": self.by,
            "helps": {} if helps is None else remedies_json(helps) | {"level": self.other_level},
            "text": " ".join(say.sentence(say.fact(told)) for told in self.facts()),
        }
