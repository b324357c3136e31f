"""Note sheets: what they show, and that the printed page is clean, on the PDF's own boxes."""

import os

import pytest
from pdf_boxes import outside, overlaps, read_pages

from handslide.edges.files.horns import HORN_FILES
from handslide.edges.typesetting.drawing import render
from handslide.ground.clefs import CLEFS
from handslide.ground.errors import BadUsage
from handslide.ground.notenames import class_name, full_name
from handslide.ground.pitch import from_midi, parse_pitch
from handslide.jobs.chart.chart import ChartOptions
from handslide.jobs.chart.chart import chart as chart_for
from handslide.jobs.chart.content import ChartRequest, chart_notes, default_clef, default_range
from handslide.jobs.setup import make_setup
from handslide.sheets.shapes import MARKS, leaving_page, overlapping_texts
from handslide.words.speech import speech

NOTE_SHEETS = ("all", "valve", "open", "alternates")
ENGLISH = speech("en")


def chart(setup, options):
    return chart_for(setup, options, ENGLISH)


def charted(setup, **wishes):
    wishes = {"pedals": False} | wishes
    request = ChartRequest("all", setup, ENGLISH, default_clef(setup.horn), "a4", **wishes)
    return chart_notes(request)


def notes_of(horn):
    return {note.pitch.name: note for note in charted(make_setup(horn))}


# First places of the open horn as slide charts print them: E. g. the position table in "Slide
# positions" of the tutors named in the manual, and common practice for the raised 2nd and 3rd.
PUBLISHED = {
    "E2": "7", "F2": "6", "Gb2": "5", "G2": "4", "Ab2": "3", "A2": "2", "Bb2": "1", "B2": "7",
    "C3": "6", "Db3": "5", "D3": "4", "Eb3": "3", "E3": "2", "F3": "1", "Gb3": "5", "G3": "4",
    "Ab3": "3", "A3": "2", "Bb3": "1", "B3": "4", "C4": "3", "Db4": "2", "D4": "1", "Eb4": "3",
    "E4": "2", "F4": "1", "Gb4": "♯3", "G4": "♯2", "Ab4": "3", "A4": "2", "Bb4": "1",
}  # fmt: skip


def test_shortest_places_of_the_straight_horn_agree_with_published_tables():
    notes = notes_of("tenor")
    assert list(notes) == list(PUBLISHED)
    shortest = {
        name: next(place.mark for place in note.places if place.shortest)
        for name, note in notes.items()
    }
    assert shortest == PUBLISHED
    assert {name: note.places[0].mark for name, note in notes.items()} == PUBLISHED


# common practice: the six notes of the F valve below E, and the four that it saves from 6th and 7th
VALVE = {
    "C2": "T7½", "Db2": "T6", "D2": "T5", "Eb2": "T3½", "E2": "T♭2", "F2": "T1", "B2": "T♭2",
    "C3": "T1",
}  # fmt: skip


def test_valve_notes_agree_with_general_practice():
    notes = notes_of("tenor-f")
    valve = {name: n.places[0].mark for name, n in notes.items() if n.places[0].place.valves}
    assert valve == VALVE
    assert "B1" not in notes


def test_alternates_of_the_fourth_and_sixth_position():
    # D06, D05 of the published statements: B flat 3 in 1st or 5th; F4 in 1st, 4th or 6th
    notes = notes_of("tenor")
    assert {place.mark for place in notes["Bb3"].places} == {"1", "5"}
    assert {place.mark for place in notes["F4"].places} == {"1", "♯4", "6"}
    assert {place.mark for place in notes["D4"].places} == {"1", "4", "♯7"}


def test_sheets_choose_their_notes():
    assert all(n.places[0].place.valves for n in notes_of("tenor-f").values() if n.name == "C2")
    pages = chart(make_setup("tenor-f"), ChartOptions(sheet="valve")).pages
    texts = {text.text for page in pages for text in page.texts}
    assert "T7½" in texts
    assert "G♭3" not in texts
    open_pages = chart(make_setup("tenor-f"), ChartOptions(sheet="open")).pages
    marks = {t.text for page in open_pages for t in page.texts if t.face == MARKS}
    assert not any(mark.startswith("T") for mark in marks)
    with pytest.raises(BadUsage, match="has no valve"):
        chart(make_setup("tenor"), ChartOptions(sheet="valve"))


def test_reach_leaves_out_what_lies_beyond():
    setup = make_setup("tenor", reach=6)
    notes = charted(setup, low="E2", high="C3")
    assert notes[0].pitch.name == "F2"
    assert "B2" not in {note.pitch.name for note in notes}


def test_default_range_goes_from_the_lowest_second_partial_to_the_eighth():
    # common practice: E2 to B flat 4 on a tenor, C2 with an F valve, A2 to E flat 5 on an alto
    ranges = {
        name: tuple(from_midi(m).name for m in default_range(make_setup(name).book))
        for name in ("tenor", "tenor-f", "alto")
    }
    assert ranges == {"tenor": ("E2", "Bb4"), "tenor-f": ("C2", "Bb4"), "alto": ("A2", "Eb5")}


@pytest.mark.parametrize(
    ("low", "high", "says"),
    [("C4", "C3", "upside down"), ("C0", "C8", "six octaves"), ("C8", "D8", "has no note")],
)
def test_impossible_ranges(low, high, says):
    with pytest.raises(BadUsage, match=says):
        chart(make_setup("tenor"), ChartOptions(low=low, high=high))


# Names and clefs


@pytest.mark.parametrize(
    ("note", "german", "do"),
    [
        # common practice (DIN spelling): H is B, B is B flat, As and Es without a second e
        ("B2", "H", "si"),
        ("Bb2", "B", "si♭"),
        ("Eb3", "es", "mi♭"),
        ("Ab3", "as", "la♭"),
        ("C#4", "cis′", "do♯"),
        ("Bbb2", "Heses", "si𝄫"),
        ("Abb2", "Ases", "la𝄫"),
        ("F1", "F₁", "fa"),
        ("C4", "c′", "do"),
        ("Bb5", "b″", "si♭"),
    ],
)
def test_names_in_other_languages(note, german, do):
    pitch = parse_pitch(note)
    assert full_name(pitch, "german") == german
    assert full_name(pitch, "do") == do
    assert class_name(pitch) == full_name(pitch).rstrip("0123456789")


@pytest.mark.parametrize(
    ("clef", "note", "place"),
    [
        # Where the clef sign says so: F3 on the bass clef's line, C4 on the C clefs', G4 on the G's
        ("bass", "F3", 2),
        ("tenor", "C4", 2),
        ("alto", "C4", 0),
        ("treble", "G4", -2),
        ("bass", "C4", 6),
        ("treble", "C4", -6),
    ],
)
def test_clefs_put_notes_on_their_lines(clef, note, place):
    assert CLEFS[clef].place(parse_pitch(note)) == place


def test_brass_band_treble_is_written_a_major_ninth_higher():
    # common practice: the open B flat 2 is written C4
    clef = CLEFS["treble-bb"]
    assert clef.written(parse_pitch("Bb2")).name == "C4"
    assert clef.written(parse_pitch("D3")).midi == parse_pitch("D3").midi + 14


# The printed page

SWEEP = bool(os.environ.get("HANDSLIDE_SWEEP_SEEDS"))


@pytest.mark.sample
@pytest.mark.parametrize("horn", HORN_FILES.ours)
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_pages_are_clean_in_the_pdf_itself(horn, paper):
    """Papers take turns over horns, clefs and sheets in the PDF; `make sweep` makes all."""
    setup = make_setup(horn)
    turn = HORN_FILES.ours.index(horn) + (paper == "a4")
    for at, clef in enumerate(CLEFS, turn):
        for number, sheet in enumerate(NOTE_SHEETS, at):
            if number % 2 and not SWEEP:
                continue
            if sheet == "valve" and not setup.horn.valves:
                continue
            names = ("english", "german", "do")[len(clef) % 3]
            wishes = ChartOptions(sheet=sheet, clef=clef, paper=paper, names=names)
            drawn = chart(setup, wishes)
            for page in drawn.pages:
                assert overlapping_texts(page) == []
                assert leaving_page(page, 8.0) == []
            where = (horn, clef, sheet, paper)
            if number % 6 and not SWEEP:
                continue
            for page in read_pages(render(drawn)[0]):
                sizes = {round(text.size_pt, 1) for text in page.texts if text.text.strip()}
                assert min(sizes) >= 7.0, where
                assert overlaps(page) == [], where
                assert outside(page, 8.0) == [], where


def test_marks_are_at_least_eight_points():
    for page in chart(make_setup("bass-independent"), ChartOptions()).pages:
        assert min(text.size_pt for text in page.texts if text.face == MARKS) >= 8.0


def test_dots_stand_at_the_true_extension():
    from handslide.sheets.shapes import Circle, Line

    setup = make_setup("tenor")
    wishes = ChartOptions(low="Bb2", high="Bb2")
    (page,) = chart(setup, wishes).pages
    dot = next(
        s for s in page.shapes if isinstance(s, Circle) and s.radius_mm == 1.5 and not s.fill
    )
    rules = [s for s in page.shapes if isinstance(s, Line) and s.ink == 0.45]
    assert dot.y_mm == pytest.approx(rules[0].y1_mm)
    # 2nd to 7th position: 0.0876 to 0.6099 of the same length (closed formula, ratio 6.96).
    first, second, last = (rules[k].y1_mm for k in (0, 1, 6))
    wanted = (2 ** (6 / 12) - 1) / (2 ** (1 / 12) - 1)
    assert (last - first) / (second - first) == pytest.approx(wanted, rel=1e-6)


def test_another_horn_file_gives_another_sheet(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text('closed = "C2"\ntravel_mm = 500\n', encoding="utf-8")
    notes = notes_of(str(own))
    assert notes["C3"].places[0].mark == "1"
    assert notes["B2"].places[0].mark == "2"


def test_equal_sheets_give_equal_bytes_and_searchable_text():
    drawn = chart(make_setup("tenor-f"), ChartOptions(student="Mira Holt"))
    data = render(drawn)[0]
    assert data == render(chart(make_setup("tenor-f"), ChartOptions(student="Mira Holt")))[0]
    words = " ".join(text.text for page in read_pages(data) for text in page.texts)
    for word in ("Mira Holt", "A4 = 440 Hz", "25 °C", "T♭2", "E♭3"):
        assert word in words
    assert b"/Lang" in data
    assert b"Where the notes lie" in data or b"/Title" in data


def test_a_fitted_horn_shows_how_far_its_places_are_known(tmp_path):
    from handslide.sheets.shapes import Line

    own = tmp_path / "fitted.toml"
    own.write_text(
        "closed_hz = 58.27\ntravel_mm = 650\nuncertainty_at_mm = [0, 650]\n"
        "[[uncertainties]]\nvalves = []\nhalf_width_mm = [2, 28]\n",
        encoding="utf-8",
    )
    setup = make_setup(str(own))
    (page,) = chart(setup, ChartOptions(low="E2", high="Bb2")).pages
    bars = [
        s for s in page.shapes if isinstance(s, Line) and s.width_mm == 0.35 and s.x1_mm == s.x2_mm
    ]
    # The line from 2 to 28 mm passes 5 mm at 75 mm out: B flat 2 in 1st (0 mm) is known better,
    # the six notes from A2 (88 mm) to E2 worse.
    assert len(bars) == 6
    texts = {text.text for text in page.texts}
    assert any("so far the place is known" in text for text in texts)
    for drawn in chart(setup, ChartOptions()).pages:
        assert overlapping_texts(drawn) == []
    assert not any(
        "place is known" in text.text
        for drawn in chart(make_setup("tenor"), ChartOptions()).pages
        for text in drawn.texts
    )
