"""Mark a part: read it, choose a place for every note, write the marks, print the sheet."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from handslide.edges.musicxml.fingerings import read_fingerings, take_out
from handslide.edges.musicxml.marks import remove_marks, write_marks
from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart
from handslide.edges.musicxml.trills import read_trills
from handslide.edges.typesetting.part import PartSheet, Section, render_png, typeset_part
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.papers import DEFAULT_PAPER
from handslide.ground.progress import ProgressCallback, silent
from handslide.ground.wholenumber import whole_number
from handslide.instrument.markreading import is_unplayable_sign
from handslide.instrument.marks import UNPLAYABLE
from handslide.instrument.markstyle import EXISTING, REPORTS, SHOWN_ON_SHEETS
from handslide.instrument.places import Place
from handslide.jobs.mark.existing import (
    Checked,
    Existing,
    Reading,
    check_existing,
    locked_places,
    read_existing,
    route_keeping,
)
from handslide.jobs.mark.locks import Lock, find_locked, parse_lock
from handslide.jobs.mark.measures import MeasureNames, measure_names
from handslide.jobs.mark.remedies import (
    Remedies,
    find_remedies,
    remedies_section,
)
from handslide.jobs.mark.report import (
    Found,
    report_sections,
)
from handslide.jobs.mark.routed import Routed, played_line, prepare
from handslide.jobs.mark.trills import TrillFound, find_trills, trills_section
from handslide.jobs.partwishes import PartWishes, read_wished
from handslide.jobs.setup import Setup
from handslide.words import report as words
from handslide.words.horns import horn_line, limits_line
from handslide.words.marks import legend
from handslide.words.speech import Speech

if TYPE_CHECKING:
    from handslide.jobs.mark.pdfpart import PdfPart

NOT_ENGRAVED = "not_engraved"  # the kind of a warning


@dataclass(frozen=True, slots=True)
class MarkOptions(PartWishes):
    """What to mark and how, besides which part of the score.

    ``show``: ``all`` notes, only the ``unusual`` places, or each note's first time and its changes
    (``new``), or no note (``none``). ``locks`` are ``MEASURE:INDEX=PLACE``. ``existing`` says what
    becomes of fingerings
    that are in the part: ``keep`` those that read as a place of their note, ``replace`` all,
    ``lock`` the route to them, or only ``check`` them. ``report`` stands on a ``page`` of the
    print, in a ``file`` of its own, or nowhere (``none``). ``title`` and ``composer`` are printed
    instead of the score's.
    """

    locks: tuple[str, ...] = ()
    show: str = "all"
    existing: str = EXISTING[0]
    paper: str = DEFAULT_PAPER
    report: str = REPORTS[0]
    student: str = ""
    title: str = ""
    composer: str = ""


@dataclass(frozen=True, eq=False)
class MarkedPart:
    """A part with its route: what is written over which note, and what a report says.

    ``preface`` makes what stands before the report. ``existing`` are the fingerings that were in
    the part, ``checked`` what was found of them where only that was asked. ``not_engraved`` says
    why it has no print. ``source`` is the PDF that the part was read from, on whose pages it is
    printed.
    """

    score: Score
    part: ScorePart
    routed: Routed
    options: MarkOptions
    preface: Callable[[Speech], Section] | None = None
    existing: Existing = field(default_factory=Existing)
    checked: Checked | None = None
    not_engraved: Fact | None = None
    source: "PdfPart | None" = None

    @cached_property
    def shown(self) -> dict[int, str]:
        """The marks to write, by written note, as ``show`` asks and as what is kept leaves room.

        A note that can't be played always has its sign.
        """
        kept = self.existing.kept(self.routed)
        return {
            number: text
            for number, text in self._asked.items()
            if number not in kept or kept[number].text == text
        }

    @cached_property
    def kept(self) -> dict[int, str]:
        """The fingerings that stay as they are in place of a mark, by written note."""
        kept = self.existing.kept(self.routed)
        return {
            number: reading.text for number, reading in kept.items() if number not in self.shown
        }

    @cached_property
    def printed(self) -> dict[int, str]:
        """What says a note's place on the page: our marks, and what was kept."""
        return dict(sorted((self.shown | self.kept).items()))

    @cached_property
    def _asked(self) -> dict[int, str]:
        marks = self.routed.marks
        if self.options.show == "unusual":
            marks = {n: text for n, text in marks.items() if self.routed.is_unusual(n)}
        elif self.options.show == "new":
            marks = {n: text for n, text in marks.items() if n in self.new_marks}
        elif self.options.show == "none":
            marks = {}
        unplayable = dict.fromkeys(
            (n for n in range(len(self.part.notes)) if n not in self.routed.places), UNPLAYABLE
        )
        return dict(sorted((marks | unplayable).items()))

    @cached_property
    def taken_out(self) -> frozenset[tuple[int, str]]:
        """The fingerings of others, as ordinals and texts, that give way to our marks."""
        numbers = {note.ordinal: note.index for note in self.part.notes}
        gone = set()
        for row in self.existing.fingerings:
            number = numbers.get(row.ordinal, -1)
            if (
                self.options.existing == "replace"
                or is_unplayable_sign(row.text)
                or row.text == self.shown.get(number)
                or row.text in self.existing.overruled_texts(number)
            ):
                gone.add((row.ordinal, row.text))
        return frozenset(gone)

    @cached_property
    def hidden(self) -> frozenset[tuple[int, str]]:
        """The fingerings in whose place the print has marks, as ordinals and texts."""
        kept = {
            (self.part.notes[number].ordinal, text)
            for number in self.kept
            for text in self.existing.by_number[number].texts
        }
        return self.taken_out | kept

    @cached_property
    def new_marks(self) -> frozenset[int]:
        """The notes whose mark is the first of its pitch, or another than the last time."""
        last: dict[int, str] = {}
        new = set()
        for number, text in sorted(self.routed.marks.items()):
            midi = self.routed.pitches[number].midi
            if last.get(midi) != text:
                last[midi] = text
                new.add(number)
        return frozenset(new)

    @cached_property
    def found(self) -> tuple[Found, ...]:
        """What can't be played and what looked wrong in the file, each once, by measure."""
        rows = []
        for obstacle in self.routed.cleared.obstacles:
            number = self.routed.written[obstacle.note]
            note = self.part.notes[number]
            name, index = note.sounding.name, note.measure_index
            rows.append(Found(note.measure, number, name, obstacle.kind, obstacle.why, None, index))
        if self.options.existing in ("keep", "lock"):
            rows += self.existing.found(self.part)
        for warning in self.part.warnings:
            about = warning.kind, warning.told, warning.what, warning.measure_index
            rows.append(Found(warning.measure, None, None, *about))
        if self.not_engraved is not None:
            told = fact("scores.no_print", what=self.not_engraved)
            rows.append(Found("", None, None, NOT_ENGRAVED, told))
        return tuple(dict.fromkeys(rows))

    @cached_property
    def measures(self) -> MeasureNames:
        """What its measures are called."""
        return measure_names(self.part)

    @cached_property
    def remedies(self) -> Remedies | None:
        """What would help where notes can't be played; None where all can."""
        if len(self.routed.places) == len(self.part.notes):
            return None
        return find_remedies(self.routed.setup, played_line(self.part)[0])

    @cached_property
    def trills(self) -> tuple[TrillFound, ...]:
        """How each trill goes."""
        return find_trills(self.routed, read_trills(self.score, self.part))

    def report(self, say: Speech) -> tuple[Section, ...]:
        """The report, section by section."""
        helps = None if self.remedies is None else remedies_section(say, self.remedies)
        trills = trills_section(say, self.part, self.trills)
        before = () if self.preface is None else (self.preface(say),)
        read: tuple[Section, ...] = ()
        if self.source is not None:
            from handslide.jobs.mark.pdfreport import read_sections

            read = read_sections(say, self.source)
        return (
            *before,
            *read,
            *report_sections(say, self.routed, self.part, self.found, helps, trills),
        )

    def musicxml(self) -> bytes:
        """The score with the marks in it, in the kind of file it came in."""
        remove_marks(self.score, self.part.part_id)
        take_out(self.score, self.part.part_id, self.taken_out)
        write_marks(self.score, self.part, self.shown)
        return self.score.to_bytes()

    def pdf(self, say: Speech, progress: ProgressCallback | None = None) -> bytes:
        """The printed part: marked music, legend and report."""
        if self.source is not None:
            from handslide.jobs.mark.pdfpart import print_over

            say = say.on_paper
            report = self.report(say) if self.options.report == "page" else ()
            ordinals = self.part.ordinals
            texts = {ordinals[number]: text for number, text in self.shown.items()}
            sheet = replace(self._sheet(say), report=report)
            return print_over(self.source, texts, sheet, say, progress)
        tell = progress or silent
        tell("engraving", 0, 1)
        sheet, pages = self._engraved(
            say.on_paper, lambda done, total: tell("engraving", done, total)
        )
        tell("typesetting", 1, 2)
        data = typeset_part(sheet, pages)
        tell("typesetting", 2, 2)
        return data

    def pictures(self, say: Speech, ppi: float = 110.0) -> tuple[bytes, ...]:
        """The printed part as a PNG picture per page."""
        return render_png(*self._engraved(say.on_paper), ppi=ppi)

    def report_pdf(self, say: Speech) -> bytes:
        """The report as a PDF of its own."""
        say = say.on_paper
        sheet = replace(self._sheet(say), legend_behind=self.source is not None)
        return typeset_part(replace(sheet, report=self.report(say)), ())

    def _engraved(
        self, say: Speech, progress: Callable[[int, int], None] | None = None
    ) -> tuple[PartSheet, tuple[str, ...]]:
        """The sheet and its engraved pages."""
        from handslide.edges.engraving.engrave import engrave_part, paper_named

        paper = paper_named(self.options.paper)
        ordinals = self.part.ordinals
        marks = {ordinals[number]: text for number, text in self.printed.items()}
        report: list[Section] = []
        on_page = self.options.report == "page"
        engraving = engrave_part(
            self.score,
            self.part.part_id,
            marks,
            paper,
            staff=self.part.staff,
            hidden=self.hidden,
            progress=progress,
            meanwhile=(lambda: report.extend(self.report(say))) if on_page else None,
        )
        pages = tuple(engraving.pages)
        extra = tuple(Section(say(words.PRINT), (), say.fact(told)) for told in engraving.warnings)
        pictures = tuple(
            say(words.PICTURE, title=self.title, page=number, pages=len(pages))
            for number in range(1, len(pages) + 1)
        )
        whole = (*report, *extra) if on_page else ()
        return replace(self._sheet(say), report=whole, pictures=pictures), pages

    def _sheet(self, say: Speech) -> PartSheet:
        """Title, horn and legend of the print."""
        from handslide.edges.engraving.engrave import paper_named

        setup, places = self.routed.setup, self.routed.places
        shown = {places[number] for number in self.printed if number in places}
        about = self._for_student(say), limits_line(say, setup.horn, setup.book.limits)
        return PartSheet(
            title=self.title,
            composer=self.options.composer or self.score.composer or "",
            part_name=self.part.name,
            student_line=" · ".join(filter(None, about)),
            horn_line=horn_line(say, setup.horn),
            legend=legend(
                say,
                setup.horn,
                sorted(shown, key=_by_position),
                setup.style,
                unplayable=UNPLAYABLE in self.shown.values(),
            ),
            report=(),
            paper=paper_named(self.options.paper),
            language=say.language.code,
        )

    @property
    def title(self) -> str:
        """The title asked for, else that of the score, else the file's name."""
        return self.options.title or self.score.title or Path(self.score.name).stem

    def _for_student(self, say: Speech) -> str:
        name = self.options.student
        return say(words.FOR_STUDENT, student=name) if name else ""


def _by_position(place: Place) -> tuple[float, int]:
    return place.position, len(place.valves)


def choose_for(
    score: Score,
    setup: Setup,
    options: MarkOptions,
    progress: ProgressCallback | None = None,
    *,
    fixed: Mapping[int, Place] | None = None,
    source: "PdfPart | None" = None,
) -> MarkedPart:
    """Read a part of an open score and choose its places.

    ``fixed`` are places that are settled before, by index into the notes of the part. ``source`` is
    the PDF that the score was read from.

    Raises
    ------
    ScoreError
        No such part or voice, nothing to play.
    BadUsage
        A lock that names no note or place, or one that several measures could mean.
    """
    if options.existing not in EXISTING:
        raise BadUsage("marks.existing", name=options.existing, known=", ".join(EXISTING))
    if options.report not in REPORTS:
        raise BadUsage("marks.report", name=options.report, known=", ".join(REPORTS))
    if options.show not in SHOWN_ON_SHEETS:
        raise BadUsage("marks.show", name=options.show, known=", ".join(SHOWN_ON_SHEETS))
    part = read_wished(score, options)
    line, pitches = played_line(part)
    locks = dict(fixed or {})
    for text in options.locks:
        lock = parse_lock(text, with_measure=True)
        number = _locked_note(part, lock)
        locks[number] = find_locked(setup, lock, pitches[number])
    overruled = [*locks]
    tell = None if progress is None else lambda done, total: progress("choosing", done, total)
    prepared = prepare(setup, line, pitches, part.played)
    fingerings = read_fingerings(score, part)
    check = options.existing == "check"
    readings: tuple[Reading, ...] = ()
    if options.existing != "replace":
        readings = read_existing(setup, part, fingerings, tagged=check)
    torn: frozenset[int] = frozenset()
    if options.existing == "keep":
        routed, torn = route_keeping(prepared, readings, locks, tell)
    else:
        kept = locked_places(part, readings) if options.existing == "lock" else {}
        routed = prepared.route(locks, tell, kept)
    existing = Existing(fingerings, readings, torn, frozenset(overruled))
    checked = check_existing(prepared, routed, readings) if check else None
    return MarkedPart(
        score, part, routed, options, existing=existing, checked=checked, source=source
    )


def _locked_note(part: ScorePart, lock: Lock) -> int:
    assert lock.measure is not None
    place = whole_number(lock.measure[1:]) if lock.measure.startswith("#") else None
    if place is not None:
        fitting = [note for note in part.notes if note.measure_index == place - 1]
    else:
        fitting = [note for note in part.notes if note.measure == lock.measure]
    if not fitting:
        raise BadUsage("marks.lock_no_measure", lock=str(lock), measure=lock.measure)
    measures = sorted({note.measure_index for note in fitting})
    if len(measures) > 1:
        raise BadUsage(
            "marks.lock_measures",
            lock=str(lock),
            measure=lock.measure,
            count=len(measures),
            spelled=", ".join(f"#{index + 1}" for index in measures),
        )
    for note in fitting:
        if note.number == lock.index:
            return note.index
    raise BadUsage("marks.lock_no_note", lock=str(lock), measure=lock.measure, count=len(fitting))
