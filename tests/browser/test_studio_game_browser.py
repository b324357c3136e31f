"""The game "Which would you write?" in a browser: keys, sound, undo, the end, and who hears it."""

import pytest
from playwright.sync_api import expect
from studio_stands import SCORES, stand_of

from browser import SIZES, fits, serious_in_both_themes, serving, visiting
from handslide.studio.choosing.consent import give_consent
from handslide.studio.learning.answers import answers
from handslide.studio.studio import open_studio

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    """A studio with a part on a stand whose teacher has said yes, and its address."""
    studio = open_studio(tmp_path_factory.mktemp("studio"))
    data = (SCORES / "Slama_01.musicxml").read_bytes()
    stand_of(studio, name="Jonas Feld", data=data, file="Slama.musicxml")
    give_consent(studio, earlier=True)
    with serving(studio) as address:
        yield studio, address
    studio.close()


def begin(page):
    page.goto("/learning/game")
    page.get_by_role("button", name="Begin").click()
    page.wait_for_selector(".game-music svg")
    return page.locator("#heading").inner_text()


def told(page, way):
    return page.locator(f"#words-{way}").inner_text()


def test_a_round_with_the_keyboard(shown, browser):
    studio, address = shown
    before = len(answers(studio))
    with visiting(browser, address) as page:
        begin(page)
        first = told(page, 1), told(page, 2)
        assert first[0] != first[1]
        assert page.get_by_role("button", name="Take the last answer back").is_disabled()
        page.keyboard.press("2")
        page.wait_for_selector("#undo:enabled")
        assert [answer.picked for answer in answers(studio)[before:]] == [2]
        page.keyboard.press("u")
        page.wait_for_selector("#undo:disabled")
        assert (told(page, 1), told(page, 2)) == first
        assert len(answers(studio)) == before
        page.keyboard.press("n")
        page.wait_for_selector("#undo:enabled")
        page.get_by_role("button", name="End").click()
        page.get_by_role("heading", name="Thank you").wait_for()
        assert page.locator("#ended").inner_text().count("one question") == 1
        expect(page.locator("#ended")).to_contain_text("neither", use_inner_text=True)
        kept = answers(studio)[before:]
        assert [answer.picked for answer in kept] == [0]
        assert kept[0].question.title


def test_each_way_is_heard_with_its_notes_lit_and_the_slide_moving(shown, browser):
    _, address = shown
    with visiting(browser, address) as page:
        begin(page)
        stay = "document.querySelector('.slide [data-slide=outer]').getAttribute('transform')"
        rests = page.evaluate(stay)
        page.keyboard.press("m")
        page.wait_for_selector("[data-way='1'] .note.is-playing")
        page.wait_for_function(f"was => {stay} !== was", arg=rests)
        hear = page.locator("[data-way='1'] .game-hear")
        assert (hear.inner_text(), hear.get_attribute("aria-pressed")) == ("Stop", "true")
        page.locator("[data-way='2'] .game-hear").click()
        page.wait_for_selector("[data-way='2'] .note.is-playing")
        expect(page.locator("[data-way='1'] .is-playing")).to_have_count(0)
        # An answer ends what sounds.
        page.keyboard.press("1")
        page.wait_for_selector("#undo:enabled")
        expect(page.locator(".is-playing")).to_have_count(0)
        assert hear.inner_text() == "Hear it"


def test_it_fits_and_can_be_used_by_ear(shown, browser):
    _, address = shown
    with visiting(browser, address) as page:
        begin(page)
        for size, (width, height) in SIZES.items():
            page.set_viewport_size({"width": width, "height": height})
            assert fits(page), size
        assert serious_in_both_themes(page) == []
        names = page.get_by_role("button", name="Way 1")
        assert told(page, 1) in names.first.evaluate(
            "el => el.getAttribute('aria-labelledby').split(' ')"
            ".map(id => document.getElementById(id).innerText).join(' ')"
        )


def test_without_a_yes_nothing_is_asked(tmp_path, browser):
    studio = open_studio(tmp_path)
    stand_of(studio)
    with serving(studio) as address, visiting(browser, address) as page:
        page.goto("/learning/game")
        expect(page.get_by_role("button", name="Begin")).to_have_count(0)
        link = page.get_by_role("link", name="Read what would be kept")
        assert link.get_attribute("href") == "/learning"
    studio.close()
