"""A student's plan in a real browser: made, ticked by keyboard, readable by everyone."""

import pytest
from playwright.sync_api import expect

from browser import SIZES, lines_drawn, serious_findings, serving, visiting
from handslide.studio.people.students import list_students

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_a_plan_is_made_ticked_and_taken_back(browser, example):
    clara = next(one.id for one in list_students(example) if one.name == "Clara Moreno")
    with serving(example) as address, visiting(browser, address) as page:
        page.goto(f"/students/{clara}")
        page.get_by_role("link", name="Plan", exact=True).click()
        page.fill("#weeks", "3")
        page.get_by_role("button", name="Make the plan").click()
        box = page.locator(".today").get_by_role("checkbox", name="Breathing")
        assert box.get_attribute("aria-checked") == "false"
        box.focus()
        page.keyboard.press("Space")
        page.wait_for_selector(".today [role=checkbox][aria-checked=true]")
        # The same box stands in the week; ticked again it is open.
        expect(page.locator("[role=checkbox][aria-checked=true]")).to_have_count(2)
        page.locator(".days li[aria-current]").get_by_role("checkbox", name="Breathing").click()
        page.wait_for_function(
            "() => !document.querySelector('[role=checkbox][aria-checked=true]')"
        )
        for width, height in SIZES.values():
            page.set_viewport_size({"width": width, "height": height})
            assert page.evaluate(
                "() => document.documentElement.scrollWidth <= document.documentElement.clientWidth"
            )
        assert serious_findings(page) == []
        page.get_by_text("Another plan").click()
        lines_drawn(page)
        page.get_by_role("button", name="Take this plan back").click()
        page.wait_for_selector(".plan-first")
