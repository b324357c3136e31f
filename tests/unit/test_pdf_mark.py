"""Marking a part that came as PDF, on the command line: what is written, corrected, refused.

The PDFs are sheets of our own, engraved without marks; what they were engraved from is the truth.
"""

import csv
import io
import json
from pathlib import Path

import pikepdf
import pypdfium2
import pytest
from command import one_sentence, run, run_json
from pdf_sheets import SCORES, SLAMA, duet, sheet

from handslide.edges.files.signs import known_signs, remember_signs
from handslide.edges.musicxml.read import open_score
from handslide.ground.errors import BadUsage
from handslide.jobs.mark.pdfcorrections import key_value, parse_corrections


@pytest.fixture
def part(tmp_path):
    path = tmp_path / "etude.pdf"
    path.write_bytes(sheet())
    return path


def texts_of(data: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(data)
    return [page.get_textpage().get_text_range() for page in document]


def test_a_pdf_comes_back_with_the_places_of_its_score(part):
    marked = run_json("mark", part, "--horn", "tenor-f", "--student", "Mira")
    truth = run_json("mark", SLAMA, "--horn", "tenor-f", "--no-pdf", "-o", part.parent / "truth")
    assert [n["note"] for n in marked["notes"]] == [n["note"] for n in truth["notes"]]
    same = [a["mark"] == b["mark"] for a, b in zip(marked["notes"], truth["notes"])]
    assert sum(same) >= 0.98 * len(same)
    assert [Path(name).name for name in marked["files"]] == [
        "etude-marked.musicxml",
        "etude-marked.pdf",
    ]
    read = marked["read"]
    assert read["doubts"] == []
    assert [(page["clefs"], page["notes"]) for page in read["pages"]] == [(["F4"], 93)]
    result = part.with_name("etude-marked.pdf").read_bytes()
    with pikepdf.open(part) as one, pikepdf.open(io.BytesIO(result)) as other:
        assert len(other.pages) > len(one.pages) == 1
        streams = [stream.read_bytes() for stream in other.pages[0].Contents]
        assert one.pages[0].Contents.read_bytes() in streams
    first, *report = texts_of(result)
    assert "for Mira" in first
    assert "What was read from the PDF" in report[0]
    said = " ".join(" ".join(report).split())
    assert "The pages keep their tags" in said
    assert "said that it is PDF/A-2b" in said
    again = open_score(part.with_name("etude-marked.musicxml"))
    assert len(again.read_part().notes) == 93


def test_the_same_bytes_again(part, tmp_path):
    for name in ("one", "two"):
        run("mark", part, "-o", tmp_path / name)
    made = [sorted((tmp_path / name).iterdir()) for name in ("one", "two")]
    assert [p.read_bytes() for p in made[0]] == [p.read_bytes() for p in made[1]]


def test_reports_elsewhere_or_nowhere(part, tmp_path):
    run("mark", part, "--report", "none", "-o", tmp_path / "none")
    assert len(texts_of((tmp_path / "none" / "etude-marked.pdf").read_bytes())) == 1
    run("mark", part, "--report", "file", "-o", tmp_path / "file")
    assert len(texts_of((tmp_path / "file" / "etude-marked.pdf").read_bytes())) == 1
    report = texts_of((tmp_path / "file" / "etude-marked-report.pdf").read_bytes())
    assert "What was read" in report[0] and "slide position" in report[0]
    run("mark", part, "--no-pdf", "-o", tmp_path / "no")
    assert [path.name for path in (tmp_path / "no").iterdir()] == ["etude-marked.musicxml"]


def test_clef_key_and_note_are_put_right(part):
    plain = run_json("mark", part, "--no-pdf", "--force")["notes"]
    tenor = run_json("mark", part, "--no-pdf", "--force", "--clef", "1.1=tenor")
    first, bass = tenor["notes"][0]["midi"], plain[0]["midi"]
    assert first - bass in (6, 7, 8)  # a fifth up, by the letters
    assert tenor["read"]["pages"][0]["clefs"][0] == "C4"
    flats = run_json("mark", part, "--no-pdf", "--force", "--key", "1.1=5♭")
    assert flats["read"]["pages"][0]["keys"][0] == -5
    said = run_json("mark", part, "--no-pdf", "--force", "--note", "1.1.1.1=B♭1")
    assert said["notes"][0]["note"] == "Bb1"
    gone = run_json("mark", part, "--no-pdf", "--force", "--note", "1.1.1.1=none")
    assert len(gone["notes"]) == len(plain) - 1


def test_a_staff_of_a_score_is_chosen(tmp_path):
    path = tmp_path / "duet.pdf"
    path.write_bytes(duet())
    upper = run_json("mark", path, "--no-pdf")
    lower = run_json("mark", path, "--no-pdf", "--force", "--staff", "2")
    assert (len(upper["notes"]), len(lower["notes"])) == (93, 12)
    assert upper["read"]["staves_in_system"] == 2
    run("mark", path, "--force", "--staff", "2")
    assert "no staff 7" in one_sentence(run("mark", path, "--force", "--staff", "7", code=1))


def test_an_edited_table_is_taken(part, tmp_path):
    table = tmp_path / "notes.csv"
    run("mark", part, "--no-pdf", "--write-notes", table)
    rows = list(csv.reader(io.StringIO(table.read_text(encoding="utf-8-sig"))))
    assert rows[0] == ["page", "system", "bar", "item", "read", "pitch", "doubt"]
    assert len(rows) == 94
    rows[3][5], rows[5][5] = "A2", "none"
    text = io.StringIO()
    csv.writer(text, delimiter=";").writerows(rows)  # as a spreadsheet may save it
    table.write_text(text.getvalue(), encoding="utf-8")
    notes = run_json("mark", part, "--no-pdf", "--force", "--notes", table)["notes"]
    assert len(notes) == 92
    assert notes[2]["note"] == "A2"
    assert one_sentence(run("mark", part, "--no-pdf", "--write-notes", table, code=1)).count(
        "exists already"
    )
    table.write_text("note,hz\nA2,110\n")
    said = one_sentence(run("mark", part, "--no-pdf", "--force", "--notes", table, code=1))
    assert "isn't a table of notes" in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--clef", "1=tenor"), "isn't a clef for a system"),
        (("--clef", "1.1=mezzo"), "isn't a clef that can be said: bass, tenor"),
        (("--clef", "9.1=tenor"), "no system 1 on page 9"),
        (("--key", "1.1=9"), "isn't a key signature"),
        (("--note", "1.1.1=A2"), "isn't a correction of a note"),
        (("--note", "1.1.1.1=H2"), "H"),
        (("--note", "1.1.1.99=A2"), "no note 1.1.1.99"),
        (("--note", "1.1.99.1=none"), "no note 1.1.99.1"),
        (("--sign", "clef.F"), "doesn't name a sign"),
        (("--sign", "abc=trumpet"), "isn't a kind of sign"),
        (("--staff", "0"), "no staff 0"),
    ],
)
def test_a_wrong_correction_is_one_sentence(part, words, said):
    assert said in one_sentence(run("mark", part, "--no-pdf", *words, code=2))
    assert [path.name for path in part.parent.glob("*.musicxml")] == []


def test_corrections_of_a_score_are_refused(tmp_path):
    said = one_sentence(run("mark", SLAMA, "-o", tmp_path, "--clef", "1.1=tenor", code=2))
    assert "--clef corrects what is read from a PDF; Slama_01.musicxml is none" in said


def test_keys_in_all_spellings():
    assert [key_value(text) for text in ("0", "3♭", "-3", "3b", "2#", "2♯", "+2", "2")] == [
        0, -3, -3, -3, 2, 2, 2, 2,
    ]  # fmt: skip
    with pytest.raises(BadUsage):
        key_value("-3b")


def test_signs_are_remembered_in_the_users_folder():
    assert known_signs() == {}
    remember_signs({"a=b": "clef.F"})
    remember_signs({"c": "other"})
    assert known_signs() == {"a=b": "clef.F", "c": "other"}
    assert parse_corrections(signs=known_signs()).signs == (("a=b", "clef.F"), ("c", "other"))


def picture_only() -> bytes:
    pdf = pikepdf.new()
    page = pdf.add_blank_page(page_size=(400, 500))
    image = pdf.make_stream(bytes(40 * 50), Type=pikepdf.Name.XObject, Subtype=pikepdf.Name.Image,
                            Width=40, Height=50, BitsPerComponent=8,
                            ColorSpace=pikepdf.Name.DeviceGray)  # fmt: skip
    page.obj.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(Im=image))
    page.contents_add(b"400 0 0 500 0 0 cm /Im Do")
    data = io.BytesIO()
    pdf.save(data)
    return data.getvalue()


def locked() -> bytes:
    data = io.BytesIO()
    with pikepdf.open(io.BytesIO(sheet())) as pdf:
        pdf.save(data, encryption=pikepdf.Encryption(owner="one", user="two"))
    return data.getvalue()


@pytest.mark.parametrize(
    "make", [picture_only, locked, lambda: b"%PDF-1.4\nnothing", lambda: b"%PDF-"]
)
def test_what_cannot_be_read_is_one_sentence(tmp_path, make):
    path = tmp_path / "part.pdf"
    path.write_bytes(make())
    said = one_sentence(run("mark", path, code=1))
    assert "part.pdf" in said
    assert [each.name for each in tmp_path.iterdir() if each.is_file()] == ["part.pdf"]


def test_a_scan_is_called_one(tmp_path):
    path = tmp_path / "part.pdf"
    path.write_bytes(picture_only())
    assert "scan" in one_sentence(run("mark", path, code=1))


def test_other_commands_say_what_to_do(part):
    said = one_sentence(run("transpose", part, "--by", "-2", code=1))
    assert "mark it first" in said


def test_locks_and_existing_work_as_with_a_score(part):
    marked = json.loads(run("mark", part, "--no-pdf", "--lock", "1:1=T♭3", "--horn", "tenor-f",
                            "--json", code=2).stdout or "{}")  # fmt: skip
    assert marked == {}
    checked = run("mark", part, "--existing", "check")
    assert "no fingerings" in checked.stdout
    assert [path.name for path in part.parent.glob("*-marked*")] == []


# Engraved by abcm2ps, whose F clef is far from all that are known.
UNKNOWN = SCORES / "pdf" / "School_for_Trombone_006-abcm2ps.pdf"


def test_unsure_signs_are_asked_for_once(tmp_path):
    unsure = run_json("mark", UNKNOWN, "-o", tmp_path / "unsure")["read"]
    assert unsure["doubts"] and "clef.F" in {sign["guess"] for sign in unsure["unknown"]}
    assert known_signs() == {}
    signs = {sign["mark"]: sign["guess"] for sign in unsure["unknown"]}
    signs = {mark: guess if guess == "clef.F" else "other" for mark, guess in signs.items()}
    names = {sign["name"]: signs[sign["mark"]] for sign in unsure["unknown"]}
    words = [word for sign in names.items() for word in ("--sign", "=".join(sign))]
    marked = run_json("mark", UNKNOWN, "-o", tmp_path, *words)
    assert marked["read"]["pages"][0]["clefs"][0] == "F4"
    truth = json.loads(UNKNOWN.with_name("School_for_Trombone_006.json").read_text())
    pairs = zip(marked["notes"], truth, strict=True)
    assert [read["midi"] for read, right in pairs if read["midi"] != right["midi"]] == []
    assert marked["read"]["doubts"] == []
    assert known_signs() == signs
    # What was said can be said otherwise, by the same name, and a name that isn't there is refused.
    first = next(iter(names.items()))
    run("mark", UNKNOWN, "-o", tmp_path, "--force", "--sign", "=".join(first))
    assert known_signs() == signs
    refused = run("mark", UNKNOWN, "-o", tmp_path, "--force", "--sign", "zzzzzz=clef.F", code=2)
    assert "no unknown sign called zzzzzz" in refused.stderr
    # From now on nothing is asked.
    assert run_json("mark", UNKNOWN, "-o", tmp_path, "--force")["notes"] == marked["notes"]
