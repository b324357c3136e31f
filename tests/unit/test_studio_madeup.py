"""The made-up language on every page: all that is said comes from a catalogue."""

import json
import re
from html import unescape

import pytest
from madeup import outside_brackets
from studio_pages import client
from studio_walk import walk

from handslide.studio.parts.scores import list_scores, score_data
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
# Addresses of pages that aren't said in messages throughout yet.
NOT_YET = (
    r"^/charts(\?|$)",
    r"^/takes(\?|$)",
    r"^/takes/\d+$",
    r"^/progress/\d+",
    r"^/practice/\d+/move",
)


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
    text = re.sub(r"(?s)<(script|style|code)\b.*?</\1>|<!--.*?-->", " ", text)
    # Languages are called by their own names.
    text = re.sub(r'(?s)<option value="\w\w" lang="\w\w".*?</option>', " ", text)
    said += [unescape(value) for value in re.findall(rf'\s(?:{SHOWN})="([^"]*)"', text)]
    said.append(unescape(re.sub(r"(?s)<[^>]*>", " ", text)))
    return said


def is_passed_over(url):
    return any(re.search(each, url) for each in NOT_YET)


def test_brackets():
    assert outside_brackets("[Takes of ]Mira Holt · 12 mm, E♭3 and", ["Mira Holt"]) == ["and"]
    assert outside_brackets("[a [b] c] 5 Sept 2026 T6 VI 3.4 Hz") == []


@pytest.fixture
def pages(example):
    set_setting(example, "language", MADE_UP)
    found = walk(client(example))
    return {url: answer.text for url, answer in found.items()}


def test_no_words_outside_of_the_messages(example, pages):
    mine = written(example)
    wrong = {}
    for url, text in pages.items():
        if is_passed_over(url):
            continue
        words = [word for said in shown(text) for word in outside_brackets(said, mine)]
        if words:
            wrong[url] = words
    assert wrong == {}
