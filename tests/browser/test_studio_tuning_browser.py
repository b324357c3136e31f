"""A tuning lesson in a real browser: note by note heard live, then how far the slide moves."""

import re

import numpy as np
import pytest
from played import RATE_HZ, write_wav
from playwright.sync_api import expect

from browser import SIZES, chromium, fits, serious_findings, serving, visiting
from handslide.edges.files.horns import load_horn
from handslide.edges.store.students import StudentValues
from handslide.ground.pitch import parse_pitch
from handslide.ground.units import cents_to_ratio
from handslide.sheets.tuningslide import TuningMove, tuning_rule_svg
from handslide.sound.tones import harmonic_tone
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student
from handslide.studio.studio import open_studio

pytestmark = pytest.mark.browser
SHARP_CENTS = 10.0
LISTEN_MS = 40_000


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """(address, student) of a studio with one student."""
    studio = open_studio(tmp_path_factory.mktemp("tuning") / "studio")
    mira = add_student(studio, StudentValues("Mira"))
    add_horn(studio, mira.id, "tenor-f")
    with serving(studio) as address:
        yield address, mira.id
    studio.close()


@pytest.fixture(scope="module")
def listening(tmp_path_factory):
    """A browser whose microphone hears B♭2 and F3 by turns, both 10 cents sharp."""
    rest = np.zeros(round(0.4 * RATE_HZ))
    pieces = [rest]
    for name in ("Bb2", "F3"):
        hz = parse_pitch(name).hz(440.0) * cents_to_ratio(SHARP_CENTS)
        pieces += [0.2 * harmonic_tone(hz, 1.2, RATE_HZ, fade_s=0.03), rest]
    samples = np.concatenate(pieces)
    path = write_wav(tmp_path_factory.mktemp("microphone") / "two.wav", samples)
    with chromium(path) as started:
        yield started


def test_a_lesson_goes_on_by_itself_until_the_slide_moves(listening, place):
    address, mira = place
    with visiting(listening, address, permissions=["microphone"]) as page:
        page.goto(f"/tuning/{mira}/main")
        assert page.inner_text("h1") == "Play B♭2, slide closed"
        page.keyboard.press("Space")
        page.locator("#listen[aria-pressed=true]").wait_for()
        # The other note that sounds is named and not counted.
        page.locator(".tones-hint", has_text="That is F3.").wait_for(timeout=LISTEN_MS)
        page.locator("[data-tuning=maybe]").first.wait_for(state="attached", timeout=LISTEN_MS)
        page.locator("h1:visible", has_text="Play F3").wait_for(timeout=LISTEN_MS)
        assert page.locator("[data-step='0']").get_attribute("class") == "is-done"
        assert page.locator("[data-step='1']").get_attribute("aria-current") == "step"
        page.locator("h1:visible", has_text="Play B♭3").wait_for(timeout=LISTEN_MS)
        # What won't speak is left out; the last one leads to the result.
        page.click("#leave")
        page.click("#leave")
        page.locator(".tune-result").wait_for()
        said = page.inner_text(".tune-result")
        assert said.startswith("Main slide: pull it out")
        assert "B♭2 +10 cents" in said and "F3 +8 cents" in said
        tube_mm = 1000.0 * load_horn("tenor-f").tuned().length_m
        wanted_mm = tube_mm * (1.0 - cents_to_ratio(-9.0)) / 2.0
        shown = float(re.search(r"([\d.]+)\s+mm", said)[1])
        assert shown == pytest.approx(wanted_mm, abs=0.3)
        # The brass ends where the drawing says, and was seen to go there.
        page.wait_for_function("() => document.getAnimations().length === 0")
        moved = page.locator(".tuning-slide [data-tuning=brass]").get_attribute("transform")
        assert float(re.search(r"translate\(([\d.]+)", moved)[1]) == pytest.approx(shown, abs=0.06)
        assert serious_findings(page) == []
        page.keyboard.press("ArrowRight")
        page.wait_for_url("**check=Bb2**")
        assert page.inner_text("h1") == "Play B♭2, slide closed"


def test_the_lesson_of_a_pair_ends_with_both_notes_only(listening, place):
    address, mira = place
    with visiting(listening, address, size="phone", permissions=["microphone"]) as page:
        page.goto(f"/tuning/{mira}/F")
        page.keyboard.press("ArrowRight")
        assert page.inner_text("h1:visible") == "Play F3 with F, slide closed"
        # Without the first it begins there again.
        page.keyboard.press("ArrowRight")
        assert page.inner_text("h1:visible") == "Play F3 without the valve, slide closed"
        page.click("#listen")
        page.locator("h1:visible", has_text="with F").wait_for(timeout=LISTEN_MS)
        page.locator(".tune-result").wait_for(timeout=LISTEN_MS)
        expect(page.locator("h1").first).to_contain_text(
            "leave it where it is", use_inner_text=True
        )
        assert fits(page)


def test_keys_go_on_and_back_and_stop_listening(listening, place):
    address, mira = place
    with visiting(listening, address, permissions=["microphone"]) as page:
        page.goto(f"/tuning/{mira}/main")
        page.keyboard.press("ArrowRight")
        assert page.inner_text("h1:visible") == "Play F3, slide closed"
        page.keyboard.press("ArrowLeft")
        assert page.inner_text("h1:visible") == "Play B♭2, slide closed"
        page.keyboard.press("Space")
        page.locator("#listen[aria-pressed=true]").wait_for()
        page.keyboard.press("Space")
        page.locator("#listen[aria-pressed=false]").wait_for()
        page.keyboard.press("?")
        expect(page.locator("#help").first).to_contain_text(
            "Listen, stop listening", use_inner_text=True
        )
        # From what was measured: back measures anew, on hears the note again.
        page.goto(f"/tuning/{mira}/main?note=Bb3&hz=235")
        page.keyboard.press("ArrowLeft")
        page.wait_for_url(re.compile(r"main\?horn=\d+$"))
        page.goto(f"/tuning/{mira}")
        page.keyboard.press("ArrowRight")
        page.wait_for_url("**/main?horn=*")


REFUSING = """navigator.mediaDevices.getUserMedia =
  () => Promise.reject(new DOMException("", "NotFoundError"));"""
INSECURE = "Object.defineProperty(navigator, 'mediaDevices', { value: undefined });"


def test_without_a_microphone_one_line_says_what_to_do(listening, place):
    address, mira = place
    with visiting(listening, address, scheme="dark") as page:
        page.add_init_script(REFUSING)
        page.goto(f"/tuning/{mira}/main")
        page.locator("#listen").click()
        page.locator(".tones-hint", has_text="No microphone was found").wait_for()
        # And a recording can be sent instead.
        assert page.locator("#takes-note").is_visible()
        assert page.locator("#listen").get_attribute("aria-pressed") == "false"
        assert serious_findings(page) == []
    with visiting(listening, address) as page:
        # As a browser does on an address that isn't safe: it is said at once.
        page.add_init_script(INSECURE)
        page.goto(f"/tuning/{mira}/main")
        page.locator(".tones-hint", has_text=re.compile("update it|only to")).wait_for()
        assert page.locator("#takes-note").is_visible()


def test_without_scripts_a_frequency_can_be_typed(listening, place):
    address, mira = place
    with visiting(listening, address, java_script_enabled=False) as page:
        page.goto(f"/tuning/{mira}/main")
        assert not page.locator("#listen").is_visible()
        page.locator("summary", has_text="Type the frequency").click()
        page.fill("#hz", "234.5")
        page.locator("form", has=page.locator("#hz")).locator("button").click()
        expect(page.locator("h1").first).to_contain_text("pull it out", use_inner_text=True)


WINDOWS = (*SIZES.values(), (844, 390), (1920, 1080), (320, 640))


@pytest.mark.parametrize("path", ["F", "main?note=Bb3&hz=235", "low-F"])
def test_the_lesson_fits_every_window(listening, place, path):
    address, mira = place
    with visiting(listening, address) as page:
        page.goto(f"/tuning/{mira}/{path}")
        for width, height in WINDOWS:
            page.set_viewport_size({"width": width, "height": height})
            assert fits(page), width


@pytest.mark.parametrize("size", WINDOWS, ids=lambda size: f"{size[0]}")
def test_note_rings_and_key_are_in_the_window(listening, place, size):
    address, mira = place
    with visiting(listening, address) as page:
        page.set_viewport_size({"width": size[0], "height": size[1]})
        page.goto(f"/tuning/{mira}/main")
        assert fits(page)
        for name in ("h1:visible", ".one-note:visible svg", "#tones", "#listen"):
            box = page.locator(name).first.bounding_box()
            assert box["y"] >= 0 and box["y"] + box["height"] <= size[1], name


@pytest.mark.parametrize("words", [("in", "out"), ("hinein", "hinaus"), ("adentro", "afuera")])
def test_what_stands_on_the_rule_stands_apart(listening, place, words):
    address, mira = place
    rule = tuning_rule_svg(TuningMove(153.5), label="rule", towards=words[0], away=words[1])
    with visiting(listening, address, size="phone") as page:
        page.goto(f"/tuning/{mira}/low-F")
        gaps = page.evaluate(
            """async (rule) => {
              const here = document.querySelector(".tuning-rule").parentElement;
              here.innerHTML = rule;
              await document.fonts.ready;
              const boxes = [...here.querySelectorAll("text")]
                .map((one) => one.getBoundingClientRect()).sort((a, b) => a.left - b.left);
              return boxes.slice(1).map((one, k) => one.left - boxes[k].right);
            }""",
            rule,
        )
        assert len(gaps) == 6 and min(gaps) >= 4.0, gaps
