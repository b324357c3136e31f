"""What a part with fingerings teaches: what is written, what was read, what can't be used."""

import musicxml_build as mx
import pytest

from handslide.edges.files.horns import load_horn
from handslide.edges.musicxml.read import read_score
from handslide.ground.errors import BadData, BadUsage
from handslide.instrument.learning.example import Stand
from handslide.jobs.mark.mark import MarkOptions, choose_for
from handslide.jobs.partwishes import PartWishes, read_wished
from handslide.jobs.profile.partexample import (
    plain_example,
    setup_on,
    take_part,
)
from handslide.words.speech import speech

STAND = Stand(load_horn("tenor-f"))
WISHES = PartWishes()


def finger(*texts):
    inside = "".join(f"<fingering>{text}</fingering>" for text in texts)
    return f"<technical>{inside}</technical>"


def bar(*notes):
    """Quarter notes; each is a name, or a name and its fingerings."""
    return "".join(
        mx.note(one) if isinstance(one, str) else mx.note(one[0], notations=finger(*one[1:]))
        for one in notes
    )


def taken(data, seen=None, stand=STAND, profile="classical"):
    score = read_score(data, "part.musicxml")
    part = read_wished(score, WISHES)
    plain = plain_example(score, part, "part.musicxml", WISHES, stand)
    return take_part(score, part, plain, setup_on(stand, profile), seen)


def choices(found):
    """How each note was chosen, and its first place."""
    return [(note.how, note.places[0] if note.places else None) for note in found.example.notes]


def part_of(*bars, **options):
    return mx.score(mx.part(*bars, **options))


def test_every_fingering_counts_and_the_rest_was_not_looked_at():
    found = taken(part_of(bar(("C3", "T1"), "D3", ("Bb2", "1"), "F3")))
    assert choices(found) == [("written", (("F",), 3)), (None, None), ("written", ((), 2)),
                              (None, None)]  # fmt: skip
    assert (found.count("written"), found.ours, found.unused) == (2, 0, ())


def test_what_was_read_counts_as_left_standing_where_the_route_goes():
    # B flat 3 in 1st, D4 beside it in 1st (common practice); the written 4th is held.
    bars = bar("Bb3", ("D4", "4"), "Bb3", "D4"), bar("Bb3", "D4", "Bb3", "D4")
    found = taken(part_of(*bars), seen="1")
    held = choices(taken(part_of(*bars), seen="end"))
    assert [how for how, _ in choices(found)] == ["kept", "written", "kept", "kept", *[None] * 4]
    assert choices(found)[:4] == held[:4]
    assert [how for how, _ in held].count("kept") == 7
    assert choices(found)[1] == ("written", ((), 6))
    # The route is that which holds what is written: `mark` goes the same way.
    one = choose_for(read_score(part_of(*bars), "x"), setup_on(STAND, "classical"), MarkOptions())
    places = [(one.routed.places[k].valves, one.routed.places[k].partial) for k in range(8)]
    assert [place for _, place in held] == places


def test_what_can_mean_several_places_keeps_them_all():
    # VI is 6th, or V for the valve and I for 1st; numbers mean one place.
    found = taken(part_of(bar(("C3", "VI"), ("F3", "VI"), ("C3", "6"), "D3")))
    assert [note.places for note in found.example.notes] == [
        (((), 3), (("F",), 3)),
        ((("F",), 4), ((), 4)),
        (((), 3),),
        (),
    ]


def test_what_cant_be_used_is_said_and_teaches_nothing():
    data = part_of(bar(("C3", "T1"), ("Bb2", "legato"), ("F3", "5"), "D3"))
    found = taken(data, seen="end")
    assert [how for how, _ in choices(found)] == ["written", None, None, "kept"]
    told = [(measure, speech("en").fact(what)) for measure, what in found.unused]
    assert told == [
        ("1", "'legato' over B♭2 isn't a slide position"),
        ("1", "F3 isn't in '5' on this horn"),
    ]


def test_a_students_limits_hold():
    data = part_of(bar(("C3", "T1"), ("D3", "4"), "Bb2", "F3"))
    found = taken(data, stand=Stand(load_horn("tenor-f"), learned=()))
    assert [how for how, _ in choices(found)] == [None, "written", None, None]
    assert "valve" in speech("en").fact(found.unused[0][1])


def test_a_glissando_that_forbids_a_fingering_is_not_bent():
    # B flat 3 in 1st and A3 in 6th lie on the 4th and the 5th partial: no glissando joins them.
    slide = '<glissando type="start" number="1"/>', '<glissando type="stop" number="1"/>'
    data = part_of(
        mx.note("Bb3", notations=slide[0] + finger("1"))
        + mx.note("A3", notations=slide[1] + finger("6"))
        + bar(("D3", "4"), "F3")
    )
    found = taken(data)
    hows = [how for how, _ in choices(found)]
    assert hows[:2].count("written") < 2 and hows[2:] == ["written", None]
    assert any("glissando" in speech("en").fact(told) for _, told in found.unused)


def test_our_own_marks_count_only_as_far_as_they_were_read():
    plain = part_of(bar("C3", "D3", "Eb3", "C3"), bar("Bb3", "D4", "Bb3", "F3"))
    marked = choose_for(read_score(plain, "x"), setup_on(STAND, "jazz"), MarkOptions())
    data = marked.musicxml()
    with pytest.raises(BadData, match=r"all positions in part\.musicxml are handslide's own marks"):
        taken(data)
    found = taken(data, seen="1")
    # What was read are the marks that stand there, whatever we would write now.
    places = [(marked.routed.places[k].valves, marked.routed.places[k].partial) for k in range(4)]
    assert choices(found) == [("kept", place) for place in places] + [(None, None)] * 4
    assert found.ours == 4


def test_our_own_mark_means_what_it_can_mean():
    plain = part_of(bar("C3", "D3", "Eb3", "C3"))
    marked = choose_for(read_score(plain, "x"), setup_on(STAND, "classical"), MarkOptions())
    data = marked.musicxml().replace(b">6</fingering>", b">VI</fingering>", 1)
    found = taken(data, seen="end")
    assert found.example.notes[0].places == (((), 3), (("F",), 3))
    assert found.example.notes[3].places == ((("F",), 3),)  # T1 is one place


def test_a_fingering_beside_our_mark_is_a_change():
    plain = part_of(bar("C3", "D3", "Eb3", "C3"))
    marked = choose_for(read_score(plain, "x"), setup_on(STAND, "classical"), MarkOptions())
    data = marked.musicxml().decode()
    assert marked.routed.marks[0] == "6"
    first = data.index("<?handslide")
    changed = data[:first] + "<fingering>T1</fingering>" + data[first:]
    found = taken(changed.encode(), seen="end")
    assert choices(found)[0] == ("changed", (("F",), 3))
    assert [how for how, _ in choices(found)[1:]] == ["kept"] * 3


def test_nothing_to_learn_from_is_said():
    with pytest.raises(BadData, match="no position over a note that could be learnt from"):
        taken(part_of(bar("C3", "D3", "Eb3", "C3")))


def test_each_written_note_once_in_the_order_of_its_first_playing():
    # The first measure is played twice.
    bars = bar("C3", "D3", "Eb3", ("F3", "1")) + mx.repeat(), bar("Bb2", "D3", "F3", "Bb3")
    found = taken(part_of(*bars))
    notes = found.example.notes
    assert [note.number for note in notes] == list(range(8))
    assert [note.onset_s for note in notes][3:5] == pytest.approx([3 * 0.75, 8 * 0.75])
    assert [(note.measure, note.index) for note in notes[3:5]] == [("1", 4), ("2", 1)]


def test_measures_that_are_called_alike():
    # Two movements, each with a measure 1 and 2.
    bars = [bar("C3", "D3", "Eb3", "C3")] * 4
    text = part_of(*bars).decode()
    for old, new in (("3", "1"), ("4", "2")):
        text = text.replace(f'<measure number="{old}">', f'<measure number="{new}">')
    with pytest.raises(BadUsage, match="2 measures have this number; give one as #2, #4"):
        taken(text.encode(), seen="2")
    found = taken(text.encode(), seen="#2")
    assert found.count("kept") == 8
    assert [note.measure.rpartition(" ")[2] for note in found.example.notes[::4]] == [
        "(#1)", "(#2)", "(#3)", "(#4)",
    ]  # fmt: skip


@pytest.mark.parametrize("measure", ["9", "#9", "", "#0", "x", "²"])
def test_a_measure_that_isnt_there(measure):
    with pytest.raises(BadUsage, match=r"the part has no such measure; its last is 1"):
        taken(part_of(bar("C3", "D3", "Eb3", "C3")), seen=measure)


def test_the_key_is_the_file_and_which_part_was_asked_for():
    data = mx.score(
        mx.part(bar(("C3", "6"))), mx.part(bar(("D3", "4")), part_id="P2"),
        names=("Trombone 1", "Trombone 2"),
    )  # fmt: skip
    score = read_score(data, "two.musicxml")
    keys = []
    for wishes in (PartWishes(), PartWishes(part="2"), PartWishes(part="Trombone 2", voice="1")):
        part = read_wished(score, wishes)
        keys.append(plain_example(score, part, "two.musicxml", wishes, STAND).key)
    assert keys == ["two.musicxml", "two.musicxml#P2", "two.musicxml#P2#1"]
