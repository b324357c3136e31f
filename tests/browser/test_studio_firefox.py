"""The studio in Firefox, where it is installed: what needs most of a browser, in the dark theme."""

import pytest
from firefox import driven, firefox
from playwright.sync_api import expect
from shares import share_of
from studio_stands import LANTERNS

from browser import SIZES, fits, open_whole, serious_findings, serving, visiting
from handslide.faces.web.app import create_app
from handslide.studio.care.example import add_example
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.students import list_students
from handslide.studio.studio import open_studio

pytestmark = pytest.mark.browser
NOTE = 20
# Themes and motion are preferences of this browser, and no page can be asked to change them.
AS_IT_IS = {"scheme": "null", "reduced_motion": "null"}


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    """(studio with the example, its address, the browser in the dark theme)."""
    folder = tmp_path_factory.mktemp("firefox")
    with firefox(folder, "dark", **{"ui.prefersReducedMotion": 1}) as browser:
        studio = open_studio(folder / "studio")
        add_example(studio)
        with serving(studio, driven(create_app(studio))) as address:
            yield studio, address, browser
        studio.close()


def part_of(page, stand):
    """Go to a part's page, and wait for its music and for what stands beside it."""
    page.goto(f"/stands/{stand}")
    page.locator("#score text.mark").nth(NOTE).wait_for()
    page.wait_for_selector(".part-columns", state="attached")


def test_a_part_is_taken_in_marked_and_printed(shown, tmp_path):
    studio, address, browser = shown
    file = tmp_path / "again.musicxml"
    file.write_bytes(LANTERNS.replace(b"Lanterns on the Quay", b"Firefox takes a part"))
    with visiting(browser, address, **AS_IT_IS) as page:
        page.goto("/")
        assert page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches")
        page.set_input_files("input[name=files]", file)
        page.wait_for_url("**/parts/*")
        assert page.locator("h1").inner_text() == "Firefox takes a part"
        page.get_by_role("button", name="Clara Moreno").first.click()
        page.wait_for_url("**/stands/*")
        page.locator("#score text.mark").nth(50).wait_for()
        assert any(row.title == "Firefox takes a part" for row in list_stands(studio))
        page.locator("a[data-making][target=_blank]").first.click()
        made = page.locator(".making a")
        made.wait_for()
        answer = page.request.get(made.get_attribute("href"))
        assert answer.headers["content-type"] == "application/pdf"
        assert answer.body().startswith(b"%PDF")


def test_a_place_is_chosen_and_taken_back(shown):
    studio, address, browser = shown
    stand = list_stands(studio)[0].id
    with visiting(browser, address, **AS_IT_IS) as page:
        part_of(page, stand)
        marks = page.locator("#score text.mark")
        before = marks.all_text_contents()
        page.locator(f".hit[data-i='{NOTE}']").click()
        page.wait_for_selector(f"#note [data-said][data-i='{NOTE}']")
        page.locator("#note .other").nth(1).click()
        page.wait_for_selector("#note .note-mark.is-locked")
        assert marks.all_text_contents() != before
        page.locator("#score").focus()
        page.keyboard.press("Control+z")
        page.wait_for_selector("#redo:enabled")
        assert marks.all_text_contents() == before
        page.keyboard.press("ArrowRight")
        page.wait_for_selector(f".hit.is-on[data-i='{NOTE + 1}']", state="attached")
        page.keyboard.press("?")
        assert page.locator("dialog[open] h2").first.is_visible()


def test_the_stage_does_without_sound_and_says_so(shown):
    """Firefox waits without end for sound that has nothing to be played on."""
    studio, address, browser = shown
    stand = list_stands(studio)[0].id
    with visiting(browser, address, **AS_IT_IS) as page:
        page.add_init_script(
            "Object.defineProperty(AudioContext.prototype, 'state', { get: () => 'suspended' })"
        )
        page.goto(f"/takes/new?stand={stand}")
        page.locator("#score .hit.is-playing").wait_for(state="attached")
        page.locator("#go").click()
        page.wait_for_function("() => document.body.dataset.state === 'nomic'")
        expect(page.locator("main")).to_contain_text(
            "plug in speakers or headphones", use_inner_text=True
        )
        page.locator(".hit[data-i='5']").click()
        assert page.locator("#score .hit.is-playing").get_attribute("data-i") == "5"


def test_a_page_is_left_while_its_music_comes(shown):
    """What Firefox ends because the next page was asked for isn't told as a fault."""
    studio, address, browser = shown
    stage = f"/takes/new?stand={list_stands(studio)[0].id}"
    with visiting(browser, address, **AS_IT_IS) as page:
        for _ in range(3):
            page.set_viewport_size({"width": 1280, "height": 800})
            open_whole(page, stage)
            with page.expect_request("**/music?width=narrow*"):
                page.set_viewport_size({"width": 390, "height": 844})
            page.goto("/help")


def test_pages_are_whole_in_the_dark(shown):
    studio, address, browser = shown
    student = list_students(studio)[0].id
    stand = list_stands(studio)[0].id
    with visiting(browser, address, **AS_IT_IS) as page:
        paths = (
            "/",
            f"/students/{student}",
            f"/takes/new?stand={stand}",
            f"/tuning/{student}",
            "/help",
        )
        # The other browser's walk has all pages of the studio in the dark.
        looked_at = share_of(paths, 0, 3)
        for path in paths:
            open_whole(page, path)
            assert page.locator("h1").first.inner_text(), path
            for size in ("desk", "phone"):
                width, height = SIZES[size]
                page.set_viewport_size({"width": width, "height": height})
                assert fits(page), (path, size)
            if path in looked_at:
                assert serious_findings(page) == [], path
