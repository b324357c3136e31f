"""A whole folder in a real browser: named, taken in, sought for a student, put on the stand."""

import pytest
from playwright.sync_api import expect
from small_library import Inline, tune, write_library
from studio_stands import stand_of

from browser import serious_findings, serving, visiting
from handslide.studio.library import grading, shelf
from handslide.studio.library.grading import Grader
from handslide.studio.library.shelf import shelf_of
from handslide.studio.parts.scores import list_scores

pytestmark = pytest.mark.browser


def test_from_a_folder_to_the_stand(studio, browser, tmp_path, monkeypatch):
    for module in (shelf, grading):
        monkeypatch.setattr(module, "Here", lambda count, *, pdf: Inline())
    stand_of(studio)
    source = write_library(tmp_path / "in", 3)
    (source / "flute.musicxml").write_bytes(tune("C5 D5 E5 F5", part="Flute", clef="G"))
    sent = write_library(tmp_path / "sent", 1)
    (sent / "late.musicxml").write_bytes(tune("C2 C2 D2 C2", title="Late"))
    with serving(studio) as address, visiting(browser, address) as page:
        page.goto("/parts")
        page.get_by_role("link", name="A whole folder").click()
        page.get_by_label("A folder on this machine").fill(str(source))
        page.get_by_role("button", name="Look into it").click()
        # The page goes on by itself.
        page.get_by_role("heading", name="3 files to take in").wait_for()
        shelf_of(studio).wait(60)
        page.goto("/parts/folders")
        assert serious_findings(page) == []
        page.locator(".fresh li", has_text="tune2").get_by_role("checkbox").uncheck()
        page.get_by_role("button", name="Take in what is ticked").click()
        page.get_by_text("2 files were taken in.").wait_for()
        # A folder from the browser; of what is known already nothing is taken in again.
        page.set_input_files("#folder-files", sent)
        page.get_by_role("heading", name="1 file to take in").wait_for(timeout=60_000)
        shelf_of(studio).wait(60)
        page.goto("/parts/folders")
        page.get_by_role("button", name="Take in what is ticked").click()
        page.get_by_text("1 file was taken in.").wait_for()
        assert len(list_scores(studio)) == 4
        page.get_by_role("link", name="To the parts").click()
        page.wait_for_url("**/parts")
        page.get_by_label("For", exact=True).select_option("Ada Quill")
        page.wait_for_url("**student=1*")
        rows = page.locator(".part-list tbody tr")
        rows.filter(has_text="m/s").nth(3).wait_for()
        studio.caches.one(Grader).wait(1, 60)
        page.goto("/parts?student=1")
        page.get_by_label("First", exact=True).select_option("the hardest")
        page.wait_for_url("**sort=hardest*")
        assert rows.count() == 4 and serious_findings(page) == []
        page.get_by_label("Words").fill("late")
        expect(page.locator(".part-list tbody tr:visible")).to_have_count(1)
        page.get_by_role("button", name="Put on the stand: Late").click()
        page.wait_for_url("**/stands/2")
