"""Changed functions put into modules that are already imported: what `make mutants` builds on."""

import importlib
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "scripts"))
from codeswap import swap

BEFORE = """
from functools import cache

FLAT_CENTS = -14

def near(cents):
    return abs(cents - FLAT_CENTS) < 5

@cache
def octaves(notes):
    return sum(note // 12 for note in notes)

class Slide:
    reach = 7

    @property
    def last(self):
        return self.reach - 1
"""


@pytest.fixture
def slide(tmp_path, monkeypatch):
    (tmp_path / "a_slide_of_tests.py").write_text(BEFORE, encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    yield importlib.import_module("a_slide_of_tests")
    del sys.modules["a_slide_of_tests"]


@pytest.mark.parametrize(
    ("old", "new", "asked", "was", "becomes"),
    [
        ("< 5", "> 5", lambda module: module.near(-14), True, False),
        ("note // 12", "note * 12", lambda module: module.octaves((24, 13)), 3, 444),
        ("reach - 1", "reach + 1", lambda module: module.Slide().last, 6, 8),
    ],
)
def test_who_holds_the_function_gets_the_change(slide, old, new, asked, was, becomes):
    held = slide.near
    assert asked(slide) == was
    slide.octaves.cache_clear()
    assert swap("a_slide_of_tests", BEFORE, BEFORE.replace(old, new))
    assert asked(slide) == becomes and slide.near is held


@pytest.mark.parametrize(
    ("old", "new"),
    [("-14", "-13"), ("reach = 7", "reach = 8"), ("@cache\n", "\n"), ("def near(", "def far(")],
)
def test_what_is_done_on_import_is_left_alone(slide, old, new):
    assert not swap("a_slide_of_tests", BEFORE, BEFORE.replace(old, new))
    assert slide.FLAT_CENTS == -14 and slide.near(-14) and slide.Slide.reach == 7


def test_without_a_change_nothing_is_swapped(slide):
    assert not swap("a_slide_of_tests", BEFORE, BEFORE)
