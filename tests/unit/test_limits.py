"""The limits: each with its reason, all on the page, and the lock is what is pinned."""

import ast
import importlib.util
import itertools
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "handslide" / "ground" / "limits.py"


def script(name):
    spec = importlib.util.spec_from_file_location(name, ROOT / "scripts" / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_limit_has_its_reason():
    body = ast.parse(SOURCE.read_text(encoding="utf-8")).body
    for node, after in itertools.pairwise(body):
        if isinstance(node, ast.Assign) and node.lineno > 10:
            assert isinstance(after, ast.Expr), ast.unparse(node)
            assert len(ast.literal_eval(after.value).split()) >= 4, ast.unparse(node)


def test_the_page_of_the_limits_is_up_to_date():
    assert (ROOT / "docs" / "limits.md").read_text(encoding="utf-8") == script("limits").page()


def pins(path):
    text = path.read_text(encoding="utf-8")
    return {name.lower().replace("-", "_"): version
            for name, version in re.findall(r"^([\w.-]+)==(\S+)", text, re.MULTILINE)}  # fmt: skip


def test_the_lock_is_what_is_pinned():
    constraints, locked = pins(ROOT / "constraints.txt"), pins(ROOT / "locked" / "requirements.txt")
    assert locked.items() <= constraints.items()
    project = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    needed = re.search(r"^dependencies = \[(.*?)\]", project, re.DOTALL | re.MULTILINE)[1]
    assert {re.match(r'"([\w-]+)', line)[1].replace("-", "_")
            for line in needed.split() if line.startswith('"')} <= locked.keys()  # fmt: skip
    backend = re.search(r'requires = \["setuptools==(.*?)"\]', project)[1]
    assert pins(ROOT / "locked" / "build.txt") == {"setuptools": backend}


@pytest.mark.parametrize("name", ["requirements.txt", "build.txt"])
def test_the_lock_names_hashes_and_no_host(name):
    text = (ROOT / "locked" / name).read_text(encoding="utf-8")
    assert "://" not in text and "handslide" not in text and "--index" not in text
    pinned = re.split(r"^(?=[\w.-]+==)", text, flags=re.MULTILINE)[1:]
    assert pinned and all("--hash=sha256:" in one for one in pinned)
