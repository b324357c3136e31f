"""Forms in a real browser: refusals at their field, and nothing that was typed is lost."""

import pytest
from playwright.sync_api import expect
from tablets import letting_in

from browser import serious_findings, serving, visiting
from handslide.faces.web.app import create_app
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.students import list_students, main_horn

pytestmark = pytest.mark.browser


def said_at(page, selector):
    """The sentence that a field is described by, if the field is marked as wrong."""
    field = page.locator(selector)
    assert field.get_attribute("aria-invalid") == "true"
    (said,) = [
        one for one in field.get_attribute("aria-describedby").split() if one.endswith("-wrong")
    ]
    return page.locator(f"#{said}").inner_text()


def test_what_was_typed_stays_while_the_studio_is_down(browser, example):
    with (
        serving(example) as address,
        visiting(browser, address, expecting="ERR_|Failed to load") as page,
    ):
        page.goto("/students/new")
        page.locator("#name").fill("Ada Lind")
        page.context.set_offline(True)
        page.locator("main button[type=submit]").click()
        page.locator("#complaint .notice").wait_for()
        expect(page.locator("#complaint")).to_contain_text(
            "What you typed is still here", use_inner_text=True
        )
        assert page.locator("#name").input_value() == "Ada Lind"
        expect(page.locator("main form.busy, main .busy")).to_have_count(0)
        page.context.set_offline(False)
        page.locator("main button[type=submit]").click()
        page.wait_for_url(lambda url: "new" not in url)
    assert "Ada Lind" in [student.name for student in list_students(example)]


def test_a_refusal_stands_at_its_field(browser, example):
    horn = main_horn(example, list_students(example)[0].id)
    with (
        serving(example) as address,
        visiting(browser, address, expecting="status of 400") as page,
    ):
        page.goto(f"/horns/{horn.id}/edit")
        page.locator("#words").fill("measured")
        page.locator("#travel_mm").fill("2.5")
        page.locator("main button[type=submit]").click()
        page.locator(".field-wrong").wait_for()
        assert "travel of 2.5 is outside 150 to 1200 mm" in said_at(page, "#travel_mm")
        assert page.evaluate("document.activeElement.id") == "travel_mm"
        assert page.locator("#words").input_value() == "measured"
        assert serious_findings(page) == []
        page.locator("#travel_mm").fill("670")
        expect(page.locator(".field-wrong")).to_have_count(0)


def test_a_form_without_a_page_for_its_refusal_comes_back_as_it_was(browser, example):
    stand = list_stands(example)[0]
    with (
        serving(example) as address,
        visiting(browser, address, expecting="status of 400") as page,
    ):
        page.goto(f"/stands/{stand.id}")
        page.evaluate("document.getElementById('settings').showModal()")
        page.locator("#tempo").fill("1e9")
        page.locator("#settings form[action] button[type=submit]").first.click()
        page.locator(".field-wrong").wait_for()
        assert page.url.endswith(f"/stands/{stand.id}")
        assert page.locator("#tempo").input_value() == "1e9"
        million = "1\u202f000\u202f000\u202f000"
        expected = f"A tempo of {million} quarter notes a minute is outside 10 to 500."
        assert said_at(page, "#tempo") == expected
        # Once: the page loaded again is the page.
        page.reload()
        expect(page.locator(".field-wrong")).to_have_count(0)


def test_a_preview_says_it_at_the_field_too(browser, example):
    student = list_students(example)[0]
    with serving(example) as address, visiting(browser, address) as page:
        page.goto(f"/practice/{student.id}/drill")
        page.locator("details:has(#seed) > summary").click()
        page.locator("#seed").fill("abc")
        page.locator(".field-wrong").wait_for()
        assert "isn't a sheet's number" in said_at(page, "#seed")
        page.locator("#seed").fill("3")
        page.wait_for_function("!document.querySelector('.field-wrong')")


def test_a_button_that_cant_be_pressed_says_why(browser, example):
    stand = list_stands(example)[0]
    with serving(example) as address, visiting(browser, address) as page:
        page.goto(f"/stands/{stand.id}", wait_until="networkidle")
        buttons = page.locator("#undo[disabled], #redo[disabled], #unlock-all[disabled]")
        assert buttons.count() >= 2
        for button in buttons.all():
            assert button.get_attribute("title")
        page.evaluate("document.getElementById('redo').disabled = false")
        page.wait_for_function("document.getElementById('redo').title === 'Redo'")


# (page, field, what is typed, what is said of it, whether a preview follows): in the units typed.
WRONG = [
    ("/data", "kept", "1e9", "from 1 to 366", False),
    ("/charts?student=3", "low", "H9x", "H9x", True),
    ("/charts?student=3", "bell_mm", "1e9", "mm", True),
    ("/send/stand/6", "minutes", "100000", "minutes", False),
    ("/practice/3/drill?kind=scales", "tempo", "1e9", "quarter", True),
    ("/stands/6/playalong", "tempo", "1e9", "quarter", False),
    ("/horns/3/edit", "a4_hz", "1e9", "Hz", False),
]


def test_each_room_says_it_at_its_field(browser, example):
    found = []
    with (
        letting_in(example) as guests,
        serving(example, create_app(example, None, guests)) as address,
        visiting(browser, address, expecting="status of 400") as page,
    ):
        for path, name, typed, words, previewed in WRONG:
            page.goto(path)
            page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
            field = page.locator(f"main [name={name}]")
            field.fill(typed)
            # What the browser itself would refuse is refused by the studio, too.
            field.evaluate("(one) => { one.form.noValidate = true; }")
            if not previewed:
                field.press("Enter")
            page.locator(".field-wrong").wait_for()
            said = page.locator(".field-wrong").inner_text()
            kept = page.locator(f"main [name={name}]").input_value()
            if words not in said or kept != typed or "e+" in said:
                found.append((path, name, said, kept))
    assert found == []
