"""The first lesson by commands, followed to the letter, and the gallery made from it."""

import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
sys.path.append(str(ROOT / "scripts"))

import follow_lesson  # noqa: E402
import make_gallery  # noqa: E402

TEXT = (follow_lesson.LESSONS / "commands.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def followed(tmp_path_factory):
    """The folder of the lesson, and what didn't go as its page shows."""
    folder = tmp_path_factory.mktemp("lesson")
    return folder, follow_lesson.follow_commands(TEXT, folder)


def test_every_command_says_what_the_page_shows(followed):
    folder, wrong = followed
    assert len(follow_lesson.typed(TEXT)) >= 10
    assert wrong == []
    named = {word for one in follow_lesson.typed(TEXT) for word in (*one.words, one.into)}
    assert {name for name in named if name.startswith("boats")} <= {
        p.name for p in folder.iterdir()
    }


def test_what_is_shown_is_held_against_what_is_said():
    shown = ("notes: 27", "…", "E♭3  −20 mm", "…")
    assert follow_lesson.fits(shown, "notes: 27\nand more\nE♭3  −21 mm\nend\n")
    assert not follow_lesson.fits(shown, "notes: 27\nand more\nE♭3  −24 mm\nend\n")
    assert not follow_lesson.fits(shown, "notes: 27\nand more\nD3  −20 mm\nend\n")
    assert not follow_lesson.fits(("notes: 27",), "notes: 27\nand more\n")
    assert follow_lesson.fits((), "") and not follow_lesson.fits((), "something\n")


@pytest.mark.parametrize("sheet", make_gallery.SHEETS, ids=lambda sheet: sheet.name)
def test_a_picture_of_the_gallery_shows_the_program_as_it_is(followed, sheet):
    """Seen from far (24 pixels wide) it looks as what is made now; else: make pictures."""
    now = Image.fromarray(make_gallery.pixels(sheet, followed[0]))
    with Image.open(make_gallery.GALLERY / f"{sheet.name}.png") as kept:
        assert kept.size == now.size
        far = [np.asarray(each.convert("L").resize((24, 32)), dtype=float) for each in (kept, now)]
    assert np.abs(far[0] - far[1]).max() < 40.0


def test_the_gallery_has_these_pictures_and_no_others():
    names = {path.stem for path in make_gallery.GALLERY.iterdir()}
    assert names == {sheet.name for sheet in make_gallery.SHEETS}
