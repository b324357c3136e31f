"""The made-up language on every page: all that is said comes from a catalogue."""

import json
import re
from html import unescape

import pytest
import sampling
from madeup import outside_brackets
from pdf_sheets import SCORES, sheet
from studio_pages import client
from studio_walk import MOST_PAGES, walk

from handslide.studio.parts.reading import say_note, score_data
from handslide.studio.parts.scores import add_score, list_scores
from handslide.studio.studio import set_setting
from handslide.words.catalogues import MADE_UP

# Columns of what users wrote.
WRITTEN = {
    "student": ("name", "about", "consent_note"),
    "horn": ("title",),
    "horn_version": ("json_extract(told, '$.values.text')",),
    "score": ("title", "composer", "file_name"),
    "take": ("title",),
}
# Attributes that are shown, read out or used by a script.
SHOWN = "aria-label|title|placeholder|alt|label|data-(?:said|lost|large|close|play|stop|volume)"


def written(studio):
    """All that users wrote into a studio."""
    found = {str(studio.folder)}
    with studio.store.read() as db:
        for table, columns in WRITTEN.items():
            for column in columns:
                rows = db.execute(f"SELECT {column} FROM {table}").fetchall()
                found |= {row[0] for row in rows if row[0]}
    for row in list_scores(studio):
        found |= set(
            re.findall(r"<part-name>(.*?)</part-name>", score_data(studio, row.id).decode())
        )
    return found


def shown(text):
    """What a page shows or reads out: text, attributes, and the texts for its scripts."""
    said = []
    texts = r'(?s)<script type="application/json" id="[\w-]*texts">(.*?)</script>'
    for script in re.findall(texts, text):
        said += [re.sub(r"\{\w+\}", " ", str(value)) for value in json.loads(script).values()]
    # What stands in a textarea is the user's, to be changed.
    text = re.sub(r"(?s)<(script|style|code|textarea)\b.*?</\1>|<!--.*?-->", " ", text)
    # A letter's key is the same in all languages; languages are called by their own names.
    text = re.sub(r"<kbd>[A-Z]</kbd>", " ", text)
    text = re.sub(r'(?s)<option value="\w\w" lang="\w\w".*?</option>', " ", text)
    said += [unescape(value) for value in re.findall(rf'\s(?:{SHOWN})="([^"]*)"', text)]
    said.append(unescape(re.sub(r"(?s)<[^>]*>", " ", text)))
    return said


def test_brackets():
    assert outside_brackets("[Takes of ]Mira Holt · 12 mm, E♭3 and", ["Mira Holt"]) == ["and"]
    assert outside_brackets("[a [b] c] 5 Sept 2026 T6 VI 3.4 Hz") == []


@pytest.fixture
def pages(example):
    set_setting(example, "language", MADE_UP)
    found = walk(client(example), each=MOST_PAGES if sampling.ALL else 3)
    return {url: answer.text for url, answer in found.items()}


@pytest.mark.sample
def test_no_words_outside_of_the_messages(example, pages):
    mine = written(example)
    wrong = {}
    for url, text in pages.items():
        words = [word for said in shown(text) for word in outside_brackets(said, mine)]
        if words:
            wrong[url] = words
    assert wrong == {}


# Pages that no link leads to: pieces that a script asks for, results, and what was typed wrong.
PIECES = (
    "/nothing",
    "/students/999",
    "/stands/1/notes/0",
    "/stands/2/notes/3",
    "/stands/1/lists",
    "/charts/preview?sheet=compare&other=alto",
    "/charts/preview?sheet=all&low=C4&high=C2",
    "/practice/1/drill?kind=scales&tempo=9999",
    "/practice/1/drill?kind=intonation",
    "/practice/1/drone?note=Bb2&chord=major",
    "/practice/1/move?stand=1&interval=P8&fix=1",
    "/tuning/1/main?hz=233&note=Bb3",
    "/tuning/1/F?open_hz=174.614&valve_hz=172.609",
    "/fitting/1/play?mark_mm=450&temp_c=25&thermometer=yes",
    "/fitting/1/play?mark_mm=9999",
)


@pytest.mark.parametrize("url", PIECES)
def test_no_words_outside_of_the_messages_of_a_piece_or_a_complaint(example, url):
    set_setting(example, "language", MADE_UP)
    answer = client(example).get(url)
    mine = written(example)
    assert [w for said in shown(answer.text) for w in outside_brackets(said, mine)] == []


def test_what_an_address_or_a_file_did_wrong_is_said_in_messages(example):
    set_setting(example, "language", MADE_UP)
    web = client(example)
    for answer in (
        web.post("/takes"),
        web.post("/parts"),
        web.post("/data/import"),
        web.post("/horns/1/edit", data={"travel_mm": "9"}),
        client(example, Origin="http://elsewhere.example").post("/parts"),
    ):
        assert answer.status_code >= 400
        said = shown(answer.text)
        assert [w for s in said for w in outside_brackets(s, written(example))] == []


def test_what_was_read_from_a_pdf_is_said_in_messages(studio):
    asked = SCORES / "pdf" / "School_for_Trombone_006-abcm2ps.pdf"
    rows = [
        add_score(studio, data, name).score
        for data, name in ((sheet(), "etude.pdf"), (asked.read_bytes(), "school.pdf"))
    ]
    set_setting(studio, "language", MADE_UP)
    web, mine = client(studio), [row.title for row in rows]
    say_note(studio, rows[0], "1.1.1.2", "none")
    for url in (f"{rows[0].id}/read?at=1.1.1.1", f"{rows[0].id}/read?at=1.1", f"{rows[1].id}/read"):
        said = shown(web.get(f"/parts/{url}").text)
        assert [word for text in said for word in outside_brackets(text, mine)] == []
