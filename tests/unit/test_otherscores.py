"""Scores in other formats come in as MusicXML."""

import sys
import threading
from pathlib import Path

import leashed
import pytest
from lxml import etree
from musicxml_build import OTHER_FILES, OWN_SCORES, note, part, schema, score

from handslide.edges.leash.leash import Leash, Limits
from handslide.edges.musicxml.read import open_score, read_score
from handslide.edges.otherscores import read
from handslide.edges.otherscores.read import to_musicxml, wants_conversion
from handslide.ground.errors import ScoreError

MEI = OWN_SCORES / "MEI_5_Hopkins_GatherRoundTheChristmasTree.mei"
ABC = b"X:1\nT:Scale\nC:Anon\nM:4/4\nL:1/4\nQ:1/4=90\nK:Bb clef=bass\nB,,C,D,E,|F,G,A,B,|\n"
KERN = (
    b'!!!OTL: Scale\n**kern\n*I"Posaune\n*clefF4\n*M4/4\n=1\n4BB-\n4C\n4D\n4E-\n=2\n1r\n'
    b"=3\n1F\n==\n*-\n"
)


@pytest.mark.sample
@pytest.mark.parametrize("path", OTHER_FILES, ids=lambda path: path.name)
def test_every_shared_file_converts(path: Path) -> None:
    opened = open_score(path)
    assert opened.converted
    for info in opened.parts:
        assert info.name and not info.name.startswith("P0")
        if info.notes:
            assert opened.read_part(info.part_id).notes
    first = etree.tostring(opened.root, method="c14n")
    assert schema().validate(etree.fromstring(first)) or path.suffix == ".krn"


@pytest.mark.parametrize("ending, data", [("abc", ABC), ("krn", KERN)])
def test_the_same_comes_of_it_again(tmp_path, ending, data):
    path = tmp_path / f"scale.{ending}"
    path.write_bytes(data)
    first = etree.tostring(open_score(path).root, method="c14n")
    read._on_leash.cache_clear()
    assert etree.tostring(open_score(path).root, method="c14n") == first


def test_mei_part_names_and_title() -> None:
    opened = open_score(MEI)
    assert opened.title == "Gather round the Christmas Tree"
    assert [one.name for one in opened.parts] == [
        "Trumpet in C 1", "Trumpet in C 2", "Trombone", "Bass Trombone", "Timpani",
    ]  # fmt: skip
    assert opened.read_part().name == "Trombone"


def test_humdrum() -> None:
    opened = read_score(to_musicxml(KERN, "scale.krn"))
    found = opened.read_part()
    assert (found.name, opened.title) == ("Posaune", "Scale")
    assert [one.sounding.name for one in found.notes] == ["Bb2", "C3", "D3", "Eb3", "F3"]
    assert found.onset_s == pytest.approx((0.0, 0.75, 1.5, 2.25, 6.0))


def test_long_rest_over_several_measures_in_humdrum() -> None:
    opened = open_score(next(OWN_SCORES.glob("*.krn")))
    found = opened.read_part()
    assert found.warnings == () and opened.composer == "Krogulski, Józef Władysław"


def test_abc() -> None:
    opened = read_score(to_musicxml(ABC, "scale.abc"))
    found = opened.read_part()
    assert (opened.title, opened.composer) == ("Scale", "Anon")
    assert len(found.notes) == 8 and found.notes[0].written.step == "B"
    assert found.length_s[0] == pytest.approx(60 / 90)
    assert not found.tempo_assumed


def test_abc_without_length_and_meter() -> None:
    # ABC 2.1, 3.1.7: "If there is no M: field defined, L:1/8 is used."
    bare = ABC.replace(b"M:4/4\n", b"").replace(b"L:1/4\n", b"")
    found = read_score(to_musicxml(bare, "bare.abc")).read_part()
    assert len(found.notes) == 8
    assert found.length_s[0] == pytest.approx(0.5 * 60 / 90)


def test_signs_that_xml_cannot_hold_are_left_out() -> None:
    odd = ABC.replace(b"T:Scale", b"T:Sc\x1b\x07ale\xef\xbf\xbf")
    assert read_score(to_musicxml(odd, "odd.abc")).title == "Scale"


def test_abc_with_several_tunes() -> None:
    with pytest.raises(ScoreError, match="holds 2 tunes"):
        to_musicxml(ABC + b"\n" + ABC.replace(b"X:1", b"X:2"), "book.abc")


def test_midi() -> None:
    opened = open_score(OWN_SCORES / "School_for_Trombone_008.mid")
    found = opened.read_part()
    assert found.name == "Trombone" and len(found.notes) == 128
    assert opened.root.findtext(".//clef/sign") == "F"
    assert not found.tempo_assumed
    assert (opened.title, opened.composer) == (None, None)


def midi_file(*instruments: str) -> bytes:
    from music21 import instrument, midi, note, stream

    whole = stream.Score()
    for name in instruments:
        track = stream.Part([getattr(instrument, name)()])
        for _ in range(8):
            track.append(note.Note("B-2", quarterLength=0.5))
        whole.insert(0, track)
    return midi.translate.streamToMidiFile(whole).writestr()


def test_midi_with_percussion() -> None:
    opened = read_score(to_musicxml(midi_file("Flute", "Trombone", "Woodblock"), "band.mid"))
    assert [one.name for one in opened.parts] == ["Flute", "Trombone"]
    assert len(opened.read_part().notes) == 8
    with pytest.raises(ScoreError, match="only percussion"):
        to_musicxml(midi_file("Woodblock"), "drum.mid")


@pytest.mark.parametrize(
    ("name", "data", "expected"),
    [
        ("a.musicxml", b"MThd\0\0\0\6", True),
        ("a.txt", KERN, True),
        ("a.txt", ABC, True),
        ("a.xml", b'<?xml version="1.0"?><mei xmlns="x"/>', True),
        ("a.mid", score(part(note())), False),
        ("a.krn", score(part(note())), False),
        ("a.mid", b"PK\x03\x04", False),
        ("a.mei", b"nonsense", True),
        ("a.musicxml", b"nonsense", False),
    ],
)
def test_the_content_has_the_first_word(name: str, data: bytes, expected: bool) -> None:
    assert wants_conversion(name, data) is expected


@pytest.mark.parametrize(
    ("name", "data", "match"),
    [
        ("a.mid", b"MThd\0\0\0\6\0\0", "MIDI"),
        ("a.mid", b"hello", "MIDI"),
        ("a.krn", b"hello", "Humdrum|no notes"),
        ("a.abc", b"hello", "ABC|no notes"),
        ("a.mei", b"<mei", "a.mei"),
        ("a.mei", b"<mei xmlns='http://www.music-encoding.org/ns/mei'/>", "MEI|no notes"),
        ("a.mei", b'<!DOCTYPE mei [<!ENTITY a "x">]><mei>&a;</mei>', "defines entities"),
        ("a.krn", KERN.split(b"4BB")[0] + b"==\n*-\n", "no notes"),
        ("a.abc", b" " * (9 * 2**20), "too large"),
        (
            "a.mid",
            b"MThd\0\0\0\6\0\1\2\0\0\x60" + b"MTrk\0\0\0\0" * 501,
            "501 tracks, more than 500",
        ),
        (
            "a.mid",
            b"MThd\0\0\0\6\0\1\0\1\0\0MTrk\0\0\0\x0c\0\x90\x30\x40\x60\x80\x30\x40\0\xff\x2f\0",
            "as that format has it",
        ),
        ("a.doc", b"hello", "no known score format"),
    ],
)
def test_bad_files_get_one_sentence(name: str, data: bytes, match: str) -> None:
    with pytest.raises(ScoreError, match=match) as caught:
        to_musicxml(data, name)
    assert "\n" not in str(caught.value)


def test_the_last_files_are_kept_by_what_is_in_them() -> None:
    kept = to_musicxml(KERN, "scale.krn")
    assert to_musicxml(bytes(bytearray(KERN)), "scale.krn") is kept
    assert to_musicxml(KERN.replace(b"4E-", b"4F"), "scale.krn") != kept


def test_nothing_is_printed(capfd: pytest.CaptureFixture[str]) -> None:
    read._on_leash.cache_clear()
    to_musicxml(KERN, "scale.krn")
    assert capfd.readouterr() == ("", "")


def test_two_at_once_leave_the_output_alone() -> None:
    before = sys.stdout, sys.stderr
    read._on_leash.cache_clear()
    found: list[bytes] = []
    threads = [
        threading.Thread(target=lambda: found.append(to_musicxml(KERN, "scale.krn")))
        for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (sys.stdout, sys.stderr) == before
    assert len(found) == 4 and len(set(found)) == 1


def test_a_slow_reader_is_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(read, "converted", leashed.deaf)
    monkeypatch.setattr(read, "_LEASH", Leash(Limits(seconds=0.3)))
    read._on_leash.cache_clear()
    with pytest.raises(ScoreError, match=r"scale\.krn: reading it as Humdrum wasn't done after 0"):
        to_musicxml(KERN, "scale.krn")
