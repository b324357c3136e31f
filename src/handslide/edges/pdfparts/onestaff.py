"""One staff of a page, read as far as it stands alone: bars with events, clefs, keys, meters."""

from collections.abc import Sequence
from dataclasses import dataclass

from handslide.edges.pdfparts.barlines import BarLine, barlines_of, bars_of, mark_endings
from handslide.edges.pdfparts.events import all_events, fill_bars
from handslide.edges.pdfparts.found import Accidental, Bar, Event, Head, StaffInk
from handslide.edges.pdfparts.heads import (
    accidentals_of,
    hang_accidentals,
    hang_dots,
    heads_of,
    rests_of,
)
from handslide.edges.pdfparts.items import Item
from handslide.edges.pdfparts.meters import MeterSign, count_rests, meters_of
from handslide.edges.pdfparts.octaves import octave_lines, shift_heads
from handslide.edges.pdfparts.pitches import SIGNS, ReadClef, clef_of
from handslide.edges.pdfparts.stems import doubt_stemless, headless, stems_of
from handslide.edges.pdfparts.texts import Words
from handslide.edges.pdfparts.tuplets import find_tuplets, numbers_of

_START = 6.0
"""Spaces from the left end within which the staff's own clef stands."""


@dataclass(slots=True)
class PlacedClef:
    """A clef and where it stands."""

    x: float
    clef: ReadClef


@dataclass(slots=True)
class KeySigns:
    """A run of accidentals that belong to no head."""

    x: float
    right: float
    signs: list[Accidental]


@dataclass(slots=True)
class StaffRead:
    """What a staff shows, from left to right."""

    ink: StaffInk
    bars: list[Bar]
    clefs: list[PlacedClef]
    keys: list[KeySigns]
    stray: list[Accidental]
    meters: list[MeterSign]
    barlines: list[BarLine]
    headless: int = 0
    """Uprights of a stem's size without a head."""

    @property
    def events(self) -> list[Event]:
        """Of all bars."""
        return all_events(self.bars)

    @property
    def heads(self) -> list[Head]:
        """Of all events."""
        return [head for event in self.events for head in event.heads]

    @property
    def own_clef(self) -> ReadClef | None:
        """The clef at its beginning, where one is shown."""
        near = self.ink.staff.x0 + _START * self.ink.staff.space
        return next((one.clef for one in self.clefs if one.x < near), None)


def read_staff(ink: StaffInk, words: Sequence[Words]) -> StaffRead:
    """Read what a staff shows."""
    heads = heads_of(ink)
    stems = stems_of(ink, heads)
    doubt_stemless(ink, heads)
    barlines = barlines_of(ink, stems)
    rests = rests_of(ink)
    hang_dots(ink, heads, rests)
    shift_heads(ink, octave_lines(ink, words), heads)
    free = hang_accidentals(ink.staff, heads, accidentals_of(ink))
    bars = bars_of(ink, barlines)
    fill_bars(bars, heads, rests, ink.staff.space)
    if bars and bars[-1].open and not bars[-1].events:
        bars.pop()
    count_rests(ink, bars, words)
    mark_endings(ink, bars, words)
    numbers = numbers_of(ink, words)
    for bar in bars:
        find_tuplets(ink, bar, numbers)
    clefs = _clefs(ink, words)
    keys, stray = _keys(ink, free, clefs, barlines)
    read = StaffRead(ink, bars, clefs, keys, stray, meters_of(ink, words), barlines)
    read.headless = headless(ink, stems, [x for line in barlines for x in (line.x0, line.x1)])
    return read


def _clefs(ink: StaffInk, words: Sequence[Words]) -> list[PlacedClef]:
    found = []
    for item in ink.of("clef"):
        if item.kind.split(".")[1] not in SIGNS:
            continue
        clef = clef_of(item, ink.staff)
        if not clef.octaves:
            clef = _with_eight(ink, item, clef, words)
        found.append(PlacedClef(item.x0, clef))
    return sorted(found, key=lambda placed: placed.x)


def _with_eight(ink: StaffInk, item: Item, clef: ReadClef, words: Sequence[Words]) -> ReadClef:
    """A small 8 under or over a clef moves it by an octave."""
    space, middle = ink.staff.space, (item.x0 + item.x1) / 2
    eights = [
        ((one.x0 + one.x1) / 2, one.y0, one.y1, one.family == "clef")
        for one in ink.of("digit", "tuplet", "ottava", "clef")
        if one.kind.partition(".")[2].startswith("8")
    ]
    eights += [
        ((w.x0 + w.x1) / 2, w.y, w.y + 0.7 * w.em, False)
        for w in words if w.text in ("8", "(8)")
    ]  # fmt: skip
    for x, y0, y1, plain in eights:
        if abs(x - middle) > 0.8 * space:
            continue
        # The number of a measure stands over a clef too, but further off.
        if abs(item.y0 - y1) < 0.6 * space:
            return ReadClef(clef.sign, clef.line, -1, clef.sure, plain)
        if abs(y0 - item.y1) < 0.6 * space:
            return ReadClef(clef.sign, clef.line, 1, clef.sure, plain)
    return clef


def _keys(
    ink: StaffInk, free: Sequence[Accidental], clefs: Sequence[PlacedClef],
    barlines: Sequence[BarLine],
) -> tuple[list[KeySigns], list[Accidental]]:  # fmt: skip
    """Runs of free accidentals: a key's where they follow a clef or a barline, else strays."""
    space = ink.staff.space
    runs: list[KeySigns] = []
    stray = []
    for sign in sorted(free, key=lambda sign: sign.x):
        if sign.small or not -2 <= sign.place <= 10:
            stray.append(sign)
        elif runs and sign.x - runs[-1].right < 0.9 * space:
            runs[-1].signs.append(sign)
            runs[-1].right = max(runs[-1].right, sign.right)
        else:
            runs.append(KeySigns(sign.x, sign.right, [sign]))
    keys = []
    for run in runs:
        if _follows(run, clefs, barlines, ink):
            keys.append(run)
        else:
            stray += run.signs
    return keys, stray


def _follows(
    run: KeySigns, clefs: Sequence[PlacedClef], barlines: Sequence[BarLine], ink: StaffInk
) -> bool:
    space = ink.staff.space
    before = [line.x1 for line in barlines if line.x1 < run.x]
    before += [placed.x + 2.6 * space for placed in clefs if placed.x < run.x]
    starts = max([*before, ink.staff.x0])
    blocked = any(starts < head.x0 < run.x for head in ink.of("head", "rest"))
    return run.x - starts < 5.5 * space and not blocked
