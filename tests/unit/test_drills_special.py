"""Drills about the slide itself: valve register, alternates, accuracy, intonation, trouble spots.

Every number on a sheet is computed again here another way: just offsets from the harmonic series'
own table, millimetres by finite differences of the horn's frequency, routes by trying all of them.
"""

import math
import os
import random
import re
from functools import cache
from itertools import combinations, pairwise, product

import pytest
from drill_words import SAY, remark_of, text_of, title_of

from handslide.drills import accuracy, alternates, intonation, register, troublespots
from handslide.drills.placed import (
    Wishes,
    heard,
    move_time_s,
    spelled,
    spelled_beside,
    usual_places,
)
from handslide.drills.ranges import partial_midi
from handslide.drills.troublespots import TroubleSpot
from handslide.edges.files.horns import HORN_FILES
from handslide.ground.errors import BadUsage
from handslide.ground.pitch import from_midi, parse_pitch
from handslide.ground.units import cents, midi_to_hz
from handslide.instrument.effort import route_terms, spots, timing
from handslide.instrument.line import make_line
from handslide.instrument.marks import split_position
from handslide.jobs.setup import make_setup

REACHES = (None, 6.0, 3.5)
SWEEP = int(os.environ.get("HANDSLIDE_SWEEP_SEEDS", "0"))
SEEDS = range(SWEEP or 4)
VALVED = tuple(name for name in HORN_FILES.ours if name not in ("tenor", "alto", "soprano"))
MAKERS = {
    "register": register.make,
    "alternates": alternates.make,
    "shifts": accuracy.make_shifts,
    "glissandi": accuracy.make_glissandi,
    "slurs": accuracy.make_slurs,
    "intonation": intonation.make,
}


@cache
def setup_of(horn="tenor-f", reach=None, learned=None, profile="classical"):
    return make_setup(horn, reach=reach, learned=learned, profile=profile)


def place_of(setup, note):
    """The place that a note is locked to, which must be one of its own within the limits."""
    found = [
        place
        for place in setup.book.places(note.pitch.midi)
        if (place.valves, place.partial) == note.lock
    ]
    assert len(found) == 1, f"{note.pitch.name} has no place {note.lock}"
    assert setup.book.limits.allows(found[0])
    return found[0]


def check(setup, pieces):
    """What holds for every sheet."""
    assert pieces
    assert len({title_of(one) for one in pieces}) == len(pieces)
    for one in pieces:
        assert title_of(one) and text_of(one).endswith(".")
        assert one.bars
        for bar in one.bars:
            assert sum(note.beats for note in bar) == one.bar_beats
            assert all(note.beats > 0 for note in bar)
        for first, second in pairwise(one.bars):
            if heard(first) == heard(second):
                assert first != second
                # The same notes again are asked for in so many words.
                assert re.search("in two ways|open horn and with the valve", text_of(one))
        for note in one.notes:
            if note.pitch is None:
                assert note.lock is None
            else:
                place_of(setup, note)
                assert len(remark_of(note)) <= 50
        for note, after in pairwise(one.notes):
            if note.gliss or note.slur:
                assert after.pitch is not None and after.pitch.midi != note.pitch.midi
        last = one.notes[-1]
        assert not (last.slur or last.gliss or last.tie)


@pytest.mark.sample
@pytest.mark.parametrize("horn", HORN_FILES.ours)
@pytest.mark.parametrize("kind", MAKERS)
def test_every_sheet_is_full_and_playable(kind, horn):
    for turn, (reach, profile) in enumerate(product(REACHES, ("classical", "beginner"))):
        setup = setup_of(horn, reach, None, profile)
        # Seeds take turns. Routes are searched for alternates, which takes longest.
        seeds = SEEDS if SWEEP else SEEDS[turn % 4 :: 4]
        if kind == "alternates" and not SWEEP and turn % 3:
            continue
        for seed in seeds:
            try:
                pieces = MAKERS[kind](setup, Wishes(), random.Random(seed))
            except BadUsage as error:
                assert kind in ("register", "alternates"), str(error)
                assert SAY.written(setup.horn.called) in str(error)
                continue
            check(setup, pieces)
            assert len(pieces) <= 4


@pytest.mark.parametrize("kind", MAKERS)
def test_a_seed_makes_a_sheet_repeatable_and_another_one_another(kind):
    setup = setup_of("bass-independent")
    made = [MAKERS[kind](setup, Wishes(), random.Random(seed)) for seed in (5, 5, 6, 7, 8)]
    assert made[0] == made[1]
    assert any(other != made[0] for other in made[2:])


@pytest.mark.parametrize("kind", MAKERS)
def test_wishes_are_kept(kind):
    setup = setup_of("tenor-f")
    low, high = parse_pitch("C2").midi, parse_pitch("F3").midi
    wishes = Wishes(low=low, high=high, pieces=2, tempo_qpm=50.0)
    pieces = MAKERS[kind](setup, wishes, random.Random(1))
    assert 1 <= len(pieces) <= 2
    for one in pieces:
        assert one.tempo_qpm == 50.0
        for note in one.notes:
            assert note.pitch is None or low <= note.pitch.midi <= high


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"low": 60, "high": 50}, "C4 to D3"),
        ({"pieces": 0}, "0 exercises"),
        ({"bars": 1}, "of one bar"),
        ({"tempo_qpm": 5.0}, "tempo of 5"),
    ],
)
def test_wishes_that_make_no_sense(values, words):
    with pytest.raises(BadUsage, match=words):
        Wishes(**values)


@pytest.mark.parametrize("kind", MAKERS)
def test_a_range_without_notes_gets_one_sentence(kind):
    with pytest.raises(BadUsage) as error:
        MAKERS[kind](setup_of("tenor-f"), Wishes(low=1, high=3), random.Random(0))
    assert "range" in str(error.value) and "\n" not in str(error.value)


def test_spelling_has_the_fewest_signs():
    major = [(0, 0), (2, 4), (4, 7)]
    assert [p.name for p in spelled(54, major)] == ["Gb3", "Bb3", "Db4"]
    assert [p.name for p in spelled(57, major)] == ["A3", "C#4", "E4"]
    assert [p.name for p in spelled(61, [(0, 0), (2, 3)])] == ["C#4", "E4"]
    for midi in range(40, 70):
        assert [p.midi for p in spelled(midi, major)] == [midi, midi + 4, midi + 7]


# Valve register.


@pytest.mark.parametrize("horn", ["tenor", "alto", "soprano"])
def test_no_valve_no_valve_register(horn):
    with pytest.raises(BadUsage, match="has no valve"):
        register.make(setup_of(horn), Wishes(), random.Random(0))


def test_no_valve_learned():
    with pytest.raises(BadUsage, match="no valve is learned yet"):
        register.make(setup_of("tenor-f", learned=()), Wishes(), random.Random(0))


def test_only_learned_valves():
    setup = setup_of("bass-independent", learned=("Gb",))
    for seed in SEEDS:
        pieces = register.make(setup, Wishes(pieces=9), random.Random(seed))
        check(setup, pieces)
        assert {note.lock[0] for one in pieces for note in one.notes if note.lock} <= {(), ("Gb",)}


def test_new_notes_of_the_usual_horns():
    def names(horn, reach=None):
        rows = register.new_notes(setup_of(horn, reach), Wishes())
        return {from_midi(row.midi).name for row in rows}

    # Straight tenors have nothing between pedal B♭1 and E2 (7th); low B is beyond this slide.
    assert names("tenor-f") == {"C2", "Db2", "D2", "Eb2"}
    assert names("bass-independent") == {"B1", "C2", "Db2", "D2", "Eb2"}
    assert names("tenor-c-bb") == {"B2"}
    # Six positions: E2 and B2 lie in 7th and come with the valve.
    assert names("tenor-f", 6.0) == {"C2", "Db2", "D2", "Eb2", "E2", "B2"} - {"C2"}


@pytest.mark.parametrize("horn", VALVED)
@pytest.mark.parametrize("reach", REACHES)
def test_a_new_note_has_no_open_place_and_stands_below_its_octave(horn, reach):
    setup = setup_of(horn, reach)
    new = {row.midi for row in register.new_notes(setup, Wishes())}
    for midi in range(20, 90):
        places = setup.book.places(midi)
        only_valve = bool(places) and all(place.valves for place in places)
        if midi in new:
            assert only_valve
        elif only_valve and setup.book.places(midi + 12):
            # Left out: pedals with a valve, and what lies higher than partials 2 to 8.
            usual = usual_places(setup, Wishes(low=midi, high=midi))[midi]
            assert usual.partial < 2 or usual.partial > 8
    for seed in SEEDS:
        for one in register.make_new(setup, Wishes(), random.Random(seed)):
            notes = [note for note in one.notes if note.pitch]
            for number, note in enumerate(notes):
                if remark_of(note) == "match":
                    assert note.lock[0]
                    assert notes[number - 1].pitch.midi == note.pitch.midi + 12
            assert {n.pitch.midi for n in notes if remark_of(n) == "match"} <= new
            for note in notes:
                assert remark_of(note) != "open" or note.lock[0] == ()


@pytest.mark.parametrize("horn", VALVED)
def test_half_positions_come_from_their_neighbours(horn):
    setup = setup_of(horn)
    rows = register.half_notes(setup, Wishes())
    for row in rows:
        assert split_position(row.place.position)[0] == "½"
        fraction = row.place.position % 1.0
        assert 0.35 <= round(fraction, 6) <= 0.65
        for midi, place in row.neighbours:
            assert abs(midi - row.midi) == 1
            assert (place.valves, place.partial) == (row.place.valves, row.place.partial)
            assert (place.extension_m - row.place.extension_m) * (midi - row.midi) < 0
    if horn == "tenor-f":
        both = [from_midi(row.midi).name for row in rows if len(row.neighbours) == 2]
        assert "Eb2" in both


@pytest.mark.parametrize("horn", VALVED)
def test_valve_against_open_is_the_same_note_twice(horn):
    setup = setup_of(horn)
    for seed in SEEDS:
        (one,) = register.make_against(setup, Wishes(), random.Random(seed))
        assert text_of(one).startswith("Each note on the open horn and with the valve.")
        for first, second in zip(one.bars[::2], one.bars[1::2]):
            assert len({note.pitch.midi for note in first + second}) == 1
            assert {bool(note.lock[0]) for note in first} == {True, False}
            for note in first + second:
                assert remark_of(note) == ("valve" if note.lock[0] else "open")


# Alternates.


def effort(setup, notes, places, note_s):
    """Points of a whole route, by the terms alone."""
    line = make_line(notes, [note_s * k for k in range(len(notes))], [note_s] * len(notes))
    at = spots(tuple(v.name for v in setup.horn.valves), list(places))
    terms = route_terms(setup.profile, line, at, timing(setup.profile, line))
    return sum(float(points.sum()) for some in terms for points in some.values())


def turns_at(places, note):
    before = places[note].extension_m - places[note - 1].extension_m
    after = places[note + 1].extension_m - places[note].extension_m
    return before * after < 0 and min(abs(before), abs(after)) > 0.005


@pytest.mark.parametrize(("horn", "reach"), [("tenor", None), ("tenor-f", 6.0), ("alto", None)])
def test_the_two_best_routes_against_all_routes(horn, reach):
    setup = setup_of(horn, reach)
    found = alternates.find_routes(setup, Wishes(pieces=6), 76.0, random.Random(2))
    assert found
    note_s = 30.0 / 76.0
    for row in found[:8]:
        notes = [note.midi for note in row.notes]
        lists = [setup.book.places(midi) for midi in notes]
        low = [[p for p in places if not p.valves or p.partial <= 4] for places in lists]
        all_routes = product(*(some or places for some, places in zip(low, lists)))
        # A note that comes again is played as before.
        same = [(a, b) for a, b in combinations(range(len(notes)), 2) if notes[a] == notes[b]]
        priced = sorted(
            (
                (effort(setup, notes, places, note_s), places)
                for places in all_routes
                if all(places[a] == places[b] for a, b in same)
            ),
            key=lambda item: item[0],
        )
        best, places = priced[0]
        rivals = [
            points
            for points, other in priced
            if other[row.at] != places[row.at]
            and (not row.goes_on or turns_at(other, row.at) != turns_at(places, row.at))
        ]
        pair = sorted(effort(setup, notes, one, note_s) for one in (row.usual, row.other))
        assert pair[0] == pytest.approx(best, abs=1e-9)
        assert pair[1] >= rivals[0] - 1e-9
        assert row.points == pytest.approx(
            effort(setup, notes, row.usual, note_s) - effort(setup, notes, row.other, note_s),
            abs=1e-9,
        )
        assert abs(row.points) >= 0.2


@pytest.mark.sample
@pytest.mark.parametrize("horn", HORN_FILES.ours)
@pytest.mark.parametrize("reach", REACHES)
def test_one_route_turns_back_and_the_other_goes_on_or_is_much_shorter(horn, reach):
    setup = setup_of(horn, reach)
    for seed in range(2 if SWEEP else 1):
        for row in alternates.find_routes(setup, Wishes(), 76.0, random.Random(seed)):
            assert turns_at(row.usual, row.at)
            assert row.goes_on != turns_at(row.other, row.at)
            midi = row.notes[row.at].midi
            assert row.usual[row.at] == usual_places(setup, Wishes(low=midi, high=midi))[midi]
            ways = [
                sum(abs(b.extension_m - a.extension_m) for a, b in pairwise(route))
                for route in (row.usual, row.other)
            ]
            assert ways[0] - ways[1] >= (0.04 if row.goes_on else 0.1)
            assert row.goes_on or row.points > 0.0


@pytest.mark.parametrize(("horn", "wanted"), [("tenor", 4), ("tenor-f", 4), ("alto", 4)])
def test_the_alternates_that_students_learn_first_fill_a_sheet(horn, wanted):
    setup = setup_of(horn, 7.0)
    low, high = (partial_midi(setup.horn, 2) - 6, partial_midi(setup.horn, 6))
    for seed in SEEDS if SWEEP else SEEDS[:2]:
        made = alternates.make(setup, Wishes(low, high, pedals=False), random.Random(seed))
        assert len(made) == wanted
        for one in made:
            assert "second is the easier" in text_of(one)
            # Nobody has to read a natural beside a flat of the same letter.
            signs = {}
            for note in one.notes:
                signs.setdefault(note.pitch.step, set()).add(note.pitch.alter)
            assert all(len(some) == 1 for some in signs.values()) or horn != "tenor"


def test_pairs_of_notes_are_spelled_as_plain_intervals():
    def names(*notes):
        return " ".join(p.name for p in spelled_beside(*(parse_pitch(n).midi for n in notes)))

    assert names("A3", "Ab3") == "A3 G#3"
    assert names("B3", "Ab3") == "B3 G#3"
    assert names("Ab3", "B3") == "G#3 B3"
    assert names("E3", "Bb3") == "E3 Bb3"
    assert names("F3", "B3") == "F3 B3"
    assert names("E3", "A3", "Db3") == "E3 A3 C#3"
    assert names("Bb2", "Eb3", "Ab2") == "Bb2 Eb3 Ab2"
    hard = {"Cb", "Fb", "E#", "B#"}
    for first, one, other in product(range(48, 60), range(-7, 8), range(-7, 8)):
        for pitch in spelled_beside(first, first + one, first + other):
            assert abs(pitch.alter) <= 1 and pitch.name.rstrip("-0123456789") not in hard


@pytest.mark.parametrize("kind", MAKERS)
def test_no_pedals_unless_they_are_asked_for(kind):
    setup = setup_of("bass-independent")
    for seed in SEEDS:
        for one in MAKERS[kind](setup, Wishes(low=30, pedals=False), random.Random(seed)):
            assert all(note.lock[1] > 1 for note in one.notes if note.pitch is not None)


@pytest.mark.parametrize("kind", ["shifts", "alternates", "glissandi", "intonation", "slurs"])
def test_instructions_are_in_plain_words(kind):
    for one in MAKERS[kind](setup_of("tenor-f"), Wishes(), random.Random(1)):
        assert not re.search("log|÷|m/s|Fitts|bits", text_of(one))


def test_an_alternates_piece_states_both_ways_and_locks_both_routes():
    setup = setup_of("tenor")
    for seed in SEEDS:
        for one in alternates.make(setup, Wishes(), random.Random(seed)):
            said = [int(cm) for cm in re.findall(r"(\d+) cm", text_of(one))]
            assert len(said) == 2 and said[0] > said[1]
            halves = [one.bars[0] + one.bars[1], one.bars[2] + one.bars[3]]
            ways = []
            for half, text in zip(halves, ("usual", "alternate")):
                assert remark_of(half[0]) == text
                at = [place_of(setup, note).extension_m for note in half]
                ways.append(round(100 * sum(abs(b - a) for a, b in pairwise(at))))
            assert ways == said
            assert [note.pitch for note in halves[0]] == [note.pitch for note in halves[1]]
            for half in halves:
                # All occurrences of a note are in one place, the words' one.
                places = {}
                for note in half:
                    assert places.setdefault(note.pitch.midi, note.lock) == note.lock
            assert [n.lock for n in one.bars[4]] == [n.lock for n in halves[0]]
            assert [n.lock for n in one.bars[5]] == [n.lock for n in halves[1]]


def test_the_first_alternate_that_players_learn_is_found():
    # B♭3 in 5th between two notes further out, instead of a trip to 1st.
    setup = setup_of("tenor")
    notes = tuple(parse_pitch(name) for name in ("Ab3", "Bb3", "Ab3", "G3", "Ab3"))
    row = alternates.two_routes(setup, notes, 0.4)
    assert row is None or row.usual[row.at].extension_m < row.other[row.at].extension_m
    line = tuple(parse_pitch(name) for name in ("Gb3", "Bb3", "Ab3", "B3", "Bb3"))
    row = alternates.two_routes(setup, line, 0.4)
    assert row.at == 1
    assert (row.usual[1].partial, row.other[1].partial) == (4, 5)
    assert round(row.other[1].position) == 5


# Accuracy.


@pytest.mark.sample
@pytest.mark.parametrize("horn", HORN_FILES.ours)
@pytest.mark.parametrize("reach", REACHES)
def test_shifts_grow_in_difficulty_and_say_their_way(horn, reach):
    setup = setup_of(horn, reach)
    for seed in SEEDS:
        pieces = accuracy.make_shifts(setup, Wishes(pieces=3), random.Random(seed))
        harder = []
        for one in pieces:
            for bar in one.bars:
                # A bar may end in a breath, which takes of its last note alone.
                first, second, back, *breath = bar
                assert [note.pitch for note in breath] in ([], [None])
                assert (first.pitch, first.lock) == (back.pitch, back.lock)
                x0, x1 = (place_of(setup, note).extension_m for note in (first, second))
                assert (
                    remark_of(first) == f"{1000 * abs(x1 - x0):.0f} mm {'out' if x1 > x0 else 'in'}"
                )
                assert abs(x1 - x0) >= 0.02
                harder.append(fitts(setup, second, x1 - x0, first.beats, one.tempo_qpm))
        # The test's own slope of the frequency is good to a thousandth.
        assert all(after >= before - 0.002 for before, after in pairwise(harder))


def fitts(setup, target, way_m, beats, tempo_qpm):
    """The module's formula from nothing but the horn's frequency."""
    place, horn = place_of(setup, target), setup.horn
    step = 1e-5

    def hz(x):
        return horn.frequency_hz(place.partial, x, place.valves)

    x = place.extension_m
    per_m = cents(hz(x) / hz(x + step)) / step
    time_s = move_time_s(setup, beats, tempo_qpm)
    assert 1.875 * abs(way_m) / time_s <= 3.5
    return math.log2(abs(way_m) / (10.0 / per_m) + 1.0) / time_s


def test_a_shift_by_hand():
    # E07 of a table of slide speeds: 1st to 2nd, 88 mm in 0.1 s, peaks at 1.64 m/s.
    setup = setup_of("tenor")
    places = usual_places(setup, Wishes())
    first, second = ((midi, places[midi]) for midi in (58, 57))
    way = second[1].extension_m - first[1].extension_m
    shift = accuracy.Shift(first, second, accuracy.EIGHTH, 0.0876, 0.1, 0.01)
    assert way == pytest.approx(0.0876, abs=0.0015)
    assert shift.speed_m_s == pytest.approx(1.64, abs=0.005)
    # Fitts in Shannon's form for 8.76 cm and a width of 1 cm: 3.29 bits.
    assert shift.difficulty * 0.1 == pytest.approx(3.29, abs=0.005)


@pytest.mark.parametrize("horn", HORN_FILES.ours)
@pytest.mark.parametrize("reach", REACHES)
def test_glissandi_stay_on_one_partial_within_the_slide(horn, reach):
    setup = setup_of(horn, reach)
    most = 6 if reach is None else round(reach - 1)
    for seed in SEEDS:
        for one in accuracy.make_glissandi(setup, Wishes(pieces=2), random.Random(seed)):
            ways = []
            for bar in one.bars:
                first, second = bar
                assert first.gliss and not second.gliss
                assert first.lock == second.lock
                ends = [place_of(setup, note) for note in bar]
                assert all(0.0 <= end.extension_m <= setup.horn.travel_m + 1e-9 for end in ends)
                if not ends[0].valves:
                    # Six semitones are what an open slide holds; what it can't reach isn't asked.
                    assert abs(first.pitch.midi - second.pitch.midi) <= most + 1
                # Every step between lies on the way, on the same partial.
                low, high = sorted(note.pitch.midi for note in bar)
                for midi in range(low, high + 1):
                    assert any((p.valves, p.partial) == first.lock for p in setup.book.places(midi))
                ways.append(abs(ends[0].extension_m - ends[1].extension_m))
            assert ways == sorted(ways)


@pytest.mark.sample
@pytest.mark.parametrize("horn", HORN_FILES.ours)
@pytest.mark.parametrize("reach", REACHES)
def test_slurs_are_natural_and_legato_is_tongued(horn, reach):
    setup = setup_of(horn, reach)
    for seed in SEEDS:
        for one in accuracy.make_slurs(setup, Wishes(), random.Random(seed)):
            assert len(one.bars) % 2 == 0
            for natural, tongued in zip(one.bars[::2], one.bars[1::2]):
                assert natural[0].lock == tongued[0].lock
                assert natural[0].pitch == tongued[0].pitch
                assert remark_of(natural[0]) == "slur: no tongue"
                assert remark_of(tongued[0]) == "legato tongue"
                a, b = (place_of(setup, note) for note in natural)
                assert a.partial != b.partial and a.valves == b.valves
                move = b.extension_m - a.extension_m
                rise = natural[1].pitch.midi - natural[0].pitch.midi
                # Out is down: the slide rests, or goes out while the note goes up and back.
                assert abs(move) <= 0.01 or move * rise > 0
                a, b = (place_of(setup, note) for note in tongued)
                assert (a.partial, a.valves) == (b.partial, b.valves)
                assert abs(b.extension_m - a.extension_m) > 0.01


# Intonation.

# Harmonic series against equal temperament (facts of any acoustics book): partial 3, 5 and 6/5.
JUST = {"unison": 0.0, "fifth": 1.955, "major third": -13.686, "minor third": 15.641, "octave": 0.0}


@pytest.mark.parametrize("interval", intonation.INTERVALS, ids=lambda row: row.name)
def test_just_offsets(interval):
    assert interval.just_cents == pytest.approx(JUST[interval.name], abs=0.0006)
    tempered = 2.0 ** (interval.semitones / 12)
    ratio = interval.ratio[0] / interval.ratio[1]
    assert cents(ratio / tempered) == pytest.approx(JUST[interval.name], abs=0.0006)


@pytest.mark.parametrize("horn", HORN_FILES.ours)
@pytest.mark.parametrize("reach", REACHES)
def test_the_moved_slide_sounds_the_just_interval(horn, reach):
    setup = setup_of(horn, reach)
    usual = usual_places(setup, Wishes())
    seen = set()
    for drone in usual:
        for interval, row in intonation.just_notes(setup, usual, drone).items():
            wanted = midi_to_hz(drone, setup.horn.a4_hz) * interval.ratio[0] / interval.ratio[1]
            x = row.place.extension_m + row.change_mm / 1000.0
            assert -1e-9 <= x <= setup.horn.travel_m + 1e-9
            sounds = setup.horn.frequency_hz(row.place.partial, x, row.place.valves)
            assert cents(wanted / sounds) == pytest.approx(row.lip_cents, abs=1e-6)
            if abs(row.lip_cents) < 0.5:
                seen.add(slide_alone(setup, row))
            else:
                seen.add(lip_or_elsewhere(setup, row, wanted))
    assert {"further in", "further out"} <= seen


def said_of(row):
    return SAY.fact(row.remark)


def slide_alone(setup, row):
    if row.place.lip_cents == 0.0 and row.lip_cents == pytest.approx(0.0, abs=1e-9):
        # Millimetres by finite difference: cents for a millimetre on this place.
        horn, place = setup.horn, row.place
        step, x = 1e-5, place.extension_m + row.change_mm / 2000.0
        up = horn.frequency_hz(place.partial, x - step, place.valves)
        down = horn.frequency_hz(place.partial, x + step, place.valves)
        per_mm = cents(up / down) / (2000.0 * step)
        assert -row.change_mm * per_mm == pytest.approx(row.interval.just_cents, abs=0.01)
    if abs(row.change_mm) < 0.5:
        return said_of(row)
    way = "further out" if row.change_mm > 0 else "further in"
    assert said_of(row).endswith(f"{abs(row.change_mm):.0f} mm {way}")
    if row.interval.just_cents:
        level = "higher" if row.interval.just_cents > 0 else "lower"
        assert said_of(row).startswith(f"{abs(row.interval.just_cents):.1f} c {level}:\n")
    return way


def lip_or_elsewhere(setup, row, wanted):
    end = "closed" if row.lip_cents > 0 else "at the end"
    assert f"{end}, lip {'up' if row.lip_cents > 0 else 'down'}" in said_of(row)
    able = []
    for place in setup.book.places(row.pitch.midi):
        grid = [setup.horn.travel_m * k / 4000 for k in range(4001)]
        offs = [cents(wanted / setup.horn.frequency_hz(place.partial, x, place.valves))
                for x in (grid[0], grid[-1])]  # fmt: skip
        if offs[0] < 0.5 and offs[1] > -0.5:
            able.append(place)
    assert (row.other is not None) == bool(able)
    assert row.other is None or (row.other in able and f"or in {row.other_mark}" in said_of(row))
    return "lip"


def test_the_third_of_a_closed_horn_is_just_already():
    # D4 in 1st is 13.7 cents flat on the ideal horn: over B♭ it is in tune without the lip.
    setup = setup_of("tenor")
    usual = usual_places(setup, Wishes())
    row = intonation.just_notes(setup, usual, 58)[intonation.MAJOR_THIRD]
    assert row.place.lip_cents == pytest.approx(13.686, abs=0.001)
    assert said_of(row) == "13.7 c lower:\nclosed, without the lip"
    # B♭4 as the fifth over E♭4 would have to be shorter than closed.
    row = intonation.just_notes(setup, usual, 63)[intonation.FIFTH]
    assert said_of(row) == "2.0 c higher:\nclosed, lip up 2 c, or in 3"


@pytest.mark.parametrize("horn", HORN_FILES.ours)
def test_intervals_are_spelled_as_intervals(horn):
    letters = {"minor third": 2, "major third": 2, "fifth": 4, "octave": 7, "unison": 0}
    setup = setup_of(horn)
    usual = usual_places(setup, Wishes())
    for drone in usual:
        found = intonation.just_notes(setup, usual, drone)
        home = found[intonation.UNISON].pitch
        for interval, row in found.items():
            steps = "CDEFGAB".index(row.pitch.step) - "CDEFGAB".index(home.step)
            steps += 7 * (row.pitch.octave - home.octave)
            assert steps == letters[interval.name]
            assert row.pitch.midi - drone == interval.semitones
    for seed in SEEDS:
        for one in intonation.make(setup, Wishes(), random.Random(seed)):
            names = {note.pitch.name[:-1] for note in one.notes if note.pitch}
            assert not names & {"Cb", "Fb", "E#", "B#"}
            assert all(abs(note.pitch.alter) <= 1 for note in one.notes if note.pitch)


# Trouble spots.


@pytest.mark.sample
@pytest.mark.parametrize("horn", HORN_FILES.ours)
@pytest.mark.parametrize("reach", REACHES)
def test_trouble_spots_are_in_the_middle_of_their_exercises(horn, reach):
    setup = setup_of(horn, reach)
    usual = usual_places(setup, Wishes(low=0, high=127))
    notes = list(usual)
    for seed in range(SWEEP or 12):
        rng = random.Random(seed)
        midi, before = rng.choice(notes), rng.choice(notes)
        place = rng.choice(setup.book.places(midi))
        row = TroubleSpot(midi, place.valves, place.partial, before, 12.0, rng.uniform(-20, 20))
        (one,) = troublespots.make(setup, Wishes(), rng, [row])
        check(setup, [one])
        assert any(n.pitch.midi == midi and n.lock == (place.valves, place.partial)
                   for n in one.bars[0])  # fmt: skip
        ways = []
        for bar in one.bars:
            said = remark_of(bar[0])
            if len(bar) != 2 or (" mm " not in said and said != "slide still"):
                break
            at = [place_of(setup, note).extension_m for note in bar]
            ways.append(abs(at[1] - at[0]))
            if said != "slide still":
                way = "out" if at[1] > at[0] else "in"
                assert said == f"{1000 * ways[-1]:.0f} mm {way}"
        assert 1 <= len(ways) <= 3
        assert ways == sorted(ways)
        if before != midi:
            assert interval_both_ways(one, midi, before)
            assert from_midi(before).pretty in title_of(one)


def interval_both_ways(one, midi, before):
    found = set()
    for bar in one.bars:
        notes = [note.pitch.midi for note in bar]
        beats = {note.beats for note in bar}
        if set(notes) == {midi, before} and len(beats) == 1:
            found.add((notes[0] < notes[1], *beats))
    return {(True, 2), (False, 2), (True, 1), (False, 1)} <= found


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (
            TroubleSpot(57, (), 4, slide_mm=9.2),
            "9 mm (a fingertip) too far out: let it",
        ),
        (TroubleSpot(57, (), 4, slide_mm=-6.0), "6 mm (the thickness of a pencil) too short"),
        (TroubleSpot(58, (), 4, slide_mm=-12.0), "too high with the slide closed: it's the lip"),
        (TroubleSpot(58, (), 4, slide_mm=12.0), "close the slide"),
        (TroubleSpot(57, cents=20.0), "20 cents too high: hold it against a drone"),
        (TroubleSpot(57), "the note to make sure of"),
        (TroubleSpot(57, (), 4, cents=-2.0, slide_mm=2.0), "the note to make sure of"),
    ],
)
def test_what_is_said_of_a_trouble_spot(row, words):
    (one,) = troublespots.make(setup_of("tenor"), Wishes(), random.Random(0), [row])
    assert words in text_of(one)


def test_a_place_of_another_horn_becomes_the_usual_one():
    setup = setup_of("tenor")
    (one,) = troublespots.make(setup, Wishes(), random.Random(0), [TroubleSpot(53, ("F",), 4)])
    check(setup, [one])
    assert title_of(one).startswith("F3")


def test_trouble_spots_that_cant_be():
    setup = setup_of("tenor")
    with pytest.raises(BadUsage, match="nothing to practise"):
        troublespots.make(setup, Wishes(), random.Random(0), [])
    with pytest.raises(BadUsage, match=r"D1 can't be played on Tenor"):
        troublespots.make(setup, Wishes(), random.Random(0), [TroubleSpot(26)])
    # One that can't be doesn't stop the others, and none is asked for twice.
    rows = [TroubleSpot(26), TroubleSpot(50), TroubleSpot(50), TroubleSpot(52)]
    assert len(troublespots.make(setup, Wishes(), random.Random(0), rows)) == 2


def test_a_quick_interval_is_left_out_where_the_slide_would_have_to_fly():
    setup = setup_of("tenor")
    (far,) = troublespots.make(setup, Wishes(), random.Random(0), [TroubleSpot(40, before_midi=46)])
    (near,) = troublespots.make(
        setup, Wishes(), random.Random(0), [TroubleSpot(45, before_midi=46)]
    )
    quick = [any(remark_of(note) == "quick" for note in one.notes) for one in (far, near)]
    assert quick == [False, True]
