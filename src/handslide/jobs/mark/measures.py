"""What measures are called where they are listed: unique across the movements of a part."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from handslide.edges.musicxml.scorepart import ScorePart
from handslide.ground.facts import Fact, fact
from handslide.ground.numerals import roman
from handslide.words.report import listed_more
from handslide.words.speech import Speech


@dataclass(frozen=True, slots=True)
class MeasureNames:
    """``labels`` by index of the measure; ``movements`` from 1 on, empty where nobody asks."""

    labels: Mapping[int, str]
    movements: Mapping[int, int]

    def name(self, index: int) -> str:
        """One measure: ``12``, ``II: 12``; ``12 (#45)`` where its movement has two of them."""
        if index not in self.movements:
            return self.labels[index]
        return f"{roman(self.movements[index])}: {self.labels[index]}"

    def told(self, first: int, last: int) -> Fact:
        """The measures from one to another, both included."""
        known = [index for index in (first, last) if index in self.labels]
        if not known:
            return fact("practice.measure", number="")
        one, other = (self.name(index) for index in (known[0], known[-1]))
        if one == other:
            return fact("practice.measure", number=one)
        if self.movements.get(known[0]) == self.movements.get(known[-1]):
            other = self.labels[known[-1]]
        return fact("practice.measures", first=one, last=other)

    def listed(self, say: Speech, indices: Sequence[int], most: int = 14) -> str:
        """Measures, each once, ``most`` of them: ``3, 5; II: 1, 7``."""
        names = dict.fromkeys((self.movements.get(index, 0), self.labels[index])
                              for index in indices)  # fmt: skip
        groups = []
        for movement, row in groupby(list(names)[:most], lambda name: name[0]):
            listed = ", ".join(label for _, label in row)
            groups.append(f"{roman(movement)}: {listed}" if movement else listed)
        return listed_more(say, "; ".join(groups), len(names) - most)


def measure_names(part: ScorePart) -> MeasureNames:
    """The names of a part's measures that have a note or are played."""
    starts = {measure.index for measure in part.measures if measure.anew}
    labels = {note.measure_index: note.measure for note in part.notes}
    labels |= {measure.index: measure.number for measure in part.measures}
    labels |= {
        row.measure_index: row.measure for row in part.warnings if row.measure_index is not None
    }
    movements, movement = {}, 1
    for index in sorted(labels):
        movement += index in starts
        movements[index] = movement
    # One measure that is printed in two halves is one measure.
    seen = Counter(
        (movements[index], label)
        for index, label in labels.items()
        if labels.get(index - 1) != label
    )
    names = {
        index: f"{label} (#{index + 1})" if seen[movements[index], label] > 1 else label
        for index, label in labels.items()
    }
    several = len(set(names.values())) < len({(movements[k], name) for k, name in names.items()})
    return MeasureNames(names, movements if several else {})
