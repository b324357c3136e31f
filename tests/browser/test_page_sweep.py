"""The sweep over all pages sees what it is for: an invented page does it all wrong, then right."""

import pytest
from page_sweep import unfair

pytestmark = pytest.mark.browser

WRONG = """<style>
  body { background: #fff; }
  .sign { width: 20px; height: 20px; background: #0a0; }
  .dot::before { content: ""; display: block; width: 9px; height: 9px; background: #a00; }
  .press { cursor: pointer; }
  .flat:focus { outline: none; }
  .slow { transition: color 1s; }
  .wide { width: 330px; }
</style>
<p class="sign"></p> <p class="dot">dot</p> <p class="press">press</p>
<button class="flat">flat</button> <p class="slow wide">slow</p>"""
RIGHT = """<style>
  .sign, .dot::before { border: 1px solid; }
  .flat:focus-visible { outline: 3px solid; }
  @media (prefers-reduced-motion: reduce) { .slow { transition: none; } }
  .wide { width: auto; }
  .press { cursor: auto; }
</style>"""


def test_it_sees_each_fault_and_nothing_where_there_is_none(browser):
    page = browser.new_page(viewport={"width": 800, "height": 600})
    page.set_content(WRONG)
    found = unfair(page)
    assert [what for what, _ in found] == [
        "moves",
        "by mouse alone",
        "focus isn't seen",
        "gone in forced colours",
        "gone in forced colours",
        "beyond the window",
    ]
    page.emulate_media(reduced_motion="no-preference")
    page.set_content(WRONG + RIGHT)
    assert unfair(page) == []
    page.close()
