"""Give to the student: what the page says of a file beforehand is what is in the file."""

import io
import json
import re
from datetime import date
from html import unescape

import numpy as np
import pytest
import soundfile
from progress_students import give_student
from studio_pages import client, words
from studio_stands import stand_of

from handslide.faces.web.guestpages import ROUTES
from handslide.studio.giving.give import about_bytes
from handslide.studio.parts.openpart import open_part
from handslide.studio.practice.plans import begin_plan
from handslide.studio.studio import set_setting
from handslide.studio.takes.sound import hold_sound

NAME = "Ada Quill"
LINES = {"Accept": "application/x-ndjson, application/json"}


def told(answer):
    """The rows of what will be in a file."""
    rows = re.findall(r"(?s)<dt>(.*?)</dt><dd>(.*?)</dd>", answer.text)
    return {
        term: unescape(re.sub(r"<[^>]+>|\s+", " ", said)).strip() for term, said in rows
    }  # fmt: skip


def data_of(answer):
    return json.loads(re.search(r'id="part-data">(.*?)</script>', answer.text)[1])


def saved_as(answer):
    return re.search(r'^attachment; filename="([\w.-]+)"$', answer.headers["content-disposition"])[
        1
    ]


@pytest.fixture
def stand(studio):
    return stand_of(studio, name=NAME)


def test_what_is_told_of_a_part_is_in_its_file(studio, stand):
    pages = client(studio)
    query = "from=4&to=7&show=all&set=1"
    said = told(pages.get(f"/give/stand/{stand}?{query}"))
    file = pages.get(f"/give/stand/{stand}/file?{query}")
    assert file.headers["content-type"] == "text/html; charset=utf-8"
    data = data_of(file)
    assert said["Music"] == f"Measures 5–8 · {len(data['notes'])} notes"
    assert sorted(data["measures"], key=int) == ["4", "5", "6", "7"]
    assert said["File"].startswith("lanterns-on-the-quay.html")
    assert saved_as(file) == "lanterns-on-the-quay.html"
    assert said["Places"] in unescape(file.text)
    assert "None" in said["Name"] and not re.search(r"(?i)\b(ada|quill)\b", words(file))


def test_the_name_stands_there_only_if_it_is_wished(studio, stand):
    pages = client(studio)
    plain = pages.get(f"/give/stand/{stand}/file?set=1&from=0&to=1")
    assert NAME not in plain.text and "quill" not in saved_as(plain)
    named = "named=1&set=1&from=0&to=1"
    assert told(pages.get(f"/give/stand/{stand}?{named}"))["Name"].startswith(NAME)
    file = pages.get(f"/give/stand/{stand}/file?{named}")
    assert f"for {NAME}" in file.text and saved_as(file) == "lanterns-on-the-quay-ada-quill.html"


def test_a_name_in_a_title_is_pointed_at(studio, stand):
    with studio.store.write() as db:
        db.execute("UPDATE score SET title = 'Tune for Ada'")
    pages = client(studio)
    assert "stands in a title" in words(pages.get(f"/give/stand/{stand}"))
    assert "stands in a title" not in words(pages.get(f"/give/stand/{stand}?named=1"))


@pytest.mark.parametrize("own", [None, "fr"])
def test_it_speaks_the_students_language_or_else_the_studios_or_what_is_chosen(studio, own):
    stand = stand_of(studio, name=NAME, language=own)
    set_setting(studio, "language", "de")
    pages = client(studio)
    asked = f"/give/stand/{stand}/file?set=1&from=0&to=0"
    assert f'<html lang="{own or "de"}"' in pages.get(asked).text
    assert '<html lang="es"' in pages.get(f"{asked}&language=es").text
    chosen = re.search(
        r'<option value="(\w\w)"[^>]* selected', pages.get(f"/give/stand/{stand}").text
    )
    assert chosen[1] == (own or "de")


def test_look_and_large_type_are_those_that_were_chosen(studio, stand):
    text = client(studio).get(f"/give/stand/{stand}/file?set=1&to=0&look=dark&large=1").text
    assert 'data-theme="dark"' in text and 'data-size="large"' in text


def test_it_is_told_as_it_is_made_and_comes_then(studio, stand):
    pages, url = client(studio), f"/give/stand/{stand}/file?set=1&save=1&to=3"
    lines = [json.loads(line) for line in pages.get(url, headers=LINES).text.splitlines()]
    assert lines[0]["text"].startswith("The music is being engraved")
    assert lines[-1]["ready"] == "The file is ready."
    file = pages.get(f"{url}&made={lines[-1]['made']}")
    assert saved_as(file).endswith(".html") and data_of(file)["notes"]


def test_the_size_told_is_about_that_of_the_file(studio, stand):
    file = client(studio).get(f"/give/stand/{stand}/file?set=1").content
    about = about_bytes(len(open_part(studio, stand).marked.part.notes))
    assert abs(about - len(file)) < 0.2 * len(file)


@pytest.mark.parametrize(
    "wrong", ["look=pink", "language=xx", "from=9999", "from=1e5", "to=0x2", "from=-1"]
)
def test_what_cannot_be_chosen_is_refused_in_a_sentence(studio, stand, wrong):
    pages = client(studio)
    shown = pages.get(f"/give/stand/{stand}?{wrong}")
    assert shown.status_code == 200 and 'role="alert"' in shown.text
    refused = pages.get(f"/give/stand/{stand}/file?set=1&{wrong}")
    assert refused.status_code == 400 and "Traceback" not in refused.text


def test_marks_that_are_no_choice_are_refused(studio, stand):
    assert client(studio).get(f"/give/stand/{stand}/file?set=1&show=some").status_code == 400


def test_nothing_is_given_of_a_stand_that_is_not_there(studio):
    pages = client(studio)
    assert pages.get("/give/stand/1").status_code == 404
    assert pages.get("/give/stand/1/file").status_code == 404


def test_a_chart_is_given_as_its_page_says(example):
    pages = client(example)
    here = "student=1&sheet=open"
    assert "/give/chart?" in pages.get(f"/charts?{here}").text
    said = told(pages.get(f"/give/chart?{here}"))
    file = pages.get(f"/give/chart/file?{here}&set=1&language=fr")
    assert said["File"].startswith(saved_as(file)) and saved_as(file) == "chart-open.html"
    assert '<html lang="fr"' in file.text and "Clara" not in file.text
    assert "Clara Moreno" in words(pages.get(f"/give/chart/file?{here}&set=1&named=1"))
    for sheet in ("strip", "compare", "none"):
        assert pages.get(f"/give/chart?sheet={sheet}").status_code == 400
    assert "With the name" not in words(pages.get("/give/chart?sheet=all"))


def test_a_take_is_given_without_its_recording(example):
    pages = client(example)
    assert 'href="/give/take/1"' in pages.get("/takes/1").text
    page = pages.get("/give/take/1")
    assert told(page)["Sound"].endswith("no recording is in it.")
    assert 'name="recording"' not in page.text  # its sound is gone
    file = pages.get("/give/take/1/file?set=1")
    assert told(page)["File"].startswith(saved_as(file))
    assert "data:audio" not in file.text and "Clara" not in file.text
    assert "Clara Moreno" in pages.get("/give/take/1/file?set=1&named=1").text


def test_the_recording_goes_along_only_with_consent(example):
    recording = io.BytesIO()
    soundfile.write(recording, np.zeros(8000), 16000, format="FLAC")
    hold_sound(example, 1, recording.getvalue())
    pages = client(example)
    page = pages.get("/give/take/1?recording=1")
    assert "local rules" in words(page) and "only if you tick" in told(page)["Sound"]
    refused = pages.get("/give/take/1/file?set=1&recording=1")
    assert refused.status_code == 400 and "only with consent" in words(refused)
    both = "recording=1&consent=1"
    assert told(pages.get(f"/give/take/1?{both}"))["Sound"].startswith("The recording itself")
    assert "data:audio" in pages.get(f"/give/take/1/file?set=1&{both}").text


@pytest.mark.parametrize(
    ("what", "query"),
    [("drill", "kind=register&seed=2&level=second-year"), ("lesson", "stand=2&seed=1&set=1")],
)
def test_a_sheet_is_given_as_its_page_says(example, what, query):
    pages = client(example)
    here = f"/practice/1/{what}"
    assert f'href="/give{here}?' in pages.get(f"{here}?{query}").text
    said = told(pages.get(f"/give{here}?{query}"))
    file = pages.get(f"/give{here}/file?{query}")
    assert said["File"].startswith(saved_as(file)) and "clara" not in saved_as(file)
    count = int(re.search(r"(\d+) exercises", said["Music"])[1])
    simpler = len(re.findall(r'<span class="number">[^<]*\*', file.text))  # ways round a hard spot
    blocks = file.text.count('<section class="block"') - simpler
    assert blocks == count + (what == "lesson") and "Clara" not in file.text
    assert ("Boxes" in said) == (what == "lesson")
    assert "Clara Moreno" in words(pages.get(f"/give{here}/file?{query}&named=1"))


@pytest.mark.parametrize("day", ["", "2"])
def test_a_routine_of_a_plan_is_given_as_its_page_says(studio, day):
    student, _ = give_student(studio, name=NAME)
    begin_plan(
        studio, student.id, start=date.today(), weeks=2, minutes=10, level="first-year"
    )  # fmt: skip
    pages, here = client(studio), f"/give/plans/{student.id}"
    page = pages.get(f"/plans/{student.id}?week=2")
    assert f'href="{here}?week=2"' in page.text and f"{here}?week=2&amp;day=" not in page.text
    assert f"{here}?week=1&amp;day=0" in pages.get(f"/plans/{student.id}").text
    query = f"week=2&day={day}"
    said = told(pages.get(f"{here}?{query}"))
    file = pages.get(f"{here}/file?{query}")
    assert said["File"].startswith(saved_as(file)) and "quill" not in saved_as(file)
    about_mb = float(re.search(r"about ([\d.]+) MB", said["File"])[1])
    assert abs(about_mb * 1e6 - len(file.content)) < 0.2 * len(file.content)
    assert all(told in unescape(file.text) for told in said["Places"].split(" · "))
    assert NAME not in file.text and "Quill" not in words(file)
    count = int(re.search(r"(\d+) exercises", said["Music"])[1])
    # What only shows how another is played has no number of its own.
    assert len(re.findall(r'<span class="number">', file.text)) == count
    boxes = len(re.findall(r"data-tick=", file.text))
    assert boxes == count if day else boxes > count
    assert said["Boxes"].startswith("One for each" if day else "For each day")
    assert NAME in words(pages.get(f"{here}/file?{query}&named=1"))


def test_of_a_plan_only_days_that_it_has_are_given(studio):
    student, _ = give_student(studio, name=NAME)
    pages, here = client(studio), f"/give/plans/{student.id}"
    assert pages.get(here).status_code == 404  # no plan
    begin_plan(
        studio, student.id, start=date.today(), weeks=2, minutes=10, level="first-year"
    )  # fmt: skip
    assert [pages.get(f"{here}?week={week}").status_code for week in (0, 1, 2, 3)] == [
        404, 200, 200, 404,
    ]  # fmt: skip
    assert pages.get(f"{here}?week=1&day=7").status_code == 400
    assert pages.get(f"{here}/file?week=1&day=x").status_code == 400


def test_a_tablet_has_no_way_to_it():
    assert not [route.path for route in ROUTES if "give" in route.path or "file" in route.path]
