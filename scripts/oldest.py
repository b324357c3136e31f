"""Write `oldest.txt`: the lower bounds of pyproject.toml as exact versions, for `make oldest`.

Under them stand the tools of the tests, as constraints.txt pins them. A test looks whether the file
is up to date.
"""

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
FILE = ROOT / "oldest.txt"
TOOLS = ("hypothesis", "pytest")
# What the oldest starlette's client for tests asks with; a newer one has another.
_CLIENT = "httpx==0.28.1"
_HEAD = "# By scripts/oldest.py: the oldest versions that handslide allows, and tools for tests.\n"


def oldest() -> str:
    """The file as text."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = [*project["dependencies"], *project["optional-dependencies"]["all"]]
    bounds = sorted(one.replace(">=", "==") for one in wanted)
    assert all("==" in one for one in bounds), "each has a lower bound, and no other"
    pins = (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()
    tools = [pin for pin in pins if re.split("==", pin)[0].lower() in TOOLS]
    assert len(tools) == len(TOOLS)
    return _HEAD + "\n".join([*bounds, *tools, _CLIENT]) + "\n"


if __name__ == "__main__":
    FILE.write_text(oldest(), encoding="utf-8")
