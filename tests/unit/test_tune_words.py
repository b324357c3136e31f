"""Tuning, fitting and progress in any language: no word that isn't a message, the same numbers."""

from pathlib import Path

import pytest
from command import run, run_json
from madeup import outside_brackets
from progress_students import give_student, give_takes, learner
from studio_pages import studio

from handslide.ground.facts import fact
from handslide.studio.progress.progress import progress_of
from handslide.studio.progress.sheet import progress_sheet
from handslide.words.speech import speech

__all__ = ["studio"]  # a fixture

ROWS = Path(__file__).resolve().parents[2] / "examples" / "fit.csv"
MODELS = (
    "Tenor trombone in B♭ with F valve", "Bass trombone in B♭ with independent F and G♭ valves",
)  # fmt: skip
TEXTS = {"text", "why", "how", "what", "name", "title", "row"}
TUNED = (
    ("tune", "--horn", "tenor-f", "--open", 174.0, "--valve", 172.0),
    ("tune", "--horn", "tenor-f", "--open", 174.0, "--valve", 174.3),
    ("tune", "--main", "Bb3=231.5", "--horn", "bass-independent", "--temp-c", 20),
    ("tune", "--main", "D4=293.6", "--play-temp-c", 30),
    ("tune", "--horn", "bass-independent", "--with", "F", "--note", "F3=174.2"),
    ("tune", "--horn", "bass-independent", "--with", "F,Gb", "--note", "D3=146.16"),
    ("tune", "--horn", "tenor-f", "--e-pull"),
)


def without_texts(told):
    if isinstance(told, dict):
        return {key: without_texts(held) for key, held in told.items() if key not in TEXTS}
    return [without_texts(held) for held in told] if isinstance(told, list) else told


@pytest.mark.parametrize("words", TUNED, ids=lambda words: " ".join(map(str, words[1:5])))
def test_tuning(words):
    assert outside_brackets(run(*words, "--language", "zz").stdout) == []
    english, german = (run_json(*words, "--language", code) for code in ("en", "de"))
    assert without_texts(english) == without_texts(german)
    assert english["text"] != german["text"]


def test_fitting(tmp_path):
    rows = tmp_path / "rows.csv"
    rows.write_text(ROWS.read_text("utf-8") + "D4,233.5,,5,0\nC3,131,F,3,450\n", "utf-8")
    words = ("fit", rows, "--horn", "tenor-f")
    target = tmp_path / "own.toml"
    said = run(*words, "-o", target, "--language", "zz").stdout
    assert outside_brackets(said, [*MODELS, "tenor-f", str(target)]) == []
    comments = [line.partition("#")[2] for line in target.read_text("utf-8").splitlines()]
    assert outside_brackets(" ".join(comments), MODELS) == []
    english, german = (run_json(*words, "--language", code) for code in ("en", "de"))
    assert without_texts(english) == without_texts(german)
    kinds = [row["why_kind"] for row in german["left_out"]]
    assert kinds == ["fitting.other_note", "fitting.no_partial"]


def test_what_a_fit_noticed_has_its_way_and_number():
    say = speech().fact
    one, more = (450.0,), (300.0, 600.0)
    assert "The mark at 450 mm seems 12 mm further out" in say(
        fact("fitting.marks_off", off_mm=12.0, marks_mm=one)
    )
    assert "All marks (300 mm and 600 mm) seem 12 mm further in" in say(
        fact("fitting.marks_off", off_mm=-12.0, marks_mm=more)
    )
    assert "at 320 mm seems 20 mm further in than the others" in say(
        fact("fitting.mark_off", off_mm=-20.0, mark_mm=320.0)
    )
    assert "cooled by about 6 cents" in say(fact("fitting.horn_drifted", cents=-6.0))


@pytest.mark.parametrize(
    ("words", "code", "data"),
    [
        (("tune", "--main", "Bb3=466"), 1, ()),
        (("tune", "--horn", "tenor-f", "--open", 200, "--valve", 200.2), 1, ()),
        (("tune", "--note", "F3=174.2", "--horn", "bass-independent"), 2, MODELS),
        (("fit", ROWS, "--horn", "tenor"), 1, ("Tenor trombone in B♭",)),
        (("fit", ROWS, "--horn", "tenor-f", "--no-thermometer"), 1, ()),
        (("fit", "nothing.csv"), 1, ("nothing.csv",)),
    ],
)
def test_errors(words, code, data):
    said = run(*words, "--language", "zz", code=code).stderr
    assert outside_brackets(said, data) == []


def test_progress(studio):
    title = "Lanterns on the Quay"
    student, stand = give_student(studio)
    give_takes(studio, student, stand, learner, faults=0.12)
    words = ("progress", student.id, "--folder", studio.folder)
    user = [student.name, title, *MODELS, "August", "November"]
    said = run(*words, "--language", "zz").stdout
    assert outside_brackets(said, user) == []
    english, german = (run_json(*words, "--language", code) for code in ("en", "de"))
    assert without_texts(english) == without_texts(german)
    sheet = progress_sheet(progress_of(studio, student.id), speech("zz"))
    for page in sheet.pages:
        # Rows of a paragraph have its brackets at both ends only.
        said = " ".join(text.text for text in page.texts)
        assert outside_brackets(said, user) == []
