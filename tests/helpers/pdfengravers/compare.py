"""What was read against the truth: aligned by edit distance, so that a lost note costs one note."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from fractions import Fraction

from handslide.edges.pdfparts.reading import PdfReading, ReadNote
from pdfengravers.truth import TrueNote

_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
_WRONG_PITCH, _GAP, _WRONG_ONSET, _WRONG_BAR, _WRONG_GRACE = 1.0, 0.6, 0.05, 0.02, 0.1
_BAND = 80
_CHORD_SPACES = 1.0


@dataclass(frozen=True, slots=True)
class Head:
    """A note as a reader gave it. ``bar`` and ``onset`` are None where the reader has no times."""

    midi: int
    page: int
    system: int
    x: float
    y: float
    grace: bool
    tie_to: bool
    doubted: bool
    bar: int | None = None
    onset: Fraction | None = None
    slur_start: int = 0
    slur_stop: int = 0
    actual: int = 1
    normal: int = 1
    why: tuple[str, ...] = ()


@dataclass(slots=True)
class Tally:
    """Counts of notes; they add up over parts."""

    true: int = 0
    found: int = 0
    pitch: int = 0
    extra: int = 0
    timed: int = 0
    onset: int = 0
    bar: int = 0
    grace: int = 0
    graces: int = 0
    tuplets: int = 0
    tuplet: int = 0
    ties: int = 0
    tie: int = 0
    ties_read: int = 0
    slurs: int = 0
    slur: int = 0
    slurs_read: int = 0
    wrong: int = 0
    wrong_doubted: int = 0
    right: int = 0
    right_doubted: int = 0
    mistimed: int = 0
    mistimed_doubted: int = 0
    pages: int = 0
    seconds: float = 0.0

    def add(self, other: "Tally") -> None:
        for one in fields(self):
            setattr(self, one.name, getattr(self, one.name) + getattr(other, one.name))


Pair = tuple[TrueNote | None, Head | None]


def heads_of(reading: PdfReading) -> list[Head]:
    """The notes of a reading, in written order."""
    bars = _bar_numbers(reading)
    spaces = {(one.page, one.system): one.space for one in reading.staves}
    notes = [one for one in reading.notes if one.step is not None]
    ordered = _left_to_right(notes, spaces)
    return [_head(one, bars) for one in ordered]


def _bar_numbers(reading: PdfReading) -> list[int]:
    """The 0-based number of each measure, bars of rest counted."""
    numbers, count = [], 0
    for measure in reading.measures:
        numbers.append(count)
        count += measure.rests
    return numbers


def _left_to_right(
    notes: Iterable[ReadNote], spaces: dict[tuple[int, int], float]
) -> list[ReadNote]:
    by_system = sorted(notes, key=lambda one: (one.spot.page, one.spot.system, one.measure, one.x))
    result: list[ReadNote] = []
    chord: list[ReadNote] = []
    for one in by_system:
        here = (one.spot.page, one.spot.system)
        space = spaces.get(here, 5.0)
        if not (
            chord
            and (chord[0].spot.page, chord[0].spot.system) == here
            and chord[0].measure == one.measure
            and abs(one.x - chord[0].x) < _CHORD_SPACES * space
            and chord[0].grace == one.grace
        ):
            result += sorted(chord, key=_midi)
            chord = []
        chord.append(one)
    return result + sorted(chord, key=_midi)


def _midi(note: ReadNote) -> int:
    return 12 * (note.octave + 1) + _SEMITONES[note.step or 0] + note.alter


def _head(note: ReadNote, bars: Sequence[int]) -> Head:
    return Head(
        midi=_midi(note),
        page=note.spot.page,
        system=note.spot.system,
        x=note.x,
        y=note.y,
        grace=note.grace,
        tie_to=note.tie_to,
        doubted=bool(note.doubts),
        bar=bars[note.measure],
        onset=note.onset,
        slur_start=note.slur_start,
        slur_stop=note.slur_stop,
        actual=note.actual,
        normal=note.normal,
        why=tuple(one.kind for one in note.doubts),
    )


def align(true: Sequence[TrueNote], read: Sequence[Head]) -> list[Pair]:
    """Pairs of a true note and a read one; None where one of them has no partner."""
    width = abs(len(true) - len(read)) + _BAND
    back: list[dict[int, int]] = []
    before: dict[int, float] = {}
    far = float("inf")
    for row in range(len(true) + 1):
        low, high = max(0, row - width), min(len(read), row + width)
        now: dict[int, float] = {}
        steps: dict[int, int] = {}
        for column in range(low, high + 1):
            if row == column == 0:
                now[0], steps[0] = 0.0, 0
                continue
            left = now.get(column - 1, far) + _GAP
            up = before.get(column, far) + _GAP
            both = far
            if row and column and column - 1 in before:
                both = before[column - 1] + _cost(true[row - 1], read[column - 1])
            best = min(both, up, left)
            now[column] = best
            steps[column] = 3 if best == both else 2 if best == up else 1
        back.append(steps)
        before = now
    return _uncross(_trace(true, read, back))


def _cost(true: TrueNote, read: Head) -> float:
    cost = 0.0 if true.midi == read.midi else _WRONG_PITCH
    cost += _WRONG_GRACE * (true.grace != read.grace)
    if read.onset is not None and not true.grace:
        cost += _WRONG_ONSET * (true.onset != read.onset)
    return cost + _WRONG_BAR * (read.bar is not None and true.bar != read.bar)


def _trace(
    true: Sequence[TrueNote], read: Sequence[Head], back: list[dict[int, int]]
) -> list[Pair]:
    pairs: list[Pair] = []
    row, column = len(true), len(read)
    while row or column:
        step = back[row][column]
        row -= step in (2, 3)
        column -= step in (1, 3)
        pairs.append((true[row] if step != 1 else None, read[column] if step != 2 else None))
    return pairs[::-1]


def _uncross(pairs: list[Pair]) -> list[Pair]:
    """Two notes of two voices that stand in the other order are still both right."""
    for here in range(len(pairs)):
        for there in range(here + 1, min(here + 4, len(pairs))):
            (true, read), (other_true, other_read) = pairs[here], pairs[there]
            gain = _fits(true, other_read) + _fits(other_true, read)
            if gain > _fits(true, read) + _fits(other_true, other_read):
                pairs[here], pairs[there] = (true, other_read), (other_true, read)
    return [pair for pair in pairs if pair != (None, None)]


def _fits(true: TrueNote | None, read: Head | None) -> int:
    return true is not None and read is not None and true.midi == read.midi


def is_wrong(true: TrueNote | None, read: Head) -> bool:
    """No such note stands there, or one of another pitch."""
    return true is None or true.midi != read.midi


def is_late(true: TrueNote, read: Head) -> bool:
    """Its onset is another; grace notes have none of their own."""
    return not true.grace and read.onset is not None and true.onset != read.onset


def tally(pairs: Iterable[Pair]) -> Tally:
    """Count the pairs of one part."""
    counts = Tally()
    for true, read in pairs:
        if true is not None and not (read is None and true.shared):
            _count_true(counts, true, read)
        if read is not None:
            _count_read(counts, true, read)
    return counts


def _count_true(counts: Tally, true: TrueNote, read: Head | None) -> None:
    counts.true += 1
    counts.found += read is not None
    counts.pitch += read is not None and read.midi == true.midi
    counts.graces += true.grace
    counts.grace += true.grace and read is not None and read.grace
    counts.ties += true.tie_to
    counts.tie += true.tie_to and read is not None and read.tie_to
    counts.tuplets += true.actual != true.normal
    counts.tuplet += (
        true.actual != true.normal
        and read is not None
        and (true.actual * read.normal == true.normal * read.actual)
    )
    counts.slurs += true.slur_start + true.slur_stop
    if read is not None:
        counts.slur += min(true.slur_start, read.slur_start) + min(true.slur_stop, read.slur_stop)
    if not true.grace:
        counts.timed += 1
        counts.onset += read is not None and read.onset == true.onset
        counts.bar += read is not None and read.bar == true.bar


def _count_read(counts: Tally, true: TrueNote | None, read: Head) -> None:
    counts.extra += true is None
    counts.ties_read += read.tie_to
    counts.slurs_read += read.slur_start + read.slur_stop
    if is_wrong(true, read):
        counts.wrong += 1
        counts.wrong_doubted += read.doubted
        return
    if true is not None and is_late(true, read):
        counts.mistimed += 1
        counts.mistimed_doubted += read.doubted
    counts.right += 1
    counts.right_doubted += read.doubted
