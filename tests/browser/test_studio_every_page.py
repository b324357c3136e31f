"""Every kind of page in a real browser: readable for all, in both themes, on desk and phone.

Each page is looked at on a phone and at the narrowest, and by axe once: on a desk in the light,
with the keys, or on a phone in the dark. Each of the wider windows has its share of the pages. In
`make sweep` each page has all.
"""

import re
from contextlib import contextmanager
from urllib.parse import urlsplit

import pytest
from cut_words import cut_words
from page_sweep import WIDTHS, unfair
from sampling import ALL
from shares import share_of
from studio_pages import browse
from studio_walk import walk, whole_pages
from unlinked_pages import ELSEWHERE, templates_shown, unlinked, whole_templates

from browser import SIZES, fits, open_whole, serious_findings, serving, visiting
from handslide.studio.studio import set_setting

pytestmark = [pytest.mark.browser, pytest.mark.slow]


# Windows in which words may be cut off; 320 is the narrowest.
NARROW, WIDER = WIDTHS[0], (820, 1440, WIDTHS[-1])
# In French the words are longest (measured: lists that were too narrow, in each language).
LONGEST = "fr"
# Kinds of one template and one form, and what they have in common.
ALIKE = re.compile(r"^(/give/practice|/tuning/N/(?!main)).+")


@contextmanager
def all_kinds(studio):
    """An application of ``studio``, and an address for each kind of page in it."""
    with unlinked(studio) as (app, apart):
        yield app, one_of_each_kind(app, apart)


def one_of_each_kind(app, apart):
    """/students/1 stands for /students/2 too, and the first valve's slide for the others'."""
    kinds = {}
    for url in [*whole_pages(walk(browse(app), each=2)), *apart]:
        kind = re.sub(r"/\d[\d.-]*", "/N", urlsplit(url).path)
        kinds.setdefault(kind if ALL else ALIKE.sub(r"\1", kind), url)
    return sorted(kinds.values())


def trouble_with(page, url, size, scheme, whole=True):
    """What is wrong with the page that is open, at one size and theme; of what axe finds, if
    ``whole``."""
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    # Without motion: no colour is on its way from one theme to the other.
    page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
    found = [(url, size, scheme, each) for each in (serious_findings(page) if whole else ())]
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


def too_narrow(page, url, widths):
    """What lies beyond the window at these widths, and words that lists and keys cut off."""
    found = []
    for width in widths:
        page.set_viewport_size({"width": width, "height": 900})
        if not fits(page):
            found.append((url, width, "beyond the window"))
        found += [(url, width, *each) for each in cut_words(page)]
    return found


def test_every_page_can_be_read_and_touched(windowed, example, monkeypatch):
    set_setting(example, "language", LONGEST)
    wrong = []
    with (
        templates_shown(monkeypatch) as shown,
        all_kinds(example) as (app, urls),
        serving(example, app) as address,
        visiting(windowed, address, expecting="status of 404") as page,
    ):
        on_desk, on_phone = (share_of(urls, number, 2) for number in (0, 1))
        wider = [(width, share_of(urls, number, 6)) for number, width in enumerate(WIDER)]
        for url in urls:
            open_whole(page, url)
            if url in on_desk:
                wrong += trouble_with(page, url, "desk", "light")
                wrong += [(url, *each) for each in unfair(page, WIDTHS if ALL else ())]
            wrong += trouble_with(page, url, "phone", "dark", whole=url in on_phone)
            widths = [NARROW, *(width for width, its in wider if url in its)]
            wrong += too_narrow(page, url, widths)
    assert wrong == []
    assert whole_templates() - shown == ELSEWHERE
