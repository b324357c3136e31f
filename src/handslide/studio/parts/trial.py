"""A part marked on one of our horns, for nobody: to see what handslide makes of it."""

from dataclasses import dataclass, replace

from handslide.edges.engraving.engrave import engrave_column
from handslide.edges.engraving.screen import WIDTHS_MM, for_screen, joined, screen_paper
from handslide.edges.store.scores import ScoreRow
from handslide.ground.limits import OPEN_SHEETS_BYTES
from handslide.ground.progress import ProgressCallback
from handslide.jobs.mark.mark import MarkedPart, MarkOptions, choose_for
from handslide.jobs.setup import make_setup
from handslide.studio.cache import CacheKind
from handslide.studio.parts.files import StandFile, plain_name
from handslide.studio.parts.reading import open_source, reading_key
from handslide.studio.people.horns import model
from handslide.studio.preferences import preferences
from handslide.studio.studio import Studio
from handslide.words.speech import Speech

_PDF = "application/pdf"
_MARKED: CacheKind["Wish", MarkedPart] = CacheKind(4)
_MUSIC: CacheKind[tuple["Wish", str], str] = CacheKind(8, len, OPEN_SHEETS_BYTES)


@dataclass(frozen=True, slots=True)
class Wish:
    """What is tried: the reading of a score, a horn of ours, a part and voice (None: the usual)."""

    digest: str
    horn: str
    part: str | None = None
    voice: str | None = None


def try_part(
    studio: Studio, row: ScoreRow, horn: str, part: str | None = None, voice: str | None = None
) -> tuple[Wish, MarkedPart]:
    """A part marked on a horn of ours, with all its valves and the whole slide.

    Raises
    ------
    HornError, ScoreError
        No such horn, part or voice; a part that can't be opened.
    """
    wish = Wish(reading_key(studio, row), horn, part, voice)

    def made() -> MarkedPart:
        opened = open_source(studio, row)
        options = MarkOptions(part, voice, title=row.title, composer=row.composer)
        return choose_for(opened.score, make_setup(model(horn)), options, source=opened.source)

    return wish, studio.caches.of(_MARKED).get(wish, made)


def trial_music(studio: Studio, wish: Wish, marked: MarkedPart, width: str) -> str:
    """All of its music as an SVG element, in one of `WIDTHS_MM`. Raises ScoreError."""

    def drawn() -> str:
        ordinals = marked.part.ordinals
        marks = {ordinals[number]: text for number, text in marked.printed.items()}
        paper = screen_paper(WIDTHS_MM[width])
        part = marked.part
        pieces = engrave_column(
            marked.score, part.part_id, marks, paper, staff=part.staff, hidden=marked.hidden
        )
        return joined([for_screen(piece.svg) for piece in pieces])

    return studio.caches.of(_MUSIC).get((wish, width), drawn)


def trial_pdf(
    studio: Studio, say: Speech, marked: MarkedPart, progress: ProgressCallback | None = None
) -> StandFile:
    """The printed part, on the paper of the settings."""
    options = replace(marked.options, paper=preferences(studio).paper)
    data = replace(marked, options=options).pdf(say, progress)
    return StandFile(data, f"{plain_name(marked.title)}.pdf", _PDF)
