"""A move and what is said about it: on the report, in the title and in the file's name."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart, ScoreWarning
from handslide.edges.musicxml.transpose import Shifted
from handslide.edges.typesetting.part import Section
from handslide.ground.intervals import Interval
from handslide.ground.pitch import Pitch, parse_pitch
from handslide.jobs.mark.mark import MarkOptions
from handslide.jobs.mark.report import Found
from handslide.words.hints import TERMINAL
from handslide.words.report import listed_measures
from handslide.words.speech import speech

_MOST = 8


@dataclass(frozen=True, slots=True)
class PutBack:
    """A note that was put back by ``octaves``: its sounding pitch moved, and where it is now."""

    measure: str
    number: int
    moved: Pitch
    now: Pitch


@dataclass(frozen=True, slots=True)
class Move:
    """What a move did and what it means for this student.

    ``before`` and ``after`` say what can't be played as written, and after the move before any
    note was put back. ``nearest`` are the nearest intervals at which all can be played; or all
    notes but not every glissando, when ``glissandi_left``. When there are none, ``best`` is the
    interval that leaves the fewest notes (and how many).
    """

    interval: Interval
    part: str
    others: int
    only: bool
    shifted: Shifted
    before: tuple[Found, ...]
    after: tuple[Found, ...]
    put_back: tuple[PutBack, ...]
    nearest: tuple[Interval, ...]
    glissandi_left: bool
    best: tuple[Interval, int] | None
    warnings: tuple[ScoreWarning, ...]


def titled(score: Score, options: MarkOptions, interval: Interval) -> str:
    """The title of a moved part: ``Rochut 1, an octave lower``."""
    title = options.title or score.title or Path(score.name).stem
    return f"{title}, {interval.words}" if interval.semitones else title


def file_words(interval: Interval) -> str:
    """An interval for a file's name: ``octave-lower``."""
    words = interval.words.replace("at the same pitch", "moved").split()
    return "-".join(word for word in words if word not in ("a", "an"))


def moved_section(move: Move, part: ScorePart) -> Section:
    """What was moved, what became of keys and clefs, what could and what can be played."""
    rows = [("moved", _what(move))]
    rows += [("keys", text) for text in _keys(move)]
    rows += [("clefs", text) for text in _clefs(move)]
    rows.append(("as written", _playable(move.before, "could be played")))
    rows.append(("now", _playable(move.after, "can be played")))
    if move.put_back:
        rows.append(("put back", _put_back(move)))
    rows += [("nearest", text) for text in _nearest(move, len(part.played))]
    say = speech(face=TERMINAL)
    rows += [("look at", say.fact(warning.told)) for warning in move.warnings]
    return Section("Moved", tuple(rows))


def _what(move: Move) -> str:
    by = move.interval.words
    if not move.others:
        others = ""
    elif move.only:
        others = "; the other parts were left out"
    else:
        others = "; the other parts stay as they were"
    notes = f"{move.shifted.notes} notes {by} ({move.interval.name})"
    return f"{notes}, all voices of {move.part!r}{others}"


def _keys(move: Move) -> Iterable[str]:
    pairs: dict[tuple[int, int], list[str]] = {}
    for measure, old, new in move.shifted.keys:
        if old != new:
            pairs.setdefault((old, new), []).append(measure)
    for (old, new), measures in pairs.items():
        where = "measure" if len(set(measures)) == 1 else "measures"
        listed = listed_measures(speech(), measures, _MOST)
        yield f"{_signs(old)} became {_signs(new)} ({where} {listed})"


def _signs(fifths: int) -> str:
    if fifths == 0:
        return "no sharps or flats"
    kind = "sharp" if fifths > 0 else "flat"
    return f"{abs(fifths)} {kind}{'' if abs(fifths) == 1 else 's'}"


def _clefs(move: Move) -> Iterable[str]:
    groups: dict[tuple[str, str], list[str]] = {}
    far: list[str] = []
    most = 0
    for row in move.shifted.clefs:
        span = row.first if row.first == row.last else f"{row.first}–{row.last}"
        if row.old != row.new:
            groups.setdefault((row.old, row.new), []).append(span)
        if row.ledgers:
            far.append(span)
            most = max(most, row.ledgers)
    for (old, new), spans in groups.items():
        yield f"{new} instead of {old} in {_measures(spans)}"
    if far:
        yield f"up to {most} ledger lines in {_measures(far)}"


def _measures(spans: Sequence[str]) -> str:
    single = len(set(spans)) == 1 and "–" not in spans[0]
    return f"{'measure' if single else 'measures'} {listed_measures(speech(), spans, _MOST)}"


def _playable(rows: Sequence[Found], can: str) -> str:
    if not rows:
        return f"everything {can}"
    notes: dict[str, list[str]] = {}
    glissandi = []
    for row in rows:
        if row.kind == "unplayable" and row.note is not None:
            notes.setdefault(row.note, []).append(row.measure)
        else:
            glissandi.append(row.measure)
    order = sorted(notes, key=lambda name: parse_pitch(name).midi)
    texts = [f"{parse_pitch(name).pretty} ({_measures(notes[name])})" for name in order[:_MOST]]
    more = len(order) - _MOST
    if more > 0:
        texts.append(f"{more} more {'pitch' if more == 1 else 'pitches'}")
    if glissandi:
        texts.append(f"glissandi in {_measures(glissandi)}")
    if not notes:
        return f"every note {can}, but not the {texts[0]}"
    count = sum(len(measures) for measures in notes.values())
    cannot = "couldn't be" if can.startswith("could") else "can't be"
    return f"{count} {'note' if count == 1 else 'notes'} {cannot}: {'; '.join(texts)}"


def _put_back(move: Move) -> str:
    groups: dict[str, list[str]] = {}
    for row in move.put_back:
        groups.setdefault(f"{row.moved.pretty} to {row.now.pretty}", []).append(row.measure)
    texts = [f"{names} in {_measures(measures)}" for names, measures in groups.items()]
    return f"by an octave: {'; '.join(texts)}"


def _nearest(move: Move, played: int) -> Iterable[str]:
    if move.nearest:
        words = [
            interval.words if interval.semitones else "where it is written"
            for interval in move.nearest
        ]
        what = "all notes, but not every glissando," if move.glissandi_left else "all"
        yield f"{what} would be playable {' or '.join(words)}"
    elif move.best is not None:
        interval, left = move.best
        yield (
            f"at no interval would all be playable; {interval.words} the fewest are left: "
            f"{left} of {played} notes"
        )
