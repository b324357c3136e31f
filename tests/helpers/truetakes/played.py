"""Phrases that somebody played, with the notes on which outside trackers agree."""

import csv

import soundfile

from .truth import TrueNote, TrueTake
from .voices import ROOT

PHRASES = ROOT / "tests" / "takes" / "phrases"


def played_phrases() -> list[TrueTake]:
    """All of them. Onsets are known to about 30 ms, pitches as the trackers' median."""
    table = (PHRASES / "notes.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(table.splitlines()))
    takes = []
    for number, name in enumerate(sorted({row["file"] for row in rows})):
        samples, rate_hz = soundfile.read(PHRASES / name, always_2d=True)
        notes = tuple(
            TrueNote(
                float(row["onset_s"]), float(row["offset_s"]), float(row["hz"]), how="", exact=False
            )
            for row in rows
            if row["file"] == name
        )
        mono = samples.mean(axis=1)
        takes.append(
            TrueTake("played", number, False, "recordings", mono, float(rate_hz), notes, {})
        )
    return takes
