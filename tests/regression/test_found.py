"""Every input that the fuzzing found once: ``found/TARGET-NUMBER``, taken in again."""

from pathlib import Path

import pytest
from targets import TARGETS

HERE = Path(__file__).parent
FOUND = sorted(path for path in (HERE / "found").iterdir() if path.suffix != ".md")


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize("path", FOUND, ids=lambda path: path.name)
def test_what_was_found_once_stops_nothing(path):
    TARGETS[path.name.partition("-")[0]](path.read_bytes())
