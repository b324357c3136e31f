"""The studio's pages, asked for within this process with the headers that a browser sends."""

import re
from html import unescape

import pytest
from starlette.testclient import TestClient

from handslide.faces.web.app import create_app
from handslide.jobs.studio import open_studio

PORT = 8471
BASE = f"http://127.0.0.1:{PORT}"


def client(studio, **headers):
    """A client of the studio's pages on its own machine; redirects are not followed.

    An error that no page should have is raised into the test.
    """
    browser = {"Origin": BASE, "Sec-Fetch-Site": "same-origin", "Accept": "text/html", **headers}
    return TestClient(create_app(studio), base_url=BASE, headers=browser, follow_redirects=False)


@pytest.fixture
def studio(tmp_path):
    """An empty studio."""
    made = open_studio(tmp_path / "studio")
    yield made
    made.close()


@pytest.fixture
def example(tmp_path):
    """A studio with the invented example in it."""
    from handslide.jobs import example as job

    made = open_studio(tmp_path / "example")
    job.add_example(made)
    yield made
    made.close()


def words(answer):
    """The visible text of a page: tags out, entities read, spaces joined."""
    text = re.sub(r"(?s)<(script|style|head)\b.*?</\1>", " ", answer.text)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())
