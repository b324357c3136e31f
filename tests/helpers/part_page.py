"""The page of a part on a stand in a browser, as tests see and use it."""

from contextlib import contextmanager

from playwright.sync_api import TimeoutError

from browser import serving, visiting
from handslide.instrument.marks import UNPLAYABLE
from handslide.studio.parts.openpart import open_part


def ordinals(part):
    return part.marked.part.ordinals


@contextmanager
def part_page(browser, studio, stand_id, query="", **options):
    """The page of a stand with its music drawn and its lists there."""
    with serving(studio) as address, visiting(browser, address, **options) as page:
        page.goto(f"/stands/{stand_id}{query}")
        notes = len(open_part(studio, stand_id).routed.pitches)
        page.wait_for_function(
            "(n) => document.querySelectorAll('#score .hit').length >= n", arg=notes
        )
        page.wait_for_selector(".part-columns", state="attached")
        yield page


def marks_shown(page):
    """The marks over the notes by the notes' elements, hidden ones left out."""
    return page.evaluate(
        """() => Object.fromEntries([...document.querySelectorAll("#score text.mark")]
            .filter((mark) => getComputedStyle(mark).display !== "none")
            .map((mark) => [mark.dataset.note, mark.textContent]))"""
    )


def marks_of(studio, stand_id):
    part = open_part(studio, stand_id)
    marks = part.routed.marks
    return {f"hs-n{o}": marks.get(n, UNPLAYABLE) for n, o in enumerate(ordinals(part))}


def pick(page, note):
    """Click the note and wait for its panel.

    Music that is just scrolling or engraved anew moves away under the pointer: who misses a note
    clicks once more.
    """
    for last in (False, False, True):
        page.locator(f".hit[data-i='{note}']").click(position={"x": 2, "y": 2}, force=True)
        try:
            page.wait_for_selector(
                f".hit.is-on[data-i='{note}']", state="attached", timeout=None if last else 3000
            )
            break
        except TimeoutError:
            if last:
                raise
    page.wait_for_selector(f"#note [data-said][data-i='{note}']")


def more(page):
    """Open the menu of what is rare."""
    page.locator("summary[aria-label='More']").click()


def said(page):
    return page.locator("#said").text_content()


def wait_said(page, words):
    page.wait_for_function(
        "(w) => document.getElementById('said').textContent.includes(w)", arg=words
    )
