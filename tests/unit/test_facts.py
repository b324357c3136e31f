"""Facts and their words: every kind that the code makes has words, with just the values it has."""

import ast
import re
import string
from functools import cache
from pathlib import Path

from source_trees import walked

import handslide
from handslide.words.messages import Message
from handslide.words.tell import TOPICS, kinds

ROOT = Path(handslide.__file__).parent
MAKERS = {"fact"}


def _errors():
    import handslide.ground.errors as errors

    return {
        name
        for name, value in vars(errors).items()
        if isinstance(value, type) and issubclass(value, errors.HandslideError)
    }


@cache
def made():
    """(file:line, kind, names of the values or None where they are passed on) of all facts."""
    found = []
    names = MAKERS | _errors()
    for path in sorted(ROOT.rglob("*.py")):
        for node in walked(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            called = getattr(node.func, "id", getattr(node.func, "attr", ""))
            first = node.args[0]
            if called not in names or not isinstance(first, ast.Constant):
                continue
            if not isinstance(first.value, str):
                continue
            keywords = {keyword.arg for keyword in node.keywords}
            values = None if None in keywords else frozenset(keywords)
            found.append((f"{path.relative_to(ROOT)}:{node.lineno}", first.value, values))
    return found


def placeholders(message):
    texts = [message.text] + ([message.plural] if message.plural else [])
    return {
        name.partition(".")[0].partition("[")[0]
        for text in texts
        for _, name, _, _ in string.Formatter().parse(text)
        if name is not None
    } | ({"count"} if message.plural else set())


def words_of(kind):
    topic = kind.partition(".")[0]
    return kinds(topic).get(kind) if topic in TOPICS else None


def test_what_is_made_has_words():
    assert len(made()) > 1000
    wrong = [(where, kind) for where, kind, _ in made() if words_of(kind) is None]
    assert wrong == [], "nobody has words for these"


def test_words_have_the_values_that_they_name():
    wrong = []
    for where, kind, values in made():
        words = words_of(kind)
        if isinstance(words, Message) and values is not None:
            wrong += [(where, kind, name) for name in sorted(placeholders(words) - values)]
    assert wrong == [], "nobody gives these values"


def test_no_words_for_what_is_never_made():
    text = "\n".join(
        path.read_text(encoding="utf-8")
        for path in ROOT.rglob("*.py")
        if "words" not in path.relative_to(ROOT).parts
    )
    quoted = set(re.findall(r'"([\w.-]+)"', text))
    assert len(TOPICS) > 20
    assert [kind for topic in TOPICS for kind in kinds(topic) if kind not in quoted] == []


def test_kinds_begin_with_their_topic():
    assert [
        kind for topic in TOPICS for kind in kinds(topic) if not kind.startswith(f"{topic}.")
    ] == []
