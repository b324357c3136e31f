"""The templates of the pages: their texts can be translated, nothing else is said in them."""

import re
import string
from functools import cache
from importlib import resources
from pathlib import Path

import pytest
from jinja2 import nodes
from starlette.testclient import TestClient

from handslide.faces.web.app import create_app
from handslide.faces.web.pages import compile_ahead, sayers, templates
from handslide.studio.parts.stand import list_stands
from handslide.words.names import names
from handslide.words.speech import speech

WEB = Path(str(resources.files("handslide.faces.web")))
TEMPLATES = sorted(
    p.relative_to(WEB / "templates").as_posix()
    for p in (WEB / "templates").rglob("*")
    if p.suffix in (".html", ".svg")
)
SCRIPTS = "\n".join(
    p.read_text(encoding="utf-8")
    for folder in (WEB / "static", WEB.parents[1] / "data" / "scripts")
    for p in folder.glob("*.js")
)
# What says a text, and how many of its arguments are texts or a context.
SAYERS = {"_": 1, "n_": 2, "p_": 2, "np_": 3}
# Signs and names that are the same in all languages.
SAME = {
    "handslide", "ct", "Hz", "kHz", "cm", "dB", "mm", "MB", "GB", "kB",
    "PDF", "SVG", "PNG", "WAV", "CSV", "Esc",
}  # fmt: skip


@cache
def source(name):
    return (WEB / "templates" / name).read_text(encoding="utf-8")


@cache
def tree(name):
    return templates().parse(source(name))


def calls(name):
    """(what says it, its texts or None for one made up, names of its values) of all texts."""
    found = []
    for call in tree(name).find_all(nodes.Call):
        if isinstance(call.node, nodes.Name) and call.node.name in SAYERS:
            texts = [each.value if isinstance(each, nodes.Const) else None for each in call.args]
            found.append((call.node.name, texts, {each.key for each in call.kwargs}))
    return found


def fields(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def test_there_is_something_to_look_at():
    assert len(TEMPLATES) > 3
    assert sum(len(calls(name)) for name in TEMPLATES) > 500


@pytest.mark.parametrize("name", TEMPLATES)
def test_every_text_stands_whole_in_its_template_and_gets_its_values(name):
    wrong = []
    for sayer, texts, values in calls(name):
        if len(texts) != SAYERS[sayer] or not all(isinstance(text, str) for text in texts):
            wrong.append((sayer, texts))
            continue
        said = texts if sayer in ("_", "n_") else texts[1:]
        asked = set().union(*(fields(text) for text in said))
        asked |= {"count"} if sayer in ("n_", "np_") else set()
        # A script fills in its texts by itself.
        if not (asked <= values or (not values and name.endswith(("texts.html", "words.html")))):
            wrong.append((said, asked - values))
    assert wrong == []


@pytest.mark.parametrize("name", TEMPLATES)
def test_every_kind_of_names_is_there(name):
    for call in tree(name).find_all(nodes.Call):
        target = call.node
        if isinstance(target, nodes.Getattr) and target.attr == "named":
            assert call.args[0].value in names()


def script_texts():
    """(template, key) of all texts that are handed to a script."""
    for name in TEMPLATES:
        for filtered in tree(name).find_all(nodes.Filter):
            if filtered.name == "tojson" and isinstance(filtered.node, nodes.Dict):
                for pair in filtered.node.items:
                    yield name, pair.key.value


def test_no_text_of_a_script_is_left_over():
    found = list(script_texts())
    assert len(found) > 30
    left = []
    for name, key in found:
        parts = {key.rpartition(".")[2], key.partition(".")[0], key.rstrip("0123456789")}
        if not any(part in SCRIPTS for part in parts):
            left.append((name, key))
    assert left == []


def test_every_name_is_used():
    said = "\n".join(source(name) for name in TEMPLATES)
    said += "\n".join(path.read_text(encoding="utf-8") for path in WEB.parents[1].rglob("*.py"))
    assert [each for each in names() if not re.search(rf"named\(\s*[\"']{each}[\"']", said)] == []


def bare_words(text):
    """Words between the tags, and in the attributes that are shown or read out."""
    text = re.sub(r"\{% block (?:main|body)_class %\}[\w -]*", "", text)
    text = re.sub(r"(?s)\{#.*?#\}|\{%.*?%\}", "", text)
    text = re.sub(r"(?s)\{\{.*?\}\}", "§", text)
    text = re.sub(r"(?s)<(script|style|svg)\b.*?</\1>|<!--.*?-->|<!doctype[^>]*>", "", text)
    shown = re.findall(r'\b(?:aria-label|title|placeholder|alt|label)="([^"]*)"', text)
    shown.append(re.sub(r"(?s)<[^>]*>", " ", text))
    found = re.findall(r"(?<![&\w])[^\W\d_]{2,}", " ".join(shown))
    return [word for word in found if word not in SAME]


def test_bare_words_are_found():
    assert bare_words('<p>{{ _("X") }} mm <b title="{{ _("A") }}">§</b>&nbsp;</p>') == []
    assert bare_words("<p>Save {% if a > b %}it{% endif %}</p>") == ["Save", "it"]
    assert bare_words('<input placeholder="Name" type="text">') == ["Name"]


@pytest.mark.parametrize("name", TEMPLATES)
def test_no_words_stand_bare_in_a_template(name):
    assert bare_words(source(name)) == []


@pytest.mark.parametrize("name", TEMPLATES)
def test_nothing_is_inline_and_nothing_is_trusted_unescaped(name):
    text = source(name)
    assert re.findall(r"\sstyle=|\son[a-z]+=\"|javascript:|<style", text) == []
    scripts = re.findall(r"<script([^>]*)>([^<]*)</script>", text)
    for attributes, body in scripts:
        if 'type="application/json"' in attributes:
            assert re.fullmatch(r"\s*\{\{.*\|\s*tojson\s*\}\}\s*", body, re.S), body
        else:
            assert 'src="{{ static }}/' in attributes
            assert body.strip() == ""
    assert re.findall(r"(?:src|href|action)=\"(?:https?:)?//", text) == []


def rendered(text, code="en", **values):
    say = speech(code)
    return templates().from_string(text).render(say=say, **sayers(say), **values)


def test_a_value_is_escaped_just_once():
    assert rendered("{{ _('A horn for {name}', name=name) }}", name="<b> & Co") == (
        "A horn for &lt;b&gt; &amp; Co"
    )
    macro = "{% macro m(x) %}{{ x }}{% endmacro %}{{ _('A horn for {name}', name=m(name)) }}"
    assert rendered(macro, name="<b> & Co") == "A horn for &lt;b&gt; &amp; Co"
    assert rendered('<p title="{{ _("{name} valve", name=name) }}">', name='"F"') == (
        '<p title="&#34;F&#34; valve">'
    )


def test_texts_depend_on_their_number_and_on_their_context():
    text = "{{ n_('{count} page', '{count} pages', count=n) }}"
    assert rendered(text, n=1) == "1 page"
    assert rendered(text, n=3) == "3 pages"
    assert rendered(text, "de", n=3) == "3 Seiten"
    assert rendered("{{ np_('played', '{count} note', '{count} notes', count=2) }}", "de") == (
        "2 Töne"
    )
    assert rendered("{{ p_('button', 'Compare') }}{{ _('Compare') }}", "de") == (
        "VergleichenVergleich"
    )


def test_a_script_gets_its_placeholders():
    assert rendered("{{ {'n': _('{n} cents too high')}|tojson }}") == '{"n": "{n} cents too high"}'


def test_numbers_are_written_as_in_the_language():
    assert rendered("{{ say.number(-2.5, 1) }}") == "−2.5"
    assert rendered("{{ say.number(-2.5, 1) }}", "de") == "−2,5"
    assert rendered("{{ say.number(-0.04, 1) }}", "es") == "0,0"


def test_what_is_compiled_ahead_is_what_the_first_pages_are_made_of(example, monkeypatch):
    templates.cache_clear()  # what other tests have seen is compiled
    compile_ahead().join()
    environment = templates()
    compiled = []
    monkeypatch.setattr(
        environment, "compile", lambda *args, **options: compiled.append(args[1]) or "pass"
    )
    home = TestClient(create_app(example), base_url="http://127.0.0.1:8000")
    stand = list_stands(example)[0]
    desk = f"/students/{stand.student_id}"
    stage = f"/takes/new?student={stand.student_id}&stand={stand.id}"
    for path in ("/", "/parts", f"/parts/{stand.score_id}", f"/stands/{stand.id}", desk, stage):
        assert home.get(path).status_code == 200, path
    assert compiled == []
