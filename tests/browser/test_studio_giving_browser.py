"""A part is given away: chosen measures are taken over, the file is saved and opens from disk."""

import pytest
from part_page import more, part_page
from playwright.sync_api import expect
from studio_stands import stand_of

from browser import SIZES, fits, serious_in_both_themes

pytestmark = pytest.mark.browser


def test_a_stretch_of_a_part_becomes_a_file_that_opens_from_disk(studio, browser, tmp_path):
    with part_page(browser, studio, stand_of(studio)) as page:
        more(page)
        page.locator("#from").select_option(label="5")
        page.locator("#until").select_option(label="8")
        page.get_by_role("link", name="Give to the student").click()
        contents = page.locator("#contents")
        contents.get_by_text("Measures 5–8").wait_for()
        assert serious_in_both_themes(page) == []
        for width, height in SIZES.values():
            page.set_viewport_size({"width": width, "height": height})
            assert fits(page), width
        page.locator("#to").select_option(label="6")
        contents.get_by_text("Measures 5–6").wait_for()
        assert contents.get_by_text("None, neither").is_visible()
        page.get_by_label("With the name Ada Quill").check()
        contents.get_by_text("Ada Quill, on the page").wait_for()
        with page.expect_download(timeout=60_000) as coming:
            page.get_by_role("button", name="Make the file").click()
        path = tmp_path / coming.value.suggested_filename
        coming.value.save_as(path)
        page.get_by_text("The file is ready.").wait_for()
        assert path.name == "lanterns-on-the-quay-ada-quill.html"

        page.context.set_offline(True)
        file = page.context.new_page()
        file.goto(path.as_uri())
        file.locator(".score .hit").first.wait_for(state="attached")
        expect(file.locator(".head-lines")).to_contain_text("for Ada Quill", use_inner_text=True)
        file.locator(".score .hit[data-i='0']").click(force=True)
        expect(file.locator(".dock-words")).to_contain_text("measure 5", use_inner_text=True)


def test_the_form_works_without_scripts(studio, browser):
    with part_page(browser, studio, stand_of(studio)) as page:
        here = page.url
        plain = browser.new_context(java_script_enabled=False, accept_downloads=True).new_page()
        plain.goto(here.replace("/stands/", "/give/stand/"))
        plain.locator("#to").select_option(label="3")
        plain.get_by_role("button", name="Show what will be in it").click()
        expect(plain.locator("#contents")).to_contain_text("Measures 1–3", use_inner_text=True)
        with plain.expect_download(timeout=60_000) as coming:
            plain.get_by_role("button", name="Make the file").click()
        assert coming.value.suggested_filename == "lanterns-on-the-quay.html"
        plain.context.close()
