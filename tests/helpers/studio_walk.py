"""All pages of a studio, found by their links."""

import random
import re
from collections import Counter
from html import unescape
from urllib.parse import parse_qs, urldefrag, urlsplit

import sampling
from studio_pages import words

MOST_PAGES = 800
# What is fetched, not looked at; each has its own tests.
FILES = re.compile(
    r"\.(pdf|svg|png|musicxml|mxl|csv|js|css|ttf|wav|flac|ogg|mp3|vtt)$|/(audio|file|score|pdf)$"
)
# What takes long to make, and is the same whosever it is: a sheet, a picture of one, a sound.
COSTLY = re.compile(r"/practice/\d+/(drill|lesson|move|drone|own/new)(/preview)?$")
# Of a costly page so many that differ in their kind; in `make sweep`, all.
_MOST_KINDS = 5


def links(text):
    """All own addresses that a page leads to or loads by itself."""
    found = re.findall(r'(?:href|hx-get|data-href)="([^"]+)"', text)
    return [urldefrag(unescape(url))[0] for url in found if not url.startswith(("#", "data:"))]


def _kind(url):
    return re.sub(r"\d+", "N", urlsplit(url).path)


def _sort(url):
    """What costly pages have in common of which one is enough; in `make sweep`, none."""
    if sampling.ALL:
        return re.sub(r"\d+", "N", url)
    return _kind(url), *parse_qs(urlsplit(url).query).get("kind", ())


def walk(home, start="/", each=MOST_PAGES):
    """All pages that can be reached, by their address; ``each``: so many of one kind.

    Of costly ones of a sort a seeded choice is looked at, when nothing else is left to do.
    """
    todo, later, seen, sorts, kinds = [(start, "")], [], {}, set(), Counter()
    rng = random.Random(8471)
    while (todo or later) and len(seen) < MOST_PAGES:
        costly = not todo
        url, origin = later.pop(rng.randrange(len(later))) if costly else todo.pop(0)
        path = urlsplit(url).path
        if not url or url in seen or FILES.search(path):
            continue
        if COSTLY.search(path):
            if not costly:
                later.append((url, origin))
                continue
            if _sort(url) in sorts:
                continue
            if not sampling.ALL and kinds[_kind(url)] >= _MOST_KINDS:
                continue
            sorts.add(_sort(url))
        if kinds[_kind(url)] >= each:
            continue
        kinds[_kind(url)] += 1
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
