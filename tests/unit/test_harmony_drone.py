"""Drones that follow a score: which chord when, on the clock of the play-along, and its pitches."""

import numpy as np
import pytest
from command import one_sentence, run, run_json
from drill_words import SAY
from musicxml_build import attributes, barline, note, notes, part, repeat, score, tempo
from sound_meter import line_hz

from handslide.edges.musicxml.read import read_score
from handslide.ground.chordkinds import KINDS, tones_of
from handslide.ground.errors import BadUsage, PitchError
from handslide.ground.pitch import parse_pitch
from handslide.ground.units import cents
from handslide.jobs.practice.playalong import make_playalong
from handslide.jobs.practice.soundwishes import HarmonyWishes, PlayWishes
from handslide.sound.playing.harmony import Chord
from handslide.sound.playing.held import drone_tones, voiced
from handslide.sound.synth import RATE_HZ

ALONE = {
    "solo": "off", "others": False, "clicks": False, "count_in": 0, "life": False, "room": False,
}  # fmt: skip


def symbol(root, kind="major", more=""):
    if kind == "none":
        return "<harmony><root><root-step>C</root-step></root><kind>none</kind></harmony>"
    alter = root[1:].count("#") - root[1:].count("b")
    return (
        f"<harmony><root><root-step>{root[0]}</root-step><root-alter>{alter}</root-alter></root>"
        f"<kind>{kind}</kind>{more}</harmony>"
    )


def bar(chord="", row="C3 D3 E3 F3", kind="major"):
    return (symbol(chord, kind) if chord else "") + notes(row)


def score_of(*measures, others=(), names=("Trombone",)):
    first = measures[0] if "<attributes>" in measures[0] else attributes() + measures[0]
    parts = [part(tempo(60) + first, *measures[1:])]
    parts += [part(*one, part_id=f"P{at}") for at, one in enumerate(others, 2)]
    names = (*names, *(f"Part {at}" for at, _ in enumerate(others, 2)))
    return read_score(score(*parts, names=names))


def made(*measures, others=(), play=ALONE, **wishes):
    return make_playalong(
        score_of(*measures, others=others), PlayWishes(**play, drone=HarmonyWishes(**wishes))
    )


def chords(found):
    return [(one.root and one.root.name[:-1], one.begin_s, one.end_s) for one in found.chords]


def roots(found):
    return " ".join(one.root.name[:-1] if one.root else "-" for one in found.chords)


def mono(found):
    return np.atleast_2d(found.sound.samples).mean(axis=0)


def level_at(found, hz, from_s, to_s):
    """Level of one frequency beside the whole, in dB."""
    piece = mono(found)[round(from_s * RATE_HZ) : round(to_s * RATE_HZ)].astype(float)
    piece = piece * np.hanning(len(piece))
    turn = np.exp(-2j * np.pi * hz * np.arange(len(piece)) / RATE_HZ)
    return 20 * np.log10(abs(turn @ piece) / np.sqrt(np.sum(piece**2) * len(piece)) + 1e-9)


# Which chord when


def test_a_symbol_holds_until_the_next():
    found = made(bar("Bb"), bar(), symbol("F", "dominant") + notes("C3 D3") + bar("Eb", "E3 F3"))
    assert chords(found) == [("Bb", 0, 8), ("F", 8, 10), ("Eb", 10, 12)]
    assert [one.measure for one in found.chords] == ["1", "3", "3"]
    assert found.harmony.source == "chords"


def test_an_offset_moves_a_symbol():
    late = symbol("F", more="<offset>2</offset>")
    assert chords(made(bar("Bb"), late + notes("C3 D3 E3 F3"))) == [("Bb", 0, 6), ("F", 6, 8)]


def test_no_chord_is_silent():
    found = made(bar("Bb"), bar("C", kind="none"), bar("F"))
    assert chords(found) == [("Bb", 0, 4), (None, 4, 8), ("F", 8, 12)]
    assert found.warnings == ()
    silent = mono(found)[round(4.5 * RATE_HZ) : round(7.9 * RATE_HZ)]
    assert np.abs(silent).max() < 1e-4


def test_repeats_and_endings_are_followed():
    def ending(number, kind):
        where = "left" if kind == "start" else "right"
        return barline(f'<ending number="{number}" type="{kind}"/>', where)

    first = (
        ending(1, "start")
        + bar("F")
        + barline('<ending number="1" type="stop"/><repeat direction="backward"/>')
    )
    second = ending(2, "start") + bar("G") + ending(2, "stop")
    assert roots(made(bar("Bb"), bar("Eb"), first, second)) == "Bb Eb F Bb Eb G"


def test_going_back_into_a_chord_takes_what_stands_before_on_the_paper():
    # The repeated measure has no symbol of its own: it is in that of the measure before.
    found = made(bar("Bb"), repeat("forward") + bar(), bar("F") + repeat())
    assert chords(found) == [("Bb", 0, 8), ("F", 8, 12), ("Bb", 12, 16), ("F", 16, 20)]


def test_a_chord_doesn_t_reach_into_the_next_movement():
    end = barline("<bar-style>light-heavy</bar-style>")
    found = made(bar("Bb") + end, bar(), bar("F"))
    assert roots(found) == "Bb - F"


@pytest.mark.parametrize(
    "sign",
    [
        "<direction><direction-type><words>rit.</words></direction-type></direction>",
        "<direction><direction-type><words>Swing</words></direction-type></direction>",
    ],
)
def test_the_drone_is_on_the_clock_of_the_notes(sign):
    rows = [
        attributes(2) + symbol("Bb") + sign + notes("C3 D3", duration=1, kind="eighth")
        + symbol("F") + notes("E3 F3 G3", duration=2),
        symbol("Eb") + note("C3", 2) + note("D3", 2, notations="<fermata/>") + symbol("C")
        + notes("E3 F3", duration=2),
    ]  # fmt: skip
    found = made(*rows, play=ALONE | {"count_in": 1})
    begins = [one.onset_s for one in found.notes]
    assert found.begins_s == 4.0
    assert [one.begin_s for one in found.chords] == pytest.approx(
        [begins[0], begins[2], begins[5], begins[7]]
    )
    # The chord under the fermata lasts through it.
    assert found.chords[2].end_s == pytest.approx(begins[7])
    assert found.chords[2].end_s - found.chords[2].begin_s > 2.9


def test_the_first_chord_is_heard_in_the_count_in():
    found = made(bar("Bb"), bar("F"), play=ALONE | {"count_in": 1}, tones="root")
    assert chords(found)[0] == ("Bb", 4, 8)
    bb_hz, f_hz = parse_pitch("Bb2").hz(), parse_pitch("F2").hz()
    # Between two clicks.
    piece = mono(found)[round(2.2 * RATE_HZ) : round(2.9 * RATE_HZ)].astype(float)
    assert abs(cents(line_hz(piece, RATE_HZ, bb_hz) / bb_hz)) < 0.2
    assert level_at(found, bb_hz, 2.2, 2.9) > level_at(found, f_hz, 2.2, 2.9) + 20


def test_tempos_measures_and_passes_are_those_of_the_play_along():
    play = ALONE | {"tempos_qpm": (60.0, 120.0), "measures": "2-3"}
    found = made(bar("Bb"), bar("F"), bar(), bar("C"), play=play)
    assert chords(found) == [("F", 0, 8)]
    assert found.sound.length_s == pytest.approx(12.0, abs=0.5)


def test_symbols_of_a_transposing_part_sound_as_it_does():
    moved = attributes(
        more="<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    )
    assert roots(made(moved + bar("C"), bar("F#"))) == "Bb E"


def test_symbols_may_stand_in_another_part_even_one_without_notes():
    silent = [symbol(root) + note("r", 4, kind="whole") for root in ("Bb", "F")]
    assert roots(made(bar(), bar(), others=[silent])) == "Bb F"


def test_what_can_t_be_read_is_silent_and_told():
    odd = "<harmony><function>V</function><kind>major</kind></harmony>"
    found = made(bar("Bb"), odd + notes("C3 D3 E3 F3"), bar("F"))
    assert roots(found) == "Bb - F"
    told = [SAY.fact(one) for one in found.warnings]
    assert told == [
        "the drone is silent 33 % of the time, where chord symbols can't be read: measures 2"
    ]


# Found in the parts


def parts_of(*rows):
    return [[notes(measure) for measure in one] for one in rows]


def test_roots_are_found_in_what_the_parts_play():
    top, middle, low = parts_of(
        ["D4 D4 C4 C4", "Bb3 Bb3 A3 A3", "Bb3 Bb3 Bb3 Bb3"],
        ["F3 F3 F3 F3", "G3 G3 F3 F3", "F3 F3 F3 F3"],
        ["Bb2 Bb2 A2 A2", "Eb3 Eb3 C3 C3", "D3 D3 D3 D3"],
    )
    found = made(*low, others=[top, middle], tones="chord")
    assert found.harmony.source == "parts"
    assert roots(found) == "Bb F Eb F Bb"
    assert [one.begin_s for one in found.chords] == [0, 2, 4, 6, 8]
    assert all(one.sure >= 0.7 for one in found.chords)


def test_where_nothing_is_sure_the_drone_is_silent_and_it_is_told():
    chord = ["Bb2 Bb2 Bb2 Bb2"], ["F3 F3 F3 F3"], ["D4 D4 D4 D4"]
    cluster = ["C3 C3 C3 C3"], ["C#3 C#3 C#3 C#3"], ["D3 D3 D3 D3"]
    low, middle, top = ([*a, *b] for a, b in zip(chord, cluster))
    first, *others = parts_of(low, middle, top)
    found = made(*first, others=others)
    assert chords(found) == [("Bb", 0, 4), (None, 4, 8)]
    assert SAY.fact(found.warnings[-1]) == (
        "the drone is silent 50 % of the time, where no chord is sure: measures 2"
    )


def test_a_unison_is_no_chord():
    first, *others = parts_of(*[["C3 C3 C3 C3", "D3 D3 E3 E3"]] * 3)
    with pytest.raises(BadUsage, match="sure enough to hold"):
        made(*first, others=others)


def test_sharps_are_spelled_as_the_score_has_them():
    first, *others = parts_of(["F#2 F#2 F#2 F#2"], ["C#3 C#3 C#3 C#3"], ["A#3 A#3 A#3 A#3"])
    assert roots(made(*first, others=others)) == "F#"


# Its pitches


def test_roots_are_equal_and_chords_just_above_them():
    found = made(bar("Bb"), bar(), tones="chord")
    root_hz = parse_pitch("Bb2").hz()
    middle = mono(found)[RATE_HZ : 7 * RATE_HZ].astype(float)
    # A third is an octave higher than close, where it is clear.
    for hz in (root_hz, root_hz * 3 / 2, root_hz * 5 / 2):
        assert abs(cents(line_hz(middle, RATE_HZ, hz) / hz)) < 0.06


def test_no_comma_is_gained_however_long_it_goes_round():
    # I vi ii V: pure steps from chord to chord lose a syntonic comma, 21.5 cents, each time.
    round_ = [bar("C"), bar("A", kind="minor"), bar("D", kind="minor"), bar("G")]
    found = made(*(round_ * 6), tones="root")
    want_hz = parse_pitch("C3").hz()
    for turn in (0, 5):
        begin = round((16 * turn + 0.5) * RATE_HZ)
        piece = mono(found)[begin : begin + 3 * RATE_HZ].astype(float)
        assert abs(cents(line_hz(piece, RATE_HZ, want_hz) / want_hz)) < 0.06


def test_roots_may_be_just_above_a_note_that_stays():
    found = made(bar("Bb"), bar("F"), bar("D"), tones="root", base="Bb2")
    bb_hz = parse_pitch("Bb2").hz()
    # F2, the lowest, lies a fourth below; D3 a third above.
    for begin, ratio in ((0, 1.0), (4, 3 / 4), (8, 5 / 4)):
        piece = mono(found)[round((begin + 0.5) * RATE_HZ) : round((begin + 3.5) * RATE_HZ)]
        hz = line_hz(piece.astype(float), RATE_HZ, bb_hz * ratio)
        assert abs(cents(hz / (bb_hz * ratio))) < 0.06


def test_equal_is_equal():
    found = made(bar("Bb"), bar(), tones="chord", just=False)
    want_hz = parse_pitch("D4").hz()
    piece = mono(found)[RATE_HZ : 7 * RATE_HZ].astype(float)
    assert abs(cents(line_hz(piece, RATE_HZ, want_hz) / want_hz)) < 0.06


@pytest.mark.parametrize(
    ("tones", "kind", "held"),
    [
        ("root", "major", "Bb2"),
        ("fifth", "major", "Bb2 F3"),
        ("fifth", "half-diminished", "Bb2"),
        ("fifth", "power", "Bb2 F3"),
        ("fifth", "pedal", "Bb2"),
        ("chord", "minor-seventh", "Bb2 Db4 F3 Ab3"),
        ("chord", "suspended-fourth", "Bb2 Eb4 F3"),
        ("chord", "dominant-ninth", "Bb2 C4 D4 F3 Ab3"),
        ("chord", "other", "Bb2"),
    ],
)
def test_what_is_held_of_a_chord(tones, kind, held):
    found = made(bar("Bb", kind=kind), tones=tones)
    assert [one.midi for one in found.harmony.held] == [
        parse_pitch(name).midi for name in held.split()
    ]


def test_roots_lie_within_an_octave_from_the_lowest():
    rows = [bar(root) for root in ("F", "E", "C", "Gb")]
    for low in ("F2", "Bb1", "C3"):
        found = made(*rows, low=low, tones="root")
        lowest = parse_pitch(low).midi
        assert all(lowest <= one.midi < lowest + 12 for one in found.harmony.held)


def test_the_student_s_own_note_can_be_left_out():
    with_own, without = (
        made(bar("Bb", "Bb3 Bb3 D3 D3"), tones="chord", own=own) for own in (True, False)
    )
    bb_hz, third_hz = (parse_pitch("Bb2").hz() * ratio for ratio in (1, 5 / 2))
    for hz, begin, silent in ((bb_hz, 0.3, True), (bb_hz, 2.3, False), (third_hz, 2.3, True),
                              (third_hz, 0.3, False)):  # fmt: skip
        levels = [level_at(one, hz, begin, begin + 1.5) for one in (with_own, without)]
        assert (levels[1] < levels[0] - 20) == silent


@pytest.mark.parametrize(
    ("kind", "tones"),
    [
        ("dominant", (0, 16, 7, 10)),
        # From root and seventh upwards; the fifth, or the third against an eleventh, is left out.
        ("dominant-13th", (0, 14, 16, 21, 10)),
        ("dominant-11th", (0, 14, 17, 7, 10)),
        ("minor-11th", (0, 14, 15, 17, 7, 10)),
        ("major-sixth", (0, 16, 7, 9)),
        ("diminished-seventh", (0, 15, 6, 9)),
    ],
)
def test_wide_chords_are_voiced_as_players_do(kind, tones):
    chord = Chord(0, kind, tones_of(KINDS[kind]))
    assert voiced(chord, "chord", 36) == tuple(36 + one for one in tones)
    assert voiced(chord, "root", 36) == (36,)


def test_a_tone_that_stays_isn_t_begun_anew():
    found = made(bar("Bb"), bar("Bb", kind="minor"), tones="chord")
    assert len(found.harmony.held) == 6
    tones = drone_tones(
        found.harmony.held, lambda p: p, lambda p: p, (0.0, 8.0), found.harmony.tuning
    )
    assert len(tones) == 4  # root and fifth go on, the third changes
    assert max(tone.length_s for tone in tones) > 8.0


@pytest.mark.parametrize(
    ("row", "kind", "offsets"),
    [
        # D and F over B flat are tuned to it, C is no tone of its chord.
        ("Bb2 D3 F3 C3", "major", [0, -13.686, 1.955, 0]),
        # Over a pedal point all are: 9/8, 16/15.
        ("Bb2 D3 C3 Cb3", "pedal", [0, -13.686, 3.910, 11.731]),
    ],
)
def test_the_part_itself_is_in_tune_with_its_drone(row, kind, offsets):
    found = made(bar("Bb", row, kind), play=ALONE | {"solo": "loud"})
    names = [parse_pitch(name) for name in row.split()]
    got = [cents(one.hz / name.hz()) for one, name in zip(found.notes, names)]
    assert got == pytest.approx(offsets, abs=0.01)
    equal = made(bar("Bb", row, kind), play=ALONE | {"solo": "loud"}, just=False)
    assert [one.hz for one in equal.notes] == pytest.approx([name.hz() for name in names])


# Refusals


@pytest.mark.parametrize(
    ("measures", "wishes", "what"),
    [
        ([bar()], {}, "one line alone has no harmony"),
        ([bar()], {"source": "chords"}, "no chord symbols"),
        ([bar("Bb")], {"source": "parts"}, "one line alone"),
        ([bar("C", kind="none")], {}, "no chord symbol in these measures"),
        ([bar("Bb", "Bb2 Bb2 Bb2 Bb2")], {"own": False, "tones": "root"}, "nothing is left"),
        ([bar("Bb")], {"source": "ear"}, "can't come from"),
        ([bar("Bb")], {"tones": "all"}, "'all' can't be held"),
        ([bar("Bb")], {"low": "C6"}, "from C1 to C5"),
        ([bar("Bb")], {"base": "Bb2", "just": False}, "in equal temperament"),
    ],
)
def test_what_can_t_be_followed_is_refused_in_one_sentence(measures, wishes, what):
    with pytest.raises(BadUsage) as caught:
        made(*measures, **wishes)
    assert what in SAY.fact(caught.value.fact).replace("“", "'").replace("”", "'")


def test_a_lowest_root_that_is_no_note():
    with pytest.raises(PitchError):
        made(bar("Bb"), low="Z")


# The commands


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "song.musicxml"
    path.write_bytes(score(part(tempo(60) + attributes() + bar("Bb"), bar("F"))))
    return path


def test_the_command_follows_a_score(file):
    found = run_json("drone", "--follow", file, "--tones", "chord")
    assert found["files"] == [str(file.with_name("song-drone.wav"))]
    assert found["drone"] | {"chords": []} == {
        "from": "chords", "tones": "chord", "own": True, "just": True, "chords": [],
    }  # fmt: skip
    assert found["drone"]["chords"][1] == {
        "begin_s": 8.0, "end_s": 12.0, "measure": "2", "root": "F", "kind": "major", "sure": 1.0,
    }  # fmt: skip
    told = run("drone", "--follow", file, "--force").stdout
    assert "2 chords along Trombone, by the chord symbols, at 60 quarter notes" in told
    assert "harms hearing" in told


def test_a_play_along_has_the_drone_below(file):
    found = run_json("playalong", file, "--drone", "fifth", "--solo", "quiet")
    assert [one["root"] for one in found["drone"]["chords"]] == ["Bb", "F"]
    assert run_json("playalong", file, "--force")["drone"] is None


@pytest.mark.parametrize(
    ("words", "what"),
    [
        (("Bb2", "--follow", "FILE"), "not both"),
        (("--follow", "FILE", "--loop"), "--loop doesn't go with --follow"),
        (("--follow", "FILE", "--length", "9"), "--length doesn't go"),
        (("Bb2", "--from", "parts"), "--from goes with --follow only"),
        (("Bb2", "--without-own"), "--without-own goes"),
        (("--follow", "FILE", "--equal", "--root", "C3"), "equal temperament"),
        (("--follow", "FILE", "--measures", "9"), "no measure"),
        ((), "a drone needs a note, such as Bb2, or a score to follow"),
    ],
)
def test_slips_are_told_in_one_sentence(words, what, file):
    given = [file if word == "FILE" else word for word in words]
    assert what in one_sentence(run("drone", *given, code=2))
    assert [path.name for path in file.parent.iterdir()] == ["song.musicxml"]


def test_where_its_harmony_is_from_needs_a_drone(file):
    refused = run("playalong", file, "--drone-from", "parts", code=2)
    assert "--drone-from goes with --drone only" in one_sentence(refused)


def test_a_file_that_isn_t_there(tmp_path):
    assert one_sentence(run("drone", "--follow", tmp_path / "no.musicxml", code=1))
