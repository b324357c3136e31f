"""The slide in a real browser: drawn to scale, and everything where the millimetres say."""

import json

import numpy as np
import pytest
from studio_pages import script_texts

from browser import serving, visiting
from handslide.jobs.mark.slideview import slide_view
from handslide.jobs.setup import make_setup
from handslide.sheets.slide import LENS_MM, STOP_MM, lens_svg
from handslide.studio.studio import open_studio

pytestmark = pytest.mark.browser
HORNS = ["tenor", "tenor-f", "bass-independent", "bass-dependent", "alto", "contrabass-f"]
SIX = {"valves": [], "partial": 4, "position": 6, "extension_mm": 483.2, "mark": "6", "words": "6"}

SLIDE = """
async ([horn, width, upright, lens]) => {
  const { Slide } = await import("/static/slide.js");
  const el = document.createElement("div");
  el.style[upright ? "height" : "width"] = `${width}px`;
  el.style.position = "relative";
  const drawing = upright ? horn.upright : horn.drawing;
  el.innerHTML = `<div class="slide${upright ? " upright" : ""}">${drawing}</div>`;
  document.getElementById("main").replaceChildren(el);
  window.slide = new Slide(el, horn, TEXTS);
  if (lens) {
    const over = document.createElement("div");
    over.style.width = "400px";
    over.innerHTML = lens + '<svg class="slide-cone"><polygon/></svg>';
    el.prepend(over);
    window.slide.lens(over.querySelector(".slide-lens"), over.querySelector(".slide-cone"));
  }
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
}
""".replace("TEXTS", json.dumps(script_texts("slide/texts.html")))

MIDDLE = """(all) => all.map((one) => {
  const box = one.getBoundingClientRect();
  return [box.left + box.width / 2, box.top + box.height / 2];
})"""


@pytest.fixture(scope="module")
def page(tmp_path_factory, browser):
    studio = open_studio(tmp_path_factory.mktemp("studio"))
    with serving(studio) as address, visiting(browser, address) as page:
        page.set_viewport_size({"width": 2600, "height": 1600})
        page.goto("/help")
        yield page
    studio.close()


def draw(page, horn, width, upright=False, lens=""):
    view = slide_view(make_setup(horn)) if isinstance(horn, str) else horn
    page.evaluate(SLIDE, [view, width, upright, lens])
    return view


def call(page, name, *values):
    page.evaluate("([name, values]) => window.slide[name](...values)", [name, values])


def middle(page, selector):
    """The middle of what a selector shows, px in the window."""
    return np.array(page.locator(selector).evaluate_all(MIDDLE))


def hand(page):
    return middle(page, ".slide [data-slide=outer] [data-slide=stay]")[0]


def scale_of(page, upright=False):
    """px per mm, and where the closed stop is, from the drawing's own box."""
    x, y, width, height, mm = page.locator(".slide-tubes").evaluate(
        "(one) => { const box = one.getBoundingClientRect();"
        " return [box.left, box.top, box.width, box.height, Number(one.dataset.width)]; }"
    )
    scale = (height if upright else width) / mm
    return scale, (y + height - STOP_MM * scale) if upright else (x + STOP_MM * scale)


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize("width", [320, 820, 1440, 2560])
def test_the_slide_is_to_scale(page, width, upright):
    width = min(width, 1500) if upright else width
    view = draw(page, slide_view(make_setup("tenor-f", reach=6)), width, upright)
    scale, stop = scale_of(page, upright)
    drawn = width if upright else page.locator(".slide").bounding_box()["width"]
    assert scale == pytest.approx(drawn / (2 * view["travel_mm"] + 185), rel=1e-3)
    axis, sign = (1, -1) if upright else (0, 1)
    ticks = middle(page, ".marks.is-on .mark path")[:, axis]
    mm = np.array([row["mm"] for row in view["positions"]])
    assert ticks == pytest.approx(stop + sign * scale * mm, abs=0.3)
    for row in view["positions"]:
        place = {**SIX, "extension_mm": row["mm"], "position": row["n"], "mark": str(row["n"])}
        call(page, "show", place)
        assert hand(page)[axis] == pytest.approx(stop + sign * scale * row["mm"], abs=0.3)
    call(page, "target", {**SIX, "extension_mm": 123.4})
    call(page, "next", {**SIX, "extension_mm": 387.3, "mark": "5"})
    call(page, "ghost", 471.0)
    for part, at in [
        (".slide [data-slide=target] .band", 123.4),
        (".slide [data-slide=next] rect", 387.3),
        (".slide [data-slide=ghost] [data-slide=stay]", 471.0),
        (".slide .here path", 123.4),
        (".slide .soon path", 387.3),
    ]:
        assert middle(page, part)[0][axis] == pytest.approx(stop + sign * scale * at, abs=0.4), part
    reach = float(page.locator(".slide .base").get_attribute("data-reach"))
    assert reach == view["reach_mm"]
    call(page, "ghost", None)
    assert not page.locator(".slide [data-slide=ghost]").is_visible()


@pytest.mark.parametrize("horn", HORNS)
def test_every_horn_has_its_slide_and_a_ruler_for_each_set_of_valves(page, horn):
    view = draw(page, horn, 1440)
    scale, stop = scale_of(page)
    for name, rows in {"": view["positions"], **view["positions_with"]}.items():
        valves = name.split("+") if name else []
        end = rows[-1]["mm"]
        call(page, "show", {**SIX, "valves": valves, "extension_mm": end, "mark": "0"})
        (shown,) = page.locator(".marks.is-on").all()
        assert shown.get_attribute("data-valves") == name
        ticks = middle(page, ".marks.is-on .mark path")[:, 0]
        assert ticks == pytest.approx([stop + scale * row["mm"] for row in rows], abs=0.3)
        assert page.locator(".marks.is-on .lever").count() == len(view["valves"])
        down = page.locator(".marks.is-on .lever.is-down text").all_text_contents()
        assert down == [valve.replace("b", "♭") for valve in valves]
        # Without colour too: what is pressed is filled and has a wedge.
        filled = page.locator(".marks.is-on .lever.is-down path").count()
        assert filled == len(valves)
        # The whole slide stays in the drawing.
        box = page.locator(".slide-tubes").bounding_box()
        bow = page.locator(".slide [data-slide=outer]").bounding_box()
        assert bow["x"] + bow["width"] <= box["x"] + box["width"] + 0.5
        assert bow["x"] >= box["x"]


def test_the_hand_is_where_the_player_has_it_and_the_words_say_which_way(page):
    draw(page, "tenor-f", 1200)
    scale, stop = scale_of(page)
    call(page, "target", SIX)
    off = page.locator(".slide-off")
    for now, words, state in [
        (495.2, "12 mm in", "in"), (471.2, "12 mm out", "out"), (485.0, "in place", "hit"),
        (None, "", "unknown"),
    ]:  # fmt: skip
        call(page, "now", now)
        assert off.inner_text() == words
        assert page.locator(".slide").get_attribute("data-state") == state
        assert hand(page)[0] == pytest.approx(stop + scale * (now or 485.0), abs=0.3)
    assert page.evaluate("window.slide.reading") is None
    call(page, "now", 495.2)
    assert page.evaluate("window.slide.reading") == {"way": "in", "mm": 12, "words": "12 mm in"}
    assert "6" in page.locator(".slide-tubes").get_attribute("aria-label")
    call(page, "target", {**SIX, "partial": None})
    assert page.locator(".slide-words").inner_text() == "no place for this note"


@pytest.mark.parametrize("upright", [False, True])
def test_the_lens_shows_the_same_millimetres_larger(page, upright):
    draw(page, "tenor-f", 1200, lens=lens_svg("in", "out", upright=upright))
    call(page, "target", SIX)
    axis, sign = (1, -1) if upright else (0, 1)
    box = page.locator(".slide-lens g").first.evaluate(
        "(one) => { const m = one.getScreenCTM(); return [m.a, m.b, m.c, m.d, m.e, m.f]; }"
    )
    scale = abs(box[1]) if upright else abs(box[0])
    place = middle(page, ".slide-lens .band")[0][axis]
    for off in (-31.0, -12.0, 0.0, 7.0, 39.0):
        call(page, "now", SIX["extension_mm"] + off)
        shown = middle(page, ".slide-lens [data-slide=stay]")[0][axis]
        assert shown == pytest.approx(place + sign * scale * off, abs=0.4)
        assert page.locator(".slide-lens [data-slide=go]").is_visible() == (abs(off) >= 5)
    # The cone ends round the place, ±40 mm of the slide.
    mm_px, stop = scale_of(page)
    left = page.locator(".slide-cone").bounding_box()["x"]
    points = page.locator(".slide-cone polygon").get_attribute("points")
    corners = [float(pair.split(",")[0]) for pair in points.split()]
    at = stop + mm_px * SIX["extension_mm"] - left
    assert corners[2:] == pytest.approx([at + LENS_MM * mm_px, at - LENS_MM * mm_px], abs=0.3)


def test_a_number_under_a_box_is_hidden_and_stays_so(page):
    draw(page, "tenor-f", 390)
    for _ in range(2):
        call(page, "show", SIX)
    hidden = page.locator(".marks.is-on .is-covered").evaluate_all(
        "(all) => all.map((one) => one.dataset.n)"
    )
    assert hidden == ["6"]


def test_a_move_takes_its_time_and_jumps_where_motion_is_unwanted(page):
    draw(page, "tenor-f", 800)
    call(page, "show", {**SIX, "extension_mm": 0.0})
    closed = hand(page)[0]
    seen = page.evaluate(
        """() => new Promise((done) => {
          const seen = [], begin = performance.now();
          const place = { valves: [], partial: 4, position: 6, extension_mm: 498.7 };
          window.slide.show(place, { ms: 400 });
          // After the slide's own frame, by the frame's time, however late it comes.
          const look = (now) => {
            seen.push([now - begin, window.slide.mm]);
            if (now - begin < 600) requestAnimationFrame(look); else done(seen);
          };
          requestAnimationFrame(look);
        })"""
    )
    time_ms, mm = np.array(seen).T
    t = np.clip(time_ms / 400, 0, 1)
    assert len(seen) > 5
    assert mm == pytest.approx(498.7 * (10 * t**3 - 15 * t**4 + 6 * t**5), abs=10)
    assert mm[-1] == 498.7 and hand(page)[0] > closed
    page.emulate_media(reduced_motion="reduce")
    now = page.evaluate(
        """() => { window.slide.show({ valves: [], partial: 4, position: 1, extension_mm: 0 },
        { ms: 400 }); return window.slide.mm; }"""
    )
    page.emulate_media(reduced_motion="no-preference")
    assert now == 0
