"""A horn measured note by note in a real browser, by the microphone and by what is typed."""

import json

import numpy as np
import pytest
from played import RATE_HZ, write_wav
from playwright.sync_api import expect

from browser import chromium, serving, visiting
from handslide.edges.store.students import StudentValues
from handslide.sound.tones import fades, harmonic_tone
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student
from handslide.studio.studio import open_studio

pytestmark = pytest.mark.browser

BRIEF_MS = 10_000
WIDEST = (
    "Math.max(...[...document.querySelectorAll('.fitmap .band rect')]"
    ".map((one) => one.getBoundingClientRect().width))"
)


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """(address, student) of a studio with one student."""
    studio = open_studio(tmp_path_factory.mktemp("fit") / "studio")
    mira = add_student(studio, StudentValues("Mira", reach=6.0))
    add_horn(studio, mira.id, "tenor-f")
    with serving(studio) as address:
        yield address, mira.id
    studio.close()


@pytest.fixture(scope="module")
def a_note(tmp_path_factory):
    """What the microphone hears: the first note that a fit asks for, again and again."""
    rest = np.zeros(round(0.5 * RATE_HZ))
    tone = harmonic_tone(176.0, 1.4, RATE_HZ)
    tone = 0.2 * tone * fades(len(tone), round(0.03 * RATE_HZ))
    path = tmp_path_factory.mktemp("microphone") / "f3_sharp.wav"
    return write_wav(path, np.concatenate([rest, tone] * 8))


def map_width(page):
    """The width in pixels of the widest band of the map."""
    return page.evaluate(WIDEST)


def test_a_horn_is_measured_by_playing_what_is_asked_for(a_note, place):
    """Heard live, the map narrows and the next note is asked for by itself; keys do the rest."""
    address, mira = place
    with (
        chromium(a_note) as browser,
        visiting(browser, address, permissions=["microphone"], reduced_motion="reduce") as page,
    ):
        page.goto(f"/fitting/{mira}", wait_until="networkidle")
        expect(page.locator("#fit-asked").first).to_contain_text("F3", use_inner_text=True)
        expect(page.locator("#fit-asked").first).to_contain_text(
            "slide closed", use_inner_text=True
        )
        before = map_width(page)
        page.keyboard.press("Space")
        page.wait_for_selector("#fit-carried [name=row]", state="attached", timeout=3 * BRIEF_MS)
        row = json.loads(page.get_attribute("#fit-carried [name=row]", "value"))
        assert row[0] == pytest.approx(176.0, rel=2e-4)
        assert row[1:4] == [0.0, [], 3]
        page.wait_for_function(f"() => ({WIDEST}) < {0.7 * before}", timeout=BRIEF_MS)
        # The next is the loop, which this tone isn't: nothing is taken, and what sounds is said.
        expect(page.locator("#fit-asked").first).to_contain_text(
            "F valve down", use_inner_text=True
        )
        page.wait_for_function(
            "() => document.querySelector('.tones-hint').textContent.includes('F3')",
            timeout=BRIEF_MS,
        )
        assert page.get_attribute("#fit-go", "aria-pressed") == "true"
        page.keyboard.press("Space")
        assert page.get_attribute("#fit-go", "aria-pressed") == "false"
        page.keyboard.press("ArrowRight")
        page.wait_for_selector("#fit-carried [name=skipped]", state="attached", timeout=BRIEF_MS)
        page.keyboard.press("ArrowLeft")
        page.wait_for_function("() => !document.querySelector('#fit-carried [name=row]')")
        page.wait_for_function(f"() => ({WIDEST}) > {0.99 * before}", timeout=BRIEF_MS)


def test_without_a_microphone_the_lesson_takes_what_is_typed(place):
    address, mira = place
    with chromium() as browser, visiting(browser, address, expecting="400") as page:
        page.goto(f"/fitting/{mira}", wait_until="networkidle")
        page.click("#fit-go")
        page.wait_for_selector("#fit-typed[open]", timeout=BRIEF_MS)
        assert page.inner_text(".tones-hint").strip()
        for count, hz in enumerate(("176.0", "88.3"), 1):
            before = map_width(page)
            page.fill("#hz", hz)
            page.click("#fit-typed button")
            page.wait_for_function(
                "n => document.querySelectorAll('#fit-carried [name=row]').length === n", arg=count
            )
            # The bands move to their new width.
            page.wait_for_function(f"() => ({WIDEST}) < {before - 1.0}", timeout=BRIEF_MS)
        page.fill("#hz", "131.2 oops")
        page.keyboard.press("Enter")
        page.wait_for_selector("#fit-asked [role=alert]")
        assert page.input_value("#hz") == "131.2 oops"
    with chromium() as browser, visiting(browser, address, java_script_enabled=False) as page:
        page.goto(f"/fitting/{mira}")
        page.click("#fit-typed > summary")
        page.fill("#hz", "176.0")
        page.click("#fit-typed button")
        page.wait_for_selector("#fit-carried [name=row]", state="attached", timeout=BRIEF_MS)
