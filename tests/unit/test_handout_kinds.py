"""Charts and takes as hand-outs: what is tapped is the horn's, what is shown is the report's."""

import base64
import io
import json
import re
from html import escape
from pathlib import Path

import numpy as np
import pytest
import soundfile
from command import run
from invented import DEMO
from played import placed, play_part, write_wav

from handslide.edges.audio.recordings import mp3_of
from handslide.ground.errors import BadUsage, OutputError
from handslide.jobs.chart.chart import ChartOptions
from handslide.jobs.chart.kinds import SHEETS
from handslide.jobs.handout.chart import chart_handout
from handslide.jobs.handout.handout import page_beside
from handslide.jobs.setup import make_setup
from handslide.words.speech import speech

SETUP = make_setup("tenor-f")
TAPPED = [kind.name for kind in SHEETS.values() if kind.tapped]


def handed(html, name):
    return json.loads(
        re.search(rf'<script type="application/json" id="{name}">(.*?)</script>', html)[1]
    )


@pytest.mark.parametrize("sheet", TAPPED)
def test_every_note_and_place_of_a_chart_is_where_the_horn_has_it(sheet):
    options = ChartOptions(sheet=sheet, low="E2", high="B3")
    made = chart_handout(SETUP, options, speech("de"))
    html = made.data.decode()
    data = handed(html, "chart-data")
    spots = set(re.findall(r'class="spot" data-of="([^"]*)"', html))
    assert {str(note["midi"]) for note in data["notes"]} == {x for x in spots if ":" not in x}
    keys = {place["key"] for note in data["notes"] for place in note["places"]}
    assert {spot for spot in spots if ":" in spot} <= keys
    if sheet not in ("wall", "blank"):
        assert {spot for spot in spots if ":" in spot} == keys
    for note in data["notes"]:
        theirs = {(p.valves, p.partial): p for p in SETUP.book.places(note["midi"])}
        for place in note["places"]:
            found = theirs[tuple(place["valves"]), place["partial"]]
            assert place["extension_mm"] == pytest.approx(1000 * found.extension_m, abs=0.006)
            assert sheet != "open" or not place["valves"]
    assert made.blocks[0].count == len(data["notes"]) > 3


@pytest.mark.parametrize("sheet", ["strip", "compare"])
def test_a_sheet_without_notes_to_tap_is_refused(sheet):
    with pytest.raises(BadUsage, match=sheet):
        chart_handout(SETUP, ChartOptions(sheet=sheet), speech())


def test_a_chart_by_the_command(tmp_path):
    target = tmp_path / "page.html"
    done = run("chart", "--horn", "alto", "--handout", target, "--range", "E3-E4", "--json")
    told = json.loads(done.stdout)
    assert told["bytes"] == len(target.read_bytes()) and told["blocks"][0]["kind"] == "chart"
    assert told["blocks"][0]["notes"] == 13
    assert "exists" in run("chart", "--handout", target, code=1).stderr
    run("chart", "--handout", target, "-o", tmp_path / "a.pdf", "--force", code=2)


@pytest.fixture(scope="module")
def take(tmp_path_factory):
    """Six measures, 3rd position 15 mm short, a note left out."""
    rows = placed(SETUP, DEMO)[:20]

    def slip(number, place, before):
        if number == 9:
            return None
        return -15.0 if abs(place.position - 3) < 0.2 and not place.valves else 0.0

    path = tmp_path_factory.mktemp("take") / "take.wav"
    return write_wav(path, play_part(SETUP, rows, slip))


def test_a_take_by_the_command(take, tmp_path):
    target = tmp_path / "page.html"
    words = ["listen", take, "--score", DEMO, "--horn", "tenor-f", "--json", "--handout", target]
    theirs = json.loads(run(*words).stdout)
    html = target.read_text(encoding="utf-8")
    data = handed(html, "take-data")
    heard = [note for note in theirs["notes"] if not note["outside"]]
    # The measures of the take, and no others, are in it.
    assert {str(note["measure"]) for note in heard} == set(data["measures"].values())
    assert len(data["heard"]) == len(heard)
    for (_, sign, mm, off, said), note in zip(data["heard"], heard):
        assert off == (
            None if note["slide_mm"] is None else pytest.approx(note["slide_mm"], abs=0.1)
        )
        assert said == note["words"]
        if note["played"] == "missing":
            assert sign == "gone" and off is None
        elif note["mark"] == "3":
            assert sign == "out" and mm == pytest.approx(15, abs=3)
    assert "hit" in {row[1] for row in data["heard"]}
    assert theirs["practice"] and all(escape(one["what"]) in html for one in theirs["practice"])
    assert "<audio" not in html and "audio/" not in html


def test_a_recording_is_in_it_only_with_consent(take, tmp_path):
    target = tmp_path / "page.html"
    words = ["listen", take, "--score", DEMO, "--horn", "tenor-f", "--handout", target]
    assert "consent" in run(*words, "--with-recording", code=2).stderr
    assert not target.exists()
    assert "--handout" in run("listen", take, "--with-recording", code=2).stderr
    assert "--score" in run("listen", take, "--handout", target, code=2).stderr
    said = run(*words, "--with-recording", "--consent").stdout
    assert "with consent" in said and "no copy" not in said
    html = target.read_text(encoding="utf-8")
    data = base64.b64decode(re.search(r'src="data:audio/mpeg;base64,([^"]*)"', html)[1])
    assert f"({len(data) / 1000:.0f} kB)" in html and "with consent" in html
    there, rate = soundfile.read(io.BytesIO(data))
    here, _ = soundfile.read(take)
    # The times of the report are those of the packed sound: no note moves by 10 ms.
    assert abs(len(there) - len(here)) < 0.1 * rate
    shift = delay_s(here, there[: len(here)], rate)
    assert abs(shift) < 0.01


def delay_s(one, other, rate):
    """By how much the second sound comes later, from the greatest correlation of their levels."""
    step = round(0.001 * rate)
    levels = [
        np.sqrt(np.add.reduceat(x**2, np.arange(0, len(x), step)))[:2000] for x in (one, other)
    ]
    a, b = (level - level.mean() for level in levels)
    found = np.correlate(b, a, "full")
    return 0.001 * (int(found.argmax()) - (len(a) - 1))


def test_a_recording_that_is_too_long_is_not_packed(take):
    assert mp3_of(take, take.name, 1000) is None


@pytest.mark.parametrize("rate", [8000, 96_000])
def test_a_rate_that_mp3_has_not_becomes_one_that_it_has(tmp_path, rate):
    path = tmp_path / "a.wav"
    soundfile.write(path, 0.2 * np.sin(2 * np.pi * 233 * np.arange(rate) / rate), rate)
    sound, its = soundfile.read(io.BytesIO(mp3_of(path, "a.wav", 10**6)))
    assert its in (16_000, 48_000) and len(sound) / its == pytest.approx(1.0, abs=0.1)
    middle = sound[len(sound) // 4 : 3 * len(sound) // 4]
    crossings = np.count_nonzero(np.diff(np.signbit(middle)))
    assert crossings / 2 / (len(middle) / its) == pytest.approx(233, abs=3)


def test_a_folder_is_no_sheet_to_stand_beside():
    with pytest.raises(OutputError):
        page_beside(Path())
