"""Recorded low brass: right names, no octave errors, and agreement with an outside tracker.

The outside tracker is Praat's autocorrelation (P. Boersma, 1993) through praat-parselmouth. All of
the shared recordings are used where they are, else the copies in ``takes``.
"""

import csv
from pathlib import Path

import numpy as np
import parselmouth
import pytest

from handslide.edges.audio.read import read_take
from handslide.ground.units import cents
from handslide.sound.notes import hear

SHARED = Path(__file__).resolve().parents[3] / "shared" / "audio"
TAKES = SHARED if (SHARED / "index.csv").exists() else Path(__file__).parents[1] / "takes"
ROWS = list(csv.DictReader((TAKES / "index.csv").read_text(encoding="utf-8").splitlines()))


def praat_hz(samples, rate_hz, note):
    """Praat's mean pitch over the steady part, searched in three octaves around the note."""
    sound = parselmouth.Sound(samples, rate_hz)
    low, high = max(20.0, note.f0_hz / 2.2), min(2000.0, note.f0_hz * 3.2)
    pitch = sound.to_pitch_ac(time_step=0.01, pitch_floor=low, pitch_ceiling=high)
    time_s, hz = pitch.xs(), pitch.selected_array["frequency"]
    half_s = 1.5 / low  # its windows hold three periods of the lowest pitch: whole ones only
    use = (hz > 0) & (time_s - half_s > note.steady_start_s)
    use &= time_s + half_s < note.steady_end_s
    if use.sum() < 3:
        return None
    # Tuba D4's periods differ by turns before it ends: an octave low, for Praat.
    use &= np.abs(np.log2(np.where(hz > 0, hz, 1.0) / np.median(hz[use]))) < 0.5
    return np.exp(np.mean(np.log(hz[use])))


@pytest.mark.sample
@pytest.mark.parametrize("row", ROWS, ids=[Path(row["file"]).name for row in ROWS])
def test_a_recorded_note_is_heard_as_what_it_is(row):
    take = read_take(TAKES / row["file"])
    heard = hear(take.samples, take.rate_hz)
    (note,) = heard.notes
    length_s = note.steady_end_s - note.steady_start_s
    # A short or unsteady tone has no one pitch: its standard error says so.
    allowed = 3.0 if length_s > 1 and note.spread_cents < 5 else max(3.0, 3 * note.cents_se)
    if row["agreed_hz"]:
        agreed = cents(note.f0_hz / float(row["agreed_hz"]))
        assert abs(agreed) < 15, "not even the note"
        assert abs(agreed) < allowed
    if length_s > 0.3 and note.spread_cents < 5:
        assert note.cents_se < (2 if length_s > 1 else 6)
        outside = praat_hz(take.samples, take.rate_hz, note)
        assert outside is not None
        assert abs(cents(note.f0_hz / outside)) < allowed
    assert length_s > 0.6 * heard.length_s


@pytest.mark.parametrize("row", ROWS, ids=[Path(row["file"]).name for row in ROWS])
def test_a_short_piece_of_a_recorded_note_is_not_several_pitches(row):
    take = read_take(TAKES / row["file"])
    edge = np.linspace(0.0, 1.0, round(0.01 * take.rate_hz))
    for begin_s, length_s in ((0.8, 0.46), (1.2, 0.38), (1.2, 0.6)):
        first = round(begin_s * take.rate_hz)
        piece = take.samples[first : first + round(length_s * take.rate_hz)].copy()
        if len(piece) < length_s * take.rate_hz - 1:
            continue
        piece[: len(edge)] *= edge
        piece[-len(edge) :] *= edge[::-1]
        around = (round(0.2 * take.rate_hz), round(0.3 * take.rate_hz))
        heard = hear(np.pad(piece, around), take.rate_hz)
        assert "sounds.several_pitches" not in [row.why.kind for row in heard.left_out]
