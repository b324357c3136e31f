"""What the page and the pictures of a take show: notes as numbers, words as finished texts."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TakeNote:
    """A note of the part. ``place_mm`` is where the slide should be, ``slide_mm`` where it was.

    ``played`` is right, wrong, missing, octave or unsure; ``heard`` the name of a wrong note.
    ``fix_mm`` is what to do, in mm further out (+) or in (-); None where there is nothing to do.
    """

    measure: str
    name: str
    mark: str
    played: str
    cents: float | None = None
    cents_se: float | None = None
    place_mm: float | None = None
    slide_mm: float | None = None
    fix_mm: float | None = None
    heard: str = ""


@dataclass(frozen=True, slots=True)
class PlotTexts:
    """What stands beside the scales: the names of both pictures, and the ends of the upper one."""

    cents: str
    slide: str
    high: str
    low: str


@dataclass(frozen=True, slots=True)
class PageTexts(PlotTexts):
    """The page's own texts: how to read it, the headings of the columns and what stands there
    where there is nothing to say, and the last line."""

    how_to: str
    habits: str
    no_habits: str
    practice: str
    no_practice: str
    heard: str
    nothing_heard: str
    trust: str
    closing: str


@dataclass(frozen=True, slots=True)
class TakePage:
    """What the page says. ``positions_mm`` are the open positions as (number, extension).

    ``heard`` is what a listener notices, ``trust`` how far that can be trusted; both are None for a
    take that wasn't listened to so closely.
    """

    notes: tuple[TakeNote, ...]
    habits: tuple[str, ...]
    practice: tuple[tuple[str, str], ...]
    positions_mm: tuple[tuple[str, float], ...]
    texts: PageTexts
    heard: tuple[str, ...] | None = None
    trust: tuple[str, ...] | None = None
