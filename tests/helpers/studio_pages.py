"""The studio's pages, asked for within this process with the headers that a browser sends."""

import json
import re
from html import unescape

import pytest
from starlette.testclient import TestClient

from handslide.faces.web.app import create_app
from handslide.faces.web.pages import sayers, templates
from handslide.studio.studio import open_studio
from handslide.words.speech import speech

PORT = 8471
BASE = f"http://127.0.0.1:{PORT}"


class Browser(TestClient):
    """A client whose live connections too go to the address that its pages came from."""

    def websocket_connect(self, url, *args, **kwargs):
        return super().websocket_connect(BASE.replace("http", "ws") + url, *args, **kwargs)


def browse(app, **headers):
    """A client of ``app`` on its own machine; redirects are not followed. None: no such header."""
    sent = {"Origin": BASE, "Sec-Fetch-Site": "same-origin", "Accept": "text/html", **headers}
    sent = {name: value for name, value in sent.items() if value is not None}
    here = ("127.0.0.1", 50_000)
    return Browser(app, base_url=BASE, headers=sent, follow_redirects=False, client=here)


def client(studio, rules=None, **headers):
    """A client of the studio's pages on its own machine; redirects are not followed.

    ``rules`` are those of the guard. An unforeseen error is a page of status 500, as for a person,
    and its traceback is in the captured log.
    """
    return browse(create_app(studio, rules), **headers)


@pytest.fixture
def studio(tmp_path):
    """An empty studio."""
    made = open_studio(tmp_path / "studio")
    yield made
    made.close()


@pytest.fixture
def example(tmp_path):
    """A studio with the invented example in it."""
    from handslide.studio.care import example as job

    made = open_studio(tmp_path / "example")
    job.add_example(made)
    yield made
    made.close()


def script_texts(template, code="en"):
    """The texts that a template hands to a script, by their keys there."""
    say = speech(code)
    text = templates().get_template(template).render(say=say, **sayers(say))
    found = re.search(r'(?s)<script type="application/json"[^>]*>(.*?)</script>', text)
    texts = json.loads(found[1])
    return texts


def words(answer):
    """The visible text of a page: tags out, entities read, spaces joined."""
    text = re.sub(r"(?s)<(script|style|head)\b.*?</\1>", " ", answer.text)
    return re.sub(r"[ \t\r\n]+", " ", unescape(re.sub(r"<[^>]+>", " ", text))).strip()
