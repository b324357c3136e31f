"""Files that take their time: every page that leads to one shows how far it is."""

import json
import re
from html import unescape

import pytest
from studio_colours import STATIC
from studio_pages import client

TEMPLATES = STATIC.parent / "templates"
LINES = {"Accept": "application/x-ndjson, application/json"}


def test_no_link_to_a_pdf_opens_an_empty_tab():
    tags = [
        (path.name, tag)
        for path in sorted(TEMPLATES.rglob("*.html"))
        for tag in re.findall(r"<a\s[^>]*>", path.read_text(encoding="utf-8"))
        if re.search(r'href="[^"]*(\.pdf|/pdf)', tag)
    ]
    assert len(tags) > 5
    assert [one for one in tags if "data-making" not in one[1]] == []


@pytest.mark.parametrize("url", ["/takes/1.pdf", "/progress/1.pdf"])
def test_it_is_told_as_it_is_made_and_comes_then(example, url):
    pages = client(example)
    told = [json.loads(line) for line in pages.get(url, headers=LINES).text.splitlines()]
    made = pages.get(f"{url}?made={told[-1]['made']}")
    assert unescape(told[-1]["ready"]) == "The PDF is ready."
    assert made.headers["content-type"] == "application/pdf" and made.content[:4] == b"%PDF"
    assert pages.get(url).content[:4] == b"%PDF"
