"""A library to which all goes wrong: one more run ends with every part done once, byte for byte.

The driver and its workers are processes as a user has them; they are killed with SIGKILL, their
disk is full, among their files are hostile ones, some vanish. `make sweep` does it with 500 parts.
"""

import contextlib
import os
import shutil
import signal
import subprocess
import sys

import pytest
from library_processes import (
    children,
    is_alive,
    marked,
    start_driver,
    states,
    undisturbed,
    wait_for,
)
from small_library import outputs, run_library

from handslide.edges.files.filelock import hold
from handslide.jobs.library.library import LOCK_NAME

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="looks for processes in /proc")
PARTS = int(os.environ.get("HANDSLIDE_SWEEP_LIBRARY", "60"))

source, calm = undisturbed(PARTS)


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


def test_a_hostile_file_costs_only_itself(source, calm, tmp_path):
    """Scores that are too deep, grow by entities, hold too many elements, among all others."""
    mixed = tmp_path / "in"
    shutil.copytree(source, mixed)
    depth = 400_000
    (mixed / "a" / "deep.musicxml").write_bytes(
        b"<score-partwise>" + b"<a>" * depth + b"</a>" * depth + b"</score-partwise>"
    )
    (mixed / "b" / "entities.musicxml").write_bytes(
        b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">'
        b'<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]><score-partwise>&c;</score-partwise>'
    )
    (mixed / "b" / "wide.musicxml").write_bytes(
        b"<score-partwise>" + b"<a/>" * 2_500_000 + b"</score-partwise>"
    )
    out = tmp_path / "out"
    driver = start_driver(mixed, out, "--workers", "2")
    told, errors = driver.communicate(timeout=600)
    assert driver.returncode == 1, told + errors
    assert "Traceback" not in errors
    assert outputs(out) == calm
    assert states(out) == {"done": PARTS, "to_do": 0, "error": 0}
    table = (out / "errors.csv").read_text(encoding="utf-8-sig")
    for name in ("a/deep.musicxml", "b/entities.musicxml", "b/wide.musicxml"):
        assert table.count(name) == 1, table


@contextlib.contextmanager
def disk_of(kilobytes, folder):
    """A file system of its own with so much room."""
    folder.mkdir()
    size = f"size={kilobytes}k"
    mount = ["mount", "-t", "tmpfs", "-o", size, "tmpfs", str(folder)]
    if os.geteuid() or not shutil.which("mount"):
        pytest.skip("only root can mount a small disk")
    made = subprocess.run(mount, capture_output=True, text=True, check=False)
    if made.returncode:
        pytest.skip(f"a small disk can't be mounted here: {made.stderr.strip()}")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def test_a_disk_that_is_full_is_told_and_the_next_run_with_room_goes_on(source, calm, tmp_path):
    room = sum(map(len, calm.values())) // 1024
    with disk_of(400 + room // 2, tmp_path / "disk") as disk:
        out = disk / "out"
        driver = start_driver(source, out, "--workers", "2")
        told, errors = driver.communicate(timeout=600)
        assert driver.returncode == 1, told + errors
        assert "Traceback" not in errors and "Traceback" not in told
        done = {path.name: path.stat().st_mtime_ns for path in marked(out)}
        assert len(done) < PARTS
        # What is there is whole.
        assert all(
            calm[path.relative_to(out).as_posix()] == path.read_bytes() for path in marked(out)
        )
        wider = ["mount", "-o", f"remount,size={8 * room + 64_000}k", str(disk)]
        subprocess.run(wider, check=True)
        last, workers = run_library(source, out)
        assert last.counts == {"done": PARTS, "to_do": 0, "error": 0}
        assert outputs(out) == calm
        assert len(workers.marked) == last.made <= PARTS
        again = [path for path in marked(out) if path.stat().st_mtime_ns == done.get(path.name)]
        assert len(again) + last.made == PARTS


def test_inputs_that_vanish_are_told_and_made_when_they_are_back(source, calm, tmp_path):
    here, away, out = tmp_path / "in", tmp_path / "away", tmp_path / "out"
    shutil.copytree(source, here)
    driver = start_driver(here, out, "--workers", "2")
    wait_for(lambda: marked(out))
    (here / "a").rename(away)
    told, errors = driver.communicate(timeout=600)
    assert "Traceback" not in errors
    now = states(out)
    assert driver.returncode == (1 if now["error"] else 0), told + errors
    assert now["done"] == len(marked(out)) and now["to_do"] == 0
    away.rename(here / "a")
    last, workers = run_library(here, out)
    assert last.counts == {"done": PARTS, "to_do": 0, "error": 0}
    assert len(workers.marked) == last.made == PARTS - now["done"]
    assert outputs(out) == calm
