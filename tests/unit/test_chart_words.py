"""Charts in every language: one list of sheets, names of notes, longer words, nothing forgotten."""

import pytest
from long_words import LongWords
from madeup import outside_brackets

from handslide.edges.files.horns import HORN_FILES
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadUsage
from handslide.ground.notenames import LANGUAGES
from handslide.ground.papers import CHART_PAPERS
from handslide.jobs.chart.chart import ChartOptions, chart
from handslide.jobs.chart.kinds import SHEETS
from handslide.jobs.setup import make_setup
from handslide.sheets.shapes import MARKS, leaving_page, overlapping_texts
from handslide.studio.charts.charts import ORIENTATIONS
from handslide.words.charts import SHEETS as SHEET_WORDS
from handslide.words.names import names
from handslide.words.speech import speech

FITTED = """closed_hz = 58.27
travel_mm = 650
uncertainty_at_mm = [0, 650]
[[uncertainties]]
valves = []
half_width_mm = [2, 28]
[[deviations]]
partial = 5
cents = 10
[[deviations]]
partial = 2
cents = 4
"""
# Wishes, and the limits of the student.
WISHES = (
    ({}, {}),
    ({"paper": "letter", "student": "Mira Holt-Sewandono the Younger"}, {"reach": 6}),
    ({"landscape": True, "clef": "treble-bb"}, {"reach": 3.5, "marks": "letter valve"}),
    ({"low": "Bb2", "high": "D3"}, {"reach": 4}),
    ({"landscape": True, "paper": "letter"}, {"learned": (), "marks": "number roman"}),
)


@pytest.fixture(scope="module")
def fitted(tmp_path_factory):
    path = tmp_path_factory.mktemp("horn") / "fitted.toml"
    path.write_text(FITTED, encoding="utf-8")
    return str(path)


def drawn(horn, sheet, wish, limits, say):
    """The pages of a sheet; none where this horn has no such sheet."""
    against = make_setup("bass-independent") if SHEETS[sheet].second_horn else None
    try:
        return chart(make_setup(horn, **limits), ChartOptions(sheet=sheet, **wish), say, against)
    except BadUsage as error:
        assert error.fact.kind in ("charts.no_valve", "charts.sheet_empty", "charts.range_empty")
        return None


def test_every_choice_has_a_name():
    for what, known in (
        ("sheet", SHEETS), ("sheet_about", SHEETS), ("clef", CLEFS), ("paper", CHART_PAPERS),
        ("note_names", LANGUAGES), ("orientation", ORIENTATIONS),
    ):  # fmt: skip
        assert list(names()[what]) == list(known), what
    assert list(SHEET_WORDS) == list(SHEETS)


@pytest.mark.sample
@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("horn", [*HORN_FILES.ours, "fitted"])
def test_longer_words_neither_collide_nor_leave_the_page(horn, sheet, fitted):
    say = LongWords("en", "german")
    pages = 0
    for wish, limits in WISHES:
        made = drawn(fitted if horn == "fitted" else horn, sheet, wish, limits, say)
        for page in made.pages if made else ():
            pages += 1
            assert overlapping_texts(page) == []
            assert leaving_page(page, 8.0) == []
            for text in page.texts:
                assert text.size_pt >= (8.0 if text.face == MARKS else 7.0), text
    assert pages or sheet == "valve"


@pytest.mark.sample
@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("horn", ["tenor-f", "bass-dependent", "fitted"])
def test_nothing_on_a_chart_is_forgotten_by_the_translators(horn, sheet, fitted):
    say = speech("zz")
    for wish, limits in WISHES:
        made = drawn(fitted if horn == "fitted" else horn, sheet, wish, limits, say)
        if made is None:
            continue
        student = wish.get("student", "")
        assert outside_brackets(made.title, [student]) == []
        assert made.language == "zz"
        for page in made.pages:
            # A message may be wrapped over several texts.
            said = " ".join(text.text for text in page.texts)
            assert outside_brackets(said, [student, "fitted"]) == []


def test_notes_are_named_as_the_language_does_unless_others_are_wished():
    setup = make_setup("tenor")

    def shown(say, naming=None):
        (page,) = chart(setup, ChartOptions(sheet="grid", names=naming), say).pages
        return {text.text for text in page.texts}

    assert {"B♭2/A♯2", "B2"} <= shown(speech("en"))
    assert {"B/Ais", "H"} <= shown(speech("en"), "german")
    assert {"si♭/la♯", "si"} <= shown(speech("en", "do"))
    assert {"B♭2/A♯2", "B2"} <= shown(speech("en", "do"), "english")
