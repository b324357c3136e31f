"""What a transposition did, and what is found out about it: facts, row by row of its report."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from handslide.edges.musicxml.scorepart import ScoreWarning
from handslide.edges.musicxml.transpose import Changes
from handslide.ground.facts import Fact, fact
from handslide.ground.intervals import Interval
from handslide.ground.pitch import Pitch, parse_pitch
from handslide.jobs.mark.report import Found

_MOST_PITCHES = 8


@dataclass(frozen=True, slots=True)
class PutBack:
    """A note that was put back by octaves: its sounding pitch transposed, and where it is now."""

    measure: str
    number: int
    moved: Pitch
    now: Pitch


@dataclass(frozen=True, slots=True)
class Transposition:
    """What was done to a part, and what it means for this student.

    ``before`` and ``after`` say what can't be played as written, and after the move before any
    note was put back. ``nearest`` are the nearest intervals at which all can be played; or all
    notes but not every glissando, when ``glissandi_left``. When there are none, ``best`` is the
    interval that leaves the fewest notes (and how many). ``played`` counts the notes as played.
    """

    interval: Interval
    part: str
    others: int
    only: bool
    changes: Changes
    before: tuple[Found, ...]
    after: tuple[Found, ...]
    put_back: tuple[PutBack, ...]
    nearest: tuple[Interval, ...]
    glissandi_left: bool
    best: tuple[Interval, int] | None
    played: int
    warnings: tuple[ScoreWarning, ...]


def findings(done: Transposition) -> tuple[tuple[str, Fact], ...]:
    """The rows of the report: a key of `handslide.words.transpose.ROWS` and what is found there.

    What was moved, what became of keys and clefs, what could and what can be played.
    """
    rows = [("moved", _notes(done))]
    rows += [("keys", told) for told in _keys(done)]
    rows += [("clefs", told) for told in _clefs(done)]
    rows.append(("as_written", _playable("transpose.could", done.before)))
    rows.append(("now", _playable("transpose.can", done.after)))
    if done.put_back:
        rows.append(("put_back", _put_back(done)))
    rows += [("nearest", told) for told in _nearest(done)]
    rows += [("look_at", warning.told) for warning in done.warnings]
    return tuple(rows)


def _notes(done: Transposition) -> Fact:
    others = "none" if not done.others else "left_out" if done.only else "stay"
    return fact(
        "transpose.notes",
        count=done.changes.notes,
        interval=done.interval,
        name=done.interval.name,
        part=done.part,
        others=others,
    )


def _keys(done: Transposition) -> Iterable[Fact]:
    pairs: dict[tuple[int, int], list[str]] = {}
    for measure, old, new in done.changes.keys:
        if old != new:
            pairs.setdefault((old, new), []).append(measure)
    for (old, new), measures in pairs.items():
        yield fact("transpose.key", old=old, new=new, measures=measures)


def _clefs(done: Transposition) -> Iterable[Fact]:
    groups: dict[tuple[Fact, Fact], list[str]] = {}
    far: list[str] = []
    most = 0
    for row in done.changes.clefs:
        if row.old != row.new:
            groups.setdefault((row.old, row.new), []).append(row.span)
        if row.ledgers:
            far.append(row.span)
            most = max(most, row.ledgers)
    for (old, new), spans in groups.items():
        yield fact("transpose.clef", old=old, new=new, measures=spans)
    if far:
        yield fact("transpose.ledgers", count=most, measures=far)


def _playable(kind: str, rows: Sequence[Found]) -> Fact:
    """What can't be played: the pitches with their measures, lowest first, and the glissandi."""
    pitches: dict[Pitch, list[str]] = {}
    glissandi = []
    for row in rows:
        if row.kind == "unplayable" and row.note is not None:
            pitches.setdefault(parse_pitch(row.note), []).append(row.measure)
        else:
            glissandi.append(row.measure)
    order = sorted(pitches, key=lambda pitch: pitch.midi)
    return fact(
        kind,
        count=sum(map(len, pitches.values())),
        pitches=[
            fact("transpose.pitch", pitch=pitch, measures=pitches[pitch])
            for pitch in order[:_MOST_PITCHES]
        ],
        more=max(len(order) - _MOST_PITCHES, 0),
        glissandi=glissandi,
    )


def _put_back(done: Transposition) -> Fact:
    groups: dict[tuple[Pitch, Pitch], list[str]] = {}
    for row in done.put_back:
        groups.setdefault((row.moved, row.now), []).append(row.measure)
    return fact(
        "transpose.put_back",
        notes=[
            fact("transpose.put_back_note", moved=moved, now=now, measures=measures)
            for (moved, now), measures in groups.items()
        ],
    )


def _nearest(done: Transposition) -> Iterable[Fact]:
    if done.nearest:
        kind = "transpose.nearest_notes" if done.glissandi_left else "transpose.nearest"
        yield fact(kind, intervals=done.nearest)
    elif done.best is not None:
        interval, left = done.best
        yield fact("transpose.fewest", interval=interval, left=left, count=done.played)
