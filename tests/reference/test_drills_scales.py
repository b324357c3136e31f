"""Scales and arpeggios against music21's own, and thousands of sheets against their promises."""

import random
import re
from fractions import Fraction
from functools import cache
from itertools import pairwise, product

import pytest
from drill_words import SAY, text_of, title_of
from sampling import ALL

from handslide.drills.keys import (
    KINDS,
    fifths_of,
    parse_tonic,
    signature,
    spell,
    spelled,
    tones,
    tonic_of,
    tonics_within,
    usual_tonic,
)
from handslide.drills.kinds import SCALE_KINDS
from handslide.drills.levels import LEVELS
from handslide.drills.piece import ARTICULATIONS, MODES, Key
from handslide.drills.ranges import limited, range_of
from handslide.drills.rhythms import (
    ARTICULATION_NAMES,
    METERS,
    RHYTHMS,
    articulated,
    bar_beats,
    in_bars,
    lengths,
    repeated_bars,
)
from handslide.drills.scales import (
    DIRECTIONS,
    ScaleWishes,
    Span,
    course,
    scale_pieces,
)
from handslide.edges.files.horns import HORN_FILES
from handslide.ground.errors import BadUsage, PitchError
from handslide.ground.pitch import from_midi, parse_pitch
from handslide.jobs.setup import make_setup

SEEDS = 200 if ALL else 50
NAMES = [letter + sign for letter in "CDEFGAB" for sign in ("", "b", "#")]
SCALES21 = {
    "major": "MajorScale",
    "natural-minor": "MinorScale",
    "harmonic-minor": "HarmonicMinorScale",
    "melodic-minor": "MelodicMinorScale",
    "ionian": "MajorScale",
    "dorian": "DorianScale",
    "phrygian": "PhrygianScale",
    "lydian": "LydianScale",
    "mixolydian": "MixolydianScale",
    "aeolian": "MinorScale",
    "locrian": "LocrianScale",
}


@cache
def setup_of(horn, **limits):
    return make_setup(horn, **limits)


def classes(pitches):
    return [re.sub(r"-?\d+$", "", pitch.name) for pitch in pitches]


def name21(pitch):
    return pitch.name.replace("-", "b")


def midi(name):
    return parse_pitch(name).midi


# Spelling and signatures against music21.


@pytest.mark.parametrize("kind", SCALES21)
def test_seven_note_scales_are_music21s(kind):
    from music21 import pitch, scale

    for name in NAMES:
        tonic = usual_tonic(kind, parse_tonic(name))
        theirs = getattr(scale, SCALES21[kind])(name21_of(tonic))
        first = pitch.Pitch(name21_of(tonic) + "4")
        for falling, direction in ((False, "ASCENDING"), (True, "DESCENDING")):
            way = scale.Direction[direction]
            found = theirs.getPitches(first, first.transpose("P8"), direction=way)
            found = sorted(found, key=lambda p: p.ps)[:-1]
            ours = spelled(kind, tonic, falling)
            assert classes(ours) == [name21(p) for p in found], (kind, name, falling)
            assert [p.midi for p in ours] == [p.midi for p in found]


def name21_of(tonic):
    return classes([tonic])[0].replace("b", "-")


@pytest.mark.parametrize("kind", KINDS)
def test_signatures_are_music21s(kind):
    from music21 import key

    for name in NAMES:
        tonic = usual_tonic(kind, parse_tonic(name))
        assert tonic.midi % 12 == parse_tonic(name).midi % 12
        ours = signature(kind, tonic)
        assert ours.mode in MODES
        assert abs(ours.fifths) <= 6
        if ours.mode == "none":
            assert ours.fifths == 0
        else:
            assert ours.fifths == key.Key(name21_of(tonic), ours.mode).sharps, (kind, name)


@pytest.mark.parametrize(
    ("kind", "asks"),
    [
        ("major-arpeggio", "isMajorTriad"),
        ("minor-arpeggio", "isMinorTriad"),
        ("diminished-arpeggio", "isDiminishedTriad"),
        ("diminished-seventh", "isDiminishedSeventh"),
        ("dominant-seventh", "isDominantSeventh"),
    ],
)
def test_arpeggios_are_the_chords_that_music21_knows(kind, asks):
    from music21 import chord

    strict = 0
    for name in NAMES:
        tonic = usual_tonic(kind, parse_tonic(name))
        ours = spelled(kind, tonic)
        assert ours[0] == tonic
        found = chord.Chord([p.name.replace("b", "-") for p in ours])
        if getattr(found, asks)():
            strict += 1
            continue
        # Spelled plainer than the chord: the same sounds, and why it isn't spelled in thirds.
        assert KINDS[kind].plain != "none"
        thirds = [tonic.transposed(2 * n, 3 * n) for n in range(len(ours))]
        assert [p.midi for p in thirds] == [p.midi for p in ours]
        hard = {"E#", "B#", "Cb", "Fb"} if KINDS[kind].plain == "white" else set()
        for plain, third in zip(ours, thirds):
            if plain != third:
                assert abs(third.alter) > 1 or classes([third])[0] in hard
                assert plain.alter == 0
    assert strict >= (len(NAMES) if KINDS[kind].plain == "none" else len(NAMES) // 3)


def test_dominant_sevenths_lie_in_their_key():
    for name in NAMES:
        tonic = usual_tonic("dominant-seventh", parse_tonic(name))
        key = signature("dominant-seventh", tonic)
        assert set(classes(spelled("dominant-seventh", tonic))) <= set(
            classes(spelled("major", tonic_of(key.fifths)))
        )


@pytest.mark.parametrize(
    ("kind", "class21"), [("chromatic", "ChromaticScale"), ("whole-tone", "WholeToneScale")]
)
def test_even_scales_sound_as_music21s(kind, class21):
    from music21 import pitch, scale

    for name in NAMES:
        tonic = usual_tonic(kind, parse_tonic(name))
        first = pitch.Pitch(name21_of(tonic) + "4")
        theirs = getattr(scale, class21)(name21_of(tonic))
        found = theirs.getPitches(first, first.transpose("P8"))[:-1]
        for falling in (False, True):
            assert [p.midi for p in spelled(kind, tonic, falling)] == [p.midi for p in found]


def test_chromatic_scales_go_up_in_sharps_and_down_in_flats():
    for tonic in tonics_within("chromatic", 6, 6):
        own = set(classes(spelled("major", tonic)))
        for falling in (False, True):
            line = spelled("chromatic", tonic, falling)
            assert own <= set(classes(line))
            for before, note, after in zip((*line[-1:], *line), line, (*line[1:], *line[:1])):
                name = classes([note])[0]
                if name in own:
                    continue
                assert abs(note.alter) <= 1 and name not in ("E#", "B#", "Cb", "Fb")
                # Raised from the note before on the way up, lowered on the way down; where that
                # has no plain name it is the natural note.
                neighbour = after if falling else before
                assert note.step == neighbour.step or note.alter == 0, (tonic, falling, note)


@pytest.mark.parametrize(
    ("kind", "tonic", "up", "down"),
    [
        ("chromatic", "C", "C C# D D# E F F# G G# A A# B", "C Db D Eb E F Gb G Ab A Bb B"),
        ("chromatic", "Bb", "Bb B C C# D Eb E F F# G G# A", "Bb B C Db D Eb E F Gb G Ab A"),
        ("chromatic", "Gb", "Gb G Ab A Bb Cb C Db D Eb E F", "Gb G Ab A Bb Cb C Db D Eb E F"),
        ("whole-tone", "C", "C D E F# G# A#", "C D E Gb Ab Bb"),
        ("whole-tone", "Bb", "Bb C D E Gb Ab", "Bb C D E Gb Ab"),
        ("blues", "C", "C Eb F F# G Bb", "C Eb F Gb G Bb"),
        ("blues", "Bb", "Bb Db Eb E F Ab", "Bb Db Eb E F Ab"),
        ("blues", "Gb", "F# A B C C# E", "F# A B C C# E"),
        ("diminished-seventh", "Bb", "Bb Db E G", "Bb Db E G"),
        ("diminished-arpeggio", "Eb", "Eb Gb A", "Eb Gb A"),
        ("harmonic-minor", "Ab", "G# A# B C# D# E F##", "G# A# B C# D# E F##"),
    ],
)
def test_spelling_that_a_teacher_would_write(kind, tonic, up, down):
    tonic = usual_tonic(kind, parse_tonic(tonic))
    assert classes(spelled(kind, tonic)) == up.split()
    assert classes(spelled(kind, tonic, True)) == down.split()


def test_blues_scales_have_their_six_notes():
    for name in NAMES:
        tonic = usual_tonic("blues", parse_tonic(name))
        for falling in (False, True):
            notes = spelled("blues", tonic, falling)
            assert [n.midi - tonic.midi for n in notes] == [0, 3, 5, 6, 7, 10]
            assert all(abs(n.alter) <= 1 for n in notes)


@pytest.mark.parametrize("kind", KINDS)
def test_tones_fill_a_range(kind):
    tonic = usual_tonic(kind, parse_tonic("Eb"))
    for falling in (False, True):
        line = tones(kind, tonic, 30, 75, falling)
        wanted = {p.midi % 12 for p in spelled(kind, tonic, falling)}
        assert [p.midi for p in line] == [m for m in range(30, 76) if m % 12 in wanted]


def test_notes_are_spelled_in_a_key():
    said = [
        ("C#4", 1, "major", False), ("Db4", -4, "major", False), ("C#4", 0, "major", False),
        ("Db4", 0, "major", True), ("G#3", 0, "minor", True), ("F#3", 0, "minor", True),
        ("Cb4", -6, "major", False), ("E#3", 6, "major", True), ("B3", -3, "minor", True),
        ("F#3", -3, "minor", False), ("Bb2", 0, "dorian", True),
    ]  # fmt: skip
    for name, fifths, mode, falling in said:
        assert spell(midi(name), Key(fifths, mode), falling).name == name
    for fifths, mode, number in product(range(-6, 7), ("major", "minor"), range(24, 84)):
        assert spell(number, Key(fifths, mode)).midi == number


def test_tonics_and_fifths_are_inverse():
    for fifths, mode in product(range(-9, 10), MODES):
        assert fifths_of(tonic_of(fifths, mode), mode) == fifths


@pytest.mark.parametrize("kind", KINDS)
def test_all_keys_of_a_kind_are_twelve_different_ones(kind):
    tonics = tonics_within(kind, 6, 6)
    assert len({tonic.midi % 12 for tonic in tonics}) == len(tonics) == 12
    assert all(usual_tonic(kind, tonic) == tonic for tonic in tonics)


def test_a_wrong_tonic_is_refused():
    with pytest.raises(PitchError, match="H is the German name"):
        parse_tonic("H")
    with pytest.raises(BadUsage, match="no scale called 'bebop'"):
        ScaleWishes(kind="bebop")


# Lines.


def line_of(kind, tonic, low, high, direction, home=None):
    span = Span(midi(low), midi(high), midi(home or low))
    thirds = kind.endswith("-thirds")
    kind = kind.removesuffix("-thirds")
    found = course(kind, parse_tonic(tonic), span, direction, thirds)
    return " ".join(pitch.name for pitch in found)


def test_a_melodic_minor_comes_down_another_way():
    assert line_of("melodic-minor", "A", "A2", "A3", "up-and-down") == (
        "A2 B2 C3 D3 E3 F#3 G#3 A3 G3 F3 E3 D3 C3 B2 A2"
    )


def test_broken_thirds():
    assert line_of("major-thirds", "C", "C3", "C4", "up") == (
        "C3 E3 D3 F3 E3 G3 F3 A3 G3 B3 A3 C4 B3 C4"
    )
    assert line_of("major-thirds", "C", "C3", "C4", "down") == (
        "C4 A3 B3 G3 A3 F3 G3 E3 F3 D3 E3 C3 D3 C3"
    )


def test_lines_that_go_beyond_their_tonic():
    assert line_of("major-arpeggio", "Bb", "F2", "D3", "up-and-down", "Bb2") == (
        "Bb2 D3 Bb2 F2 Bb2"
    )
    assert line_of("major-arpeggio", "Bb", "F2", "D3", "down-and-up", "Bb2") == (
        "Bb2 F2 Bb2 D3 Bb2"
    )
    assert line_of("major-arpeggio", "Bb", "Bb2", "Bb3", "down-and-up") == (
        "Bb3 F3 D3 Bb2 D3 F3 Bb3"
    )


# Rhythms.


@pytest.mark.parametrize(
    ("rhythm", "meter"), [(name, m) for name, r in RHYTHMS.items() for m in METERS if m in r.cells]
)
def test_rhythms_fill_their_bars(rhythm, meter):
    beat = Fraction(3, 2) if meter == (6, 8) else Fraction(1)
    bar = bar_beats(meter)
    whole = sum(RHYTHMS[rhythm].cells[meter])
    assert whole % beat == 0 or beat % whole == 0
    for count in range(1, 60):
        row = lengths(count, RHYTHMS[rhythm], meter)
        assert len(row) == count and min(row) > 0
        assert sum(row) % bar == 0
        assert row[-1] >= (beat if meter == (6, 8) else 2)
        assert row[-1] <= bar and max(row) <= 4
        # The rhythm is heard: nearly all notes are the pattern's.
        cell = RHYTHMS[rhythm].cells[meter]
        own = [cell[n % len(cell)] for n in range(count)]
        assert [a == b for a, b in zip(row[:-7], own)] == [True] * max(0, count - 7)
        notes = articulated([from_midi(50 + n) for n in range(count)], row, "tongued")
        bars = in_bars(notes, meter)
        assert all(sum(note.beats for note in one) == bar for one in bars)


def test_every_rhythm_that_says_so_ties_over_the_barline():
    for meter, _ in RHYTHMS["tied"].cells.items():
        row = lengths(20, RHYTHMS["tied"], meter)
        notes = articulated([from_midi(40 + n) for n in range(20)], row, "staccato")
        flat = [note for bar in in_bars(notes, meter) for note in bar]
        ties = [(a, b) for a, b in pairwise(flat) if a.tie]
        assert len(ties) >= 3
        assert all(a.pitch == b.pitch and not a.articulation for a, b in ties)


def test_the_last_bar_is_filled_with_rest():
    notes = articulated([from_midi(50)], [Fraction(3, 2)], "tongued")
    (bar,) = in_bars(notes, (4, 4))
    assert [(n.pitch is None, n.beats) for n in bar] == [(False, 1.5), (True, 2.5)]


def test_slurs_and_signs():
    row = [from_midi(m) for m in (50, 52, 53, 53, 55, 57, 59, 60)]
    beats = [Fraction(1, 2)] * 8

    def slurs(name):
        return "".join("-" if note.slur else "." for note in articulated(row, beats, name))

    assert slurs("slur-2") == "-...-.-."
    assert slurs("slur-4") == "--..---."  # no slur over the repeated note
    assert slurs("slur-3") == "--.--.-."
    assert slurs("slur-2-tongue-2") == "-...-..."
    assert slurs("tongued") == "........"
    signs = [note.articulation for note in articulated(row, beats, "staccato")]
    assert signs == ["staccato"] * 7 + [""]
    assert {note.articulation for note in articulated(row, beats, "legato")} == {"tenuto"}
    with pytest.raises(BadUsage, match="no articulation called 'marcato'"):
        articulated(row, beats, "marcato")


def test_repeated_bars_are_found():
    quarter = Fraction(1)
    up = articulated([from_midi(m) for m in (50, 52, 54, 55)] * 2, [quarter] * 8, "tongued")
    slurred = articulated([from_midi(m) for m in (50, 52, 54, 55)], [quarter] * 4, "slur-2")
    assert repeated_bars(in_bars(up, (4, 4))) == (1,)
    assert repeated_bars(in_bars([*up[:4], *slurred], (4, 4))) == (1,)
    assert repeated_bars(in_bars(up, (3, 4))) == ()


# Whole sheets.


def sounds(bar):
    return [(note.pitch and note.pitch.midi, note.beats, note.tie) for note in bar]


def check(piece, book, low, high):
    """What every piece promises, counted here a second time."""
    beats = Fraction(4 * piece.meter[0], piece.meter[1])
    for bar in piece.bars:
        assert sum((note.beats for note in bar), Fraction(0)) == beats
    for one, other in pairwise(piece.bars):
        assert sounds(one) != sounds(other), title_of(piece)
    flat = [note for bar in piece.bars for note in bar]
    for note, following in zip(flat, [*flat[1:], None]):
        assert note.beats > 0 and note.articulation in ARTICULATIONS and not note.gliss
        if note.pitch is None:
            assert not (note.tie or note.slur or note.articulation)
            continue
        assert low <= note.pitch.midi <= high
        assert book.places(note.pitch.midi)
        if note.tie:
            assert following is not None and following.pitch == note.pitch and not note.slur
        if note.slur:
            assert following is not None and following.pitch is not None
            assert following.pitch.midi != note.pitch.midi
    last = [note for note in piece.bars[-1] if note.pitch is not None][-1]
    assert last.beats >= (Fraction(3, 2) if piece.meter == (6, 8) else 2)
    assert abs(piece.key.fifths) <= 6
    assert title_of(piece) and text_of(piece).endswith(".")


@pytest.mark.sample
@pytest.mark.parametrize("horn", HORN_FILES.ours)
@pytest.mark.parametrize("level", LEVELS.values(), ids=lambda level: level.name)
def test_many_sheets_of_each_horn_and_level(horn, level):
    setup = setup_of(horn)
    book = limited(setup.book, level)
    low, high = range_of(book, level)
    fresh = 0
    for seed in range(SEEDS):
        rng = random.Random(f"{horn} {level.name} {seed}")
        wishes = ScaleWishes(
            kind=SCALE_KINDS[seed % len(SCALE_KINDS)],
            level=level.name,
            direction=rng.choice((None, *DIRECTIONS)),
            octaves=rng.choice((1, 1, None)),
            bars=rng.choice((None, None, 8, 12)),
        )
        (piece,) = scale_pieces(setup, wishes, rng)
        check(piece, book, low, high)
        assert piece.meter in level.meters
        assert piece.tempo_qpm <= level.tempo_qpm
        kind = wishes.scale
        if kind.name != "chromatic":
            assert level.allows_key(piece.key.fifths)
        keys = {signature(kind.name, tonic) for tonic in tonics_within(kind.name, 6, 6)}
        assert piece.key in keys
        fresh += title_of(piece) not in ("", wishes.kind)
    assert fresh == SEEDS


@pytest.mark.sample
@pytest.mark.parametrize(
    "horn", [h for h in HORN_FILES.ours if h not in ("tenor", "alto", "soprano")]
)
@pytest.mark.parametrize("level", LEVELS.values(), ids=lambda level: level.name)
def test_the_valve_register(horn, level):
    setup = setup_of(horn)
    book = limited(setup.book, level, valve_register=True)
    low, high = range_of(book, level, valve_register=True)
    made = 0
    for seed in range(60):
        rng = random.Random(seed)
        direction = ("up", "down", "up-and-down")[seed % 3]
        wishes = ScaleWishes(
            kind=SCALE_KINDS[seed % len(SCALE_KINDS)],
            level=level.name,
            direction=direction,
            octaves=rng.choice((1, None)),
            valve_register=True,
        )
        try:
            (piece,) = scale_pieces(setup, wishes, rng)
        except BadUsage as error:
            assert "valve register" in str(error)
            continue
        made += 1
        check(piece, book, low, high)
        line = [note.pitch.midi for note in piece.notes if note.pitch is not None]
        for end in {"up": line[:1], "down": line[-1:]}.get(direction, [line[0], line[-1]]):
            places = setup.book.places(end) if level.name == "advanced" else book.places(end)
            assert places and all(place.valves for place in places)
        assert "the valve register, on" in text_of(piece)
    assert made >= (15 if horn == "tenor-c-bb" else 45)  # one note needs its valve, B2


def test_a_short_scale_over_many_bars_varies_whatever_is_fixed():
    # All that can be asked for is fixed, and each pass is short: here bars would repeat first.
    setup = setup_of("tenor-f")
    for rhythm, meter in product(RHYTHMS, METERS):
        if meter not in RHYTHMS[rhythm].cells:
            continue
        for kind, direction in product(
            ("major-arpeggio", "diminished-seventh", "blues", "major-thirds"), DIRECTIONS
        ):
            wishes = ScaleWishes(
                kind=kind, key="Bb", low=midi("Bb2"), high=midi("Bb3"), rhythm=rhythm,
                meter=meter, articulation="tongued", direction=direction, bars=16,
            )  # fmt: skip
            (piece,) = scale_pieces(setup, wishes, random.Random(7))
            check(piece, setup.book, midi("Bb2"), midi("Bb3"))
            assert len(piece.bars) >= 10


def test_the_seed_makes_a_sheet_repeatable_and_others_different():
    setup = setup_of("tenor-f")
    wishes = ScaleWishes(kind="harmonic-minor", pieces=3, bars=8)
    one, again, other = (scale_pieces(setup, wishes, random.Random(seed)) for seed in (4, 4, 5))
    assert one == again != other
    assert len({title_of(piece) for piece in one}) == 3


def test_what_is_named_is_kept():
    setup = setup_of("tenor-f")
    wishes = ScaleWishes(
        kind="major", key="E", low=midi("E2"), high=midi("E4"), rhythm="triplets",
        articulation="slur-3", direction="down", octaves=2, level="first year", meter=(3, 4),
        tempo_qpm=66.0,
    )  # fmt: skip
    with pytest.raises(BadUsage, match=r"E major scale over two octaves doesn't fit .* E2 and E4"):
        scale_pieces(setup, wishes, random.Random(1))  # E2 is in 7th: beyond a first year's arm
    wishes = ScaleWishes(**{f: getattr(wishes, f) for f in wishes.__slots__ if f != "level"})
    (piece,) = scale_pieces(setup, wishes, random.Random(1))
    line = " ".join(note.pitch.name for note in piece.notes)
    assert line == "E4 D#4 C#4 B3 A3 G#3 F#3 E3 D#3 C#3 B2 A2 G#2 F#2 E2"
    assert (piece.key, piece.meter, piece.tempo_qpm) == (Key(4, "major"), (3, 4), 66.0)
    assert title_of(piece) == "E major scale"
    assert text_of(piece) == "Down, two octaves. Triplets; slurred three by three."


def test_as_far_as_the_range_allows():
    wishes = ScaleWishes(kind="major", key="Bb", octaves=None, low=midi("E2"), high=midi("F4"))
    (piece,) = scale_pieces(setup_of("tenor"), wishes, random.Random(3))
    assert ", F2 to F4. " in text_of(piece)
    line = [note.pitch.midi for note in piece.notes if note.pitch is not None]
    # From the tonic to the top, to the bottom and home: there is no E in B flat major.
    assert (line[0], max(line), min(line), line[-1]) == tuple(map(midi, ("Bb2", "F4", "F2", "Bb2")))


def test_a_student_s_own_limits_hold():
    for reach, learned in product((3.0, 4.0, 5.0, 6.0), ((), ("F",), None)):
        setup = setup_of("tenor-f", reach=reach, learned=learned)
        made = 0
        for seed, level in product(range(30), LEVELS):
            wishes = ScaleWishes(kind=SCALE_KINDS[seed], level=level, octaves=None)
            try:
                pieces = scale_pieces(setup, wishes, random.Random(seed))
            except BadUsage as error:
                assert "with a place for every note" in str(error)
                continue
            made += 1
            for piece in pieces:
                check(piece, setup.book, 24, 90)
        assert made or reach < 5.0


def test_wrong_wishes_get_a_sentence():
    horn = setup_of("tenor")
    for values, said in (
        ({"direction": "sideways"}, "a scale can't go 'sideways': choose one of up, down"),
        ({"meter": (5, 4)}, "there is no meter 5/4: choose one of 4/4, 3/4, 2/4 and 6/8"),
        ({"rhythm": "swing"}, "there is no rhythm called 'swing': choose one of halves"),
        ({"rhythm": "triplets", "meter": (6, 8)}, "triplets isn't made for 6/8: choose one of"),
        ({"articulation": "slap"}, "there is no articulation called 'slap': choose one of"),
        ({"level": "expert"}, "there is no level called 'expert': choose one of first-year"),
        ({"low": 60, "high": 50}, "C4 to D3 is no range: give the lower note first"),
        ({"octaves": 0}, "a scale of 0 octaves can't be made: ask for 1 to 4"),
        ({"bars": 0}, "an exercise of 0 bars can't be made"),
        ({"pieces": 99}, "99 exercises can't be made"),
        ({"tempo_qpm": 5.0}, "a tempo of 5 is outside 20 to 300"),
    ):
        with pytest.raises(BadUsage, match=re.escape(said)):
            ScaleWishes(**values)
    for values, said in (
        ({"valve_register": True}, "has no notes between E2 and F4 that need a valve"),
        ({"low": 90}, "give both its ends"),
        ({"octaves": 4}, "over four octaves doesn't fit between E2 and F4"),
    ):
        with pytest.raises(BadUsage, match=said):
            scale_pieces(horn, ScaleWishes(**values), random.Random(0))


def test_every_articulation_can_be_asked_for():
    setup = setup_of("bass-independent")
    for name, kind in product(ARTICULATION_NAMES, ("major", "chromatic", "minor-arpeggio")):
        wishes = ScaleWishes(kind=kind, key="C", articulation=name, level="advanced")
        for piece in scale_pieces(setup, wishes, random.Random(name)):
            check(piece, setup.book, 24, 90)
            assert SAY.named("articulation", name) in text_of(piece)


def test_a_named_articulation_gets_a_rhythm_that_it_lies_on():
    setup = setup_of("tenor-f")
    for seed in range(60):
        wishes = ScaleWishes(articulation=("slur-2", "slur-3")[seed % 2], level="advanced")
        (piece,) = scale_pieces(setup, wishes, random.Random(seed))
        thirds = {note.beats.denominator for note in piece.notes} == {1, 3} or piece.meter == (6, 8)
        assert thirds or wishes.articulation == "slur-2"
        if wishes.articulation == "slur-2":
            assert 3 not in {note.beats.denominator for note in piece.notes}


@pytest.mark.parametrize("horn", ["tenor", "tenor-f", "bass-independent", "alto", "contrabass-f"])
def test_lines_that_go_as_far_as_they_can_turn_well(horn):
    for seed, level in product(range(40), LEVELS):
        rng = random.Random(seed)
        wishes = ScaleWishes(kind="melodic-minor", level=level, octaves=None)
        (piece,) = scale_pieces(setup_of(horn), wishes, rng)
        line = [n.pitch.midi for n in piece.notes if n.pitch is not None]
        # It turns where both its ways meet: no augmented second, no note against its neighbour.
        assert max(abs(a - b) for a, b in pairwise(line)) <= 2
        wishes = ScaleWishes(kind="natural-minor-thirds", level=level, octaves=None)
        (piece,) = scale_pieces(setup_of(horn), wishes, rng)
        flat = [n for n in piece.notes if n.pitch is not None]
        line = [b.pitch.midi for a, b in pairwise([flat[0], *flat]) if not a.tie or b is a]
        assert not any(a == c and b == d for a, b, c, d in zip(line, line[1:], line[2:], line[3:]))
