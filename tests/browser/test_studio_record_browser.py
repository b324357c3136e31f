"""Recording in the browser, with a microphone that hears a synthesised take."""

import base64
import io
import json
import re
import time
import wave
from contextlib import contextmanager
from itertools import pairwise

import numpy as np
import pytest
import soundfile
from studio_pages import script_texts

from browser import SIZES, chromium, fits, serious_in_both_themes, serving, visiting
from handslide.edges.store.students import StudentValues
from handslide.ground.units import cents, midi_to_hz
from handslide.instrument.heardplace import heard_place
from handslide.jobs.hear.free import usual_place_of
from handslide.sound.notes import hear
from handslide.sound.tones import harmonic_tone
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student, main_horn, setup_for
from handslide.studio.studio import open_studio
from handslide.studio.takes.takes import list_takes, take_notes

pytestmark = pytest.mark.browser
RATE_HZ = 48_000
SAID = script_texts("recording/words.html")
STAGE = script_texts("takes/stage_texts.html")
# (MIDI, cents off, seconds); B♭3, E♭3 and F3.
PLAYED = ((58, 7.0, 1.2), (51, -18.0, 1.6), (53, 0.0, 1.0))
GAP_S = 0.5


@pytest.fixture(scope="module")
def microphone(tmp_path_factory):
    """A WAV file of the notes; the browser's microphone hears it over and over."""
    rng = np.random.default_rng(5)
    pieces = [np.zeros(round(GAP_S * RATE_HZ))]
    for midi, off, length_s in PLAYED:
        hz = midi_to_hz(midi) * 2 ** (off / 1200)
        phases = rng.uniform(0, 6.28, 30)
        pieces.append(0.1 * harmonic_tone(hz, length_s, RATE_HZ, phases=phases, fade_s=0.02))
        pieces.append(np.zeros(round(GAP_S * RATE_HZ)))
    samples = np.concatenate(pieces)
    path = tmp_path_factory.mktemp("microphone") / "played.wav"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes(np.round(32767 * samples).astype("<i2").tobytes())
    return path


@pytest.fixture(scope="module")
def shown(microphone, tmp_path_factory):
    """(studio, student, address, browser) with a student on a tenor with F valve."""
    studio = open_studio(tmp_path_factory.mktemp("studio"))
    student = add_student(studio, StudentValues(name="Ada Lindqvist"))
    add_horn(studio, student.id, "tenor-f")
    with serving(studio) as address, chromium(microphone) as browser:
        yield studio, student, address, browser
    studio.close()


@contextmanager
def controls(page):
    """What is kept away behind the three dots."""
    page.locator("#more").click()
    yield
    page.keyboard.press("Escape")
    # Space is for the one key again, a moment after the dialog is closed.
    until(page, "document.activeElement.id === 'go'")


@contextmanager
def recording(shown, script=""):
    """The page that records, without count-in; ``script`` runs before those of the page."""
    _, student, address, browser = shown
    keep = """const make = URL.createObjectURL;
    URL.createObjectURL = (blob) => make.call(URL, (window.recorded = blob));"""
    with visiting(browser, address) as page:
        page.add_init_script(keep + script)
        page.goto(f"/takes/new?student={student.id}")
        with controls(page):
            page.locator("#count-in").uncheck()
        yield page


@pytest.fixture
def page(shown):
    with recording(shown) as page:
        yield page


def recorded(page):
    """Samples and rate of the recording that the page holds."""
    until(page, "window.recorded !== undefined")
    text = page.evaluate(
        """async () => {
          return new Promise((done) => {
            const reader = new FileReader();
            reader.onload = () => done(reader.result.split(",")[1]);
            reader.readAsDataURL(window.recorded);
          });
        }"""
    )
    return soundfile.read(io.BytesIO(base64.b64decode(text)))


def until(page, script, seconds=45.0):
    """Wait for a script to be true. (What Playwright has for it is forbidden by our pages.)"""
    end = time.monotonic() + seconds
    while not (found := page.evaluate(script)):
        assert time.monotonic() < end, f"never true: {script}"
        page.wait_for_timeout(30)
    return found


def record(page, shown_time):
    """Record until the page shows so much of it: it counts what was recorded, not the clock."""
    page.keyboard.press("Space")
    until(page, "document.body.dataset.state === 'recording'")
    until(page, f"document.getElementById('time').textContent === '{shown_time}'", 60.0)
    page.keyboard.press("Space")
    until(page, "document.body.dataset.state === 'done'")


def test_what_is_recorded_are_the_notes_that_were_played(page, shown):
    studio, student, _, _ = shown
    # A whole round of the notes, and one before and after it that may be cut.
    record(page, "0:10")
    samples, rate_hz = recorded(page)
    assert samples.ndim == 1 and len(samples) / rate_hz >= 10.0
    notes = hear(samples, rate_hz).notes
    # Between those nothing is lost and nothing is added.
    expected = {midi: (off, length_s) for midi, off, length_s in PLAYED}
    assert {note.midi for note in notes[1:-1]} == set(expected)
    for note in notes[1:-1]:
        off, length_s = expected[note.midi]
        assert note.cents == pytest.approx(off, abs=0.5)
        assert note.end_s - note.start_s == pytest.approx(length_s, abs=0.1)
    order = [midi for midi, _, _ in PLAYED]
    for one, two in pairwise(notes):
        following = (order.index(one.midi) + 1) % len(order)
        assert two.midi == order[following]
        # After the last note of a round the file begins again with its own pause.
        pauses = 2 if following == 0 else 1
        assert two.start_s - one.end_s == pytest.approx(pauses * GAP_S, abs=0.1)
    with controls(page):
        page.locator("#title").fill("Scales <b>")
    page.keyboard.press("Space")
    until(page, "document.body.dataset.state === 'report'", 60.0)
    page.locator("#whole").click()
    page.wait_for_url(re.compile(r"/takes/\d+$"))
    (take,) = list_takes(studio, student.id)
    assert take.title == "Scales <b>" and take.source == "microphone"
    stored = take_notes(studio, take.id)
    assert [row.midi for row in stored] == [note.midi for note in notes]


def read_steadily(page, wanted, seconds=12.0):
    """The stage's reading once the lens has stood at the note ``wanted`` for half a second."""
    return page.evaluate(
        """([wanted, most]) => new Promise((done) => {
          const begin = performance.now();
          const text = (name) => document.getElementById(name).textContent;
          let since = null;
          const look = () => {
            const now = performance.now();
            const sign = document.body.dataset.sign;
            const on = ["in", "out", "hit"].includes(sign) && text("lens-note").startsWith(wanted);
            since = on ? since ?? now : null;
            if (since !== null && now - since > 500)
              done([sign, ...["far", "far-words", "say", "lens-mark"].map(text)]);
            else if (now - begin > 1000 * most) done(null);
            else setTimeout(look, 20);
          };
          look();
        })""",
        [wanted, seconds],
    )


@pytest.mark.alone
def test_the_reading_says_which_way_and_how_far(page, shown):
    _, student, _, _ = shown
    page.keyboard.press("l")
    sign, far, unit, said, marked = read_steadily(page, "E♭3")
    setup = setup_for(student, main_horn(shown[0], student.id))
    place = usual_place_of(setup, 51)
    target = midi_to_hz(51)
    there = heard_place(setup.horn, place, target * 2 ** (-18 / 1200), target)
    assert (sign, unit, marked) == ("in", STAGE["mm_in"], "3")
    # What differs by less than 2 mm isn't shown anew.
    assert abs(int(far) - 1000 * there.off_m) <= 2.5
    assert said.startswith(STAGE["say_in"]) and "cents too low" in said
    assert read_steadily(page, "F3")[0] == "hit"


@pytest.mark.alone
def test_the_slide_moves_15_times_and_the_number_4_times_a_second_at_most(page):
    page.evaluate(
        """() => {
          window.changes = { number: [], slide: [] };
          const watch = (what, where, wish, read) => {
            let last = read();
            new MutationObserver(() => {
              if (read() === last) return;
              last = read();
              window.changes[what].push(performance.now());
            }).observe(where, wish);
          };
          const far = document.getElementById("far");
          watch("number", far, { childList: true }, () => far.textContent);
          const brass = document.querySelector('.stage-wide .slide [data-slide="outer"]');
          watch("slide", brass, { attributeFilter: ["transform"] },
            () => brass.getAttribute("transform"));
        }"""
    )
    page.keyboard.press("l")
    page.wait_for_timeout(7000)
    changes = page.evaluate("window.changes")
    assert len(changes["slide"]) > 3 and len(changes["number"]) > 2
    for what, most in (("number", 4), ("slide", 15)):
        # What is shown as the microphone opens isn't heard yet; a busy machine tells late.
        told = changes[what][2:]
        for one, two in zip(told, told[most:]):
            assert two - one > 900, what


def test_the_note_aimed_at_is_the_measure_however_far_it_is(page):
    with controls(page):
        page.locator("#aim").select_option(label="E3")
    page.keyboard.press("l")
    until(page, "document.getElementById('lens-note').textContent.startsWith('E3')")
    until(page, "document.getElementById('say').textContent.includes('118 cents too low')")
    # F sharp 3 and what is further off is another note.
    until(page, "document.body.dataset.sign === 'gone'")


def test_listening_alone_records_nothing(page):
    page.keyboard.press("l")
    until(page, "document.querySelector('.meter-word').dataset.state === 'good'")
    page.keyboard.press("l")
    assert page.evaluate("document.body.dataset.state") == "ready"
    page.locator("#more").click()
    assert page.locator(".meter-word").inner_text() == SAID["meter.waiting"]


def test_the_count_in_isnt_recorded(page):
    with controls(page):
        page.locator("#count-in").check()
        page.locator("#count-beats").fill("3")
        page.locator("#count-tempo").fill("180")
    # The page's own clock: a busy machine is late in noticing.
    page.evaluate(
        """() => {
          const root = document.body;
          window.states = [];
          const told = () => window.states.push([root.dataset.state, performance.now() / 1000]);
          new MutationObserver(told).observe(root, { attributeFilter: ['data-state'] });
        }"""
    )
    page.locator("#go").click()
    until(page, "document.body.dataset.state === 'counting'")
    until(page, "document.getElementById('far').textContent === '2'")
    until(page, "document.body.dataset.state === 'recording'")
    page.wait_for_timeout(1000)
    page.locator("#go").click()
    samples, rate_hz = recorded(page)
    states = page.evaluate("window.states")
    begun_s = next(at_s for state, at_s in states if state == "recording")
    ended_s = next(at_s for state, at_s in states if at_s > begun_s and state == "done")
    assert states[0][0] == "counting" and begun_s - states[0][1] > 0.9
    assert len(samples) / rate_hz == pytest.approx(ended_s - begun_s, abs=0.25)


def test_a_recording_can_be_thrown_away(page):
    record(page, "0:01")
    page.locator("#discard").click()
    assert page.locator("#say").inner_text().startswith(SAID["discarded"])
    assert page.evaluate("document.body.dataset.state") == "ready"


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("NotAllowedError", "error.refused"),
        ("NotFoundError", "error.none"),
        ("NotReadableError", "error.busy"),
        (None, "error.insecure"),
    ],
)
def test_a_microphone_that_cant_be_had_is_explained(shown, name, key):
    if name is None:
        script = """Object.defineProperty(navigator, "mediaDevices", { value: undefined });
        Object.defineProperty(window, "isSecureContext", { value: false });"""
    else:
        script = f"""navigator.mediaDevices.getUserMedia = () =>
        Promise.reject(new DOMException("no", {json.dumps(name)}));"""
    with recording(shown, script) as page:
        page.locator("#go").click()
        until(page, "document.body.dataset.state === 'nomic'")
        assert page.locator("#say").inner_text() == SAID[key]
        assert page.locator("#far-words").inner_text() == STAGE["no_mic"]


def test_a_microphone_that_goes_away_loses_nothing(shown):
    script = """const get = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
    navigator.mediaDevices.getUserMedia = async (wish) => {
      window.stream = await get(wish);
      return window.stream;
    };"""
    with recording(shown, script) as page:
        page.locator("#go").click()
        until(page, "document.getElementById('time').textContent === '0:01'")
        page.evaluate("window.stream.getAudioTracks()[0].dispatchEvent(new Event('ended'))")
        until(page, "document.body.dataset.state === 'done'")
        assert page.locator("#say").inner_text().startswith(SAID["error.lost"])
        samples, rate_hz = recorded(page)
        assert len(samples) / rate_hz >= 1.0


def test_without_the_live_view_the_recording_goes_on(shown):
    # The way to the server breaks off soon after it is open.
    script = """const Real = WebSocket;
    window.WebSocket = class extends Real {
      constructor(...all) { super(...all); setTimeout(() => this.close(), 500); }
    };"""
    with recording(shown, script) as page:
        page.locator("#go").click()
        until(page, "document.getElementById('said').textContent")
        assert page.locator("#said").text_content() == SAID["live_lost"]
        until(page, "document.getElementById('time').textContent === '0:02'")
        page.locator("#go").click()
        samples, rate_hz = recorded(page)
        assert len(samples) / rate_hz >= 2.0


def test_a_take_is_recorded_in_place(page):
    page.evaluate(
        """async () => {
          const { recordInto } = await import("/static/recorder.js");
          const place = document.createElement("div");
          place.id = "here";
          document.getElementById("main").prepend(place);
          recordInto(place, { onDone: (blob, facts) => (window.done = [blob.size, facts]) });
        }"""
    )
    button = page.locator("#here button")
    button.click()
    until(page, "document.querySelector('#here .recorder-time').textContent !== '0:00'")
    button.click()
    size, facts = page.evaluate("window.done")
    assert size == 44 + 2 * round(facts["seconds"] * facts["rateHz"])
    assert facts["seconds"] >= 1.0
    assert page.locator("#here .recorder-said").inner_text().startswith("0:01 recorded")


def test_the_drone_stands_where_it_was_asked_for(page):
    page.locator("#more").click()
    page.locator("#drone-note").select_option(label="F3")
    page.locator("#drone-tuned").select_option("just")
    page.locator("#drone-root").select_option(label="B♭2")
    hz = page.evaluate(
        """async () => {
          const begin = AudioContext.prototype.createOscillator, made = [];
          AudioContext.prototype.createOscillator = function () {
            const one = begin.call(this); made.push(one); return one; };
          document.getElementById("drone").click();
          await new Promise((done) => setTimeout(done, 300));
          return made.map((one) => one.frequency.value);
        }"""
    )
    assert len(hz) == 1
    assert cents(hz[0] / (1.5 * midi_to_hz(46))) == pytest.approx(0, abs=0.001)
    assert page.locator("#drone").get_attribute("aria-pressed") == "true"
    assert page.locator("#drone").inner_text() == SAID["drone_off"]
    page.locator("#drone").click()
    assert page.locator("#drone").get_attribute("aria-pressed") == "false"


def test_the_page_can_be_used_by_all(shown):
    _, student, address, browser = shown
    with visiting(browser, address, size="phone") as page:
        page.goto(f"/takes/new?student={student.id}")
        page.wait_for_selector(".slide-tubes:visible")
        assert serious_in_both_themes(page) == []
        for width, height in (SIZES["phone"], SIZES["desk"]):
            page.set_viewport_size({"width": width, "height": height})
            assert fits(page), width
