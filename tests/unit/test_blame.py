"""Who is blamed: a group of notes as what it is, and no note for what the whole take is off by."""

from collections import Counter

import pytest
from invented import DEMO
from played import follow_samples, placed, play_part

from handslide.ground.pitch import parse_pitch
from handslide.instrument.habits import PlayedNote, find_habits
from handslide.instrument.heardplace import m_per_cent
from handslide.instrument.marks import mark
from handslide.instrument.practice import suggest_practice
from handslide.instrument.takeoffset import take_offset
from handslide.jobs.hear.follow import follow_json
from handslide.jobs.hear.free import free_report
from handslide.jobs.hear.listen import take_json
from handslide.jobs.hear.partreport import part_report
from handslide.jobs.hear.sheet import take_page
from handslide.jobs.practice.faults import faults_of
from handslide.jobs.setup import make_setup
from handslide.words.speech import speech
from handslide.words.takepage import advice_text

SETUP = make_setup("tenor-f")
HORN = SETUP.horn
ENGLISH = speech("en")
ROWS = placed(SETUP, DEMO)[:34]


def row(name, text, cents):
    pitch = parse_pitch(name)
    for place in SETUP.book.places(pitch.midi):
        if mark(HORN, place, SETUP.style) == text:
            return PlayedNote(pitch, place, text, cents, 0.5, 1000.0 * m_per_cent(HORN, place))
    raise LookupError(name, text)


def flat_valve():
    """Eleven notes with the valve, all flat, of which only one is E♭2 in T3½."""
    names = [("C3", "T1"), ("B2", "T2"), ("C3", "T1"), ("F2", "T1"), ("C3", "T1"), ("E2", "T♭2"),
             ("F2", "T1"), ("B2", "T♭2"), ("C3", "T1"), ("F2", "T1")]  # fmt: skip
    known = [
        row(name, text, -19.0 - k % 3)
        for k, (name, text) in enumerate(names)
        if any(
            mark(HORN, p, SETUP.style) == text for p in SETUP.book.places(parse_pitch(name).midi)
        )
    ]
    open_horn = [row("Bb2", "1", 1.0), row("C3", "6", -2.0), row("D3", "4", 2.0),
                 row("F3", "1", 0.0), row("Bb3", "1", -1.0)]  # fmt: skip
    return [*known, row("Eb2", "T3½", -24.0), *open_horn * 2]


def test_a_group_is_named_as_what_it_is():
    rows = flat_valve()
    (habit,) = find_habits(HORN, rows)
    assert habit.kind == "valve"
    (item,) = suggest_practice(rows, [habit], [])
    assert ENGLISH.fact(item.what) == "Notes with the F valve, such as E♭2 in T3½"
    assert f"on {habit.count} of {habit.total} notes" in ENGLISH.fact(item.why)


def test_a_group_of_one_note_is_that_note():
    rows = [row("Eb3", "3", 22.0 + k) for k in range(4)]
    rows += [row("Bb2", "1", 0.0), row("D3", "4", 1.0), row("F3", "1", -1.0)] * 3
    habits = find_habits(HORN, rows)
    assert [habit.kind for habit in habits] == ["place"]
    (item,) = suggest_practice(rows, habits, [])
    assert ENGLISH.fact(item.what) == "E♭3 in 3"


@pytest.mark.parametrize("cents", [-18.0, 24.0])
def test_no_note_is_blamed_for_the_whole_take(cents):
    followed = follow_samples(play_part(SETUP, ROWS, lambda *_: 0.0, cents=cents), DEMO, SETUP)
    report = part_report(followed)
    assert report.common_cents == pytest.approx(cents, abs=1.0)
    assert report.practice == ()
    assert {tuple(ENGLISH.fact(one) for one in note.told) for note in report.inside} == {
        ("in tune with the rest",)
    }
    assert f"the whole take {abs(cents):.0f} cents too" in ENGLISH.fact(report.summary[-1])
    assert all(note.fix_mm is None for note in take_page(report, ENGLISH).notes)
    assert faults_of(follow_json(report, ENGLISH), SETUP) == ()
    free = free_report(followed.take, SETUP, "x")
    assert free.practice == () and free.common_cents == pytest.approx(cents, abs=1.0)
    assert faults_of(take_json(followed.take, ENGLISH), SETUP) == ()


def test_a_note_that_is_off_beside_the_rest_is_still_named():
    counts = Counter(place for place, *_ in ROWS)
    flat = next(place for place, *_ in ROWS if counts[place] == 1 and place.extension_m > 0.1)

    def slip(number, place, before):
        return 25.0 if place == flat else 0.0

    followed = follow_samples(play_part(SETUP, ROWS, slip, cents=20.0), DEMO, SETUP)
    report = part_report(followed)
    (named,) = [note for note in report.inside if "below the rest" in ENGLISH.fact(note.told[0])]
    assert "slide 25 mm too far out" in ENGLISH.fact(named.told[0])
    assert named.beside_mm == pytest.approx(25.0, abs=1.0)
    (item,) = report.practice
    assert "below the rest" in advice_text(ENGLISH, item)
    (spot,) = faults_of(follow_json(report, ENGLISH), SETUP)
    assert spot.midi == named.pitch.midi
    assert spot.slide_mm == pytest.approx(25.0, abs=1.0)


def test_a_short_slide_is_not_a_tuning():
    short = [(20.0, False)] * 8 + [(0.0, True)] * 3
    assert take_offset(short) == 0.0
    assert take_offset([(20.0, False)] * 8 + [(19.0, True)] * 3) == 20.0
    assert take_offset([(20.0, True)] * 8 + [(5.0, False)] * 3) == 0.0
    assert take_offset([(20.0, None)] * 4) == 0.0
    assert take_offset([(20.0, None), (-20.0, None)] * 6) == 0.0


def test_a_single_note_beyond_a_sharp_take_is_named():
    rows = [row("Bb2", "1", 18.0), row("D3", "4", 19.0), row("F3", "1", 17.0)] * 3
    rows.append(row("C3", "6", 50.0))
    habits = find_habits(HORN, rows)
    assert "all" in [habit.kind for habit in habits]
    said = [ENGLISH.fact(item.why) for item in suggest_practice(rows, habits, [], 18.0)]
    assert said == ["about 32 cents above the rest, 1 time"]
