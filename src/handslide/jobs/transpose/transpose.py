"""Move a part by an interval, say what of it can be played, mark it and print it.

The part as it came stays as it is: a copy is moved. What a student can play is asked of the
places of every note before and after, and the nearest intervals at which all could be played are
sought.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.musicxml.read import Score, open_score, read_score
from handslide.edges.musicxml.scorepart import ScorePart, ScoreWarning
from handslide.edges.musicxml.transpose import drop_other_parts, transpose_part
from handslide.edges.typesetting.part import Section
from handslide.ground.facts import fact
from handslide.ground.intervals import Interval, parse_interval
from handslide.ground.pitch import Pitch
from handslide.ground.progress import ProgressCallback
from handslide.instrument.elsewhere import fewest_left, nearest_intervals
from handslide.instrument.line import Line
from handslide.instrument.obstacles import clear
from handslide.instrument.places import PlaceBook
from handslide.jobs.chart.content import default_clef
from handslide.jobs.mark.mark import MarkedPart, MarkOptions, choose_for
from handslide.jobs.mark.markjson import mark_json
from handslide.jobs.mark.measures import measure_names
from handslide.jobs.mark.report import Found
from handslide.jobs.mark.routed import played_line
from handslide.jobs.mark.written import printed
from handslide.jobs.partwishes import read_wished
from handslide.jobs.setup import Setup
from handslide.jobs.transpose.findings import PutBack, Transposition, findings
from handslide.words.intervals import interval_words
from handslide.words.speech import Speech
from handslide.words.transpose import HEADING, ROWS, file_words, transposed_title


@dataclass(frozen=True, slots=True)
class TransposeWishes:
    """How to move: ``by`` an interval as typed (``-P8``, ``m3``, ``-12``).

    ``only``: leave the other parts out of the score. ``octave_fix``: put notes that can't be
    played back an octave.
    """

    by: str
    only: bool = False
    octave_fix: bool = False


@dataclass(frozen=True, eq=False)
class TransposedPart:
    """A transposed and marked part; ``marked`` has its own score.

    What was ``done`` stands before its report.
    """

    marked: MarkedPart
    done: Transposition


def transpose_score(
    score: Score,
    setup: Setup,
    wishes: TransposeWishes,
    options: MarkOptions,
    say: Speech,
    progress: ProgressCallback | None = None,
) -> TransposedPart:
    """Move a part of an open score, which stays as it is, and choose the places of the result.

    ``say`` gives it its title.

    Raises
    ------
    BadUsage
        No such interval, or as :func:`choose_for`.
    ScoreError
        As :func:`choose_for`; a note that would leave the octaves that a score can hold.
    """
    interval = parse_interval(wishes.by)
    copied = score.copy()
    part = read_wished(copied, options)
    line, written = played_line(part)
    octaves: dict[int, int] = {}
    if wishes.octave_fix:
        octaves = _put_back(part, setup.book, interval.semitones)
    changes = transpose_part(
        copied,
        part.part_id,
        interval,
        {
            part.notes[index].ordinal: Interval(7 * count, 12 * count)
            for index, count in octaves.items()
        },
        home=default_clef(setup.horn).name,
    )
    others = len(copied.parts) - 1
    title = options.title or score.title or Path(score.name).stem
    title = transposed_title(say, title, interval)
    marked = choose_for(copied, setup, replace(options, title=title), progress)
    warnings = [*changes.warnings]
    if wishes.only and others:
        warnings += _alone(copied, marked.part, options)
    moved = [
        replace(note.sounding, octave=note.sounding.octave - octaves.get(note.index, 0))
        for note in marked.part.notes
    ]
    moved_line = replace(line, midi=line.midi + interval.semitones)
    after = _obstacles(part, moved_line, moved, setup.book)
    nearest, glissandi_left, best = _elsewhere(line, setup.book, interval.semitones, after)
    done = Transposition(
        interval=interval,
        part=part.name,
        others=others,
        only=wishes.only,
        changes=changes,
        before=_obstacles(part, line, written, setup.book),
        after=after,
        put_back=_put_back_rows(marked.part, octaves),
        nearest=nearest,
        glissandi_left=glissandi_left,
        best=best,
        played=len(marked.part.played),
        warnings=tuple(warnings),
    )
    return TransposedPart(replace(marked, preface=partial(transposed_section, done)), done)


def transposed_section(done: Transposition, say: Speech) -> Section:
    """What was done and found, as a section of the report."""
    rows = tuple((say(ROWS[row]), say.fact(told)) for row, told in findings(done))
    return Section(say(HEADING), rows)


def _obstacles(
    part: ScorePart, line: Line, pitches: Sequence[Pitch], book: PlaceBook
) -> tuple[Found, ...]:
    """What can't be played of a line; ``pitches`` are those of the written notes."""
    cleared = clear(line, book, [pitches[index] for index in part.played])
    rows, names = [], measure_names(part)
    for obstacle in cleared.obstacles:
        index = part.played[obstacle.note]
        measure, name = names.name(part.notes[index].measure_index), pitches[index].name
        rows.append(Found(measure, index, name, obstacle.kind, obstacle.why))
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
    rows, names = [], measure_names(part)
    for index, count in sorted(octaves.items()):
        note = part.notes[index]
        now = note.sounding
        moved = replace(now, octave=now.octave - count)
        rows.append(PutBack(names.name(note.measure_index), note.number, moved, now))
    return tuple(rows)


def _elsewhere(
    line: Line, book: PlaceBook, semitones: int, after: Sequence[Found]
) -> tuple[tuple[Interval, ...], bool, tuple[Interval, int] | None]:
    """Where more could be played: `nearest`, `glissandi_left` and `best` of a `Transposition`."""
    nearest = nearest_intervals(line, book, semitones) if after else ()
    if nearest or all(row.kind == "glissando" for row in after):
        return nearest, False, None
    straight = replace(line, gliss=line.gliss & False)
    nearest = nearest_intervals(straight, book, semitones)
    return nearest, bool(nearest), None if nearest else fewest_left(line, book)


def _alone(score: Score, part: ScorePart, options: MarkOptions) -> list[ScoreWarning]:
    """Leave the other parts out, and say so when tempo marks or jumps go with them."""
    drop_other_parts(score, part.part_id)
    one = replace(options, part=part.part_id, voice=part.voice)
    alone = read_wished(read_score(score.to_bytes(), score.name), one)
    if alone.onset_s == part.onset_s and alone.played == part.played:
        return []
    return [ScoreWarning("", "tempo", fact("transpose.tempo_elsewhere"))]


@dataclass(frozen=True, slots=True)
class TransposedFiles:
    """A transposed part and the files that it was written to; ``pdf_path`` None if not asked,
    or if it can't be engraved."""

    transposed: TransposedPart
    score_path: Path
    pdf_path: Path | None


def transpose_file(
    path: Path,
    setup: Setup,
    wishes: TransposeWishes,
    options: MarkOptions,
    say: Speech,
    *,
    folder: Path | None = None,
    with_pdf: bool = True,
    force: bool = False,
    progress: ProgressCallback | None = None,
) -> TransposedFiles:
    """Move a part of a score file; the results go beside it, or into ``folder``.

    The original is never written to. A part that can't be engraved is moved all the same; a warning
    of the kind ``not_engraved`` says so.

    Raises
    ------
    ScoreError, BadUsage
        As :func:`transpose_score`, or when the file can't be opened.
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
    transposed = transpose_score(score, setup, wishes, options, say, progress)
    # The print is made first: where it can't be set, nothing is left half done.
    pdf = None
    if with_pdf:
        marked, pdf = printed(transposed.marked, say, progress)
        transposed = replace(transposed, marked=marked)
    write_result(score_path, transposed.marked.musicxml(), force=force)
    if pdf is not None:
        write_result(pdf_path, pdf, force=force)
    return TransposedFiles(transposed, score_path, None if pdf is None else pdf_path)


def transposed_json(
    transposed: TransposedPart, say: Speech, files: Sequence[Path] = ()
) -> dict[str, Any]:
    """JSON of ``handslide transpose``: that of ``mark``, with ``moved``."""
    marked = mark_json(say, transposed.marked, files)
    return {**marked, "moved": transposition_json(transposed.done, say)}


def transposition_json(done: Transposition, say: Speech) -> dict[str, Any]:
    """The JSON object of what was done. Keys are sharps, negative for flats."""

    def found(rows: Sequence[Found]) -> list[dict[str, Any]]:
        return [
            {"measure": row.measure, "number": row.number, "note": row.note, "kind": row.kind,
             "text": say.fact(row.told)}
            for row in rows
        ]  # fmt: skip

    def named(interval: Interval) -> dict[str, Any]:
        return {
            "by": interval.name,
            "semitones": interval.semitones,
            "words": interval_words(say, interval),
        }

    return {
        **named(done.interval),
        "part": done.part,
        "notes": done.changes.notes,
        "other_parts": done.others,
        "only": done.only,
        "keys": [
            {"measure": measure, "before": old, "after": new}
            for measure, old, new in done.changes.keys
        ],
        "clefs": [
            {"first": row.first, "last": row.last, "before": say.fact(row.old),
             "after": say.fact(row.new), "ledgers": row.ledgers}
            for row in done.changes.clefs
        ],
        "unplayable_before": found(done.before),
        "unplayable_after": found(done.after),
        "put_back": [
            {"measure": row.measure, "index": row.number, "moved": row.moved.name,
             "now": row.now.name}
            for row in done.put_back
        ],
        "all_playable": [named(interval) for interval in done.nearest],
        "glissandi_left": done.glissandi_left,
        "fewest": None
        if done.best is None
        else {**named(done.best[0]), "unplayable": done.best[1]},
        "warnings": [
            {"measure": row.measure, "kind": row.kind, "text": say.fact(row.told)}
            for row in done.warnings
        ],
    }  # fmt: skip
