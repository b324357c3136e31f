"""The words of the pages: all keys that are used are there, in all languages, and no others."""

import ast
import re
import string
from functools import cache
from importlib import resources
from pathlib import Path

import pytest
from jinja2 import nodes

from handslide.faces.web.pages import templates
from handslide.faces.web.texts import LANGUAGES, Texts, catalogue

WEB = Path(str(resources.files("handslide.faces.web")))
TEMPLATES = sorted(p.relative_to(WEB / "templates").as_posix() for p in WEB.rglob("*.html"))
SCRIPTS = "\n".join(p.read_text(encoding="utf-8") for p in (WEB / "static").glob("*.js"))
ENGLISH = catalogue("en")
OTHERS = [language for language in LANGUAGES if language != "en"]
# Signs and names that are the same in all languages.
SAME = {
    "ct",
    "Hz",
    "kHz",
    "cm",
    "dB",
    "mm",
    "MB",
    "GB",
    "kB",
    "PDF",
    "SVG",
    "PNG",
    "WAV",
    "CSV",
    "Esc",
}
HAND_OVER = "below"


@cache
def source(name):
    return (WEB / "templates" / name).read_text(encoding="utf-8")


@cache
def tree(name):
    return templates().parse(source(name))


def beginning(node):
    """The constant that an expression begins with, and whether it is all of it."""
    if isinstance(node, nodes.Const) and isinstance(node.value, str):
        return [(node.value, True)]
    if isinstance(node, nodes.CondExpr):
        return beginning(node.expr1) + (beginning(node.expr2) if node.expr2 else [])
    if isinstance(node, nodes.Concat):
        return [(text, False) for text, _ in beginning(node.nodes[0])]
    if isinstance(node, nodes.Add | nodes.Mod):
        return [(text, False) for text, _ in beginning(node.left)]
    return []


def calls(name):
    """(method or "", key or its beginning, whole key, names of the values) of all texts asked."""
    found = []
    for call in tree(name).find_all(nodes.Call):
        target, method = call.node, ""
        if isinstance(target, nodes.Getattr):
            target, method = target.node, target.attr
        if not (isinstance(target, nodes.Name) and target.name == "t" and call.args):
            continue
        if method in ("number", "day"):
            continue
        values = {each.key for each in call.kwargs}
        for key, whole in beginning(call.args[0]):
            found.append((method, key, whole, None if call.dyn_kwargs else values))
    return found


def literals():
    """All strings of the face's modules, and the beginnings of those put together."""
    whole, begun = set(), set()
    for path in WEB.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                whole.add(node.value)
            if isinstance(node, ast.JoinedStr) and isinstance(node.values[0], ast.Constant):
                begun.add(node.values[0].value)
    for name in TEMPLATES:
        whole |= {each.value for each in tree(name).find_all(nodes.Const) if each.value}
    return {text for text in whole if isinstance(text, str)}, {b for b in begun if "." in b}


def fields(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def test_there_is_something_to_look_at():
    assert len(TEMPLATES) > 3
    assert sum(len(calls(name)) for name in TEMPLATES) > 20
    assert len(ENGLISH) > 30


@pytest.mark.parametrize("name", TEMPLATES)
def test_every_key_of_a_template_is_there_with_its_values(name):
    wrong = []
    for method, key, whole, values in calls(name):
        if method == HAND_OVER or not whole:
            if not any(each.startswith(key) for each in ENGLISH):
                wrong.append(f"nothing begins with {key}")
            continue
        if method == "get":
            continue
        counted = values is not None and "count" in values
        for each in (f"{key}.one", f"{key}.other") if counted else (key,):
            if each not in ENGLISH:
                wrong.append(f"no {each}")
            elif values is not None and not fields(ENGLISH[each]) <= values:
                wrong.append(f"{each} gets no {fields(ENGLISH[each]) - values}")
    assert wrong == []


@pytest.mark.parametrize("language", OTHERS)
def test_each_language_has_the_same_keys_and_placeholders(language):
    own = catalogue(language)
    assert set(own) == set(ENGLISH)
    differing = [key for key in own if fields(own[key]) != fields(ENGLISH[key])]
    # "One note" may leave its number out.
    assert [key for key in differing if not key.endswith(".one")] == []
    assert [key for key in own if fields(own[key]) - fields(ENGLISH[key]) - {"count"}] == []
    assert [key for key, text in own.items() if not text.strip() and ENGLISH[key].strip()] == []


@pytest.mark.parametrize("language", OTHERS)
def test_each_language_is_really_one(language):
    own = catalogue(language)
    bare = {key: re.sub(r"\{\w*\}", " ", text) for key, text in ENGLISH.items()}
    long = [key for key, text in bare.items() if len(re.findall(r"[^\W\d_]{3,}", text)) > 3]
    assert [key for key in long if own.get(key) == ENGLISH[key]] == []


def test_nobody_is_addressed_as_a_child():
    german = re.compile(r"\b(du|dein\w*|dich|dir)\b", re.IGNORECASE)
    spanish = re.compile(r"\b(tú|tus?|te|ti|haz)\b", re.IGNORECASE)
    assert [key for key, text in catalogue("de").items() if german.search(text)] == []
    assert [key for key, text in catalogue("es").items() if spanish.search(text)] == []


def test_no_text_is_left_over():
    whole, begun = literals()
    handed = {key for name in TEMPLATES for method, key, _, _ in calls(name) if method == HAND_OVER}
    begun |= {key for name in TEMPLATES for _, key, all_of, _ in calls(name) if not all_of}
    left = []
    for key in ENGLISH:
        bare = key.removesuffix(".one").removesuffix(".other")
        by_script = any(key.startswith(prefix + ".") for prefix in handed)
        if by_script:
            rest = next(bare[len(p) + 1 :] for p in handed if key.startswith(p + "."))
            names = {rest.rpartition(".")[2], rest.partition(".")[0], rest.rstrip("0123456789")}
            if not any(name in SCRIPTS for name in names):
                left.append(key)
        elif not ({key, bare} & whole or any(key.startswith(prefix) for prefix in begun)):
            left.append(key)
    assert left == []


def bare_words(text):
    """Words between the tags, and in the attributes that are shown or read out."""
    text = re.sub(r"\{% block main_class %\}[\w -]*", "", text)
    text = re.sub(r"(?s)\{#.*?#\}|\{%.*?%\}", "", text)
    text = re.sub(r"(?s)\{\{.*?\}\}", "§", text)
    text = re.sub(r"(?s)<(script|style|svg)\b.*?</\1>|<!--.*?-->|<!doctype[^>]*>", "", text)
    shown = re.findall(r'\b(?:aria-label|title|placeholder|alt|label)="([^"]*)"', text)
    shown.append(re.sub(r"(?s)<[^>]*>", " ", text))
    found = re.findall(r"(?<![&\w])[^\W\d_]{2,}", " ".join(shown))
    return [word for word in found if word not in SAME]


def test_bare_words_are_found():
    assert bare_words('<p>{{ t("x.y") }} mm <b title="{{ t("a") }}">§</b>&nbsp;</p>') == []
    assert bare_words("<p>Save {% if a > b %}it{% endif %}</p>") == ["Save", "it"]
    assert bare_words('<input placeholder="Name" type="text">') == ["Name"]


@pytest.mark.parametrize("name", TEMPLATES)
def test_no_words_stand_in_a_template(name):
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
            assert 'src="/static/' in attributes
            assert body.strip() == ""
    assert re.findall(r"(?:src|href|action)=\"(?:https?:)?//", text) == []


def test_numbers_are_written_as_in_the_language():
    assert Texts("en").number(-2.5, 1) == "−2.5"
    assert Texts("de").number(-2.5, 1) == "−2,5"
    assert Texts("es").number(-0.04, 1) == "0,0"
