"""What was read from a PDF, as MusicXML: valid, complete, each note known by its place."""

from drawn_music import started
from lxml import etree
from musicxml_build import schema

from handslide.edges.musicxml.read import read_score
from handslide.edges.pdfparts.score import musicxml_of


def written(sheet):
    """The reading, its MusicXML and the order of its notes; valid against the schema."""
    reading = sheet.read()
    data, order = musicxml_of(reading)
    root = etree.fromstring(data)
    xsd = schema()
    assert xsd.validate(root), xsd.error_log
    assert len(order) == len(root.findall(".//note"))
    return reading, root, order


def a_bit_of_everything():
    sheet = started("F", (2, 4))
    sheet.words("Allegro", 3, 14)
    sheet.note(11, 3, size=0.6, up=True)
    sheet.note(13, 4, sign="flat", dots=1)
    sheet.note(17.5, 2, up=True)
    sheet.flag(17.5, 2)
    sheet.bow(13.6, 18.1, 6)
    sheet.sign("p", 13, -6)
    sheet.bar(22)
    sheet.sign("multirest", 26, 4)
    sheet.digits(3, 26, 12)
    sheet.bar(32)
    for index in range(3):
        sheet.note(34 + 3 * index, 2, up=True)
    sheet.beam(35.1, 41.2, 9)
    sheet.words("3", 37.8, 12)
    sheet.note(45, 5, up=False)
    sheet.bar(49)
    sheet.sign("C", 50, 6)
    sheet.note(54, 6, "half", up=True)
    sheet.note(54, 1, up=False)
    sheet.note(58, 2, up=False)
    sheet.bar(78)
    sheet.bar(79, 3.0)
    return sheet


def test_everything_is_written_validly_and_in_order():
    reading, root, order = written(a_bit_of_everything())
    assert [measure.get("number") for measure in root.iter("measure")] == list("123456")
    for element, index in zip(root.iter("note"), order, strict=True):
        note = reading.notes[index]
        assert (element.find("rest") is None) == (note.step is not None)
        if note.step is not None:
            assert element.findtext("pitch/step") == "CDEFGAB"[note.step]
            assert element.findtext("pitch/octave") == str(note.octave)
    assert sorted(set(order)) == list(range(len(reading.notes)))
    assert [e.get("type") for e in root.iter("slur")] == ["start", "stop"]
    assert [e.get("type") for e in root.iter("tuplet")] == ["start", "stop"]
    assert [e.text for e in root.iter("multiple-rest")] == ["3"]


def test_the_score_plays_in_the_time_that_was_read():
    data, _ = musicxml_of(a_bit_of_everything().read())
    part = read_score(data, "part.pdf").read_part()
    assert [note.written.name for note in part.notes] == [
        "C3", "Db3", "B2", "B2", "B2", "B2", "E3", "C4",
    ]  # fmt: skip
    assert [round(onset * part.tempo_qpm / 60, 2) for onset in part.onset_s[2:]] == [
        1.5, 8, 8.33, 8.67, 9, 10,
    ]  # fmt: skip
