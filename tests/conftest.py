"""No test may see, or touch, the user's own horns; errors are read as an English reader would."""

import pytest
from studio_pages import example, studio

from browser import browser
from handslide.ground.errors import HandslideError
from handslide.words.speech import speech

__all__ = ["browser", "example", "own_folder", "studio"]

# An error is a fact; `pytest.raises(..., match=...)` looks at the sentence that is made of it.
HandslideError.__str__ = lambda error: speech("en").fact(error)


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("HANDSLIDE_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("HANDSLIDE_LANGUAGE", "en")
