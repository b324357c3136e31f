"""Play-alongs: when and how each note and click sounds, measured from the sound."""

import io
from fractions import Fraction
from functools import cache

import numpy as np
import pytest
import soundfile
from command import one_sentence, run, run_json
from drill_words import SAY
from musicxml_build import (
    OWN_SCORES,
    SCORES,
    XML_FILES,
    attributes,
    ending,
    note,
    notes,
    part,
    repeat,
    score,
    tempo,
)
from sound_meter import ebur128, hiss_db

from handslide.drills.piece import DrillNote, Key, Piece
from handslide.edges.musicxml import concert
from handslide.edges.musicxml.read import open_score, read_score
from handslide.edges.musicxml.write import score_of as drill_score
from handslide.ground.errors import BadUsage
from handslide.ground.pitch import parse_pitch
from handslide.ground.units import cents
from handslide.jobs.practice.playalong import make_playalong, playalong_data
from handslide.jobs.practice.soundwishes import PlayWishes
from handslide.sound.notes import hear
from handslide.sound.synth import CLICKS_HZ, RATE_HZ, click


def score_of(*measures, qpm=60):
    first = measures[0] if "<attributes>" in measures[0] else attributes() + measures[0]
    return read_score(score(part(tempo(qpm) + first, *measures[1:])), "part.musicxml")


DRY = {"life": False, "room": False}


def made(*measures, qpm=60, **wishes):
    return make_playalong(score_of(*measures, qpm=qpm), PlayWishes(**(DRY | wishes)))


def mono(found):
    """What both ears hear, shape (n,)."""
    return found.sound.samples.mean(axis=0)


def plain(*measures, **wishes):
    """Only the line, from its first note on."""
    return made(*measures, **({"count_in": 0, "clicks": False} | wishes))


def level_db(samples, from_s, to_s):
    part_ = samples[round(from_s * RATE_HZ) : round(to_s * RATE_HZ)].astype(float)
    return 10 * np.log10(np.mean(part_**2) + 1e-20)


def click_times(samples):
    """Where short sounds begin: the first sample above a share of the highest."""
    loud = np.flatnonzero(np.abs(samples) > 0.05 * np.abs(samples).max())
    begins = loud[np.flatnonzero(np.diff(loud, prepend=-RATE_HZ) > 0.05 * RATE_HZ)]
    return begins / RATE_HZ


def bar(row="C3 D3 E3 F3", **options):
    return notes(row, **options)


# Time


def test_the_count_in_is_a_measure_of_clicks_and_then_the_music_begins():
    found = made(bar(), bar())
    assert found.begins_s == 4.0
    assert [at for at, _ in found.clicks] == pytest.approx(list(range(12)))
    assert [kind for _, kind in found.clicks] == ["first", "beat", "beat", "beat"] * 3
    assert [row.onset_s for row in found.notes] == pytest.approx([4, 5, 6, 7, 8, 9, 10, 11])


@pytest.mark.parametrize(("qpm", "speed"), [(60, None), (97, None), (60, 73.0), (133, 41.5)])
def test_clicks_sound_when_they_should(qpm, speed):
    found = made(bar(), bar("C3 r r C3"), qpm=qpm, speed_percent=speed, solo="off")
    beat_s = 60 / qpm / ((speed or 100) / 100)
    # A click rises over 2 ms.
    assert click_times(mono(found)) == pytest.approx(beat_s * np.arange(12), abs=0.001)


def test_the_first_click_of_a_measure_is_higher():
    found = made(bar("C3 r r r"), solo="off", count_in=1)
    samples = mono(found).astype(float)
    tops = []
    for at in range(8):
        near = samples[at * RATE_HZ : at * RATE_HZ + 2400]
        tops.append(np.argmax(np.abs(np.fft.rfft(near, 48_000))))
    assert tops == pytest.approx([1568, 1046, 1046, 1046] * 2, abs=25)


@pytest.mark.parametrize(
    ("first", "expected", "begins"),
    [
        (attributes(2, 6, 8) + notes("C3 C3 C3 C3 C3 C3", kind="eighth"), [0, 1.5], 3.0),
        (attributes(1, 3, 4) + notes("C3 C3 C3"), [0, 1, 2], 3.0),
        (attributes(1, 2, 2) + notes("C3 C3 C3 C3"), [0, 2], 4.0),
        (attributes(2, 7, 8) + notes("C3 C3 C3 C3 C3 C3 C3", kind="eighth"),
         [0, 0.5, 1, 1.5, 2, 2.5, 3], 3.5),
        # An upbeat of one beat: a whole measure is counted, and the three beats before it.
        (attributes(1, 4, 4) + notes("C3"), [0, 1, 2, 3, 4, 5, 6], 7.0),
        # Of half a beat: the last click of the count comes half a beat before it.
        (attributes(2, 4, 4) + notes("C3", kind="eighth"), [0, 1, 2, 3, 4, 5, 6, 7], 7.5),
    ],
)  # fmt: skip
def test_the_count_in_follows_meter_and_upbeat(first, expected, begins):
    found = made(first, notes("C3 C3 C3 C3"))
    assert found.begins_s == pytest.approx(begins)
    assert [at for at, _ in found.clicks if at < begins - 1e-6] == pytest.approx(expected)
    assert found.notes[0].onset_s == pytest.approx(begins)


def test_a_measure_without_meter_is_counted_in_by_four():
    free = attributes(1, None) + notes(" ".join(["C3"] * 40))
    found = made(free)
    assert found.begins_s == 4.0


def test_no_count_in_no_clicks():
    found = made(bar(), count_in=0, clicks=False)
    assert (found.begins_s, found.clicks) == (0.0, ())
    two = made(bar(), count_in=2, clicks=False)
    assert (two.begins_s, len(two.clicks)) == (8.0, 8)


@pytest.mark.parametrize("tempo_qpm", [40.0, 90.0, 143.7])
def test_the_tempo_asked_for_is_kept_to_the_end(tempo_qpm):
    measures = [bar() for _ in range(12)]
    found = plain(*measures, bar("r r r C4"), qpm=72, tempo_qpm=tempo_qpm, level_lufs=-20)
    assert found.tempo_qpm == pytest.approx(tempo_qpm)
    expected = np.array([*range(48), 51]) * 60 / tempo_qpm
    assert np.allclose([row.onset_s for row in found.notes], expected, atol=1e-9)
    # And in the sound: the last note's first sample, after a rest.
    begins = np.flatnonzero(np.abs(mono(found)[round(49 * 60 / tempo_qpm * RATE_HZ) :]))
    onset_s = 49 * 60 / tempo_qpm + begins[0] / RATE_HZ
    assert onset_s == pytest.approx(51 * 60 / tempo_qpm, abs=0.001)


def test_changes_of_tempo_keep_their_proportion():
    found = plain(bar(), tempo(120) + bar(), qpm=60, tempo_qpm=30.0)
    assert [row.onset_s for row in found.notes] == pytest.approx([0, 2, 4, 6, 8, 9, 10, 11])


def test_a_part_without_a_tempo_says_so():
    silent = read_score(score(part(bar())), "part.musicxml")
    found = make_playalong(silent)
    assert found.tempo_qpm == 80.0
    said = [SAY.fact(told) for told in found.warnings]
    assert "the part states no tempo: 80 quarter notes a minute" in said
    assert make_playalong(silent, PlayWishes(tempo_qpm=66.0)).warnings == ()


def test_repeats_and_endings_are_played():
    again = '<repeat direction="backward"/>'
    found = plain(
        bar("C3 C3 C3 C3"),
        ending("1", "start") + bar("D3 D3 D3 D3") + ending("1", "stop", again),
        ending("2", "start") + bar("E3 E3 E3 E3") + ending("2", "stop"),
    )  # fmt: skip
    midi = [round(69 + 12 * np.log2(row.hz / 440)) for row in found.notes]
    assert midi == [48] * 4 + [50] * 4 + [48] * 4 + [52] * 4
    assert found.sound.length_s == pytest.approx(16.3)


# Measures


def test_only_the_measures_asked_for():
    measures = [bar(f"{name}3 r r {name}3") for name in "CDEFGA"]
    found = made(*measures, measures="3-4")
    assert [round(row.hz) for row in found.notes] == [165, 165, 175, 175]
    assert [row.onset_s for row in found.notes] == pytest.approx([4, 7, 8, 11])
    assert found.sound.length_s == pytest.approx(12.3)
    assert len(made(*measures, measures="5-").notes) == 4
    assert len(made(*measures, measures="-2").notes) == 4
    assert len(made(*measures, measures="2").notes) == 2
    assert len(made(*measures, measures="2 – 4").notes) == 6


def test_a_repeat_within_the_measures_is_played():
    found = plain(bar("C3 r r r"), bar("D3 r r r") + repeat(), bar("E3 r r r"), measures="2-3")
    assert [round(row.hz) for row in found.notes] == [147, 131, 147, 165]


def test_a_note_held_into_the_measures_begins_with_them():
    tied = bar("C3 C3 C3") + note("G3", tie="start")
    found = plain(tied, note("G3", tie="stop") + bar("C3 C3 C3"), measures="2")
    assert found.notes[0].onset_s == 0.0
    assert found.notes[0].length_s == pytest.approx(1.0)
    assert level_db(mono(found), 0.1, 0.8) > -30
    first = plain(tied, note("G3", tie="stop") + bar("C3 C3 C3"), measures="1")
    assert first.notes[-1].length_s == pytest.approx(1.0)


@pytest.mark.parametrize("wanted", ["9", "2-9", "3-1", "x", "2-x"])
def test_measures_that_aren_t_there_are_named(wanted):
    with pytest.raises(BadUsage, match="there is no measure"):
        made(bar(), bar(), bar(), measures=wanted)


# Pitch


def test_every_note_is_heard_where_the_line_has_it_at_its_pitch():
    row = "Bb2 D3 F3 Bb3 F3 D3 Bb2 E2 Ab3 Gb3 B2 C4"
    found = plain(*(bar(" ".join(row.split()[at : at + 4])) for at in (0, 4, 8)), a4_hz=442.0)
    heard = hear(mono(found).astype(float), RATE_HZ, a4_hz=442.0).notes
    assert len(heard) == len(found.notes) == 12
    for one, want in zip(heard, found.notes):
        assert abs(cents(one.f0_hz / want.hz)) < 0.1
        assert one.start_s == pytest.approx(want.onset_s, abs=0.03)
        assert one.end_s == pytest.approx(want.onset_s + want.length_s - 0.06, abs=0.06)


@pytest.mark.parametrize(
    ("transpose", "semitones"),
    [
        ("<diatonic>-1</diatonic><chromatic>-2</chromatic>", -2),
        ("<diatonic>-1</diatonic><chromatic>-2</chromatic><octave-change>-1</octave-change>", -14),
        ("<diatonic>2</diatonic><chromatic>3</chromatic>", 3),
    ],
)
def test_a_transposing_part_sounds_as_it_sounds(transpose, semitones):
    more = f"<transpose>{transpose}</transpose>"
    found = plain(attributes(1, 4, 4, more=more) + bar("C4 E4 G4 C4"))
    heard = hear(mono(found).astype(float), RATE_HZ).notes
    assert [one.midi - semitones for one in heard] == [60, 64, 67, 60]


# How notes begin and end


def gap_db(samples, at_s=1.0):
    """The softest 10 ms about ``at_s`` beside the note before."""
    frames = [level_db(samples, at_s - 0.08 + k / 200, at_s - 0.07 + k / 200) for k in range(30)]
    return min(frames) - level_db(samples, 0.2, 0.4)


def articulated(sign):
    return note("C3", notations=f"<articulations><{sign}/></articulations>") if sign else note("C3")


def sounding_s(sign):
    samples = mono(plain(articulated(sign) + bar("r r C3")))
    rms = np.array([level_db(samples, k / 200, (k + 1) / 200) for k in range(200)])
    return np.count_nonzero(rms > rms.max() - 12) / 200


def test_articulation_shapes_the_end_of_a_note():
    lengths = [
        sounding_s(sign) for sign in ("staccatissimo", "staccato", "detached-legato", "", "tenuto")
    ]
    assert lengths == sorted(lengths)
    assert lengths == pytest.approx([0.33, 0.48, 0.73, 0.92, 0.98], abs=0.025)


def test_an_accent_is_louder_at_its_beginning():
    samples = mono(plain(note("C3") + articulated("accent") + bar("C3 C3")))
    start = level_db(samples, 1.03, 1.1) - level_db(samples, 0.03, 0.1)
    assert 1.0 < start < 4.0
    assert abs(level_db(samples, 1.7, 1.9) - level_db(samples, 0.7, 0.9)) < 0.2


def test_tongued_notes_part_and_slurred_notes_don_t():
    begin, end = ('<slur type="start"/>', '<slur type="stop"/>')
    tongued = mono(plain(bar("C3 D3 r r")))
    slurred = mono(plain(note("C3", notations=begin) + note("D3", notations=end) + bar("r r")))
    same = mono(plain(note("C3", notations=begin) + note("C3", notations=end) + bar("r r")))
    assert gap_db(tongued) < -25
    assert gap_db(slurred) > -6
    # Under a slur the same note again is tongued, softly.
    assert gap_db(same) < -10


def test_a_glissando_goes_all_the_way_without_a_step():
    begin = '<glissando type="start" line-type="wavy"/>'
    end = '<glissando type="stop" line-type="wavy"/>'
    samples = mono(
        plain(
            note("Bb3", 2, kind="half", notations=begin) + note("F3", 2, kind="half", notations=end)
        )
    ).astype(float)
    parselmouth = pytest.importorskip("parselmouth")
    pitch = parselmouth.Sound(samples, RATE_HZ).to_pitch_ac(0.01, 30, pitch_ceiling=600)
    times, hz = pitch.xs(), pitch.selected_array["frequency"]
    along = hz[(times > 0.1) & (times < 2.8)]
    assert np.all(along > 0)
    assert np.all(np.diff(along) < 0.2)
    steps = np.abs(1200 * np.diff(np.log2(along)))
    # Five semitones over 1.4 s: at its quickest 5.4 cents in 10 ms.
    assert steps.max() < 8.0
    assert along[0] == pytest.approx(233.08, abs=0.05)
    assert along[-1] == pytest.approx(174.61, abs=0.05)
    # Where the next note takes over, the phase goes on.
    level = [level_db(samples, 1.9 + k / 100, 1.93 + k / 100) for k in range(20)]
    assert max(level) - min(level) < 1.5


def test_a_glissando_over_a_rest_leaves_the_rest_silent():
    begin, end = ('<slide type="start"/>', '<slide type="stop"/>')
    samples = mono(
        plain(note("C3", notations=begin) + note("r", 2, kind="half") + note("G3", notations=end))
    )
    assert level_db(samples, 1.1, 2.9) < -150 < -30 < level_db(samples, 3.1, 3.8)


def test_a_very_long_note_sounds_all_its_time():
    whole = [note("C3", 4, kind="whole", tie="start")]
    whole += [note("C3", 4, kind="whole", tie="stop start") for _ in range(4)]
    samples = mono(plain(*whole, note("C3", 4, kind="whole", tie="stop")))
    levels = [level_db(samples, at + 0.1, at + 0.9) for at in range(23)]
    assert max(levels) - min(levels) < 0.1
    assert len(hear(samples.astype(float), RATE_HZ).notes) == 1


@pytest.mark.parametrize("speed", [100.0, 300.0])
def test_no_note_clicks(speed):
    low = OWN_SCORES / "Slama_01.musicxml"
    found = make_playalong(
        open_score(low), PlayWishes(count_in=0, clicks=False, speed_percent=speed, room=False)
    )
    samples = mono(found)
    assert len(found.notes) > 90
    # Levels go in straight lines over 16 samples: 75 dB down.
    assert hiss_db(samples, RATE_HZ, above_hz=14_000).max() < -72
    # What a hard end would be: the ear of this test.
    cut = samples.copy()
    at = round((found.notes[20].onset_s + 0.5 * found.notes[20].length_s) * RATE_HZ)
    cut[at : at + 400] = 0.0
    assert hiss_db(cut, RATE_HZ, above_hz=14_000).max() > -50


def test_there_is_sound_where_there_is_music_and_none_in_rests():
    found = make_playalong(
        open_score(OWN_SCORES / "Galliard_Sonata1.musicxml"),
        PlayWishes(
            count_in=0, clicks=False, others=False, expression=False, measures="#1-#60", **DRY
        ),
    )
    samples = mono(found)
    loud = level_db(samples, 0, found.sound.length_s)
    onsets = np.array([row.onset_s for row in found.notes])
    ends = onsets + [row.length_s for row in found.notes]
    assert len(onsets) > 150
    for row in found.notes:
        middle = row.onset_s + 0.15 * row.length_s, row.onset_s + 0.5 * row.length_s
        assert level_db(samples, *middle) > loud - 10
    rests = [(end + 0.08, on) for end, on in zip(ends, onsets[1:]) if on - end > 0.2]
    assert rests
    assert all(level_db(samples, *rest) < loud - 60 for rest in rests)


# Parts


def duet(*, second="G3 G3 G3 G3", more=""):
    return read_score(
        score(
            part(tempo(60) + attributes() + bar(), bar()),
            part(bar(second), bar(second) + more, part_id="P2"),
            names=("Trombone", "Horn"),
        ),
        "duet.musicxml",
    )


def line_level(samples, hz, from_s=4.3, to_s=4.8):
    """Level of one frequency."""
    piece = samples[round(from_s * RATE_HZ) : round(to_s * RATE_HZ)].astype(float)
    turn = np.exp(-2j * np.pi * hz * np.arange(len(piece)) / RATE_HZ)
    return 20 * np.log10(2 * abs((piece * turn * np.hanning(len(piece))).mean()) + 1e-12)


def test_the_solo_is_loud_quiet_or_off_and_the_others_go_with_it():
    own, other = 130.81, 196.0
    levels = {}
    for solo in ("loud", "quiet", "off"):
        found = make_playalong(duet(), PlayWishes(solo=solo))
        assert found.others == ("Horn",)
        samples = mono(found)
        levels[solo] = line_level(samples, own) - line_level(samples, other)
    assert levels["loud"] > levels["quiet"] + 10 > levels["off"] + 20
    alone = make_playalong(duet(), PlayWishes(others=False))
    assert alone.others == ()
    assert line_level(mono(alone), other) < line_level(mono(alone), own) - 60


def test_of_very_many_parts_the_first_are_played_and_it_is_said(monkeypatch):
    monkeypatch.setattr(concert, "PLAYED_PARTS", 2)
    ids = [f"P{number}" for number in range(1, 5)]
    whole = read_score(
        score(
            *(part(tempo(60) + attributes() + bar(), part_id=one) for one in ids),
            names=("Trombone", "Horn", "Tuba", "Flute"),
        ),
        "many.musicxml",
    )
    found = make_playalong(whole)
    assert found.others == ("Horn", "Tuba")
    assert any("of the 3 other parts" in SAY.fact(told) for told in found.warnings)
    assert make_playalong(whole, PlayWishes(others=False)).warnings == ()


def test_a_part_out_of_step_is_left_out_and_named():
    whole = read_score(
        score(
            part(tempo(60) + attributes() + bar(), bar()),
            part(bar(), part_id="P2"),
            names=("Trombone", "Horn"),
        ),
        "duet.musicxml",
    )
    found = make_playalong(whole)
    assert found.others == ()
    assert any("Horn isn't played" in SAY.fact(told) for told in found.warnings)


def test_nothing_to_hear_is_a_slip():
    with pytest.raises(BadUsage, match="nothing would sound"):
        made(bar(), solo="off", clicks=False, count_in=0)


# Loudness


@cache
def levelled(wishes, most_dbtp):
    return make_playalong(open_score(OWN_SCORES / "Slama_01.musicxml"), wishes, most_dbtp)


@pytest.mark.sample
@pytest.mark.parametrize("level", [-36.0, -23.0, -12.0])
@pytest.mark.parametrize("solo", ["loud", "off"])
@pytest.mark.parametrize("ending_", [".wav", ".ogg", ".mp3"])
def test_the_level_is_as_stated_and_nothing_clips(level, solo, ending_):
    wishes = PlayWishes(level_lufs=level, solo=solo, measures="1-4")
    found = levelled(wishes, -1.0 if ending_ == ".wav" else -2.0)
    samples, rate = soundfile.read(io.BytesIO(found.data(ending_)))
    lufs, peak = ebur128(samples.T, rate)
    assert lufs == pytest.approx(found.sound.lufs, abs=0.3)
    assert peak <= -1.0 + 0.05
    if found.warnings:
        assert found.sound.lufs < level
        assert "peaks would be clipped" in SAY.fact(found.warnings[0])
    else:
        assert found.sound.lufs == pytest.approx(level, abs=0.05)
    assert len(samples) == len(mono(found))


def test_a_click_has_no_step():
    for kind in CLICKS_HZ:
        wave = click(kind)
        assert abs(wave[[0, -1]]).max() < 1e-3
        assert 0.8 < np.abs(wave).max() < 1.5


# Real parts


@pytest.mark.sample
@pytest.mark.parametrize(
    "path", [path for path in XML_FILES if "orchestra" not in path.parts], ids=lambda p: p.name
)
def test_every_score_can_be_played_along_to(path):
    whole = open_score(path)
    wishes = PlayWishes(
        speed_percent=400.0, others=len(whole.parts) < 5, count_in=0, expression=False
    )
    found = make_playalong(whole, wishes)
    part_ = found.part
    assert len(found.notes) == len(part_.played)
    assert [row.index for row in found.notes] == list(part_.played)
    assert np.allclose(
        [(row.onset_s - found.begins_s) * 4 for row in found.notes], part_.onset_s, atol=1e-6
    )
    for row in found.notes[:: max(1, len(found.notes) // 50)]:
        assert row.hz == part_.notes[row.index].sounding.hz()
    assert np.abs(mono(found)).max() < 0.9
    assert found.sound.length_s > found.notes[-1].onset_s


def test_a_drill_can_be_played_along_to():
    row = [
        DrillNote(parse_pitch("Bb2"), Fraction(1), slur=True),
        DrillNote(parse_pitch("D3"), Fraction(1), articulation="staccato"),
        DrillNote(None, Fraction(1)),
        DrillNote(parse_pitch("F3"), Fraction(1)),
    ]
    piece = Piece("Thirds", "Match.", Key(-2), (4, 4), 72.0, (tuple(row), tuple(row)))
    drill = read_score(drill_score([piece], "Thirds", "Trombone", "bass", str), "thirds.musicxml")
    found, data = playalong_data(drill, PlayWishes(clicks=False), ".flac")
    assert found.tempo_qpm == pytest.approx(72.0)
    beat_s = 60 / 72
    expected = [(bar_ * 4 + at) * beat_s for bar_ in (1, 2) for at in (0, 1, 3)]
    assert [one.onset_s for one in found.notes] == pytest.approx(expected)
    samples, rate = soundfile.read(io.BytesIO(data))
    samples = samples.mean(axis=1)
    heard = hear(samples[round(found.begins_s * rate) :], rate).notes
    assert [one.midi for one in heard] == [46, 50, 53] * 2


@pytest.mark.parametrize("count", [0, 1, 2])
def test_each_exercise_of_a_sheet_is_counted_in_at_its_own_tempo(count):
    def made(name, meter, tempo):
        beats = Fraction(4 * meter[0], meter[1])
        bar_ = (DrillNote(parse_pitch("F3"), beats),)
        return Piece(name, "Play.", Key(-1), meter, tempo, (bar_, bar_))

    pieces = [made("One", (4, 4), 60.0), made("Two", (3, 4), 90.0), made("Three", (6, 8), 90.0)]
    sheet = read_score(drill_score(pieces, "Sheet", "Trombone", "bass", str), "sheet.musicxml")
    found = make_playalong(sheet, PlayWishes(count_in=count))
    lengths = [4.0, 2.0, 2.0]  # seconds of a bar of each
    begins, clock = [], 0.0
    for length in lengths:
        clock += count * length
        begins += [clock, clock + length]
        clock += 2 * length
    assert [one.onset_s for one in found.notes] == pytest.approx(begins)
    assert [one.length_s for one in found.notes] == pytest.approx([4, 4, 2, 2, 2, 2])
    strong = [at for at, kind in found.clicks if kind == "first"]
    bars = [b + k * n for b, n in zip(begins[::2], lengths) for k in range(-count, 2)]
    assert sorted(strong) == pytest.approx(bars)
    assert len(found.clicks) == (2 + count) * (4 + 3 + 2)
    assert found.sound.samples.shape[-1] / found.sound.rate_hz >= clock
    # Only the second one, by its measures: counted in once.
    second = make_playalong(sheet, PlayWishes(count_in=count, measures="3-4"))
    assert [one.onset_s for one in second.notes] == pytest.approx([2.0 * count, 2.0 * count + 2.0])


def test_movements_are_counted_in_once_and_single_pieces_never():
    movements = {}
    for path in sorted(SCORES.rglob("*.musicxml")):
        starts = [m.index for m in open_score(path).read_part().measures if m.anew]
        assert len(set(starts)) == len(starts)  # not again for a repeat
        movements[path.stem] = len(starts)
    assert movements["Bordogni_Vocalise_01_PD"] == 0
    assert movements["Galliard_Sonata1"] == 4


def test_measures_are_as_long_as_their_beats_say():
    for path in sorted(SCORES.rglob("*.musicxml"))[:6]:
        part_ = open_score(path).read_part()
        begins = [at for at, strong in part_.beats_s if strong]
        whole = [m.begin_s for m in part_.measures if not m.upbeat]
        assert np.allclose(begins, whole, atol=1e-6)
        for now, after in zip(part_.measures, part_.measures[1:]):
            assert now.end_s == pytest.approx(after.begin_s)


# The command


def test_the_command_writes_beside_the_part(tmp_path):
    file = tmp_path / "duet.musicxml"
    file.write_bytes(duet().to_bytes())
    told = run("playalong", file, "--tempo", 90, "--solo", "quiet").stdout
    assert "Trombone, 8 notes at 90 quarter notes a minute; solo quiet" in told
    assert "with Horn" in told and "harms hearing" in told
    assert (tmp_path / "duet-playalong.wav").stat().st_size > 100_000
    assert file.read_bytes() == duet().to_bytes()
    again = one_sentence(run("playalong", file, code=1))
    assert "exists already" in again


def test_the_command_s_json(tmp_path):
    file = tmp_path / "duet.musicxml"
    file.write_bytes(duet().to_bytes())
    out = tmp_path / "x.flac"
    found = run_json("playalong", file, "-o", out, "--measures", "2", "--speed", 50, "--no-others")
    assert found["files"] == [str(out)]
    assert (found["part"], found["others"], found["notes"]) == ("Trombone", [], 4)
    assert (found["tempo_qpm"], found["music_begins_s"]) == (30.0, 8.0)
    assert found["clicks"] == 8
    assert soundfile.info(str(out)).frames == found["samples"]
    assert "hearing" in found["caution"]


@pytest.mark.parametrize(
    ("words", "what"),
    [
        (("--tempo", 2), "outside 10 to 500"),
        (("--tempo", 60, "--speed", 50), "give one"),
        (("--speed", 1000), "outside 10 to 400"),
        (("--speed", "nan"), "outside 10 to 400"),
        (("--count-in", 9), "0 to 4 measures"),
        (("--measures", "7-8"), "no measure '7'"),
        (("--level", 0), "outside −40 to −12"),
        (("--part", "Tuba"), "there is no part 'Tuba'"),
        (("-o", "x.mid"), "'.mid'"),
        (("--solo", "off", "--no-others", "--no-click", "--count-in", 0), "nothing would sound"),
    ],
)
def test_slips_are_told_in_one_sentence(words, what, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    file = tmp_path / "duet.musicxml"
    file.write_bytes(duet().to_bytes())
    result = run("playalong", file, *words, code=1 if "Tuba" in what else 2)
    assert what in one_sentence(result)
    assert [path.name for path in tmp_path.iterdir()] == ["duet.musicxml"]


def test_more_than_half_an_hour_is_refused():
    long = [bar() for _ in range(500)]
    with pytest.raises(BadUsage, match="choose fewer measures"):
        made(*long, qpm=60)
