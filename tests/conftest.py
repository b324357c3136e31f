"""No test may see, or touch, the user's own horns."""

import pytest

from browser import browser
from studio_pages import example, studio

__all__ = ["browser", "example", "own_folder", "studio"]


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("HANDSLIDE_HOME", str(tmp_path / "home"))
