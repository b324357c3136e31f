"""A library's driver as a user has it, and looking at processes."""

import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest
from small_library import outputs, run_library, write_library

from handslide.edges.manifest.manifest import FILE_NAME, Manifest

MAIN = "from handslide.faces.cli.main import main; main()"


def undisturbed(parts):
    """Two fixtures of a module: a library of so many parts, and what an undisturbed run makes."""

    @pytest.fixture(scope="module")
    def source(tmp_path_factory):
        return write_library(tmp_path_factory.mktemp("library") / "in", parts)

    @pytest.fixture(scope="module")
    def calm(source, tmp_path_factory):
        folder = tmp_path_factory.mktemp("calm") / "out"
        assert run_library(source, folder)[0].counts["done"] == parts
        return outputs(folder)

    return source, calm


def start_driver(source, out, *more):
    words = ("library", source, out, "--horn", "tenor-f", "--no-pdf", *more)
    return subprocess.Popen(
        [sys.executable, "-c", MAIN, *map(str, words)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def wait_for(condition, seconds=60.0):
    """Until it holds; how long that takes is no matter of the test."""
    until = time.monotonic() + seconds
    while not (found := condition()):
        assert time.monotonic() < until
        time.sleep(0.002)
    return found


def marked(out):
    return list(out.rglob("*-marked.musicxml"))


def children(pid):
    found = []
    for task in Path(f"/proc/{pid}/task").glob("*/children"):
        found += map(int, task.read_text().split())
    return found


def is_alive(pid):
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] not in "ZX"
    except OSError:
        return False


def states(out):
    with closing(Manifest.read(out / FILE_NAME)) as manifest:
        return manifest.counts()
