"""The page of a part in a real browser: click, keys, choices, undo, measures, jumps, themes."""

import itertools
import re

import musicxml_build as xml
import pytest
from part_page import (
    click_note,
    drawn,
    marks_of,
    marks_shown,
    more,
    ordinals,
    part_page,
    pick,
    resize,
    wait_said,
)
from playwright.sync_api import expect
from studio_stands import LANTERNS, SCORES, stand_of, titled

from browser import serious_findings, serious_in_both_themes, serving, visiting
from handslide.studio.parts.edits import lock_here, lock_place, undo
from handslide.studio.parts.openpart import open_part
from handslide.studio.parts.stand import take_off

pytestmark = pytest.mark.browser
NOTE = 20


def many_measures(count):
    """A part that is longer than the first piece of its music."""
    body = xml.notes("Bb2 C3 D3 Eb3 F3 Eb3 D3 C3", kind="eighth")
    return xml.score(xml.part(xml.attributes(divisions=2) + body, *[body] * (count - 1)))


def warnings_shown(page, count):
    """Wait until the list of warnings has ``count`` rows."""
    page.wait_for_function(
        "(n) => document.querySelectorAll('[data-list=warnings] li').length === n", arg=count
    )


def in_view(page, selector):
    """Wait until an element lies within the window."""
    page.wait_for_function(
        """(what) => { const box = document.querySelector(what).getBoundingClientRect();
            return box.top > 0 && box.bottom < innerHeight; }""",
        arg=selector,
    )


def test_music_shows_the_marks_of_the_route(studio, browser):
    stand_id = stand_of(studio)
    part = open_part(studio, stand_id)
    lock_place(studio, stand_id, NOTE, (), 4)
    with part_page(browser, studio, stand_id) as page:
        assert marks_shown(page) == marks_of(studio, stand_id)
        assert page.locator(".mark.is-locked").first.text_content() == "6"
        lines = page.evaluate(
            """() => [...document.querySelectorAll("#score .lock-line")].map((line) => {
                const [a, b] = [line, line.previousElementSibling].map((e) => e.getBBox());
                return [a.width / b.width, a.x - b.x, a.height]; })"""
        )
        assert len(lines) == 1
        share, shift, height = lines[0]
        assert 0.9 < share < 1.1 and abs(shift) < 20 and height < 40
        fonts = page.evaluate(
            "[...document.fonts].filter((f) => f.status === 'loaded').map((f) => f.family)"
        )
        assert any("Handslide Marks" in name for name in fonts)
        assert any("Libertinus Serif" in name for name in fonts)
        unplayable = next(row.number for row in part.found if row.kind == "unplayable")
        assert page.locator("g.note.is-unplayable").get_attribute("id") == (
            f"hs-n{ordinals(part)[unplayable]}"
        )


@pytest.mark.parametrize(("size", "wide"), [("desk", "wide"), ("phone", "narrow")])
def test_what_is_fetched_ahead_is_what_the_page_asks_for(studio, browser, size, wide):
    stand_id = stand_of(studio)
    asked = []
    with serving(studio) as address, visiting(browser, address, size=size) as page:
        page.on("request", lambda request: asked.append(request.url.removeprefix(address)))
        page.goto(f"/stands/{stand_id}", wait_until="networkidle")
        page.wait_for_selector("#score svg .hit", state="attached")
    ahead = [url for url in asked if url.endswith(("piece=0", "/route"))]
    here = f"/stands/{stand_id}"
    assert sorted(ahead) == [f"{here}/music?width={wide}&piece=0", f"{here}/route"]


def test_a_long_part_begins_before_it_is_whole(studio, browser):
    data = many_measures(60)
    stand_id = stand_of(studio, data=data, file="long.musicxml")
    last = len(open_part(studio, stand_id).marked.part.notes) - 1
    held = []
    with serving(studio) as address, visiting(browser, address) as page:
        page.route(re.compile("piece=1"), lambda route: held.append(route))
        page.goto(f"/stands/{stand_id}?note={last}")
        page.wait_for_selector("#score svg .hit", state="attached")
        page.wait_for_selector("#note [data-said]")
        before = page.locator("#score svg").first.bounding_box()
        expect(page.locator("#score svg")).to_have_count(1)
        pick(page, 3)
        while not held:
            page.wait_for_timeout(20)
        held[0].continue_()
        page.wait_for_selector(f".hit[data-i='{last}']", state="attached")
        # What was there stays where it is, and every note has come with its mark.
        assert page.locator("#score svg").first.bounding_box() == before
        assert page.locator(".hit.is-on").get_attribute("data-i") == "3"
        assert marks_shown(page) == marks_of(studio, stand_id)
        bottoms = page.evaluate(
            """() => [...document.querySelectorAll("#score svg")].map((svg) => {
                const box = svg.getBoundingClientRect(); return [box.top, box.bottom]; })"""
        )
        assert all(abs(a[1] - b[0]) < 0.1 for a, b in itertools.pairwise(bottoms))
        # Each glyph has one definition, that all pieces use.
        glyphs = page.eval_on_selector_all("#score defs > *", "(all) => all.map((one) => one.id)")
        used = page.eval_on_selector_all(
            "#score use", "(all) => all.map((one) => one.href.baseVal.slice(1))"
        )
        assert len(glyphs) == len(set(glyphs)) and set(used) <= set(glyphs)
        # A note that isn't there yet is shown when it has come.
        held.clear()
        page.goto(f"/stands/{stand_id}?note={last}")
        while not held:
            page.wait_for_timeout(20)
        held[0].continue_()
        page.wait_for_selector(f".hit.is-on[data-i='{last}']", state="attached")
        in_view(page, f".hit.is-on[data-i='{last}']")


def test_music_that_breaks_off_says_so_below_what_there_is(studio, browser):
    stand_id = stand_of(studio, data=many_measures(60), file="long.musicxml")
    with serving(studio) as address, visiting(browser, address, expecting="500") as page:
        answer = {"status": 500, "json": {"error": "The engraver fell."}}
        page.route(re.compile("piece=1"), lambda route: route.fulfill(**answer))
        page.goto(f"/stands/{stand_id}")
        page.wait_for_selector("#score .notice.bad")
        assert "The engraver fell." in page.locator("#score .notice").text_content()
        assert page.locator("#score svg .hit").count() > 20


def test_a_connection_that_tears_once_costs_a_second_only(studio, browser):
    stand_id = stand_of(studio, data=many_measures(60), file="long.musicxml")
    torn = []

    def tear(route):
        address = route.request.url
        if address in torn:
            return route.continue_()
        torn.append(address)
        return route.abort("connectionreset")

    failed = "net::ERR_CONNECTION_RESET"
    with serving(studio) as address, visiting(browser, address, expecting=failed) as page:
        page.route(re.compile("piece=1|/notes/3$"), tear)
        page.goto(f"/stands/{stand_id}")
        page.wait_for_selector("#score svg .hit", state="attached")
        pick(page, 3)
        page.wait_for_selector("#note [data-said][data-i='3']")
        expect(page.locator("#score svg")).not_to_have_count(1)
        assert {address.rsplit("/", 1)[-1].split("&")[-1] for address in torn} == {"piece=1", "3"}
        assert page.locator(".notice.bad").count() == 0


def lines_of(*lines):
    return {"content_type": "application/x-ndjson", "body": "".join(f"{line}\n" for line in lines)}


def test_printing_shows_that_it_works_then_opens_the_file(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        button = page.locator("a[data-making]:not([download])")
        with page.expect_popup() as opened:
            button.click()
        page.wait_for_selector(".making a")
        assert "made=" in opened.value.url or "made=" in page.locator(".making a").get_attribute(
            "href"
        )
        made = page.request.get(page.locator(".making a").get_attribute("href"))
        assert made.headers["content-type"] == "application/pdf"
        assert made.body().startswith(b"%PDF")
        assert button.get_attribute("aria-busy") is None
        # Where the browser opens nothing by itself the file is offered.
        page.evaluate("window.open = () => null")
        button.click()
        page.wait_for_function("() => document.activeElement.closest('.making') !== null")
        # What takes long is seen; what fails is said on the page, and can be tried again.
        going = '{"text": "The music is being engraved …", "share": 0.4}'
        page.route(re.compile("/pdf"), lambda route: route.fulfill(**lines_of(going)))
        button.click()
        page.wait_for_selector(".making.bad")
        assert "doesn't answer" in page.locator(".making").text_content()
        page.unroute(re.compile("/pdf"))
        told = '{"error": "The engraver fell."}'
        page.route(re.compile("/pdf"), lambda route: route.fulfill(**lines_of(going, told)))
        button.click()
        page.wait_for_function(
            "() => document.querySelector('.making').textContent.includes('fell')"
        )
        page.unroute(re.compile("/pdf"))
        more(page)
        with page.expect_download() as saved:
            page.locator("a[data-making][download]").click()
        assert saved.value.suggested_filename == "lanterns-on-the-quay-ada-quill.pdf"


def test_a_click_tells_all_about_the_note(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        pick(page, NOTE)
        assert page.locator("#note h2").text_content().startswith("F3")
        wait_said(page, "F3, measure 7: 1st")
        others = page.locator("#note .other")
        expect(others).to_have_count(4)
        assert others.nth(0).get_attribute("aria-current") == "true"
        assert re.search(r"\d points", others.nth(1).text_content())
        # Hollow heads have nothing inside to hit: the column behind them takes the click.
        hollow = page.locator(".hit[data-i='4']").bounding_box()
        page.mouse.click(hollow["x"] + hollow["width"] / 2, hollow["y"] + hollow["height"] - 6)
        page.wait_for_selector(".hit.is-on[data-i='4']", state="attached")
        assert page.evaluate("document.activeElement.id") == "score"


def test_choosing_moves_the_line_and_undo_brings_it_back(studio, browser):
    stand_id = stand_of(studio)
    with part_page(browser, studio, stand_id) as page:
        before = marks_shown(page)
        pick(page, NOTE)
        page.locator("#note .other").nth(1).click()
        page.wait_for_selector("#note .note-mark.is-locked")
        after = marks_shown(page)
        assert after != before and after == marks_of(studio, stand_id)
        # The focus stays at the place that was pressed.
        assert page.evaluate("document.activeElement.classList.contains('other')")
        assert page.locator("#undo").is_enabled() and page.locator("#redo").is_disabled()
        page.locator("#undo").click()
        page.wait_for_selector("#redo:enabled")
        assert marks_shown(page) == before == marks_of(studio, stand_id)
        page.keyboard.press("Control+Shift+Z")
        page.wait_for_selector("#redo:disabled")
        assert marks_shown(page) == after
        page.reload()
        drawn(page, len(after))
        assert marks_shown(page) == after
        assert page.locator("#undo").is_enabled()


def test_everything_by_keyboard(studio, browser):
    stand_id = stand_of(studio)
    with part_page(browser, studio, stand_id) as page:
        page.locator("#score").focus()
        for number in range(3):
            page.keyboard.press("ArrowRight")
            page.wait_for_selector(f".hit.is-on[data-i='{number}']", state="attached")
        page.keyboard.press("ArrowLeft")
        wait_said(page, "C3, measure 1")
        page.keyboard.press("End")
        page.keyboard.press("Home")
        wait_said(page, "B♭2, measure 1")
        for _ in range(3):
            page.keyboard.press("ArrowRight")
        wait_said(page, "E♭3, measure 1: 3rd")
        page.keyboard.press("ArrowDown")
        wait_said(page, "halfway between 3rd and 4th with the F valve, ")
        page.keyboard.press("Enter")
        page.wait_for_selector("#note .note-mark.is-locked")
        assert marks_shown(page)["hs-n3"] == "T3½"
        assert page.evaluate("document.activeElement.id") == "score"
        wait_said(page, "locked")
        page.keyboard.press("l")
        page.wait_for_selector("#note [data-act=lock]")
        assert marks_shown(page)["hs-n3"] == "3"
        page.keyboard.press("Control+z")
        page.wait_for_selector("#note .note-mark.is-locked")
        assert marks_shown(page)["hs-n3"] == "T3½"
        # The whole music is one stop of the tabulator.
        page.keyboard.press("Tab")
        assert not page.evaluate(
            "document.getElementById('score').contains(document.activeElement)"
        )


def test_events_for_playing(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        page.evaluate(
            """() => { window.told = [];
                for (const name of ["hs:select", "hs:route", "hs:range"])
                    document.addEventListener(name, ({detail}) => told.push([name, detail])); }"""
        )
        pick(page, 5)
        page.locator("#note [data-act=lock]").click()
        page.wait_for_selector("#note [data-act=unlock]")
        more(page)
        page.select_option("#from", index=5)
        page.select_option("#until", index=6)
        told = page.evaluate("window.told")
        assert told[0][0] == "hs:select" and told[0][1]["i"] == 5
        assert any(name == "hs:route" and detail["notes"][5]["locked"] for name, detail in told)
        spans = [detail for name, detail in told if name == "hs:range"]
        part = page.evaluate("fetch(location.pathname + '/route').then((a) => a.json())")
        inside = [note["i"] for note in part["notes"] if note["mi"] in (4, 5)]
        assert spans[-1] == {"from": inside[0], "to": inside[-1]}
        page.evaluate("document.dispatchEvent(new CustomEvent('hs:cursor', {detail: {i: 110}}))")
        page.wait_for_selector(".hit.is-playing[data-i='110']", state="attached")
        in_view(page, ".hit.is-playing")
        page.evaluate("document.dispatchEvent(new CustomEvent('hs:cursor', {detail: {i: null}}))")
        expect(page.locator(".hit.is-playing")).to_have_count(0)


def test_measures_limit_music_lists_and_keys(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        assert page.locator(".found li").count() > 10
        more(page)
        page.select_option("#from", index=25)
        page.select_option("#until", index=26)
        warnings_shown(page, 1)
        dim = page.locator("g.measure.is-out").count()
        assert dim == page.locator("g.measure").count() - 2
        page.keyboard.press("Escape")
        page.locator("#score").focus()
        page.keyboard.press("ArrowRight")
        wait_said(page, "measure 25")
        page.keyboard.press("Home")
        page.keyboard.press("ArrowLeft")
        wait_said(page, "measure 25")
        more(page)
        page.select_option("#from", index=0)
        page.select_option("#until", index=0)
        warnings_shown(page, 2)
        expect(page.locator(".is-out")).to_have_count(0)


def test_on_paper_no_system_is_cut(studio, browser):
    """Each system is a box that no sheet's edge cuts, with all that is in it and nothing else."""
    with part_page(browser, studio, stand_of(studio)) as page:
        inked = ".notehead, .mark, .slide-path"
        whole = [page.locator(f"#score :is({one})").count() for one in ("g.system", inked)]
        assert whole[0] > 3
        page.evaluate("dispatchEvent(new Event('beforeprint'))")
        page.emulate_media(media="print")
        printed = page.locator(".by-systems > svg")
        assert printed.count() == whole[0] and not page.locator("#score").is_visible()
        assert page.locator(f".by-systems :is({inked})").count() == whole[1]
        expect(page.locator(".by-systems > svg:has(g.system ~ g.system)")).to_have_count(0)
        boxes = printed.evaluate_all(
            """(all) => all.map((one) => {
              const [box, system] = [one, one.querySelector("g.system")].map(
                (el) => el.getBoundingClientRect());
              return [getComputedStyle(one).breakInside, box.top - system.top,
                system.bottom - box.bottom]; })"""
        )
        for inside, above, below in boxes:
            assert inside == "avoid" and above < 1 and below < 1
        page.emulate_media(media="screen")
        page.evaluate("dispatchEvent(new Event('afterprint'))")
        assert page.locator("#score").is_visible() and not page.locator(".by-systems").count()


def test_which_marks_are_shown_and_printed(studio, browser):
    stand_id = stand_of(studio)
    part = open_part(studio, stand_id)
    with part_page(browser, studio, stand_id) as page:
        more(page)
        page.select_option("#show", "unusual")
        # What can't be played has its sign whichever marks are shown.
        routed = part.routed
        placeless = {n for n in range(len(ordinals(part))) if n not in routed.places}
        unusual = {n for n in routed.marks if routed.is_unusual(n)} | placeless
        assert placeless
        assert set(marks_shown(page)) == {f"hs-n{ordinals(part)[n]}" for n in unusual}
        page.select_option("#show", "new")
        new = part.marked.new_marks | placeless
        assert set(marks_shown(page)) == {f"hs-n{ordinals(part)[n]}" for n in new}
        assert page.locator("a[data-show]").first.get_attribute("href").endswith("show=new")
        with page.expect_download() as waiting:
            page.locator("a[download]", has_text="Marked score").click()
        assert waiting.value.suggested_filename == "lanterns-on-the-quay-ada-quill.musicxml"


def test_a_warning_jumps_to_its_note(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        page.locator("[data-list=warnings] li button").nth(1).click()
        page.wait_for_selector("#note .note-warning")
        assert "B1 can't be played" in page.locator("#note").text_content()
        in_view(page, ".hit.is-on")


def test_the_second_head_of_a_tie_picks_the_note(studio, browser):
    data = (SCORES / "Belcke_12_Etudes_08.musicxml").read_bytes()
    stand_id = stand_of(studio, data=data, file="study.musicxml")
    part = open_part(studio, stand_id)
    notes = list(part.marked.score.root.find("part").iter("note"))
    second = next(k for k, note in enumerate(notes) if note.find("tie[@type='stop']") is not None)
    assert second not in ordinals(part)
    first = ordinals(part).index(max(n for n in ordinals(part) if n < second))
    with part_page(browser, studio, stand_id) as page:
        page.locator(f"#hs-n{second} .notehead").click(force=True)
        page.wait_for_selector(f".hit.is-on[data-i='{first}']", state="attached")


def test_two_windows_on_one_stand_dont_lose_choices(studio, browser):
    stand_id = stand_of(studio)
    with part_page(browser, studio, stand_id) as page:
        lock_here(studio, stand_id, 60)
        pick(page, NOTE)
        page.locator("#note [data-act=lock]").click()
        page.wait_for_selector("#note [data-act=unlock]")
        assert sorted(open_part(studio, stand_id).locks) == [NOTE, 60]
        # What the other window did is shown here too, and so is what it took back.
        assert marks_shown(page) == marks_of(studio, stand_id)
        assert page.locator("#unlock-all").is_enabled()
        undo(studio, stand_id)
        undo(studio, stand_id)
        page.locator("#undo").click()
        wait_said(page, "Undone")
        assert marks_shown(page) == marks_of(studio, stand_id)
        assert page.locator("#undo").is_disabled()
        lock_place(studio, stand_id, NOTE, *other_place(studio, stand_id))
        page.evaluate("window.dispatchEvent(new Event('focus'))")
        page.wait_for_selector("#undo:enabled")
        assert marks_shown(page) == marks_of(studio, stand_id)


def other_place(studio, stand_id):
    """Valves and partial of a place of the note that isn't chosen now."""
    part = open_part(studio, stand_id)
    book, pitch = part.routed.setup.book, part.routed.pitches[NOTE]
    now = part.routed.places[NOTE]
    other = next(place for place in book.places(pitch.midi) if place != now)
    return other.valves, other.partial


def test_a_stand_that_is_gone_is_said(studio, browser):
    stand_id = stand_of(studio)
    with part_page(browser, studio, stand_id, expecting="404") as page:
        take_off(studio, stand_id)
        click_note(page, NOTE)
        page.wait_for_selector("#complaint .notice")
        expect(page.locator("#complaint")).to_contain_text(
            "isn't on a stand (any more)", use_inner_text=True
        )


def test_ink_stands_out_in_both_themes(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        pick(page, NOTE)
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            ink, paper = page.evaluate(
                """() => [
                    getComputedStyle(document.querySelector("g.note path, g.note use")).fill,
                    getComputedStyle(document.getElementById("score")).backgroundColor]"""
            )
            assert contrast(ink, paper) > 7, scheme
        assert serious_in_both_themes(page) == []


def contrast(one, two):
    def light(text):
        parts = [int(n) / 255 for n in re.findall(r"\d+", text)[:3]]
        r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    low, high = sorted((light(one), light(two)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize(
    ("size", "width"), [("desk", "wide"), ("tablet", "medium"), ("phone", "narrow")]
)
def test_marks_are_legible_on_every_screen(studio, browser, size, width):
    with part_page(browser, studio, stand_of(studio), size=size) as page:
        assert page.locator("#score").get_attribute("data-width") == width
        smallest = page.evaluate(
            """() => { const svg = document.querySelector("#score svg");
                const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
                return Math.min(...[...svg.querySelectorAll("text.mark")]
                    .map((mark) => scale * parseFloat(mark.getAttribute("font-size")))); }"""
        )
        assert smallest >= 11
        # Nothing makes the page itself wider than the screen.
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        pick(page, 3)
        box = page.locator("#note").bounding_box()
        assert 0 <= box["y"] < page.viewport_size["height"]
        # However far away the next note was, it isn't left under what stands at the foot.
        page.locator("#score").focus()
        page.keyboard.press("End")
        wait_said(page, "measure 31")
        page.wait_for_function(
            """() => { const note = document.querySelector(".hit.is-on").getBoundingClientRect();
                const side = document.getElementById("side").getBoundingClientRect();
                return note.top > 0 && (note.bottom < side.top || note.right < side.left); }"""
        )


def test_wider_marks_move_apart(studio, browser):
    data = (SCORES / "Galliard_Sonata1.musicxml").read_bytes()
    stand_id = stand_of(studio, data=data, file="sonata.musicxml", marks="letter")
    part = open_part(studio, stand_id)
    for note in range(40, 60):
        others = [
            p for p in part.routed.setup.book.places(part.routed.pitches[note].midi) if p.valves
        ]
        if others:
            lock_place(studio, stand_id, note, others[0].valves, others[0].partial)
    with part_page(browser, studio, stand_id) as page:
        assert marks_shown(page) == marks_of(studio, stand_id)
        closest = page.evaluate(
            """() => { const least = [];
                for (const system of document.querySelectorAll("#score g.system")) {
                    const boxes = [...system.querySelectorAll("text.mark")].map((m) => m.getBBox())
                        .sort((a, b) => a.x - b.x);
                    boxes.slice(1).forEach((box, k) =>
                        least.push(box.x - boxes[k].x - boxes[k].width));
                } return Math.min(...least); }"""
        )
        assert closest > 20


def test_comparing_in_the_browser(studio, browser):
    one = stand_of(studio, name="Ada", base="tenor")
    two = stand_of(studio, name="Ben", base="tenor-f")
    with serving(studio) as address, visiting(browser, address) as page:
        page.goto(f"/stands/{one}/compare?with={two}")
        page.wait_for_selector("#score svg .differs", state="attached")
        rows = page.locator(".jump")
        assert page.locator("#score .differs").count() == rows.count() > 3
        rows.last.click()
        page.wait_for_selector(".hit.is-on", state="attached")
        assert serious_findings(page) == []


def test_one_place_under_two_signs_is_no_difference(studio, browser):
    one = stand_of(studio, name="Ada's", base="tenor-f", marks="letter")
    two = stand_of(studio, name="Ben", base="tenor-f")
    with serving(studio) as address, visiting(browser, address) as page:
        page.goto(f"/stands/{one}/compare?with={two}")
        page.wait_for_selector("#score text.mark.second", state="attached")
        assert page.locator("#score text.mark", has_text="T1").count() > 0
        assert page.locator("#score .differs").count() == page.locator(".jump").count() == 0
        expect(page.locator("main")).to_contain_text("Ada's · ", use_inner_text=True)
        assert "&#39;" not in page.locator("main").inner_text()


def test_files_dropped_on_the_library(studio, browser):
    with serving(studio) as address, visiting(browser, address) as page:
        page.goto("/parts")
        assert serious_findings(page) == []
        page.set_input_files(
            "#files",
            [
                {"name": "a.musicxml", "mimeType": "text/xml", "buffer": LANTERNS},
                {"name": "b.musicxml", "mimeType": "text/xml", "buffer": LANTERNS[:900]},
            ],
        )
        page.locator("#drop button").click()
        page.wait_for_selector(".results")
        assert page.locator(".results .good").count() == page.locator(".results .bad").count() == 1
        page.goto("/parts")
        more = titled("Dropped").decode()
        page.evaluate(
            """(text) => { const data = new DataTransfer();
                data.items.add(new File([text], "c.musicxml"));
                const drop = new DragEvent("drop", {dataTransfer: data, bubbles: true});
                document.dispatchEvent(drop); }""",
            more,
        )
        # One file: on to the question who it is for.
        page.wait_for_url("**/parts/2")
        assert page.locator("h1").text_content() == "Dropped"


def test_a_low_window_leaves_room_for_the_music(studio, browser):
    """A page at 200 %, a phone on its side."""
    with part_page(browser, studio, stand_of(studio)) as page:
        for width, height in ((640, 400), (844, 390)):
            resize(page, width, height)
            pick(page, NOTE)
            paper = page.locator("#paper").bounding_box()
            side = page.locator("#side").bounding_box()
            below = side["y"] - paper["y"] if side["x"] < 1 else paper["height"]
            assert below > 0.3 * height, width
            assert page.locator("#note").is_visible()
            page.keyboard.press("Escape")
            assert page.locator("#paper").bounding_box()["height"] > 0.6 * height, width
            assert page.locator("#side").is_hidden()


def test_a_note_that_is_pressed_while_the_music_is_engraved_anew_is_chosen(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        box = page.locator(".hit[data-i='3']").bounding_box()
        page.mouse.move(box["x"] + 2, box["y"] + 2)
        page.mouse.down()
        resize(page, 400, 800)
        assert page.locator("#score").get_attribute("data-width") == "narrow"
        page.mouse.up()
        page.wait_for_selector("#note [data-said][data-i='3']")
