"""The stage on a tablet, in a browser with a microphone: it listens by https and sends its take."""

from contextlib import contextmanager

import numpy as np
import pytest
from invented import DEMO
from played import RATE_HZ, placed, play_part, write_wav
from playwright.sync_api import expect
from tablets import a_stand, letting_in

from browser import chromium, fits, serious_findings, visiting
from handslide.edges.store.students import StudentValues
from handslide.faces.web.links import Wish
from handslide.jobs.setup import make_setup
from handslide.sound.tones import harmonic_tone
from handslide.studio.parts.scores import add_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.people.horns import enrol
from handslide.studio.studio import open_studio
from handslide.studio.takes.takes import list_takes

pytestmark = pytest.mark.browser
# The large number: B♭2 12 cents low is some 10 mm too far out, F3 is in its place.
READ = """() => {
  const [far, unit] = ["far", "far-words"].map((id) => document.getElementById(id).textContent);
  return /^\\d+$/.test(far) ? ["mm in", "mm out"].includes(unit) : unit === "in place";
}"""


@contextmanager
def stage_of(guests, browser, studio, *, secure, records=True, before="", **options):
    """A tablet that opened the stage of the last stand; ``before`` runs in its page first."""
    link = guests.send(Wish(a_stand(studio), True, records, 60), "127.0.0.2", secure=secure)
    with visiting(browser, link.origin, ignore_https_errors=True, **options) as device:
        if before:
            device.add_init_script(before)
        device.goto(link.url)
        device.wait_for_selector("#score .hit.is-playing")
        yield device


# What a browser gives a page of another machine without https; this machine's own count as secure.
INSECURE = """
Object.defineProperty(navigator, "mediaDevices", { value: undefined });
Object.defineProperty(window, "isSecureContext", { value: false });
"""


def state(device, name, timeout=60_000):
    device.wait_for_function(
        "(name) => document.body.dataset.state === name", arg=name, timeout=timeout
    )


@pytest.mark.alone
def test_the_stage_listens_by_https_and_sends_its_take(example, tmp_path):
    count = len(list_takes(example))
    # B♭2, F3: 12 cents low and right.
    rng = np.random.default_rng(3)
    tones = [
        0.1 * harmonic_tone(hz, 1.2, RATE_HZ, phases=rng.uniform(0, 6.28, 30), fade_s=0.02)
        for hz in (116.54 * 2 ** (-12 / 1200), 174.61)
    ]
    gap = np.zeros(round(0.3 * RATE_HZ))
    sound = write_wav(tmp_path / "played.wav", np.concatenate([tones[0], gap, tones[1], gap]))
    with (
        letting_in(example) as guests,
        chromium(microphone=sound) as browser,
        stage_of(
            guests, browser, example, secure=True, size="phone", permissions=["microphone"]
        ) as device,
    ):
        assert fits(device) and serious_findings(device) == []
        device.get_by_role("button", name="More").click()
        device.get_by_label("Count a measure first").uncheck()
        device.keyboard.press("Escape")
        device.get_by_role("button", name="Begin").click()
        device.wait_for_function(READ)
        tall = device.evaluate("getComputedStyle(document.getElementById('far')).fontSize")
        assert float(tall.removesuffix("px")) >= 120.0
        device.wait_for_function("() => document.getElementById('time').textContent >= '0:04'")
        device.get_by_role("button", name="Stop").click()
        device.get_by_role("button", name="Send it to the teacher").click()
        state(device, "report")
        assert device.locator("#say").inner_text()
        expect(device.locator("#whole")).to_have_count(0)
        # It plays what it holds itself: nothing is asked of the studio.
        assert device.evaluate("document.getElementById('hear').src").startswith("blob:")
    assert len(list_takes(example)) == count + 1


@pytest.mark.alone
def test_the_part_follows_and_the_report_lies_over_the_notes(tmp_path):
    setup = make_setup("tenor-f")
    places = placed(setup, DEMO)[:8]
    samples = play_part(setup, places, lambda number, *_: 14.0 if number == 2 else 0.0)
    sound = write_wav(tmp_path / "played.wav", samples)
    studio = open_studio(tmp_path / "studio")
    student = enrol(studio, StudentValues(name="Mira Holt"), "tenor-f")
    open_stand(studio, student.id, add_score(studio, DEMO.read_bytes(), DEMO.name).score.id)
    with (
        letting_in(studio) as guests,
        chromium(microphone=sound) as browser,
        stage_of(
            guests, browser, studio, secure=True, size="tablet", permissions=["microphone"]
        ) as device,
    ):
        device.get_by_role("button", name="More").click()
        device.get_by_label("Count a measure first").uncheck()
        device.keyboard.press("Escape")
        device.keyboard.press("Space")
        device.wait_for_function(
            "() => document.querySelectorAll('path.heard').length >= 6", timeout=60_000
        )
        device.wait_for_timeout(2500)
        device.keyboard.press("Space")
        device.keyboard.press("Space")
        state(device, "report")
        # The arrow and the millimetres of the third note, and a click on it plays it.
        expect(device.locator("path.heard-in[data-i='2']")).to_have_count(1)
        told = device.locator("text.heard-in[data-i='2']").text_content()
        assert abs(int(told.lstrip("◀")) - 14) <= 3
        device.locator(".hit[data-i='2']").click()
        device.wait_for_function("() => !document.getElementById('hear').paused")
        assert device.locator("#far-words").inner_text() == "mm in"
        assert fits(device) and serious_findings(device) == []
    studio.close()


def test_without_https_the_stage_says_why_and_plays_the_part(browser, example):
    with (
        letting_in(example) as guests,
        stage_of(guests, browser, example, secure=False, size="tablet", before=INSECURE) as device,
    ):
        device.get_by_role("button", name="Begin").click()
        state(device, "nomic")
        expect(device.locator("#say")).to_contain_text("https", use_inner_text=True)
        device.locator("#hear-instead").click()
        state(device, "playing")
        device.wait_for_function("() => document.getElementById('far').textContent !== ''")


def test_a_stage_that_may_not_record_listens(browser, example):
    with (
        letting_in(example) as guests,
        stage_of(guests, browser, example, secure=False, records=False) as device,
    ):
        assert device.locator("#recording").get_attribute("data-records") is None
        device.keyboard.press("Space")
        state(device, "nomic")
