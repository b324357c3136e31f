"""A part that exists as PDF, read from what its pages draw."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from handslide.edges.pdfparts.content import draw
from handslide.edges.pdfparts.corrected import Corrector
from handslide.edges.pdfparts.directions import directions_of
from handslide.edges.pdfparts.doubts import doubt_bars, doubt_pitches, refusal
from handslide.edges.pdfparts.drawn import Drawing
from handslide.edges.pdfparts.forms import forms_of
from handslide.edges.pdfparts.found import StaffInk
from handslide.edges.pdfparts.headings import Heading, heading_of, names_instrument
from handslide.edges.pdfparts.items import Unknown, signs_of
from handslide.edges.pdfparts.notes import changes_of, measures_of, notes_of
from handslide.edges.pdfparts.onestaff import StaffRead, read_staff
from handslide.edges.pdfparts.places import share
from handslide.edges.pdfparts.reading import Corrections, PdfReading, ReadStaff, Spot, UnknownSign
from handslide.edges.pdfparts.scorestaves import choose, staff_names
from handslide.edges.pdfparts.signs import Signs
from handslide.edges.pdfparts.staves import Staff, staves_of, systems_of, usual_space
from handslide.edges.pdfparts.texts import Words, words_of
from handslide.edges.pdfparts.walk import Walk, walk_staves
from handslide.ground.errors import ScoreError
from handslide.ground.facts import Fact, fact

_CLEF_HEIGHT = 2.8
_NUMBERS = ("digit", "tuplet", "meter")
_WEIGHTS = {
    "clef": 20, "digit": 8, "meter": 8, "acc": 4, "flag": 3, "rest": 2, "head": 1, "dot": 2, "": 1,
}  # fmt: skip
_UNCORRECTED = Corrections()
_SHORTEST_LINE = 8.0
"""Points: shorter level lines are no pieces of staff lines."""


@dataclass(slots=True)
class _Page:
    """A page with staves: the ink of each staff of each system, and its words."""

    width: float
    inks: list[list[StaffInk]]
    words: list[Words]


@dataclass(slots=True)
class _Staves:
    """The staves of the part, one a system, with the words of their pages."""

    reads: list[StaffRead] = field(default_factory=list)
    words: list[Sequence[Words]] = field(default_factory=list)


def read_part(data: bytes, corrections: Corrections = _UNCORRECTED) -> PdfReading:
    """Read the notes of a born-digital part.

    Raises ScoreError where the file isn't a PDF, is a scan, or shows nothing that can be read as
    staves with notes and nothing that could be asked for.
    """
    return read_drawing(draw(data), Signs.load(dict(corrections.signs)), corrections)


def read_drawing(drawing: Drawing, table: Signs, corrections: Corrections) -> PdfReading:
    """Read a part from what its pages draw, with what is known of outlines."""
    corrector = Corrector(corrections)
    pages = [
        page
        for number in range(len(drawing.pages))
        if (page := _page(drawing, number, table)) is not None
    ]
    names = [
        staff_names([ink.staff for ink in system], page.words)
        for page in pages for system in page.inks
    ]  # fmt: skip
    staves = _read_staves(pages, names, corrections.staff)
    walk = walk_staves(staves.reads, corrector)
    doubt_pitches(walk)
    doubt_bars(walk)
    if corrections.staff is None and any(len(own) > 1 for own in names):
        walk.warnings.insert(0, _chosen(pages, names, staves))
    unknown = _unknown(staves.reads)
    refused = refusal(drawing, walk)
    if refused is not None and not unknown:
        raise ScoreError(refused.kind, **refused.values)
    if refused is not None:
        walk.warnings.insert(0, (Spot(1, 1), refused))
    return _reading(drawing, pages, names, staves, walk, corrector, unknown)


def _chosen(
    pages: Sequence[_Page], names: Sequence[Sequence[str]], staves: _Staves
) -> tuple[Spot, Fact]:
    """Which staff of a score was read, where nobody said which."""
    at = pages[0].inks[0].index(staves.reads[0].ink)
    what = fact("pdfparts.chosen_staff", staff=at + 1, count=len(names[0]), name=names[0][at])
    return Spot(1, 1), what


def _page(drawing: Drawing, number: int, table: Signs) -> _Page | None:
    page = drawing.pages[number]
    forms = forms_of(page)
    staves = staves_of(line for line in forms.lines if line.length > _SHORTEST_LINE)
    if not staves:
        return None
    space = usual_space(staves)
    signs = signs_of(drawing, page, forms, table, space)
    systems = systems_of(staves, forms.uprights)
    inks = share(number + 1, systems, forms, signs, space)
    return _Page(page.width, inks, words_of(signs.letters))


def _read_staves(
    pages: Sequence[_Page], names: Sequence[Sequence[str]], wish: int | None
) -> _Staves:
    staves = _Staves()
    systems = [[ink.staff for ink in system] for page in pages for system in page.inks]
    if not systems:
        return staves
    chosen = iter(choose(systems, names, wish))
    for page in pages:
        flat = [ink.staff for system in page.inks for ink in system]
        for system in page.inks:
            ink = system[next(chosen)]
            words = [word for word in page.words if _is_near(word, ink.staff, flat)]
            staves.reads.append(read_staff(ink, words))
            staves.words.append(words)
    return staves


def _is_near(word: Words, staff: Staff, staves: Sequence[Staff]) -> bool:
    """Words over a staff, or closer under it than to the next one, are its own."""
    middle = word.y + 0.3 * word.em
    own = abs(middle - staff.middle)
    return own < 14 * staff.space and not any(
        abs(middle - other.middle) < own - 0.01 and other is not staff for other in staves
    )


def _unknown(reads: Sequence[StaffRead]) -> tuple[UnknownSign, ...]:
    """What nobody knows and what is unsure; first what most notes hang on."""
    counts: Counter[str] = Counter()
    weights: dict[str, float] = {}
    first: dict[str, UnknownSign] = {}
    for read in reads:
        space = read.ink.staff.space
        for sign in read.ink.asked:
            if not sign.mark or not _is_on(sign, read.ink.staff):
                continue
            counts[sign.mark] += 1
            weights[sign.mark] = weights.get(sign.mark, 0.0) + _weight(sign, space)
            if sign.mark not in first:
                bars = enumerate(read.bars, 1)
                bar = next((number for number, bar in bars if sign.x0 < bar.x1), 0)
                first[sign.mark] = UnknownSign(
                    sign.mark, 0, Spot(read.ink.page, read.ink.system, bar),
                    (sign.x1 - sign.x0) / space, (sign.y1 - sign.y0) / space, sign.guess,
                    sign.outline,
                )  # fmt: skip
    ordered = sorted(first, key=lambda mark: -weights[mark])
    return tuple(replace(first[mark], count=counts[mark]) for mark in ordered)


def _is_on(sign: Unknown, staff: Staff) -> bool:
    """Whether a sign is on or close to the lines, not among words further off; digits count only
    where a time signature has them."""
    near = (0.3 if sign.guess.startswith(_NUMBERS) else 2.0) * staff.space
    if sign.guess.startswith(_NUMBERS):
        return staff.bottom - near < sign.y0 and sign.y1 < staff.top + near
    return staff.bottom - near < sign.y1 and sign.y0 < staff.top + near and sign.x1 > staff.x0


def _weight(sign: Unknown, space: float) -> float:
    """Roughly how many notes hang on it."""
    family = sign.guess.partition(".")[0]
    if not family and (sign.y1 - sign.y0) / space > _CLEF_HEIGHT:
        family = "clef"
    return _WEIGHTS.get(family, 0.3)


def _reading(
    drawing: Drawing, pages: Sequence[_Page], names: Sequence[tuple[str, ...]], staves: _Staves,
    walk: Walk, corrector: Corrector, unknown: tuple[UnknownSign, ...],
) -> PdfReading:  # fmt: skip
    heading, beside = Heading(), ""
    if pages:
        heading = heading_of(pages[0].words, pages[0].inks[0][0].staff, pages[0].width)
        first = zip(pages[0].inks[0], names[0])
        beside = next((name for ink, name in first if ink is staves.reads[0].ink), "")
    directions = {
        Spot(read.ink.page, read.ink.system): directions_of(read, words)
        for read, words in zip(staves.reads, staves.words)
    }
    measures, most = measures_of(walk), max(map(len, names), default=0)
    return PdfReading(
        title=heading.title, composer=heading.composer,
        part_name=_part_name(heading.part_name, beside, most), measures=tuple(measures),
        notes=tuple(notes_of(walk, corrector)),
        changes=tuple(changes_of(walk, directions)),
        staves=tuple(_staff(walk, index) for index in range(len(walk.staves))), unknown=unknown,
        warnings=tuple(walk.warnings), staves_in_system=most,
        staff_names=max(names, key=len, default=()), tagged=drawing.tagged, pdfa=drawing.pdfa,
    )  # fmt: skip


def _part_name(over: str, beside: str, staves: int) -> str:
    """What stands over a part names it; in a score, what stands beside its staff."""
    return beside or over if staves > 1 or names_instrument(beside) else over or beside


def _staff(walk: Walk, index: int) -> ReadStaff:
    read, clef, key, sure = walk.staves[index]
    staff = read.ink.staff
    return ReadStaff(
        page=read.ink.page, system=read.ink.system, x0=staff.x0, x1=staff.x1, bottom=staff.bottom,
        space=staff.space, clef=clef.name, key=key.fifths, sure_clef=sure,
    )  # fmt: skip
