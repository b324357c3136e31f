"""The listen job and command: contract, report, errors."""

import csv
import json

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from scenes import RATE_HZ, metronome, note, pause

from handslide.faces.cli.main import main
from handslide.jobs.hear.listen import listen_file, take_json
from handslide.sound.notes import hear
from handslide.sound.tones import vibrato
from handslide.words.speech import speech


def run(*words, code=0):
    result = CliRunner().invoke(main, ["listen", *[str(word) for word in words]])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == code, result.output + result.stderr
    return result


@pytest.fixture
def take(tmp_path):
    """B flat 2, 10 cents sharp; D3 with vibrato; two clicks."""
    wave = vibrato(1.5, RATE_HZ, 20, 5.5)
    line = np.concatenate(
        (pause(0.3), note(46, 1, cents=10.0), pause(0.2), note(50, 1.5, cents=wave))
    )
    line = line + 1e-3 * np.random.default_rng(0).standard_normal(len(line))
    path = tmp_path / "take.wav"
    soundfile.write(path, np.concatenate((metronome(1.0), line)), RATE_HZ)
    return path


def test_json(take):
    shown = json.loads(run(take, "--json").stdout)
    assert set(shown) >= {"a4_hz", "notes", "left_out", "warnings"}
    low, high = shown["notes"]
    assert set(low) >= {"start_s", "end_s", "f0_hz", "note", "cents", "cents_se", "spread_cents"}
    assert (low["note"], low["midi"], high["note"]) == ("Bb2", 46, "D3")
    assert low["cents"] == pytest.approx(10.0, abs=0.2)
    assert low["vibrato_hz"] is None
    assert high["vibrato_hz"] == pytest.approx(5.5, abs=0.2)
    assert {row["why"] for row in shown["left_out"]} <= {"click", "too short", "metronome"}
    kinds = {"sounds.click", "sounds.too_short", "sounds.beep"}
    assert {row["why_kind"] for row in shown["left_out"]} <= kinds
    assert shown["a4_hz"] == 440.0
    assert shown["a4_estimated"] is False


def test_text(take):
    text = run(take).stdout
    assert "A4 = 440.0 Hz (given)" in text
    assert "B♭2" in text
    assert "+10.0" in text
    assert "±20 at 5.5 Hz" in text
    assert "left out:" in text
    assert "Nothing left this machine" in text
    assert "minors" in text


def test_a4(take):
    low = json.loads(run(take, "--a4", "442", "--json").stdout)["notes"][0]
    assert low["cents"] == pytest.approx(10.0 - 7.85, abs=0.2)
    shown = json.loads(run(take, "--estimate-a4", "--json").stdout)
    assert shown["a4_estimated"] is True
    assert 440 < shown["a4_hz"] < 443
    assert "estimated from the notes" in run(take, "--estimate-a4").stdout
    assert "choose one" in run(take, "--a4", "442", "--estimate-a4", code=2).stderr
    assert "outside 380 to 500 Hz" in run(take, "--a4", "44", code=1).stderr


def test_csv(take, tmp_path):
    table = tmp_path / "notes.csv"
    run(take, "--csv", table)
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    assert [row["note"] for row in rows] == ["Bb2", "D3"]
    assert rows[0]["vibrato_hz"] == ""
    assert float(rows[0]["f0_hz"]) == pytest.approx(117.21, abs=0.05)
    assert "exists already" in run(take, "--csv", table, code=1).stderr
    run(take, "--csv", table, "--force")


def test_nothing_but_the_table_is_written(take, tmp_path):
    before = sorted(tmp_path.iterdir())
    run(take)
    assert sorted(tmp_path.iterdir()) == before


def test_a_take_without_notes_says_so(tmp_path):
    path = tmp_path / "silent.wav"
    soundfile.write(path, np.zeros(RATE_HZ), RATE_HZ)
    assert "the take is silent" in run(path).stdout
    assert json.loads(run(path, "--json").stdout)["notes"] == []


def test_errors_are_one_sentence(tmp_path):
    for path in (tmp_path / "no.wav", tmp_path):
        text = run(path, code=1).stderr.strip()
        assert text.startswith("handslide: ")
        assert len(text.splitlines()) == 1


def test_the_file_in_blocks_is_the_same_as_the_whole(take):
    stages = []
    blocks = listen_file(take, progress=lambda *told: stages.append(told))
    samples, rate_hz = soundfile.read(take)
    english = speech("en")
    assert take_json(blocks, english) == take_json(hear(samples, rate_hz), english)
    assert {stage for stage, _, _ in stages} == {"hearing", "measuring"}
    assert all(0 <= done <= total for _, done, total in stages)
