"""The walk through a part's staves: what is in force, so which pitch and when.

Staves come one after the other; clef, key, accidentals, ties and meter lead from one to the next.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from handslide.edges.pdfparts.corrected import Corrector
from handslide.edges.pdfparts.curves import Loose, read_curves
from handslide.edges.pdfparts.found import Bar, Event, Rest
from handslide.edges.pdfparts.meters import MeterSign, length_of
from handslide.edges.pdfparts.onestaff import KeySigns, StaffRead
from handslide.edges.pdfparts.pitches import Alterations, ReadClef, ReadKey, key_of_signs
from handslide.edges.pdfparts.reading import Spot
from handslide.edges.pdfparts.timing import time_bar
from handslide.ground.facts import Fact, fact

_UNSEEN = ReadClef("F", 4, 0, False)
"""What a part without any clef is read in: doubted throughout."""


@dataclass(slots=True)
class WalkedBar:
    """A bar of the part: where, and what was in force."""

    bar: Bar
    spot: Spot
    measure: int
    offset: Fraction
    """Quarters of its measure that stood in the system before."""
    filled: Fraction
    meter: Fraction
    read: StaffRead


@dataclass(slots=True)
class Turn:
    """A clef, key or meter that begins before an event (by x) of a bar."""

    spot: Spot
    x: float
    kind: str
    value: str
    doubts: tuple[Fact, ...] = ()


@dataclass(slots=True)
class Walk:
    """The part so far."""

    corrector: Corrector
    bars: list[WalkedBar] = field(default_factory=list)
    turns: list[Turn] = field(default_factory=list)
    warnings: list[tuple[Spot, Fact]] = field(default_factory=list)
    staves: list[tuple[StaffRead, ReadClef, ReadKey, bool]] = field(default_factory=list)
    clef: ReadClef | None = None
    clefs_here: list[tuple[float, ReadClef]] = field(default_factory=list)
    """The clefs of the staff, each from its x on."""
    meter: str = ""
    alterations: Alterations = field(default_factory=Alterations)
    loose: Loose = field(default_factory=Loose)
    said_key: int | None = None
    announced: bool = False
    """The system before ended with a key: the next may begin with another."""


def walk_staves(reads: Iterable[StaffRead], corrector: Corrector) -> Walk:
    """Walk through all staves of the part, in order."""
    walk = Walk(corrector)
    for read in reads:
        _staff(walk, read)
    return walk


def _spot(read: StaffRead, bar: int = 0, item: int = 0) -> Spot:
    return Spot(read.ink.page, read.ink.system, bar, item)


def _staff(walk: Walk, read: StaffRead) -> None:
    begins, sure = _first_clef(walk, read)
    if walk.clef is None or walk.clef.name != begins.name:
        walk.turns.append(Turn(_spot(read, 1), 0.0, "clef", begins.name))
    _set_steps(walk, read, begins)
    if read.events:
        walk.loose = read_curves(read.ink, read.events, walk.loose)
    key = _first_key(walk, read, begins)
    _say_key(walk, _spot(read, 1), 0.0, key)
    walk.staves.append((read, begins, key, sure))
    for number, bar in enumerate(read.bars, 1):
        _bar(walk, read, bar, number)
    _tail(walk, read)
    if read.headless:
        what = fact("pdfparts.headless_stems", count=read.headless)
        walk.warnings.append((_spot(read), what))


# Clefs


def _first_clef(walk: Walk, read: StaffRead) -> tuple[ReadClef, bool]:
    shown = read.own_clef
    clef = shown or walk.clef or _UNSEEN
    given = walk.corrector.clef(_spot(read), shown)
    if given is not None:
        return given, True
    if shown is not None and not shown.plain and _has_moved(walk.clef, shown):
        return clef, False
    return clef, shown is not None and shown.sure


def _has_moved(before: ReadClef | None, now: ReadClef) -> bool:
    """The same clef as before, but for its octave."""
    if before is None or (before.sign, before.line) != (now.sign, now.line):
        return False
    return before.octaves != now.octaves


def _set_steps(walk: Walk, read: StaffRead, begins: ReadClef) -> None:
    """The step of each head, under the clef before it."""
    changes = [(placed.x, placed.clef) for placed in read.clefs if placed.clef is not read.own_clef]
    now = begins
    walk.clefs_here = [(read.ink.staff.x0 - read.ink.staff.space, begins)]
    for number, bar in enumerate(read.bars, 1):
        for event in bar.events:
            while changes and changes[0][0] < event.x:
                x, now = changes.pop(0)
                now = _turn_clef(walk, read, x, now, number)
            for head in event.heads:
                head.step = now.step_at(head.place) + 7 * head.octaves
    for x, clef in changes:
        now = _turn_clef(walk, read, x, clef, len(read.bars))
    walk.clef = now


def _turn_clef(walk: Walk, read: StaffRead, x: float, clef: ReadClef, number: int) -> ReadClef:
    spot = _spot(read, number)
    clef = walk.corrector.clef(spot, clef) or clef
    doubts = () if clef.sure else (fact("pdfparts.doubt_clef"),)
    walk.turns.append(Turn(spot, x, "clef", clef.name, doubts))
    walk.clefs_here.append((x, clef))
    return clef


def _clef_at(walk: Walk, x: float) -> ReadClef:
    """The clef of the staff at ``x``."""
    before = [clef for at, clef in walk.clefs_here if at < x]
    return before[-1] if before else walk.clef or _UNSEEN


def _next_measure(walk: Walk) -> int:
    if not walk.bars:
        return 0
    last = walk.bars[-1]
    return last.measure if _goes_on(last) else last.measure + 1


def _goes_on(last: WalkedBar) -> bool:
    """The bar isn't full and no barline ends it: it goes on in the next system."""
    return last.bar.open and last.offset + last.filled < last.meter


# Keys


def _first_key(walk: Walk, read: StaffRead, clef: ReadClef) -> ReadKey:
    """The key at the beginning of a staff: shown, or none where a clef is shown without."""
    before = walk.alterations.key
    run = _run_at_start(read)
    if run is not None:
        key = key_of_signs(run.signs, clef)
        read.keys.remove(run)
    elif read.own_clef is None:
        key = before
    else:
        key = ReadKey()
    given = walk.corrector.key(_spot(read), key)
    if given is not None:
        key = given
    elif walk.staves and key.alters != before.alters and not walk.announced:
        _doubt_key(read, set(key.alters.items()) ^ set(before.alters.items()))
        shown, was = key.fifths, before.fifths
        walk.warnings.append((_spot(read), fact("pdfparts.key_differs", now=shown, before=was)))
    _warn_odd(walk, read, key, _spot(read), read.events)
    walk.alterations.key = key
    walk.announced = False
    return key


def _run_at_start(read: StaffRead) -> KeySigns | None:
    first = min((event.x for event in read.events), default=read.ink.staff.x1)
    start = read.ink.staff.x0
    end = min(first, start + 14 * read.ink.staff.space)
    run = read.keys[0] if read.keys else None
    return run if run is not None and run.x < end and _in_first_bar(read, run) else None


def _in_first_bar(read: StaffRead, run: KeySigns) -> bool:
    return not read.bars or run.x < read.bars[0].x1


def _doubt_key(read: StaffRead, differing: Iterable[tuple[int, int]]) -> None:
    letters = {letter for letter, _ in differing}
    for head in read.heads:
        if head.step % 7 in letters and head.sign is None:
            head.doubts.append(fact("pdfparts.doubt_key"))


def _warn_odd(
    walk: Walk, read: StaffRead, key: ReadKey, spot: Spot, events: Sequence[Event]
) -> None:
    if not key.odd:
        return
    walk.warnings.append((spot, fact("pdfparts.odd_key", count=len(key.alters))))
    for event in events:
        for head in event.heads:
            if head.step % 7 in key.odd and head.sign is None:
                head.doubts.append(fact("pdfparts.doubt_key"))


def _turn_key(walk: Walk, read: StaffRead, run: KeySigns, number: int) -> None:
    key = key_of_signs(run.signs, _clef_at(walk, run.x))
    walk.alterations.key = key
    spot = _spot(read, number)
    _say_key(walk, spot, run.x, key)
    later = [event for event in read.events if event.x > run.x]
    _warn_odd(walk, read, key, spot, later)


# Bars


def _say_key(walk: Walk, spot: Spot, x: float, key: ReadKey) -> None:
    if walk.said_key != key.fifths:
        walk.said_key = key.fifths
        walk.turns.append(Turn(spot, x, "key", str(key.fifths)))


def _bar(walk: Walk, read: StaffRead, bar: Bar, number: int) -> None:
    meters = [sign for sign in read.meters if bar.x0 - 1 < sign.x < bar.x1]
    first = min((event.x for event in bar.events), default=bar.x1)
    for sign in meters:
        if sign.x < first:
            _turn_meter(walk, read, sign, number)
    measure, offset = _next_measure(walk), Fraction(0)
    if walk.bars and _goes_on(walk.bars[-1]):
        offset = walk.bars[-1].offset + walk.bars[-1].filled
    else:
        walk.alterations.barline()
    _alter(walk, read, bar, number)
    meter = length_of(walk.meter) if walk.meter else None
    _merge_rests(bar)
    staff = read.ink.staff
    asked = meter - offset if meter is not None else None
    filled = time_bar(bar, asked, staff.middle, staff.space)
    for event in bar.events:
        event.onset += offset
    walked = WalkedBar(
        bar, _spot(read, number), measure, offset, filled, meter or offset + filled, read
    )
    walk.bars.append(walked)
    for sign in meters:
        if sign.x >= first:
            _turn_meter(walk, read, sign, number + 1)


def _turn_meter(walk: Walk, read: StaffRead, sign: MeterSign, number: int) -> None:
    if sign.meter != walk.meter:
        walk.meter = sign.meter
        walk.turns.append(Turn(_spot(read, number), sign.x, "meter", sign.meter))


def _alter(walk: Walk, read: StaffRead, bar: Bar, number: int) -> None:
    """Key changes and alterations of a bar, in order."""
    runs = [run for run in read.keys if bar.x0 - 1 < run.x < bar.x1]
    for event in bar.events:
        while runs and runs[0].x < event.x:
            _turn_key(walk, read, runs.pop(0), number)
        for head in event.heads:
            walk.alterations.give(head)
            if head.tie_from is not None and head.sign is None:
                head.alter = head.tie_from.alter
    for run in runs:
        _announce(walk, run)


def _announce(walk: Walk, run: KeySigns) -> None:
    """A key before the last barline of a system tells of the next system's."""
    walk.announced = True
    walk.alterations.key = key_of_signs(run.signs, _clef_at(walk, run.x))


def _tail(walk: Walk, read: StaffRead) -> None:
    """What stands after the last barline of a staff holds from the next one on."""
    end = read.bars[-1].x1 if read.bars else read.ink.staff.x0
    for run in read.keys:
        if run.x >= end:
            _announce(walk, run)


def _merge_rests(bar: Bar) -> None:
    """A rest of several bars is one event, however many signs show it."""
    if bar.rests > 1 and not any(event.heads for event in bar.events):
        x = (bar.x0 + bar.x1) / 2
        left = min((event.x for event in bar.events), default=x)
        right = max((event.right for event in bar.events), default=x)
        y = bar.events[0].y if bar.events else 0.0
        bar.events[:] = [Event(left, right, rest=Rest(left, right, y, 1))]
