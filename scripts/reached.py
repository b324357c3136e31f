"""Which test reaches which line of the core, and how long it takes: a plugin of pytest.

For `make coverage` and `make mutants`: run under coverage.py, it names each test to it as the
context of all lines that are run meanwhile, and writes the seconds of processor time of all tests
to build/coverage/seconds.tsv, a test a line as it ends.
"""

import time
from collections import defaultdict
from pathlib import Path

import coverage
import pytest

FOLDER = Path(__file__).resolve().parents[1] / "build" / "coverage"
SECONDS = FOLDER / "seconds.tsv"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item):
    """One test; what several of a file share takes its time within the first of them."""
    measuring = coverage.Coverage.current()
    measuring.switch_context(item.nodeid)
    start = time.process_time()
    done = yield
    with SECONDS.open("a", encoding="utf-8") as file:
        print(item.nodeid, f"{time.process_time() - start:.3f}", sep="\t", file=file)
    measuring.switch_context("")
    return done


def seconds() -> dict[str, float]:
    """What each test took last."""
    rows = (line.rpartition("\t") for line in SECONDS.read_text(encoding="utf-8").splitlines())
    return {test: float(taken) for test, _, taken in rows}


def pytest_collection_modifyitems(config, items):
    """Of the cases of one test at most three are run: the first, the middle and the last."""
    cases = defaultdict(list)
    for item in items:
        cases[item.nodeid.partition("[")[0]].append(item)
    kept = {id(each[at]) for each in cases.values() for at in (0, len(each) // 2, -1)}
    config.hook.pytest_deselected(items=[item for item in items if id(item) not in kept])
    items[:] = [item for item in items if id(item) in kept]
