"""What the commands say as JSON is what they said before: a change must be wished for.

`outputs.py` beside this file says what is recorded, and records it again.
"""

import json
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from outputs import RECORDS, cases, run

_NUMBERS = 1e-4


def changes(before, now, where=""):
    """Where ``now`` differs from ``before``; keys that are new are no change."""
    if isinstance(before, dict) and isinstance(now, dict):
        for key, value in before.items():
            if key not in now:
                yield f"{where}/{key} is gone"
            else:
                yield from changes(value, now[key], f"{where}/{key}")
    elif isinstance(before, list) and isinstance(now, list):
        if len(before) != len(now):
            yield f"{where}: {len(before)} -> {len(now)} rows"
        for number, pair in enumerate(zip(before, now)):
            yield from changes(*pair, f"{where}/{number}")
    elif isinstance(before, float) and isinstance(now, int | float):
        if abs(before - now) > _NUMBERS * max(1.0, abs(before)):
            yield f"{where}: {before} -> {now}"
    elif before != now:
        yield f"{where}: {before!r} -> {now!r}"


def test_changes_are_seen():
    before = {"a": [{"x": 1.0, "y": "6"}], "b": None}
    assert list(changes(before, {"a": [{"x": 1.0, "y": "6", "z": 1}], "b": None})) == []
    assert list(changes(before, {"a": [{"x": 1.1, "y": "T1"}], "b": 0})) == [
        "/a/0/x: 1.0 -> 1.1", "/a/0/y: '6' -> 'T1'", "/b: None -> 0",
    ]  # fmt: skip
    assert list(changes(before, {"a": []})) == ["/a: 1 -> 0 rows", "/b is gone"]


@pytest.mark.parametrize(("name", "words"), list(cases()), ids=lambda value: str(value)[:40])
def test_a_command_says_what_it_said(name, words):
    before = json.loads((RECORDS / f"{name}.json").read_text(encoding="utf-8"))
    assert list(changes(before, run(words)))[:20] == []
