"""Nonsense typed into every form: it is refused in words, in the user's own numbers and units."""

import re
from itertools import count
from urllib.parse import urlsplit

import pytest
from lxml import html
from sampling import ALL
from shares import share_of
from studio_pages import client
from studio_walk import walk, whole_pages

# What may not be sent here: it would take away what the next form needs.
DESTROYS = re.compile(r"delete|remove|/off|archive|restore|/main$|example|forget|reset|/send/")
NONSENSE = ("1e9", "-1e-9", "abc")
TYPED = ".//input[not(@type) or @type='text' or @type='number']|.//textarea"


def forms(web):
    """(page, form) of every kind of page and form."""
    seen = set()
    for url, text in sorted(whole_pages(walk(web, each=3 if ALL else 2)).items()):
        for form in html.fromstring(text).xpath("//main//form"):
            action = urlsplit(form.get("action") or url).path
            kind = re.sub(r"\d+", "N", action)
            if kind in seen or form.get("method") == "dialog" or DESTROYS.search(action):
                continue
            seen.add(kind)
            yield action, form


def filled(form):
    """What a browser would send of a form, by name; files are left out."""
    values = {}
    for field in form.xpath(".//input|.//select|.//textarea"):
        kind, name = field.get("type"), field.get("name")
        if not name or kind in ("file", "submit"):
            continue
        if kind in ("checkbox", "radio") and field.get("checked") is None:
            continue
        chosen = field.xpath(".//option[@selected]/@value") or field.xpath(".//option/@value")
        value = chosen[0] if chosen else field.get("value", field.text or "")
        values.setdefault(name, []).append(value)
    return values


def refusals(web):
    """(where, what was typed, what is said) of every refusal."""
    turn = count()
    for action, form in forms(web):
        usual = filled(form)
        for field in form.xpath(TYPED):
            for nonsense in share_of(NONSENSE, next(turn), len(NONSENSE)):
                sent = {**usual, field.get("name"): nonsense}
                if (form.get("method") or "get").lower() == "post":
                    answer = web.post(action, data=sent)
                else:
                    answer = web.get(form.get("hx-get") or action, params=sent)
                assert answer.status_code < 500, (action, field.get("name"), nonsense)
                if "html" not in answer.headers.get("content-type", ""):
                    continue
                page = html.fromstring(answer.text or "<p/>")
                for said in page.xpath("//*[contains(@class, 'notice bad')]"):
                    words = " ".join(said.text_content().split())
                    yield f"{action} {field.get('name')}", nonsense, words


@pytest.mark.sample
@pytest.mark.slow
def test_what_is_refused_is_said_in_the_users_numbers_and_units(example):
    found = list(refusals(client(example)))
    assert len({where for where, _, _ in found}) > 12
    # As a program writes a number, or calls a value.
    programs = re.compile(r"\de[+−-]?\d|\b\w+_(?:mm|hz|c|cents|m)\b")
    wrong = [
        (where, said)
        for where, typed, said in found
        if programs.search(said.replace(f"'{typed}'", "").replace(f"{typed} Hz", ""))
    ]
    assert wrong == []
