"""On a full disk the studio starts, shows and exports all, and goes on when there is room."""

import errno
import os
import shutil
import subprocess
import sys
import tempfile
import zipfile
from types import SimpleNamespace

import pytest
from studio_versions import fill

from handslide.ground.errors import StoreError
from handslide.studio.care import archive
from handslide.studio.studio import open_studio
from handslide.words.speech import speech

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="limits as on POSIX")
CODE = """
import io, os, resource, sys, zipfile
from pathlib import Path
from starlette.testclient import TestClient
from handslide.faces.web.app import create_app
from handslide.ground.errors import StoreError
from handslide.studio.care.archive import export_archive
from handslide.studio.care.running import start_studio
from handslide.studio.people.students import list_students
from handslide.studio.studio import set_setting
from handslide.words.speech import speech

def room(most):
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, resource.RLIM_INFINITY))

room(int(sys.argv[2]))
studio, warnings = start_studio(Path(sys.argv[1]))
assert studio.store.full
assert [fact.kind for fact in warnings] == ["studio.disk_full"], warnings
assert [one.name for one in list_students(studio)] == ["Mira Holt"]
home = TestClient(create_app(studio), base_url="http://127.0.0.1:8471")
own = {"Origin": "http://127.0.0.1:8471"}
for page in ("/", "/students/1", "/data", "/parts", "/takes"):
    answer = home.get(page)
    assert answer.status_code == 200, (page, answer.text)
    assert "The disk is full" in answer.text
answer = home.post("/data/settings", headers=own, data={"language": "", "theme": "dark",
                                                         "paper": "a4"})
assert answer.status_code == 409 and "make room" in answer.text, answer.text
answer = home.post("/data/backups", headers=own)
assert answer.status_code == 409
assert "was not made" in home.get("/data").text
try:
    set_setting(studio, "a", "1")
except StoreError as error:
    print(speech().fact(error))
room(resource.RLIM_INFINITY)
file = home.post("/data/export", headers=own)
assert file.status_code == 200
assert zipfile.ZipFile(io.BytesIO(file.content)).testzip() is None
set_setting(studio, "a", "1")
assert not studio.store.full
assert "The disk is full" not in home.get("/").text
studio.close()
"""


@pytest.mark.parametrize("killed", [False, True])
def test_a_studio_starts_on_a_full_disk(tmp_path, killed):
    if killed:
        code = (
            "import os, sys; from pathlib import Path; sys.path.insert(0, sys.argv[2]);"
            "from studio_versions import fill; from handslide.studio.studio import open_studio;"
            "studio = open_studio(Path(sys.argv[1])); fill(studio);"
            "studio.store.read().__enter__(); os._exit(0)"
        )
        helpers = __file__.replace("regression/test_full_disk.py", "helpers")
        subprocess.run([sys.executable, "-c", code, tmp_path, helpers], check=True, timeout=60)
        assert (tmp_path / "studio.db-wal").stat().st_size > 0
    else:
        studio = open_studio(tmp_path)
        fill(studio)
        studio.close()
    # The index of a log that a killed program left has 32 kB, and may be written.
    most = "33000" if killed else "0"
    done = subprocess.run(
        [sys.executable, "-c", CODE, tmp_path, most], capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, done.stderr
    assert "the disk is full: make room" in done.stdout


def test_a_disk_that_fills_while_the_studio_runs_keeps_no_archive_from_being_made(
    tmp_path, monkeypatch
):
    studio = open_studio(tmp_path / "studio")
    fill(studio)
    other = tmp_path / "other"
    other.mkdir()
    copied, free = archive.copy_rows, {studio.folder: 0, other: 10**9}

    def copy(db, target, *args, **options):
        if studio.folder in target.parents:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        copied(db, target, *args, **options)

    monkeypatch.setattr(archive, "copy_rows", copy)
    monkeypatch.setattr(tempfile, "tempdir", str(other))
    monkeypatch.setattr(shutil, "disk_usage", lambda path: SimpleNamespace(free=free[path]))
    file, size = archive.archive_file(studio, speech())
    with file:
        assert zipfile.ZipFile(file).testzip() is None and size > 0
    free[other] = 0
    with pytest.raises(StoreError) as caught:
        archive.archive_file(studio, speech())
    assert str(caught.value) == "the archive can't be written: No space left on device"
    assert not list(other.iterdir()) and not list(studio.folder.glob(".*"))
    studio.close()
