"""What tells two students of one name apart, and two scores of one title.

What is first of these that all of them have, and each otherwise, does: of students the main horn,
the day they came; of scores the composer, the file's name, the day. Else they are counted.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from handslide.edges.store.scores import select_titles
from handslide.edges.store.stands import select_parts
from handslide.edges.store.students import select_names
from handslide.ground.facts import Fact, fact
from handslide.studio.days import local_day
from handslide.studio.studio import Studio
from handslide.words.speech import Speech

_Row = tuple[int, str, Sequence[Fact | None]]


@dataclass(frozen=True, slots=True)
class Named:
    """A name, with what tells it from its namesakes; None where there are none."""

    name: str
    apart: Fact | None = None

    def words(self, say: Speech) -> str:
        """The name as it is said among others."""
        return f"{self.name} ({say.fact(self.apart)})" if self.apart else self.name

    @property
    def plain(self) -> str:
        """The same for the name of a file, in no language."""
        if self.apart is None:
            return self.name
        return " ".join([self.name, *(str(value) for value in self.apart.values.values())])


class Names:
    """How the students and the scores of a studio are called, told apart, as they are now."""

    def __init__(self, studio: Studio) -> None:
        self._studio = studio

    def student(self, student_id: int) -> Named:
        """A student, in lessons or archived."""
        return self._students[student_id]

    def score(self, score_id: int) -> Named:
        """A score, among the parts or put away."""
        return self._scores[score_id]

    def on_stand(self, stand_id: int) -> Named:
        """What is on a stand: the score, and where the student has others of its parts, which."""
        return self._stands[stand_id]

    @cached_property
    def _stands(self) -> Mapping[int, Named]:
        with self._studio.store.read() as db:
            rows = select_parts(db)
        groups: defaultdict[tuple[int, int], dict[str, str]] = defaultdict(dict)
        for _, student_id, score_id, part, name in rows:
            groups[student_id, score_id][part or ""] = name
        found = {}
        for key, student_id, score_id, part, name in rows:
            score, parts = self.score(score_id), groups[student_id, score_id]
            if len(parts) > 1 and part is not None:
                alike = sum(name == other for other in parts.values()) > 1
                called = " ".join(filter(None, (name, part if alike or not name else "")))
                score = replace(score, name=f"{score.name} · {called}")
            found[key] = score
        return found

    @cached_property
    def _students(self) -> Mapping[int, Named]:
        with self._studio.store.read() as db:
            return _named(
                (key, name, (_text(horn), _since(created_at)))
                for key, name, horn, created_at in select_names(db)
            )

    @cached_property
    def _scores(self) -> Mapping[int, Named]:
        with self._studio.store.read() as db:
            return _named(
                (key, title, (_text(composer), _text(file), _since(created_at)))
                for key, title, composer, file, created_at in select_titles(db)
            )


def _text(text: str | None) -> Fact | None:
    return fact("people.as_told", text=text) if text else None


def _since(moment: str) -> Fact:
    return fact("people.since", day=local_day(moment).isoformat())


def _named(rows: Iterable[_Row]) -> dict[int, Named]:
    groups: defaultdict[str, list[_Row]] = defaultdict(list)
    for row in rows:
        groups[row[1].casefold()].append(row)
    found = {}
    for group in groups.values():
        for (key, name, _), apart in zip(group, _apart(group), strict=True):
            found[key] = Named(name, apart)
    return found


def _apart(group: Sequence[_Row]) -> Sequence[Fact | None]:
    if len(group) == 1:
        return [None]
    for facts in zip(*(row[2] for row in group), strict=True):
        if None not in facts and len(set(facts)) == len(group):
            return facts
    return [fact("people.counted", number=number) for number in range(1, len(group) + 1)]
