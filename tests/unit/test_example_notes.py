"""Notes of parts as examples have them: order, repeats, what leads to the next note."""

import musicxml_build as mx

from handslide.jobs.profile.examplenotes import plain_notes


def slur(name, kind):
    return mx.note(name, notations=f'<slur type="{kind}" number="1"/>')


def test_each_written_note_comes_once_in_the_order_of_its_first_playing():
    once = plain_notes(mx.read(mx.notes("C3 D3 E3 F3")))
    assert [(note.midi, note.number, note.index) for note in once] == [
        (48, 0, 1), (50, 1, 2), (52, 2, 3), (53, 3, 4),
    ]  # fmt: skip
    assert {note.measure for note in once} == {"1"} and {note.how for note in once} == {None}
    assert plain_notes(mx.read(mx.notes("C3 D3 E3 F3") + mx.repeat())) == once


def test_a_slur_leads_only_to_the_note_that_is_played_next():
    plain = mx.notes("C3 D3 E3") + slur("F3", "start") + slur("G3", "stop") + mx.notes("A3 G3 F3")
    assert [note.slur for note in plain_notes(mx.read(plain))] == [k == 3 for k in range(8)]
    # From the first ending it goes back to the beginning: the second isn't next to it.
    first = mx.notes("E3 D3 E3") + slur("D3", "start")
    back = mx.ending("1", "stop", '<repeat direction="backward"/>')
    second = slur("C3", "stop") + mx.notes("D3 E3 F3")
    parted = plain_notes(
        mx.read(
            mx.notes("C3 D3 E3 F3"),
            mx.ending("1", "start") + first + back,
            mx.ending("2", "start") + second + mx.ending("2", "stop"),
        )
    )
    assert [note.number for note in parted] == list(range(12))
    assert not any(note.slur for note in parted)
