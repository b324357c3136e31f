"""The files of a page: kept by a browser as long as they are the same, and no longer."""

import re

import pytest
from starlette.testclient import TestClient

from handslide.faces.web.app import create_app
from handslide.faces.web.assets import base, plain, version

PAGES = ("/", "/help", "/stands/1", "/takes/new", "/no/such")
ADDRESS = re.compile(r'(?:href|src)="(/static/[^"]+)"')


@pytest.fixture
def home(example):
    return TestClient(create_app(example), base_url="http://127.0.0.1:8000")


def test_what_a_page_asks_for_is_kept_for_good(home):
    for page in PAGES:
        wanted = ADDRESS.findall(home.get(page).text)
        assert len(wanted) > 5
        for address in wanted:
            assert address.startswith(f"{base()}/"), address
            answer = home.get(address)
            assert answer.status_code == 200
            # RFC 8246: not asked about again, not even when the page is loaded anew.
            assert answer.headers["cache-control"] == "public, max-age=31536000, immutable"


def test_files_name_each_other_within_their_version(home):
    """Else a page would have a script twice, or of two versions."""
    seen, waiting = set(), [each for page in PAGES for each in ADDRESS.findall(home.get(page).text)]
    while waiting:
        address = waiting.pop()
        if address in seen:
            continue
        seen.add(address)
        answer = home.get(address)
        assert answer.status_code == 200, address
        if address.endswith((".js", ".css")) and "htmx" not in address:
            assert not re.search(r"""["'(]/(?:static|fonts)/\w+\.(?:[jt]|css|wo)""", answer.text)
            named = re.findall(r'(?:from "|import\("|url\(")\.?/?([\w-]+\.\w+)"', answer.text)
            waiting += [f"{base()}/{name}" for name in named]
    assert {"tone.js", "Hyperlegible.woff2"} <= {each.rpartition("/")[2] for each in seen}


def test_of_another_version_a_file_is_as_it_is_now_and_not_kept(home):
    for old in ("/static/style.css", "/static/v000000000000/style.css"):
        answer = home.get(old)
        assert answer.headers["cache-control"] == "no-cache"
        assert answer.content == home.get(f"{base()}/style.css").content
        again = home.get(old, headers={"If-None-Match": answer.headers["etag"]})
        assert again.status_code == 304 and again.headers["cache-control"] == "no-cache"
    for wrong in ("none.css", f"{version()}/style.css", "../pages.py", "%2e%2e/pages.py", ""):
        assert home.get(f"{base()}/{wrong}").status_code == 404


@pytest.mark.parametrize("path, found", [
    ("/static/v000000000000/a.css", "/static/a.css"), ("/static/a.css", "/static/a.css"),
    ("/stands/v000000000000/1", "/stands/v000000000000/1"),
    ("/static/v1/a.css", "/static/v1/a.css"),
])  # fmt: skip
def test_a_path_without_its_version(path, found):
    assert plain(path) == found


def test_a_version_changes_with_what_a_file_holds(tmp_path, monkeypatch):
    from handslide.faces.web import assets

    (tmp_path / "a.css").write_text("one")
    monkeypatch.setattr(assets.resources, "files", lambda package: tmp_path)
    monkeypatch.setattr(assets, "_OWN", ("x", ""))
    monkeypatch.setattr(assets, "_SHARED", ())
    names = []
    for text in ("one", "two", "one"):
        (tmp_path / "a.css").write_text(text)
        names.append(assets.version.__wrapped__())
    assert names[0] == names[2] != names[1]
