"""Learning in a real browser: yes, correct, look up to here, what was learnt, undo, a new part."""

import json

import pytest
from part_page import marks_of, marks_shown, more, pick, wait_said
from studio_stands import stand_of

from browser import serious_findings, serving, visiting
from handslide.edges.store.students import StudentValues
from handslide.studio.choosing.consent import consent
from handslide.studio.choosing.versions import in_force
from handslide.studio.learning import background
from handslide.studio.parts.openpart import open_part
from handslide.studio.people.horns import enrol

pytestmark = pytest.mark.browser
SEEN = 30
CHANGED = 4


def open_stand_page(page, stand_id):
    page.goto(f"/stands/{stand_id}")
    page.wait_for_selector("#score svg .hit", state="attached")
    page.wait_for_selector(".part-columns")


def choose_with_valve(page, studio, stand_id):
    """Give notes their place with the valve, by clicks as a teacher does; how many."""
    done = 0
    for note in range(SEEN):
        part = open_part(studio, stand_id)
        now = part.routed.places.get(note)
        others = part.routed.setup.book.places(part.routed.pitches[note].midi)
        others = [place for place in others if place.valves and place.position < 5.5]
        if now is None or now.valves or not others:
            continue
        pick(page, note)
        other = others[0]
        buttons = page.locator(f"#note .other[data-partial='{other.partial}']")
        for k in range(buttons.count()):
            if json.loads(buttons.nth(k).get_attribute("data-valves")) == list(other.valves):
                buttons.nth(k).click()
                break
        page.wait_for_selector("#note [data-act=unlock]")
        done += 1
        if done == CHANGED:
            break
    return done


def test_from_yes_to_a_new_part(studio, browser, monkeypatch):
    monkeypatch.setattr(background, "QUIET_S", 0.1)
    stand_id = stand_of(studio, profile="by-horn")
    with serving(studio) as address, visiting(browser, address) as page:
        page.goto("/parts")
        page.get_by_role("link", name="What it learnt from you").click()
        assert consent(studio) is None and serious_findings(page) == []
        page.get_by_role("button", name="Yes, learn from my choices").click()
        page.wait_for_url("**done=yes")
        assert consent(studio) is True

        open_stand_page(page, stand_id)
        assert choose_with_valve(page, studio, stand_id) == CHANGED
        pick(page, SEEN)
        page.locator("#note [data-act=seen]").focus()
        page.keyboard.press("Enter")
        wait_said(page, "Looked at up to here")
        page.wait_for_selector(".looked-to", state="attached")
        page.locator("#undo").click()
        page.wait_for_selector(".looked-to", state="detached")
        page.locator("#redo").click()
        page.wait_for_selector(".looked-to", state="attached")
        assert open_part(studio, stand_id).seen_to == SEEN
        marks = marks_shown(page)

        page.goto("/learning")
        page.wait_for_selector("#noticed .noticed", timeout=120_000)
        told = page.locator("#main").inner_text()
        assert f"{CHANGED} changed notes" in told and "New parts are marked with it." in told
        assert serious_findings(page) == []
        learnt = in_force(studio)
        page.get_by_role("button", name="Undo").click()
        page.wait_for_url("**done=undone")
        assert in_force(studio) is None
        page.get_by_role("button", name="Redo").click()
        page.wait_for_url("**done=redone")
        assert in_force(studio) == learnt

        # A part that is marked already stays as it is; a new one is marked as the teacher chooses.
        assert marks_of(studio, stand_id) == marks
        enrol(studio, StudentValues("Ben Orr", profile="by-horn"), "tenor-f")
        page.goto("/parts/1")
        page.get_by_label("Ben Orr").check()
        page.get_by_role("button", name="Put on the stand").click()
        more(page)
        page.wait_for_selector("text=Marked as you choose.")
        page.get_by_role("link", name="With and without what it learnt").click()
        page.wait_for_selector("#score svg .differs", state="attached")
        assert page.locator("#score .differs").count() == page.locator(".jump").count() > 0
        assert serious_findings(page) == []

        open_stand_page(page, stand_id)
        more(page)
        page.get_by_role("button", name="Mark it as you choose by now").click()
        page.wait_for_selector("text=Marked as you choose.", state="attached")
        assert open_part(studio, stand_id).stand.learnt_id == learnt.id
