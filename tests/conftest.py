"""No test may see, or touch, the user's own horns."""

import pytest


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("HANDSLIDE_HOME", str(tmp_path / "home"))
