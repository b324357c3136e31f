"""Progress in the studio: from the store, on the page, on the sheet for parents, in a terminal."""

import json
import re

import pytest
from command import one_sentence, run, run_json
from long_words import LongWords
from pdf_boxes import outside, overlaps, read_pages
from progress_students import give_student, give_takes, learner
from studio_pages import client, studio, words

from browser import SIZES, browser, serious_in_both_themes, serving, visiting
from handslide.edges.typesetting.drawing import render
from handslide.ground.errors import BadUsage, NotFound
from handslide.ground.facts import fact
from handslide.ground.papers import PAPERS
from handslide.sheets.shapes import MARKS, leaving_page, overlapping_texts
from handslide.studio.people.horns import add_horn, restore_version
from handslide.studio.people.students import add_version, main_horn
from handslide.studio.progress.file import progress_pdf
from handslide.studio.progress.findings import needs_found
from handslide.studio.progress.progress import Filters, progress_of
from handslide.studio.progress.progressjson import progress_json
from handslide.studio.progress.sheet import progress_sheet
from handslide.studio.studio import set_setting
from handslide.words.progress import practise_what, practise_why
from handslide.words.speech import speech

__all__ = ["browser", "studio"]  # fixtures

SAY = speech("en")


@pytest.fixture
def mira(studio):
    """A student with twelve takes over twelve weeks: 6th gets better, 4th is too short."""
    student, stand = give_student(studio)
    give_takes(studio, student, stand, learner, seed=1)
    return student


def place(report, position, valves=()):
    (found,) = [
        group
        for group in report.progress.of_kind("place")
        if group.valves == valves and abs(group.position - position) < 0.2
    ]
    return found


# The job.


def test_what_was_played_comes_out(studio, mira):
    report = progress_of(studio, mira.id)
    assert (report.takes, report.doubtful, report.guessed) == (12, 0, 0)
    assert (report.last_day - report.first_day).days == 84
    fourth = place(report, 4)
    assert fourth.slide_mm == pytest.approx(-22.0, abs=6.0)
    assert fourth.change("bias").verdict in ("steady", "unclear")
    assert place(report, 2.33, ("F",)).slide_mm == pytest.approx(15.0, abs=8.0)
    sixth = place(report, 6).change("bias")
    assert sixth.verdict == "improved"
    assert sixth.early < -18.0 and abs(sixth.late) < 8.0
    assert report.changed("improved")[0][0].position == 6.0
    assert report.changed("worse") == ()


def test_what_comes_next_names_the_stand(studio, mira):
    report = progress_of(studio, mira.id)
    first = report.next[0]
    assert abs(first.found.group.position - 4) < 0.1
    assert first.found.sure
    (where,) = first.where
    assert where.title == "Lanterns on the Quay"
    assert where.count == first.found.on_stand > 5
    assert practise_what(SAY, first.found).startswith("4th position (such as ")
    assert re.search(r"the slide is about \d+ mm too short", practise_why(SAY, first.found))
    assert "further out until the beats stop" in SAY.fact(first.found.how)


def test_filters_let_through_what_they_say(studio, mira):
    whole = progress_of(studio, mira.id)
    half = progress_of(studio, mira.id, Filters(until="2026-10-05"))
    day = progress_of(studio, mira.id, Filters(since="2026-08-31", until="2026-08-31"))
    assert 1 < half.takes < whole.takes
    assert day.takes == 1
    assert day.first_day == day.last_day
    horn, score = whole.horns[0].id, whole.scores[0].id
    assert progress_of(studio, mira.id, Filters(horn, score)).takes == 12
    assert progress_of(studio, mira.id, Filters(horn + 1)).takes == 0
    assert progress_of(studio, mira.id, Filters(score_id=score + 1)).takes == 0
    with pytest.raises(BadUsage, match="isn't a day"):
        Filters(since="yesterday")
    with pytest.raises(BadUsage, match="the end is before it"):
        Filters(since="2026-10-02", until="2026-10-01")


def test_nobody_has_no_progress(studio):
    with pytest.raises(NotFound, match="isn't in the studio"):
        progress_of(studio, 7)


def test_takes_on_two_horns_and_versions_share_their_places(studio):
    student, stand = give_student(studio)
    give_takes(studio, student, stand, learner, takes=4, seed=1)
    horn = main_horn(studio, student.id)
    longer = re.sub(r'closed = "B♭?b?1"', "closed_hz = 57.9", horn.version.toml, count=1)
    assert longer != horn.version.toml
    add_version(studio, horn.id, longer, "edit")
    give_takes(studio, student, stand, learner, takes=4, seed=2)
    restore_version(studio, horn.id, 1)
    report = progress_of(studio, student.id)
    assert report.takes == 8
    assert place(report, 6).takes == 8
    add_horn(studio, student.id, "tenor")
    assert [choice.title for choice in report.horns] == [horn.title]


def test_a_take_that_did_not_fit_its_part_is_not_counted(studio, mira):
    with studio.store.write() as db:
        db.execute(
            "UPDATE take SET report = json_set(report, '$.doubt', 'hardly a note fits') "
            "WHERE id = (SELECT min(id) FROM take)"
        )
    report = progress_of(studio, mira.id)
    assert (report.takes, report.doubtful) == (11, 1)
    said = words(client(studio).get(f"/progress/{mira.id}"))
    assert "1 take didn't fit its part and isn't counted." in said


def test_free_notes_are_told_as_guessed(studio, mira):
    with studio.store.write() as db:
        db.execute("UPDATE take_note SET played = 'free' WHERE take_id = 1 AND played = 'right'")
    report = progress_of(studio, mira.id)
    assert report.guessed > 50
    assert "usual place" in words(client(studio).get(f"/progress/{mira.id}"))


def test_a_horn_that_is_gone_leaves_its_notes_without_places(studio, mira):
    with studio.store.write() as db:
        db.execute("UPDATE take SET horn_version_id = NULL")
    report = progress_of(studio, mira.id)
    assert report.progress.of_kind("place") == ()
    assert len(report.progress.of_kind("note")) > 5
    assert client(studio).get(f"/progress/{mira.id}").status_code == 200
    assert progress_pdf(report, SAY).startswith(b"%PDF")


def test_json_says_the_same(studio, mira):
    report = progress_of(studio, mira.id)
    told = json.loads(json.dumps(progress_json(report, SAY)))
    (sixth,) = [g for g in told["groups"] if g["kind"] == "place" and g["mark"] == "6"]
    assert sixth["name"] == "6th position"
    assert sixth["cents"]["low"] < sixth["cents"]["value"] < sixth["cents"]["high"]
    assert {c["measure"]: c["verdict"] for c in sixth["changes"]}["bias"] == "improved"
    assert told["practice"][0]["what"] == practise_what(SAY, report.next[0].found)
    assert told["practice"][0]["why_kind"] == "off"
    assert told["takes"] == len(told["tuning"]["takes"]) == 12


# The page.


def test_the_page_says_what_is_known(studio, mira):
    answer = client(studio).get(f"/progress/{mira.id}")
    assert answer.status_code == 200
    said = words(answer)
    assert re.search(r"6th position .{0,60}?\b\d\d cents too low at first", said)
    assert re.search(
        r"4th position .{0,60}?\b\d\d cents too high: the slide is about .. mm too short\.", said
    )
    assert "Lanterns on the Quay: 19 times, first in measure 1" in said
    assert f'href="/progress/{mira.id}.pdf"' in answer.text
    assert answer.text.count("<svg xmlns") >= 8
    assert re.search(r"\sstyle=", answer.text) is None


def test_the_page_of_few_takes_says_what_is_missing(studio):
    student, stand = give_student(studio)
    page = client(studio).get(f"/progress/{student.id}")
    assert "No takes yet" in words(page)
    assert f"/takes/new?student={student.id}" in page.text
    give_takes(studio, student, stand, learner, takes=1)
    said = words(client(studio).get(f"/progress/{student.id}"))
    assert "It is too early to say what changes." in said
    assert "that takes four takes of a place over ten days or more" in said.lower()
    assert "0 of 14 places are known" in said
    assert "as far as can be told yet" in said


def test_filters_on_the_page(studio, mira):
    browser = client(studio)
    answer = browser.get(f"/progress/{mira.id}?from=2026-09-01&to=2026-10-05&horn=&part=1")
    assert 'value="2026-09-01"' in answer.text
    assert f"/progress/{mira.id}.pdf?part=1&amp;from=2026-09-01&amp;to=2026-10-05" in answer.text
    nothing = browser.get(f"/progress/{mira.id}?from=2030-01-01")
    assert "No take fits these filters." in words(nothing)
    wrong = browser.get(f"/progress/{mira.id}?from=soon")
    assert wrong.status_code == 200
    assert "isn't a day" in words(wrong)
    assert browser.get(f"/progress/{mira.id}?to=9999-12-31&from=20260831").status_code == 200
    assert "isn't a horn of this studio" in words(browser.get(f"/progress/{mira.id}?horn=x"))


def test_a_name_is_only_a_name(studio):
    student, stand = give_student(studio, name="<script>alert(1)</script> & Söhne")
    give_takes(studio, student, stand, learner, takes=2)
    answer = client(studio).get(f"/progress/{student.id}")
    assert "<script>alert" not in answer.text
    pdf = client(studio).get(f"/progress/{student.id}.pdf")
    assert pdf.headers["content-type"] == "application/pdf"
    assert "\n" not in pdf.headers["content-disposition"]
    assert '"' not in pdf.headers["content-disposition"]


@pytest.mark.parametrize("language", ["de", "es"])
def test_the_page_in_other_languages(studio, mira, language):
    set_setting(studio, "language", language)
    said = words(client(studio).get(f"/progress/{mira.id}"))
    expected = {
        "de": ("6.\u00a0Lage", "mm zu weit innen"),
        "es": ("6.ª\u00a0posición", "mm demasiado dentro"),
    }
    for text in expected[language]:
        assert text in said
    assert "cents too" not in said
    assert "{" not in said


# The sheet for parents.


def sheet_students(studio):
    """(name, report) of students with none, one, three and many takes, and a long name."""
    cases = {
        "none": {"takes": 0},
        "one": {"takes": 1},
        "three": {"takes": 3, "weeks": 3},
        "many": {"takes": 30, "weeks": 40, "faults": 0.12},
    }
    for name, values in cases.items():
        long = "Anna Maria Theresia von Hohenstein-Wittgenbach und zu Falkenried " * 2
        student, stand = give_student(studio, name=long.strip() if name == "many" else name)
        if values["takes"]:
            give_takes(studio, student, stand, learner, **values)
        yield name, progress_of(studio, student.id)


@pytest.mark.parametrize("say", [SAY, LongWords("en")], ids=["english", "long words"])
@pytest.mark.parametrize("paper", tuple(PAPERS))
def test_nothing_collides_on_the_sheet(studio, paper, say):
    for name, report in sheet_students(studio):
        sheet = progress_sheet(report, say, paper)
        assert len(sheet.pages) <= 2, name
        for page in sheet.pages:
            assert overlapping_texts(page) == [], name
            assert leaving_page(page, 8.0) == [], name
            for text in page.texts:
                assert text.size_pt >= (8.0 if text.face == MARKS else 7.0), text
        (data,) = render(sheet)
        for page in read_pages(data):
            assert overlaps(page) == [], name
            assert outside(page, 8.0) == [], name


def test_the_sheet_is_one_page_in_plain_words(studio, mira):
    sheet = progress_sheet(progress_of(studio, mira.id), SAY)
    assert len(sheet.pages) == 1
    said = " ".join(text.text for text in sheet.pages[0].texts)
    for text in (
        "12 takes", "What got better", "6th position", "What comes next", "How to help",
        "beats", "holds no", "rest when something", "4th position",
    ):  # fmt: skip
        assert text in said, text


def test_the_sheet_keeps_the_studios_paper_and_filters(studio, mira):
    set_setting(studio, "paper", "letter")
    answer = client(studio).get(f"/progress/{mira.id}.pdf?to=2026-10-05")
    assert answer.status_code == 200
    (page,) = read_pages(answer.content)
    assert (page.width, page.height) == pytest.approx((215.9, 279.4), abs=0.2)
    said = " ".join(text.text for text in page.texts)
    assert "5 takes" in said or "6 takes" in said


# The command line.


def test_progress_in_a_terminal(studio, mira, tmp_path):
    folder, target = studio.folder, tmp_path / "mira.pdf"
    said = run("progress", "mi", "--folder", folder, "-o", target).stdout
    assert said.startswith("Mira\n31 August 2026 to 23 November 2026 · 12 takes")
    assert "6th position:" in said
    assert target.read_bytes().startswith(b"%PDF")
    assert "exists already" in one_sentence(
        run("progress", "mira", "--folder", folder, "-o", target, code=1)
    )
    told = run_json("progress", mira.id, "--folder", folder, "--to", "2026-10-05")
    assert told["student"] == "Mira"
    assert told["takes"] < 12


def test_progress_of_nobody_in_a_terminal(studio, mira, tmp_path):
    give_student(studio, name="Milo")
    folder = studio.folder
    assert "no student called 'x'" in one_sentence(run("progress", "x", "--folder", folder, code=1))
    both = one_sentence(run("progress", "mi", "--folder", folder, code=2))
    assert "Milo (2)" in both and "Mira (1)" in both
    nowhere = tmp_path / "nowhere"
    assert "no studio" in one_sentence(run("progress", "x", "--folder", nowhere, code=1))
    assert not nowhere.exists()
    early = one_sentence(run("progress", "mira", "--folder", folder, "--from", "soon", code=2))
    assert "isn't a day" in early


def test_words_for_no_takes(studio):
    student, _ = give_student(studio)
    report = progress_of(studio, student.id)
    assert needs_found(report) == (fact("progress.no_takes"),)
    said = run("progress", student.id, "--folder", studio.folder).stdout
    assert "There are no takes yet: record one, then come back." in said
    assert "no takes yet" in run("progress", student.id, "--folder", studio.folder).stdout


# In a real browser.


@pytest.mark.browser
@pytest.mark.parametrize("size", tuple(SIZES))
def test_the_page_in_a_browser(studio, mira, browser, size):
    with serving(studio) as address, visiting(browser, address, size=size) as tab:
        tab.goto(f"/progress/{mira.id}")
        assert serious_in_both_themes(tab) == []
        wide = tab.evaluate("document.documentElement.scrollWidth")
        assert wide <= SIZES[size][0]
        # The pictures are seen, and their heads aren't cut.
        for picture in tab.locator(".progress-picture svg").all():
            assert picture.bounding_box()["width"] > 200


@pytest.mark.browser
def test_filters_and_the_way_to_the_stand_by_keyboard(studio, mira, browser):
    with serving(studio) as address, visiting(browser, address) as tab:
        tab.goto(f"/progress/{mira.id}")
        tab.get_by_text("Which takes").press("Enter")
        tab.get_by_label("To", exact=True).fill("2026-10-05")
        tab.get_by_label("To", exact=True).press("Enter")
        tab.wait_for_url("**to=2026-10-05**")
        assert "12 takes" not in tab.inner_text("main")
        tab.get_by_text("Every note", exact=True).press("Enter")
        assert tab.get_by_role("table").count() == 2
        link = tab.get_by_role("link", name=re.compile("Lanterns on the Quay")).first
        assert re.fullmatch(r"/stands/\d+", link.get_attribute("href"))
