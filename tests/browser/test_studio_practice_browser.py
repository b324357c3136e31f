"""Practice pages in a real browser: they answer to each wish, and everyone can read them."""

import pytest
from playwright.sync_api import expect
from shares import share_of

from browser import SIZES, fits, open_whole, serious_findings, serving, visiting
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.students import list_students

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def clara(studio):
    return next(one.id for one in list_students(studio) if one.name == "Clara Moreno")


@pytest.fixture
def served(example):
    with serving(example) as address:
        yield example, address


def sheet_address(page):
    return page.locator("#preview .page img").first.get_attribute("src")


def test_the_sheet_follows_the_wishes_without_a_jump(browser, served):
    studio, address = served
    with visiting(browser, address) as page:
        page.goto(f"/practice/{clara(studio)}/drill")
        before = sheet_address(page)
        top = page.locator("#preview .page").first.bounding_box()["y"]
        with page.expect_response("**/drill/preview?**"):
            page.select_option("#level", "advanced")
        page.wait_for_function(
            "before => !document.querySelector(`img[src='${before}']`)", arg=before
        )
        assert "level=advanced" in sheet_address(page)
        assert "level=advanced" in page.url
        assert page.locator("#preview .page").first.bounding_box()["y"] == top
        page.locator("#preview img").first.evaluate("img => img.decode()")
        with page.expect_response("**/drill/preview?**"):
            page.get_by_role("button", name="Another one like it").click()
        page.wait_for_function("() => document.getElementById('seed').value === '2'")
        assert "seed=2" in sheet_address(page) and "level=advanced" in sheet_address(page)
        # Another kind shows its own wishes and keeps what fits.
        page.select_option("#kind", "glissandi")
        page.wait_for_function("() => !document.getElementById('key')")
        assert "kind=glissandi" in sheet_address(page) and "level=advanced" in page.url
        page.select_option("#kind", "scales")
        page.wait_for_selector("#key")
        page.get_by_text("Range, tempo, clef, paper").click()
        page.fill("#tempo", "soon")
        page.wait_for_selector("#preview .notice.bad")
        expect(page.locator("#preview .notice.bad")).to_contain_text(
            "isn't a tempo", use_inner_text=True
        )


def test_a_drill_goes_on_the_stand_and_is_played_there(browser, served):
    studio, address = served
    with visiting(browser, address) as page:
        page.goto(f"/practice/{clara(studio)}/drill?kind=register")
        page.get_by_role("button", name="Put it on the stand").click()
        page.wait_for_selector("#score svg")
        expect(page.locator("h1")).to_contain_text(
            "Valve register, second year, sheet 1", use_inner_text=True
        )
        assert page.locator("#undo").is_enabled()
        page.locator("#player button").first.click()
        page.wait_for_function(
            "() => document.querySelector('#player').dataset.state === 'playing'"
        )


def test_without_scripts_all_is_there(browser, served):
    studio, address = served
    with visiting(browser, address, java_script_enabled=False) as page:
        home = f"/practice/{clara(studio)}"
        page.goto(f"{home}/drill?kind=slurs")
        page.select_option("#level", "first-year")
        with page.expect_navigation():
            page.get_by_role("button", name="Show").click()
        assert "level=first-year" in sheet_address(page)
        with page.expect_navigation():
            page.get_by_role("button", name="Another one like it").click()
        assert "seed=2" in sheet_address(page)
        page.goto(f"{home}/drone")
        page.select_option("#chord", "fifth")
        page.get_by_role("button", name="Show").click()
        expect(page.locator("#preview tbody tr")).to_have_count(2)
        page.goto(f"{home}/move")
        page.get_by_role("button", name="Put it on the stand").click()
        expect(page.locator("h1")).to_contain_text("an octave lower", use_inner_text=True)


def test_a_drone_sounds_on_through_another_choice(browser, served):
    studio, address = served
    state = "document.querySelector('.loop').dataset.state"
    with visiting(browser, address) as page:
        page.goto(f"/practice/{clara(studio)}/drone")
        # What reaches the loudspeakers is looked at on its way.
        page.evaluate(
            """() => {
              const connect = AudioNode.prototype.connect;
              AudioNode.prototype.connect = function (to, ...rest) {
                if (to === this.context.destination) {
                  window.meter = this.context.createAnalyser();
                  connect.call(this, window.meter);
                }
                return connect.call(this, to, ...rest);
              };
              window.peak = () => {
                const wave = new Float32Array(2048);
                window.meter.getFloatTimeDomainData(wave);
                return Math.max(...wave.map(Math.abs));
              };
            }"""
        )
        assert page.locator(".loop audio").is_hidden()
        assert page.get_by_label("Volume").input_value() == "40"
        page.get_by_role("button", name="Play").click()
        page.wait_for_function(f"() => {state} === 'playing' && window.peak() > 0.005")
        page.wait_for_timeout(500)
        loud = page.evaluate("() => window.peak()")
        assert loud < 0.2
        page.select_option("#chord", "major")
        page.wait_for_function("() => document.querySelectorAll('#preview tbody tr').length === 3")
        page.wait_for_function(f"() => {state} === 'playing' && window.peak() > 0.005")
        page.get_by_label("Volume").fill("0")
        page.wait_for_function("() => window.peak() < 0.001")
        page.get_by_role("button", name="Stop").click()
        page.wait_for_function(f"() => {state} === 'stopped'")


def test_a_play_along_begins_calmly(browser, served):
    studio, address = served
    stand = list_stands(studio, student_id=clara(studio))[0].id
    with visiting(browser, address) as page:
        page.goto(f"/stands/{stand}/playalong")
        audio = page.locator("audio.calm")
        assert audio.evaluate("one => one.volume") == pytest.approx(0.4)
        audio.evaluate("one => one.play()")
        page.wait_for_function("() => document.querySelector('audio.calm').currentTime > 0.2")
        assert audio.evaluate("one => one.duration") > 20
        page.select_option("#solo", "off")
        page.get_by_role("button", name="Make it").click()
        page.wait_for_function("() => document.querySelector('audio').src.includes('solo=off')")
        assert page.locator("audio.calm").evaluate("one => one.volume") == pytest.approx(0.4)


def test_a_sound_is_played_and_moved_in_by_keys_alone(browser, served):
    studio, address = served
    stand = list_stands(studio, student_id=clara(studio))[0].id
    at = "document.querySelector('audio').currentTime"
    with visiting(browser, address) as page:
        page.goto(f"/stands/{stand}/playalong")
        key = page.get_by_role("button", name="Play: Play-along")
        key.focus()
        page.keyboard.press("Space")
        page.wait_for_function(f"() => {at} > 0.2")
        page.get_by_role("button", name="Stop: Play-along").press("Space")
        before = page.evaluate(at)
        place = page.get_by_role("slider", name="Play-along: where it is")
        place.press("ArrowRight")
        assert page.evaluate(at) == pytest.approx(before + 2, abs=0.1)
        place.press("ArrowLeft")
        assert page.evaluate(at) == pytest.approx(before, abs=0.1)
        place.press("End")
        assert place.get_attribute("aria-valuetext").split(" / ")[0] != "0:00"
        assert page.evaluate("document.querySelector('audio').controls") is False
    with visiting(browser, address, java_script_enabled=False) as page:
        page.goto(f"/stands/{stand}/playalong")
        assert page.locator("audio").get_attribute("controls") is not None


def test_what_can_be_practised_shows_its_first_line(browser, served):
    studio, address = served
    with visiting(browser, address) as page:
        page.goto(f"/practice/{clara(studio)}")
        page.locator(".offer .strip svg").first.wait_for()
        first = page.locator(".offer").first
        assert first.get_by_role("link", name="Print").get_attribute("href")
        first.locator("h3 a").click()
        page.wait_for_url("**/drill?kind=trouble-spots*")
        page.locator("#preview .page img").first.wait_for()


def test_a_large_key_moves_the_slide_and_the_drone(browser, served):
    studio, address = served
    with visiting(browser, address) as page:
        page.goto(f"/practice/{clara(studio)}/drone")
        where = "document.querySelector('#drone-slide .here text').textContent"
        assert page.evaluate(where) == "1"
        with page.expect_response("**/drone/preview?**"):
            page.get_by_role("button", name="E♭3 3").click()
        page.wait_for_function(f"() => {where} === '3'")
        assert page.get_by_role("button", name="E♭3 3").get_attribute("aria-pressed") == "true"
        page.wait_for_url("**note=Eb3**")


# What no link leads to; `test_studio_every_page` has the others.
def test_everyone_can_read_them(browser, served):
    studio, address = served
    student = clara(studio)
    home, wrong = f"/practice/{student}", []
    with visiting(browser, address, size="tablet") as page:
        urls = (
            f"{home}/drill?low=C4&high=C3", f"{home}/drill?kind=trouble-spots",
            f"{home}/drone?chord=major&tuning=just",
        )  # fmt: skip
        for url in urls:
            open_whole(page, url)
            for size, scheme in (("tablet", "dark"), ("phone", "light")):
                width, height = SIZES[size]
                page.set_viewport_size({"width": width, "height": height})
                page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
                if size == "phone" or url in share_of(urls, 0, 3):
                    wrong += [(url, size, each) for each in serious_findings(page)]
                if not fits(page):
                    wrong.append((url, size, "wider than the window"))
    assert wrong == []


@pytest.mark.sample
@pytest.mark.parametrize("size", ["desk", "phone"])
def test_own_exercises_are_seen_while_they_are_written(browser, served, size):
    studio, address = served
    with visiting(browser, address, size=size) as page:
        page.goto(f"/practice/{clara(studio)}")
        page.get_by_role("link", name="Write exercises of your own").click()
        before = sheet_address(page)
        text = page.locator("#text").input_value()
        with page.expect_response("**/own/preview"):
            page.fill("#text", text.replace("3:1 r:1", "3:1"))
        page.wait_for_selector("#preview .notice.bad")
        expect(page.locator("#preview")).to_contain_text(
            "bar 1 lasts 3 quarter notes", use_inner_text=True
        )
        with page.expect_response("**/own/preview"):
            page.fill("#text", text.replace("My exercises", "Monday"))
        page.wait_for_selector("#preview .page img")
        assert sheet_address(page) != before
        assert serious_findings(page) == []
        page.get_by_role("button", name="Keep").click()
        page.wait_for_url("**/own/*?kept=1")
        assert page.locator("h1").inner_text() == "Monday"
        page.goto(f"/practice/{clara(studio)}")
        strip = page.locator("section[aria-labelledby=own-exercises] .strip")
        strip.scroll_into_view_if_needed()
        strip.locator("svg").wait_for()
