"""The pieces of the reading of a line, each by itself; and that what is read holds no XML."""

import dataclasses

import pytest
from lxml import etree
from musicxml_build import notes, part, score, tempo

from handslide.edges.musicxml.clock import Clock
from handslide.edges.musicxml.curves import Curves
from handslide.edges.musicxml.read import read_score
from handslide.edges.musicxml.roadsigns import RoadSigns
from handslide.edges.musicxml.ties import Ties
from handslide.ground.pitch import parse_pitch


@pytest.fixture
def told():
    return []


@pytest.fixture
def warn(told):
    def add(kind, what):
        told.append((kind, what.kind))

    return add


def xml(text):
    return etree.fromstring(text)


def fields(text):
    return {child.tag: child for child in xml(f"<note>{text}</note>")}


def lasting(divisions, more=""):
    return fields(f"<duration>{divisions}</duration>{more}")


# The clock


def test_notes_move_the_clock_and_chords_do_not(warn, told):
    clock = Clock(warn)
    clock.set_divisions("4")
    assert clock.strike(lasting(6)) == 1.5
    assert clock.strike(lasting(6, "<chord/>")) == 1.5
    assert (clock.onset, clock.position, clock.furthest) == (0.0, 1.5, 1.5)
    assert clock.strike(fields("<grace/>")) == 0.0
    assert (clock.onset, clock.position) == (1.5, 1.5) and told == []


def test_backup_and_forward(warn, told):
    clock = Clock(warn)
    clock.set_divisions("2")
    clock.strike(lasting(8))
    clock.move(xml("<backup><duration>6</duration></backup>"))
    clock.move(xml("<forward><duration>2</duration></forward>"))
    assert (clock.position, clock.furthest) == (2.0, 4.0)
    clock.move(xml("<backup><duration>6</duration></backup>"))
    clock.move(xml("<backup/>"))
    assert clock.position == 0.0
    assert told == [
        ("duration", "scores.backup_too_far"), ("duration", "scores.move_without_duration"),
    ]  # fmt: skip


def test_divisions_that_cannot_be_leave_those_before(warn, told):
    clock = Clock(warn)
    clock.set_divisions("2")
    clock.set_divisions("0")
    assert clock.strike(lasting(2)) == 1.0
    assert told == [("duration", "scores.bad_divisions")]


def test_a_place_moved_by_an_offset(warn):
    clock = Clock(warn)
    clock.set_divisions("2")
    clock.strike(lasting(2))
    assert [clock.place(offset) for offset in (None, "1", "-9")] == [1.0, 1.5, 0.0]


@pytest.mark.parametrize(
    ("meter", "played", "implicit", "length", "warned"),
    [
        (None, 3, False, 3.0, False),
        (None, 0, False, 4.0, False),
        ("3", 0, False, 3.0, False),
        ("3", 1, False, 1.0, False),  # a short measure is short: an upbeat
        ("3", 3.05, False, 3.0, False),
        ("3", 5, False, 5.0, True),
        ("3", 5, True, 5.0, False),
    ],
)
def test_how_long_a_measure_is(warn, told, meter, played, implicit, length, warned):
    clock = Clock(warn)
    if meter is not None:
        clock.set_time(xml(f"<time><beats>{meter}</beats><beat-type>4</beat-type></time>"))
    if played:
        clock.strike(lasting(played))
    assert clock.close_measure(implicit=implicit) == pytest.approx(length)
    assert (clock.measure_start, clock.position, clock.furthest) == (pytest.approx(length), 0, 0)
    assert told == ([("duration", "scores.long_measure")] if warned else [])


# Ties


def tied(*kinds, tag="tie"):
    return [(tag, kind, None) for kind in kinds]


def sounding(name):
    pitch = parse_pitch(name)
    return pitch, pitch, pitch.midi


def test_a_tie_leads_to_the_note_before(warn, told):
    lost = []
    ties = Ties(warn, lost.append)
    assert ties.note_of(tied("start"), sounding("C3"), 0, grace=False) == 0
    assert ties.note_of(tied("stop", "start"), sounding("C3"), 1, grace=False) == 0
    assert ties.note_of(tied("stop"), sounding("C3"), 1, grace=False) == 0
    assert ties.note_of([], sounding("C3"), 1, grace=False) == 1
    assert (told, lost, ties.open) == ([], [], {})


def test_a_tie_that_leads_nowhere(warn, told):
    lost = []
    ties = Ties(warn, lost.append)
    ties.note_of(tied("start", tag="tied"), sounding("C3"), 0, grace=False)
    assert ties.note_of([], sounding("D3"), 1, grace=True) == 1  # a grace note may stand between
    assert lost == []
    assert ties.note_of(tied("stop"), sounding("D3"), 2, grace=False) == 2
    assert (told, lost) == ([("tie", "scores.tie_from_nowhere")], [0])


def test_a_later_ending_continues_the_ties_of_the_first(warn):
    ties = Ties(warn, lambda note: None)
    ties.note_of(tied("start"), sounding("C3"), 0, grace=False)
    ties.open_ending(again=False)
    assert ties.note_of(tied("stop"), sounding("C3"), 1, grace=False) == 0
    ties.open_ending(again=True)
    assert ties.note_of(tied("stop"), sounding("C3"), 1, grace=False) == 0


# Slurs and glissandi


def curve(tag, kind, number="1"):
    return (tag, kind, {"number": number})


def test_a_slur_binds_all_notes_under_it():
    curves = Curves(lambda segment: None)
    curves.add([curve("slur", "start")], 1)
    curves.add([curve("slur", "stop"), curve("slur", "start")], 3)  # ends before it starts anew
    curves.add([curve("glissando", "start"), curve("slide", "stop")], 3)
    curves.add([curve("slur", "stop")], 4)
    curves.add([curve("slur", "stop", "2")], 7)  # its start lies before the part
    assert curves.slurred == {1, 2, 3, 6} and curves.gliding == {3}


def test_a_slur_without_an_end_is_read_to_the_next_note():
    unclosed = []
    curves = Curves(unclosed.append)
    curves.add([curve("slur", "start")], 0)
    curves.add([curve("slur", "start")], 2)
    curves.finish()
    assert unclosed == [0, 2] and curves.slurred == {0, 2}


# Signs that steer


def test_signs_stand_where_the_clock_stands(warn):
    clock = Clock(warn)
    road = RoadSigns(clock)
    clock.strike(lasting(4))
    clock.close_measure(implicit=False)
    clock.strike(lasting(2))
    road.add_direction(xml('<direction><sound tempo="90" dacapo="yes"/></direction>'), 1)
    road.add_sound(xml('<sound tempo="60"/>'), 1)
    assert road.tempos == [(6.0, 90.0), (6.0, 60.0)]
    assert [(one.kind, one.at_q) for one in road.by_measure[1].jumps] == [("dacapo", 2.0)]


def test_endings_follow_each_other(warn):
    road = RoadSigns(Clock(warn))
    start = '<barline><ending number="{}" type="start"/></barline>'
    assert road.add_barline(xml(start.format(1)), 2)
    assert not road.follows_ending(2)
    stop = '<barline><ending number="1" type="stop"/><repeat direction="backward"/></barline>'
    assert not road.add_barline(xml(stop), 2)
    assert road.add_barline(xml(start.format(2)), 3) and road.follows_ending(3)


# What is read


def reachable(value, seen):
    """All values that can be reached from ``value`` through attributes and items."""
    if id(value) in seen:
        return
    seen[id(value)] = value
    if isinstance(value, dict):
        inner = [*value.keys(), *value.values()]
    elif isinstance(value, list | tuple | set | frozenset):
        inner = list(value)
    elif dataclasses.is_dataclass(value):
        inner = [getattr(value, field.name) for field in dataclasses.fields(value)]
    else:
        inner = list(vars(value).values()) if hasattr(value, "__dict__") else []
    for one in inner:
        reachable(one, seen)


def test_no_element_of_the_tree_is_in_a_read_part():
    opened = read_score(score(part(tempo() + notes("C3 D3") + notes("E3", duration=0))))
    read = opened.read_part()
    seen = {}
    reachable(read, seen)
    assert read.warnings and any(one is read.notes[0] for one in seen.values())
    assert [one for one in seen.values() if type(one).__module__.startswith("lxml")] == []
    assert [opened.note_elements("P1")[one.ordinal].findtext("pitch/step") for one in read.notes] \
        == [one.written.step for one in read.notes]  # fmt: skip
