"""The two ways of a question as a teacher looks at them: engraved, with their marks, and told.

The music is cut out of the part: the measures of the notes that differ, with a neighbour on either
side. Marks stand over those notes only.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from handslide.edges.engraving.screen import for_screen
from handslide.edges.engraving.ways import WayLine, engrave_ways
from handslide.edges.musicxml.cut import Cut, cut_measures
from handslide.edges.musicxml.fingerings import read_fingerings
from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart
from handslide.edges.typesetting.drawing import render
from handslide.edges.typesetting.screen import screen_svg
from handslide.ground.errors import BadData
from handslide.ground.pitch import Pitch, parse_pitch
from handslide.instrument.learning.example import Question, Wish
from handslide.instrument.marks import mark, valve_sign
from handslide.instrument.places import Place
from handslide.jobs.mark.measures import measure_names
from handslide.jobs.mark.slideview import slide_view
from handslide.jobs.setup import Setup
from handslide.sheets.shapes import Sheet
from handslide.sheets.ways import Ruler, WayNote, WayRow, way_shapes, ways_page
from handslide.words.speech import Speech
from handslide.words.ways import way_words

PNG_WIDTH_MM, PNG_PPI = 150.0, 210.0
SCREEN_PX_PER_MM = 5.5
_MOST_MEASURES = 6
_FEW_NOTES = 5
_MOST_TOLD = 6


@dataclass(frozen=True, eq=False)
class Ways:
    """A question on its horn; ``setup`` is that of the question's stand."""

    setup: Setup
    question: Question

    @cached_property
    def places(self) -> tuple[tuple[Place, ...], tuple[Place, ...]]:
        """The place of each note, both ways. Raises BadData where the horn hasn't one."""
        return self._places(self.question.first), self._places(self.question.second)

    def _places(self, way: Iterable[Wish]) -> tuple[Place, ...]:
        return tuple(self._place(note.midi, wish) for note, wish in zip(self.question.notes, way))

    def _place(self, midi: int, wish: Wish) -> Place:
        for place in self.setup.book.places(midi):
            if (place.valves, place.partial) == wish:
                return place
        raise BadData("places.none")

    @cached_property
    def differs(self) -> frozenset[int]:
        """The notes of the question that have two places."""
        rows = enumerate(zip(self.question.first, self.question.second))
        return frozenset(number for number, (one, other) in rows if one != other)

    @cached_property
    def near(self) -> tuple[int, ...]:
        """The notes of the question with a mark: those that differ, and their neighbours."""
        near = {number + step for number in self.differs for step in (-1, 0, 1)}
        return tuple(sorted(near & set(range(len(self.question.notes)))))

    @cached_property
    def pitches(self) -> tuple[Pitch, ...]:
        """The notes of the question."""
        return tuple(parse_pitch(note.spelled) for note in self.question.notes)

    def words(self, say: Speech) -> tuple[str, str]:
        """Each way in words: ``A3 in 2nd, D4 in 4th, C4 in 3rd``; all that differs is there."""
        told = self.near if len(self.near) <= _MOST_TOLD else sorted(self.differs)
        first, second = (
            way_words(say, [(self.pitches[n], self.setup.told(places[n])) for n in told])
            for places in self.places
        )
        return first, second


@dataclass(frozen=True, eq=False)
class WaysInPart:
    """A question in its part: its notes are notes of ``part`` by their number."""

    ways: Ways
    score: Score
    part: ScorePart

    @cached_property
    def measures(self) -> tuple[int, int]:
        """The first and the last measure to show, from 0."""
        at, near = self._measure, self.ways.near
        first, last = at[near[0]], at[near[-1]]
        if not 0 <= last - first < _MOST_MEASURES:
            # A repeat or a jump lies between: what differs is shown by itself.
            first = at[min(self.ways.differs)]
            last = max(n for n in map(at.__getitem__, self.ways.differs)
                       if 0 <= n - first < _MOST_MEASURES)  # fmt: skip
        for measure in (first - 1, last + 1):
            if len(self._within(first, last)) < _FEW_NOTES and measure in at:
                first, last = min(first, measure), max(last, measure)
        return first, last

    @cached_property
    def _measure(self) -> list[int]:
        return [self.part.notes[n.number].measure_index for n in self.ways.question.notes]

    def _within(self, first: int, last: int) -> list[int]:
        return [number for number, at in enumerate(self._measure) if first <= at <= last]

    @cached_property
    def shown(self) -> tuple[int, ...]:
        """The notes of the question in the measures shown."""
        return tuple(self._within(*self.measures))

    def heading(self, say: Speech) -> str:
        """The part and its measures by name."""
        where = say.fact(measure_names(self.part).told(*self.measures))
        return " · ".join(filter(None, (self.ways.question.title, where)))

    @property
    def ruler(self) -> Ruler:
        """What the paths are measured by."""
        view = slide_view(self.ways.setup)
        return Ruler(tuple((row["n"], row["mm"]) for row in view["positions"]), view["travel_mm"])

    @cached_property
    def cut(self) -> Cut:
        """The measures shown as a score of their own."""
        title = self.ways.question.title
        return cut_measures(self.score, self.part.part_id, *self.measures, title)

    @cached_property
    def ordinals(self) -> Mapping[int, int]:
        """Of each of the notes shown, its number among all notes of the cut."""
        notes, first = self.ways.question.notes, self.cut.first_note
        return {n: self.part.notes[notes[n].number].ordinal - first for n in self.shown}

    def engraved(self, width_mm: float) -> tuple[tuple[WayRow, ...], tuple[WayRow, ...]]:
        """Both ways in lines of music so wide. Raises ScoreError where it can't be engraved."""
        ways, ordinals = self.ways, self.ordinals
        near = [number for number in ways.near if number in ordinals]
        first, second = (
            {ordinals[n]: self._mark(places[n]) for n in near} for places in ways.places
        )
        lines = engrave_ways(
            self.cut,
            self.part.part_id,
            first,
            second,
            width_mm,
            alike=[ordinals[n] for n in near if n not in ways.differs],
            staff=self.part.staff,
            hidden=self._fingerings(),
        )
        one, other = (tuple(self._row(line, way) for line in lines) for way in (0, 1))
        return one, other

    def _fingerings(self) -> set[tuple[int, str]]:
        cut = self.cut
        rows = read_fingerings(self.score, self.part)
        here = [(row.ordinal - cut.first_note, row.text) for row in rows]
        return {(ordinal, text) for ordinal, text in here if 0 <= ordinal < cut.notes}

    def _mark(self, place: Place) -> str:
        return mark(self.ways.setup.horn, place, self.ways.setup.style)

    def _row(self, line: WayLine, way: int) -> WayRow:
        horn, style = self.ways.setup.horn, self.ways.setup.style
        places = self.ways.places[way]
        notes = tuple(
            WayNote(
                line.heads_mm[ordinal],
                1000.0 * places[number].extension_m,
                valve_sign(horn, places[number].valves, style),
                number in self.ways.differs,
            )
            for number, ordinal in self.ordinals.items()
            if ordinal in line.heads_mm
        )
        return WayRow(line.svgs[way], line.width_mm, line.height_mm, notes)


def way_svg(shown: WaysInPart, rows: Sequence[WayRow], label: str) -> str:
    """One way as an element of a page; ``label`` for those who hear it.

    Its notes and marks have ``data-note``, as the ``el`` of `handslide.jobs.profile.wayjson`.
    """
    music = [replace(row, svg=for_screen(row.svg)) for row in rows]
    shapes, height_mm = way_shapes(music, shown.ruler)
    width_mm = max(row.width_mm for row in rows)
    return screen_svg(shapes, width_mm, height_mm, label=label, px_per_mm=SCREEN_PX_PER_MM)


def question_png(
    say: Speech, setup: Setup, question: Question, score: Score, part: ScorePart
) -> bytes:
    """Both ways of a question, 1 over 2, as one PNG.

    ``setup`` is that of the question's stand; its style writes the marks. Raises ScoreError,
    BadData, OutputError.
    """
    ways = WaysInPart(Ways(setup, question), score, part)
    first, second = ways.engraved(PNG_WIDTH_MM)
    heading = ways.heading(say)
    page = ways_page((("1", first), ("2", second)), ways.ruler, heading)
    return render(Sheet(heading, (page,), say.language.code), "png", ppi=PNG_PPI)[0]


def ways_words(say: Speech, setup: Setup, question: Question) -> tuple[str, str]:
    """Each way of a question in words: ``A3 in 2nd, D4 in 4th, C4 in 3rd``.

    ``setup`` is that of the question's stand. Raises BadData.
    """
    return Ways(setup, question).words(say)
