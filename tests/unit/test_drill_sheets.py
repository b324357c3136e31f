"""Drill sheets: every kind on every horn, playable, valid, and printed without a clash.

Levels take turns over horns and kinds, and a sample of seeds is made; `make sweep` makes all.
"""

import json
import os
import random
from dataclasses import replace
from importlib import import_module

import pytest
from command import one_sentence, run, run_json
from drill_words import SAY, remark_of, text_of, title_of
from lxml import etree
from musicxml_build import schema
from pdf_boxes import outside, overlaps, read_pages

from handslide.drills.keys import KINDS as SCALES
from handslide.drills.kinds import DIRECTIONS, DRILLS, EVERY_WEEK, IN_TURN
from handslide.drills.levels import LEVELS
from handslide.drills.rhythms import ARTICULATION_NAMES, RHYTHMS
from handslide.drills.troublespots import TroubleSpot
from handslide.edges.engraving.engrave import paper_named
from handslide.edges.engraving.shapes import SVG, Glyphs, ink, is_kind
from handslide.edges.files.horns import HORN_FILES
from handslide.edges.musicxml.read import read_score
from handslide.edges.typesetting.worksheet import typeset_worksheet
from handslide.ground.errors import BadUsage, HandslideError
from handslide.ground.temperament import CHORDS
from handslide.instrument.heardplace import m_per_cent
from handslide.jobs.practice.drill import OF_SCALES, DrillWishes, drill_pieces, make_drill
from handslide.jobs.practice.faults import faults_of
from handslide.jobs.practice.music import struck
from handslide.jobs.practice.soundwishes import SOLO_GAINS
from handslide.jobs.setup import make_setup
from handslide.words.drills import CHOICE_NAMES, DIRECTION_NAMES, SCALE_TITLES, instruction
from handslide.words.names import names
from handslide.words.speech import speech

SWEEP = int(os.environ.get("HANDSLIDE_SWEEP_SEEDS", "0"))
MADE = tuple(kind.name for kind in DRILLS.values() if not kind.from_report)


def check(sheet, xsd) -> None:
    """Every bar is full, every note lies in its place within the limits, the file is valid."""
    data = sheet.musicxml(SAY)
    root = etree.fromstring(data)
    assert xsd.validate(root), xsd.error_log
    for part in root.iter("part"):
        numbers = [measure.get("number") for measure in part.iter("measure")]
        assert numbers == [str(k) for k in range(1, len(numbers) + 1)]
    assert len(numbers) == sum(len(one.piece.bars) for one in sheet.pieces)
    marks = []
    for one in sheet.pieces:
        for bar in one.piece.bars:
            assert sum(note.beats for note in bar) == one.piece.bar_beats
        notes = struck(one.piece)
        part = one.marked.part
        assert [n.sounding.midi for n in part.notes] == [n.pitch.midi for n in notes]
        assert one.marked.found == ()
        for number, note in enumerate(notes):
            place = one.marked.routed.places[number]
            assert place in sheet.setup.book.places(note.pitch.midi)
            if note.lock is not None:
                assert (place.valves, place.partial) == note.lock
            marks.append(one.marked.routed.marks[number])
    student, *_ = root.iter("part")
    assert [one.text for one in student.iter("fingering")] == marks


@pytest.mark.sample
@pytest.mark.parametrize("horn", HORN_FILES.ours)
def test_every_kind_on_every_horn_at_levels_by_turns(horn):
    xsd = schema()
    setup = make_setup(horn)
    pieces = 4 if SWEEP else 2
    made = refused = 0
    first = HORN_FILES.ours.index(horn)
    for number, kind in enumerate(MADE, first):
        for level in tuple(LEVELS) if SWEEP else [tuple(LEVELS)[number % len(LEVELS)]]:
            try:
                sheet = make_drill(setup, kind, DrillWishes(level=level, pieces=pieces), 3)
            except BadUsage as error:
                refused += 1
                assert str(error)
                assert kind in ("register", "alternates")
                continue
            made += 1
            check(sheet, xsd)
    assert made >= (len(LEVELS) if SWEEP else 1) * (len(MADE) - 2), refused


def test_any_seeds_are_valid():
    xsd = schema()
    rng = random.Random(4)
    setups = [make_setup(horn, reach=reach) for horn in ("tenor-f", "alto", "bass-dependent")
              for reach in (None, 5.0)]  # fmt: skip
    made = 0
    count = SWEEP or 30
    for seed in range(count):
        wishes = DrillWishes(level=rng.choice(tuple(LEVELS)), pieces=2)
        try:
            sheet = make_drill(rng.choice(setups), rng.choice(MADE), wishes, seed)
        except BadUsage:
            continue
        check(sheet, xsd)
        made += 1
    assert made > 0.85 * count


@pytest.mark.parametrize("kind", MADE)
def test_a_seed_is_a_sheet(kind):
    def made(seed):
        return make_drill(setup, kind, DrillWishes(pieces=2), seed).musicxml(SAY)

    setup = make_setup("tenor-f")
    first = made(5)
    assert made(5) == first
    assert any(made(seed) != first for seed in range(6, 10))


@pytest.mark.sample
@pytest.mark.parametrize("kind", MADE)
def test_nothing_is_cut_or_overlaps_in_print(kind):
    """Horn and paper take turns over the kinds."""
    turn = MADE.index(kind) % 2
    horn, paper = ("alto", "letter") if turn else ("tenor-f", "a4")
    try:
        sheet = make_drill(make_setup(horn), kind, DrillWishes(level="advanced", pieces=5), 2)
    except BadUsage:
        pytest.skip("this horn has none")
    # What `pdf` does, engraved once.
    worksheet = sheet.worksheet(SAY, paper)
    pdf = typeset_worksheet(worksheet)
    assert b"pdfaid:part" in pdf and b"/StructTreeRoot" in pdf
    assert all(one.table is None for group in worksheet.groups for one in group.exercises)
    pages = read_pages(pdf)
    assert_clean(pages)
    marks = [text for page in pages for text in page.texts if text.text.strip()]
    assert min(text.size_pt for text in marks) >= 8.0
    shown = "".join(text.text for page in pages for text in page.texts).replace(" ", "")
    for one in sheet.pieces:
        assert title_of(one.piece).replace(" ", "") in shown


def assert_clean(pages) -> None:
    for page in pages:
        assert outside(page, 5.0) == []
        # Letters of one word lean over each other a little (f, r): only real clashes count.
        assert [(a.text, b.text) for a, b in overlaps(page, 0.45)] == []


def test_an_exercise_is_not_torn_over_two_pages():
    sheet = make_drill(make_setup("tenor-f"), "accuracy", DrillWishes(pieces=6), 1)
    worksheet = sheet.worksheet(SAY)
    assert all(len(one.music) == 1 for group in worksheet.groups for one in group.exercises)
    pages = read_pages(typeset_worksheet(worksheet))
    assert len(pages) > 1
    for one in sheet.pieces:
        words = text_of(one.piece).split()[-1]
        assert words
        on = [
            k
            for k, page in enumerate(pages)
            if any(title_of(one.piece) in t.text for t in page.texts)
        ]
        assert len(on) == 1


@pytest.mark.parametrize(
    ("kind", "shares"), [("long-tones", [4]), ("accuracy", [2, 2]), ("alternates", [4])]
)
def test_no_exercise_stands_alone_on_the_last_page(kind, shares):
    sheet = make_drill(make_setup("tenor"), kind, DrillWishes(level="advanced"), 1)
    pages = read_pages(sheet.pdf(SAY))
    assert_clean(pages)
    titles = [title_of(one.piece) for one in sheet.pieces]
    shown = ["".join(text.text for text in page.texts) for page in pages]
    assert [sum(title in words for title in titles) for words in shown] == shares


def test_music_is_small_where_that_saves_a_page():
    wishes = DrillWishes(level="second-year")
    short = make_drill(make_setup("tenor", reach=3.0), "slurs", wishes, 128)
    worksheet = short.worksheet(SAY)
    assert worksheet.small
    pages = read_pages(typeset_worksheet(worksheet))
    assert_clean(pages)
    assert len(pages) == 1
    assert not make_drill(make_setup("tenor"), "slurs", DrillWishes(pieces=2)).worksheet(SAY).small


def test_no_bar_stands_alone_in_a_last_line():
    setup = make_setup("bass-independent")
    sheet = make_drill(setup, "scales", DrillWishes(level="advanced", pieces=1), 102)
    (page,) = sheet.pieces[0].exercise("1", paper_named("a4"), SAY).music
    lines = [g for g in etree.fromstring(page).iter(f"{SVG}g") if is_kind(g, "system")]
    counts = [sum(is_kind(g, "measure") for g in line.iter(f"{SVG}g")) for line in lines]
    assert counts == [1, 2]


@pytest.mark.parametrize("kind", ["scales", "arpeggios", "thirds"])
@pytest.mark.parametrize(("level", "reach"), [("first-year", 3.0), ("advanced", 5.0)])
def test_a_scale_goes_where_its_words_say_and_comes_home(kind, level, reach):
    first_step = {"up": 1, "down": -1, "up-and-down": 1, "down-and-up": -1}
    setups = {horn: make_setup(horn, reach=reach) for horn in ("tenor", "alto")}
    for seed in range(SWEEP or 6):
        for horn, setup in setups.items():
            pieces, _ = drill_pieces(setup, kind, DrillWishes(level=level), seed)
            for one in pieces:
                midis = [note.pitch.midi for note in struck(one)]
                step = next(midi - midis[0] for midi in midis if midi != midis[0])
                way = one.instruction[0]["ways"][0]
                assert step * first_step[way] > 0, (seed, horn, one.title)
                title = one.title["scale"] if kind == "thirds" else one.title
                if title["name"] not in ("chromatic", "whole-tone"):
                    assert (midis[-1] - title["tonic"].midi) % 12 == 0, (seed, horn, one.title)


def test_an_exercise_longer_than_a_page_begins_under_the_title_and_goes_on():
    wishes = DrillWishes(
        pieces=1, bars=44, scale="chromatic", octaves=2, level="advanced", rhythm="triplets"
    )
    sheet = make_drill(make_setup("tenor-f"), "scales", wishes, 1)
    worksheet = sheet.worksheet(SAY)
    (exercise,) = worksheet.groups[0].exercises
    assert len(exercise.music) > 5
    pages = read_pages(typeset_worksheet(worksheet))
    assert_clean(pages)
    assert len(pages) > 1
    marks = len(sheet.pieces[0].marked.shown)
    # Title and music share the first page, and each page has its share of the marks.
    digits = [sum(t.text.strip().isdigit() for t in page.texts) for page in pages]
    assert digits[0] > marks / len(pages) / 2


def test_the_clef_asked_for_is_written_and_sounds_the_same():
    setup = make_setup("tenor-f")
    sounding = set()
    for clef in (None, "tenor", "treble-bb"):
        sheet = make_drill(setup, "scales", DrillWishes(clef=clef), 1)
        part = read_score(sheet.musicxml(SAY)).read_part()
        sounding.add(tuple(note.sounding.midi for note in part.notes))
    assert len(sounding) == 1


@pytest.mark.parametrize(
    ("kind", "wishes", "words"),
    [
        ("polkas", {}, "isn't a kind of drill"),
        ("slurs", {"key": "Bb"}, "a key can't be chosen for slurs"),
        ("scales", {"clef": "soprano"}, "isn't a clef"),
        ("scales", {"paper": "b5"}, "isn't a paper"),
        ("scales", {"level": "genius"}, "no level called"),
        ("scales", {"rhythm": "polka"}, "no rhythm called"),
        ("scales", {"key": "H"}, "H is the German name"),
        ("scales", {"low": "F4", "high": "F2"}, "range"),
        ("trouble-spots", {}, "nothing to practise"),
    ],
)
def test_one_sentence_for_what_makes_no_sense(kind, wishes, words):
    with pytest.raises(HandslideError, match=words):
        make_drill(make_setup("tenor"), kind, DrillWishes(**wishes))


# Reports.


def test_trouble_spots_of_a_take_beside_a_part():
    def note(name, mark, cents, slide, played="right"):
        return {"note": name, "mark": mark, "cents": cents, "slide_mm": slide, "played": played}

    report = {
        "notes": [
            note("Bb2", "1", 1.0, 0.0),
            note("C3", "6", 22.0, -9.0),
            note("D3", "4", -3.0, 1.0),
            note("C3", "6", 26.0, -11.0),
            note("Eb3", "3", None, None, "missing"),
        ]
    }
    rows = faults_of(report, make_setup("tenor-f"))
    missed, off = rows
    assert missed == TroubleSpot(51, (), 3, 48, None, None)
    assert replace(off, uncertain_mm=0.0) == TroubleSpot(48, (), 3, 46, 24.0, -10.0)
    # Two standard errors of a median of two notes, each 6 cents: 10.6 cents of slide.
    place = next(
        p for p in make_setup("tenor-f").book.places(48) if (p.valves, p.partial) == ((), 3)
    )
    per_cent = 1000.0 * m_per_cent(make_setup("tenor-f").horn, place)
    assert off.uncertain_mm == pytest.approx(per_cent * 2 * 1.2533 * 6.0 / 2**0.5, rel=1e-3)
    sheet = make_drill(make_setup("tenor-f"), "trouble-spots", DrillWishes(faults=rows))
    check(sheet, schema())
    assert "C3" in " ".join(title_of(one.piece) for one in sheet.pieces)


def test_trouble_spots_of_a_take_alone_and_of_weeks():
    setup = make_setup("tenor-f")
    take = {"notes": [{"midi": 50, "cents": c} for c in (-20.0, -24.0)]
            + [{"midi": 53, "cents": 2.0}]}  # fmt: skip
    assert faults_of(take, setup) == (TroubleSpot(50, None, None, None, -22.0, None),)
    group = {
        "kind": "note", "midi": 48, "valves": ["F"], "partial": 2,
        "cents": {"value": 14.0, "low": 7.0, "high": 21.0},
        "slide_mm": 6.0, "right": {"value": 0.9, "low": 0.8, "high": 1.0}, "notes": 12,
    }  # fmt: skip
    wanted = TroubleSpot(48, ("F",), 2, None, 14.0, 6.0, 3.0)
    assert faults_of({"groups": [group]}, setup) == (wanted,)
    # What an unlucky take or two could have made isn't practised.
    for cents in (
        {"value": 14.0, "low": -1.0, "high": 29.0},
        {"value": 14.0, "low": None, "high": None},
        None,
    ):
        assert faults_of({"groups": [group | {"cents": cents}]}, setup) == ()
    missed = group | {"cents": None, "slide_mm": None}
    right = {"value": 0.6, "low": 0.5, "high": 0.7}
    (found,) = faults_of({"groups": [missed | {"right": right}]}, setup)
    assert (found.cents, found.slide_mm) == (None, None)
    assert faults_of({"groups": [missed | {"right": right | {"high": 0.95}}]}, setup) == ()


def test_a_valve_that_is_off_as_a_whole_is_its_tuning_and_not_the_hand():
    def group(kind, midi, partial, cents, slide_mm):
        interval = {"value": cents, "low": cents - 3.0, "high": cents + 3.0}
        return {
            "kind": kind, "midi": midi, "valves": ["F"], "partial": partial, "cents": interval,
            "slide_mm": slide_mm, "right": {"value": 1.0, "low": 0.9, "high": 1.0}, "notes": 9,
        }  # fmt: skip

    setup = make_setup("tenor-f")
    valve = group("valve", None, None, -15.0, None)
    notes = [group("note", 48, 3, -14.0, None), group("note", 37, 2, -17.0, 25.0)]
    own = group("note", 40, 2, 12.0, -18.0)
    faults = faults_of({"groups": [valve, *notes, own]}, setup)
    told = {spot.midi: (spot.cents, spot.slide_mm, spot.of_valve) for spot in faults}
    # Of the valve one note, and what its tuning doesn't explain.
    assert told == {37: (-15.0, None, True), 40: (12.0, -18.0, False)}
    sheet = make_drill(setup, "trouble-spots", DrillWishes(faults=faults))
    kinds = {one.piece.instruction[0].kind for one in sheet.pieces}
    assert kinds == {"drills.valve_low", "drills.too_short"}
    # As `progress` has it, a note's place is its valves and its position.
    asked = group("note", 48, None, 12.0, -9.0) | {"valves": [], "position": 6.0}
    sheet = make_drill(
        setup, "trouble-spots", DrillWishes(faults=faults_of({"groups": [asked]}, setup))
    )
    assert str(dict(sheet.pieces[0].piece.title.items)["place"].position)[0] in "56"
    # Of a valve alone the note is on that valve, also where its usual place is open.
    spot = TroubleSpot(53, ("F",), cents=-15.0, of_valve=True)
    sheet = make_drill(setup, "trouble-spots", DrillWishes(faults=(spot,)))
    assert dict(sheet.pieces[0].piece.title.items)["place"].valves == ("F",)
    # With the slide closed the valve is in tune: it is the hand.
    closed = group("note", 41, 3, 1.0, None) | {"position": 1.03}
    hand = faults_of({"groups": [valve, *notes, closed]}, setup)
    assert hand and not any(spot.of_valve for spot in hand)
    unsure = valve | {"cents": {"value": -15.0, "low": -31.0, "high": 1.0}}
    assert not any(spot.of_valve for spot in faults_of({"groups": [unsure, *notes]}, setup))


@pytest.mark.parametrize("cents", [12.0, -14.0])
def test_what_a_whole_take_is_off_by_makes_no_millimetres(cents):
    names = [("Bb2", "1"), ("C3", "6"), ("D3", "4"), ("Eb3", "3"), ("F3", "1"), ("Bb3", "1")] * 2
    notes = [
        {"note": name, "mark": mark, "cents": cents + k % 3 - 1, "slide_mm": -cents * 0.8,
         "played": "right"}
        for k, (name, mark) in enumerate(names)
    ]  # fmt: skip
    setup = make_setup("tenor-f")
    assert faults_of({"notes": notes}, setup) == ()
    # One note that is off beside the rest is told by what it is off beside the rest.
    for note in notes:
        if note["note"] == "D3":
            note["cents"] += 25.0
            note["slide_mm"] = None
    (row,) = faults_of({"notes": notes}, setup)
    assert row.midi == 50 and row.cents == pytest.approx(25.0, abs=2.0)


def test_millimetres_are_said_only_where_they_can_be_told():
    setup = make_setup("tenor-f")
    sure = TroubleSpot(50, (), 3, None, 20.0, -10.0, 4.0)
    for row, says_mm in ((sure, True), (replace(sure, uncertain_mm=11.0), False)):
        sheet = make_drill(setup, "trouble-spots", DrillWishes(faults=(row,)))
        (piece,) = sheet.pieces
        said = instruction(SAY, piece.piece.instruction)
        assert ("10 mm (a fingertip) too short" in said) is says_mm
        assert ("against a drone" in said) is not says_mm


@pytest.mark.parametrize(
    "data", [[], {}, {"notes": 3}, {"notes": [{}]}, {"notes": [{"midi": "x", "cents": 1}]},
             {"groups": [{"kind": "note", "midi": 50}]}, {"notes": [{"midi": 1e9, "cents": 50}]},
             {"notes": [{"midi": 60, "cents": float("nan")}]},
             {"notes": [{"midi": float("inf"), "cents": 50}]}],
)  # fmt: skip
def test_what_is_no_report_is_refused_in_a_sentence(data):
    with pytest.raises(HandslideError, match="report"):
        faults_of(data, make_setup("tenor"))


# The registry.


def test_each_kind_has_a_maker_and_a_name_and_nothing_else_has_one():
    for kind in DRILLS.values():
        module, _, maker = kind.maker.partition(".")
        assert callable(getattr(import_module(f"handslide.drills.{module}"), maker))
        assert set(kind.scales) in (set(), set(LEVELS))
        for scales in kind.scales.values():
            assert all(kind.scale_named(name) == name for name in scales)
    assert set(names()["drill"]) == set(names()["drill_about"]) == set(DRILLS)
    assert {*EVERY_WEEK, *IN_TURN} < set(DRILLS)


@pytest.mark.parametrize(
    ("table", "registry"),
    [
        (names()["level"], LEVELS),
        (names()["scale"], SCALES),
        (SCALE_TITLES, SCALES),
        (names()["rhythm"], RHYTHMS),
        (names()["articulation"], ARTICULATION_NAMES),
        (DIRECTION_NAMES, DIRECTIONS),
        (CHOICE_NAMES, OF_SCALES),
        (names()["chord"], CHORDS),
        (names()["solo"], SOLO_GAINS),
    ],
)
def test_what_can_be_chosen_has_a_name(table, registry):
    assert tuple(table) == tuple(registry)


@pytest.mark.parametrize(
    ("say", "key", "title"),
    [
        (SAY, "Bb", "B♭ harmonic minor scale"),
        (speech("de", "german"), "Bb", "b-Moll"),
        (speech("de", "german"), "G#", "gis-Moll"),
        (speech("es", "do"), "Bb", "Escala de si "),
        (speech("fr", "do"), "Bb", "Gamme de si "),
        (speech("fr"), "Eb", "Gamme de mi bémol mineur"),
        (speech("es"), "F#", "Escala de fa sostenido menor"),
    ],
)
def test_keys_are_named_as_the_language_names_them(say, key, title):
    wishes = DrillWishes(scale="harmonic-minor", key=key, pieces=1, level="advanced")
    (one,) = make_drill(make_setup("tenor"), "scales", wishes).pieces
    assert one.title(say).startswith(title)


# The command.


def test_drill_writes_both_files_and_keeps_what_is_there(tmp_path):
    args = ["drill", "scales", "--horn", "tenor-f", "--key", "Bb", "-o", tmp_path]
    run(*args)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["scales.musicxml", "scales.pdf"]
    assert "exists already" in one_sentence(run(*args, code=1))
    found = run_json(*args, "--force")
    assert found["kind"] == "scales" and len(found["exercises"]) == 4
    assert all(note["mark"] for one in found["exercises"] for note in one["notes"])
    assert [path.rpartition("/")[2] for path in found["files"]] == ["scales.musicxml", "scales.pdf"]


def test_drill_asks_for_a_report(tmp_path):
    assert "--from" in one_sentence(run("drill", "trouble-spots", "-o", tmp_path, code=2))
    report = tmp_path / "report.json"
    report.write_text(json.dumps({"notes": [{"midi": 50, "cents": 30.0}]}))
    run("drill", "trouble-spots", "--from", report, "--no-pdf", "-o", tmp_path)
    assert (tmp_path / "trouble-spots.musicxml").exists()
    assert not (tmp_path / "trouble-spots.pdf").exists()
    report.write_text("no json")
    said = one_sentence(run("drill", "trouble-spots", "--from", report, "-o", tmp_path, code=1))
    assert "isn't JSON" in said


@pytest.mark.parametrize("text", ["", "4", "Bb3", "X", "H"])
def test_a_key_that_is_none(text, tmp_path):
    said = one_sentence(run("drill", "scales", "--key", text, "-o", tmp_path, code=1))
    assert "isn't a tonic" in said or "German" in said
    assert "octave" not in said and not list(tmp_path.iterdir())


def test_a_report_that_goes_down_for_ever(tmp_path):
    report = tmp_path / "report.json"
    report.write_text("[" * 200_000)
    said = one_sentence(run("drill", "trouble-spots", "--from", report, "-o", tmp_path, code=1))
    assert "isn't JSON" in said


@pytest.mark.parametrize(
    ("kind", "scale", "title"),
    [
        ("arpeggios", "minor", "minor arpeggio"),
        ("arpeggios", "dominant-seventh", "Dominant seventh on"),
        ("thirds", "dorian", "Dorian scale in broken thirds"),
        ("scales", "dorian", "Dorian scale"),
    ],
)
def test_a_scale_is_what_its_sheet_is_about(kind, scale, title):
    sheet = make_drill(make_setup("tenor"), kind, DrillWishes(scale=scale, pieces=2))
    assert all(title in title_of(one.piece) for one in sheet.pieces)


@pytest.mark.parametrize(("kind", "scale"), [("thirds", "chromatic"), ("arpeggios", "blues")])
def test_a_scale_that_a_sheet_cannot_be_about(kind, scale):
    with pytest.raises(BadUsage, match=f"no scale called '{scale}' here: choose .*major"):
        make_drill(make_setup("tenor"), kind, DrillWishes(scale=scale))


@pytest.mark.parametrize("horn", ["tenor", "tenor-f", "alto"])
@pytest.mark.parametrize("level", tuple(LEVELS)[:2])
def test_the_first_years_stay_in_plain_places_and_tie_nothing(horn, level):
    setup = make_setup(horn)
    steps = notes = 0
    for seed in range(SWEEP or 2):
        for kind in ("scales", "arpeggios", "thirds"):
            for one in make_drill(setup, kind, DrillWishes(level=level), seed).pieces:
                assert not any(note.tie for note in one.piece.notes)
                places = one.marked.routed.places.values()
                steps += sum(place.alternate > 0 for place in places)
                notes += len(places)
    assert steps <= 0.02 * notes


@pytest.mark.parametrize(
    ("span", "code"), [("E2", 2), ("E2-", 2), ("-", 2), ("E2-X9", 1), ("F4-E2", 2)]
)
def test_a_range_that_is_none(span, code, tmp_path):
    one_sentence(run("drill", "scales", "--range", span, "-o", tmp_path, code=code))


def test_a_clef_that_transposes_is_explained():
    sheet = make_drill(make_setup("tenor"), "scales", DrillWishes(clef="treble-bb"))
    text = "".join(t.text for page in read_pages(sheet.pdf(SAY)) for t in page.texts)
    assert "treble clef in B♭" in " ".join(text.split())
    assert make_drill(make_setup("tenor"), "scales").worksheet(SAY).groups[0].note == ""


def test_a_short_last_line_takes_measures_from_those_before():
    sheet = make_drill(make_setup("tenor-f"), "accuracy", DrillWishes(pieces=2), 1)
    for group in sheet.worksheet(SAY).groups:
        for exercise in group.exercises:
            (page,) = exercise.music
            counts = [
                sum(1 for inner in system.iter() if inner.get("class") == "measure")
                for system in etree.fromstring(page).iter()
                if system.get("class") == "system"
            ]
            assert max(counts) - min(counts) <= 1


def test_words_that_begin_with_a_number_keep_it():
    sheet = make_drill(make_setup("tenor-f"), "accuracy", DrillWishes(pieces=1), 1)
    (exercise,) = sheet.worksheet(SAY).groups[0].exercises
    words = " ".join(" ".join(etree.fromstring(page).itertext()) for page in exercise.music)
    words = " ".join(words.split())
    for note in sheet.pieces[0].piece.notes:
        if note.remark:
            assert remark_of(note) in words


@pytest.mark.parametrize("kind", ["slurs", "accuracy", "intonation"])
def test_words_below_notes_stand_clear_of_dynamics_slurs_and_stems(kind):
    for seed in range(3):
        for one in make_drill(make_setup("tenor-f"), kind, DrillWishes(), seed).pieces:
            for page in one.exercise("1", paper_named("a4"), SAY).music:
                root = etree.fromstring(page)
                glyphs = Glyphs(root)
                groups = [g for g in root.iter(f"{SVG}g") if is_kind(g, "system")]
                for system in groups:
                    verses = [g for g in system.iter(f"{SVG}g") if is_kind(g, "verse")]
                    signs = [
                        box
                        for g in system.iter(f"{SVG}g")
                        if any(is_kind(g, sign) for sign in ("dynam", "slur", "stem", "artic"))
                        for box in ink(g, glyphs)
                    ]
                    for verse in verses:
                        moved = (verse.get("transform") or "translate(0, 0)").rstrip(")")
                        for box in ink(verse, glyphs):
                            here = box.moved(float(moved.rpartition(" ")[2]))
                            assert not any(here.touches(sign, 30.0) for sign in signs)


def test_the_lines_of_words_below_a_note_begin_below_each_other():
    sheet = make_drill(make_setup("tenor-f", reach=5.0), "intonation", DrillWishes(pieces=1), 125)
    below: dict[etree._Element, set[str]] = {}
    for page in sheet.pieces[0].exercise("1", paper_named("a4"), speech("de")).music:
        for verse in etree.fromstring(page).iter(f"{SVG}g"):
            if is_kind(verse, "verse"):
                at = next(verse.iter(f"{SVG}text")).get("x")
                below.setdefault(verse.getparent(), set()).add(at)
    assert len(below) > 3
    assert all(len(places) == 1 for places in below.values())


def test_a_page_with_much_room_has_lines_to_write_on():
    def words(pdf):
        return "".join(text.text for page in read_pages(pdf) for text in page.texts)

    sheet = make_drill(make_setup("tenor"), "scales", DrillWishes(level="first-year", pieces=1))
    worksheet = sheet.worksheet(SAY)
    assert words(typeset_worksheet(worksheet)).count("Notes") == 1
    assert "Notes" not in words(typeset_worksheet(replace(worksheet, room="")))


def test_a_valve_that_is_off_all_through_a_take_is_told_once():
    names = [("Bb2", "1"), ("F3", "1"), ("D3", "4"), ("Eb3", "3"), ("Bb3", "1")] * 3
    low = [("C3", "T1"), ("F2", "T1"), ("D2", "T5"), ("Db2", "T6"), ("C3", "T1")]
    notes = [
        {"note": name, "mark": mark, "cents": (-18.0 if "T" in mark else 0.0) + k % 3 - 1,
         "slide_mm": 20.0 if mark in ("T5", "T6") else 0.0, "played": "right"}
        for k, (name, mark) in enumerate((*names, *low))
    ]  # fmt: skip
    (found,) = faults_of({"notes": notes}, make_setup("tenor-f"))
    assert found.of_valve and found.slide_mm is None and found.valves == ("F",)
    assert found.cents == pytest.approx(-18.0, abs=1.5)
