"""A score file is read safely, and goes back into the same kind of file."""

import io
import re
import zipfile
from pathlib import Path

import pytest
from lxml import etree
from musicxml_build import XML_FILES, note, part, score

from handslide.edges.files.safexml import read_package
from handslide.edges.musicxml.read import open_score, read_score
from handslide.ground.errors import ScoreError
from handslide.ground.limits import SCORE_ENTRIES

SCORE = score(part(note() * 4))
DOCTYPE = (
    b'<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    b'"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
DECLARATION, BODY = SCORE.split(b"\n", 1)
CONTAINER = (
    b'<?xml version="1.0"?><container><rootfiles><rootfile full-path="score.xml"/>'
    b"</rootfiles></container>"
)


def archive(entries: dict[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as file:
        for name, content in entries.items():
            info = zipfile.ZipInfo(name, (2020, 2, 3, 4, 5, 6))
            file.writestr(info, content, compress_type=zipfile.ZIP_DEFLATED)
    return buffer.getvalue()


def mxl(content: bytes = SCORE, **more: bytes) -> bytes:
    return archive({"META-INF/container.xml": CONTAINER, "score.xml": content, **more})


def refused(data: bytes, match: str) -> str:
    with pytest.raises(ScoreError, match=match) as caught:
        read_score(data, "x.musicxml")
    text = str(caught.value)
    assert "\n" not in text and text.startswith(("x.musicxml", "score.xml", "META-INF"))
    return text


@pytest.mark.parametrize("path", XML_FILES, ids=lambda path: path.name)
def test_shared_files_come_back_equal(path: Path) -> None:
    data = path.read_bytes()
    package = read_package(data, path.name)
    again = read_package(package.to_bytes(), path.name)
    assert package.document.head == again.document.head
    assert package.document.tail == again.document.tail
    assert etree.tostring(package.document.root, method="c14n") == etree.tostring(
        again.document.root, method="c14n"
    )
    assert again.to_bytes() == package.to_bytes()


@pytest.mark.parametrize(
    "data",
    [
        SCORE,
        b"\xef\xbb\xbf" + SCORE,
        DECLARATION + b"\n<!-- made by hand -->\n" + DOCTYPE + BODY + b"<!-- end -->\n",
        BODY,
        SCORE.replace(b"\n", b"\r\n"),
        SCORE.replace(b"UTF-8", b"ISO-8859-1").replace(
            b"Trombone", "Posaune für Ä".encode("latin-1")
        ),
        b"\xff\xfe" + SCORE.decode().replace("UTF-8", "UTF-16").encode("utf-16-le"),
        b"\xfe\xff" + SCORE.decode().replace("UTF-8", "UTF-16").encode("utf-16-be"),
        b"\xff\xfe" + SCORE.decode().replace("Trombone", "トロンボーン").encode("utf-16-le"),
    ],
    ids=["utf8", "bom", "doctype", "bare", "crlf", "latin1", "utf16le", "utf16be", "wrong-name"],
)
def test_bytes_survive_in_every_encoding(data: bytes) -> None:
    opened = read_score(data)
    assert opened.to_bytes() == data
    assert len(opened.read_part().notes) == 4
    packed = read_score(mxl(data))
    assert read_package(packed.to_bytes(), "x").entries[1][1] == data


def test_archive_keeps_its_other_entries() -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as file:
        for name, content, method in (
            ("mimetype", b"application/vnd.recordare.musicxml", zipfile.ZIP_STORED),
            ("META-INF/container.xml", CONTAINER, zipfile.ZIP_DEFLATED),
            ("score.xml", SCORE, zipfile.ZIP_DEFLATED),
            ("cover/Größe.png", bytes(range(256)) * 9, zipfile.ZIP_STORED),
        ):
            info = zipfile.ZipInfo(name, (2011, 12, 13, 14, 15, 16))
            info.compress_type = method
            file.writestr(info, content)
    opened = read_score(buffer.getvalue())
    with zipfile.ZipFile(io.BytesIO(opened.to_bytes())) as new, zipfile.ZipFile(buffer) as old:
        for a, b in zip(old.infolist(), new.infolist(), strict=True):
            assert (a.filename, a.date_time, a.compress_type) == (
                b.filename, b.date_time, b.compress_type,
            )  # fmt: skip
            assert old.read(a) == new.read(b)
    assert opened.to_bytes() == opened.to_bytes()


def test_entities_are_never_expanded() -> None:
    bomb = b'<!DOCTYPE score-partwise [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>'
    text = refused(DECLARATION + b"\n" + bomb + BODY, "defines entities")
    assert "line 2" in text
    outside = b'<!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
    refused(outside + BODY.replace(b"Trombone", b"&x;"), "defines entities")
    remote = b'<!DOCTYPE score-partwise [<!ENTITY % p SYSTEM "http://localhost:9/x.dtd"> %p;]>'
    refused(remote + BODY, "defines entities")
    refused(DECLARATION + DOCTYPE + BODY.replace(b"Trombone", b"&auml;"), "auml")


@pytest.mark.parametrize(
    ("data", "match"),
    [
        (b"", "is empty"),
        (b" \n\0", "is empty"),
        (b"Dear student,", "isn't a score"),
        (b"%PDF-1.7", "PDF"),
        (b"<html><body/></html>", "web page"),
        (b"<opus/>", "opus"),
        (b"<score-partwise/>", "no part"),
        (SCORE.replace(b"</note>", b"</nota>", 1), "line 2: not well-formed"),
        (SCORE.replace(b"Trombone", b"Tromb\xff"), "not well-formed|damaged"),
        (SCORE.replace(b"UTF-8", b"KLINGON-8"), "KLINGON-8"),
        (b"<a>" * 100_000, "nested too deeply|cut off"),
        (b"PK\x03\x04 and nothing", "damaged archive"),
        (archive({"score.xml": SCORE}), "without META-INF/container.xml"),
        (archive({"META-INF/container.xml": CONTAINER}), "no such entry"),
        (archive({"META-INF/container.xml": b"<container/>"}), "doesn't name its score"),
        (mxl(**{"../evil.xml": b""}), "outside the archive"),
        (mxl(**{"/etc/evil": b""}), "outside the archive"),
        (mxl(**{"a\\..\\evil": b""}), "outside the archive"),
        (archive({f"e{i}": b"" for i in range(SCORE_ENTRIES + 1)}), "entries"),
        (mxl()[:-40], "damaged archive"),
    ],
    ids=lambda value: None if isinstance(value, bytes) else value,
)
def test_bad_files_get_one_sentence(data: bytes, match: str) -> None:
    refused(data, match)


def test_cut_off_files_say_where() -> None:
    lines = SCORE.replace(b"<note>", b"\n<note>")
    for cut in range(len(DECLARATION) + 40, len(lines) - 20, 97):
        text = refused(lines[:cut], "line")
        assert re.search(r"line \d+", text)
    assert "cut off" in refused(lines[:-40], "line")


def test_zip_bomb_is_not_unpacked() -> None:
    bomb = mxl(**{"zeros": b"\0" * (65 * 2**20)})
    assert len(bomb) < 200_000
    refused(bomb, "unpacks to more than 64 MB")
    lying = bytearray(mxl(b" " * (65 * 2**20)))
    place = lying.rindex(b"PK\x01\x02")
    lying[place + 24 : place + 28] = (1000).to_bytes(4, "little")
    refused(bytes(lying), "archive|unpacks")


def test_files_on_disk(tmp_path: Path) -> None:
    with pytest.raises(ScoreError, match="isn't there"):
        open_score(tmp_path / "none.musicxml")
    with pytest.raises(ScoreError, match="is a folder"):
        open_score(tmp_path)
    (tmp_path / "empty.mxl").write_bytes(b"")
    with pytest.raises(ScoreError, match="is empty"):
        open_score(tmp_path / "empty.mxl")
    # What it is is decided by the content, not by the ending.
    (tmp_path / "plain.mxl").write_bytes(SCORE)
    assert not open_score(tmp_path / "plain.mxl").converted
    (tmp_path / "packed.mid").write_bytes(mxl())
    assert open_score(tmp_path / "packed.mid").to_bytes()[:2] == b"PK"
