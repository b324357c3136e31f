"""The report of a take in a real browser: a click on a note plays that note."""

import pytest
from invented import DEMO
from played import placed, play_part, write_wav
from playwright.sync_api import expect

from browser import chromium, serious_in_both_themes, serving, visiting
from handslide.edges.store.students import StudentValues
from handslide.jobs.setup import make_setup
from handslide.studio.parts.scores import add_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student
from handslide.studio.studio import open_studio
from handslide.studio.takes.takes import hear_take, list_takes

pytestmark = pytest.mark.browser
SETUP = make_setup("tenor-f")
COUNT = 20


def with_faults(number, place, before):
    if number == 9:
        return None
    return -15.0 if abs(place.position - 3) < 0.2 and not place.valves else 0.0


@pytest.fixture(scope="module")
def wav(tmp_path_factory):
    samples = play_part(SETUP, placed(SETUP, DEMO)[:COUNT], with_faults)
    return write_wav(tmp_path_factory.mktemp("take") / "take.wav", samples)


@pytest.fixture(scope="module")
def shown(wav, tmp_path_factory):
    """(studio, student, take, address, browser)."""
    studio = open_studio(tmp_path_factory.mktemp("studio"))
    student = add_student(studio, StudentValues(name="Mira Holt"))
    add_horn(studio, student.id, "tenor-f")
    score = add_score(studio, DEMO.read_bytes(), DEMO.name).score
    stand = open_stand(studio, student.id, score.id)
    take = hear_take(studio, student.id, wav, stand_id=stand)
    with serving(studio) as address, chromium() as browser:
        yield studio, student, take, address, browser
    studio.close()


@pytest.mark.alone
def test_a_click_in_the_table_plays_the_note_and_stops_after_it(shown):
    _, _, take, address, browser = shown
    with visiting(browser, address) as page:
        page.goto(f"/takes/{take}")
        row = page.locator("#n3")
        start, end = (float(row.get_attribute(f"data-{name}")) for name in ("start", "end"))
        page.evaluate(
            """() => {
              const sound = document.getElementById("audio");
              window.heard = [];
              const look = () => {
                if (!sound.paused) window.heard.push(sound.currentTime);
                requestAnimationFrame(look);
              };
              look();
            }"""
        )
        page.locator("#notes-fold summary").click()
        row.get_by_role("button").click()
        page.wait_for_function("() => document.querySelector('#n3.on') !== null")
        assert "on" in page.locator(".spot[data-of='3']").get_attribute("class")
        page.wait_for_function(
            "() => window.heard.length && document.getElementById('audio').paused"
        )
        heard = page.evaluate("window.heard")
        assert start - 0.15 <= min(heard) <= start + 0.1
        assert end - 0.1 <= max(heard) <= end + 0.3
        expect(page.locator("#n9").get_by_role("button")).to_have_count(0)


@pytest.mark.alone
def test_a_click_in_the_picture_plays_the_note(shown):
    _, _, take, address, browser = shown
    with visiting(browser, address, size="phone") as page:
        page.goto(f"/takes/{take}")
        page.wait_for_function("() => document.getElementById('audio').readyState > 0")
        page.locator("#pictures-fold summary").click()
        page.locator(".spot[data-of='12']").click()
        page.wait_for_function("() => !document.getElementById('audio').paused")
        start = float(page.locator("#n12").get_attribute("data-start"))
        now = page.evaluate("document.getElementById('audio').currentTime")
        assert start - 0.15 <= now <= start + 1.0
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= 390


def test_the_music_on_top_says_how_each_note_was(shown):
    _, _, take, address, browser = shown
    with visiting(browser, address) as page:
        page.goto(f"/takes/{take}")
        page.locator("path.heard-out").first.wait_for()
        # The slide was 15 mm too far in wherever it should be in 3rd; one note was left out.
        off_mm = page.locator("text.heard-out").all_text_contents()
        assert off_mm and all(13 <= int(text.removeprefix("▶")) <= 16 for text in off_mm), off_mm
        expect(page.locator("path.heard-gone")).to_have_count(1)
        expect(page.locator("path.heard")).to_have_count(COUNT)
        third = page.locator("path.heard-out").first.get_attribute("data-i")
        page.locator(f".hit[data-i='{third}']").click()
        page.wait_for_function("() => !document.getElementById('audio').paused")
        expect(page.locator("#note-said")).to_contain_text(" mm out · ", use_inner_text=True)
        tall = page.evaluate("document.documentElement.scrollHeight")
        assert tall < 2700, tall


def test_only_notes_to_look_at(shown):
    _, _, take, address, browser = shown
    with visiting(browser, address) as page:
        page.goto(f"/takes/{take}")
        page.locator("#notes-fold summary").click()
        rows = page.locator("#take-notes tbody tr:visible")
        expect(rows).to_have_count(COUNT)
        page.get_by_label("Only notes to look at").check()
        said = rows.locator(".take-words").all_inner_texts()
        assert 2 <= len(said) < COUNT
        assert "in tune" not in said


def test_nothing_serious_for_those_who_cant_see(shown):
    _, student, take, address, browser = shown
    with visiting(browser, address) as page:
        # `test_studio_every_page` has another take, and the list of all.
        for path in (f"/takes/{take}", f"/takes?student={student.id}"):
            page.goto(path)
            assert serious_in_both_themes(page) == []


def test_a_recording_is_sent_by_the_form(shown, wav):
    studio, _, _, address, browser = shown
    before = len(list_takes(studio))
    with visiting(browser, address) as page:
        page.goto("/takes")
        page.get_by_text("Send a recording").click()
        page.locator("#audio").set_input_files(wav)
        page.locator("#whose").select_option(label="Mira Holt")
        page.locator("#beside option", has_text="Lanterns").wait_for(state="attached")
        page.locator("#beside").select_option(index=1)
        page.get_by_role("button", name="Send and listen").click()
        page.get_by_text("Note by note, as a table").wait_for()
        expect(page.locator("main").first).to_contain_text(
            "19 of 20 notes right", use_inner_text=True
        )
    assert len(list_takes(studio)) == before + 1


def test_the_list_follows_the_choice_of_a_student(shown):
    _, student, _, address, browser = shown
    with visiting(browser, address) as page:
        page.goto("/takes")
        page.locator("#of").select_option(str(student.id))
        page.wait_for_url(f"**/takes?student={student.id}")
        assert page.locator("#of").input_value() == str(student.id)
