"""Files that were made to do harm: one sentence, little memory, and the program lives on."""

import bz2
import io
import json
import lzma
import os
import struct
import zipfile

import pytest
from anyhorn import load_profile
from click.testing import CliRunner
from musicxml_build import note, part, score

from handslide.edges.files.horns import load_horn
from handslide.edges.files.plainfile import NotPlain, read_plain
from handslide.edges.files.roster import read_roster
from handslide.edges.files.rows import read_rows
from handslide.edges.musicxml.marks import remove_marks
from handslide.edges.musicxml.read import open_score, read_score
from handslide.faces.cli.main import main
from handslide.ground import limits
from handslide.ground.errors import BadData, BadUsage, HandslideError, ScoreError
from handslide.jobs.chart import classroom
from handslide.studio.takes.live import parse_start

SCORE = score(part(note() * 4))
DECLARATION, BODY = SCORE.split(b"\n", 1)
CONTAINER = (
    b'<?xml version="1.0"?><container><rootfiles><rootfile full-path="score.xml"/>'
    b"</rootfiles></container>"
)


def zipped(*entries, method=zipfile.ZIP_DEFLATED):
    """An archive; ``method`` packs all but the container."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        archive.writestr("META-INF/container.xml", CONTAINER)
        for name, content in entries:
            archive.writestr(name, content, compress_type=method)
    return made.getvalue()


def refused(data, match, name="x.mxl"):
    with pytest.raises(ScoreError, match=match) as caught:
        read_score(data, name).read_part()
    assert "\n" not in str(caught.value)


def told(*words):
    """What a command said, and its exit code; an exception that nobody foresaw is raised."""
    result = CliRunner().invoke(main, [str(word) for word in words])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.output, result.exit_code


# Archives.


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_only_stored_and_deflated_members_are_unpacked(method):
    refused(zipped(("score.xml", SCORE), method=method), "packed in a way")
    refused(zipped(("score.xml", SCORE), ("picture.png", bytes(10_000_000)), method=method), "way")


@pytest.mark.parametrize("pack", [bz2.compress, lzma.compress])
def test_a_method_of_another_name_doesnt_help(pack):
    data = bytearray(zipped(("score.xml", pack(bytes(1_000_000))), method=zipfile.ZIP_STORED))
    refused(bytes(data), "score.xml")


def _directory(count, name=b"", comment=b""):
    """A zip archive that is nothing but a list of ``count`` members."""
    entry = struct.pack("<4s6H3L5H2L", b"PK\1\2", 20, 20, 0, 0, 0, 33, 0, 0, 0, len(name), 0,
                        len(comment), 0, 0, 0, 0)  # fmt: skip
    entries = (entry + name + comment) * count
    most = min(count, 0xFFFF)
    end = struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, most, most, len(entries), 4, 0)
    return b"PK\3\4" + entries + end


def test_a_list_of_a_million_files_is_refused_before_it_is_read(monkeypatch):
    read = []
    monkeypatch.setattr(
        zipfile.ZipInfo, "_decodeExtra", lambda self, *more: read.append(self), raising=True
    )
    refused(_directory(1_000_000), "more than 1000")
    refused(_directory(20_000), "more than 1000")
    refused(_directory(300, name=b"x" * 60_000), "more than 1000")
    assert not read


def test_a_bomb_of_bombs_is_bounded_while_unpacking():
    parts = [(f"{k}.png", bytes(limits.SCORE_BYTES // 2)) for k in range(5)]
    refused(zipped(("score.xml", SCORE), *parts), "unpacks to more than")
    # A member that lies about its size.
    data = bytearray(zipped(("score.xml", bytes(limits.SCORE_BYTES + 10))))
    for sign, at in ((b"PK\1\2", 24), (b"PK\3\4", 22)):
        place = data.rfind(sign)
        data[place + at : place + at + 4] = struct.pack("<L", 100)
    refused(bytes(data), "x.mxl")
    refused(zipped(("score.xml", SCORE))[:-30], "x.mxl")


# XML.


@pytest.mark.parametrize(
    "subset",
    [
        b"[]",
        b"[ ]",
        b'[<!ENTITY a "b">]',
        b'[<!-- ] --> <!ENTITY a "b">]',
        b'[\n\n<!--x-->\n<!ENTITY % p SYSTEM "x"> %p;]',
        b"[<!ELEMENT score-partwise ANY>]",
        b'[<!ATTLIST note x CDATA "y">]',
        b"[<?pi ]?><!ENTITY a 'b'>]",
        b'PUBLIC "a" "b" [<!ENTITY a "b">]',
        b'SYSTEM "]" [<!--]>--><!ENTITY a "b">]',
        b'SYSTEM "x" [',
    ],
)
def test_every_document_type_with_a_subset_is_refused(subset):
    refused(b"<!DOCTYPE score-partwise " + subset + b">" + BODY, "do harm|not well-formed|cut off")


def test_a_comment_before_the_document_type_hides_nothing():
    refused(b'<!-- <!DOCTYPE a> --><!DOCTYPE s [<!ENTITY a "b">]>' + BODY, "do harm")
    refused(b"<!DOCTYPE s " + b" " * 9000 + b'[<!ENTITY a "b">]>' + BODY, "do harm")
    refused(b"<!DOCTYPE s " + b" " * 90_000 + b'[<!ENTITY a "b">]>' + BODY, "do harm")
    refused(b"<!--" + b"-x" * 4090 + b"--><!DOCTYPE s [<!ENTITY a 'b'>]>" + BODY, ".")


@pytest.mark.parametrize("encoding", ["utf-7", "iso-2022-jp", "hz", "cp037", "utf-16", "idna"])
def test_no_encoding_hides_a_document_type(encoding):
    head = f'<?xml version="1.0" encoding="{encoding}"?>'.encode()
    refused(head + b'<!DOCTYPE s +AFs-<!ENTITY a "b">+AF0-><s/>', ".")


def test_far_too_many_elements_are_refused_before_they_are_read():
    for element, most in ((b"<a/>", limits.XML_ELEMENTS), (b'<a b=""/>', limits.XML_ATTRIBUTES)):
        refused(b"<score-partwise>" + element * (most + 1) + b"</score-partwise>", "far more")


def test_a_note_of_many_marks_is_cleaned_at_one_go():
    # Each once counted all that were left: 60 seconds for four notes like this.
    mark = "<?handslide mark notations?><fingering>1</fingering>"
    notations = f"<technical>{mark * 20_000}</technical>"
    opened = read_score(score(part(note(notations=notations) * 4)))
    assert remove_marks(opened, "P1") == 80_000
    assert opened.root.find(".//notations") is None


def test_a_measure_of_very_many_elements_is_marked_and_not_engraved(tmp_path):
    file = tmp_path / "full.musicxml"
    crowd = f"<technical>{'<fingering>9</fingering>' * limits.MEASURE_ELEMENTS}</technical>"
    file.write_bytes(score(part(note(notations=crowd) + note())))
    said, code = told("mark", file, "-o", tmp_path, "--json")
    assert code == 0
    (text,) = (one["text"] for one in json.loads(said)["warnings"] if one["kind"] == "not_engraved")
    assert "measure 1 has 15021 elements, more than 15000" in text


LONG = "9" * 5000
ATTRIBUTES = "<attributes><divisions>{}</divisions></attributes>"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('number="1"', f'number="{LONG}"'),
        ("<divisions>", f"<divisions>{LONG}</divisions><divisions>"),
        ("<divisions>", "<divisions>1e-320</divisions><divisions>"),
        ("<divisions>2</divisions>", "<divisions>1e-320</divisions>"),
        ("<divisions>1</divisions>", "<divisions>1e-320</divisions>"),
        ("<octave>", "<alter>1e300</alter><octave>"),
        ("<octave>", "<alter>99999999</alter><octave>"),
        ("<octave>", "<alter>inf</alter><octave>"),
        ("<octave>", f"<alter>{LONG}</alter><octave>"),
        ("<duration>", f"<duration>{LONG}</duration><duration>"),
        ("</attributes>", "<transpose><chromatic>900000000</chromatic></transpose></attributes>"),
        ("</attributes>", "<transpose><chromatic>1</chromatic><octave-change>1e9"
         "</octave-change></transpose></attributes>"),
        ("</attributes>", "<key><fifths>999999999</fifths></key></attributes>"),
        ("</attributes>", f"<clef><sign>F</sign><line>{LONG}</line></clef></attributes>"),
        ("</attributes>", "<clef><sign>F</sign><line>1e9</line></clef></attributes>"),
        ("</attributes>", "<time><beats>²</beats><beat-type>²</beat-type></time></attributes>"),
    ],
)  # fmt: skip
def test_numbers_out_of_the_world_are_no_traceback(tmp_path, old, new):
    text = SCORE.decode().replace(old, new)
    file = tmp_path / "odd.musicxml"
    file.write_text(text, encoding="utf-8")
    assert told("mark", file, "--no-pdf", "-o", tmp_path / "out", "--json")[1] in (0, 1)
    assert told("transpose", file, "--no-pdf", "--by", "M2", "-o", tmp_path / "up")[1] in (0, 1)


# Small files.


@pytest.mark.parametrize(
    "read", [load_horn, load_profile, read_rows, lambda path: read_roster(path, ("all",))]
)
@pytest.mark.parametrize(
    "text",
    [
        f"travel_mm = {LONG}",
        f"travel_mm = {'9' * 400}",
        f"[[row]]\nnote = 'F3'\nhz = {'9' * 400}",
        f"[[student]]\nstudent = 'Mira'\nreach = {'9' * 400}",
        f"partials = {{ {LONG} = 1 }}",
        "partials = { '²' = 1 }",
        "a = " + "[" * 5000 + "]" * 5000,
        ".".join("a" * 20_000) + " = 1",
        '[ "a" . ' + " . ".join("a" * 20_000) + "]",
        "travel_mm = nan",
        'title = "\\uD800"',
    ],
)
def test_toml_of_any_size_is_one_sentence(tmp_path, read, text):
    file = tmp_path / "odd.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BadData) as caught:
        read(file if read not in (load_horn, load_profile) else str(file))
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("note,hz\rF3,174.6\r", None),
        ("note,hz\r\n\r\nF3,174.6\r", None),
        ("note,hz\n" + "\r" * 60_000 + "F3,174.6\n", None),
        ("student,horn\r" * 1000, "unknown column"),
        ('note,hz\n"F3' + "x" * 900_000, "quotation mark"),
        ('note,hz\n"' + '""' * 200_000, "quotation mark"),
    ],
)
def test_line_ends_and_quotes_of_a_table_of_notes(tmp_path, text, match):
    file = tmp_path / "rows.csv"
    file.write_bytes(text.encode())
    if match is None:
        assert len(read_rows(file)) == 1
        return
    with pytest.raises(BadData, match=match) as caught:
        read_rows(file)
    assert "\n" not in str(caught.value)


@pytest.mark.skipif(os.name != "posix", reason="devices and pipes of other systems differ")
@pytest.mark.parametrize("device", ["/dev/zero", "/dev/null", "/dev/urandom", "pipe", "folder"])
@pytest.mark.parametrize(
    "command",
    [
        ("places", "Bb2", "--horn"),
        ("places", "Bb2", "--profile"),
        ("mark", "!"),
        ("chart", "--class"),
        ("listen", "!"),
        ("fit", "--rows"),
        ("drill", "trouble-spots", "--from"),
    ],
)
def test_devices_and_pipes_arent_read(tmp_path, device, command):
    named = tmp_path / device if "/" not in device else device
    if device == "pipe":
        os.mkfifo(named)
    elif device == "folder":
        named.mkdir()
    words = [each for each in command if each != "!"]
    said, code = told(*words, named)
    assert code in (1, 2) and len(said) < 1000


@pytest.mark.parametrize(
    "command",
    [
        ("places", "Bb2", "--horn", "x" * 5000),
        ("places", "Bb2", "--horn", "x/" + "x" * 300),
        ("mark", "x" * 5000 + ".musicxml"),
        ("listen", "x" * 5000 + ".wav"),
        ("chart", "-o", ""),
        ("chart", "-o", "x" * 300 + ".pdf"),
        ("chart", "--class", "x" * 300 + ".csv"),
        ("drill", "scales", "--exercises", "9" * 20),
        ("drill", "scales", "--bars", "9" * 20),
        ("drill", "scales", "--seed", "9" * 20),
        ("drill", "scales", "--tempo", "1e308"),
        ("drill", "scales", "--exercises", "9" * 5000),
        ("line", "Bb2 F3", "--lock", f"{'9' * 5000}=1"),
        ("line", "Bb2 F3", "--lock", f"1={'9' * 5000}"),
        ("line", "Bb" + "#" * 9000 + "2"),
        ("places", "Bb2", "--reach", "1e400"),
        ("places", "Bb2", "--a4", "1e-320"),
        ("places", "Bb2", "--temp-c", "nan"),
        ("chart", "--ppi", "1e9", "-o", "x.png"),
        ("lesson", "x.musicxml", "-o", ""),
        ("drone", "F3", "-o", ""),
        ("progress", "Mira", "--horn", "9" * 30),
        ("chart", "--ppi", "nan", "-o", "x.png"),
        ("drone", "F3", "--level", "inf"),
        ("studio", "--password-file", "/dev/zero"),
        ("studio", "--folder", "x" * 300, "--no-browser"),
    ],
)
def test_odd_options_are_one_sentence(tmp_path, monkeypatch, command):
    monkeypatch.chdir(tmp_path)
    said, code = told(*command)
    assert code in (1, 2), said


def test_a_plain_file_is_read_up_to_its_limit(tmp_path):
    file = tmp_path / "a"
    file.write_bytes(b"x" * 10)
    assert read_plain(file, 10) == b"x" * 10
    with pytest.raises(OSError):
        read_plain(file, 9)
    with pytest.raises(FileNotFoundError):
        read_plain(tmp_path / "a\0b", 9)
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "p")
        with pytest.raises(NotPlain):
            read_plain(tmp_path / "p", 9)


def test_a_score_is_opened_by_a_plain_name_only(tmp_path):
    with pytest.raises(HandslideError):
        open_score(tmp_path / "no\0name.musicxml")


# A class.


def test_one_row_of_a_class_takes_no_other_with_it(tmp_path, monkeypatch):
    rows = ["student,horn", f"{'x' * 4000},tenor", "Mira,tenor", "Bad,tenor", "Jonas,/dev/zero",
            f"{'é' * 300},tenor", "Ada,tenor-f"]  # fmt: skip
    roster = tmp_path / "class.csv"
    roster.write_text("\n".join(rows), encoding="utf-8")
    real = classroom.write_chart

    def write(sheet, target, **options):
        if target.name.startswith("Bad"):
            raise ZeroDivisionError
        return real(sheet, target, **options)

    monkeypatch.setattr(classroom, "write_chart", write)
    said, code = told("chart", "--class", roster, "-o", tmp_path / "out")
    assert code == 1
    made = sorted(path.name for path in (tmp_path / "out").iterdir())
    assert "Ada-all.pdf" in made and "Mira-all.pdf" in made and "class-all.pdf" in made
    assert len(made) == 5
    assert "mistake of handslide" in said and "row 4" in said and "row 5" in said


@pytest.mark.parametrize("number", [10**30, -1, 2**63, True, 1.5, "1"])
def test_a_live_view_is_for_a_number_of_the_store(number):
    for key in ("student", "stand"):
        start = {"rate_hz": 48_000, "student": 1, key: number}
        with pytest.raises(BadUsage):
            parse_start(json.dumps(start))
