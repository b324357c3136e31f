"""Sentences stand in ``words``, in templates and in ``--help``, nowhere else.

What looks like a sentence: a string of the code, not a docstring, with two words in a row.
"""

import ast
import re
from pathlib import Path

from source_trees import walked

import handslide

ROOT = Path(handslide.__file__).parent
# What studios of form 1 kept: its sentences, as they were, for the migration alone.
_OLD = {"edges/store/oldsentences.py", "edges/store/oldreports.py", "edges/store/oldhorns.py"}
MODULES = sorted(
    path
    for path in ROOT.rglob("*.py")
    if path.relative_to(ROOT).parts[0] != "words" and path.relative_to(ROOT).as_posix() not in _OLD
)
# Not for people: values of formats and protocols, and what is said to programs.
_DATA = (
    "minor third", "major third", "mark second", "furthest position", "note names",
    "Excessive depth", "Premature end", "EndTag", "forward hook", "backward hook", "<svg ",
    "<text ", "<rect ", '="', "Basic realm", "-src '", "form-action", "frame-ancestors", "base-uri",
    "handslide studio", "import sys", "exec(eval", "exit code", "use strict",
    " tempo dir ", "contains(' ",
)  # fmt: skip
_WORDS = re.compile(r"[a-zäöüß']{2,} [a-zäöüß'(]{1,}")
# Arguments that are shown by --help, or read by nobody but a programmer.
_HELP = {"help", "metavar", "short_help", "epilog"}
_PROGRAMMERS = {"exception", "warning", "error", "info", "debug", "AssertionError", "TypeError",
                "ValueError", "KeyError", "RuntimeError", "AttributeError",
                "getLogger"}  # fmt: skip
_PATHS = {"finder", "XPath"}
# SQL stands in the store alone, which another test looks after.
_SQL = re.compile(r"\s*(--|SELECT|INSERT|UPDATE|DELETE|PRAGMA|CREATE|DROP|ALTER|ATTACH|DETACH|"
                  r"BEGIN|COMMIT|ROLLBACK|SAVEPOINT|RELEASE|VACUUM|ON CONFLICT|WHERE|FROM|JOIN|"
                  r"AND |ORDER|GROUP|LEFT|VALUES)")  # fmt: skip


def sentences(tree):
    """(line, text) of all strings that look like sentences."""
    skipped, nodes = set(), walked(tree)
    for node in nodes:
        body = getattr(node, "body", None)
        if isinstance(body, list):  # docstrings, of attributes too
            skipped |= {
                id(each.value)
                for each in body
                if isinstance(each, ast.Expr) and isinstance(each.value, ast.Constant)
            }
        if isinstance(node, ast.Call):
            called = getattr(node.func, "id", getattr(node.func, "attr", ""))
            for keyword in node.keywords:
                if keyword.arg in _HELP:
                    skipped |= set(map(id, walked(keyword.value)))
            if called in _PROGRAMMERS | _PATHS:
                skipped |= {id(part) for arg in node.args for part in walked(arg)}
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "").endswith("_HELP"):
            skipped |= set(map(id, walked(node.value)))
        if isinstance(node, ast.Assert) and node.msg is not None:
            skipped |= set(map(id, walked(node.msg)))
    for node in nodes:
        if not (isinstance(node, ast.Constant) and isinstance(node.value, str)):
            continue
        if id(node) in skipped or not _WORDS.search(node.value) or _SQL.match(node.value):
            continue
        if any(data in node.value for data in _DATA):
            continue
        yield node.lineno, " ".join(node.value.split())


def test_sentences_are_seen():
    code = '''
"""A docstring of the module."""
X = "not a sentence"
def f(n):
    """A docstring of a function."""
    raise BadData(f"no horn called {n}")
Y = option(help="shown by help only")
Z = ("two_words", "key.of_a_fact", "SELECT a FROM b")
'''
    found = [text for _, text in sentences(ast.parse(code))]
    assert found == ["not a sentence", "no horn called"]


def test_no_sentence_outside_of_words():
    found = [
        f"{path.relative_to(ROOT)}:{line}: {text}"
        for path in MODULES
        for line, text in sentences(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert len(MODULES) > 300
    assert found == []
