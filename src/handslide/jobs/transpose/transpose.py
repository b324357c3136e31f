"""Move a part by an interval, say what of it can be played, mark it and print it.

The part as it came stays as it is: a copy is moved. What a student can play is asked of the
places of every note before and after, and the nearest intervals at which all could be played are
sought.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.musicxml.read import Score, open_score, read_score
from handslide.edges.musicxml.scorepart import ScorePart, ScoreWarning
from handslide.edges.musicxml.transpose import drop_other_parts, shift_part
from handslide.ground.facts import fact
from handslide.ground.intervals import Interval, of_semitones, parse_interval
from handslide.ground.pitch import Pitch, from_midi
from handslide.instrument.line import Line
from handslide.instrument.obstacles import clear
from handslide.instrument.places import PlaceBook
from handslide.jobs.mark.mark import MarkedPart, MarkOptions, Progress, choose_for, mark_json
from handslide.jobs.mark.report import Found
from handslide.jobs.mark.routed import played_line
from handslide.jobs.setup import Setup
from handslide.jobs.transpose.words import Move, PutBack, file_words, moved_section, titled
from handslide.words.hints import TERMINAL
from handslide.words.speech import speech

SEARCH_SEMITONES = 36


@dataclass(frozen=True, slots=True)
class ShiftWishes:
    """How to move: ``by`` an interval as typed (``-P8``, ``m3``, ``-12``).

    ``only``: leave the other parts out of the score. ``octave_fix``: put notes that can't be
    played back an octave.
    """

    by: str
    only: bool = False
    octave_fix: bool = False


@dataclass(frozen=True, eq=False)
class ShiftedPart:
    """A moved and marked part; ``marked`` has its own score, and ``move`` before its report."""

    marked: MarkedPart
    move: Move


def shift_score(
    score: Score,
    setup: Setup,
    wishes: ShiftWishes,
    options: MarkOptions,
    progress: Progress | None = None,
) -> ShiftedPart:
    """Move a part of an open score, which stays as it is, and choose the places of the result.

    Raises
    ------
    BadUsage
        No such interval, or as :func:`choose_for`.
    ScoreError
        As :func:`choose_for`; a note that would leave the octaves that a score can hold.
    """
    interval = parse_interval(wishes.by)
    copied = score.copy()
    part = copied.read_part(
        options.part, options.voice, options.tempo_qpm, small_notes=options.small_notes
    )
    line, written = played_line(part)
    octaves: dict[int, int] = {}
    if wishes.octave_fix:
        octaves = _put_back(part, setup.book, interval.semitones)
    shifted = shift_part(
        copied,
        part.part_id,
        interval,
        {part.notes[index].ordinal: count for index, count in octaves.items()},
    )
    others = len(copied.parts) - 1
    marked = choose_for(
        copied, setup, replace(options, title=titled(score, options, interval)), progress
    )
    warnings = [*shifted.warnings]
    if wishes.only and others:
        warnings += _alone(copied, marked.part, options)
    moved = [
        replace(note.sounding, octave=note.sounding.octave - octaves.get(note.index, 0))
        for note in marked.part.notes
    ]
    moved_line = replace(line, midi=line.midi + interval.semitones)
    after = _obstacles(part, moved_line, moved, setup.book)
    nearest, glissandi_left, best = _elsewhere(line, setup.book, interval.semitones, after)
    move = Move(
        interval=interval,
        part=part.name,
        others=others,
        only=wishes.only,
        shifted=shifted,
        before=_obstacles(part, line, written, setup.book),
        after=after,
        put_back=_put_back_rows(marked.part, octaves),
        nearest=nearest,
        glissandi_left=glissandi_left,
        best=best,
        warnings=tuple(warnings),
    )
    return ShiftedPart(replace(marked, preface=(moved_section(move, marked.part),)), move)


def _obstacles(
    part: ScorePart, line: Line, pitches: Sequence[Pitch], book: PlaceBook
) -> tuple[Found, ...]:
    """What can't be played of a line; ``pitches`` are those of the written notes."""
    cleared = clear(line, book, [pitches[index] for index in part.played])
    rows = []
    for obstacle in cleared.obstacles:
        index = part.played[obstacle.note]
        name = pitches[index].name
        rows.append(Found(part.notes[index].measure, index, name, obstacle.kind, obstacle.why))
    return tuple(dict.fromkeys(rows))


def _put_back(part: ScorePart, book: PlaceBook, semitones: int) -> dict[int, int]:
    """The octaves to put back, by written note. Both ends of a glissando go together."""
    first = 1 if semitones <= 0 else -1
    found: dict[int, int] = {}

    def playable(index: int, octaves: int) -> bool:
        return bool(book.places(part.notes[index].sounding.midi + semitones + 12 * octaves))

    for note in part.notes:
        if playable(note.index, 0):
            continue
        fitting = (octaves for octaves in (first, -first) if playable(note.index, octaves))
        octaves = next(fitting, 0)
        if octaves:
            found[note.index] = octaves
    pairs = [
        (part.played[k], part.played[k + 1]) for k in range(len(part.played) - 1) if part.gliss[k]
    ]
    for one, other in (*pairs, *(pair[::-1] for pair in reversed(pairs))):
        if one in found and other not in found and playable(other, found[one]):
            found[other] = found[one]
    return found


def _put_back_rows(part: ScorePart, octaves: Mapping[int, int]) -> tuple[PutBack, ...]:
    rows = []
    for index, count in sorted(octaves.items()):
        note = part.notes[index]
        now = note.sounding
        moved = replace(now, octave=now.octave - count)
        rows.append(PutBack(note.measure, note.number, moved, now))
    return tuple(rows)


def _elsewhere(
    line: Line, book: PlaceBook, semitones: int, after: Sequence[Found]
) -> tuple[tuple[Interval, ...], bool, tuple[Interval, int] | None]:
    """Where more could be played: `Move.nearest`, `Move.glissandi_left` and `Move.best`."""
    nearest = _nearest(line, book, semitones) if after else ()
    if nearest or all(row.kind == "glissando" for row in after):
        return nearest, False, None
    straight = replace(line, gliss=line.gliss & False)
    nearest = _nearest(straight, book, semitones)
    return nearest, bool(nearest), None if nearest else _best(line, book)


def _nearest(line: Line, book: PlaceBook, semitones: int) -> tuple[Interval, ...]:
    """The nearest intervals below and above a move at which everything can be played."""
    midis = sorted(set(line.midi.tolist()))
    found = []
    for way in (1, -1):
        for count in range(1, 2 * SEARCH_SEMITONES + 1):
            move = semitones + way * count
            if abs(move) > SEARCH_SEMITONES:
                break
            if all(book.places(midi + move) for midi in midis) and _all_clear(line, book, move):
                found.append((count, of_semitones(move)))
                break
    return tuple(interval for _, interval in sorted(found, key=lambda row: row[0]))


def _all_clear(line: Line, book: PlaceBook, move: int) -> bool:
    if not line.gliss.any():
        return True
    lifted = replace(line, midi=line.midi + move)
    return not clear(lifted, book, [from_midi(midi) for midi in lifted.midi.tolist()]).obstacles


def _best(line: Line, book: PlaceBook) -> tuple[Interval, int]:
    """The move that leaves the fewest notes without a place, and how many these are."""
    midis = line.midi.tolist()
    left = {
        move: sum(not book.places(midi + move) for midi in midis)
        for move in range(-SEARCH_SEMITONES, SEARCH_SEMITONES + 1)
    }
    best = min(left, key=lambda move: (left[move], abs(move)))
    return of_semitones(best), left[best]


def _alone(score: Score, part: ScorePart, options: MarkOptions) -> list[ScoreWarning]:
    """Leave the other parts out, and say so when tempo marks or jumps go with them."""
    drop_other_parts(score, part.part_id)
    alone = read_score(score.to_bytes(), score.name).read_part(
        part.part_id, part.voice, options.tempo_qpm, small_notes=options.small_notes
    )
    if alone.onset_s == part.onset_s and alone.played == part.played:
        return []
    text = "tempo marks or jumps stood in another part only; without it they are missing"
    return [ScoreWarning("", "tempo", fact(text))]


@dataclass(frozen=True, slots=True)
class ShiftFiles:
    """A moved part and the files that it was written to; ``pdf_path`` is None if not asked."""

    shifted: ShiftedPart
    score_path: Path
    pdf_path: Path | None


def shift_file(
    path: Path,
    setup: Setup,
    wishes: ShiftWishes,
    options: MarkOptions,
    *,
    folder: Path | None = None,
    with_pdf: bool = True,
    force: bool = False,
    progress: Progress | None = None,
) -> ShiftFiles:
    """Move a part of a score file; the results go beside it, or into ``folder``.

    The original is never written to.

    Raises
    ------
    ScoreError, BadUsage
        As :func:`shift_score`, or when the file can't be opened.
    OutputError
        When a result exists already (unless ``force``) or can't be written.
    """
    name = f"{path.stem}-{file_words(parse_interval(wishes.by))}"
    base = folder or path.parent
    score_path, pdf_path = base / (name + path.suffix), base / f"{name}.pdf"
    score = open_score(path)
    if score.converted:
        score_path = score_path.with_suffix(".musicxml")
    for target in (score_path, pdf_path) if with_pdf else (score_path,):
        check_free(target, force=force)
    shifted = shift_score(score, setup, wishes, options, progress)
    # The print is made first: a part that can't be engraved leaves nothing half done.
    pdf = shifted.marked.pdf(speech(), progress) if with_pdf else None
    write_result(score_path, shifted.marked.musicxml(), force=force)
    if pdf is not None:
        write_result(pdf_path, pdf, force=force)
    return ShiftFiles(shifted, score_path, pdf_path if with_pdf else None)


def shift_json(shifted: ShiftedPart, files: Sequence[Path] = ()) -> dict[str, Any]:
    """JSON of ``handslide shift``: that of ``mark``, with ``moved``."""
    move = shifted.move
    return {**mark_json(speech(face=TERMINAL), shifted.marked, files), "moved": move_json(move)}


def move_json(move: Move) -> dict[str, Any]:
    """The JSON object of a move. Keys are sharps, negative for flats."""

    def found(rows: Sequence[Found]) -> list[dict[str, Any]]:
        keys = ("measure", "number", "note", "kind", "text")
        return [{key: getattr(row, key) for key in keys} for row in rows]

    def named(interval: Interval) -> dict[str, Any]:
        return {
            "by": interval.name,
            "semitones": interval.semitones,
            "words": interval.words,
        }

    say = speech()
    return {
        **named(move.interval),
        "part": move.part,
        "notes": move.shifted.notes,
        "other_parts": move.others,
        "only": move.only,
        "keys": [
            {"measure": measure, "before": old, "after": new}
            for measure, old, new in move.shifted.keys
        ],
        "clefs": [
            {"first": row.first, "last": row.last, "before": row.old, "after": row.new,
             "ledgers": row.ledgers}
            for row in move.shifted.clefs
        ],
        "unplayable_before": found(move.before),
        "unplayable_after": found(move.after),
        "put_back": [
            {"measure": row.measure, "index": row.number, "moved": row.moved.name,
             "now": row.now.name}
            for row in move.put_back
        ],
        "all_playable": [named(interval) for interval in move.nearest],
        "glissandi_left": move.glissandi_left,
        "fewest": None
        if move.best is None
        else {**named(move.best[0]), "unplayable": move.best[1]},
        "warnings": [
            {"measure": row.measure, "kind": row.kind, "text": say.fact(row.told)}
            for row in move.warnings
        ],
    }  # fmt: skip
