"""Sheets over drones: the drones beside the sheet, and the exercises played just above them."""

from pathlib import Path

import pytest
import soundfile
from command import one_sentence, run, run_json
from drill_words import SAY
from musicxml_build import attributes, notes, score
from musicxml_build import part as part_of
from sound_meter import line_hz

from handslide.edges.engraving.engrave import paper_named
from handslide.edges.musicxml.read import read_score
from handslide.edges.typesetting.worksheet import engrave_exercise
from handslide.ground.pitch import parse_pitch
from handslide.ground.temperament import just_ratio
from handslide.jobs.practice.drill import DrillWishes, make_drill
from handslide.jobs.practice.drilldrones import exercise_of, played_wishes
from handslide.jobs.practice.music import struck
from handslide.jobs.practice.playalong import playalong_data
from handslide.jobs.setup import make_setup


def test_a_sheet_over_drones_comes_with_them(tmp_path):
    drill = ("drill", "intonation", "--exercises", 1, "--a4", 442, "-o", tmp_path)
    found = run_json(*drill, "--drones", "flac")
    names = [Path(file).name for file in found["files"]]
    assert names[:2] == ["intonation.musicxml", "intonation.pdf"]
    held, played = names[2:]
    note = held.split("-")[2]
    assert (held, played) == (
        f"intonation-1-{note}-drone.flac",
        f"intonation-1-{note}-played.flac",
    )
    want_hz = parse_pitch(note.replace("s", "#")).hz(442.0)
    sound, rate = soundfile.read(tmp_path / held)
    assert len(sound) / rate == 120.0
    assert line_hz(sound[rate : 3 * rate], rate, want_hz) == pytest.approx(want_hz, rel=1e-5)
    # The score itself says what is below, so that a drone can follow it.
    again = run_json("drone", "--follow", tmp_path / "intonation.musicxml", "--a4", 442)
    assert [one["kind"] for one in again["drone"]["chords"]] == ["pedal"]
    # Nothing is lost, and nothing is half done.
    (tmp_path / "intonation.pdf").unlink()
    assert "exists already" in one_sentence(run(*drill, "--drones", "flac", code=1))
    assert not (tmp_path / "intonation.pdf").exists()


def test_lessons_and_routines_come_with_their_drones(tmp_path):
    part = tmp_path / "part.musicxml"
    part.write_bytes(score(part_of(attributes() + notes("Bb2 C3 D3 Eb3"))))
    lesson = ("lesson", part, "--drill", "intonation", "--drill", "scales")
    found = run_json(*lesson, "-o", tmp_path / "l.pdf", "--drones", "wav")
    names = [Path(file).name for file in found["files"]]
    # Warm-up first: the number is that of the sheet.
    number = len(found["warmup"]) + 1
    assert [name.split("-")[:2] for name in names[1:]] == [["l", str(number)]] * 2
    assert soundfile.info(tmp_path / names[1]).duration == 120.0
    assert "no exercise of this sheet" in one_sentence(
        run("routine", "--drones", "ogg", "-o", tmp_path / "r.pdf", code=2)
    )
    assert not (tmp_path / "r.pdf").exists()
    plan = ("plan", "--weeks", 1, "--minutes", 10, "--weak", "intonation", "--sheets")
    files = run_json(*plan, "-o", tmp_path)["files"]
    assert [Path(file).suffix for file in files] == [".pdf", ".pdf", ".mp3", ".mp3"]


def test_the_notes_over_a_drone_are_just():
    sheet = make_drill(make_setup("tenor-f"), "intonation", seed=3)
    for number, one in enumerate(sheet.pieces, 1):
        note = one.piece.drone
        made, _ = playalong_data(exercise_of(sheet, number).score, played_wishes(note, 440.0))
        rows = struck(one.piece)
        assert len(made.notes) == len(rows)
        for row, sounding in zip(rows, made.notes):
            ratio = just_ratio(row.pitch.midi - note.midi)
            assert sounding.hz == pytest.approx(note.hz() * float(ratio), rel=1e-9)
        assert {str(just_ratio(row.pitch.midi - note.midi)) for row in rows} <= {
            "1", "6/5", "5/4", "3/2", "2",
        }  # fmt: skip


def test_only_what_is_over_drones_has_them(tmp_path):
    assert "no exercise of this sheet is played over a drone" in one_sentence(
        run("drill", "scales", "--drones", "ogg", "-o", tmp_path, code=2)
    )
    assert list(tmp_path.iterdir()) == []
    files = run_json("drill", "intonation", "--exercises", 1, "--no-pdf", "-o", tmp_path)["files"]
    assert [Path(file).name for file in files] == ["intonation.musicxml"]


def test_a_hidden_chord_symbol_isn_t_engraved():
    sheet = make_drill(make_setup("tenor-f"), "intonation", DrillWishes(pieces=1))
    assert b"<harmony" in sheet.musicxml(SAY)
    drawn = sheet.pieces[0].exercise("1", paper_named("a4"), SAY)
    assert drawn.music and not any('class="harm"' in one for one in drawn.music)
    shown = sheet.musicxml(SAY).replace(b' print-object="no"', b"")
    part = read_score(shown).parts[0].part_id
    drawn = engrave_exercise(read_score(shown), part, {}, paper_named("a4"))
    assert any('class="harm"' in one for one in drawn.pages)
