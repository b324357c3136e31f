"""What other systems do otherwise, as far as it can be tried on this one; see docs/windows.md."""

import json
import mimetypes
import os
import subprocess
import sys
from pathlib import Path

import pytest
from babel.messages.pofile import read_po
from studio_pages import client

import handslide.words
from handslide.edges.files.safename import safe_name
from handslide.faces.cli.terminal import in_ascii
from handslide.jobs.classes import student_stems

LOCALE = Path(handslide.words.__file__).parent / "locale"


def said(encoding, *words):
    """What a command writes to a pipe that has this encoding, as on Windows."""
    done = subprocess.run(
        [sys.executable, "-m", "handslide", *words],
        env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"},
        capture_output=True,
        timeout=120,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, b"")
    return done.stdout.decode(encoding)


def test_a_pipe_without_flats_gets_letters():
    whole = said("utf-8", "places", "Eb3", "--horn", "tenor-f")
    assert "♭" in whole
    for encoding in ("cp1252", "cp437"):
        less = said(encoding, "places", "Eb3", "--horn", "tenor-f")
        assert "?" not in less
        # ♭ and b are one sign each, so nothing moves.
        assert less.count("b") == whole.count("b") + whole.count("♭")


def test_json_loses_nothing_in_a_pipe():
    words = ("line", "Eb3 D3 Db3", "--horn", "tenor-f", "--json")
    assert json.loads(said("cp1252", *words)) == json.loads(said("utf-8", *words))


def test_every_sign_of_the_catalogues_has_another_in_ascii():
    signs = set()
    for file in LOCALE.rglob("*.po"):
        with file.open("rb") as source:
            for message in read_po(source):
                found = message.string
                signs |= set("".join(found if isinstance(found, tuple | list) else (found,)))
    assert {"♭", "½", "→", "ß", "é"} < signs
    without = [sign for sign in signs if not sign.isascii() and not in_ascii(sign).isascii()]
    assert without == []
    assert [sign for sign in signs if not sign.isascii() and "?" in in_ascii(sign)] == []


@pytest.mark.parametrize("name", ["CON", "nul", "Aux", "com1", "LPT9", "COM¹", "con ", " prn"])
def test_no_file_is_called_as_a_device_of_windows(name):
    # Microsoft, "Naming files, paths, and namespaces": CON, PRN, AUX, NUL, COM1 to COM9 and LPT1 to
    # LPT9, with ¹ ² ³ too, whatever their capitals and endings.
    assert safe_name(name) == f"_{name.strip()}"
    assert student_stems([name]) == (f"_{name.strip()}",)


def test_students_get_a_file_each_where_capitals_are_one():
    assert student_stems(["Ada", "ADA", "Ada-2", "Straße", "STRASSE"]) == (
        "Ada", "ADA-2", "Ada-2-2", "Straße", "STRASSE-2",
    )  # fmt: skip


def test_scripts_are_scripts_whatever_the_system_takes_them_for(studio):
    mimetypes.add_type("text/plain", ".js")
    page = client(studio)
    kinds = {
        name: page.get(f"/static/{name}").headers["content-type"].split(";")[0]
        for name in ("home.js", "home.css", "icon.svg")
    }
    assert kinds == {
        "home.js": "text/javascript", "home.css": "text/css", "icon.svg": "image/svg+xml",
    }  # fmt: skip
