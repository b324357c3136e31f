"""What is told of a take besides pitch, from the sound to JSON, words and pages."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from command import run
from invented import DEMO
from played import RATE_HZ, follow_samples, placed, play_part, write_wav

from handslide.edges.musicxml.dynamics import written_dynamics
from handslide.edges.musicxml.read import open_score, read_score
from handslide.jobs.hear.followed import follow_take
from handslide.jobs.hear.listening import listening_of
from handslide.jobs.hear.partreport import part_report
from handslide.jobs.hear.report import report_from, report_json
from handslide.jobs.hear.sheet import take_page, take_sheet
from handslide.jobs.setup import make_setup
from handslide.sheets.shapes import leaving_page, overlapping_texts
from handslide.sound.drone import against_drone
from handslide.sound.notes import hear
from handslide.words.speech import speech

SETUP = make_setup("tenor-f")
ROWS = placed(SETUP, DEMO)[:42]
ENGLISH = speech("en")
KEYS = Path(__file__).resolve().parents[2] / "docs" / "listening.md"


def late(rows, ms_of):
    return [(place, onset + ms_of(n, onset) / 1000.0, length)
            for n, (place, onset, length) in enumerate(rows)]  # fmt: skip


def followed(rows, **more):
    samples = play_part(SETUP, rows, lambda *_: 0.0, **more)
    take = hear(samples, RATE_HZ, closely=True)
    return follow_take(open_score(DEMO), take, SETUP)


def test_known_delays_of_tongued_notes_are_measured():
    # Some notes are late by a known time; the errors beside the usual one are below 5 ms.
    rng = np.random.default_rng(5)
    truth = np.where(rng.random(len(ROWS)) < 0.25, rng.choice([-40.0, 35.0, 60.0], len(ROWS)), 0.0)
    truth[0] = 0.0
    heard = listening_of(*take_and(followed(late(ROWS, lambda n, _: truth[n]))))
    notes = heard.figures["rhythm"]["notes"]
    assert len(notes) >= 40
    told = {round(note["at_s"], 2): note["late_ms"] for note in notes}
    off = []
    for (_, onset, _), ms in zip(ROWS, truth, strict=True):
        at = onset + ms / 1000.0 + 0.3
        near = min(told, key=lambda one: abs(one - at))
        if abs(near - at) < 0.03 and told[near] is not None:
            off.append(told[near] - ms)
    assert len(off) >= 38
    assert np.percentile(np.abs(np.array(off) - np.median(off)), 95) < 5.0


def take_and(beside):
    return beside.take, beside


def to_clicks(rows, hz=1000.0):
    """The part after a count-in of four beats, with a beep of 60 ms on every beat.

    A beep rises in 3 ms and a note in 15: begun 6 ms later, it has half of its height with it.
    """
    seconds = [second for second, _ in followed(rows[:2]).part.beats_s]
    beat_s = seconds[1] - seconds[0]
    played = play_part(SETUP, rows, lambda *_: 0.0)
    samples = np.concatenate((np.zeros(round(4 * beat_s * RATE_HZ)), played))
    time_s = np.arange(round(0.06 * RATE_HZ)) / RATE_HZ
    edges = np.minimum(1.0, np.minimum(time_s, 0.06 - time_s) / 0.003)
    wave = 0.05 * edges * np.sin(2.0 * np.pi * hz * time_s)
    for at_s in np.arange(0.306, len(samples) / RATE_HZ - 0.1, beat_s):
        first = round(at_s * RATE_HZ)
        samples[first : first + len(wave)] += wave
    return hear(samples, RATE_HZ, closely=True), beat_s


@pytest.mark.parametrize("common_ms", [-35.0, 0.0, 45.0])
def test_late_and_early_are_told_against_a_metronomes_clicks(common_ms):
    rng = np.random.default_rng(6)
    truth = common_ms + rng.normal(0.0, 12.0, len(ROWS))
    take, beat_s = to_clicks(late(ROWS, lambda n, _: truth[n]))
    beside = follow_take(open_score(DEMO), take, SETUP)
    beside_part, alone = listening_of(take, beside), listening_of(take)
    for heard in (beside_part, alone):
        rhythm = heard.figures["rhythm"]
        assert rhythm["against"] == "clicks"
        assert rhythm["mean_ms"] == pytest.approx(truth.mean(), abs=3.0)
        onsets = 0.3 + 4 * beat_s + np.array([onset for _, onset, _ in ROWS]) + truth / 1000.0
        off = [
            note["late_ms"] - truth[np.argmin(np.abs(onsets - note["at_s"]))]
            for note in rhythm["notes"]
            if note["late_ms"] is not None
        ]
        assert len(off) >= len(ROWS) - (3 if heard is beside_part else 6)
        assert np.percentile(np.abs(off), 95) < 5.0
        assert "against its beeps" in " ".join(map(ENGLISH.fact, heard.quality))
        said = " ".join(map(ENGLISH.fact, heard.findings))
        assert ("Against the metronome" in said) == (common_ms != 0.0)
        assert not said or ("late" in said) == (common_ms > 0)


def test_a_count_in_alone_is_no_beat_for_the_whole():
    take, _ = to_clicks(ROWS)
    clicks = replace(take.clicks, last_s=take.clicks.first_s + 3 * take.clicks.every_s)
    take = replace(take, clicks=clicks)
    assert listening_of(take).figures["rhythm"] is None
    beside = follow_take(open_score(DEMO), take, SETUP)
    assert listening_of(take, beside).figures["rhythm"]["against"] == "player"


def test_rushing_is_found_and_told():
    end = ROWS[-1][1]
    heard = listening_of(*take_and(followed(late(ROWS, lambda n, s: -60.0 * s * s / end))))
    # The derivative of the time goes from 1 to 0.88.
    assert heard.figures["rhythm"]["trend_percent"] == pytest.approx(12.7, abs=1.5)
    assert any(one.kind == "listening.tempo" for one in heard.findings)
    measures = heard.figures["rhythm"]["measures"]
    assert measures[0]["tempo_percent"] < 96.0 and measures[-1]["tempo_percent"] > 104.0


def test_written_dynamics_that_are_played_alike():
    beside = followed(ROWS)
    heard = listening_of(*take_and(beside))
    (pair,) = heard.figures["loudness"]["dynamics"]
    assert (pair["soft"], pair["loud"], pair["told_apart"]) == ("p", "mf", False)
    assert "listening.dynamics" in [one.kind for one in heard.findings]


def test_the_dynamics_of_a_part():
    body = "".join(
        f"<direction><direction-type>{sign}</direction-type></direction>{note}"
        for sign, note in (
            ("<dynamics><p/></dynamics>", NOTE),
            ('<wedge type="crescendo"/>', NOTE),
            ('<wedge type="stop"/>', NOTE),
            ("<dynamics><f/></dynamics>", NOTE),
        )
    )
    score = read_score(
        b"<score-partwise><part-list><score-part id='P1'><part-name>T</part-name></score-part>"
        b"</part-list><part id='P1'><measure number='1'><attributes><divisions>1</divisions>"
        b"</attributes>" + body.encode() + b"</measure></part></score-partwise>"
    )
    assert written_dynamics(score, score.read_part()) == {0: "p", 3: "f"}


NOTE = "<note><pitch><step>C</step><octave>3</octave></pitch><duration>1</duration></note>"


@pytest.mark.parametrize(
    ("semitones", "p", "q"), [(0, 1, 1), (3, 6, 5), (4, 5, 4), (5, 4, 3), (7, 3, 2), (9, 5, 3),
                              (12, 2, 1), (16, 5, 2), (-5, 3, 4), (-12, 1, 2)]
)  # fmt: skip
def test_beats_against_exact_arithmetic(semitones, p, q):
    # Equal against just: 2^(n/12) and p/q, to be computed by anybody.
    drone_hz = 116.5409
    found = against_drone(drone_hz * 2.0 ** (semitones / 12.0), drone_hz)
    assert (found.semitones, found.p, found.q) == (semitones, p, q)
    assert found.beats_hz == pytest.approx(
        drone_hz * abs(q * 2.0 ** (semitones / 12.0) - p), abs=1e-9
    )
    assert found.just_cents == pytest.approx(100.0 * semitones - 1200.0 * np.log2(p / q), abs=1e-9)
    just = against_drone(drone_hz * p / q, drone_hz)
    assert just.beats_hz == pytest.approx(0.0, abs=1e-9) == just.just_cents


def test_a_fifth_of_an_equal_piano_beats_three_times_in_four_seconds():
    # A3 and E4 of 440 Hz, as published for tuners: 0.74 beats a second.
    assert against_drone(440.0 * 2.0 ** (-5 / 12), 220.0).beats_hz == pytest.approx(0.745, abs=0.01)


@pytest.fixture(scope="module")
def wav(tmp_path_factory):
    samples = play_part(SETUP, ROWS, lambda *_: 0.0, noise=1e-3)
    return write_wav(tmp_path_factory.mktemp("take") / "take.wav", samples)


def test_the_keys_of_json_are_documented(wav):
    text = KEYS.read_text(encoding="utf-8")
    for words in ((), ("--score", DEMO, "--horn", "tenor-f")):
        told = json.loads(run("listen", wav, "--drone", "Bb2", *words, "--json").stdout)
        assert set(told["trust"]["believed"].values()) <= {"good", "rough", "not"}
        assert len(told["listening"]["findings"]) <= 3
        for key in (*told["trust"], *told["listening"]):
            assert re.search(rf"`{key}`", text), key
    assert "`common_cents`" in text


def test_the_terminal_says_it(wav):
    said = run("listen", wav, "--drone", "Bb2").stdout
    assert "What a listener notices" in said
    assert "How far this take can be trusted" in said
    assert "beats a second" in said
    assert "'X9' is not a note" in run("listen", wav, "--drone", "X9", code=1).stderr


def test_it_is_stored_and_told_again_on_both_pages():
    report = part_report(followed(ROWS, noise=3e-3))
    again = report_from(json.loads(json.dumps(report_json(report))))
    assert again.listening.findings == report.listening.findings
    assert report_json(again) == json.loads(json.dumps(report_json(report)))
    page = take_page(again, ENGLISH)
    assert len(page.heard) <= 3 and page.trust
    sheet = take_sheet(again, ENGLISH, "Mira")
    said = " ".join(text.text for one in sheet.pages for text in one.texts)
    assert "What a listener notices" in said and page.heard[0].split()[0] in said
    for one in sheet.pages:
        assert overlapping_texts(one) == []
        assert leaving_page(one, 8.0) == []


def test_a_take_that_was_not_listened_to_has_no_such_section():
    report = part_report(follow_samples(play_part(SETUP, ROWS[:12], lambda *_: 0.0), DEMO, SETUP))
    assert report.listening is None
    assert take_page(report, ENGLISH).heard is None
    assert "listening" not in report_json(report)
