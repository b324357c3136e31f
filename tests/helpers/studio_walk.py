"""All pages of a studio, found by their links."""

import re
from collections import Counter
from html import unescape
from urllib.parse import urldefrag, urlsplit

from studio_pages import words

MOST_PAGES = 800
# What is fetched, not looked at; each has its own tests.
FILES = re.compile(
    r"\.(pdf|svg|png|musicxml|mxl|csv|js|css|ttf|wav|flac|ogg|mp3)$|/(audio|file|score|pdf)$"
)
# Pages with a sheet that takes long to engrave: one of each kind, whosever it is.
SHEETS = re.compile(r"/practice/\d+/(drill|lesson|move)$")


def links(text):
    """All own addresses that a page leads to or loads by itself."""
    found = re.findall(r'(?:href|hx-get|data-href)="([^"]+)"', text)
    return [urldefrag(unescape(url))[0] for url in found if not url.startswith(("#", "data:"))]


def _kind(url):
    return re.sub(r"\d+", "N", urlsplit(url).path)


def walk(home, start="/", each=MOST_PAGES):
    """All pages that can be reached, by their address; ``each``: so many of one kind."""
    todo, seen, sheets, kinds = [(start, "")], {}, set(), Counter()
    while todo and len(seen) < MOST_PAGES:
        url, origin = todo.pop(0)
        path = urlsplit(url).path
        if not url or url in seen or FILES.search(path):
            continue
        kinds[_kind(url)] += 1
        if kinds[_kind(url)] > each:
            continue
        if SHEETS.search(path):
            kind = re.sub(r"\d+", "N", url)
            if kind in sheets:
                continue
            sheets.add(kind)
        assert url.startswith("/") and not url.startswith("//"), (origin, url)
        answer = seen[url] = home.get(url)
        if answer.status_code == 303:
            todo.append((answer.headers["Location"], url))
            continue
        if answer.status_code == 204 and "/state?" in url:  # it stands there already
            continue
        assert answer.status_code == 200, (origin, url, answer.status_code, words(answer)[-300:])
        if answer.headers["Content-Type"].startswith("text/html"):
            todo += [(link, url) for link in links(answer.text)]
    assert len(seen) < MOST_PAGES, "the walk ended before it had seen all pages"
    return {
        url: answer
        for url, answer in seen.items()
        if answer.headers.get("Content-Type", "").startswith("text/html")
    }


def whole_pages(found):
    return {url: a.text for url, a in found.items() if "<!doctype html>" in a.text[:200].lower()}
