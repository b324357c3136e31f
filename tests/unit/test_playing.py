"""How play-alongs play a score: onsets against the formulas, levels and tone measured in the sound.

The order that D.C., codas and endings are played in is compared with music21's.
"""

import numpy as np
import pytest
from command import one_sentence, run, run_json
from musicxml_build import (
    TRIPLET,
    attributes,
    ending,
    note,
    notes,
    part,
    repeat,
    score,
    tempo,
)
from scipy.integrate import quad
from sound_meter import line_hz

from handslide.edges.musicxml.concert import read_concert, timbre_of
from handslide.edges.musicxml.parts import Part
from handslide.edges.musicxml.read import read_score
from handslide.ground.errors import BadUsage
from handslide.ground.units import cents
from handslide.jobs.practice.playalong import make_playalong
from handslide.jobs.practice.soundwishes import PlayWishes, read_tempos
from handslide.sound.notes import hear
from handslide.sound.playing import voices
from handslide.sound.playing.levels import LEVEL_DB, LevelCurve
from handslide.sound.playing.pace import ritard_time, swing_ratio
from handslide.sound.playing.phrasing import Tone
from handslide.sound.playing.room import room_answer
from handslide.sound.playing.score import Mark
from handslide.sound.playing.steady import hold_all
from handslide.sound.playing.voices import Seat, sing_all
from handslide.sound.synth import RATE_HZ


def played(*measures, qpm=60, others=(), **wishes):
    first = measures[0] if "<attributes>" in measures[0] else attributes() + measures[0]
    parts = [part(tempo(qpm) + first, *measures[1:])]
    parts += [part(*one, part_id=f"P{at}") for at, (_, one) in enumerate(others, 2)]
    names = ("Trombone", *(name for name, _ in others))
    whole = read_score(score(*parts, names=names), "part.musicxml")
    usual = {"count_in": 0, "clicks": False, "life": False, "room": False}
    return make_playalong(whole, PlayWishes(**(usual | wishes)))


def onsets(found):
    return [round(row.onset_s, 6) for row in found.notes]


def direction(content, more=""):
    return f"<direction><direction-type>{content}</direction-type>{more}</direction>"


def words(text):
    return direction(f"<words>{text}</words>")


def dynamic(mark):
    return direction(f"<dynamics><{mark}/></dynamics>")


def wedge(kind):
    return direction(f'<wedge type="{kind}"/>')


def bar(row="C3 D3 E3 F3", **options):
    return notes(row, **options)


def mono(found):
    return found.sound.samples.mean(axis=0).astype(float)


def level_db(found, from_s, to_s):
    piece = mono(found)[round(from_s * RATE_HZ) : round(to_s * RATE_HZ)]
    return 10 * np.log10(np.mean(piece**2) + 1e-20)


def centroid_hz(found, from_s, to_s):
    piece = mono(found)[round(from_s * RATE_HZ) : round(to_s * RATE_HZ)]
    power = np.abs(np.fft.rfft(piece * np.hanning(len(piece)))) ** 2
    return np.sum(power * np.fft.rfftfreq(len(piece), 1 / RATE_HZ)) / np.sum(power)


# Changes of tempo


@pytest.mark.parametrize("end", [0.35, 0.65, 0.8, 1.0, 1.3])
@pytest.mark.parametrize("share", [0.1, 0.5, 1.0])
def test_a_ritard_s_time_is_the_integral_of_its_tempo(end, share):
    # Friberg & Sundberg (1999), by numerical integration.
    expected, _ = quad(lambda x: (1 + (end**3 - 1) * x) ** (-1 / 3), 0, share)
    assert ritard_time(share, end) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "end"),
    [("rit.", 0.65), ("poco rall.", 0.8), ("molto ritardando", 0.5), ("accel.", 1.3),
     ("poco stringendo", 1.12)],
)  # fmt: skip
def test_onsets_follow_the_ritard_and_then_the_tempo_again(text, end):
    found = played(bar(), words(text) + bar(), words("a tempo") + bar(), bar())
    inside = [4 + 4 * float(ritard_time(share, end)) for share in (0, 0.25, 0.5, 0.75, 1)]
    after = [inside[-1] + beat for beat in range(1, 8)]
    assert onsets(found) == pytest.approx([0, 1, 2, 3, *inside, *after], abs=1e-6)
    assert found.followed.tempo_changes == 1
    strict = played(bar(), words(text) + bar(), words("a tempo") + bar(), bar(), expression=False)
    assert onsets(strict) == pytest.approx(list(range(16)))


def test_a_ritard_leads_to_the_tempo_mark_behind_it():
    found = played(words("rit.") + bar(), tempo(45) + bar())
    assert onsets(found)[4] == pytest.approx(4 * float(ritard_time(1.0, 0.75)))
    assert onsets(found)[5] - onsets(found)[4] == pytest.approx(60 / 45)


def test_a_last_ritard_goes_further_and_dashes_end_one():
    last = played(bar(), words("rit.") + bar())
    assert last.sound.length_s == pytest.approx(4 + 4 * float(ritard_time(1, 0.5)) + 0.3, abs=1e-4)
    begin = direction('<words>rit.</words></direction-type><direction-type><dashes type="start"/>')
    short = played(begin + bar("C3 D3") + direction('<dashes type="stop"/>') + bar("E3 F3"), bar())
    assert onsets(short)[2] == pytest.approx(2 * float(ritard_time(1, 0.65)))
    assert np.diff(onsets(short))[2:] == pytest.approx(1.0)


def test_a_ritard_is_played_in_both_passes_of_a_repeat():
    found = played(bar(), words("rit.") + bar() + repeat(), bar())
    gaps = np.diff(onsets(found))
    assert gaps[4:8] == pytest.approx(gaps[12:16])
    assert gaps[8:12] == pytest.approx(1.0)


def test_the_clicks_go_along_with_a_ritard_and_wait_at_a_fermata():
    held = note("F3", notations="<fermata/>")
    found = played(words("rit.") + bar(), words("a tempo") + bar("C3 D3 E3") + held, bar(),
                   clicks=True)  # fmt: skip
    assert [one.at_s for one in found.clicks] == pytest.approx(onsets(found))
    assert onsets(found)[8] - onsets(found)[7] == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("old", "new", "factor"),
    [(("quarter", 0), ("quarter", 1), 1.5), (("half", 0), ("quarter", 0), 0.5)],
)  # fmt: skip
def test_two_note_values_set_equal_change_the_tempo(old, new, factor):
    units = "".join(
        f"<beat-unit>{kind}</beat-unit>{'<beat-unit-dot/>' * dots}" for kind, dots in (old, new)
    )
    found = played(bar(), direction(f"<metronome>{units}</metronome>") + bar())
    assert np.diff(onsets(found)) == pytest.approx([1.0] * 4 + [1 / factor] * 3, abs=1e-5)
    horn = (bar(), direction(f"<metronome>{units}</metronome>") + bar())
    other = played(bar(), bar(), others=[("Horn", horn)])
    assert onsets(other) == pytest.approx(onsets(found))


# Fermatas, breaths


@pytest.mark.parametrize(("shape", "longer"), [("", 1.0), ("angled", 0.5), ("square", 1.5)])
def test_a_fermata_holds_its_note_and_all_parts(shape, longer):
    held = note("D3", notations=f"<fermata>{shape}</fermata>")
    found = played(note("C3") + held + bar("E3 F3"), others=[("Horn", (bar("G3 G3 G3 G3"),))])
    assert onsets(found) == pytest.approx([0, 1, 2 + longer, 3 + longer])
    assert found.notes[1].length_s == pytest.approx(1 + longer)
    # The horn has no fermata, but waits, too.
    assert level_db(found, 2.1 + longer - 0.3, 2 + longer - 0.1) > -60
    assert found.followed.pauses == 1


def test_a_fermata_in_one_part_alone_and_one_in_several_is_held_once():
    held = note("F3", notations="<fermata/>")
    other = [("Horn", (bar("G3 G3 G3") + held, bar()))]
    both = played(bar("C3 D3 E3") + held, bar(), others=other)
    one = played(bar(), bar(), others=other)
    assert onsets(both) == onsets(one)
    assert onsets(one)[4] == pytest.approx(5.0)


def test_a_breath_is_taken_from_the_note_before_it():
    mark = "<articulations><breath-mark/></articulations>"
    plain = played(bar(), bar())
    found = played(note("C3", notations=mark) + bar("D3 E3 F3"), bar())
    assert onsets(found) == onsets(plain)
    assert level_db(found, 0.75, 0.97) < level_db(plain, 0.75, 0.9) - 30
    stop = played(note("C3", notations=mark.replace("breath-mark", "caesura")) + bar("D3 E3 F3"))
    assert onsets(stop) == pytest.approx([0, 1.5, 2.5, 3.5])


# Swing


@pytest.mark.parametrize(
    ("qpm", "content", "ratio"),
    [
        (120, words("Swing"), 2.0),
        (240, words("Medium swing"), 1.5),
        (320, words("swing"), 1.0),
        (120, "<sound><swing><first>3</first><second>2</second></swing></sound>", 1.5),
        (120, "<sound><swing><straight/></swing></sound>", 1.0),
        (120, words("straight 8ths"), 1.0),
    ],
)
def test_swung_eighths_have_their_ratio(qpm, content, ratio):
    found = played(attributes(2) + content + bar("C3 D3 E3 F3 G3 F3 E3 D3", kind="eighth"), qpm=qpm)
    beat_s = 60 / qpm
    expected = [
        at * beat_s + half * beat_s * ratio / (ratio + 1) for at in range(4) for half in (0, 1)
    ]
    assert onsets(found) == pytest.approx(expected, abs=1e-6)
    assert found.followed.swing == (ratio > 1.0)


def test_the_ratio_falls_with_the_tempo():
    # Friberg & Sundström (2002): a short note of about 0.1 s.
    assert swing_ratio(60 / 250) == pytest.approx(1.4)
    assert (swing_ratio(60 / 300), swing_ratio(60 / 400), swing_ratio(1.0)) == (1.0, 1.0, 2.0)


def test_triplets_compound_meters_and_what_is_written_straight_again_stay():
    triplets = "".join(note("C3", 2, kind="eighth", after_kind=TRIPLET) for _ in range(12))
    found = played(attributes(6) + words("swing") + triplets)
    assert onsets(found) == pytest.approx(np.arange(12) / 3, abs=1e-6)
    compound = played(
        attributes(2, 6, 8) + words("swing") + bar("C3 D3 E3 F3 G3 A3", kind="eighth")
    )
    assert np.diff(onsets(compound)) == pytest.approx(0.5)
    back = played(attributes(2) + words("swing") + bar("C3 " * 8, kind="eighth"),
                  words("straight") + bar("C3 " * 8, kind="eighth"))  # fmt: skip
    assert np.diff(onsets(back))[:4] == pytest.approx([2 / 3, 1 / 3] * 2)
    assert np.diff(onsets(back))[8:] == pytest.approx(0.5)


def test_parts_of_a_beat_are_clicked_and_swung():
    even = played(bar(), clicks=True, click_parts=2, count_in=1)
    assert sorted(one.at_s for one in even.clicks) == pytest.approx(np.arange(16) / 2)
    assert [one.kind for one in even.clicks].count("part") == 8
    long = played(words("swing") + bar(), clicks=True, click_parts=2)
    assert sorted(one.at_s for one in long.clicks)[1] == pytest.approx(2 / 3)


# Loudness


@pytest.mark.parametrize("name", ["Bb1", "Bb2", "F3", "Bb3", "F4"])
@pytest.mark.parametrize("room", [False, True])
def test_forte_is_louder_and_brighter_than_piano(name, room):
    found = played(
        dynamic("p") + bar(f"{name} " * 4), dynamic("f") + bar(f"{name} " * 4), room=room
    )
    assert level_db(found, 5.2, 5.8) - level_db(found, 1.2, 1.8) >= 12.0
    assert centroid_hz(found, 5.2, 5.8) >= 1.7 * centroid_hz(found, 1.2, 1.8)


def test_a_hairpin_goes_evenly_to_its_mark():
    found = played(dynamic("p") + wedge("crescendo") + note("F3", 4, kind="whole"),
                   wedge("stop") + dynamic("f") + bar("F3 F3 F3 F3"))  # fmt: skip
    levels = [level_db(found, at, at + 0.1) for at in (0.5, 1.5, 2.5, 3.5)]
    assert np.diff(levels) == pytest.approx([13.5 / 4] * 3, abs=0.6)
    flat = played(dynamic("p") + bar("F3 F3 F3 F3"), dynamic("f") + bar("F3 F3 F3 F3"),
                  expression=False)  # fmt: skip
    assert level_db(flat, 1.2, 1.8) == pytest.approx(level_db(flat, 5.2, 5.8), abs=0.1)


def test_levels_along_the_paper():
    marks = [
        Mark(0.0, "level", "p"), Mark(4.0, "wedge", "crescendo", end_q=8.0),
        Mark(12.0, "wedge", "diminuendo", end_q=16.0), Mark(16.5, "level", "pp"),
        Mark(20.0, "levelwords", "crescendo"), Mark(24.0, "level", "p"),
    ]  # fmt: skip
    curve = LevelCurve(marks)
    places = (0, 3.9, 6, 8, 11, 14, 16, 16.5, 22, 24)
    up = LEVEL_DB["p"] + 4.5
    half = (up + LEVEL_DB["pp"]) / 2
    expected = (-9, -9, -6.75, up, up, half, -13.5, -13.5, -11.25, -9)
    assert [curve.at(place) for place in places] == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize(("sign", "louder_db"), [("accent", 3.0), ("strong-accent", 4.5)])
def test_an_accent_is_stronger_at_once_and_dies_away(sign, louder_db):
    marked = note("F3", notations=f"<articulations><{sign}/></articulations>")
    found = played(bar("F3") + marked + bar("F3 F3"))
    start = level_db(found, 1.05, 1.1) - level_db(found, 0.05, 0.1)
    assert 0.4 * louder_db < start < louder_db
    sudden = played(bar("F3") + dynamic("sfz") + bar("F3 F3 F3"))
    assert level_db(sudden, 1.05, 1.1) - level_db(sudden, 0.05, 0.1) > 2.4


@pytest.mark.parametrize("mark", ["pp", "mf", "ff"])
def test_the_attack_takes_30_to_60_ms_and_the_upper_harmonics_come_later(mark):
    found = played(dynamic(mark) + bar("F3 r F3 r"))
    wave, hz = mono(found)[: RATE_HZ // 2], found.notes[0].hz
    period = round(RATE_HZ / hz)
    whole = np.sqrt(np.convolve(wave**2, np.ones(period) / period, "same"))
    steady = np.median(whole[round(0.2 * RATE_HZ) : round(0.3 * RATE_HZ)])
    rise_s = np.argmax(whole > 0.97 * steady) / RATE_HZ
    assert 0.02 < rise_s < 0.065

    def half_s(number):
        turn = np.exp(-2j * np.pi * number * hz * np.arange(len(wave)) / RATE_HZ)
        level = np.abs(np.convolve(wave * turn, np.ones(2 * period) / (2 * period), "same"))
        top = np.median(level[round(0.2 * RATE_HZ) : round(0.3 * RATE_HZ)])
        return np.argmax(level > 0.8 * top) / RATE_HZ

    assert half_s(10) > half_s(1) + 0.004


# Life and room


def test_life_keeps_the_mean_pitch_and_the_same_file_has_the_same_bytes():
    rows = ("Bb1 D3 F3 Bb3", "F3 D3 Bb2 E2", "Ab3 Gb3 B2 C4")
    found = played(*map(bar, rows), life=True, a4_hz=442.0)
    heard = hear(mono(found), RATE_HZ, a4_hz=442.0).notes
    assert len(heard) == 12
    for one, want in zip(heard, found.notes):
        assert abs(cents(one.f0_hz / want.hz)) < 0.1
    again = played(*map(bar, rows), life=True, a4_hz=442.0)
    assert again.data() == found.data()
    still = played(*map(bar, rows), a4_hz=442.0)
    assert still.data() != found.data()
    # It does drift: a note's halves lie apart.
    moved = []
    for row in found.notes[1:]:
        at = round((row.onset_s + 0.1) * RATE_HZ)
        piece = hear(mono(found)[at : at + RATE_HZ // 3], RATE_HZ, a4_hz=442.0).notes
        moved += [abs(cents(one.f0_hz / row.hz)) for one in piece]
    assert 0.15 < max(moved) < 5.0


@pytest.mark.parametrize("seed", range(3))
def test_a_note_with_life_begins_and_ends_on_its_pitch(seed):
    tone, count = Tone(0.0, 4.0, 220.0), 4 * RATE_HZ
    turns = voices._turns(tone, count, 0.25, (seed, 1), RATE_HZ)
    step_s = 4.0 / (len(turns) - 1)
    off = 1200 * np.log2(np.diff(turns) / (220.0 * step_s))
    assert abs(off[0]) < 0.02 and abs(off[-1]) < 0.02
    assert 0.1 < np.abs(off).max() < 4.0 + 0.02
    # Whole turns of the drift: nothing of it is left in the end.
    assert turns[-1] - turns[0] == pytest.approx(880.0, abs=1e-9)
    assert abs(off.mean()) < 1e-3


def test_the_room_is_small_comes_behind_the_sound_and_differs_from_ear_to_ear():
    answer = room_answer()
    power = np.cumsum(np.sum(answer[:, ::-1].astype(float) ** 2, axis=0))[::-1]
    decay_db = 10 * np.log10(power / power[0])
    # Schroeder's backward integral: 60 dB in less than half a second.
    assert np.argmax(decay_db < -30) / RATE_HZ < 0.25
    assert np.abs(answer[:, : RATE_HZ // 2000]).max() < 1e-3
    assert abs(np.corrcoef(answer)[0, 1]) < 0.5
    found = played(bar("C3 r r r"), room=True)
    dry = played(bar("C3 r r r"))
    assert level_db(dry, 1.1, 1.3) < -150 < -85 < level_db(found, 1.1, 1.3)
    wet = found.sound.samples
    assert np.abs(wet[0] - wet[1]).max() > 1e-4


# All that sounds


def test_all_voices_and_chords_of_a_piano_sound():
    chord = (
        note("C4", 4, kind="whole") + note("E4", 4, first="<chord/>", kind="whole")
        + note("G4", 4, first="<chord/>", kind="whole")
        + "<backup><duration>4</duration></backup>" + bar("C3 E3 G3 E3", voice="2")
    )  # fmt: skip
    found = played(bar("r r r C3"), others=[("Piano", (chord,))], solo="off")
    assert (found.others, found.other_notes) == (("Piano",), 7)
    wave = mono(found)[: RATE_HZ // 2]
    power = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), 4 * RATE_HZ))
    for hz in (130.81, 261.63, 329.63, 392.0):
        assert power[round(hz * 4) - 2 : round(hz * 4) + 3].max() > 0.1 * power.max()
    # Struck: it dies away while it is held.
    assert level_db(found, 0.7, 0.95) < level_db(found, 0.05, 0.2) - 3


def test_what_else_sounds_in_the_part_itself_goes_with_it():
    other = "<backup><duration>4</duration></backup>" + bar("G3 G3 G3 G3", voice="2")
    found = played(bar() + other)
    assert (len(found.notes), found.other_notes) == (4, 4)


@pytest.mark.parametrize(
    ("names", "sounds", "timbre"),
    [
        (("Pianoforte",), (), "struck"), (("Klavier",), (), "struck"), (("Flute 1",), (), "mild"),
        (("Waldhorn",), (), "brass"), (("Bassposaune",), (), "brass"), (("Violin",), (), "mild"),
        (("Part",), ("keyboard.piano",), "struck"), (("Part",), ("wind.flutes.flute",), "mild"),
        (("Organ",), ("keyboard.organ",), "mild"), (("Corno",), (), "brass"),
    ],
)  # fmt: skip
def test_the_timbre_of_a_part_goes_by_its_name_and_sound(names, sounds, timbre):
    assert timbre_of(Part("P1", names[0], names, sounds, ())) == timbre


# Passes


def test_tempos_one_after_the_other_each_counted_in():
    found = played(bar("C3 r r C3"), qpm=60, tempos_qpm=(60.0, 66.0, 72.0), times=2, count_in=1,
                   clicks=True)  # fmt: skip
    tempos = (60, 60, 66, 66, 72, 72)
    begins = np.cumsum([0, *(8 * 60 / one for one in tempos)])
    assert [one.tempo_qpm for one in found.passes] == pytest.approx(tempos)
    expected = [begin + 4 * 60 / one for begin, one in zip(begins, tempos)]
    assert [one.begins_s for one in found.passes] == pytest.approx(expected)
    assert onsets(found)[::2] == pytest.approx(expected, abs=1e-6)
    assert len(found.clicks) == 6 * 8
    loop = played(bar("C3 r r C3"), times=3)
    assert onsets(loop) == pytest.approx([0, 3, 4, 7, 8, 11])


def test_clicks_have_a_level_of_their_own_and_an_accent_only_if_wanted():
    def step_db(**wishes):
        found = played(bar("F3 r r F3"), clicks=True, **wishes)
        peak = np.abs(mono(found)[2 * RATE_HZ : 2 * RATE_HZ + 2000]).max()
        return 20 * np.log10(peak) - level_db(found, 0.3, 0.8)

    assert step_db(click_db=-12.0) == pytest.approx(step_db() - 12.0, abs=0.3)
    assert step_db(click_db=6.0) == pytest.approx(step_db() + 6.0, abs=0.3)
    even = played(bar(), clicks=True, accent=False, count_in=1)
    assert {one.kind for one in even.clicks} == {"beat"}
    only = played(bar(), count_in=1)
    assert len(only.clicks) == 4


@pytest.mark.parametrize(
    ("words_", "what"),
    [
        (("--tempos", "60,x"), "is no list of tempos"),
        (("--tempos", "60,nan"), "is no list of tempos"),
        (("--tempos", "60,1"), "outside 10 to 500"),
        (("--tempos", "60", "--tempo", 50), "give one"),
        (("--tempos", ",".join(["60"] * 21)), "more than the 20"),
        (("--times", 0), "1 to 50 times"),
        (("--subdivide", 9), "1 to 4 parts"),
        (("--click-level", 40), "-24 to +12 dB"),
    ],
)
def test_slips_are_told_in_one_sentence(words_, what, tmp_path):
    file = tmp_path / "part.musicxml"
    file.write_bytes(score(part(tempo(60) + attributes() + bar())))
    said = one_sentence(run("playalong", file, *words_, code=2)).replace("−", "-")
    assert what in said
    assert len(list(tmp_path.iterdir())) == 1


def test_the_command_tells_passes_and_what_was_followed(tmp_path):
    file = tmp_path / "part.musicxml"
    file.write_bytes(
        score(part(tempo(60) + attributes() + dynamic("p") + bar(), words("rit.") + bar()))
    )
    found = run_json("playalong", file, "-o", tmp_path / "a.mp3", "--tempos", "60 72")
    assert [one["tempo_qpm"] for one in found["passes"]] == [60.0, 72.0]
    assert found["expression"] == {
        "tempo_changes": 1, "pauses": 0, "dynamics": 1, "swing": False
    }  # fmt: skip
    told = run("playalong", file, "-o", tmp_path / "a.ogg", "--tempos", "60,72").stdout
    assert "at 72 quarter notes a minute from" in told


def test_tempos_are_read_as_they_are_typed():
    assert read_tempos("60, 66 72;80") == (60.0, 66.0, 72.0, 80.0)
    assert read_tempos("") == ()
    with pytest.raises(BadUsage):
        read_tempos("sixty")


# A second opinion on the order


def jump(content, **sound):
    ((name, value),) = sound.items()
    return direction(content, f'<sound {name}="{value}"/>')


SEGNO, CODA = direction("<segno/>", '<sound segno="1"/>'), direction("<coda/>", '<sound coda="1"/>')
DS = jump("<words>D.S. al Coda</words>", dalsegno="1")
DC = jump("<words>D.C. al Fine</words>", dacapo="yes")
TO_CODA, FINE = jump("<words>To Coda</words>", tocoda="1"), jump("<words>Fine</words>", fine="yes")
AGAIN = '<repeat direction="backward"/>'


@pytest.mark.parametrize(
    "measures",
    [
        [bar("C3 C3 C3 C3"), bar("D3 D3 D3 D3") + FINE, bar("E3 E3 E3 E3") + DC],
        [bar("C3 C3 C3 C3"), SEGNO + bar("D3 D3 D3 D3"), bar("E3 E3 E3 E3") + TO_CODA,
         bar("F3 F3 F3 F3") + DS, CODA + bar("G3 G3 G3 G3")],
        [bar("C3 C3 C3 C3"),
         ending("1", "start") + bar("D3 D3 D3 D3") + ending("1", "stop", AGAIN),
         ending("2", "start") + bar("E3 E3 E3 E3") + ending("2", "stop"), bar("F3 F3 F3 F3")],
        [bar("C3 C3 C3 C3"), repeat("forward") + bar("D3 D3 D3 D3"), bar("E3 E3 E3 E3") + repeat()],
    ],
    ids=["D.C. al Fine", "D.S. al Coda", "endings", "repeat"],
)  # fmt: skip
def test_the_order_is_music21_s(measures, tmp_path):
    music21 = pytest.importorskip("music21")
    data = score(part(tempo(60) + attributes() + measures[0], *measures[1:]))
    file = tmp_path / "order.musicxml"
    file.write_bytes(data)
    expanded = music21.converter.parse(str(file)).parts[0].expandRepeats()
    theirs = [one.pitch.midi for one in expanded.flatten().notes]
    found = played(*measures)
    mine = [round(69 + 12 * np.log2(row.hz / 440)) for row in found.notes]
    assert mine == theirs
    concert, _ = read_concert(read_score(data), read_score(data).read_part())
    assert [row.midi for row in concert.parts[0].rows] == theirs


def test_a_part_moved_by_a_step_sounds_a_step_away():
    more = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    other = (attributes(more=more) + bar("D4 D4 D4 D4"),)
    found = played(bar("r r r C3"), others=[("Trumpet", other)], solo="off")
    heard = hear(mono(found), RATE_HZ).notes
    assert [one.midi for one in heard[:4]] == [60] * 4


def test_held_tones_are_those_of_the_other_synthesis():
    seat = Seat(0.5, 0.0, 0.6)
    for length_s, hz in ((3.0, 116.54), (0.3, 233.08), (0.1, 58.27)):
        tone = Tone(0.5, length_s, hz, attack_s=0.12, release_s=0.2)
        sung, held = np.zeros((2, 4 * RATE_HZ), np.float32), np.zeros((2, 4 * RATE_HZ), np.float32)
        sing_all(sung, [tone], seat, life=False)
        hold_all(held, [tone], seat)
        # Its phase may run away by a hundredth of a turn.
        assert np.sum((sung - held) ** 2) < 1e-3 * np.sum(sung**2)
        one = np.zeros(4 * RATE_HZ, np.float32)
        hold_all(one, [tone], seat)
        assert np.array_equal(one, held[0])


def test_a_held_tone_keeps_its_pitch():
    tone = Tone(0.0, 40.0, 87.307058, attack_s=0.12, release_s=0.2)
    mix = np.zeros(40 * RATE_HZ, np.float32)
    hold_all(mix, [tone], Seat())
    early, late = (line_hz(mix[at * RATE_HZ : (at + 4) * RATE_HZ], RATE_HZ, 87.3) for at in (1, 34))
    for hz in (early, late):
        assert abs(cents(hz / tone.hz)) < 0.05
