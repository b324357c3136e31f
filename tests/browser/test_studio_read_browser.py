"""What was read from a PDF, in a real browser: without a mouse, on a phone, in the dark."""

import pytest
from pdf_sheets import SCORES, sheet

from browser import SIZES, fits, open_whole, serious_in_both_themes, serving, visiting
from handslide.studio.parts.reading import open_source, steps_of
from handslide.studio.parts.scores import add_score

pytestmark = pytest.mark.browser


def names(studio, row):
    return [note.sounding.name for note in open_source(studio, row).score.read_part().notes]


def label(page):
    return page.evaluate("document.activeElement.getAttribute('aria-label')")


def test_a_note_is_put_right_with_the_keys_alone(browser, studio):
    row = add_score(studio, sheet(), "etude.pdf").score
    before = names(studio, row)
    with serving(studio) as address, visiting(browser, address) as page:
        open_whole(page, f"/parts/{row.id}/read")
        stops = page.locator('.read-sheet a[tabindex="0"]')
        assert stops.count() == 1  # one tab stop for all notes of a page
        stops.focus()
        assert "bass clef" in label(page)
        page.keyboard.press("End")
        assert "system 3" in label(page)
        page.keyboard.press("Home")
        while "item 1" not in label(page):
            page.keyboard.press("ArrowRight")
        first = label(page)
        page.keyboard.press("Enter")
        page.wait_for_url("**at=1.1.1.1**")
        assert label(page) == first  # the keys go on from there
        page.locator(".read-choices button").first.focus()
        page.keyboard.press("Enter")
        page.wait_for_selector(".spot.is-corrected")
        assert names(studio, row)[0] != before[0]
        assert names(studio, row)[1:] == before[1:]
        page.get_by_role("button", name="Undo").press("Enter")
        page.wait_for_selector(".spot.is-corrected", state="detached")
    assert names(studio, row) == before
    assert steps_of(studio, row).done == 0


def test_it_can_be_read_and_touched(browser, studio):
    row = add_score(studio, sheet(), "etude.pdf").score
    asked = SCORES / "pdf" / "School_for_Trombone_006-abcm2ps.pdf"
    unknown = add_score(studio, asked.read_bytes(), "school.pdf").score
    wrong = []
    with serving(studio) as address, visiting(browser, address) as page:
        for url in (f"/parts/{row.id}/read?at=1.1.1.1", f"/parts/{row.id}/read?at=1.2",
                    f"/parts/{unknown.id}/read"):  # fmt: skip
            open_whole(page, url)
            for size in ("desk", "phone"):
                width, height = SIZES[size]
                page.set_viewport_size({"width": width, "height": height})
                wrong += [] if fits(page) else [(url, size)]
            wrong += [(url, *each) for each in serious_in_both_themes(page)]
    assert wrong == []
