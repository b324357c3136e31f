"""A heard recording: its notes, how sure each is, and what was left out."""

import csv
import io
from pathlib import Path
from typing import Any, BinaryIO

from handslide.edges.audio.read import open_take
from handslide.edges.files.cells import plain_cell
from handslide.edges.files.outfile import check_free, write_result
from handslide.ground.facts import Fact
from handslide.ground.pitch import Pitch, from_midi
from handslide.ground.progress import ProgressCallback
from handslide.jobs.hear.listening import Listening, listening_of
from handslide.sound.measure import LeftOut
from handslide.sound.notes import HeardNote, HeardTake, check_a4
from handslide.sound.stream import Listener
from handslide.words.speech import Speech

CSV_KEYS = (
    "note", "midi", "start_s", "end_s", "steady_start_s", "steady_end_s", "f0_hz", "cents",
    "cents_se", "spread_cents", "vibrato_hz", "vibrato_cents", "scoop_cents", "level_db",
    "drift_cents",
)  # fmt: skip
_DIGITS = {"f0_hz": 4, "cents_se": 4, "level_db": 1, "spread_cents": 2, "vibrato_hz": 2}


def listen_file(
    audio: Path | BinaryIO,
    *,
    a4_hz: float | None = 440.0,
    name: str = "",
    closely: bool = False,
    progress: ProgressCallback | None = None,
) -> HeardTake:
    """The notes of a recording, read in blocks so that hours of it fit in memory.

    ``audio`` is a file, or an open one that is called ``name``; ``a4_hz`` None estimates the
    tuning pitch; ``closely``: listen to more than pitch.

    Raises TakeError for a file that can't be used.
    """
    check_a4(a4_hz)
    take = open_take(audio, name)
    listener = Listener(take.rate_hz, a4_hz=a4_hz, live=False)
    total = round((take.length_s or 0.0) * take.rate_hz)
    for block in take.blocks():
        listener.push(block)
        if progress is not None and total:
            progress("hearing", min(take.read, total), 2 * total)
    return listener.close(progress=progress, closely=closely)


def take_json(take: HeardTake, say: Speech, drone: Pitch | None = None) -> dict[str, Any]:
    """JSON of ``handslide listen``; keys with None are null: they couldn't be told."""
    heard = listening_of(take, drone=drone)
    return {
        "a4_hz": round(take.a4_hz, 3),
        "a4_estimated": take.a4_estimated,
        "length_s": round(take.length_s, 3),
        "notes": [note_row(note) for note in take.notes],
        "left_out": [left_out_json(row, say) for row in take.left_out],
        "warnings": [warning_json(warning, say) for warning in take.warnings],
        **listening_json(heard, say),
    }


def listening_json(heard: Listening | None, say: Speech) -> dict[str, Any]:
    """The keys ``trust`` and ``listening`` of ``handslide listen``: docs/listening.md."""
    if heard is None:
        return {}
    facts = (*heard.quality, *heard.believed, *heard.advice)
    findings = [warning_json(one, say) for one in heard.findings]
    return {
        "trust": {**heard.trust, "words": [warning_json(one, say) for one in facts]},
        "listening": {"findings": findings, **heard.figures},
    }


def left_out_json(row: LeftOut, say: Speech) -> dict[str, Any]:
    """Something that sounded and isn't among the notes, as JSON."""
    return {
        "start_s": round(row.start_s, 3),
        "end_s": round(row.end_s, 3),
        "why": say.fact(row.why),
        "why_kind": row.why.kind,
    }


def warning_json(warning: Fact, say: Speech) -> dict[str, str]:
    """What is to be known of a take, as JSON."""
    return {"kind": warning.kind, "text": say.fact(warning)}


def note_row(note: HeardNote) -> dict[str, Any]:
    """One note under the keys of the CSV file, rounded to what can be known."""
    row: dict[str, Any] = {"note": from_midi(note.midi).name, "midi": note.midi}
    for key in CSV_KEYS[2:]:
        value = getattr(note, key)
        row[key] = None if value is None else round(value, _DIGITS.get(key, 3))
    return row


def write_csv(take: HeardTake, path: Path, *, force: bool = False) -> Path:
    """Write the notes as a table, one row a note. Raises OutputError for a file that exists."""
    check_free(path, force=force)
    text = io.StringIO()
    table = csv.DictWriter(text, CSV_KEYS, lineterminator="\n")
    table.writeheader()
    table.writerows(
        {key: plain_cell(value) for key, value in note_row(note).items()} for note in take.notes
    )
    write_result(path, text.getvalue().encode(), force=force)
    return path
