"""Notes to play on staves: where they stand, how evenly, what is heard of them."""

import pytest

from handslide.ground.clefs import clef_named
from handslide.ground.pitch import parse_pitch
from handslide.sheets.notelist import HEARD, LEFT_OUT, ListedNote, note_rows
from handslide.sheets.shapes import MUSIC, Circle, Line, Region, Text


def row_of(clef, *names, **states):
    notes = [
        ListedNote(n, parse_pitch(name), state=states.get(name, ""))
        for n, name in enumerate(names, 1)
    ]
    return note_rows(clef_named(clef), notes)


def signs(row):
    """The clef's sign and the heads, from left to right."""
    return [shape for shape in row.shapes if isinstance(shape, Text) and shape.face == MUSIC]


@pytest.mark.parametrize(("clef", "named"), [("bass", "F3"), ("alto", "C4"), ("tenor", "C4")])
def test_the_note_that_a_clef_is_named_after_stands_on_its_line(clef, named):
    """An F or C clef marks the line of its own note (elementary theory)."""
    (row,) = row_of(clef, named)
    sign, head = signs(row)
    assert head.y_mm == pytest.approx(sign.y_mm)


def test_rows_are_filled_evenly_and_are_of_one_size():
    rows = row_of("bass", *["B2", "F3"] * 5)
    assert [len(signs(row)) - 1 for row in rows] == [5, 5]
    assert len({(row.width_mm, row.height_mm) for row in rows}) == 1
    numbers = [
        shape.text for row in rows for shape in row.shapes
        if isinstance(shape, Text) and shape.text.isdigit()
    ]  # fmt: skip
    assert numbers == [str(n) for n in range(1, 11)]
    assert note_rows(clef_named("bass"), []) == ()


def test_what_was_heard_and_what_was_left_out_differ_by_more_than_colour():
    (plain,) = row_of("bass", "Bb2", "F3", "D4")
    (row,) = row_of("bass", "Bb2", "F3", "D4", F3=HEARD, D4=LEFT_OUT)
    more = [shape for shape in row.shapes if shape not in plain.shapes]
    assert [shape.of for shape in more if isinstance(shape, Region)] == [HEARD, LEFT_OUT]
    assert sum(isinstance(shape, Circle) for shape in more) == 1
    assert sum(isinstance(shape, Line) for shape in more) == 1


def test_low_notes_have_room_below_and_nothing_leaves_the_drawing():
    (row,) = row_of("bass", "E1", "Bb4")
    for shape in row.shapes:
        if isinstance(shape, Text) and shape.face == MUSIC:
            assert 0.0 < shape.y_mm < row.height_mm
        if isinstance(shape, Line):
            assert (
                0.0
                <= min(shape.y1_mm, shape.y2_mm)
                <= max(shape.y1_mm, shape.y2_mm)
                < row.height_mm
            )
