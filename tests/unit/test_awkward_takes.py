"""Takes as students record them: begun again, shortened, noodled before, in another octave.

Parts and takes are of our own, tones of known pitch; what is checked is what was put in.
"""

import numpy as np
import pytest
from invented import DEMO
from musicxml_build import OWN_SCORES, note, notes, part, repeat, score
from played import RATE_HZ, placed

from handslide.edges.musicxml.read import open_score
from handslide.jobs.hear.followed import follow_take
from handslide.jobs.hear.partreport import part_report
from handslide.jobs.setup import make_setup
from handslide.sound.notes import hear
from handslide.sound.tones import harmonic_tone

SETUP = make_setup("tenor-f")
ROWS = placed(SETUP, DEMO, 12)
# The first note of each measure of DEMO that is used here.
BEGINS = {1: 0, 2: 4, 3: 7, 4: 12, 5: 13, 6: 17, 7: 20, 8: 25, 9: 26}


def tone(place, onset_s, length_s, *, mm=0.0, cents=0.0, octave=0):
    """(Hz, onset, length) of a note in its place, off by ``mm`` of the slide and by ``cents``."""
    hz = SETUP.horn.frequency_hz(place.partial, place.extension_m + mm / 1000.0, place.valves)
    return hz * 2.0 ** (octave + (place.lip_cents + cents) / 1200.0), onset_s, 0.9 * length_s


def line(rows=ROWS, start_s=0.0, **how):
    first_s = rows[0][1]
    return [tone(place, start_s + at - first_s, long, **how) for place, at, long in rows]


def end_s(tones):
    return max(at + long for _, at, long in tones)


def take_of(tones, slides=()):
    """Samples of tones; ``slides`` are tones that climb by a sixth."""
    samples = 1e-4 * np.random.default_rng(3).standard_normal(round((end_s(tones) + 1.3) * RATE_HZ))
    for number, (hz, at_s, length_s) in enumerate((*tones, *slides)):
        climbs = np.linspace(0.0, 900.0 * (number >= len(tones)), round(length_s * RATE_HZ))
        one = 0.1 * harmonic_tone(hz, length_s, RATE_HZ, fade_s=0.015, cents=climbs)
        start = round((at_s + 0.3) * RATE_HZ)
        samples[start : start + len(one)] += one
    return samples


def heard(tones, path=DEMO, slides=(), **how):
    take = hear(take_of(tones, slides), RATE_HZ, **how)
    return follow_take(open_score(path), take, SETUP)


def said(followed):
    return [one.kind for one in part_report(followed).summary]


def why(followed):
    return [item.why for item in followed.practice]


def faults(followed):
    return {fault for one in why(followed) for fault in dict(one.values).get("faults", ())}


def test_who_begins_again_isnt_uneven():
    stop, back = 22, BEGINS[4]
    first = line(ROWS[: stop + 1])
    tones = first + line(ROWS[back:], end_s(first) + 1.7)
    followed = heard(tones, closely=True)
    assert followed.counts["right"] == len(ROWS)
    report = part_report(followed)
    assert report.listening is not None
    kinds = [one.kind for one in report.listening.findings]
    assert "listening.uneven" not in kinds
    assert "listening.tempo" not in kinds
    assert report.listening.figures["rhythm"]["spread_ms"] < 10.0
    assert faults(followed) == {"stopped"}


@pytest.mark.parametrize("held", [True, False])
def test_a_note_held_on_is_no_stop(held):
    """A fermata holds a note; a stop is silent."""
    number, longer_s = 13, 2.5
    tones = line()
    hz, at_s, length_s = tones[number]
    tones[number] = hz, at_s, length_s + longer_s * held
    tones[number + 1 :] = [(hz, at + longer_s, long) for hz, at, long in tones[number + 1 :]]
    followed = heard(tones)
    assert followed.counts["right"] == len(ROWS)
    told = [one.kind for one in followed.notes[number + 1].told]
    assert ("takes.waited" in told) is not held
    assert faults(followed) == (set() if held else {"stopped"})


def test_noodling_before_isnt_the_first_note():
    hz = line()[0][0]
    before = [(hz * 2.0, 0.0, 1.5), (hz, 2.0, 1.0), (hz, 3.5, 0.3), (hz * 1.5, 3.9, 0.3),
              (hz, 4.3, 0.3), (hz * 0.75, 4.8, 0.3)]  # fmt: skip
    followed = heard(before + line(start_s=9.0))
    first = followed.notes[0]
    assert first.played == "right"
    assert first.heard is not None
    assert first.heard.start_s == pytest.approx(9.3, abs=0.1)
    assert not faults(followed)


def test_all_an_octave_lower_is_one_thing():
    followed = heard(line(octave=-1))
    assert followed.counts["octave"] == len(ROWS)
    summary = part_report(followed).summary
    assert [one["octaves"] for one in summary if one.kind == "takes.whole_octave"] == [-1]
    assert not faults(followed)
    assert followed.tempo_ratio == pytest.approx(1.0, abs=0.03)


def test_one_note_in_another_octave_isnt_the_whole_take():
    tones = line()
    tones[9] = (tones[9][0] / 2.0, *tones[9][1:])
    followed = heard(tones)
    assert followed.counts["octave"] == 1
    assert "takes.whole_octave" not in said(followed)
    assert faults(followed) == {"octave"}


def repeated(tmp_path):
    """Four measures that are to be played twice, and four more."""
    lines = ("C3 D3 E3 F3", "G3 F3 E3 D3", "F3 A3 G3 E3", "D3 E3 D3 G3",
             "A3 B3 C4 A3", "G3 A3 F3 G3", "E3 F3 D3 E3", "C3 G3 E3 C3")  # fmt: skip
    measures = [notes(names) for names in lines]
    measures[3] += repeat()
    path = tmp_path / "repeated.musicxml"
    path.write_bytes(score(part(*measures)))
    return path


@pytest.mark.parametrize("twice", [False, True])
def test_a_repeat_left_out_isnt_missed(tmp_path, twice):
    path = repeated(tmp_path)
    rows = placed(SETUP, path)
    assert len(rows) == 48
    played = rows if twice else rows[:16] + [(p, at - rows[16][1], n) for p, at, n in rows[32:]]
    first = line(rows[:16])
    rest = line(rows[16:] if twice else rows[32:], rows[16][1])
    followed = heard(first + rest, path)
    assert followed.counts["right"] == len(played)
    assert followed.counts["missing"] == 0
    assert sum(note.outside for note in followed.notes) == 48 - len(played)
    assert ("takes.count_repeat" in said(followed)) is not twice
    assert "takes.left_out" not in said(followed)
    assert not faults(followed)


def test_a_note_missed_the_second_time_is_missed(tmp_path):
    path = repeated(tmp_path)
    tones = line(placed(SETUP, path))
    del tones[22]
    followed = heard(tones, path)
    assert followed.notes[22].played == "missing"
    assert not followed.notes[22].outside
    assert faults(followed) == {"missing"}


def test_a_line_left_out_is_told_as_one():
    first = line(ROWS[: BEGINS[4]])
    followed = heard(first + line(ROWS[BEGINS[7] :], end_s(first) + 0.1))
    assert followed.counts["missing"] == BEGINS[7] - BEGINS[4]
    told = [one for one in part_report(followed).summary if one.kind == "takes.left_out"]
    assert [(one["first"], one["last"]) for one in told] == [("4", "6")]
    assert not faults(followed)


def test_a_take_in_doubt_names_nothing_to_practise():
    """A part in another transposition: nothing of it was right or wrong."""
    followed = heard(line(cents=-200.0))
    assert followed.doubt is not None
    assert followed.doubt["semitones"] == -2
    assert followed.practice == ()
    assert followed.habits == ()


def test_a_passage_tried_many_times_is_still_the_part():
    tones = line(ROWS[: BEGINS[3]])
    for _ in range(9):
        tones += line(ROWS[BEGINS[2] : BEGINS[3]], end_s(tones) + 1.0)
    followed = heard(tones)
    assert followed.doubt is None


def test_a_high_horn_isnt_the_slides_fault():
    """8 cents sharp, as at A4 = 442 Hz, and 3rd position 12 mm short: the habit is 12 mm."""
    tones = [
        tone(place, at, long, cents=7.9, mm=-12.0 * (abs(place.position - 3) < 0.05))
        for place, at, long in ROWS
    ]
    followed = heard(tones)
    assert followed.tuning.common == pytest.approx(7.9, abs=0.5)
    assert [habit.kind for habit in followed.habits] == ["place"]
    assert followed.habits[0].slide_mm == pytest.approx(-12.0, abs=1.5)


def test_where_something_unclear_sounded_no_note_is_missed():
    """Only a sliding tone at the time of a note: whether it was played can't be told."""
    number = 4
    tones = line()
    hz, at_s, length_s = tones[number]
    slides = [(0.8 * hz, at_s, length_s)]
    silent = heard([*tones[:number], *tones[number + 1 :]])
    assert silent.notes[number].played == "missing"
    followed = heard([*tones[:number], *tones[number + 1 :]], slides=slides)
    assert followed.notes[number].heard is None
    assert followed.notes[number].played == "unsure"
    assert not faults(followed)


def with_drone(tones, hz, share):
    """The take with a tone that sounds from its beginning to its end, as strong as ``share``."""
    samples = take_of(tones)
    return (
        samples
        + share * 0.1 * harmonic_tone(hz, len(samples) / RATE_HZ + 1e-4, RATE_HZ)[: len(samples)]
    )


@pytest.mark.parametrize("down_db", [20.0, 12.0, 6.0])
def test_a_drone_in_the_microphone_is_no_note(down_db):
    take = hear(with_drone(line(), SETUP.horn.frequency_hz(2, 0.0), 10 ** (-down_db / 20)), RATE_HZ)
    followed = follow_take(open_score(DEMO), take, SETUP)
    told = [one for one in part_report(followed).warnings if one.kind == "sounds.drone"]
    assert [one["pitch"].name for one in told] == ["Bb2"]
    counts = followed.counts
    assert counts["wrong"] + counts["octave"] + counts["missing"] == 0
    assert counts["right"] >= len(ROWS) - 6
    errors = [abs(note.cents) for note in followed.notes if note.played == "right" and note.cents]
    assert np.percentile(errors, 90) < 3.0


def test_a_long_note_that_grows_is_no_drone():
    """The recording begins and ends in it, and its beginning is soft."""
    hz = SETUP.horn.frequency_hz(2, 0.0)
    grows = np.concatenate((np.full(4 * 22050, 0.02), np.linspace(0.02, 0.1, 4 * 22050)))
    take = hear(grows * harmonic_tone(hz, 8.0, RATE_HZ), RATE_HZ)
    assert take.drone_hz is None
    assert [note.midi for note in take.notes] == [46]


@pytest.mark.parametrize("soft", [True, False])
def test_a_players_own_low_note_is_no_drone(soft):
    """A long soft note at the end, or one note again and again, stops."""
    hz = SETUP.horn.frequency_hz(2, 0.0)
    tones = line(ROWS[:20])
    samples = take_of([*tones, (hz, end_s(tones) + 0.5, 4.0)])
    if soft:
        samples[round((end_s(tones) + 0.7) * RATE_HZ) :] *= 0.1
    take = hear(samples, RATE_HZ)
    assert take.drone_hz is None
    assert len(take.notes) == 21


def test_a_horn_that_warms_is_told_and_no_notes_fault():
    """It climbs by 16 cents over the take; 3rd position is 12 mm short all the way."""
    rows = placed(SETUP, DEMO)
    whole_s = rows[-1][1] - rows[0][1]
    tones = [
        tone(place, at, long, cents=16.0 * (at - rows[0][1]) / whole_s,
             mm=-12.0 * (abs(place.position - 3) < 0.2))
        for place, at, long in rows
    ]  # fmt: skip
    followed = heard(tones)
    told = [one for one in part_report(followed).summary if one.kind == "takes.drift"]
    assert [one["cents"] for one in told] == [pytest.approx(16.0, abs=2.0)]
    third = [
        note.beside_mm
        for note in followed.notes
        if note.place and abs(note.place.position - 3) < 0.2 and note.beside_mm is not None
    ]
    assert third == [pytest.approx(-12.0, abs=2.5)] * len(third)
    assert len(third) > 8
    others = [note for note in followed.notes if note.mark == "1" and note.heard is not None]
    assert {one.kind for note in others for one in note.told} <= {"takes.in_tune_with_rest",
                                                                  "takes.too_quick"}  # fmt: skip
    places = [habit for habit in followed.habits if habit.kind == "place"]
    assert [round(habit.slide_mm or 0.0) for habit in places] == [pytest.approx(-12, abs=2)]


def test_a_slide_that_is_short_in_the_second_half_is_no_drift():
    """Far places are 15 mm short, and come in the second half: the closed slide stays."""
    tones = [
        tone(place, at, long, mm=-15.0 * (place.extension_m > 0.05 and number >= 20))
        for number, (place, at, long) in enumerate(ROWS)
    ]
    assert heard(tones).tuning.drift == 0.0


def test_slurs_that_are_tongued_stop(tmp_path):
    """The sound ends before each slurred note: how far silence lies below is no measure of it."""
    names = "C3 D3 E3 F3 G3 A3 G3 F3 E3 D3 E3 C3"
    slurred = [
        note(name, notations='<slur type="start" number="1"/>' * (k % 2 == 0)
             + '<slur type="stop" number="1"/>' * (k % 2))
        for k, name in enumerate(names.split())
    ]  # fmt: skip
    path = tmp_path / "slurred.musicxml"
    measures = ("".join(slurred[first : first + 4]) for first in (0, 4, 8))
    path.write_bytes(score(part(*measures)))
    listening = part_report(heard(line(placed(SETUP, path)), path, closely=True)).listening
    assert listening is not None
    told = [one for one in listening.findings if one.kind.startswith("listening.slur")]
    assert [(one.kind, one["count"]) for one in told] == [("listening.slur_stops", 6)]


def test_a_drone_nearly_as_loud_as_the_player_is_known():
    """Above it few frames have a clear pitch: the notes blend with it."""
    path = OWN_SCORES / "School_for_Trombone_006.musicxml"
    samples = with_drone(line(placed(SETUP, path, 10)), SETUP.horn.frequency_hz(2, 0.0), 0.7)
    assert hear(samples, RATE_HZ).drone_hz == pytest.approx(116.54, abs=0.1)
