"""The first page and a student's desk in a real browser: clicks from start to print, the lesson."""

from contextlib import ExitStack

import pytest
from playwright.sync_api import expect
from studio_stands import LANTERNS, stand_of, titled

from browser import fits, serious_findings, serving, visiting
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.students import list_students

pytestmark = pytest.mark.browser

DROP = """(text) => { const data = new DataTransfer();
    data.items.add(new File([text], "c.musicxml"));
    document.dispatchEvent(new DragEvent("drop", {dataTransfer: data, bubbles: true})); }"""
COUNTED = "window.addEventListener('click', (event) => event.isTrusted && window.clicked?.(), true)"


def test_three_clicks_from_start_to_print(studio, browser, tmp_path):
    stand_of(studio, data=titled("Another"))
    file = tmp_path / "lanterns.musicxml"
    file.write_bytes(LANTERNS)
    with serving(studio) as address, visiting(browser, address) as page:
        clicks = []
        page.expose_function("clicked", lambda: clicks.append(1))
        page.add_init_script(COUNTED)
        page.goto("/")
        with page.expect_file_chooser() as chooser:
            page.get_by_text("Choose a file").click()
        chooser.value.set_files(file)
        page.wait_for_url("**/parts/2")
        page.get_by_role("button", name="Ada Quill").click()
        page.wait_for_url("**/stands/2")
        page.locator("#score text.mark").first.wait_for()
        assert page.locator("#score text.mark").count() > 50
        printing = page.locator("a[data-making][target=_blank]").first
        assert printing.is_visible()
        assert page.request.get(printing.get_attribute("href")).body().startswith(b"%PDF")
        printing.click()
        # What the page tells comes in its order: with an answer all clicks have come.
        page.evaluate("() => null")
        # The label's own click comes to the page as another, at the field.
        assert len(clicks) - 1 == 3


def test_a_part_dropped_on_a_students_page_goes_on_the_stand(studio, browser):
    stand_of(studio)
    (student,) = list_students(studio)
    with serving(studio) as address, visiting(browser, address) as page:
        for path in (f"/students/{student.id}", f"/progress/{student.id}"):
            page.goto(path)
            page.evaluate(DROP, titled(f"From {path}").decode())
            page.wait_for_url("**/stands/*")
        titles = {row.title for row in list_stands(studio, student_id=student.id)}
        assert {f"From /students/{student.id}", f"From /progress/{student.id}"} <= titles
        # Rooms that show one student by their address are that student's pages, too.
        stand_of(studio, name="Ben Orr")
        for room in ("parts", "charts", "takes"):
            page.goto(f"/{room}?student={student.id}")
            page.evaluate(DROP, titled(f"From {room} of one").decode())
            page.wait_for_url("**/stands/*")
        titles = {row.title for row in list_stands(studio, student_id=student.id)}
        assert {f"From {room} of one" for room in ("parts", "charts", "takes")} <= titles
        # Elsewhere it is asked who it is for; on a horn it can be tried for nobody.
        page.goto("/charts")
        page.evaluate(DROP, titled("From charts").decode())
        page.wait_for_url("**/parts/*")
        page.get_by_role("button", name="Alto trombone in E♭", exact=True).click()
        page.locator(".strip svg text.mark").first.wait_for()
        assert serious_findings(page) == []
        link = page.get_by_role("link", name="Print").get_attribute("href")
        assert page.request.get(link).body().startswith(b"%PDF")


def test_what_cant_be_read_is_said_in_the_frame(studio, browser):
    with serving(studio) as address, visiting(browser, address, expecting="400") as page:
        page.goto("/takes")
        page.evaluate(DROP, "no music at all")
        page.locator(".drop-here.is-refused [role=alert]").wait_for()
        expect(page.locator(".refused")).to_contain_text("c.musicxml", use_inner_text=True)


def test_the_list_sorts(studio, browser):
    for name, base in (("Cleo", "alto"), ("Ada", "tenor"), ("Ben", "bass-independent")):
        stand_of(studio, name, base)
    with serving(studio) as address, visiting(browser, address) as page:
        page.goto("/")
        names = page.locator(".who")
        head = page.get_by_role("button", name="Student")
        head.click()
        assert names.all_inner_texts() == ["Ada", "Ben", "Cleo"]
        head.click()
        assert names.all_inner_texts() == ["Cleo", "Ben", "Ada"]
        assert page.locator("th[aria-sort=descending]").inner_text() == "Student"
        page.get_by_role("button", name="Horn").click()
        assert names.all_inner_texts()[0] == "Cleo"
        assert page.locator(".person").first.bounding_box()["height"] <= 39


def test_a_lesson_walks_through_the_pages(studio, browser):
    stand_of(studio)
    (student,) = list_students(studio)
    paths = ("/tuning/", "/practice/", "/practice/", "/stands/", "/takes/new", "/progress/")
    with serving(studio) as address, visiting(browser, address) as page:
        page.goto(f"/students/{student.id}")
        page.locator(".strip svg text.mark").first.wait_for()
        page.get_by_text("Nothing stands out as yet").wait_for()
        assert serious_findings(page) == []
        page.keyboard.press("Enter")
        line = page.locator(".lesson-line")
        for step, path in enumerate(paths):
            page.wait_for_url(f"**{path}**")
            expect(line.locator("[aria-current=step]")).to_have_count(1)
            # Pages that fill the window leave a row for it, and stay within the window.
            box = line.bounding_box()
            assert box["height"] <= 62 and fits(page), (path, box)
            below = page.locator("#main").bounding_box()
            assert below["y"] >= box["y"] + box["height"] - 1 and below["height"] > 200, path
            expect(line.locator("li").nth(step).locator("[aria-current]")).to_have_count(1)
            if step + 1 < len(paths):
                line.locator(".on").click()
        # It goes on where it was, and any step can be taken at once.
        page.goto(f"/students/{student.id}")
        page.get_by_role("link", name="Go on with the lesson").click()
        page.wait_for_url("**/progress/**")
        line.get_by_role("link", name="Tune", exact=True).click()
        page.wait_for_url("**/tuning/**")
        line.get_by_role("button", name="End").click()
        page.wait_for_url(f"**/students/{student.id}")
        assert line.count() == 0 and fits(page)


def test_on_a_phone_the_lesson_line_says_where_one_is(studio, browser):
    stand_of(studio)
    with serving(studio) as address, visiting(browser, address, size="phone") as page:
        page.goto("/students/1/lesson/2")
        line = page.locator(".lesson-line")
        where = line.locator(".where")
        assert where.inner_text().split("\n") == ["Ada Quill · 3/6", "Trouble spots"]
        steps = page.locator("#lesson-steps a")
        assert not steps.first.is_visible() and fits(page)
        where.press("Enter")
        assert steps.first.is_visible() and steps.count() == 7
        # All steps lie within the window and under the line, whole and large enough to touch.
        below = line.bounding_box()
        for step in steps.all():
            box = step.bounding_box()
            assert box["y"] >= below["y"] + below["height"] and box["height"] >= 44
            assert box["x"] >= 0 and box["x"] + box["width"] <= 390
        assert serious_findings(page) == []
        page.keyboard.press("Escape")
        assert not steps.first.is_visible()
        where.click()
        steps.nth(3).click()
        page.wait_for_url("**/stands/**")


def test_two_of_one_name_are_told_apart(studio, browser):
    for base in ("alto", "tenor"):
        stand_of(studio, "Ada Quill", base)
    with serving(studio) as address, visiting(browser, address, size="phone") as page:
        page.goto("/")
        said = page.locator(".person td:nth-child(2)").all_inner_texts()
        assert len(set(said)) == 2 and any("Alto" in one for one in said)
        page.goto("/parts/1")
        assert page.get_by_role("button", name="Ada Quill").first.inner_text() != "Ada Quill"


def test_a_lesson_and_the_desk_go_on_after_a_restart(studio, browser, monkeypatch):
    stand_of(studio)
    (student,) = list_students(studio)
    desk = f"/students/{student.id}"
    with ExitStack() as opened:
        # The page outlives the server that it came from.
        with serving(studio) as address:
            page = opened.enter_context(visiting(browser, address, expecting="ERR_|Failed to load"))
            page.goto(f"{desk}/lesson/1")
            page.wait_for_url("**/practice/**")
            page.goto(desk)
            page.locator(".strip svg text.mark").first.wait_for()
        page.get_by_role("button", name="End", exact=True).click()
        page.locator("#complaint .notice.bad", has_text="doesn't answer").wait_for()
        # What the browser has kept of the music needn't be drawn again.
        studio.caches.empty()
        monkeypatch.delattr("handslide.studio.home.strips.opening_of")
        opened.enter_context(serving(studio, port=int(address.rpartition(":")[2])))
        page.locator("#complaint .notice.good", has_text="answers again").wait_for()
        page.reload()
        page.locator(".lesson-line [aria-current=step]", has_text="Warm up").wait_for()
        page.locator(".strip svg text.mark").first.wait_for()
        page.get_by_role("link", name="Go on with the lesson").click()
        page.wait_for_url("**/practice/**")


def test_the_desk_drills_the_very_thing(example, browser):
    with serving(example) as address, visiting(browser, address) as page:
        page.goto("/students/3")
        page.locator(".things li").nth(1).get_by_role("link", name="Drill").click()
        page.wait_for_url("**/drill?*about=*")
        assert page.locator("#about option:checked").inner_text() == "C4 in 3rd"
        page.locator("#preview img").first.wait_for()


def test_enter_takes_the_first_who_fits(studio, browser):
    for number in range(14):
        stand_of(studio, f"Student {number:02d}")
    with serving(studio) as address, visiting(browser, address) as page:
        page.goto("/")
        page.keyboard.press("/")
        page.keyboard.type("dent 07")
        expect(page.locator(".person:visible")).to_have_count(1)
        page.keyboard.press("Enter")
        page.wait_for_url("**/students/8")
        # On the page of a part it is that student's stand, and never the first of the list's.
        page.goto("/parts/1")
        page.locator("#find").press("Enter")
        page.locator("#find").fill("Student 11")
        page.locator("#find").press("Enter")
        page.wait_for_url("**/stands/12")
