"""A hand-out opened from disk, without network: it plays in time, shows the slide, and prints."""

import json
import re
from pathlib import Path

import pytest
from firefox import firefox
from playwright.sync_api import expect

from browser import SIZES, fits, serious_findings, serious_in_both_themes, visiting
from handslide.edges.musicxml.read import open_score
from handslide.jobs.handout.handout import HandoutWishes, make_handout
from handslide.jobs.handout.lesson import lesson_handout
from handslide.jobs.practice.lesson import LessonWishes, make_lesson
from handslide.jobs.setup import make_setup
from handslide.words.speech import speech

pytestmark = pytest.mark.browser
LANTERNS = Path(__file__).parents[2] / "examples" / "lanterns.musicxml"
MEASURES = "13-19"  # slurs, a slower tempo, the valve
TOLERANCE_S = 0.03
# What drives Firefox tries it in the page, whose policy allows no expressions.
DRIVERS_OWN = "blocked a JavaScript eval"

# Sounds go nowhere; their clock is the page's, which the tests drive.
SILENT = """
window.tones = [];
const param = (value = 0) => new Proxy({ value }, {
  get: (it, key) => (key === "value" ? it.value : () => {}),
});
const node = (context) => {
  const made = { gain: param(), frequency: param(), context, connect: (to) => to };
  for (const name of ["disconnect", "setPeriodicWave"]) made[name] = () => {};
  made.start = (at) => (made.at = at);
  made.stop = (until) =>
    made.of && window.tones.push({ hz: made.frequency.value, at: made.at, until });
  return made;
};
window.AudioContext = class {
  begun = performance.now();
  state = "running";
  sampleRate = 48000;
  outputLatency = 0;
  destination = {};
  get currentTime() { return (performance.now() - this.begun) / 1000; }
  resume() { return Promise.resolve(); }
  createPeriodicWave() { return {}; }
  createGain() { return node(this); }
  createWaveShaper() { return node(this); }
  createBiquadFilter() { return node(this); }
  createOscillator() { return Object.assign(node(this), { of: "tone" }); }
};
"""
SHOWN = """() => {
  const on = document.querySelector(".score .hit.is-playing");
  const brass = document.querySelector('.dock [data-slide="outer"]').getAttribute("transform");
  return {
    i: on ? Number(on.dataset.i) : null,
    mm: Number(/translate\\\\((-?[\\\\d.]+)/.exec(brass)[1]),
    words: document.querySelector(".dock-words").textContent,
  };
}""".replace("\\\\", "\\")


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    path = tmp_path_factory.mktemp("handout") / "page.html"
    wishes = HandoutWishes(measures=MEASURES)
    path.write_bytes(make_handout(LANTERNS, make_setup("tenor-f"), wishes, speech()).data)
    return path


@pytest.fixture(scope="module")
def data(file):
    text = file.read_text(encoding="utf-8")
    return json.loads(re.search(r'id="part-data">(.*?)</script>', text)[1])


def opened(page, file):
    """Open the file as from a folder, its network cut off."""
    page.context.set_offline(True)
    page.goto(file.as_uri())
    page.locator(".score .hit").first.wait_for(state="attached")


def tap(page, i):
    page.locator(f'.score .hit[data-i="{i}"]').first.dispatch_event("click")


@pytest.fixture
def driven(browser, file):
    """A page whose clock stands until it is told to go on."""
    with visiting(browser, file.as_uri()) as page:
        page.clock.install(time=0)
        page.add_init_script(SILENT)
        opened(page, file)
        page.clock.pause_at(60_000)
        yield page


def start(page):
    """Press Play; the clock's ms at which the music begins."""
    page.locator(".dock-play").click()
    page.clock.run_for(40)
    count = page.evaluate("window.tones.filter(({ hz }) => hz > 1000).length")
    assert count == 4  # the count-in of a measure of four


@pytest.mark.parametrize("size", SIZES)
def test_it_opens_without_a_request_at_every_size(browser, file, size):
    with visiting(browser, file.as_uri(), size=size) as page:
        asked = []
        page.on("request", lambda request: asked.append(request.url))
        opened(page, file)
        assert [url for url in asked if not url.startswith(("data:", "file:"))] == []
        assert sum(url.startswith("file:") for url in asked) == 1
        assert fits(page)
        whole, slide = page.evaluate(
            "[innerWidth, document.querySelector('.slide-tubes').getBoundingClientRect().width]"
        )
        assert slide > 0.95 * whole
        if size == "phone":
            assert serious_in_both_themes(page) == []


def test_notes_light_up_in_time_and_the_slide_is_where_they_lie(driven, data):
    start(driven)
    begun = 0.04
    count = min(one["at"] for one in driven.evaluate("window.tones") if one["hz"] > 1000)
    beat = data["beats"][1][0] - data["beats"][0][0]
    music = count + 4 * beat
    places = data["places"]
    for i, on, *_ in data["played"]:
        for offset, wanted in ((-TOLERANCE_S, i - 1 if i else None), (TOLERANCE_S, i)):
            step = music + on + offset - begun
            begun += step
            driven.clock.run_for(round(1000 * step))
            shown = driven.evaluate(SHOWN)
            assert shown["i"] == wanted
        place = data["notes"][i][3]
        if place >= 0:
            # It may be on its way on already, by what the least jerk moves in so short a time.
            assert shown["mm"] == pytest.approx(places[place]["extension_mm"], abs=1.0)
            assert places[place]["words"] in shown["words"]
    tones = [one for one in driven.evaluate("window.tones") if one["hz"] < 1000]
    assert len(tones) == len(data["played"])
    for tone, row in zip(tones, data["played"]):
        assert tone["at"] - music == pytest.approx(row[1], abs=0.002)
        midi = data["notes"][row[0]][2]
        assert tone["hz"] == pytest.approx(440 * 2 ** ((midi - 69) / 12), rel=1e-5)


def test_slower_is_longer_and_not_lower(driven, data):
    driven.locator("#speed").fill("50")
    start(driven)
    driven.clock.run_for(14_000)
    tones = [one for one in driven.evaluate("window.tones") if one["hz"] < 1000]
    assert len(tones) >= 4
    for (first, row), (second, after) in zip(
        zip(tones, data["played"]), zip(tones[1:], data["played"][1:])
    ):
        assert second["at"] - first["at"] == pytest.approx(2 * (after[1] - row[1]), abs=0.002)
    assert tones[0]["hz"] == pytest.approx(440 * 2 ** ((data["notes"][0][2] - 69) / 12), rel=1e-5)


def test_a_tap_says_the_place_and_the_slide_goes_there(driven, data):
    tap(driven, 3)
    driven.clock.run_for(500)
    place = data["places"][data["notes"][3][3]]
    shown = driven.evaluate(SHOWN)
    assert (
        place["words"] in shown["words"]
        and data["names"][str(data["notes"][3][2])] in shown["words"]
    )
    assert shown["mm"] == pytest.approx(place["extension_mm"], abs=0.01)
    down = driven.locator(".dock .lever.is-down").count()
    assert bool(down) == bool(place["valves"])
    # By keys alone, too.
    driven.locator(".score").focus()
    driven.keyboard.press("ArrowRight")
    driven.clock.run_for(500)
    mm = data["places"][data["notes"][4][3]]["extension_mm"]
    assert driven.evaluate(SHOWN)["mm"] == pytest.approx(mm, abs=0.01)


def test_a_stretch_between_two_taps_comes_again_and_again(driven, data):
    driven.keyboard.press("l")
    tap(driven, 4)
    tap(driven, 7)
    assert driven.locator(".score .measure.is-out, .score .note.is-out").count() > 0
    driven.keyboard.press("m")
    heard = []
    for _ in range(130):
        driven.clock.run_for(100)
        i = driven.evaluate(SHOWN)["i"]
        if i is not None and heard[-1:] != [i]:
            heard.append(i)
        if len(heard) == 8:
            break
    assert heard == [4, 5, 6, 7, 4, 5, 6, 7]
    driven.keyboard.press("l")
    expect(driven.locator(".score .is-out")).to_have_count(0)


def test_a_drone_holds_the_note_that_is_shown(driven, data):
    assert driven.locator(".sign-hold").locator("..").is_disabled()
    tap(driven, 2)
    driven.evaluate("window.tones = []")
    driven.get_by_role("button", name="drone").click()
    pressed = driven.get_by_role("button", name="End the drone")
    assert pressed.get_attribute("aria-pressed") == "true"
    driven.clock.run_for(2000)
    pressed.click()
    (tone,) = driven.evaluate("window.tones")
    assert tone["hz"] == pytest.approx(440 * 2 ** ((data["notes"][2][2] - 69) / 12), rel=1e-5)
    assert tone["until"] - tone["at"] == pytest.approx(2.1, abs=0.15)


def test_one_long_line_goes_by_and_what_was_chosen_stays(browser, file, data):
    with visiting(browser, file.as_uri()) as page:
        page.add_init_script(SILENT)
        opened(page, file)
        page.locator(".more summary").click()
        page.get_by_label("one long line").check()
        page.get_by_label("Dark").check()
        page.get_by_label("Large type").check()
        page.wait_for_function("document.querySelector('.score').dataset.width === 'line'")
        last = len(data["notes"]) - 1
        page.locator(f'.score .hit[data-i="{last}"]').wait_for(state="attached")
        tap(page, last)
        assert page.evaluate("document.querySelector('.score').scrollLeft") > 300
        tops = page.evaluate(
            "[...document.querySelectorAll('.score > svg')]"
            ".map((one) => one.getBoundingClientRect().top)"
        )
        assert len({round(top / 10) for top in tops}) == 1
        assert fits(page)
        page.reload()
        page.locator(".score .hit").first.wait_for(state="attached")
        assert page.evaluate("({ ...document.documentElement.dataset })") == {
            "theme": "dark", "size": "large", "decimal": ".",
        }  # fmt: skip
        assert page.locator(".score").get_attribute("data-width") == "line"


def test_on_paper_it_is_a_sheet(browser, file):
    with visiting(browser, file.as_uri(), size="phone") as page:
        opened(page, file)
        page.emulate_media(media="print")
        for gone in (".dock", ".score"):
            assert not page.locator(gone).is_visible()
        assert page.locator(".sheet > svg").count() >= 1 and page.locator(".sheet").is_visible()
        assert page.locator("h1").is_visible() and page.locator(".signs").is_visible()
        ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
        assert ground == "rgb(255, 255, 255)"


def test_without_scripts_it_is_a_sheet_that_says_so(browser, file):
    with visiting(browser, file.as_uri(), java_script_enabled=False) as page:
        page.goto(file.as_uri())
        assert page.locator(".sheet > svg").first.is_visible()
        assert page.locator("noscript p").is_visible()


@pytest.fixture(scope="module")
def fox(tmp_path_factory):
    """A Firefox, started once."""
    with firefox(tmp_path_factory.mktemp("firefox")) as browser:
        yield browser


def tablet(fox, file):
    """A page of Firefox for ``file``, in the theme and motion that it has."""
    own = {"scheme": "null", "reduced_motion": "null", "expecting": DRIVERS_OWN}
    return visiting(fox, file.as_uri(), size="tablet", **own)


def test_it_opens_in_firefox(fox, file, data):
    with tablet(fox, file) as page:
        page.goto(file.as_uri())
        page.locator(".score .hit").first.wait_for(state="attached")
        page.locator('.score .hit[data-i="3"]').first.click()
        place = data["places"][data["notes"][3][3]]
        assert place["words"] in page.locator(".dock-words").inner_text()
        page.locator(".more summary").click()
        page.get_by_label("one long line").check()
        page.locator('.score[data-width="line"] .hit').first.wait_for(state="attached")


@pytest.fixture(scope="module")
def week(tmp_path_factory):
    """A small page of several blocks with boxes, tempos and a drone."""
    path = tmp_path_factory.mktemp("week") / "lesson.html"
    wishes = LessonWishes(drills=("intonation",), ladders=0)
    lesson = make_lesson(open_score(LANTERNS), make_setup("tenor-f"), wishes)
    path.write_bytes(lesson_handout(lesson, HandoutWishes(), speech()).data)
    return path


def test_the_blocks_of_a_lesson_play_one_at_a_time_and_ticks_stay(browser, week):
    with visiting(browser, week.as_uri(), size="phone") as page:
        asked = []
        page.on("request", lambda request: asked.append(request.url))
        page.add_init_script(SILENT + "Date.prototype.getDay = () => 4;")
        opened(page, week)
        assert fits(page)
        assert page.locator(".is-today").count() == page.locator('[data-tick="d3"]').count() > 3
        keys = page.locator(".block-play")
        first, second = keys.nth(0), keys.nth(1)
        first.click()
        page.locator("#x1 .hit.is-playing").first.wait_for(state="attached")
        assert first.get_attribute("aria-pressed") == "true"
        second.click()
        assert [one.get_attribute("aria-pressed") for one in (first, second)] == ["false", "true"]
        page.locator("#x2 .hit.is-playing").first.wait_for(state="attached")
        expect(page.locator("#x1 .hit.is-playing")).to_have_count(0)
        # Its drone ends as soon as another block plays, which is in the tempo that was asked for.
        drone = page.get_by_role("button", name=re.compile(r"^Drone .*\d$"))
        drone.click()
        assert drone.get_attribute("aria-pressed") == "true"
        tempo = page.locator("[data-rate]").first
        tempo.click()
        assert drone.get_attribute("aria-pressed") == "false"
        rate = float(tempo.get_attribute("data-rate"))
        assert page.locator(".dock output[for=speed]").inner_text() == f"{100 * rate:.0f} %"
        page.keyboard.press("m")
        for name in ("x1", "x3"):
            page.locator(f'#{name} [data-tick="d1"]').check()
        page.locator("[data-tick^=t]").first.check()
        page.reload()
        page.locator(".score .hit").first.wait_for(state="attached")
        expect(page.locator("[data-tick]:checked")).to_have_count(3)
        page.once("dialog", lambda dialog: dialog.accept())
        page.locator(".more summary").click()
        page.get_by_role("button", name="Clear all ticks").click()
        page.reload()
        expect(page.locator("[data-tick]:checked")).to_have_count(0)
        assert {url.partition(":")[0] for url in asked} <= {"data", "file"}
        assert serious_findings(page) == []


def test_a_lesson_in_firefox_asks_for_nothing_plays_and_keeps_its_ticks(fox, week):
    with tablet(fox, week) as page:
        asked = []
        page.on("request", lambda request: asked.append(request.url))
        page.add_init_script(SILENT)  # a machine without a sound card gives Firefox no clock
        page.goto(week.as_uri())
        page.locator("#x2 .score .hit").first.wait_for(state="attached")
        keys = page.locator(".block-play")
        # As soon as another plays, it ends.
        for number in (1, 0):
            keys.nth(number).click()
            playing = page.locator(f"#x{number + 1} .hit.is-playing")
            playing.first.wait_for(state="attached")
            first = playing.first.get_attribute("data-i")
            page.locator(f'#x{number + 1} .hit.is-playing:not([data-i="{first}"])').first.wait_for(
                state="attached"
            )
        pressed = [keys.nth(number).get_attribute("aria-pressed") for number in (0, 1)]
        assert pressed == ["true", "false"]
        keys.nth(0).click()
        page.locator('#x1 [data-tick="d1"]').check()
        page.locator("[data-tick^=t]").first.check()
        page.reload()
        page.locator("#x2 .score .hit").first.wait_for(state="attached")
        expect(page.locator("[data-tick]:checked")).to_have_count(2)
        assert {url.partition(":")[0] for url in asked} <= {"data", "file", "blob"}


def test_where_nothing_may_be_kept_boxes_can_still_be_ticked(browser, week):
    with visiting(browser, week.as_uri()) as page:
        page.add_init_script(
            "Object.defineProperty(window, 'localStorage', { get() { throw new Error('no'); } })"
        )
        opened(page, week)
        page.locator("[data-tick]").first.check()
        expect(page.locator("body.is-set-up")).to_have_count(1)
