"""Charts, tuning and fitting in a real browser: at once, without jumps, recorded in place."""

import re

import numpy as np
import pytest
from played import RATE_HZ, write_wav
from playwright.sync_api import expect

from browser import SIZES, chromium, fits, serious_in_both_themes, serving, visiting
from handslide.edges.store.students import StudentValues
from handslide.sound.tones import fades, harmonic_tone
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student
from handslide.studio.studio import open_studio

pytestmark = pytest.mark.browser

BRIEF_MS = 10_000


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """(address, student) of a studio with two students."""
    studio = open_studio(tmp_path_factory.mktemp("assist") / "studio")
    mira = add_student(studio, StudentValues("Mira", reach=6.0))
    add_horn(studio, mira.id, "tenor-f")
    jon = add_student(studio, StudentValues("Jon", names="german"))
    add_horn(studio, jon.id, "alto")
    with serving(studio) as address:
        yield address, mira.id, jon.id
    studio.close()


@pytest.fixture(scope="module")
def microphone(tmp_path_factory):
    """What the microphone hears: the note F3 and again, for the whole of a test."""
    rest = np.zeros(round(0.3 * RATE_HZ))
    tone = harmonic_tone(172.609, 1.0, RATE_HZ)
    tone = 0.2 * tone * fades(len(tone), round(0.03 * RATE_HZ))
    path = tmp_path_factory.mktemp("microphone") / "f3.wav"
    return write_wav(path, np.concatenate([rest, tone] * 8))


@pytest.fixture(scope="module")
def browser(microphone):
    with chromium(microphone) as started:
        yield started


def drawn(page):
    """The width in pixels of the first picture as it was loaded; 0 before."""
    return page.evaluate("document.querySelector('#preview img')?.naturalWidth ?? 0")


def test_the_sheet_changes_at_once_and_nothing_jumps(browser, place):
    address, mira, _ = place
    with visiting(browser, address) as page:
        page.goto(f"/charts?student={mira}", wait_until="networkidle")
        assert drawn(page) > 0
        page.get_by_text("Clef, names, range").click()
        page.wait_for_timeout(1000)
        page.evaluate(
            """() => { window.jumps = 0; new PerformanceObserver((list) => {
              for (const entry of list.getEntries()) window.jumps += entry.value;
            }).observe({ type: "layout-shift", buffered: false }); }"""
        )
        with page.expect_response(re.compile("/charts/sheet.svg")) as answer:
            page.select_option("#names", "german")
        assert "names=german" in answer.value.url
        page.wait_for_url("**names=german**")
        page.wait_for_timeout(300)
        assert drawn(page) > 0
        assert page.evaluate("window.jumps") < 0.02


def test_a_bad_range_is_said_in_place_and_goes_again(browser, place):
    address, mira, _ = place
    with visiting(browser, address, size="tablet") as page:
        page.goto(f"/charts?student={mira}", wait_until="networkidle")
        page.get_by_text("Clef, names, range").click()
        page.fill("#low", "C5")
        page.wait_for_selector("#preview .notice.bad")
        expect(page.locator("#preview").first).to_contain_text("upside down", use_inner_text=True)
        assert page.input_value("#low") == "C5"
        page.fill("#low", "C3")
        page.wait_for_selector("#preview img")


def test_another_student_brings_the_own_ways(browser, place):
    address, mira, jon = place
    with visiting(browser, address, scheme="dark") as page:
        page.goto(f"/charts?student={mira}&sheet=grid", wait_until="networkidle")
        page.select_option("#student", str(jon))
        page.wait_for_selector(f'[name="for"][value^="{jon}:"]', state="attached")
        assert page.input_value("#names") == "german"
        assert page.input_value("#sheet") == "grid"
        assert page.inner_text(".crumbs").strip() == "Jon"


def test_the_class_list_follows_the_sheet(browser, place):
    address, *_ = place
    with visiting(browser, address) as page:
        page.goto("/charts/class", wait_until="networkidle")
        assert "has no valve" not in page.inner_text("#class-rows")
        page.select_option("#sheet", "valve")
        page.wait_for_selector("#class-rows input:disabled")
        expect(page.locator("#class-rows").first).to_contain_text(
            "has no valve", use_inner_text=True
        )


def test_without_a_microphone_the_file_field_is_enough(browser, place):
    address, mira, _ = place
    with visiting(browser, address, java_script_enabled=False) as page:
        page.goto(f"/fitting/{mira}/play")
        assert page.is_visible("#takes")
        assert not page.is_visible(".rec")
        assert not page.is_visible("[data-print]")
        page.goto(f"/charts?student={mira}")
        page.select_option("#sheet", "strip")
        page.click(".without-scripts button")
        expect(page.locator("#preview").first).to_contain_text("100 mm line", use_inner_text=True)


def test_everybody_can_use_it(browser, place):
    address, mira, _ = place
    # What no link leads to; `test_studio_every_page` has the others.
    paths = (
        f"/charts?student={mira}&sheet=compare&other=tenor",
        f"/tuning/{mira}/F?open_hz=174.6&valve_hz=172.6",
    )
    with visiting(browser, address, size="phone") as page:
        for path in paths:
            page.goto(path)
            assert serious_in_both_themes(page) == [], path
            for width, height in (SIZES["phone"], SIZES["desk"]):
                page.set_viewport_size({"width": width, "height": height})
                assert fits(page), (path, width)
