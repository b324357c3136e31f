"""The part page in a lesson: room for the music, the panel's own note, the last take, figures."""

import pytest
from part_page import (
    click_note,
    drawn,
    marks_of,
    marks_shown,
    more,
    part_page,
    pick,
    resize,
    stands,
    wait_said,
)
from playwright.sync_api import expect
from shares import share_of
from studio_stands import stand_of

from browser import serious_findings
from handslide.studio.care.example import add_example
from handslide.studio.parts.openpart import open_part
from handslide.studio.parts.stand import list_stands
from handslide.studio.studio import set_setting
from handslide.studio.takes.lasttake import last_take_of

pytestmark = pytest.mark.browser
NOTE = 20
LANTERNS_OF = "Mira Holt"


def example_stand(studio):
    """The stand of the example that has a take."""
    add_example(studio)
    return next(
        row.id
        for row in list_stands(studio)
        if last_take_of(studio, open_part(studio, row.id)) is not None
    )


def height(page, selector):
    return page.locator(selector).bounding_box()["height"]


def test_the_music_has_most_of_the_window(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        resize(page, 1440, 900)
        assert height(page, "header.bar") <= 49
        assert height(page, "#paper") >= 0.7 * 900
        slide = page.locator(".slide-tubes").bounding_box()
        assert slide["width"] == pytest.approx(1440, abs=2)
        page.keyboard.press("Escape")
        assert page.locator("#side").is_hidden()
        assert page.locator("#paper").bounding_box()["width"] == pytest.approx(1440, abs=2)
        resize(page, 390, 844)
        pick(page, 3)
        assert height(page, "#side") < 422


# The narrowest in each language, of the others its share.
@pytest.mark.parametrize(("code", "number"), [("en", 0), ("de", 1), ("es", 2), ("fr", 3)])
def test_no_width_and_language_makes_the_page_wider(studio, browser, code, number):
    set_setting(studio, "language", code)
    with part_page(browser, studio, stand_of(studio)) as page:
        for note, width in enumerate((320, *share_of((820, 1100, 2560), number, 3)), 3):
            resize(page, width, 640)
            pick(page, note)
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), width
            ends = page.evaluate(
                """() => [...document.querySelectorAll(".bar > *")].filter((one) =>
                    one.getBoundingClientRect().right > innerWidth + 0.5).length"""
            )
            assert ends == 0, width
        assert height(page, "header.bar") <= 49


def test_the_score_is_three_tabs_away(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.id") == "score"
        page.keyboard.press("ArrowRight")
        wait_said(page, "B♭2, measure 1: 1st")


def test_a_title_is_read_whole_between_the_keys(studio, browser):
    """Two short lines rather than a few letters."""
    title, long = "Lanterns on the Quay", "Concertino in memory of a long winter " * 5
    put = "(title) => { document.querySelector('.bar .name').textContent = title; }"
    cut = """() => { const name = document.querySelector(".bar .name");
        return name.scrollHeight > name.clientHeight + 4
            || name.scrollWidth > name.clientWidth; }"""
    with part_page(browser, studio, example_stand(studio)) as page:
        assert page.locator(".bar .name").inner_text() == title
        for width in (320, 390, 820, 1440):
            page.set_viewport_size({"width": width, "height": 640})
            page.evaluate(put, title)
            assert not page.evaluate(cut), width
            page.evaluate(put, long)
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), width
            assert height(page, "header.bar") <= 49, width


def test_the_chosen_place_is_seen_without_colours(studio, browser):
    with part_page(browser, studio, stand_of(studio), forced_colors="active") as page:
        pick(page, NOTE)
        edge = page.evaluate(
            """() => { const now = document.querySelector(".other[aria-current]");
                const style = getComputedStyle(now);
                return [style.borderLeftWidth, style.borderLeftStyle, style.borderLeftColor]; }"""
        )
        ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
        assert edge[:2] == ["4px", "solid"] and edge[2] != ground


def test_print_is_one_press_away(studio, windowed):
    with part_page(windowed, studio, stand_of(studio)) as page, page.expect_popup() as opened:
        page.get_by_role("link", name="Print").click()
    assert "/pdf" in opened.value.url


def slow_panel(page, note):
    """Answers about one note come only when the list that is given back is let go."""
    held = []
    page.route(f"**/notes/{note}", lambda route: held.append(route))
    return held


def test_a_button_means_the_note_that_it_was_drawn_for(studio, browser):
    """A wrong note was locked while the panel still showed the one before."""
    stand_id = stand_of(studio)
    with part_page(browser, studio, stand_id) as page:
        pick(page, NOTE)
        held = slow_panel(page, NOTE + 3)
        page.locator("#score").press("ArrowRight")
        page.wait_for_selector(f"#note [data-i='{NOTE + 1}']")
        page.keyboard.press("ArrowRight")
        page.wait_for_selector(f"#note [data-i='{NOTE + 2}']")
        page.keyboard.press("ArrowRight")
        page.wait_for_selector(f".hit.is-on[data-i='{NOTE + 3}']", state="attached")
        page.wait_for_selector("#note.busy")
        # The note that is chosen in the music is another; the panel shows the one before.
        page.locator("#note [data-act=lock]").click()
        page.wait_for_selector(f"#note [data-i='{NOTE + 2}'] [data-act=unlock]")
        assert sorted(open_part(studio, stand_id).locks) == [NOTE + 2]
        page.wait_for_selector(f".hit.is-on[data-i='{NOTE + 2}']", state="attached")
        for route in held:
            route.continue_()
        page.wait_for_timeout(200)
        expect(page.locator(f"#note [data-i='{NOTE + 2}']")).to_have_count(1)
        # So do the places: pressed while the next note is on its way.
        held.clear()
        page.keyboard.press("Escape")
        page.locator("#open").click()
        page.locator("#score").press("ArrowRight")
        page.wait_for_selector("#note.busy")
        other = page.locator("#note .other:not([aria-current])").first
        partial = int(other.get_attribute("data-partial"))
        other.click()
        page.wait_for_selector("#note:not(.busy) .other[aria-current]")
        page.wait_for_function("document.querySelectorAll('.lock-line').length === 1")
        locks = open_part(studio, stand_id).locks
        assert list(locks) == [NOTE + 2] and locks[NOTE + 2].partial == partial


def test_an_older_answer_doesnt_come_over_a_newer_one(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        held = slow_panel(page, 5)
        click_note(page, 5)
        while not held:
            page.wait_for_timeout(20)
        pick(page, 8)
        page.wait_for_selector("#note [data-i='8']")
        held[0].continue_()
        page.wait_for_timeout(200)
        expect(page.locator("#note [data-i='8']")).to_have_count(1)


def test_undo_goes_to_what_was_undone(studio, browser):
    stand_id = stand_of(studio)
    with part_page(browser, studio, stand_id) as page:
        page.locator("#score").focus()
        page.keyboard.press("End")
        last = int(page.locator(".hit.is-on").get_attribute("data-i"))
        page.wait_for_selector(f"#note [data-i='{last}']")
        page.keyboard.press("l")
        page.wait_for_selector("#note [data-act=unlock]")
        page.keyboard.press("Home")
        page.wait_for_selector("#note [data-i='0']")
        page.locator("#undo").click()
        page.wait_for_selector(f"#note [data-i='{last}'] [data-act=lock]")
        page.wait_for_selector(f".hit.is-on[data-i='{last}']", state="attached")
        page.wait_for_function(
            """() => { const box = document.querySelector(".hit.is-on").getBoundingClientRect();
                const paper = document.getElementById("paper").getBoundingClientRect();
                return box.top >= paper.top && box.bottom <= paper.bottom; }"""
        )


def test_one_press_gives_a_figure_its_place_everywhere_and_one_takes_it_back(studio, browser):
    stand_id = stand_of(studio)
    part = open_part(studio, stand_id)
    note = next(
        n
        for n in part.routed.places
        if len(part.routed.alike(n)) > 1 and len(part.routed.note(n).alternatives) > 1
    )
    alike = part.routed.alike(note)
    with part_page(browser, studio, stand_id) as page:
        before = marks_shown(page)
        pick(page, note)
        page.locator("#note .other:not([aria-current])").first.click()
        page.wait_for_selector("#note [data-act=unlock]")
        page.get_by_role("button", name=f"for all {len(alike)}").click()
        wait_said(page, f"Locked at all {len(alike)} places of this figure")
        locks = open_part(studio, stand_id).locks
        assert sorted(locks) == sorted(alike) and len(set(locks.values())) == 1
        assert marks_shown(page) == marks_of(studio, stand_id)
        page.wait_for_selector("#note [data-act=alike]", state="detached")
        page.locator("#undo").click()
        wait_said(page, "Undone")
        assert list(open_part(studio, stand_id).locks) == [note]
        page.locator("#undo").click()
        page.wait_for_selector("#undo:disabled")
        assert marks_shown(page) == before


def test_the_last_take_is_a_ghost_and_wedges(studio, browser):
    stand_id = example_stand(studio)
    last = last_take_of(studio, open_part(studio, stand_id))
    far = [row for row in last.notes if abs(row.off_mm) >= 10]
    assert far
    with part_page(browser, studio, stand_id) as page:
        page.wait_for_selector("#score .wedge", state="attached")
        expect(page.locator("#score .wedge")).to_have_count(len(far))
        pick(page, far[0].i)
        ghost = page.locator(".slide [data-slide=ghost]")
        page.wait_for_function(
            "() => !document.querySelector('.slide [data-slide=ghost]').matches('.is-away')"
        )
        assert ghost.get_attribute("transform") == f"translate({far[0].mm:.2f} 0)"
        way = "in" if far[0].off_mm > 0 else "out"
        said = page.locator("#note [data-last]").text_content()
        assert said == f"Last take: {abs(far[0].off_mm):.0f} mm {way}"
        # A note that the take says nothing of has no ghost.
        silent = next(n for n in range(200) if n not in {row.i for row in last.notes})
        pick(page, silent)
        page.wait_for_selector(f"#note [data-i='{silent}']")
        assert "is-away" in ghost.get_attribute("class")
        assert page.locator("#note [data-last]").is_hidden()


def test_without_a_take_there_is_none(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        pick(page, NOTE)
        page.wait_for_timeout(200)
        expect(page.locator("#score .wedge")).to_have_count(0)
        assert page.locator("#told").is_hidden()


LEVELS = """() => Object.fromEntries([...document.querySelectorAll("#score .hit")].map((hit) => {
    const system = hit.closest("g.system"), i = Number(hit.dataset.i);
    const closed = system.querySelector(".path-closed").getBBox().y;
    const line = system.querySelector(".slide-path.brass");
    const centre = Number(hit.getAttribute("x")) + hit.getBBox().width / 2;
    let from = 0, to = line.getTotalLength();
    while (to - from > 5) {
        const middle = (from + to) / 2;
        if (line.getPointAtLength(middle).x < centre) from = middle;
        else to = middle;
    }
    const { x, y } = line.getPointAtLength(to);
    return [i, Math.abs(x - centre) < 25 ? y - closed : null]; }))"""


def overlaps(page):
    """Pairs of systems whose path reaches into the ink of the next."""
    return page.evaluate(
        """() => { const rows = [...document.querySelectorAll("#score g.system")]; let met = 0;
            rows.slice(1).forEach((row, k) => {
                const path = rows[k].querySelector(".under");
                const ink = [...row.querySelectorAll("text.mark, g.note, g.staff > path")];
                const top = Math.min(...ink.map((one) => one.getBoundingClientRect().top));
                if (path && path.getBoundingClientRect().bottom > top) met += 1; });
            return met; }"""
    )


def test_the_path_of_the_slide_is_as_deep_as_the_slide_is_out(studio, browser):
    stand_id = stand_of(studio)
    with part_page(browser, studio, stand_id) as page:
        page.wait_for_selector("#score .slide-path", state="attached")
        route = page.evaluate("fetch(location.pathname + '/route').then((a) => a.json())")
        out = {note["i"]: note["extension_mm"] for note in route["notes"] if note["playable"]}
        levels = {int(i): depth for i, depth in page.evaluate(LEVELS).items()}
        told = [i for i in out if levels[i] is not None]
        assert len(told) > 0.9 * len(out)
        scale = 340 / route["horn"]["travel_mm"]
        off = sorted(abs(levels[i] - scale * max(0, out[i])) for i in told)
        # Where columns of quick notes are narrow, the middle is already in the move.
        assert off[int(0.9 * len(off))] < 8
        assert overlaps(page) == 0
        # A place that is chosen moves the path.
        pick(page, NOTE)
        page.locator("#note .other:not([aria-current])").first.click()
        page.wait_for_selector("#note [data-act=unlock]")
        now = page.evaluate("fetch(location.pathname + '/route').then((a) => a.json())")["notes"]
        assert now[NOTE]["extension_mm"] != out[NOTE]
        assert page.evaluate(LEVELS)[str(NOTE)] == pytest.approx(
            scale * now[NOTE]["extension_mm"], abs=8
        )


def test_the_path_can_be_put_away_and_stays_away(studio, browser):
    stand_id = stand_of(studio)
    with part_page(browser, studio, stand_id) as page:
        page.wait_for_selector("#score .slide-path", state="attached")
        pick(page, 110)
        stands(page, 110)
        at, tall = page.locator(".hit.is-on").bounding_box(), height(page, "#score")
        page.keyboard.press("w")
        expect(page.locator("#score .slide-path")).to_have_count(0)
        assert page.locator("#path").get_attribute("aria-pressed") == "false"
        wait_said(page, "Without the path")
        # The music is closer, and what was looked at stands where it stood.
        assert height(page, "#score") < tall
        assert page.locator(".hit.is-on").bounding_box()["y"] == pytest.approx(at["y"], abs=2)
        page.reload()
        drawn(page, 111)
        page.wait_for_selector(".part-columns", state="attached")
        expect(page.locator("#score .slide-path")).to_have_count(0)
        page.locator("#path").click()
        page.wait_for_selector("#score .slide-path", state="attached")
        # It goes along with the music's size.
        for _ in range(5):
            page.keyboard.press("+")
        page.wait_for_selector("#score[data-width=narrow] .slide-path", state="attached")
        page.wait_for_selector(".hit[data-i='120']", state="attached")
        assert overlaps(page) == 0
        page.set_viewport_size({"width": 390, "height": 844})
        more(page)
        page.get_by_role("button", name="Path of the slide").click()
        expect(page.locator("#score .slide-path")).to_have_count(0)


def test_the_path_and_its_wedges_say_what_they_are(studio, browser):
    with part_page(browser, studio, example_stand(studio)) as page:
        page.wait_for_selector("#score .under .wedge", state="attached")
        wedge = page.locator("#score .wedge").first
        wedge.hover(force=True)
        page.wait_for_selector("#tip:not([hidden])")
        expect(page.locator("#tip")).to_contain_text("Last take: ", use_inner_text=True)
        spot = page.evaluate(
            """() => { const line = document.querySelector(".slide-path.brass");
                const m = line.getScreenCTM(), p = line.getPointAtLength(1);
                return [m.a * p.x + m.e, m.d * p.y + m.f]; }"""
        )
        page.mouse.move(*spot)
        page.wait_for_function(
            "() => document.getElementById('tip').innerText.startsWith('Path of the slide')"
        )


def test_full_screen_and_back(studio, windowed):
    with part_page(windowed, studio, stand_of(studio)) as page:
        page.locator("#full").click()
        page.wait_for_function("document.fullscreenElement === document.documentElement")
        page.wait_for_selector("#full[aria-pressed=true]")
        page.locator("#score").focus()
        page.keyboard.press("ArrowRight")
        wait_said(page, "B♭2, measure 1: 1st")
        assert page.locator("#side").is_visible()
        page.keyboard.press("f")
        page.wait_for_function("document.fullscreenElement === null")
        page.wait_for_selector("#full[aria-pressed=false]")


def test_the_slide_goes_to_the_place_that_is_pointed_at(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        pick(page, NOTE)
        own = "translate({:.2f} 0)".format(
            page.evaluate("fetch(location.pathname + '/route').then((a) => a.json())")["notes"][
                NOTE
            ]["extension_mm"]
        )
        at = ".slide [data-slide=outer]"
        page.wait_for_selector(f"{at}[transform='{own}']")
        other = page.locator("#note .other:not([aria-current])").first
        there = f"translate({float(other.get_attribute('data-mm')):.2f} 0)"
        other.hover()
        page.wait_for_selector(f"{at}[transform='{there}']")
        page.mouse.move(300, 500)
        page.wait_for_selector(f"{at}[transform='{own}']")


def test_warnings_are_marks_in_the_margin(studio, browser):
    stand_id = stand_of(studio)
    found = [row for row in open_part(studio, stand_id).found if row.number is not None]
    with part_page(browser, studio, stand_id) as page:
        marks = page.locator(".margin-mark")
        assert 0 < marks.count() <= len(found)
        # One stop of the tabulator after the music, arrows go on.
        page.locator("#score").focus()
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "margin-mark"
        words = marks.first.locator(".warn-says")
        assert words.is_visible()
        assert words.inner_text().startswith("Measure ")
        assert marks.first.get_attribute("aria-label").startswith("Measure ")
        page.keyboard.press("ArrowDown")
        assert marks.first.get_attribute("tabindex") == "-1"
        page.keyboard.press("Enter")
        page.wait_for_selector("#note .note-warning")
        page.locator("#score").hover()
        assert serious_findings(page) == []


def test_marks_say_their_words_under_the_mouse(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        page.locator(f".hit[data-i='{NOTE}']").hover(position={"x": 2, "y": 2}, force=True)
        page.wait_for_selector("#tip:not([hidden])")
        assert page.locator("#tip").inner_text().startswith("F3: 1st position")
        page.keyboard.press("ArrowRight")
        assert page.locator("#tip").is_hidden()


def test_larger_music_keeps_the_chosen_note_in_sight(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        resize(page, 1440, 900)
        pick(page, 60)
        before = page.locator("text.mark").first.bounding_box()["height"]
        for _ in range(5):
            page.keyboard.press("+")
        assert page.locator("#zoom").text_content() == "160 %"
        page.wait_for_selector(
            "#score[data-width=narrow] .hit.is-on[data-i='60']", state="attached"
        )
        page.wait_for_function(
            """() => { const box = document.querySelector(".hit.is-on").getBoundingClientRect();
                const paper = document.getElementById("paper").getBoundingClientRect();
                return box.top >= paper.top && box.bottom <= paper.bottom; }"""
        )
        after = page.locator("text.mark").first.bounding_box()["height"]
        assert after / before == pytest.approx(1.6, rel=0.05)
        for _ in range(12):
            page.keyboard.press("-")
        assert page.locator("#zoom").text_content() == "50 %"
        assert page.locator("[data-zoom='-1']").is_disabled()
        # What can't be pressed says why.
        silent = page.evaluate(
            """() => [...document.querySelectorAll("button:disabled")].filter((one) =>
                !one.dataset.why || one.title !== one.dataset.why).map((one) => one.outerHTML)"""
        )
        assert silent == []


def test_the_panel_goes_along_while_it_plays(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        pick(page, 30)
        for i in (4, 5, 6):
            page.evaluate(
                "(i) => document.dispatchEvent(new CustomEvent('hs:cursor', {detail: {i}}))", i
            )
        page.wait_for_selector("#note [data-i='6']")
        assert page.locator(".hit.is-on").get_attribute("data-i") == "6"
        # A note that is picked meanwhile stays.
        pick(page, 1)
        page.wait_for_selector("#note [data-i='1']")
        page.evaluate("document.dispatchEvent(new CustomEvent('hs:cursor', {detail: {i: 9}}))")
        page.wait_for_timeout(600)
        expect(page.locator("#note [data-i='1']")).to_have_count(1)


def test_escape_closes_one_thing_after_the_other(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        page.locator("summary[aria-label='More']").click()
        page.keyboard.press("Escape")
        assert page.locator("#from").is_hidden() and page.locator("#side").is_visible()
        page.keyboard.press("Escape")
        assert page.locator("#side").is_hidden()
        page.locator("#score").focus()
        page.keyboard.press("Enter")
        assert page.locator("#side").is_visible()
