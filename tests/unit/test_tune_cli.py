"""The commands tune and fit as a teacher types them."""

import wave
from pathlib import Path

import numpy as np
import pytest
import simhorns
from command import run, run_json

from handslide.edges.files.horns import load_horn

ROWS = Path(__file__).resolve().parents[2] / "examples" / "fit.csv"


def test_tune_json_has_the_keys_of_the_contract():
    got = run_json("tune", "--horn", "tenor-f", "--open", 174.0, "--valve", 172.0)
    assert got["difference_cents"] == pytest.approx(-20.01, abs=0.01)
    # F tube at 172 Hz and 25 °C: 4·347.13/(2·172) = 4.0364 m; ·(1 - 2^(-20.01/1200)) / 2 = 23.2 mm
    assert got["pull_mm"] == pytest.approx(23.2, abs=0.05)
    assert (got["direction"], got["slide"], got["matters"]) == ("in", "F", True)
    assert {"difference_se_cents", "text", "temp_c", "a4_hz"} <= set(got)


def test_a_difference_that_nobody_hears_is_said_to_be_one():
    got = run_json("tune", "--horn", "tenor-f", "--open", 174.0, "--valve", 174.3)
    assert (got["direction"], got["matters"]) == ("out", False)
    assert "listeners don't hear it" in got["text"]
    none = run_json("tune", "--horn", "tenor-f", "--open", 174.0, "--valve", 174.0)
    assert (none["direction"], none["pull_mm"], none["matters"]) == ("none", 0.0, False)
    assert "Leave the F loop" in none["text"]


def test_main_slide_states_the_temperature():
    text = run("tune", "--main", "Bb3=231.5", "--horn", "tenor-f", "--temp-c", 20).stdout
    assert "Push the main slide in by 10.1" in text
    assert "air of 20 °C" in text
    assert "3.0 cents sharper" in text
    later = run_json("tune", "--main", "Bb3=231.5", "--temp-c", 20, "--play-temp-c", 25)
    # 5 °C warmer the horn is some 15 cents sharper by itself: now it is only 3 cents sharp of that.
    assert later["rise_cents"] == pytest.approx(15.7, abs=0.3)
    assert later["direction"] == "out"


def test_main_with_a_poor_partial_is_told():
    assert "5th partial lies −14 cents" in run("tune", "--main", "D4=293.6").stdout


def test_a_note_with_the_valve_and_the_pair():
    got = run_json("tune", "--horn", "bass-independent", "--with", "F", "--note", "F3=174.2")
    assert (got["slide"], got["direction"]) == ("F", "in")
    assert got["together_after"][0]["cents"] == pytest.approx(-8.0, abs=0.1)
    both = run_json("tune", "--horn", "bass-independent", "--with", "F,Gb", "--note", "D3=146.16")
    assert both["slide"] == "Gb"
    assert [row["slide"] for row in both["choices"]] == ["Gb", "F"]
    assert both["choices"][0]["alone_cents"] == pytest.approx(9.9, abs=0.4)
    dependent = run("tune", "--horn", "bass-dependent", "--with", "F,D", "--note", "D3=146.0")
    assert "changes only the notes with both valves" in dependent.stdout


def test_e_pull():
    got = run_json("tune", "--horn", "tenor-f", "--e-pull")
    assert (got["note"], got["direction"]) == ("B1", "out")
    assert got["extension_mm"] == 670.0
    assert got["pull_mm"] == pytest.approx(153.0, abs=1.0)
    error = run("tune", "--horn", "tenor-f", "--e-pull", "--max-pull-mm", 120, code=1).stderr
    assert "missed by 33 mm of slide" in error


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ((), "give one of"),
        (("--open", 174), "a pair is needed"),
        (("--open", 174, "--valve", 173, "--main", "Bb3=233"), "give one of"),
        (("--main", "Bb3"), "write its frequency, like Bb3=174.2"),
        (("--main", "Bb3=high"), "write it like F3=174.2"),
        (("--note", "F3=174.2", "--horn", "tenor"), "has no valve"),
        (("--note", "F3=174.2", "--horn", "bass-independent"), "say which were down"),
        (("--note", "F3=174.2", "--horn", "tenor-f", "--with", "D"), "has no valve 'D'"),
        (("--note", "F3=174.2", "--horn", "bass-dependent", "--with", "D"), "without the valve"),
        (("--e-pull", "--horn", "tenor"), "has no valve"),
        (("--main", "Bb3=233", "--with", "F"), "--main is without valves"),
        (("--main", "Bb3=233", "--low", "B1"), "go with --e-pull"),
        (("--e-pull", "--horn", "tenor-f", "--play-temp-c", 20), "goes with --main"),
        (("--main", "Bb3=233", "--se-cents", -1), "--se-cents"),
    ],
)
def test_usage_errors(words, why):
    assert why in run("tune", *words, code=2).stderr


def test_bad_data_exits_with_1():
    assert "an octave off" in run("tune", "--main", "Bb3=466", code=1).stderr
    assert "shortens the tube" in run("tune", "--e-pull", "--horn", "tenor-c-bb", code=1).stderr


# fit


def test_fit_writes_a_horn_that_other_commands_take(tmp_path):
    own = tmp_path / "own.toml"
    got = run_json("fit", ROWS, "--horn", "tenor-f", "-o", own, "--name", "Mira's horn")
    assert got["file"] == str(own)
    assert got["left_out"] == []
    assert got["used"] == 9
    assert {"deviations", "places", "next", "speed_scale", "length_mm", "valves"} <= set(got)
    assert got["worst_half_width_mm"] > 20.0
    assert len(got["next"]) == 3
    listed = run_json("places", "F3", "--horn", own)
    assert listed["horn_title"] == "Mira's horn"
    text = own.read_text("utf-8")
    assert text.startswith("# Fitted from 9 notes")
    assert "half_width_mm" in text
    again = run("fit", ROWS, "--horn", "tenor-f", "-o", own, code=1).stderr
    assert "exists already" in again
    run("fit", ROWS, "--horn", "tenor-f", "-o", own, "--force")


def test_fit_text_says_what_is_uncertain_and_what_to_play_next():
    text = run("fit", ROWS, "--horn", "tenor-f").stdout
    assert "Closed-slide notes alone leave" in text
    assert "Play next, to learn most" in text
    assert "written" not in text


def test_fit_names_what_it_leaves_out(tmp_path):
    path = tmp_path / "rows.csv"
    path.write_text(ROWS.read_text("utf-8") + "D4,233.5,,5,0\n", "utf-8")
    text = run("fit", path, "--horn", "tenor-f").stdout
    assert "row 11, D4 (233.5 Hz)" in text
    assert "sounds B♭3, not D4" in text


def test_fit_says_what_it_noticed_of_scatter_warming_and_marks(tmp_path):
    rng = np.random.default_rng(5)
    horn = simhorns.draw(rng, "tenor-f", "mild")
    played = simhorns.Session(3, 4.0, offset_mm=20.0, drift_cents=8.0)
    lines = ["hz,valves,partial,extension_mm"]
    for row in simhorns.play_list(rng, horn, (0.0, 0.3, 0.6), played):
        mm = 1000 * row.extension_m
        lines.append(f"{row.frequency_hz:.3f},{'+'.join(row.valves)},{row.partial},{mm:g}")
    path = tmp_path / "rows.csv"
    path.write_text("\n".join(lines), "utf-8")
    words = ("fit", path, "--horn", "tenor-f", "--temp-c", f"{simhorns.TEMP_C:g}")
    got = run_json(*words)
    assert got["scatter_low_cents"] < got["scatter_cents"] < got["scatter_high_cents"]
    assert got["scatter_cents"] == pytest.approx(4.0, abs=1.0)
    told = {one["kind"]: one for one in got["noticed"]}
    assert told["fitting.horn_drifted"]["cents"] == pytest.approx(8.0, abs=3.0)
    assert told["fitting.marks_off"]["off_mm"] == pytest.approx(20.0, abs=8.0)
    assert told["fitting.marks_off"]["marks_mm"] == [300.0, 600.0]
    text = run(*words).stdout
    assert "Your notes scatter by about 4 cents" in text
    assert "The horn warmed by about" in text
    assert "All marks (300 mm and 600 mm) seem" in text
    assert "mm further out" in text


def test_fit_errors(tmp_path):
    own = tmp_path / "own.toml"
    assert "ends in .toml" in run("fit", ROWS, "-o", tmp_path / "own.txt", code=2).stderr
    assert "no such file" in run("fit", tmp_path / "none.csv", "-o", own, code=1).stderr
    wrong = run("fit", ROWS, "--horn", "tenor", "-o", own, code=1).stderr
    assert "can't engage" in wrong
    blind = run("fit", ROWS, "--horn", "tenor-f", "--no-thermometer", "-o", own, code=1).stderr
    assert "need a mark" in blind
    assert not own.exists()


def test_fit_needs_rows_or_the_list():
    assert "give a file of notes" in run("fit", code=2).stderr
    assert "give a file of notes" in run("fit", ROWS, "--list", code=2).stderr


# From takes


RATE = 22050


def write_take(path, notes, seconds=1.2, gap=0.35):
    """A take of harmonic tones at the given frequencies, as a 16-bit WAV file."""
    rng = np.random.default_rng(3)
    t = np.arange(round(seconds * RATE)) / RATE
    edge = np.minimum(1.0, np.minimum(t, t[::-1]) / 0.04)
    pieces = [np.zeros(round(gap * RATE))]
    for hz in notes:
        tone = sum(0.7**k * np.sin(2 * np.pi * k * hz * t + k) for k in range(1, 9))
        pieces += [0.2 * edge * tone, np.zeros(round(gap * RATE))]
    samples = np.concatenate(pieces)
    samples = samples + 1e-4 * rng.standard_normal(len(samples))
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes((32767 * np.clip(samples, -1, 1)).astype("<i2").tobytes())
    return path


def test_tune_from_one_take_and_from_two(tmp_path):
    both = write_take(tmp_path / "both.wav", [174.0, 172.0, 174.1, 172.1])
    one = run_json("tune", both, "--horn", "tenor-f")
    assert one["difference_cents"] == pytest.approx(-20.0, abs=0.5)
    assert one["difference_se_cents"] == pytest.approx(2.0, abs=0.1)
    assert one["direction"] == "in"
    first = write_take(tmp_path / "open.wav", [174.0])
    second = write_take(tmp_path / "valve.wav", [172.0])
    two = run_json("tune", first, second, "--horn", "tenor-f")
    assert two["difference_cents"] == pytest.approx(-20.0, abs=0.3)
    main_slide = run_json("tune", first, "--main", "F3")
    assert main_slide["slide"] == "main"
    assert main_slide["difference_cents"] == pytest.approx(-6.1, abs=0.3)


def test_takes_that_are_no_pair(tmp_path):
    single = write_take(tmp_path / "single.wav", [174.0])
    assert "two are needed" in run("tune", single, "--horn", "tenor-f", code=1).stderr
    mixed = write_take(tmp_path / "mixed.wav", [174.0, 233.0, 174.0, 290.0])
    assert "one and the same note" in run("tune", mixed, single, "--horn", "tenor-f", code=1).stderr
    words = ("tune", single, single, single, "--horn", "tenor-f")
    assert "3 takes" in run(*words, code=2).stderr
    assert "takes no recordings" in run("tune", single, "--e-pull", code=2).stderr


def test_fit_from_a_take_that_follows_the_list(tmp_path):
    plan = tmp_path / "plan.csv"
    plan.write_text(run("fit", "--list", "--horn", "tenor", "--mark-mm", 450).stdout, "utf-8")
    horn = load_horn("tenor").tuned()
    spots = [(n, x) for x in (0.0, 0.45) for n in (2, 3, 4, 5, 6, 8)]
    notes = [horn.frequency_hz(n, x) * 2 ** (5 / 1200) for n, x in spots]
    # One note cracks to the next partial, one is left out, one is played twice.
    notes[3:4] = [notes[4], notes[3]]
    del notes[8]
    notes.insert(9, notes[9])
    take = write_take(tmp_path / "take.wav", notes, seconds=0.8)
    got = run_json("fit", plan, "--horn", "tenor", "--take", take)
    assert got["used"] == 11
    assert got["closed_hz"] == pytest.approx(horn.frequency_hz(1, 0.0) * 2 ** (5 / 1200), rel=2e-3)
    assert all(abs(row["cents"]) < 3.0 for row in got["deviations"])
    other = write_take(tmp_path / "other.wav", [900.0, 905.0])
    error = run("fit", plan, "--horn", "tenor", "--take", other, code=1).stderr
    assert "none of its 2 notes is on the list" in error


def test_the_list_has_a_mark_that_the_slide_reaches():
    lines = run("fit", "--list", "--horn", "alto").stdout.splitlines()
    assert lines[0] == "note,valves,partial,extension_mm,hz"
    assert len(lines) == 1 + 2 * 6
    travel_mm = 1000 * load_horn("alto").travel_m
    assert all(float(line.split(",")[3]) < travel_mm for line in lines[1:])
    only = run("fit", "--list", "--horn", "tenor-f", "--mark-mm", 0).stdout.splitlines()
    assert len(only) == 1 + 6 + 3
    error = run("fit", "--list", "--mark-mm", 900, code=1).stderr
    assert "a mark at 900 mm is outside the slide" in error
