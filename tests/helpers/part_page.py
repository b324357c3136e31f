"""The page of a part on a stand in a browser, as tests see and use it."""

from contextlib import contextmanager

from playwright.sync_api import Error

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
        drawn(page, len(open_part(studio, stand_id).routed.pitches))
        page.wait_for_selector(".part-columns", state="attached")
        yield page


def drawn(page, notes):
    """Wait until all ``notes`` of the music can be picked."""
    page.wait_for_function("(n) => document.querySelectorAll('#score .hit').length >= n", arg=notes)


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


# True when the music is engraved for the room that there is, and the note (without one: the music)
# has stood where it stands for some frames: who clicks on it now meets it.
STANDS = """(note) => {
    const score = document.getElementById("score");
    const one = note === null ? score : score.querySelector(`.hit[data-i="${note}"]`);
    const { x, y, width } = one?.getBoundingClientRect() ?? {};
    const at = one && score.getAttribute("aria-busy") !== "true" ? `${x} ${y} ${width}` : null;
    const same = at !== null && window.stood?.one === one && window.stood.at === at;
    window.stood = { one, at, frames: same ? window.stood.frames + 1 : 0 };
    return window.stood.frames >= 2;
}"""


def stands(page, note=None):
    """Wait until the music, or a note of it, is where it is going to stay."""
    page.wait_for_function(STANDS, arg=note)


def resize(page, width, height):
    """Give the window another size, and wait for the music that suits it."""
    page.set_viewport_size({"width": width, "height": height})
    stands(page)


def click_note(page, note):
    """Click the note where it stands."""
    stands(page, note)
    page.locator(f".hit[data-i='{note}']").click(position={"x": 2, "y": 2}, force=True)


def pick(page, note):
    """Click the note and wait for its panel.

    Between the look and the click the music may still move: who misses a note clicks once more.
    """
    for last in (False, True):
        try:
            click_note(page, note)
            page.wait_for_selector(
                f".hit.is-on[data-i='{note}']", state="attached", timeout=None if last else 3000
            )
            break
        except Error:
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
