"""Reports of form 1, made into facts: the same can be told of them, and nothing is lost."""

import gzip
import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from old_sentences import SENTENCES, as_told_today

from handslide.edges.files.factjson import fact_of_json
from handslide.edges.store import oldsentences as old
from handslide.edges.store.oldreports import report_of_version_1
from handslide.jobs.hear.follow import follow_json
from handslide.jobs.hear.report import report_from
from handslide.jobs.hear.sheet import take_legend, take_page, take_sheet
from handslide.words.speech import speech
from handslide.words.takes import remarks

STUDIOS = Path(__file__).parents[1] / "studios"
ENGLISH = speech("en")


def example():
    data = json.loads(gzip.decompress((STUDIOS / "example-form-1.json.gz").read_bytes()))
    return [take["report"] for student in data["students"] for take in student["takes"]]


def said(fact):
    return ENGLISH.fact(fact_of_json(fact))


def line(facts, between):
    return between.join(map(said, facts))


def told_kinds(value):
    """All kinds of facts in a report."""
    if isinstance(value, dict):
        if isinstance(value.get("kind"), str) and "." in value["kind"]:
            yield value["kind"]
        for held in value.values():
            yield from told_kinds(held)
    elif isinstance(value, list):
        for held in value:
            yield from told_kinds(held)


def test_the_sheet_and_the_json_of_an_old_take_are_what_they_were():
    before = example()[0]
    report = report_from(report_of_version_1(before))
    told = follow_json(report, ENGLISH)
    assert told.pop("warnings") == []
    # What the form of today adds, an old report doesn't have.
    assert told.pop("common_cents") == 0.0
    assert told.pop("left_out") == []
    for key, value in told.items():
        if key == "notes":
            for now, then in zip(value, before["listen"]["notes"], strict=True):
                now.pop("outside")
                assert now == pytest.approx(then, abs=0.006)
        else:
            assert value == before["listen"][key], key
    sheet = take_sheet(report, ENGLISH, "Mira Holt", stored=True)
    said = " ".join(text.text for text in sheet.pages[0].texts)
    for text in (*before["sheet"]["lines"], *before["sheet"]["report"]["habits"]):
        assert text.split(" · ")[0][:20] in said
    assert take_legend(take_page(report, ENGLISH).notes, ENGLISH) == tuple(
        map(tuple, before["sheet"]["legend"])
    )


@pytest.mark.parametrize("before", example(), ids=lambda report: report["summary"][:20])
def test_a_report_of_a_real_take_says_the_same(before):
    after = json.loads(json.dumps(report_of_version_1(before)))
    listen, sheet = before["listen"], before["sheet"]
    assert after["form"] == 2
    assert after["kind"] == before["kind"] and after["title"] == before["title"]
    assert said(after["horn"]) == before["horn"]
    assert line(after["summary"], " · ") == before["summary"]
    assert after["doubt"] is None
    assert len(after["notes"]) == len(listen["notes"])
    inside = [note for note in after["notes"] if not note["outside"]]
    assert [line(note["told"], "; ") for note in inside] == [
        as_told_today(row["words"]) for row in before["notes"]
    ]
    assert [line(note["told"], "; ") for note in after["notes"]] == [
        as_told_today(row["words"]) for row in listen["notes"]
    ]
    assert [note["note"] for note in after["notes"]] == [row["note"] for row in listen["notes"]]
    for note, drawn in zip(inside, sheet["report"]["notes"], strict=True):
        assert note["cents"] == drawn["cents"]
        assert note["place_mm"] == drawn["place_mm"]
        if drawn["slide_mm"] is not None:
            assert note["place_mm"] + note["slide_mm"] == pytest.approx(drawn["slide_mm"])
    for key in ("spread_cents", "slide_se_mm", "confidence", "start_s"):
        assert [note[key] for note in after["notes"]] == [row[key] for row in listen["notes"]]
    for habit, row in zip(after["habits"], listen["habits"], strict=True):
        assert said(habit.pop("told")) == as_told_today(row.pop("words"))
        assert habit == row
    for item, row in zip(after["practice"], listen["practice"], strict=True):
        today = {key: as_told_today(text) for key, text in row.items()}
        assert {key: said(fact) for key, fact in item.items()} == today
    assert after["positions_mm"] == sheet["report"]["positions_mm"]
    for key in ("a4_hz", "tempo_ratio", "offset_cents", "restarts", "extra"):
        assert after[key] == listen[key]
    assert after["horn_name"] == listen["horn"]
    assert "takes.as_told" not in set(told_kinds(after))


def test_the_kept_studio_of_form_1():
    with closing(sqlite3.connect(":memory:")) as db:
        db.executescript((STUDIOS / "version-1.sql").read_text(encoding="utf-8"))
        rows = [json.loads(text) for (text,) in db.execute("SELECT report FROM take")]
    assert rows
    for before in rows:
        assert report_of_version_1(before) == before | {"form": 2}


@pytest.mark.parametrize(
    ("table", "sentence"), [(name, one) for name, those in SENTENCES.items() for one in those]
)
def test_each_sentence_of_form_1_is_told_again(table, sentence):
    told = old.fact_of(getattr(old, table), sentence)
    assert told["kind"] != "takes.as_told"
    assert said(told) == as_told_today(sentence)


@pytest.mark.parametrize("table", SENTENCES)
def test_what_nobody_wrote_is_kept_as_it_was(table):
    text = "Something else, which 12 people said; twice"
    told = old.fact_of(getattr(old, table), text)
    assert told == {"kind": "takes.as_told", "values": {"text": text}}
    assert said(told) == text


def test_one_strange_remark_keeps_all_of_the_line():
    told = old.facts_of(old.REMARKS, "in tune; it smiled", "; ")
    assert remarks(ENGLISH, map(fact_of_json, told)) == "in tune; it smiled"
    assert len(told) == 1


def free():
    """Free playing as form 1 kept it."""
    heard = {"note": "Bb2", "midi": 46, "start_s": 0.1, "end_s": 1.1, "cents": 12.34,
             "cents_se": 0.4, "spread_cents": 3.0, "vibrato_hz": None}  # fmt: skip
    note = {"of": 0, "measure": None, "name": "B♭2", "start_s": 0.1, "end_s": 1.1, "mark": "1",
            "played": "free", "cents": 12.34, "cents_se": 0.4, "slide_mm": -14.0,
            "words": "12 cents too high: 14 mm too short, if it was played in 1"}  # fmt: skip
    drawn = {"measure": "0:00", "name": "B♭2", "mark": "1", "played": "right", "cents": 12.3401,
             "cents_se": 0.4, "place_mm": 0.0, "slide_mm": -14.02, "fix_mm": None,
             "heard": ""}  # fmt: skip
    return {
        "form": 1, "kind": "free", "title": "Free",
        "summary": "1 note heard · 0 in tune to the ear",
        "doubt": None, "horn": "Mine · A4 = 440 Hz · air in the horn 25 °C · slide 650 mm",
        "notes": [note],
        "left_out": [{"start_s": 2.0, "end_s": 2.1, "why": "click"}],
        "listen": {"a4_hz": 440.0, "a4_estimated": False, "length_s": 3.0, "notes": [heard],
                   "left_out": [{"start_s": 2.0, "end_s": 2.1, "why": "click"}],
                   "warnings": ["it rained"], "horn": "horn-1", "habits": [], "practice": []},
        "sheet": {"title": "Free", "lines": ["An odd line"], "legend": [["dot:0", "as played"]],
                  "report": {"notes": [drawn], "habits": [], "practice": [],
                             "positions_mm": [["1", 0.0]], "closing": "Burn after reading."}},
    }  # fmt: skip


def test_free_playing_and_sentences_of_ones_own():
    after = report_of_version_1(free())
    (note,) = after["notes"]
    assert note["cents"] == 12.3401 and note["slide_mm"] == -14.02
    assert note["spread_cents"] == 3.0 and note["measure"] is None
    assert after["heard"] == free()["listen"]["notes"]
    assert (after["a4_hz"], after["a4_estimated"], after["length_s"]) == (440.0, False, 3.0)
    assert after["left_out"] == [{"start_s": 2.0, "end_s": 2.1, "why": {"kind": "sounds.click"}}]
    assert list(map(said, after["warnings"])) == ["it rained"]
    assert list(map(said, after["as_told"])) == ["An odd line", "Burn after reading."]
    assert {"sheet", "listen"}.isdisjoint(after)


def test_a_doubtful_take_keeps_its_doubt_once():
    text = "Hardly a note of the take fits this part: is it the right one?"
    report = free() | {"doubt": text, "summary": text}
    report["listen"] |= {"warnings": [text, "the take is silent"]}
    after = report_of_version_1(report)
    assert after["doubt"] == {"kind": "takes.doubt"}
    assert after["summary"] == [after["doubt"]]
    assert after["warnings"] == [{"kind": "sounds.silent"}]


def test_what_is_no_report_of_version_1_is_passed_on():
    new = {"form": 2, "kind": "part", "summary": [{"kind": "takes.doubt"}]}
    assert report_of_version_1(new) == new
    assert report_of_version_1({"kind": "part", "of": "me"}) == {
        "form": 2, "kind": "part", "of": "me",
    }  # fmt: skip
