"""The frame of the pages in a real browser: keyboard, waiting, errors, themes, safety."""

import asyncio
import re

import pytest
from playwright.sync_api import expect
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from browser import serious_findings, serious_in_both_themes, serving, visiting
from handslide.faces.web.app import create_app
from handslide.faces.web.pages import page as shown
from handslide.faces.web.pages import templates
from handslide.ground.errors import BadUsage
from handslide.studio.parts.stand import list_stands
from handslide.studio.studio import set_setting

pytestmark = pytest.mark.browser
SENT = []


def form_page(request):
    """A page of the frame with a form, a live field and an address that fails."""
    template = templates().from_string(
        '{% extends "base.html" %}{% block main %}<h1>Bench</h1>'
        '<form method="post" action="/slow"><button class="button">Send</button></form>'
        '<button class="button" hx-get="/fail" hx-target="#there">Ask</button>'
        '<p id="there">before</p><p class="mark">♭3½</p>{% endblock %}'
    )
    return shown(request, template)


async def slow(request):
    SENT.append(1)
    await asyncio.sleep(1.0)
    return PlainTextResponse("sent")


async def fail(request):
    raise BadUsage("horn.reach", reach=20.0)


async def broken(request):
    raise RuntimeError("on purpose")


@pytest.fixture
def address(studio):
    app = create_app(studio)
    for path, endpoint in (("/form", form_page), ("/slow", slow), ("/fail", fail), ("/b", broken)):
        app.router.routes.insert(0, Route(path, endpoint, methods=["GET", "POST"]))
    with serving(studio, app) as url:
        yield url


def test_the_first_tab_leads_past_the_navigation(browser, address):
    with visiting(browser, address) as page:
        page.goto("/form")
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "skip"
        assert page.locator(".skip").bounding_box()["x"] >= 0
        page.keyboard.press("Enter")
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.textContent") == "Send"


def test_the_current_section_is_marked_and_all_can_be_touched(browser, address):
    with visiting(browser, address, size="phone") as page:
        page.goto("/charts")
        assert page.locator(".nav [aria-current]").text_content().strip() == "Charts"
        for link in page.locator(".nav a").all():
            box = link.bounding_box()
            assert box["height"] >= 40 and box["width"] >= 40
            assert box["y"] + box["height"] <= 844


@pytest.mark.parametrize("code", ["en", "de", "es", "fr"])
@pytest.mark.parametrize("size", ["phone", "tablet"])
def test_no_section_takes_two_lines(browser, address, studio, code, size):
    set_setting(studio, "language", code)
    with visiting(browser, address, size=size) as page:
        page.goto("/charts")
        lines = page.evaluate(
            """() => [...document.querySelectorAll(".nav a")].map((link) => {
                const text = [...link.childNodes].at(-1);
                const range = document.createRange();
                range.selectNodeContents(text);
                return new Set([...range.getClientRects()].map((box) => box.top)).size;
            })"""
        )
    assert lines == [1] * 5


def test_a_form_waits_and_is_sent_once(browser, address):
    SENT.clear()
    with visiting(browser, address) as page:
        page.goto("/form")
        before, after, name = page.evaluate(
            """() => {
              const button = document.querySelector('form button');
              const size = () => JSON.stringify(button.getBoundingClientRect());
              const before = size();
              button.click();
              button.click();
              return [before, size(), button.className];
            }"""
        )
        assert "busy" in name
        assert after == before
        page.wait_for_url("**/slow")
    assert SENT == [1]


def test_a_file_that_is_too_large_is_told_before_it_is_sent(browser, address, tmp_path):
    with visiting(browser, address) as page:
        page.goto("/parts")
        large = tmp_path / "a.mxl"
        large.write_bytes(bytes(20_000_001))
        page.set_input_files("input[type=file]", large)
        asked = []
        page.on("request", lambda request: asked.append(request.method))
        page.locator("form:has(input[type=file]) button").first.click()
        page.locator("#complaint .notice").wait_for()
        assert "20 MB" in page.locator("#complaint").text_content()
        assert asked == []


def test_an_error_of_a_piece_is_said_and_can_be_closed(browser, address):
    with visiting(browser, address, expecting="status of 400|Error Code 400") as page:
        page.goto("/form")
        page.get_by_role("button", name="Ask").click()
        notice = page.locator("#complaint .notice")
        notice.wait_for()
        assert "reach of 20 isn't a position" in notice.text_content()
        assert page.locator("#there").text_content() == "before"
        page.get_by_role("button", name="Close").click()
        expect(notice).to_have_count(0)
        page.get_by_role("button", name="Ask").click()
        notice.wait_for()
        page.keyboard.press("Escape")
        expect(notice).to_have_count(0)


def test_a_server_that_is_gone_is_said(browser, address):
    with visiting(browser, address, expecting="ERR_|sendError|htmx") as page:
        page.goto("/form")
        page.context.set_offline(True)
        page.get_by_role("button", name="Ask").click()
        page.locator("#complaint .notice").wait_for()
        assert "doesn't answer" in page.locator("#complaint").text_content()


def test_our_own_fonts_come_from_here(browser, address):
    with visiting(browser, address) as page:
        page.goto("/form")
        assert page.evaluate(
            "document.fonts.load('700 16px \"Handslide Marks\"').then(f => f.length)"
        )
        assert page.evaluate("document.fonts.load('16px \"Handslide Music\"').then(f => f.length)")


def test_nothing_that_is_put_in_runs(browser, address):
    with visiting(browser, address, expecting="Content Security Policy|404") as page:
        page.goto("/form")
        page.evaluate(
            """() => {
              const script = document.createElement('script');
              script.textContent = 'window.ran = true';
              document.body.append(script);
              const there = document.getElementById('there');
              there.innerHTML = '<img src=/none.png onerror="window.ran=true">';
            }"""
        )
        page.wait_for_timeout(200)
        assert page.evaluate("window.ran") is None


@pytest.mark.parametrize(
    ("chosen", "system", "dark"),
    [
        ("auto", "light", False), ("auto", "dark", True),
        ("light", "dark", False), ("dark", "light", True),
    ],
)  # fmt: skip
def test_the_theme_is_that_of_the_settings_or_the_system(
    browser, address, studio, chosen, system, dark
):
    set_setting(studio, "theme", chosen)
    with visiting(browser, address, scheme=system) as page:
        page.goto("/form")
        colour = page.evaluate("getComputedStyle(document.body).backgroundColor")
        red = int(re.search(r"\d+", colour).group())
        assert (red < 60) == dark


@pytest.mark.parametrize("path", ["/form", "/no/such", "/b", "/fail"])
def test_the_frame_and_its_errors_have_no_serious_findings(browser, address, path):
    with visiting(browser, address, expecting="the server responded") as page:
        page.goto(path)
        assert serious_in_both_themes(page) == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_on_paper_there_is_only_the_content(browser, address):
    with visiting(browser, address, scheme="dark") as page:
        page.goto("/form")
        page.emulate_media(media="print")
        assert not page.locator(".top").is_visible()
        assert not page.locator(".nav").is_visible()
        assert page.locator("h1").is_visible()
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == (
            "rgb(255, 255, 255)"
        )


def test_a_question_mark_shows_the_keys_of_the_page(browser, example):
    (stand, *_) = list_stands(example)
    with serving(example) as address, visiting(browser, address) as page:
        page.goto(f"/stands/{stand.id}", wait_until="networkidle")
        page.keyboard.press("?")
        shown = page.locator("dialog#help")
        assert shown.is_visible()
        assert "Lock the place" in shown.inner_text() and "Show this list" in shown.inner_text()
        assert serious_findings(page) == []
        page.keyboard.press("Escape")
        assert not shown.is_visible()
        page.goto("/students/new")
        page.locator("#name").press("?")
        assert not shown.is_visible() and page.locator("#name").input_value() == "?"
        page.locator("#help-key").click()
        assert "Lock the place" not in shown.inner_text()
        shown.get_by_role("link").click()
        page.wait_for_url("**/help")
        # Every page's keys, from the same list.
        expect(page.locator("main")).to_contain_text("Lock the place", use_inner_text=True)


def test_with_forced_colours_everything_still_has_its_edge(browser, example):
    (stand, *_) = list_stands(example)
    with (
        serving(example) as address,
        visiting(browser, address, forced_colors="active") as page,
    ):
        page.goto("/charts")
        edges = page.locator(".nav a").evaluate_all(
            "(all) => all.map((a) => [a.hasAttribute('aria-current'),"
            " getComputedStyle(a).borderBottomColor,"
            " getComputedStyle(document.body).backgroundColor])"
        )
        # Only the room that one is in is underlined.
        assert [current for current, edge, ground in edges if edge != ground] == [True]
        page.goto(f"/stands/{stand.id}", wait_until="networkidle")
        colours = page.locator(".slide [data-slide=outer] > *").evaluate_all(
            "(all) => all.map((one) => [getComputedStyle(one).fill, getComputedStyle(one).stroke])"
        )
        ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
        # The tube is an outline, the stay is filled; neither goes under in the ground.
        assert all(stroke not in ("none", ground) or fill == "none" for fill, stroke in colours)
        assert colours[-2][0] != ground
