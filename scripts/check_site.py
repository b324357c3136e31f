"""Whether the pages that `make docs` has built ask nobody else, and lead nowhere that isn't there.

Run with the folder of the pages; every fault is a line, and the exit code is then 1.
"""

import re
import sys
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

_LOADING_LINKS = {"stylesheet", "icon", "preload", "modulepreload", "manifest", "preconnect"}
_CSS = re.compile(r"""(?:url\(|@import)\s*["']?((?:https?:)?//[^"')\s]+)""")


class _Page(HTMLParser):
    """What a page fetches by itself, where it leads, and what can be led to in it."""

    def __init__(self) -> None:
        super().__init__()
        self.fetched: list[str] = []
        self.links: list[str] = []
        self.names: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {key: value or "" for key, value in attrs}
        self.names.add(given.get("id", ""))
        for key in ("src", "srcset", "poster"):
            self.fetched += [one.split()[0] for one in given.get(key, "").split(",") if one.strip()]
        if tag == "link" and _LOADING_LINKS & set(given.get("rel", "").split()):
            self.fetched.append(given.get("href", ""))
        elif tag == "a" and "href" in given:
            self.links.append(given["href"])
        self.fetched += _CSS.findall(given.get("style", ""))


def faults(site: Path) -> list[str]:
    """All faults of a built site, each a line with its page."""
    pages: dict[Path, _Page] = {}
    found = []
    for path in sorted(site.rglob("*.html")):
        pages[path] = _Page()
        pages[path].feed(path.read_text(encoding="utf-8"))
    for path, page in pages.items():
        name = path.relative_to(site)
        found += [f"{name}: fetches {one}" for one in page.fetched if _elsewhere(one)]
        for one in page.links + [one for one in page.fetched if not _elsewhere(one)]:
            if not _elsewhere(one) and not _there(path, one, pages):
                found.append(f"{name}: leads to {one}, which isn't there")
    for path in sorted(site.rglob("*.css")):
        for one in _CSS.findall(path.read_text(encoding="utf-8")):
            found.append(f"{path.relative_to(site)}: fetches {one}")
    return found


def _elsewhere(address: str) -> bool:
    split = urlsplit(address)
    return bool(split.netloc) or split.scheme not in ("", "data")


def _there(path: Path, address: str, pages: dict[Path, _Page]) -> bool:
    split = urlsplit(address)
    if split.scheme == "data":
        return True
    target = path if not split.path else (path.parent / unquote(split.path)).resolve()
    if target in pages:
        return split.fragment in ("", *pages[target].names) or target.name == "search.html"
    return target.is_file()


if __name__ == "__main__":
    told = faults(Path(sys.argv[1]).resolve())
    for fault in told:
        print(fault)
    raise SystemExit(1 if told else 0)
