"""A part that came as PDF: read from its pages, printed by marks laid over the same pages."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from handslide.edges.musicxml.read import Score, read_score
from handslide.edges.pdfparts.leashed import lay_over, plan_marks, read_pdf
from handslide.edges.pdfparts.overlay import Legend, PagePlan, typeset_overlay
from handslide.edges.pdfparts.placing import DOUBT, NoteMark
from handslide.edges.pdfparts.reading import Corrections, PdfReading, ReadNote, ReadStaff
from handslide.edges.typesetting.part import PartSheet, Section, typeset_part
from handslide.ground.errors import ScoreError
from handslide.ground.facts import Fact, fact
from handslide.ground.progress import ProgressCallback, silent
from handslide.words import report as words
from handslide.words.pdfmarks import READ_IN_DOUBT
from handslide.words.speech import Speech

_REFUSALS = ("pdfparts.no_clefs", "pdfparts.bare_stems", "pdfparts.no_heads")
_MOST_ASKED = 10


@dataclass(frozen=True, eq=False)
class PdfPart:
    """A PDF as it came, and what was read from it.

    ``musicxml`` is the same as a score; ``numbers`` say which note of the reading each of its
    ``<note>`` elements is, by ordinal (None: a rest that nobody wrote, or the like).
    """

    name: str
    data: bytes
    reading: PdfReading
    musicxml: bytes
    numbers: tuple[int | None, ...]

    @property
    def refused(self) -> Fact | None:
        """Why the notes can't be trusted before some of the unknown signs are named; None: they
        can."""
        found = (told for _, told in self.reading.warnings if told.kind in _REFUSALS)
        return next(found, None)

    def score(self) -> Score:
        """What was read as an open score, which can be marked.

        Raises ScoreError, with the signs to be named, where it can't be read without them.
        """
        if self.refused is not None:
            signs = tuple(
                (
                    sign.name,
                    sign.count,
                    sign.width_spaces,
                    sign.height_spaces,
                    sign.guess,
                    sign.spot.page,
                    sign.spot.system,
                )
                for sign in self.reading.unknown[:_MOST_ASKED]
            )
            raise ScoreError("pdfmarks.signs_first", file=self.name, what=self.refused, signs=signs)
        score = read_score(self.musicxml, self.name)
        score.converted = True
        return score

    @cached_property
    def doubtful(self) -> frozenset[int]:
        """The notes of the reading that nobody should trust before a look at the page."""
        return frozenset(
            number
            for number, note in enumerate(self.reading.notes)
            if note.doubts and not note.corrected
        )

    def marks(self, texts: Mapping[int, str]) -> dict[int, list[NoteMark]]:
        """What is to stand on each page: ``texts`` by ordinal, and a sign over each doubtful note
        without a text."""
        wanted = {
            number: text
            for ordinal, text in texts.items()
            if (number := self.numbers[ordinal]) is not None
        }
        notes, pages = self.reading.notes, dict[int, list[NoteMark]]()
        staves = _Staves(self.reading.staves)
        for number, note in enumerate(notes):
            doubtful = number in self.doubtful and note.step is not None and not note.tie_from
            if number not in wanted and not doubtful:
                continue
            mark = NoteMark(
                number,
                staves.under(note),
                note.x,
                note.y,
                wanted.get(number, ""),
                note.grace,
                doubtful,
            )
            pages.setdefault(note.spot.page, []).append(mark)
        return pages


class _Staves:
    """The staves of a part by page and system."""

    def __init__(self, staves: tuple[ReadStaff, ...]) -> None:
        self._staves = staves
        self._by_system: dict[tuple[int, int], list[int]] = {}
        for number, staff in enumerate(staves):
            self._by_system.setdefault((staff.page, staff.system), []).append(number)

    def under(self, note: ReadNote) -> int:
        """The staff that a note stands on, as a place among all."""

        def off(number: int) -> float:
            staff = self._staves[number]
            return abs(note.y - staff.bottom - 2 * staff.space)

        return min(self._by_system[note.spot.page, note.spot.system], key=off)


def open_pdf(data: bytes, name: str, corrections: Corrections) -> PdfPart:
    """Read a part from its PDF. Raises ScoreError as `read_pdf` does."""
    return PdfPart(name, data, *read_pdf(data, name, corrections))


def print_over(
    source: PdfPart,
    texts: Mapping[int, str],
    sheet: PartSheet,
    say: Speech,
    progress: ProgressCallback | None = None,
) -> bytes:
    """The pages as they came with ``texts`` over their notes, by ordinal; and behind them the
    report of ``sheet``, which has the texts of the print, if there is one.

    ``say`` speaks on paper. Raises ScoreError, OutputError.
    """
    tell = progress or silent
    tell("engraving", 0, 2)
    marks = source.marks(texts)
    if source.doubtful:
        doubt = (f"3{DOUBT}", say(READ_IN_DOUBT))
        sheet = replace(sheet, legend=(*sheet.legend, doubt))
    legend = Legend(sheet.legend, tuple(filter(None, (sheet.student_line, sheet.horn_line))))
    plans = plan_marks(source.data, source.name, marks, source.reading.staves, legend)
    tell("typesetting", 1, 2)
    overlay = typeset_overlay(plans, legend, sheet.title, sheet.language)
    behind = None
    if sheet.report:
        notes = tuple(
            Section("", (), say.fact(told)) for told in _print_notes(source, marks, plans)
        )
        notes = (replace(notes[0], heading=say(words.PRINT)), *notes[1:]) if notes else ()
        report = replace(sheet, report=(*sheet.report, *notes), legend_behind=True)
        behind = typeset_part(report, (), tagged=False)
    data = lay_over(source.data, source.name, plans, overlay, behind)
    tell("typesetting", 2, 2)
    return data


def _print_notes(
    source: PdfPart, marks: Mapping[int, list[NoteMark]], plans: tuple[PagePlan, ...]
) -> list[Fact]:
    """What the print lacks: marks without room, tags, the claim to be PDF/A."""
    told = []
    count = sum(map(len, marks.values()))
    placed = {mark.note for plan in plans for mark in plan.marks}
    missing = [mark.note for row in marks.values() for mark in row if mark.note not in placed]
    if missing:
        spots = [source.reading.notes[number].spot for number in missing]
        where = tuple(dict.fromkeys((spot.page, spot.system, spot.bar) for spot in spots))
        told.append(fact("pdfmarks.no_room", count=len(missing), marks=count, where=where))
    if source.reading.tagged:
        told.append(fact("pdfmarks.tagged"))
    if source.reading.pdfa:
        told.append(fact("pdfmarks.pdfa", level=source.reading.pdfa))
    return told
