"""Reports of form 1, made into facts: the same can be told of them, and nothing is lost."""

import gzip
import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from handslide.edges.files.factjson import fact_of_json
from handslide.edges.store import oldsentences as old
from handslide.edges.store.oldreports import report_of_form_1
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
    report = report_from(report_of_form_1(before))
    told = follow_json(report, ENGLISH)
    assert told.pop("warnings") == []
    for key, value in told.items():
        if key == "notes":
            for now, then in zip(value, before["listen"]["notes"], strict=True):
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
    after = json.loads(json.dumps(report_of_form_1(before)))
    listen, sheet = before["listen"], before["sheet"]
    assert after["form"] == 2
    assert after["kind"] == before["kind"] and after["title"] == before["title"]
    assert said(after["horn"]) == before["horn"]
    assert line(after["summary"], " · ") == before["summary"]
    assert after["doubt"] is None
    assert len(after["notes"]) == len(listen["notes"])
    inside = [note for note in after["notes"] if not note["outside"]]
    assert [line(note["told"], "; ") for note in inside] == [
        row["words"] for row in before["notes"]
    ]
    assert [line(note["told"], "; ") for note in after["notes"]] == [
        row["words"] for row in listen["notes"]
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
        assert said(habit.pop("told")) == row.pop("words")
        assert habit == row
    for item, row in zip(after["practice"], listen["practice"], strict=True):
        assert {key: said(fact) for key, fact in item.items()} == row
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
        assert report_of_form_1(before) == before | {"form": 2}


SENTENCES = {
    "HABITS": [
        "The whole take is about 14 cents too high (on 9 of 10 notes): move the main tuning slide "
        "11 mm out, if the piano or the band agrees.",
        "Away from 1st the slide is about 12 mm too short everywhere (on 5 of 7 notes).",
        "After a move out the slide stops about 12 mm too short (on 5 of 7 notes).",
        "After a move out the slide goes about 12 mm too far out (on 5 of 7 notes).",
        "After a move in the slide stops about 9 mm too far out (on 3 of 3 notes, beyond the "
        "tuning).",
        "After a move in the slide comes back about 9 mm too short (on 3 of 3 notes).",
        "A long 2nd position with the F valve: about 27 mm too short on 9 of 9 notes.",
        "A raised 5th position: about 27 mm too far out on 9 of 9 notes, beyond the tuning.",
        "1st position: about 12 cents too high on 4 of 5 notes; the slide can't be shorter, so "
        "it's the lip or the tuning slide.",
        "1st position with the F and G♭ valves: about 12 cents too low on 4 of 5 notes; close the "
        "slide fully, and blow freely.",
        "Notes with the F and G♭ valves are about 11 cents too low (on 11 of 11 notes): the "
        "valve's own tuning slide may have to go in.",
        "Notes on the 6th partial are about 12 cents too high (on 8 of 9 notes), wherever the "
        "slide is: the horn or the lip.",
        "From 1st to a long 2nd with the F valve the slide is about 12 mm too far out (on 3 of 3 "
        "notes).",
        "From halfway between 3rd and 4th to 6th the slide is about 12 mm too short (on 3 of 3 "
        "notes).",
        "Notes begin about 30 cents too low and slide up on 5 of 9 notes.",
        "Notes begin about 30 cents too high and sink on 5 of 9 notes.",
        "Long notes sink about 20 cents to their end on 5 of 9 notes: keep the air on.",
        "Long notes climb about 20 cents on 5 of 9 notes.",
    ],
    "WHATS": ["E♭3 in T♭2", "G2", "E♭3 to F♯2 (♭2 to T3½)"],
    "WHYS": [
        "about 27 mm too far out on 9 of 9 notes",
        "about 11 cents too low on 11 of 12 notes",
        "15 cents too high once",
        "15 cents too low in the middle of 4 times",
        "wrong in measure 7",
        "not heard or stopped or started again in measures 3, 5, 7, 8, 9 and 2 more",
        "in another octave in measures 3, X1",
    ],
    "HOWS": [
        "slowly, then in time; let the slide arrive 12 mm further in before you tongue",
        "hold it against a drone, move the slide 12 mm further out until the beats stop",
        "start with air only, then a soft tongue, right on the pitch",
        "long notes with a steady stream of air to the very end",
        "hold it against a drone with and without the valve",
        "hold it against a drone and find where it rests",
        "hold it against a drone",
        "hold it against a drone until the beats stop, then play it in its place",
        "sing it, buzz it, then play it slowly with the note before it",
        "begin a measure earlier, as slowly as it takes to go through three times",
    ],
    "REMARKS": [
        "in tune", "14 cents too low", "12 cents too high, but too short or rough to be sure",
        "12 cents too low: lower than the end of the slide can sound",
        "12 cents too high: the slide can't be shorter: it's the lip or the tuning slide",
        "30 cents too low: lower than the marked place can sound: perhaps played in a long 2nd "
        "with the F valve, 12 mm too short",
        "30 cents too high: higher than the marked place can sound: perhaps played in 5th, 3 mm "
        "too far out",
        "30 cents too low: this is the pitch of the 5th partial with the slide closed: perhaps "
        "not played in the marked place",
        "30 cents too low: this is the pitch of the 5th partial with the slide closed with the F "
        "valve: perhaps not played in the marked place",
        "11 cents too low: slide not quite closed (12 mm), or the lip",
        "11 cents too low: slide 12 mm too far out",
        "11 cents too low: 12 mm too far out, if it was played in T1",
        "an octave too high", "2 octaves too low", "not in this take", "not heard",
        "not on this horn", "not sure what was played here", "played A♭2",
        "no place on this horn within the student's limits",
        "played A♭2: the partial above, with the slide in its place",
        "played C♯3: 2 partials below, with the slide in its place",
        "played A♭2: the slide was about in 3½",
        "ran together with the note before", "unsteady", "after a wait",
    ],
    "DOUBTS": [
        "Hardly a note of the take fits this part: is it the right one?",
        "Hardly a note fits, but all would 5 semitones lower: was it read in another clef or "
        "transposition?",
    ],
    "COUNTS": [
        "62 of 67 notes right", "3 wrong", "2 in another octave", "2 not heard", "4 not sure",
        "2 that aren't in the part", "2 played again",
        "1 note of the part is before or after this take",
        "2 notes of the part are before or after this take", "tempo 89 % of the part's",
        "1 note heard", "5 notes heard", "4 in tune to the ear",
        "3 that this horn doesn't have within the student's reach and valves",
    ],
    "HORNS": [
        "Tenor trombone in B♭ with F valve · A4 = 442.5 Hz · air in the horn 25 °C · slide 674 mm",
        "Dad's old horn · it's heavy · A4 = 440 Hz · air in the horn 20.5 °C · slide 650 mm",
    ],
    "LEFT_OUT": [
        "click", "noise", "too short", "sliding", "no steady pitch", "hum", "struck string",
        "several pitches at once",
    ],
    "WARNINGS": [
        "3 of 9 notes are clipped: their pitch can be trusted, their level can't; record with "
        "less gain",
        "the take is silent", "no note was found in the take",
        "there is no note to estimate A4 from: 440 Hz is used",
        "the notes don't agree on a tuning pitch: the estimate of A4 is weak",
    ],
}  # fmt: skip


@pytest.mark.parametrize(
    ("table", "sentence"), [(name, one) for name, those in SENTENCES.items() for one in those]
)
def test_each_sentence_of_form_1_is_told_again(table, sentence):
    told = old.fact_of(getattr(old, table), sentence)
    assert told["kind"] != "takes.as_told"
    assert said(told) == sentence


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
    after = report_of_form_1(free())
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
    after = report_of_form_1(report)
    assert after["doubt"] == {"kind": "takes.doubt"}
    assert after["summary"] == [after["doubt"]]
    assert after["warnings"] == [{"kind": "sounds.silent"}]


def test_what_is_no_report_of_form_1_is_passed_on():
    new = {"form": 2, "kind": "part", "summary": [{"kind": "takes.doubt"}]}
    assert report_of_form_1(new) == new
    assert report_of_form_1({"kind": "part", "of": "me"}) == {
        "form": 2, "kind": "part", "of": "me",
    }  # fmt: skip
