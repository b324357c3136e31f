"""A library whose processes are killed: one more run ends with every part done once, byte for byte.

The driver and its workers are processes as a user has them; they are killed with SIGKILL.
"""

import os
import signal
import sys

import pytest
from library_processes import children, is_alive, marked, start_driver, states, wait_for
from small_library import outputs, run_library, write_library

from handslide.edges.files.filelock import hold
from handslide.jobs.library.library import LOCK_NAME

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="looks for processes in /proc")
PARTS = 60


@pytest.fixture(scope="module")
def source(tmp_path_factory):
    return write_library(tmp_path_factory.mktemp("library") / "in", PARTS)


@pytest.fixture(scope="module")
def calm(source, tmp_path_factory):
    """What an undisturbed run makes."""
    folder = tmp_path_factory.mktemp("calm") / "out"
    assert run_library(source, folder)[0].counts["done"] == PARTS
    return outputs(folder)


def test_a_killed_worker_costs_nothing(source, calm, tmp_path):
    out = tmp_path / "out"
    driver = start_driver(source, out, "--workers", "2")
    wait_for(lambda: marked(out))
    os.kill(children(driver.pid)[0], signal.SIGKILL)
    told, errors = driver.communicate(timeout=120)
    assert driver.returncode == 0, told + errors
    assert outputs(out) == calm
    assert states(out) == {"done": PARTS, "to_do": 0, "error": 0}


def test_a_killed_driver_takes_its_workers_along_and_the_next_run_goes_on(source, calm, tmp_path):
    out = tmp_path / "out"
    driver = start_driver(source, out, "--workers", "2")
    wait_for(lambda: marked(out))
    workers = children(driver.pid)
    driver.kill()
    driver.communicate(timeout=60)
    assert workers
    wait_for(lambda: not any(map(is_alive, workers)))
    done = {path.name: path.stat().st_mtime_ns for path in marked(out)}
    assert 0 < len(done) < PARTS
    # Whatever a killed worker was writing.
    for folder in {path.parent for path in marked(out)}:
        (folder / ".handslide-x.part").write_bytes(b"half")
    last, workers = run_library(source, out)
    assert last.counts == {"done": PARTS, "to_do": 0, "error": 0}
    assert outputs(out) == calm
    again = {path.name for path in marked(out) if path.stat().st_mtime_ns != done.get(path.name)}
    # What was done stays as it is; at most the parts under way are made again.
    assert len(workers.marked) == last.made
    assert PARTS - len(done) <= len(again) == last.made <= PARTS - len(done) + 4


def test_ctrl_c_ends_it_after_the_parts_under_way(source, calm, tmp_path):
    out = tmp_path / "out"
    driver = start_driver(source, out, "--workers", "2")
    wait_for(lambda: marked(out))
    driver.send_signal(signal.SIGINT)
    told, errors = driver.communicate(timeout=60)
    assert driver.returncode == 1, told + errors
    assert "Traceback" not in errors
    now = states(out)
    assert now["done"] == len(marked(out)) < PARTS
    assert (out / "report.html").exists()
    assert run_library(source, out)[0].made == PARTS - now["done"]
    assert outputs(out) == calm


def test_a_second_driver_is_told(source, tmp_path):
    out = tmp_path / "out"
    with hold(out / LOCK_NAME, 1.0):
        driver = start_driver(source, out, "--workers", "2")
        _, errors = driver.communicate(timeout=60)
    assert driver.returncode == 1
    assert len(errors.splitlines()) == 1
    assert "another run is working" in errors
