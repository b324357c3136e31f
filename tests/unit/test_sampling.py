"""Which cases of a test with many the suite runs."""

from itertools import product
from pathlib import Path

import pytest
import sampling
from sampling import chosen

pytest_plugins = ["pytester"]


def test_of_one_parameter_a_third_is_kept():
    cases = [{"path": str(number)} for number in range(28)]
    kept = chosen(cases, "one")
    assert len(kept) == 10 == len(set(kept))
    assert kept == chosen(cases, "one") != chosen(cases, "another")


@pytest.mark.parametrize("sizes", [(3, 11), (6, 11), (9, 12), (2, 2, 7), (1, 4)])
def test_each_value_of_several_is_met(sizes):
    names = "abc"[: len(sizes)]
    cases = [dict(zip(names, map(str, one))) for one in product(*map(range, sizes))]
    kept = chosen(cases, "several")
    assert {value for at in kept for value in cases[at].items()} == {
        value for case in cases for value in case.items()
    }
    assert len(cases) / 4 <= len(kept) <= max(sum(sizes), len(cases) / 4 + 1)
    assert len(kept) == len(set(kept))


MANY = """
import pytest

@pytest.mark.sample
@pytest.mark.parametrize("a", range(4))
@pytest.mark.parametrize("b", [object(), None])
def test_many(a, b):
    pass

@pytest.mark.parametrize("a", range(5))
def test_all(a):
    pass
"""


@pytest.mark.parametrize(
    ("words", "whole", "count"),
    [
        ((), "", 9),
        ((), "1", 13),
        (("-k", "many"), "", 8),
        (("test_it.py::test_many",), "", 8),
        (("-n2",), "", 9),
    ],
)
def test_who_names_a_test_or_sweeps_gets_all_cases(pytester, monkeypatch, words, whole, count):
    monkeypatch.setenv("HANDSLIDE_SWEEP_CASES", whole)
    monkeypatch.setattr(sampling, "ALL", bool(whole))
    # A process of its own where what it begins with is looked at: workers, or the environment.
    alone = whole or "-n2" in words
    helpers = Path(sampling.__file__).parent
    pytester.makeini(f"[pytest]\nmarkers = sample: some\npythonpath = {helpers}\n")
    pytester.makepyfile(test_it=MANY)
    pytester.makeconftest("from sampling import pytest_collection_modifyitems\n")
    run = pytester.runpytest_subprocess if alone else pytester.runpytest_inprocess
    run(*words).assert_outcomes(passed=count)
