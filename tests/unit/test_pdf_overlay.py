"""Marks over pages that are printed already, checked on the pixels: PDFium draws both."""

import io

import numpy as np
import pikepdf
import pypdfium2
import pytest

from handslide.edges.pdfparts.leashed import lay_over, page_picture, plan_marks
from handslide.edges.pdfparts.overlay import Legend, laid_over, plan_pages, typeset_overlay
from handslide.edges.pdfparts.placing import LEAST_PT, NoteMark
from handslide.edges.pdfparts.reading import ReadStaff

WIDTH, HEIGHT, SPACE = 300.0, 240.0, 5.0
STAFF = ReadStaff(1, 1, 20.0, 280.0, 120.0, SPACE, "F4", 0, True)
LEGEND = Legend((("2, 3 …", "slide position"), ("T", "with the F valve")), ("for Mira",))
PIXELS = 150 / 72
TURNS = {  # from seen points to a page of this rotation, whose lower left corner is (40, 30)
    0: (1, 0, 0, 1, 40, 30),
    90: (0, 1, -1, 0, 40 + HEIGHT, 30),
    180: (-1, 0, 0, -1, 40 + WIDTH, 30 + HEIGHT),
    270: (0, -1, 1, 0, 40, 30 + WIDTH),
}


def heads(count: int, y: float = 130.0) -> list[tuple[float, float]]:
    return [(40.0 + 220.0 * number / max(count - 1, 1), y) for number in range(count)]


def part(places, *, turn=0, more="", before="", tagged=False) -> bytes:
    """A page with a staff and heads on it, seen upright whatever ``turn`` says."""
    lines = [f"{before} q {' '.join(map(str, TURNS[turn]))} cm 0.5 w"]
    for line in range(5):
        y = STAFF.bottom + line * SPACE
        lines.append(f"{STAFF.x0} {y} m {STAFF.x1} {y} l S")
    for x, y in places:
        lines.append(f"{x - 3} {y - 2.3} 6 4.6 re f {x + 2.4} {y} 0.6 18 re f")
    lines += [more, "Q"]
    wide, high = (WIDTH, HEIGHT) if turn % 180 == 0 else (HEIGHT, WIDTH)
    pdf = pikepdf.new()
    page = pdf.add_blank_page(page_size=(wide + 90, high + 90))
    page.obj.CropBox = pikepdf.Array([40, 30, 40 + wide, 30 + high])
    page.obj.Rotate = turn
    page.contents_add("\n".join(lines).encode())
    if tagged:
        pdf.Root.StructTreeRoot = pdf.make_indirect(
            pikepdf.Dictionary(Type=pikepdf.Name.StructTreeRoot)
        )
    data = io.BytesIO()
    pdf.save(data, static_id=True)
    return data.getvalue()


def marked(data, marks, *, staves=(STAFF,), behind=None):
    plans = plan_pages(data, {1: marks}, staves, LEGEND)
    overlay = typeset_overlay(plans, LEGEND, "Study", "en")
    return plans, laid_over(data, plans, overlay, behind)


def grey(data, page=0) -> np.ndarray:
    document = pypdfium2.PdfDocument(data)
    drawn = document[page].render(scale=PIXELS, grayscale=True).to_numpy().astype(int)
    document.close()
    return drawn


def grown(dark):
    result = dark.copy()
    for axis in (0, 1):
        result |= np.roll(dark, 1, axis) | np.roll(dark, -1, axis)
    return result


def texts(data, page=0) -> str:
    document = pypdfium2.PdfDocument(data)
    found = document[page].get_textpage().get_text_range()
    document.close()
    return found


def all_marks(places, text="3", **values):
    return [NoteMark(n, 0, x, y, text, **values) for n, (x, y) in enumerate(places)]


@pytest.mark.parametrize("turn", TURNS)
def test_marks_stand_over_their_notes_and_touch_nothing(turn):
    places = heads(12)
    data = part(places, turn=turn)
    plans, result = marked(data, all_marks(places))
    before, after = grey(data), grey(result)
    assert before.shape == after.shape
    assert (before[before < 128] == after[before < 128]).all()
    new = (after < 128) & (before >= 128)
    assert not (new & grown(before < 128)).any()
    for x, _ in places:  # each has ink of its own straight above the staff
        column = slice(int((x - 4) * PIXELS), int((x + 4) * PIXELS))
        above = slice(int((HEIGHT - 200) * PIXELS), int((HEIGHT - 141) * PIXELS))
        assert new[above, column].sum() > 20
    assert len({mark.y for mark in plans[0].marks}) == 1
    assert texts(result).count("3") == 12 + 1  # and the legend's


def test_what_was_there_is_all_there():
    data = part(heads(3))
    _, result = marked(data, all_marks(heads(3)))
    with pikepdf.open(io.BytesIO(data)) as one, pikepdf.open(io.BytesIO(result)) as other:
        original = one.pages[0].Contents[0].read_bytes()
        streams = [stream.read_bytes() for stream in other.pages[0].Contents]
        assert original in streams
        assert other.pages[0].CropBox == one.pages[0].CropBox


def test_the_same_bytes_again():
    data = part(heads(5))
    assert marked(data, all_marks(heads(5)))[1] == marked(data, all_marks(heads(5)))[1]


def test_a_state_left_open_does_not_move_the_marks():
    places = heads(4)
    plain, open_ = part(places), part(places, before="q 1 0 0 1 0 0 cm q")
    marks = all_marks(places)
    one, other = marked(plain, marks)[1], marked(open_, marks)[1]
    assert (grey(one) == grey(other)).all()
    # A page that also moves everything and never goes back.
    moved = part(places, before="q 2 0 0 2 9 9 cm Q q")
    assert (grey(marked(moved, marks)[1]) == grey(one)).all()


@pytest.mark.parametrize("ground", ["", "1 g 0 0 500 500 re f 0 g"])
def test_a_doubtful_note_is_framed_tinted_and_asks(ground):
    places = heads(3)
    data = part(places, before=ground)
    marks = all_marks(places)
    marks[1] = NoteMark(1, 0, *places[1], "4", doubtful=True)
    marks.append(NoteMark(3, 0, places[2][0], places[2][1] - 5, "", doubtful=True))
    plans, result = marked(data, marks)
    assert "4?" in texts(result)
    framed = [mark for mark in plans[0].marks if mark.frame is not None]
    assert [mark.text for mark in framed] == ["4?", "?"]
    before, after = grey(data), grey(result)
    x, y = places[1]
    beside = after[int((HEIGHT - y + 3.5) * PIXELS), int((x - 4.2) * PIXELS)]
    assert 180 < beside < 235  # a grey that a black and white printer shows
    assert plans[0].ground == bool(ground)
    # What covers half a pixel covers it over a tint now.
    assert (after[before < 128] <= before[before < 128] + 1).all()
    assert (after[before == 0] == 0).all()
    assert not ((after < 128) & grown(before < 128) & (before >= 160)).any()


def test_crowded_marks_go_on_two_levels_and_keep_apart():
    places = heads(34)  # 6.7 pt from head to head
    plans, _ = marked(part(places), all_marks(places, "T♭3"))
    placed = plans[0].marks
    assert len(placed) == 34
    assert min(mark.size_pt for mark in placed) >= LEAST_PT
    boxes = [mark.box for mark in placed]
    for number, one in enumerate(boxes):
        for other in boxes[number + 1 :]:
            apart = one.x1 <= other.x0 or other.x1 <= one.x0 or one.y1 <= other.y0
            assert apart or other.y1 <= one.y0


def test_where_there_is_no_room_a_mark_is_left_out():
    places = heads(3)
    wall = "0 145 300 95 re f 0 0 300 116 re f"  # black above and below the staff
    plans, result = marked(part(places, more=wall), all_marks(places))
    assert plans[0].marks == ()
    assert plans[0].legend is None
    assert "3" not in texts(result)


def test_over_a_wall_a_mark_goes_under_the_staff():
    places = heads(3)
    plans, _ = marked(part(places, more="0 144 300 96 re f"), all_marks(places))
    assert all(mark.y < STAFF.bottom for mark in plans[0].marks)
    assert len(plans[0].marks) == 3


def test_a_mark_stands_over_a_high_note():
    places = [(60.0, 130.0), (150.0, 165.0), (240.0, 130.0)]
    plans, _ = marked(part(places), all_marks(places))
    assert plans[0].marks[1].y > 167.0


def test_tags_are_kept_and_ours_are_no_content():
    data = part(heads(2), tagged=True)
    _, result = marked(data, all_marks(heads(2)))
    with pikepdf.open(io.BytesIO(result)) as pdf:
        assert "/StructTreeRoot" in pdf.Root
        last = pdf.pages[0].Contents[-1].read_bytes()
        assert b"/Artifact BMC" in last and last.rstrip().endswith(b"EMC")


def test_a_claim_of_pdfa_goes():
    data = part(heads(2))
    with pikepdf.open(io.BytesIO(data)) as pdf:
        with pdf.open_metadata() as metadata:
            metadata["pdfaid:part"] = "1"
            metadata["pdfaid:conformance"] = "B"
            metadata["dc:title"] = "A Study"
        saved = io.BytesIO()
        pdf.save(saved)
    _, result = marked(saved.getvalue(), all_marks(heads(2)))
    with pikepdf.open(io.BytesIO(result)) as pdf, pdf.open_metadata() as metadata:
        assert "pdfaid:part" not in metadata
        assert metadata["dc:title"] == "A Study"


def test_what_comes_behind():
    data = part(heads(2))
    plans = plan_marks(data, "part.pdf", {1: all_marks(heads(2))}, (STAFF,), LEGEND)
    overlay = typeset_overlay(plans, LEGEND, "Study", "en")
    result = lay_over(data, "part.pdf", plans, overlay, part(heads(4)))
    assert len(pypdfium2.PdfDocument(result)) == 2


def test_a_page_as_a_picture():
    data = part(heads(2), turn=90)
    picture = page_picture(data, "part.pdf", 1, 2.0)
    assert (picture.width, picture.height) == (WIDTH, HEIGHT)
    shown = picture.png
    assert shown.startswith(b"\x89PNG")
    assert int.from_bytes(shown[16:20], "big") == int(2 * WIDTH)
    assert int.from_bytes(shown[20:24], "big") == int(2 * HEIGHT)
