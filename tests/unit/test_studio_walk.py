"""A walk through all pages by their links: none is dead, none breaks, none trusts a name."""

import json
import re
import zipfile
from collections import Counter
from io import BytesIO

import pytest
from sampling import ALL
from studio_pages import client, words
from studio_stands import NAME, TITLE, namesakes
from studio_versions import small_score
from studio_walk import walk, whole_pages

from handslide.edges.store.students import StudentValues
from handslide.studio.people.students import add_student, list_students
from handslide.studio.studio import set_setting
from handslide.words.catalogues import languages

HOSTILE = "<script>alert('x')</script>\"'><img src=x onerror=alert(1)>&amp;{{ 7*7 }}"

# What was typed stands in its own field as it was typed; a refusal is about the page's student;
# a file to give says the name as it will stand in it.
TYPED = re.compile(
    r'<input id="(?:name|title)"[^>]*>|data-wrong="[^"]*"|<p [^>]*role="alert">.*?</p>'
    r'|<input type="checkbox" name="named"[^>]*>.*?</label>',
    re.S,
)
_WALKED = []


@pytest.fixture
def walked(example):
    """All pages of an example with namesakes in it, and who and what these are; walked once."""
    if not _WALKED:
        students, scores = namesakes(example)
        _WALKED.append((walk(client(example)), students, scores))
    return _WALKED[0]


@pytest.mark.sample
def test_every_link_leads_somewhere_and_each_page_is_well_made(walked):
    pages = whole_pages(walked[0])
    assert {"/", "/parts", "/charts", "/takes", "/data"} <= set(pages)
    assert any(url.startswith("/stands/") for url in pages)
    for url, text in pages.items():
        # What waits for its turn is hidden, heading and all.
        assert len(re.findall(r"(?<! hidden>\n)<h1[\s>]", text)) == 1, url
        assert len(re.findall(r"<main[\s>]", text)) == 1, url
        title = re.search(r"<title>(.*?)</title>", text, re.S).group(1).strip()
        assert title, url
        twice = [name for name, n in Counter(re.findall(r'\sid="([^"]+)"', text)).items() if n > 1]
        assert twice == [], url
        ids = set(re.findall(r'\sid="([^"]+)"', text))
        for target in re.findall(r'\sfor="([^"]+)"', text):
            assert target in ids, (url, f"a label for {target}, which isn't there")
        assert "Traceback" not in text and "None</" not in text, url


@pytest.mark.sample
def test_no_page_says_a_name_that_two_have(walked):
    found, students, scores = walked
    named = dict.fromkeys((NAME, TITLE), 0)
    for url, answer in found.items():
        text = TYPED.sub("", answer.text)
        for name in named:
            bare = re.findall(
                rf".{{0,80}}{name}(?!, | \((?:no\. |[a-z]+\.).{{0,40}}\)).{{0,30}}", text
            )
            assert bare == [], (url, bare)
            named[name] += name in text
    assert named[NAME] > 20 and named[TITLE] > 8, named
    for part in ("/students/{}", "/students/{}/delete", "/progress/{}", "/charts?student={}"):
        for one in students:
            assert part.format(one) in found, part
    for one in scores:
        assert f"/parts/{one}/delete" in found


@pytest.mark.parametrize("language", sorted(set(languages()) - {"en"}))
def test_all_pages_are_there_in_each_language(example, language):
    set_setting(example, "language", language)
    pages = whole_pages(walk(client(example), each=2 if ALL else 1))
    assert len(pages) > 40
    for url, text in pages.items():
        assert f'<html lang="{language}"' in text, url


def test_a_script_in_a_name_or_title_is_only_text(example):
    with example.store.write() as db:
        for table, column in (
            ("student", "name"), ("student", "about"), ("student", "consent_note"),
            ("horn", "title"), ("score", "title"), ("score", "composer"),
            ("score", "file_name"), ("take", "title"),
            ("take_note", "measure"), ("take_note", "mark"),
        ):  # fmt: skip
            db.execute(f"UPDATE {table} SET {column} = ?", (HOSTILE,))
        told = json.dumps({"kind": "people.as_told", "values": {"text": HOSTILE}})
        db.execute("UPDATE horn_version SET told = ?", (told,))
    found = walk(client(example), each=3 if ALL else 2)
    assert len([url for url, answer in found.items() if "alert(" in answer.text]) > 12
    for url, answer in found.items():
        text = re.sub(r'(?s)<script type="application/json".*?</script>', "", answer.text)
        assert "<script>alert" not in answer.text, url
        assert "<img src=x" not in answer.text, url
        assert "onerror=alert(1)>" not in text, url


def test_a_hostile_name_of_a_file_is_cleaned(studio):
    add_student(studio, StudentValues("Mira Holt"))
    name = "../../\u202e<b>evil</b>.musicxml"
    answer = client(studio).post("/parts", files=[("files", (name, small_score("Quiet")))])
    assert answer.status_code in (200, 303)
    text = client(studio).get("/parts").text + answer.text
    assert "Quiet" in text
    for sign in ("<b>evil", "../", "\u202e"):
        assert sign not in text


def bomb(size):
    """A compressed score that unpacks to ``size`` bytes."""
    packed = BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        container = '<container><rootfiles><rootfile full-path="a.xml"/></rootfiles></container>'
        archive.writestr("META-INF/container.xml", container)
        with archive.open("a.xml", "w") as file:
            for _ in range(size // 2**20):
                file.write(bytes(2**20))
    return packed.getvalue()


ENTITIES = b"""<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY a "ha">
<!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c SYSTEM "file:///etc/passwd">]>
<score-partwise version="4.0"><work><work-title>&b;&c;</work-title></work></score-partwise>"""


@pytest.mark.parametrize(
    ("name", "make", "said"),
    [
        ("bomb.mxl", lambda: bomb(200 * 2**20), "unpacks to more than"),
        ("entities.musicxml", lambda: ENTITIES, "entit"),
        ("empty.mxl", lambda: b"PK", "empty.mxl"),
        ("deep.musicxml", lambda: b"<a>" * 100_000, "deep.musicxml"),
    ],
)
def test_a_score_that_means_harm_is_refused_with_a_sentence(studio, name, make, said):
    add_student(studio, StudentValues("Mira Holt"))
    answer = client(studio).post("/parts", files=[("files", (name, make()))])
    assert answer.status_code == 400
    assert said in words(answer)
    assert "root:" not in answer.text
    with studio.store.read() as db:
        assert db.execute("SELECT count(*) FROM score").fetchone()[0] == 0
    assert list_students(studio)
