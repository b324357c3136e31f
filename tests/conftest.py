"""No test may see, or touch, the user's own horns; errors are read as an English reader would."""

import gc
from itertools import count

import pytest
from sampling import pytest_collection_modifyitems
from studio_pages import example, studio

from browser import browser, close_browser, windowed
from handslide.ground.errors import HandslideError
from handslide.words.speech import speech

__all__ = [
    "browser",
    "example",
    "homes",
    "own_folder",
    "pytest_collection_modifyitems",
    "studio",
    "windowed",
]

# An error is a fact; `pytest.raises(..., match=...)` looks at the sentence that is made of it.
HandslideError.__str__ = lambda error: speech("en").fact(error)


# What is collected stays to the end, twelve thousand tests: nobody looks for garbage among it.
gc.disable()


def pytest_collection_finish():
    gc.collect()
    gc.freeze()
    gc.enable()


@pytest.fixture(scope="session")
def homes(tmp_path_factory):
    """Names for folders that aren't there yet: thousands of empty ones take minutes to delete."""
    folder = tmp_path_factory.mktemp("homes")
    return (folder / str(number) for number in count())


@pytest.fixture(autouse=True)
def own_folder(homes, monkeypatch):
    monkeypatch.setenv("HANDSLIDE_HOME", str(next(homes)))
    monkeypatch.setenv("HANDSLIDE_LANGUAGE", "en")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_teardown(item, nextitem):
    """Between browser tests the browser stays; nothing of it is left where none is used."""
    done = yield
    if nextitem is None or not (
        nextitem.path == item.path or nextitem.get_closest_marker("browser")
    ):
        close_browser()
    return done
