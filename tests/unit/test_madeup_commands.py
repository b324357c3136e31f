"""What the commands print and write in the made-up language: no letter outside of its brackets."""

import io
import os
import re
from pathlib import Path

import pypdfium2
import pytest
from command import run
from madeup import outside_brackets
from musicxml_build import note, part, score

from handslide.jobs.practice import drilldrones

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "examples" / "lanterns.musicxml"
TAKE = ROOT / "tests" / "takes" / "tromboneF4_root53.wav"
TAKES_INDEX = ROOT / "tests" / "takes" / "index.csv"
LOW = "Eb3 D3 C3 B1 (F3:0.5 Gb3:0.5) Bb2~Ab2 r:2 D4"
# What a user, or the file itself, wrote.
WRITTEN = (
    "Calm", "singing", "and singing", "A little slower", "Quick", "CC0", "zither", "P8", "kazoo",
    "nobody", "Zither", "x9", "H3", "classical", "beginner", "bass", "jazz", "note", "hz",
    "valves", "partial",
    "extension_mm", "se_cents",
)  # fmt: skip
USERS = (
    "Mira", "mira", "odd", "lock",
    *WRITTEN, "lanterns", "Lanterns on the Quay", "Mira Holt", "Trombone", "tromboneF4_root53",
    "musicxml", "wav", "pdf", "ogg", "toml", "flac", "lesson", "marked",
)  # fmt: skip
HORNS = (
    "tenor-f-long", "tenor-f", "tenor-e", "tenor-c-bb", "tenor", "bass-independent",
    "bass-dependent", "alto-bb", "alto", "soprano", "contrabass-f",
)  # fmt: skip

# Columns of files, which are the same in every language.
COLUMNS = TAKES_INDEX.read_text(encoding="utf-8").splitlines()[0].split(",")
COMMANDS = [
    ("horns",),
    ("places", "C3", "B1", "Eb2", "D4", "--horn", "tenor-f"),
    ("places", "C2", "--horn", "bass-dependent", "--reach", "5", "--valves", "F"),
    ("line", LOW, "--horn", "tenor-f"),
    ("line", LOW, "--horn", "bass-independent", "--reach", "5", "--valves", "none"),
    ("line", LOW, "--marks", "number,valve,roman", "--horn", "tenor-f", "--lock", "3=T1"),
    ("mark", DEMO, "-o", "OUT", "--student", "Mira Holt", "--horn", "tenor-f", "--reach", "5"),
    ("transpose", DEMO, "--by", "-P8", "-o", "OUT", "--horn", "tenor-f"),
    ("chart", "--horn", "tenor-f", "-o", "OUT/chart.pdf", "--sheet", "all"),
    ("chart", "--horn", "tenor-f", "-o", "OUT/chart.pdf", "--sheet", "strip"),
    ("chart", "--horn", "tenor-f", "-o", "OUT/chart.pdf", "--sheet", "wall", "--bell-mm", "200"),
    ("chart", "--horn", "tenor-f", "-o", "OUT/chart.pdf", "--sheet", "blank", "--range", "E2-D4"),
    ("section", DEMO, "--class", "OUT/../all.csv", "-o", "OUT"),
    ("tune", "--horn", "tenor-f", "--open", "174.6", "--valve", "173.2"),
    ("tune", "--main", "Bb3=234"),
    ("tune", "--horn", "tenor-f", "--e-pull"),
    ("listen", TAKE),
    ("listen", TAKE, "--score", DEMO),
    ("drill", "scales", "-o", "OUT", "--horn", "tenor-f"),
    ("drill", "register", "-o", "OUT", "--horn", "bass-independent"),
    ("drill", "intonation", "-o", "OUT"),
    ("lesson", DEMO, "-o", "OUT/lesson.pdf", "--horn", "tenor-f", "--student", "Mira Holt"),
    ("drone", "Bb2", "--chord", "major", "--just", "-o", "OUT/drone.wav", "--length", "1"),
    ("playalong", DEMO, "-o", "OUT/play.ogg", "--measures", "1-2"),
    ("profile", "learn", "mira", DEMO, "--horn", "tenor-f", "--seen", "end"),
    ("profile", "learn", "mira", "OUT/../odd.musicxml", "--horn", "tenor-f"),
    ("profile", "ask", "mira", DEMO, "--horn", "tenor-f", "--answer", "1"),
]
WRONG = [
    ("profile", "learn", "classical", DEMO),
    ("profile", "learn", "kazoo.", DEMO),
    ("profile", "learn", "mira", DEMO),
    ("profile", "learn", "mira", "OUT/../odd.musicxml", "--seen", "kazoo"),
    ("profile", "learn", "mira", "OUT/../odd.musicxml", "--base", "kazoo"),
    ("profile", "ask", "mira", DEMO),
    ("profile", "why", "kazoo"),
    ("places", "H3"),
    ("places", "C3", "--horn", "kazoo"),
    ("line", "C3 ("),
    ("line", "C3", "--reach", "30"),
    ("line", "C3", "--profile", "nobody"),
    ("mark", ROOT / "README.md"),
    ("mark", DEMO, "--part", "Zither"),
    ("mark", DEMO, "--lock", "99:1=T1", "-o", "OUT"),
    ("chart", "--range", "C3"),
    ("chart", "--bell-mm", "2"),
    ("section", DEMO, "--class", "kazoo", "--existing", "check"),
    ("tune",),
    ("tune", "--main", "Bb3=900"),
    ("listen", ROOT / "README.md"),
    ("transpose", DEMO, "--by", "x9", "-o", "OUT"),
    ("drill", "scales", "--key", "zither"),
    ("drone", "Bb2", "--level", "5"),
    ("fit", TAKES_INDEX),
    ("places",),
    ("places", "C3", "--kazoo"),
    ("places", "C3", "--hron", "tenor"),
    ("places", "C3", "--json=3"),
    ("places", "C3", "--reach", "kazoo"),
    ("chart", "--paper", "kazoo"),
    ("drill", "scales", "--seed", "-4"),
    ("drill", "scales", "--bars", "kazoo"),
    ("line", "C3", "D3"),
    ("listen", "kazoo.wav"),
]
# What the made-up language leaves as it is typed.
TYPED = ("kazoo", "wav", "hron", "handslide", "places", "chart", "drill", "line", "help", "NOTE",
         "a4", "letter", "a3", "a2", "tabloid", "reach", "json", "paper", "seed", "bars",
         "horn", "class", "existing", "check", "mark", "bell", "profile",
         "learn", "seen", "base", "answer", "by")  # fmt: skip


def prepare(tmp_path):
    """The files that commands take."""
    (tmp_path / "out").mkdir()
    (tmp_path / "all.csv").write_text("student\nMira\nMira\n", encoding="utf-8")
    texts = ("6", "zither", "T1", "6")
    notes = "".join(
        note("C3", notations=f"<technical><fingering>{text}</fingering></technical>")
        for text in texts
    )
    (tmp_path / "odd.musicxml").write_bytes(score(part(notes)))


def said(words, tmp_path, code=0):
    argv = [str(word).replace("OUT", str(tmp_path / "out")) for word in words]
    result = run(*argv, "--language", "zz", code=code)
    return result.stdout, result.stderr


def outside(text, tmp_path, *more):
    for folder in (str(tmp_path), os.environ["HANDSLIDE_HOME"]):
        text = text.replace(folder, " ")
    text = re.sub(r"\S*/\S*", " ", text)
    text = re.sub(r"[⁰¹²³⁴⁵⁶⁷⁸⁹]", " ", text)  # octaves
    return outside_brackets(text, (*USERS, *HORNS, *more))


def ids(words):
    return " ".join(Path(str(word)).name for word in words)[:60]


@pytest.mark.parametrize("words", COMMANDS, ids=ids)
def test_a_command_says_messages_only(words, tmp_path, monkeypatch):
    # Drones take long to make, and say nothing.
    monkeypatch.setattr(drilldrones, "sound_data", lambda *_: b"sound")
    prepare(tmp_path)
    out, err = said(words, tmp_path)
    assert outside(out, tmp_path) == []
    assert outside(err, tmp_path) == []
    for file in sorted((tmp_path / "out").rglob("*.pdf")):
        assert outside(pdf_text(file), tmp_path) == [], file.name


@pytest.mark.parametrize("words", WRONG, ids=ids)
def test_an_error_is_a_message(words, tmp_path):
    prepare(tmp_path)
    for code in (1, 2):
        try:
            _, err = said(words, tmp_path, code)
            break
        except AssertionError:
            if code == 2:
                raise
    assert outside(err, tmp_path, "README", "index", "md", "csv", *COLUMNS, *TYPED) == []


def pdf_text(file):
    document = pypdfium2.PdfDocument(io.BytesIO(file.read_bytes()))
    return "\n".join(page.get_textpage().get_text_bounded() for page in document)
