"""What is read from a drawn part, one rule after the other."""

from dataclasses import replace
from fractions import Fraction

import pytest
from drawn_music import Sheet, doubts, names, started

from handslide.edges.pdfparts.directions import usual_tempo
from handslide.edges.pdfparts.drawn import Drawing, PageDrawing, Path
from handslide.edges.pdfparts.forms import forms_of
from handslide.edges.pdfparts.found import StaffInk
from handslide.edges.pdfparts.heads import share_out
from handslide.edges.pdfparts.items import Item
from handslide.edges.pdfparts.read import read_drawing
from handslide.edges.pdfparts.reading import Corrections, Spot
from handslide.edges.pdfparts.signs import Signs
from handslide.edges.pdfparts.staves import Staff
from handslide.ground.errors import ScoreError


def quarters(sheet, places, x=12.0, step=4.0, **more):
    for index, place in enumerate(places):
        sheet.note(x + step * index, place, **more)
    return sheet


def changes(reading, kind):
    return [(one.measure, one.onset, one.value) for one in reading.changes if one.kind == kind]


# Pitch


@pytest.mark.parametrize(
    ("clef", "place", "lowest", "top"),
    [("F", 6, "G2", "A3"), ("C", 6, "D3", "E4"), ("C", 4, "F3", "G4"), ("G", 2, "E4", "F5"),
     ("G8b", 2, "E3", "F4")],
)  # fmt: skip
def test_clefs_say_what_a_line_is(clef, place, lowest, top):
    reading = quarters(started(clef, place=place), (0, 8)).read()
    assert names(reading) == [lowest, top]


def test_a_key_alters_its_letters_in_all_octaves():
    sheet = started("F")
    sheet.sign("flat", 4, 2)
    sheet.sign("flat", 5, 5)
    assert names(quarters(sheet, (2, 9, 5)).read()) == ["Bb2", "Bb3", "Eb3"]


def test_an_accidental_holds_to_the_barline_at_its_own_height():
    sheet = started("F")
    sheet.note(12, 1, sign="sharp")
    quarters(sheet, (1, 8), 16)
    sheet.bar(26)
    quarters(sheet, (1,), 28)
    assert names(sheet.read()) == ["A#2", "A#2", "A3", "A2"]


def test_a_tie_carries_an_accidental_over_the_barline_to_its_own_note_alone():
    sheet = started("F")
    sheet.note(12, 6, sign="sharp")
    sheet.bar(17)
    quarters(sheet, (6, 6), 20)
    sheet.bow(13.3, 19.8, 7)
    reading = sheet.read()
    assert names(reading) == ["F#3", "F#3", "F3"]
    assert [note.tie_to for note in reading.notes] == [True, False, False]


def test_a_clef_in_mid_staff_holds_from_there_on():
    sheet = quarters(started("F", (4, 4)), (4, 4))
    sheet.sign("C", 20, 6, size=0.8)
    quarters(sheet, (4, 4), 24)
    reading = sheet.read()
    assert names(reading) == ["D3", "D3", "A3", "A3"]
    assert changes(reading, "clef") == [(0, 0, "F4"), (0, 2, "C4")]


def test_an_octave_line_moves_the_notes_under_it():
    sheet = quarters(started("C"), (6, 8, 8))
    sheet.sign("ottava", 16, 14)
    sheet.line(18, sheet.y(15), 22.5, sheet.y(15))
    reading = sheet.read()
    assert names(reading) == ["C4", "E5", "E5"]
    assert doubts(reading) == [[], [], []]


def test_an_octave_sign_without_a_line_is_doubted():
    sheet = quarters(started("C"), (6, 8))
    sheet.sign("ottava", 16, 14)
    assert doubts(sheet.read()) == [[], ["octave"]]


def test_the_number_of_a_measure_is_no_octave():
    sheet = quarters(started("C"), (6, 8))
    sheet.words("8", 1, 10)
    assert names(sheet.read()) == ["C4", "E4"]


def test_a_key_in_mid_staff_is_read_in_the_clef_before_it():
    sheet = quarters(started("C"), (4,))
    sheet.bar(17)
    for x, place in ((18, 2), (19.1, 6)):  # F and C in tenor clef
        sheet.sign("sharp", x, place)
    quarters(sheet, (6, 2), 23)
    sheet.sign("F", 76, 6, size=0.8)
    reading = sheet.read()
    assert names(reading) == ["A3", "C#4", "F#3"]
    assert changes(reading, "key") == [(0, 0, "0"), (1, 0, "2")]


def test_a_bare_8_moves_one_note_where_a_hook_ends_it():
    sheet = quarters(started("F"), (4, 4))
    sheet.digits(8, 16, -8)
    sheet.line(17.6, sheet.y(-7), 17.6, sheet.y(-9))
    assert names(sheet.read()) == ["D3", "D2"]


# Doubt


def test_known_signs_are_not_doubted():
    assert doubts(quarters(started("F", (4, 4)), (-3, 0, 8, 12)).read()) == [[], [], [], []]


def test_a_missing_ledger_line_is_doubted_and_a_head_without_any_is_none():
    sheet = started("F")
    sheet.note(12, 12, ledgers=False)
    sheet.line(11.7, sheet.y(10), 13.5, sheet.y(10))
    sheet.note(16, 12, ledgers=False)
    reading = sheet.read()
    assert (names(reading), doubts(reading)) == (["E4"], [["ledger"]])


def test_a_head_between_line_and_space_is_doubted():
    sheet = started("F")
    sheet.note(12, 4.45)
    assert doubts(sheet.read()) == [["between"]]


def test_a_head_without_stem_is_doubted():
    sheet = started("F")
    sheet.sign("black", 12, 4)
    sheet.note(16, 4, "whole")
    assert doubts(sheet.read()) == [["no_stem"], []]


def test_a_staff_without_clef_is_doubted_and_most_of_them_refused():
    sheet = Sheet((700.0, 600.0))
    sheet.sign("F", 1, 6)
    quarters(sheet, (4,))
    sheet.staff = 1
    quarters(sheet, (4,))
    assert doubts(sheet.read()) == [[], ["clef"]]
    with pytest.raises(ScoreError, match="only 0 of the 1 staves"):
        quarters(Sheet(), (4,)).read()


def test_a_key_that_changes_unannounced_is_doubted_where_it_matters():
    sheet = started("F", bottoms=(700.0, 600.0))
    quarters(sheet, (2, 3))
    sheet.staff = 1
    sheet.sign("flat", 4, 2)
    quarters(sheet, (2, 3))
    reading = sheet.read()
    assert names(reading) == ["B2", "C3", "Bb2", "C3"]
    assert doubts(reading) == [[], [], ["key"], []]
    assert [what.kind for _, what in reading.warnings] == [
        "pdfparts.key_differs", "pdfparts.no_meter",
    ]  # fmt: skip


def test_an_odd_key_is_doubted():
    sheet = started("F")
    sheet.sign("flat", 4, 3)
    reading = quarters(sheet, (2, 3, 4)).read()
    assert names(reading) == ["B2", "Cb3", "D3"]
    assert doubts(reading) == [["key"], ["key"], []]


def test_a_pitch_beyond_the_range_of_its_clef_is_doubted():
    assert doubts(quarters(started("F"), (-9, 20)).read()) == [[], ["range"]]


def test_a_bar_of_another_length_is_doubted_but_an_upbeat_is_not():
    sheet = quarters(started("F", (3, 4)), (4,))
    for x in (15, 28, 38, 51):
        sheet.bar(x)
    quarters(sheet, (4, 4, 4), 17)
    quarters(sheet, (4, 4), 30)
    quarters(sheet, (4, 4, 4), 40)
    reading = sheet.read()
    assert doubts(reading) == [[]] * 4 + [["bar_sum"]] * 2 + [[]] * 3
    assert [measure.number for measure in reading.measures] == ["0", "1", "2", "3"]


def test_an_unknown_sign_on_the_staff_is_doubted_to_the_barline_and_asked_for():
    sheet = quarters(started("F"), (4, 4))
    sheet.bar(20)
    quarters(sheet, (4,), 22)
    strange = [(10.0, 703.0), (10.3, 716.0), (10.6, 704.0), (10.9, 717.0), (11.2, 703.0)]
    sheet.area([*strange, (10.6, 701.0)])
    reading = sheet.read()
    assert doubts(reading) == [["unknown"], ["unknown"], []]
    assert [sign.count for sign in reading.unknown] == [1]


# Time


def test_flags_beams_and_dots_make_lengths():
    sheet = started("F", (4, 4))
    sheet.note(12, 4, "half", up=True, dots=1)
    sheet.note(18, 2, up=True)
    sheet.flag(18, 2)
    sheet.note(22, 2, up=True)
    sheet.note(25, 2, up=True)
    sheet.beam(23.1, 26.2, 9)
    sheet.beam(23.1, 26.2, 7.5)
    reading = sheet.read()
    assert [note.length for note in reading.notes] == [
        3,
        Fraction(1, 2),
        Fraction(1, 4),
        Fraction(1, 4),
    ]
    assert [note.onset for note in reading.notes] == [0, 3, Fraction(7, 2), Fraction(15, 4)]


def test_a_flag_drawn_as_a_curve_counts():
    sheet = started("F", (1, 4))
    sheet.note(12, 2, up=True)
    y = sheet.y(9)
    sheet.area([(13.15, y), (13.4, y - 6), (14.1, y - 13), (13.9, y - 13), (13.3, y - 9)])
    sheet.paths[-1] = replace(sheet.paths[-1], curved=True)
    assert [note.length for note in sheet.read().notes] == [Fraction(1, 2)]


def test_a_meter_may_be_set_in_letters():
    sheet = quarters(started("F"), (4,))
    sheet.words("3", 7, 4, em=16)
    sheet.words("4", 7, 0, em=16)
    assert changes(sheet.read(), "meter") == [(0, 0, "3/4")]


def beamed(sheet, x, places):
    for index, place in enumerate(places):
        sheet.note(x + 3 * index, place, up=True)
    sheet.beam(x + 1.1, x + 3 * len(places) - 1.8, places[0] + 7)


def test_a_number_over_a_group_is_a_tuplet_where_the_bar_wants_it():
    sheet = started("F", (2, 4))
    sheet.note(12, 2, up=True)
    beamed(sheet, 16, (2, 2, 2))
    sheet.words("3", 19.8, 12)
    sheet.bar(26)
    quarters(sheet, (2, 2), 28)
    sheet.words("3", 30, 12)  # a fingering
    reading = sheet.read()
    assert [note.length for note in reading.notes] == [1, *[Fraction(1, 3)] * 3, 1, 1]
    assert doubts(reading) == [[]] * 6


def test_triplets_without_number_follow_from_the_bar():
    sheet = started("F", (2, 4))
    beamed(sheet, 12, (2, 2, 2))
    beamed(sheet, 22, (2, 2, 2))
    assert [note.length for note in sheet.read().notes] == [Fraction(1, 3)] * 6


def test_stems_to_both_sides_are_two_voices():
    sheet = started("F", (2, 4))
    sheet.note(12, 6, "half", up=True)
    sheet.note(12, 1, up=False)
    sheet.note(17, 2, up=False)
    reading = sheet.read()
    assert {(note.voice, note.onset, note.length) for note in reading.notes} == {
        (1, 0, 2), (2, 0, 1), (2, 1, 1),
    }  # fmt: skip


def test_a_head_with_two_stems_sounds_in_both_voices():
    sheet = started("F", (2, 4))
    sheet.note(12, 4, "half", up=True)
    sheet.line(12.05, sheet.y(4), 12.05, sheet.y(-3))
    assert sorted(note.voice for note in sheet.read().notes) == [1, 2]


def test_heads_on_one_stem_are_a_chord():
    sheet = started("F")
    sheet.note(12, 1, up=True)
    sheet.sign("black", 12, 4)
    reading = sheet.read()
    assert [(note.onset, note.chord) for note in reading.notes] == [(0, False), (0, True)]


def test_a_whole_rest_alone_fills_its_bar():
    sheet = started("F", (3, 4))
    sheet.sign("rest1", 14, 6)
    sheet.bar(20)
    quarters(sheet, (4, 4, 4), 22)
    reading = sheet.read()
    assert [note.length for note in reading.notes] == [3, 1, 1, 1]


def test_a_number_over_a_rest_counts_bars():
    sheet = started("F", (4, 4))
    sheet.sign("multirest", 16, 4)
    sheet.digits(12, 15.5, 12)
    sheet.bar(24)
    quarters(sheet, (4, 4, 4, 4), 26)
    sheet.bar(44)
    reading = sheet.read()
    assert [(measure.number, measure.rests) for measure in reading.measures] == [
        ("1", 12),
        ("13", 1),
    ]


def test_small_notes_before_a_full_bar_are_grace_notes():
    sheet = started("F", (2, 4))
    sheet.note(11, 3, size=0.6, up=True)
    quarters(sheet, (4, 4), 13)
    reading = sheet.read()
    assert [(note.grace, note.length) for note in reading.notes] == [
        (True, 0),
        (False, 1),
        (False, 1),
    ]


def test_small_notes_beside_a_rest_are_cue_notes():
    sheet = started("F", (2, 4))
    sheet.sign("rest1", 14, 8)
    sheet.note(12, 3, size=0.6, up=True)
    sheet.note(17, 3, size=0.6, up=True)
    reading = sheet.read()
    assert [(note.cue, note.onset) for note in reading.notes if note.step is not None] == [
        (True, 0),
        (True, 1),
    ]
    assert [note.length for note in reading.notes if note.step is None] == [2]


def test_a_meter_changes_at_a_barline():
    sheet = quarters(started("F", (2, 4)), (4, 4))
    sheet.bar(20)
    sheet.meter(3, 4, 21)
    quarters(sheet, (4, 4, 4), 25)
    reading = sheet.read()
    assert [measure.meter for measure in reading.measures] == [2, 3]
    assert changes(reading, "meter") == [(0, 0, "2/4"), (1, 0, "3/4")]


# Curves


def test_bows_between_other_heights_are_slurs_and_straight_lines_glissandi():
    sheet = quarters(started("F"), (1, 3, 6), up=True)
    sheet.bow(12.6, 16.6, 0, up=False)
    sheet.line(17.5, sheet.y(3), 19.7, sheet.y(6))
    notes = sheet.read().notes
    assert [(note.slur_start, note.slur_stop) for note in notes] == [(1, 0), (0, 1), (0, 0)]
    assert [note.gliss_to for note in notes] == [False, True, False]


def test_ties_and_slurs_lead_over_a_systems_end():
    sheet = started("F", bottoms=(700.0, 600.0))
    quarters(sheet, (1,), 74)
    sheet.bar(79)
    sheet.bow(75.3, 79.5, 0, up=False)
    sheet.staff = 1
    quarters(sheet, (1, 3))
    sheet.bow(9, 11.8, 0, up=False)
    notes = sheet.read().notes
    assert [(note.tie_to, note.tie_from) for note in notes] == [
        (True, False),
        (False, True),
        (False, False),
    ]


# Form


def test_repeats_endings_and_the_end():
    sheet = started("F", (1, 4))
    for x in (15, 21, 27, 33):
        sheet.bar(x)
    sheet.bar(34, 3.0)
    for x in (9.5, 17, 23, 29):
        sheet.note(x + 2 if x == 9.5 else x, 4)
    for place in (3, 5):
        sheet.sign("repeatdot", 15.4, place)
        sheet.sign("repeatdot", 26.3, place)
    for number, x in (("1.", 21.2), ("2.", 27.2)):
        sheet.line(x, sheet.y(14), x + 5, sheet.y(14))
        sheet.line(x, sheet.y(11), x, sheet.y(14))
        sheet.words(number, x + 0.5, 11.5, em=10)
    measures = sheet.read().measures
    assert [measure.repeat_start for measure in measures] == [False, True, False, False]
    assert [measure.repeat_end for measure in measures] == [False, False, True, False]
    assert [measure.ending for measure in measures] == ["", "", "1", "2"]
    assert [measure.final for measure in measures] == [False, False, False, True]


def test_rests_of_several_bars_before_a_repeat_with_their_number_on_the_staff():
    sheet = started("F", (1, 4))
    for x in (11, 17):
        sheet.line(x, sheet.y(4), x + 3.2, sheet.y(4), width=4)
    sheet.digits(16, 14.6, 4)
    for x in (21, 27, 33):
        sheet.bar(x)
    for place in (3, 5):
        sheet.sign("repeatdot", 21.4, place)
    for x in (23, 29):
        sheet.note(x, 4)
    reading = sheet.read()
    assert [measure.rests for measure in reading.measures] == [16, 1, 1]
    assert [measure.repeat_start for measure in reading.measures] == [False, True, False]
    assert [change.value for change in reading.changes if change.kind == "meter"] == ["1/4"]


@pytest.mark.parametrize(
    ("text", "jump"),
    [("D.C. al Fine", "dacapo-fine"), ("D.S. al Coda", "dalsegno-coda"), ("Fine", "fine"),
     ("To Coda", "tocoda"), ("Da Capo", "dacapo")],
)  # fmt: skip
def test_road_signs_in_words(text, jump):
    sheet = quarters(started("F"), (4, 4))
    sheet.words(text, 12, 12)
    assert sheet.read().measures[0].jumps == (jump,)


# Words


def test_a_metronome_mark_counts_more_than_the_word_beside_it():
    sheet = quarters(started("F", (6, 8)), (4,), dots=1)
    sheet.words("Allegro", 3, 14)
    sheet.sign("quarter", 12, 14, size=0.6)
    sheet.sign("dot", 13, 14, size=0.6)
    sheet.words("= 60", 14, 14)
    assert changes(sheet.read(), "tempo") == [(0, 0, "90")]


@pytest.mark.parametrize(
    ("text", "slow", "quick"),
    [("Adagio", 50, 80), ("Langsam", 45, 75), ("Modéré", 85, 120), ("Despacio", 45, 80),
     ("Fast", 130, 180), ("Allegro non troppo", 110, 150)],
)  # fmt: skip
def test_usual_words_of_tempo(text, slow, quick):
    tempo = usual_tempo(text)
    assert tempo is not None and slow <= tempo <= quick


def test_loudness_and_letters():
    sheet = quarters(started("F"), (4, 4))
    sheet.sign("m", 12, -6)
    sheet.sign("f", 13, -6)
    sheet.words("B", 16, 14, em=16)
    reading = sheet.read()
    assert changes(reading, "dynamic") == [(0, 0, "mf")]
    assert changes(reading, "rehearsal") == [(0, 1, "B")]


def test_a_heading_is_sorted_by_size_and_place():
    sheet = quarters(started("F", bottoms=(600.0,)), (4,))
    sheet.words("Evening Song", 30, 44, em=24)
    sheet.words("Trombone in Bb", 0, 40)
    sheet.words("A. Writer", 70, 36)
    reading = sheet.read()
    assert (reading.title, reading.part_name, reading.composer) == (
        "Evening Song", "Trombone in Bb", "A. Writer",
    )  # fmt: skip


# Corrections


def test_a_corrected_clef_holds_for_its_system():
    sheet = quarters(started("F", bottoms=(700.0, 600.0)), (4,))
    sheet.staff = 1
    quarters(sheet, (4,))
    assert names(sheet.read(clefs=((Spot(1, 1), "tenor"),))) == ["A3", "D3"]


def test_a_corrected_key_holds_as_long_as_the_same_is_read():
    sheet = started("F", bottoms=(700.0, 600.0, 500.0))
    for staff in range(3):
        sheet.staff = staff
        if staff == 2:
            sheet.sign("sharp", 4, 6)
        quarters(sheet, (2,))
    assert names(sheet.read(keys=((Spot(1, 1), -1),))) == ["Bb2", "Bb2", "B2"]


def test_a_corrected_note_is_taken_and_one_that_is_none_left_out():
    sheet = quarters(started("F"), (4, 5, 6))
    fixed = ((Spot(1, 1, 1, 1), "Eb3"), (Spot(1, 1, 1, 2), ""))
    reading = sheet.read(notes=fixed)
    assert names(reading) == ["Eb3", "F3"]
    assert [note.corrected for note in reading.notes] == [True, False]
    assert [note.spot.item for note in reading.notes] == [1, 3]


def test_a_clef_that_is_none_is_refused():
    with pytest.raises(ScoreError, match="no clef 'H4'"):
        quarters(started("F"), (4,)).read(clefs=((Spot(1, 1), "H4"),))


# Scores and what is none


def score(*pieces):
    """Two staves, joined by a line from end to end, or by pieces of one."""
    sheet = started("F", bottoms=(700.0, 640.0))
    for low, high in pieces or ((640.0, 724.0),):
        sheet.line(0, low, 0, high)
    for staff, (name, place) in enumerate((("Horn", 4), ("Trombone", 6))):
        sheet.staff = staff
        sheet.words(name, -9, 3, em=8)
        quarters(sheet, (place,))
    return sheet


def test_a_scores_staff_is_found_by_name_or_number():
    reading = score().read()
    assert (reading.staff_names, names(reading), reading.part_name) == (
        ("Horn", "Trombone"),
        ["F3"],
        "Trombone",
    )
    assert reading.warnings[0][1].kind == "pdfparts.chosen_staff"
    assert names(score().read(staff=1)) == ["D3"]
    with pytest.raises(ScoreError, match="no staff 3; a system of this score has 2"):
        score().read(staff=3)


def test_a_line_through_staves_may_be_drawn_in_pieces():
    assert score((640.0, 664.0), (664.0, 724.0)).read().staves_in_system == 2
    assert score((640.0, 664.0), (700.0, 724.0)).read().staves_in_system == 1


def test_signs_of_a_small_staff_are_not_small_there():
    small = StaffInk(Staff(60.0, 540.0, 700.0, 4.0), 1, 1, 700.0, 716.0)
    share_out(
        [Item("acc.-1", 80.0, 704.0, 80.0, 700.0, 84.0, 712.0, 4 / 6, True, "")], [small], 6.0
    )
    assert [item.small for item in small.items] == [False]


def test_a_sharp_drawn_in_four_strokes_is_a_shape():
    uprights = [((x, 0), (x + 1, 0), (x + 1, 17), (x, 17)) for x in (3, 7)]
    level = [((0, y), (11, y + 3), (11, y + 5), (0, y + 2)) for y in (3, 9)]
    stem, beam = ((10, 0), (11, 0), (11, 13), (10, 13)), level[1]

    def forms(*polygons):
        path = Path(polygons, False, True, 0.0, False, True)
        return forms_of(PageDrawing(595, 842, (1, 0, 0, 1, 0, 0), (), (path,), ()))

    assert len(forms(*uprights, *level).shapes) == 1
    assert (len(forms(stem, beam).uprights), len(forms(stem, beam).slabs)) == (1, 1)


def test_a_scan_and_a_page_of_words_are_told_apart():
    sheet = Sheet(())
    sheet.picture()
    with pytest.raises(ScoreError, match="pictures, as a scanner makes them"):
        sheet.read()
    nothing = Drawing((PageDrawing(595, 842, (1, 0, 0, 1, 0, 0), (), (), ()),), {})
    with pytest.raises(ScoreError, match="no staves are drawn"):
        read_drawing(nothing, Signs.load({}), Corrections())
