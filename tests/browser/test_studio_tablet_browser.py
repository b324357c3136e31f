"""A part sent to a tablet, in a real browser: the teacher's page and the student's."""

import io

import pytest
import zxingcpp
from part_page import more, resize
from PIL import Image
from playwright.sync_api import expect
from tablets import a_stand, letting_in

from browser import SIZES, fits, serious_findings, serious_in_both_themes, serving, visiting
from handslide.faces.web.app import create_app
from handslide.faces.web.links import Wish

pytestmark = pytest.mark.browser


def on_screen(page):
    """What a camera reads from the screen."""
    picture = Image.open(io.BytesIO(page.locator(".qr").screenshot()))
    (found,) = zxingcpp.read_barcodes(picture.convert("L"))
    return found.text


def test_a_part_comes_to_a_tablet_by_the_code_on_the_screen(browser, example):
    stand = a_stand(example)
    with (
        letting_in(example) as guests,
        serving(example, create_app(example, None, guests)) as address,
        visiting(browser, address) as page,
    ):
        page.goto(f"/stands/{stand.id}")
        more(page)
        page.get_by_role("link", name="Send to a tablet").click()
        page.get_by_role("button", name="Let it in and show the code").click()
        page.wait_for_selector(".qr")
        url = on_screen(page)
        assert url == page.locator(".send-steps .send-address").text_content()
        (link,) = guests.links.rows()
        assert url == link.url and url.startswith("http://127.0.0.2:")
        with visiting(browser, link.origin, size="tablet") as device:
            device.goto(url)
            device.wait_for_selector("#score .hit")
            # The code is gone from the address line, and so from what the browser remembers.
            assert device.url == link.origin + "/"
            device.locator("#score .hit").nth(3).click()
            expect(device.locator("#score .hit.is-on")).to_have_count(1)
            assert device.locator("#said").text_content()
            device.keyboard.press("ArrowRight")
            assert fits(device) and serious_in_both_themes(device) == []
            device.get_by_role("button", name="Play").click()
            device.wait_for_selector("#score .hit.is-playing")
            # The teacher's page says so by itself.
            page.get_by_text("the code is used up").wait_for()
            expect(page.locator(".qr")).to_have_count(0)
            page.get_by_role("button", name="End this link now").click()
            page.get_by_text("No link is open").wait_for()
            device.get_by_role("heading", name="The link has ended").wait_for()
            expect(device.locator("#score")).to_have_count(0)


def test_a_part_without_https_says_where_the_microphone_is(browser, example):
    with letting_in(example) as guests:
        link = guests.send(Wish(a_stand(example), False, False, 60), "127.0.0.2", secure=False)
        with visiting(browser, link.origin, size="phone") as device:
            device.goto(link.origin)
            assert serious_findings(device) == [] and fits(device)
            # Without a camera: typed.
            device.get_by_label("Code from the teacher's screen").fill(link.code.upper())
            device.get_by_role("button", name="Open").click()
            device.wait_for_selector("#score .hit")
            assert device.get_by_text("a browser gives its microphone only to https").is_visible()
            expect(device.locator("#listen")).to_have_count(0)


def test_it_fits_narrow_and_wide_windows(browser, example):
    with letting_in(example) as guests:
        link = guests.send(Wish(a_stand(example), True, True, 60), "127.0.0.2", secure=False)
        with visiting(browser, link.origin) as device:
            device.goto(link.url)
            device.wait_for_selector("#score .hit")
            for width in (320, 2560):
                resize(device, width, SIZES["desk"][1])
                assert fits(device), width
