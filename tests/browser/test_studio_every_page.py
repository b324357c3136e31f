"""Every kind of page in a real browser: readable for all, in both themes, on desk and phone."""

import re
from urllib.parse import urlsplit

import pytest
from page_sweep import unfair
from studio_pages import client
from studio_walk import walk, whole_pages

from browser import SIZES, open_whole, serious_findings, serving, visiting

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def one_of_each_kind(studio):
    """An address for each kind of page: /students/1 stands for /students/2 too."""
    kinds = {}
    for url in whole_pages(walk(client(studio))):
        kinds.setdefault(re.sub(r"/\d[\d.-]*", "/N", urlsplit(url).path), url)
    return sorted(kinds.values())


def trouble_with(page, url, size, scheme):
    """What is wrong with the page that is open, at one size and theme."""
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    # Without motion: no colour is on its way from one theme to the other.
    page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
    found = [(url, size, scheme, each) for each in serious_findings(page)]
    beyond = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    if beyond > 0:
        found.append((url, size, scheme, f"{beyond} px beyond the window"))
    small = page.evaluate(
        """() => [...document.querySelectorAll('main .button, main button, main select')]
          .filter((each) => each.checkVisibility())
          .map((each) => [each.textContent.trim().slice(0, 30), each.getBoundingClientRect()])
          .filter(([, box]) => box.width > 0 && box.height > 0 && box.height < 40)
          .map(([name, box]) => `${name}: ${Math.round(box.height)} px high`)"""
    )
    if size == "phone" and small:
        found.append((url, size, scheme, f"too small to touch: {small[:5]}"))
    return found


def test_every_page_can_be_read_and_touched(browser, example):
    urls = one_of_each_kind(example)
    assert len(urls) > 15
    wrong = []
    with serving(example) as address, visiting(browser, address) as page:
        for url in urls:
            open_whole(page, url)
            wrong += trouble_with(page, url, "desk", "light")
            wrong += [(url, *each) for each in unfair(page)]
            wrong += trouble_with(page, url, "phone", "dark")
    assert wrong == []
