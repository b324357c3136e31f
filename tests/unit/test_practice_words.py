"""Practice sheets in every language: longer words fit, and nothing is said that isn't a message."""

import pytest
from command import run
from long_words import LongWords
from lxml import etree
from madeup import outside_brackets
from musicxml_build import OWN_SCORES
from pdf_boxes import outside, overlaps, read_pages

from handslide.drills.kinds import DRILLS
from handslide.drills.troublespots import TroubleSpot
from handslide.edges.musicxml.read import open_score
from handslide.edges.typesetting.worksheet import typeset_worksheet
from handslide.jobs.practice.drill import DrillWishes, make_drill
from handslide.jobs.practice.lesson import LessonWishes, make_lesson
from handslide.jobs.setup import make_setup
from handslide.words.speech import speech

FAULTS = (
    TroubleSpot(48, (), 3, 46, 24.0, -10.0),
    TroubleSpot(57, (), 4, slide_mm=9.2),
    TroubleSpot(58, (), 4, slide_mm=12.0),
    TroubleSpot(50, cents=-20.0),
    TroubleSpot(53),
)
PART = OWN_SCORES / "Slama_01.musicxml"
# What users wrote, what the files of horns call them, and what is typed.
OWN = (
    "Mira Holt", "66 Etudes, Number 1", "Trombone",
    *(make_setup(horn).horn.title for horn in ("tenor", "tenor-f")),
)  # fmt: skip
TYPED = (*DRILLS, ".mp3", ".mid", ".wav", ".flac", ".ogg", "x.txt")


def sheet_of(kind, level="second-year"):
    wishes = DrillWishes(level=level, pieces=5, student="Mira Holt", faults=FAULTS)
    return make_drill(make_setup("tenor-f", reach=7.0), kind, wishes, 3)


def lesson():
    wishes = LessonWishes(student="Mira Holt", faults=FAULTS, clef="treble-bb")
    return make_lesson(open_score(PART), make_setup("tenor-f", reach=6.0), wishes, 2)


def clashes(pages):
    return [pair for page in pages for pair in overlaps(page, 0.45)]


@pytest.mark.sample
@pytest.mark.parametrize("kind", DRILLS)
def test_longer_words_fit_on_drill_sheets(kind):
    say = LongWords("en", "german")
    pages = read_pages(sheet_of(kind).pdf(say))
    assert [outside(page, 5.0) for page in pages] == [[]] * len(pages)
    assert clashes(pages) == []


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_longer_words_fit_on_a_lesson_sheet(paper):
    made = typeset_worksheet(lesson().worksheet(LongWords("en", "german"), paper))
    pages = read_pages(made)
    assert [outside(page, 5.0) for page in pages] == [[]] * len(pages)
    assert [(a.text, b.text) for a, b in clashes(pages) if (a.text, b.text) != ("Q", "u")] == []


def printed(sheet):
    """All texts of a worksheet but those in its music."""
    yield from (sheet.title, sheet.subtitle, sheet.student_line, sheet.horn_line, *sheet.cautions)
    for group in sheet.groups:
        yield from (group.heading, group.note)
        for one in group.exercises:
            yield from (one.title, one.instruction, one.music_alt)
    yield from (words for _, words in sheet.legend)
    if sheet.log is not None:
        log = sheet.log
        yield from (log.heading, log.note, log.what, *log.days, log.reached, log.minutes)
        for row in log.rows:
            yield from row


def music_words(data):
    """The words of a score: titles, and what stands under its notes."""
    root = etree.fromstring(data)
    names = [root.findtext("work/work-title"), *(one.text for one in root.iter("words"))]
    # A remark may go over several lines.
    remarks = (" ".join(one.itertext("text")) for one in root.iter("note"))
    return [*names, *remarks]


@pytest.mark.sample
@pytest.mark.parametrize("kind", DRILLS)
def test_nothing_on_a_drill_sheet_is_forgotten_by_the_translators(kind):
    say = speech("zz")
    sheet = sheet_of(kind, ("first-year", "advanced")[list(DRILLS).index(kind) % 2])
    worksheet = sheet.worksheet(say)
    assert worksheet.language == "zz"
    said = [*printed(worksheet), *music_words(sheet.musicxml(say))]
    assert {text: words for text in said if (words := outside_brackets(text, OWN))} == {}


def test_nothing_on_a_lesson_sheet_is_forgotten_by_the_translators():
    said = list(printed(lesson().worksheet(speech("zz"))))
    assert {text: words for text in said if (words := outside_brackets(text, OWN))} == {}


@pytest.mark.parametrize(
    "command",
    [
        ("drill", "scales", "--reach", 5, "--clef", "treble-bb", "--no-pdf"),
        ("drill", "alternates", "--no-pdf"),
        ("drone", "Bb2", "--chord", "major", "--just", "--length", 1),
        ("lesson", PART, "--student", "Mira Holt", "-o", "x.pdf"),
        ("playalong", PART, "--tempo", 200, "-o", "x.wav"),
    ],
    ids=lambda command: command[0],
)
def test_nothing_that_a_command_says_is_forgotten_by_the_translators(
    command, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    said = run(*command, "--language", "zz").stdout
    files = [path.name for path in tmp_path.iterdir()]
    assert outside_brackets(said, [*OWN, *files]) == []


@pytest.mark.parametrize(
    "command",
    [
        ("drill", "slurs", "--key", "Bb"),
        ("drill", "scales", "--range", "E2-F2"),
        ("drill", "scales", "--key", "E", "--octaves", 2, "--range", "E2-D4", "--valve-register"),
        ("drill", "register", "--horn", "tenor"),
        ("drill", "accuracy", "--range", "E2-E2"),
        ("drill", "trouble-spots"),
        ("drone", "Bb2", "Bb2"),
        ("drone", "Bb2", "--length", 0),
        ("drone", "Bb2", "-o", "x.mid"),
        ("playalong", PART, "--measures", "3-99"),
        ("playalong", PART, "--tempo", 5),
        ("lesson", PART, "-o", "x.txt"),
    ],
)
def test_no_error_is_forgotten_by_the_translators(command, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    said = run(*command, "--language", "zz", code=2).stderr
    assert outside_brackets(said, [*OWN, *TYPED]) == []
