"""Takes in any language: no word that isn't a message, the same numbers, room for longer words."""

import pytest
from command import run, run_json
from invented import DEMO
from long_words import LongWords
from madeup import outside_brackets
from old_sentences import SENTENCES
from played import follow_samples, placed, play_part, write_wav

from handslide.edges.files.factjson import fact_of_json
from handslide.edges.store import oldsentences as old
from handslide.jobs.hear.free import free_report
from handslide.jobs.hear.partreport import part_report
from handslide.jobs.hear.sheet import take_sheet
from handslide.jobs.setup import make_setup
from handslide.sheets.shapes import leaving_page, overlapping_texts
from handslide.words.speech import speech

SETUP = make_setup("tenor-f")
ROWS = placed(SETUP, DEMO)[:42]
MODEL = "Tenor trombone in B♭ with F valve"
TITLE = "Lanterns on the Quay"
MADE_UP = speech("zz")
TEXTS = {"words", "text", "why", "what", "how"}
# Written dynamics are the same in every language.
SIGNS = ["p", "mf"]


def slip(number, place, before):
    if number == 9:
        return None
    return -15.0 if abs(place.position - 3) < 0.2 and not place.valves else 4.0 * (number % 3)


@pytest.fixture(scope="module")
def wav(tmp_path_factory):
    path = tmp_path_factory.mktemp("take") / "take.wav"
    return write_wav(path, play_part(SETUP, ROWS, slip))


@pytest.fixture(scope="module")
def followed():
    return follow_samples(play_part(SETUP, ROWS, slip), DEMO, SETUP)


@pytest.fixture(scope="module")
def reports(followed):
    return part_report(followed), free_report(followed.take, SETUP, TITLE)


def without_texts(told):
    if isinstance(told, dict):
        return {key: without_texts(held) for key, held in told.items() if key not in TEXTS}
    return [without_texts(held) for held in told] if isinstance(told, list) else told


def test_the_terminal(wav, tmp_path):
    page = tmp_path / "page.pdf"
    words = ("--language", "zz")
    said = run("listen", wav, "--score", DEMO, "--horn", "tenor-f", "--pdf", page, *words).stdout
    assert outside_brackets(said, [TITLE, MODEL, str(page), *SIGNS]) == []
    assert outside_brackets(run("listen", wav, *words).stdout) == []
    for wrong, code in (
        (("--a4", 44), 1),
        (("--pdf", page), 2),
        (("--a4", 440, "--estimate-a4"), 2),
    ):
        assert outside_brackets(run("listen", wav, *wrong, *words, code=code).stderr) == []


def test_the_same_numbers_in_every_language(wav):
    words = ("listen", wav, "--score", DEMO, "--horn", "tenor-f")
    english, german = (run_json(*words, "--language", code) for code in ("en", "de"))
    assert without_texts(english) == without_texts(german)
    assert english["habits"][0]["words"] != german["habits"][0]["words"]


def test_the_sheet(reports):
    for report in reports:
        sheet = take_sheet(report, MADE_UP, "Mira", stored=True)
        said = " ".join(text.text for page in sheet.pages for text in page.texts)
        # A sentence may be parted by the end of a line.
        names = [MADE_UP.note(note.pitch) for note in report.notes]
        assert outside_brackets(said, [TITLE, MODEL, "Mira", *names, *SIGNS]) == []


def test_longer_words_have_room(reports):
    for report in reports:
        for page in take_sheet(report, LongWords("en"), "Mira", stored=True).pages:
            assert overlapping_texts(page) == []
            assert leaving_page(page, 8.0) == []


@pytest.mark.parametrize(
    ("table", "sentence"), [(name, one) for name, those in SENTENCES.items() for one in those]
)
def test_every_fact_is_a_message(table, sentence):
    told = fact_of_json(old.fact_of(getattr(old, table), sentence))
    allowed = ["Dad's old horn · it's heavy", "X1"]
    assert outside_brackets(MADE_UP.fact(told), allowed) == []
    for code in ("de", "es", "fr"):
        assert speech(code).fact(told)
