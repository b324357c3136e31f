"""Charts and takes as hand-outs, opened from disk without network: one visit each."""

import json
import re

import pytest
from invented import DEMO
from played import placed, play_part, write_wav
from playwright.sync_api import expect

from browser import fits, serious_in_both_themes, visiting
from handslide.edges.musicxml.read import open_score
from handslide.jobs.chart.chart import ChartOptions
from handslide.jobs.handout.chart import chart_handout
from handslide.jobs.handout.exercises import drill_handout
from handslide.jobs.handout.handout import HandoutWishes
from handslide.jobs.handout.take import followed_part, take_handout
from handslide.jobs.hear.followed import follow_take
from handslide.jobs.hear.listen import listen_file
from handslide.jobs.hear.partreport import part_report
from handslide.jobs.practice.drill import DrillWishes, make_drill
from handslide.jobs.setup import make_setup
from handslide.words.speech import speech

pytestmark = pytest.mark.browser
SETUP = make_setup("tenor-f")
MM = """(name) => {
  const group = document.querySelector(`.dock [data-slide="${name}"]`);
  if (group.classList.contains("is-away")) return null;
  return Number(/translate\\((-?[\\d.]+)/.exec(group.getAttribute("transform"))[1]);
}"""


def opened(page, file, ready):
    """Open the file as from a folder, its network cut off; what it asks for, and what broke."""
    asked, broken = [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: broken.append(str(error)))
    page.context.set_offline(True)
    page.goto(file.as_uri())
    page.locator(ready).first.wait_for(state="attached")
    return asked, broken


def only_itself(asked, file):
    return [url for url in asked if not url.startswith(("data:", "blob:"))] == [file.as_uri()]


def test_a_chart_is_tapped_heard_and_stepped_through(browser, tmp_path):
    file = tmp_path / "chart.html"
    options = ChartOptions(low="E2", high="B♭3")
    file.write_bytes(chart_handout(SETUP, options, speech()).data)
    places = SETUP.book.places(58)
    with visiting(browser, file.as_uri(), size="phone") as page:
        asked, broken = opened(page, file, ".score .spot")
        assert page.locator(".score").get_attribute("data-width") == "narrow"
        assert fits(page)
        page.locator('.score .spot[data-of="58"]').click()
        words = page.locator(".dock-words")
        assert "B♭3" in words.inner_text() and "1 of 3" in words.inner_text()
        keys = page.locator(".dock-choices .key")
        assert keys.count() == len(places) == 3
        seen = []
        for k in range(3):
            keys.nth(k).click()
            page.wait_for_timeout(450)
            seen.append(page.evaluate(MM, "outer"))
            assert f"{k + 1} of 3" in words.inner_text()
        assert sorted(seen) == pytest.approx(
            sorted(1000 * place.extension_m for place in places), abs=0.02
        )
        # A dot is a place, too, and so are the arrows.
        page.locator('.score .spot[data-of^="58:F:"]').click()
        assert keys.nth(2).get_attribute("aria-pressed") == "true"
        page.locator(".score").focus()
        page.keyboard.press("ArrowDown")
        assert keys.nth(0).get_attribute("aria-pressed") == "true"
        page.keyboard.press("Home")
        assert "E2" in words.inner_text()
        # There is no part of one's own among others that could be softer.
        page.locator(".dock .more > summary").click()
        assert page.locator('.dock [name="metronome"]').is_visible()
        assert not page.locator('.dock [name="solo"]').first.is_visible()
        page.keyboard.press("Escape")
        # Play goes through all of them.
        page.locator(".dock-play").click()
        page.locator('.score .spot.is-playing[data-of="41"]').wait_for(state="attached")
        page.locator(".dock-play").click()
        assert serious_in_both_themes(page) == []
        page.set_viewport_size({"width": 1440, "height": 900})
        page.locator('.score[data-width="wide"]').wait_for()
        assert fits(page)
        page.emulate_media(media="print")
        assert page.locator(".sheet > svg").first.is_visible()
        assert only_itself(asked, file) and broken == []


def test_a_duet_shows_both_staves_or_the_students_alone(browser, tmp_path):
    sheet = make_drill(SETUP, "duets", DrillWishes("first-year", pieces=1))
    (one,) = sheet.pieces
    own, theirs = len(one.marked.shown), len(one.teacher.shown)
    file = tmp_path / "duet.html"
    file.write_bytes(drill_handout(sheet, HandoutWishes(), speech()).data)
    marks, path = ".score text.mark", ".score .slide-path"
    for size in ("phone", "desk"):
        with visiting(browser, file.as_uri(), size=size) as page:
            asked, broken = opened(page, file, marks)
            page.locator(f"{marks}.theirs").nth(theirs - 1).wait_for(state="attached")
            assert page.locator(marks).count() == own + theirs and fits(page)
            # All that can be tapped is the student's; the slide's path would lie under another's.
            expect(page.locator(".score .hit")).to_have_count(len(one.marked.part.notes))
            expect(page.locator(path)).to_have_count(0)
            page.locator(".more summary").click()
            page.get_by_label("own part only").check()
            page.locator(path).first.wait_for(state="attached")
            page.wait_for_function(f"document.querySelectorAll('{marks}').length === {own}")
            page.get_by_label("both parts").check()
            page.wait_for_function(
                f"document.querySelectorAll('{marks}').length === {own + theirs}"
            )
            expect(page.locator(path)).to_have_count(0)
            page.keyboard.press("Escape")
            page.locator('.score .hit[data-i="1"]').dispatch_event("click")
            assert page.locator(".dock-mark").inner_text() == one.marked.routed.marks[1]
            if size == "desk":
                assert serious_in_both_themes(page) == []
                page.emulate_media(media="print")
                expect(page.locator(".sheet text.theirs")).to_have_count(theirs)
            assert only_itself(asked, file) and broken == []


@pytest.fixture(scope="module")
def take_file(tmp_path_factory):
    """Twelve measures, 3rd position 15 mm short; with the recording."""
    folder = tmp_path_factory.mktemp("take")
    rows = placed(SETUP, DEMO)[:20]
    path = write_wav(
        folder / "take.wav",
        play_part(
            SETUP, rows,
            lambda number, place, before: -15.0
            if abs(place.position - 3) < 0.2 and not place.valves else 0.0,
        ),
    )  # fmt: skip
    score = open_score(DEMO)
    followed = follow_take(score, listen_file(path, closely=True), SETUP)
    marked, report = followed_part(score, followed), part_report(followed)
    made = take_handout(marked, report, speech(), recording=path, consent=True)
    file = folder / "take.html"
    file.write_bytes(made.data)
    return file


@pytest.mark.alone
def test_a_take_shows_what_was_heard_and_where_the_slide_went(browser, take_file):
    with visiting(browser, take_file.as_uri(), size="desk") as page:
        asked, broken = opened(page, take_file, ".score path.heard-out")
        assert fits(page)
        short = page.locator(".score path.heard-out").first.get_attribute("data-i")
        page.locator(f'.score .hit[data-i="{short}"]').dispatch_event("click")
        page.wait_for_timeout(450)
        brass, ghost = page.evaluate(MM, "outer"), page.evaluate(MM, "ghost")
        assert ghost - brass == pytest.approx(-15, abs=3)
        expect(page.locator(".dock-words")).to_contain_text("too short", use_inner_text=True)
        assert "▶" in page.locator(".score text.heard-out").first.text_content()
        # The ghost goes along while the notes play.
        page.locator(".dock-play").click()
        page.locator(f'.score .hit.is-playing[data-i="{short}"]').wait_for(state="attached")
        page.locator(".dock-play").click()
        # The recording plays in their place, and the note that sounds lights up.
        page.locator(".more summary").click()
        page.get_by_label("the recording", exact=True).check()
        page.keyboard.press("Escape")
        page.locator('.score .hit[data-i="0"]').dispatch_event("click")
        page.locator('.dock[data-state="playing"]').wait_for()
        page.locator('.dock[data-state="paused"]').wait_for()
        page.locator(".dock-play").click()
        page.locator('.score .hit.is-playing[data-i="2"]').wait_for(state="attached")
        heard = page.evaluate("document.querySelector('audio').currentTime")
        page.locator(".dock-play").click()
        rows = re.search(r'"recorded":(\[\[.*?\]\])', take_file.read_text(encoding="utf-8"))[1]
        begun = {i: on for i, on, *_ in json.loads(rows)}
        assert begun[2] <= heard < begun[2] + 0.6
        # A stretch between two taps comes again and again.
        page.keyboard.press("l")
        for i in (4, 3):
            page.locator(f'.score .hit[data-i="{i}"]').dispatch_event("click")
        expect(page.locator('.dock[data-state="playing"]')).to_have_count(0)
        page.evaluate("""() => {
          window.seeks = [];
          const audio = document.querySelector("audio");
          audio.addEventListener("seeking", () => {
            document.body.dataset.seeks = window.seeks.push(audio.currentTime);
          });
        }""")
        page.locator(".dock-play").click()
        # To its beginning, and twice back.
        page.locator('body[data-seeks="3"]').wait_for(state="attached")
        assert page.evaluate("window.seeks")[:3] == pytest.approx([begun[3]] * 3, abs=0.05)
        assert page.locator(".score .hit.is-playing").get_attribute("data-i") in ("3", "4")
        page.locator(".dock-play").click()
        page.keyboard.press("l")
        assert serious_in_both_themes(page) == []
        page.emulate_media(media="print")
        assert page.locator(".sheet path.heard-out").first.is_visible()
        assert page.locator(".lists li").first.is_visible()
        assert not page.locator("audio").is_visible()
        assert only_itself(asked, take_file) and broken == []
