"""Marked scores in other people's readers: all marks arrive, stay apart, and are never doubled.

For developers, outside of the test suite: ``make roundtrip`` installs the readers. One that isn't
there is skipped.
"""

import re
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from lxml import etree

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent / "helpers")]

import musicxml_build as xml  # noqa: E402
from command import run  # noqa: E402

from browser import chromium  # noqa: E402

MODULES = HERE / "node_modules"
DISPLAY = MODULES / "opensheetmusicdisplay" / "build" / "opensheetmusicdisplay.min.js"
# Alternating valve marks in the quickest values beside long notes, and the quickest study at hand.
RUN = "B2 C3 B2 C3 E2 F2 E2 F2"
STUDY = HERE.parent / "scores" / "Belcke_12_Etudes_08.musicxml"
SCORES = ("runs", "study")
HORNS = ("tenor-f", "bass-independent")
SAFE = ("roman", "roman letter")
UNSAFE = "letter"


def quick_score():
    """Sixteen measures: eight thirty-seconds and three quarters."""

    def beams(number):
        kind = "begin" if number == 0 else "end" if number == 7 else "continue"
        return "".join(f'<beam number="{level}">{kind}</beam>' for level in (1, 2, 3))

    quick = "".join(
        xml.note(name, 1, kind="32nd", after_kind=beams(number))
        for number, name in enumerate(RUN.split())
    )
    measure = quick + xml.notes("Bb2 D3 F3", duration=8)
    clef = "<clef><sign>F</sign><line>4</line></clef>"
    first = xml.attributes(8, more=clef) + xml.tempo(40) + measure
    return xml.score(xml.part(first, *[measure] * 15))


@pytest.fixture(scope="session")
def sources(tmp_path_factory):
    """The scores before they are marked."""
    quick = tmp_path_factory.mktemp("scores") / "runs.musicxml"
    quick.write_bytes(quick_score())
    return {"runs": quick, "study": STUDY}


@pytest.fixture(scope="session")
def marked(sources, tmp_path_factory):
    """Marks a score with the command: ``marked(name, horn, style)`` is the file."""
    made = {}

    def make(name, horn, style=""):
        key = name, horn, style
        if key not in made:
            folder = tmp_path_factory.mktemp("marked")
            words = ("--horn", horn, "--marks", style, "--no-pdf", "-o", folder)
            run("mark", sources[name], *words)
            made[key] = folder / f"{sources[name].stem}-marked.musicxml"
        return made[key]

    return make


def marks_of(path):
    """All fingerings of a score, by measure."""
    tree = etree.parse(path)
    return [
        Counter(one.text for one in measure.iter("fingering")) for measure in tree.iter("measure")
    ]


def meeting(boxes):
    """Pairs of boxes (left, top, right, bottom) that overlap."""
    ordered = sorted(boxes)
    return [
        (one, other)
        for number, one in enumerate(ordered)
        for other in ordered[number + 1 :]
        if other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
    ]


# MuseScore's importer


@pytest.fixture(scope="session")
def read_again(marked, tmp_path_factory):
    """What the importer makes of a marked score: the file that it saves, and its pages as SVG."""
    if shutil.which("node") is None or not (MODULES / "webmscore").is_dir():
        pytest.skip("no webmscore here: 'make roundtrip' installs it where there is Node.js")
    made = {}

    def make(name, horn, style=""):
        key = name, horn, style
        if key not in made:
            stem = tmp_path_factory.mktemp("read") / name
            command = ["node", str(HERE / "reader.cjs"), str(marked(*key)), str(stem)]
            subprocess.run(command, check=True, cwd=HERE, timeout=120)
            pages = sorted(stem.parent.glob(f"{name}-*.svg"))
            made[key] = stem.with_suffix(".musicxml"), pages
        return made[key]

    return make


@pytest.mark.parametrize("horn", HORNS)
@pytest.mark.parametrize("name", SCORES)
def test_musescore_keeps_all_marks(name, horn, marked, read_again):
    saved, _ = read_again(name, horn)
    assert marks_of(saved) == marks_of(marked(name, horn))


@pytest.mark.parametrize("style", ["", *SAFE])
@pytest.mark.parametrize("horn", HORNS)
@pytest.mark.parametrize("name", SCORES)
def test_neighbouring_marks_stay_apart_in_musescore(name, horn, style, marked, read_again):
    _, pages = read_again(name, horn, style)
    drawn = [path_boxes(page) for page in pages]
    assert sum(map(len, drawn)) == sum(map(Counter.total, marks_of(marked(name, horn, style))))
    assert [meeting(boxes) for boxes in drawn] == [[] for _ in pages]


def path_boxes(page):
    """The boxes of the fingerings of a page: each is one path."""
    boxes = []
    for path in etree.parse(page).iter("{*}path"):
        if path.get("class") == "Fingering":
            numbers = [float(text) for text in re.findall(r"-?\d+(?:\.\d+)?", path.get("d"))]
            across, down = numbers[0::2], numbers[1::2]
            boxes.append((min(across), min(down), max(across), max(down)))
    return boxes


@pytest.mark.parametrize("name", SCORES)
def test_marking_again_what_musescore_saved_doubles_none(name, marked, read_again, tmp_path):
    saved, _ = read_again(name, "tenor-f")
    # It drops what tells our marks from a user's.
    assert b"<?handslide" not in saved.read_bytes()
    run("mark", saved, "--horn", "tenor-f", "--no-pdf", "-o", tmp_path)
    again = marks_of(tmp_path / f"{name}-marked.musicxml")
    assert again == marks_of(marked(name, "tenor-f"))


@pytest.mark.parametrize("name", SCORES)
def test_marking_our_own_file_again_changes_no_byte(name, marked, tmp_path):
    first = marked(name, "tenor-f")
    run("mark", first, "--horn", "tenor-f", "--no-pdf", "-o", tmp_path)
    assert (tmp_path / f"{first.stem}-marked.musicxml").read_bytes() == first.read_bytes()


# A reader in the browser

DRAW = """async (score) => {
    const place = document.getElementById("score");
    place.replaceChildren();
    const wishes = {backend: "svg", autoResize: false, drawTitle: false};
    const display = new opensheetmusicdisplay.OpenSheetMusicDisplay(place, wishes);
    await display.load(score);
    display.render();
    return [...place.querySelectorAll("text")].map((text) => {
        const box = text.getBBox();
        return [text.textContent, box.x, box.y, box.x + box.width, box.y + box.height];
    });
}"""


@pytest.fixture(scope="session")
def shown():
    """What OpenSheetMusicDisplay draws of a score: its texts with their boxes."""
    if not DISPLAY.exists():
        pytest.skip("no OpenSheetMusicDisplay: 'make roundtrip' installs it where there is Node.js")
    with chromium() as browser:
        page = browser.new_page(viewport={"width": 1200, "height": 900})
        page.set_content('<div id="score" style="width: 1100px"></div>')
        page.add_script_tag(path=DISPLAY)
        yield lambda path: page.evaluate(DRAW, path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("horn", HORNS)
@pytest.mark.parametrize("name", SCORES)
def test_opensheetmusicdisplay_shows_all_marks(name, horn, marked, shown):
    path = marked(name, horn)
    wanted = sum(marks_of(path), Counter())
    texts = Counter(text for text, *_ in shown(path))
    assert wanted - texts == Counter()


@pytest.mark.parametrize(
    ("name", "horn"),
    [
        ("runs", "tenor"),
        ("study", "tenor-f"),
        pytest.param(
            "runs", "tenor-f",
            marks=pytest.mark.xfail(reason="it spaces notes and sizes fingerings by itself"),
        ),
    ],
)  # fmt: skip
def test_neighbouring_marks_stay_apart_in_opensheetmusicdisplay(name, horn, marked, shown):
    path = marked(name, horn)
    wanted = sum(marks_of(path), Counter())
    boxes = [tuple(box) for text, *box in shown(path) if text in wanted]
    # A box in a browser has the height of the line, not of the figures in it.
    figures = [
        (left, top + 0.25 * (low - top), right, low - 0.25 * (low - top))
        for left, top, right, low in boxes
    ]
    assert meeting(figures) == []


# LilyPond's importer


@pytest.fixture(scope="session")
def engraved(tmp_path_factory):
    """What LilyPond makes of a score: errors, notes that sound, texts on its pages."""
    if shutil.which("musicxml2ly") is None or shutil.which("lilypond") is None:
        pytest.skip("no LilyPond here: 'make roundtrip' installs it on Debian, for root")

    def make(path):
        folder = tmp_path_factory.mktemp("lilypond")
        stem, source = folder / "part", folder / "part.ly"
        subprocess.run(
            ["musicxml2ly", "-m", str(path), "-o", str(source)],
            check=True, capture_output=True, timeout=120,
        )  # fmt: skip
        result = subprocess.run(
            ["lilypond", "-dbackend=svg", "-o", str(stem), str(source)],
            check=False, capture_output=True, text=True, timeout=300,
        )  # fmt: skip
        texts = Counter(
            "".join(span.itertext()).strip()
            for page in folder.glob("*.svg")
            for span in etree.parse(page).iter("{*}tspan")
        )
        return result.stderr.count("error:"), sounding(folder / "part.midi"), texts

    return make


def sounding(path):
    """How many notes a MIDI file sounds."""
    data, start, count = path.read_bytes(), 14, 0
    while start < len(data):
        end = start + 8 + int.from_bytes(data[start + 4 : start + 8], "big")
        count += notes_on(data[start + 8 : end])
        start = end
    return count


def notes_on(track):
    """How many notes begin in the events of a track."""
    at = status = count = 0

    def number():
        nonlocal at
        value = 0
        while True:
            byte = track[at]
            at += 1
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value

    while at < len(track):
        number()  # the time since the event before
        if track[at] >= 0x80:
            status = track[at]
            at += 1
        if status >= 0xF0:
            at += status == 0xFF  # the kind of a meta event
            length = number()
            at += length
            continue
        count += status >> 4 == 9 and track[at + 1] > 0
        at += 1 if status >> 4 in (0xC, 0xD) else 2
    return count


@pytest.fixture(scope="session")
def plain_notes(sources, engraved):
    """How many notes LilyPond sounds of the unmarked quick score."""
    return engraved(sources["runs"])[1]


@pytest.mark.parametrize("style", SAFE)
@pytest.mark.parametrize("horn", HORNS)
def test_roman_marks_are_safe_in_lilypond(horn, style, marked, engraved, plain_notes):
    path = marked("runs", horn, style)
    errors, notes, texts = engraved(path)
    assert (errors, notes) == (0, plain_notes)
    assert sum(marks_of(path), Counter()) - texts == Counter()


def test_arabic_marks_with_a_sign_make_notes_in_lilypond(marked, engraved, plain_notes):
    # Why the documents name a style that is safe. When this fails the importer has been mended.
    _, notes, _ = engraved(marked("runs", "tenor-f", UNSAFE))
    assert notes > plain_notes
