"""Students and horns in a real browser: the form follows its horn; every page fits and is clean."""

from itertools import pairwise

import pytest
from playwright.sync_api import expect
from shares import share_of
from studio_stands import stand_of, titled

from browser import SIZES, serving, visiting
from handslide.studio.people.students import list_students, main_horn
from handslide.studio.studio import set_setting

pytestmark = pytest.mark.browser


def test_the_form_follows_the_horn_by_keyboard(studio, browser):
    with serving(studio) as address, visiting(browser, address) as page:
        page.goto("/students/new")
        # The name has the focus: a teacher types at once.
        page.keyboard.type("Ida")
        assert page.locator("#valves").inner_text().split() == ["F", "valve"]
        page.select_option("#horn", "bass-independent")
        page.locator("#valves >> text=G♭ valve").wait_for()
        page.locator(".example-marks >> text=F·7½").wait_for()
        page.select_option("#signs", "number")
        page.locator(".example-marks >> text=V1·7½").wait_for()
        page.uncheck("#valves input[type=checkbox][value=Gb]")
        page.select_option("#reach", "5.5")
        page.locator("#reach").focus()
        page.keyboard.press("Tab")
        page.get_by_role("button", name="Save").click()
        page.wait_for_url("**/students/1")
        (student,) = list_students(studio)
        assert (student.name, student.reach, student.learned, student.marks) == (
            "Ida", 5.5, ("F",), "number",
        )  # fmt: skip
        assert main_horn(studio, student.id).base == "bass-independent"


def paths_of(studio):
    student = next(s for s in list_students(studio) if s.name == "Mira Holt")
    horn = main_horn(studio, student.id)
    return (
        "/", "/students/new", f"/students/{student.id}", f"/students/{student.id}/edit",
        f"/students/{student.id}/delete", f"/students/{student.id}/mine",
        f"/students/{student.id}/horns/new", f"/horns/{horn.id}", f"/horns/{horn.id}/edit",
        f"/horns/{horn.id}/versions/2",
    )  # fmt: skip


def test_every_page_fits_and_can_be_touched(example, browser):
    with serving(example) as address, visiting(browser, address) as page:
        for path in paths_of(example):
            page.goto(path)
            for width, height in SIZES.values():
                page.set_viewport_size({"width": width, "height": height})
                wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
                assert page.evaluate(wide) <= 0, (path, width)
                small = page.evaluate(
                    # A row of the list is one link; beside a mouse it is lower.
                    "[...document.querySelectorAll('main a:not(.who), main button, main select, "
                    "main summary')]"
                    ".filter(e => e.offsetParent && e.getBoundingClientRect().height < 39.5)"
                    ".map(e => e.textContent.trim())"
                )
                assert small == [], (path, width)


# Each page in one of the languages here, and in all of them in `make sweep`.
@pytest.mark.parametrize(("language", "number"), [("en", 0), ("de", 1), ("es", 2)])
def test_no_name_widens_a_page(studio, browser, language, number):
    long, file = "W" * 200, "V" * 110 + ".musicxml"
    stand = stand_of(studio, long, data=titled("T" * 200), file=file)
    stand_of(studio, "Ada Quill", data=titled("T" * 200), file=file)
    set_setting(studio, "language", language)
    paths = (
        "/", "/students/1", "/students/1/delete", "/students/1/mine", "/progress/1", "/parts",
        "/parts/1", "/parts/1/delete", f"/stands/{stand}", "/takes",
        "/takes/new?student=1", "/charts?student=1", "/tuning/1", "/fitting/1", "/data",
    )  # fmt: skip
    with serving(studio) as address, visiting(browser, address, size="phone") as page:
        for path in share_of(paths, number, 3):
            page.goto(path)
            for width in (320, 1280):
                page.set_viewport_size({"width": width, "height": 800})
                wide = page.evaluate("document.documentElement.scrollWidth")
                assert wide <= width, f"{path} is {wide} px wide on {width}"
        # The names of the rooms don't run into each other.
        page.goto("/")
        for width in (320, 1280):
            page.set_viewport_size({"width": width, "height": 800})
            ends = page.evaluate(
                """() => [...document.querySelectorAll(".nav a")].map((link) => {
                    const words = document.createRange();
                    words.selectNodeContents(link);
                    const { left, right } = words.getBoundingClientRect();
                    return [left, right];
                })"""
            )
            assert len(ends) == 5
            assert all(end[1] <= after[0] for end, after in pairwise(ends)), ends


def test_one_of_forty_students_is_found(studio, browser):
    for number in range(13):
        stand_of(studio, f"Zoë Ünal {number}" if number % 6 else f"Mira {number}")
    with serving(studio) as address, visiting(browser, address) as page:
        page.goto("/")
        page.get_by_label("Find a student").fill("unal 11")
        people = page.locator(".person:visible .who")
        assert people.all_inner_texts() == ["Zoë Ünal 11"]
        page.get_by_label("Find a student").fill("nobody")
        assert page.locator("#found-none").is_visible()
        page.get_by_label("Find a student").fill("")
        expect(people).to_have_count(13)
        assert page.locator("#found-none").is_hidden()
