"""Levels on real horns: ranges by partials, and limits that only ever get narrower."""

import pytest

from handslide.drills.kinds import DRILLS, FAMILIES
from handslide.drills.levels import LEVELS, level_of
from handslide.drills.ranges import limited, partial_midi, range_of, valve_notes
from handslide.drills.rhythms import ARTICULATION_NAMES, METERS, RHYTHMS, fits
from handslide.edges.files.horns import HORN_FILES
from handslide.ground.errors import BadUsage
from handslide.ground.pitch import from_midi, parse_pitch
from handslide.jobs.setup import make_setup

FIRST, SECOND, ADVANCED = LEVELS.values()


def named_range(horn, level, valve_register=False, **limits):
    book = limited(make_setup(horn, **limits).book, level, valve_register)
    return tuple(from_midi(midi).name for midi in range_of(book, level, valve_register))


@pytest.mark.parametrize(
    ("horn", "first", "second"),
    [
        ("tenor", ("F2", "D4"), ("E2", "F4")),
        ("tenor-f", ("F2", "D4"), ("E2", "F4")),
        ("alto", ("Bb2", "G4"), ("A2", "Bb4")),
        ("contrabass-f", ("C2", "A3"), ("B1", "C4")),
        ("soprano", ("F3", "D5"), ("E3", "F5")),
    ],
)
def test_ranges_follow_the_horn(horn, first, second):
    # First and second year as band methods have them on a tenor, moved by the key of the horn.
    assert named_range(horn, FIRST) == first
    assert named_range(horn, SECOND) == second


def test_advanced_goes_to_the_ninth_partial_and_to_the_pedals():
    assert named_range("tenor", ADVANCED) == ("F1", "C5")


def test_the_valve_register_opens_the_range_downwards():
    assert named_range("tenor-f", FIRST, True) == ("Db2", "D4")
    assert named_range("tenor-f", SECOND, True) == ("Db2", "F4")  # C2 would be past 7th


@pytest.mark.parametrize("horn", HORN_FILES.ours)
def test_partials_are_those_of_the_closed_horn(horn):
    tuned = make_setup(horn).horn
    for partial in (1, 2, 3, 4, 6, 8, 9, 10, 12):
        hz = tuned.frequency_hz(partial, 0.0)
        assert abs(hz / from_midi(partial_midi(tuned, partial)).hz() - 1.0) < 0.009


@pytest.mark.parametrize("level", LEVELS.values(), ids=lambda level: level.name)
@pytest.mark.parametrize("reach", [None, 4.0, 6.0, 7.0])
@pytest.mark.parametrize("learned", [None, (), ("F",)])
@pytest.mark.parametrize("register", [False, True])
def test_a_level_never_widens_what_a_student_can_do(level, reach, learned, register):
    own = make_setup("bass-independent", reach=reach, learned=learned).book
    book = limited(own, level, register)
    for midi in range(24, 80):
        assert set(book.places(midi)) <= set(own.places(midi))
    if reach is not None and (level.reach is None or reach <= level.reach):
        assert book.limits.reach == reach
    if learned is not None:
        assert book.limits.learned == own.limits.learned


def test_a_first_year_has_no_valve_unless_it_is_learned_or_asked_for():
    book = make_setup("tenor-f").book
    d2 = parse_pitch("D2").midi
    assert not limited(book, FIRST).places(d2)
    assert limited(book, FIRST, valve_register=True).places(d2)
    assert limited(make_setup("tenor-f", learned=["F"]).book, FIRST).places(d2)
    assert limited(book, SECOND).places(d2)
    none = make_setup("tenor-f", learned=[]).book
    assert not limited(none, FIRST, valve_register=True).places(d2)


def test_a_valve_that_raises_the_horn_is_there_for_first_years():
    book = limited(make_setup("tenor-c-bb").book, FIRST)
    assert {p.valves for p in book.places(parse_pitch("C3").midi)} == {("C",), ()}


def test_the_valve_register_is_what_only_the_valve_gives():
    def register(horn, **limits):
        book = make_setup(horn, **limits).book
        return [from_midi(midi).name for midi in valve_notes(book, range(30, 70))]

    assert register("tenor-f") == ["C2", "Db2", "D2", "Eb2"]
    assert register("tenor-f", reach=6) == ["Db2", "D2", "Eb2", "E2"]
    assert register("tenor") == []
    assert register("tenor-c-bb") == ["B2"]  # the slide has no 7th: the valve gives B


def test_rhythms_and_articulations_of_levels_exist_and_fit():
    for level in LEVELS.values():
        assert set(level.articulations) <= set(ARTICULATION_NAMES)
        assert set(level.meters) <= set(METERS)
        for name in level.rhythms:
            rhythm = RHYTHMS[name]
            for meter in set(level.meters) & set(rhythm.cells):
                assert any(fits(word, rhythm, meter) for word in level.articulations)
                beat = 1.5 if meter == (6, 8) else 1.0
                tempo = level.tempo_for(rhythm.notes_per_beat(meter), beat)
                notes_per_s = tempo / 60.0 * rhythm.notes_per_beat(meter)
                assert 40.0 <= tempo / beat <= level.tempo_qpm and tempo / beat % 4 == 0
                assert notes_per_s <= level.notes_per_s + 1e-9 or tempo == 40.0 * beat
        assert any(set(level.meters) & set(RHYTHMS[name].cells) for name in level.rhythms)


def test_levels_grow():
    for less, more in ((FIRST, SECOND), (SECOND, ADVANCED)):
        assert less.flats <= more.flats and less.sharps <= more.sharps
        assert less.top_partial < more.top_partial and less.below < more.below
        assert less.notes_per_s < more.notes_per_s
    assert FIRST.allows_key(-3) and not FIRST.allows_key(-4) and not FIRST.allows_key(1)


def test_levels_by_name():
    assert level_of("First year") is FIRST
    assert level_of("second-year") is SECOND
    with pytest.raises(BadUsage, match=r"no level called 'expert': choose one of first-year, "):
        level_of("expert")


def test_a_horn_without_a_note_is_refused():
    # A slide that goes nowhere leaves the closed notes, so only an odd book has none.
    book = make_setup("tenor").book
    book = type(book)(book.horn, type(book.limits)(top_partial=0))
    with pytest.raises(BadUsage, match="no note for a student of this level"):
        range_of(book, FIRST)


def test_each_kind_of_drill_is_for_one_thing():
    assert sorted(name for names in FAMILIES.values() for name in names) == sorted(DRILLS)


def test_nothing_is_short_where_a_note_is_to_be_held():
    held = {"halves", "long-short", "tied"}
    for rhythm in RHYTHMS.values():
        for meter in rhythm.cells:
            assert not (rhythm.name in held and fits("staccato", rhythm, meter)), rhythm.name
    assert fits("staccato", RHYTHMS["eighths"], (4, 4))
    assert fits("staccato", RHYTHMS["dotted"], (6, 8))
