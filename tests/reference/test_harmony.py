"""Chord symbols beside music21's reading of them, roots beside analyses that people wrote."""

from pathlib import Path

import music21
import numpy as np
import pytest
from known_roots import chorales, compared
from lxml import etree
from music21 import converter, harmony
from musicxml_build import note, part, score

from handslide.edges.musicxml.chordsymbols import symbol_of
from handslide.edges.musicxml.concert import read_concert
from handslide.edges.musicxml.read import open_score
from handslide.ground.chordkinds import KINDS
from handslide.sound.playing.harmony import SURE

# What players leave out is left out here: the eleventh of a thirteenth, which music21 keeps.
OTHERWISE = {"dominant-13th", "major-13th", "minor-13th"}


def chord_symbol(root="B", alter=-1, kind="major", more=""):
    return (
        f"<harmony><root><root-step>{root}</root-step><root-alter>{alter}</root-alter></root>"
        f"<kind>{kind}</kind>{more}</harmony>"
    )


def degree(value, alter, how):
    return (
        f"<degree><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter>"
        f"<degree-type>{how}</degree-type></degree>"
    )


def by_music21(text):
    data = score(part(text + note("C3", 4, kind="whole")))
    found = converter.parseData(data.decode(), format="musicxml")
    chord = next(iter(found.recurse().getElementsByClass(harmony.ChordSymbol)))
    root = chord.root().pitchClass
    return root, {(one.pitchClass - root) % 12 for one in chord.pitches}


def by_us(text):
    found = symbol_of(etree.fromstring(text))
    return found.root.midi % 12, set(found.semitones)


@pytest.mark.parametrize("kind", sorted(set(KINDS) - OTHERWISE))
@pytest.mark.parametrize(("root", "alter"), [("B", -1), ("F", 1)])
def test_every_kind_has_the_tones_that_music21_gives_it(kind, root, alter):
    text = chord_symbol(root, alter, kind)
    assert by_us(text) == by_music21(text)


@pytest.mark.parametrize("kind", sorted(OTHERWISE))
def test_a_thirteenth_has_all_but_the_eleventh(kind):
    root, tones = by_music21(chord_symbol(kind=kind))
    assert by_us(chord_symbol(kind=kind)) == (root, tones - {5})


@pytest.mark.parametrize(
    ("kind", "degrees"),
    [
        ("major", [(9, 0, "add")]),
        ("dominant", [(9, -1, "add")]),
        ("dominant", [(5, 1, "alter")]),
        ("dominant", [(11, 1, "add")]),
        ("minor", [(9, 0, "add")]),
        ("minor-seventh", [(5, -1, "alter")]),
        ("major", [(3, 0, "subtract")]),
    ],
)
def test_degrees_change_a_chord_as_music21_has_it(kind, degrees):
    text = chord_symbol("E", -1, kind, "".join(degree(*one) for one in degrees))
    assert by_us(text) == by_music21(text)


def test_an_added_seventh_is_a_minor_one():
    # MusicXML 4.0, degree-type: what is added is "relative to a dominant chord (major and perfect
    # intervals except for a minor seventh)".
    assert by_us(chord_symbol(kind="suspended-fourth", more=degree(7, 0, "add")))[1] == {
        0,
        5,
        7,
        10,
    }


@pytest.mark.parametrize("song", ["fosterBrownHair", "berlinAlexandersRagtime"])
def test_the_symbols_of_a_song_stand_where_music21_reads_them(song):
    path = Path(music21.__file__).parent / "corpus" / "leadSheet" / f"{song}.mxl"
    score = open_score(path)
    concert, _ = read_concert(score, score.read_part())
    ours = [
        (one.at_q, one.root, set(one.semitones)) for one in concert.chords if one.root is not None
    ]
    found = converter.parse(path).flatten().getElementsByClass(harmony.ChordSymbol)
    theirs = [
        (float(one.offset), root, {(tone.pitchClass - root) % 12 for tone in one.pitches})
        for one in found
        if not isinstance(one, harmony.NoChord)
        for root in [one.root().pitchClass]
    ]
    assert len(ours) >= 19
    assert ours == theirs


def test_roots_found_in_chorales_are_those_that_people_told():
    # Of the chorales that nothing was tuned on: 90 % of beats, and 95 % where it is sure, which is
    # in four of five.
    rows = [row for piece in chorales()[1:11:2] if (row := compared(*piece)) is not None]
    right, sure = np.array([beat for row in rows for beat in row]).T
    assert len(rows) == 5 and len(right) > 150
    assert right.mean() > 0.86
    taken = sure >= SURE
    assert taken.mean() > 0.7 and right[taken].mean() > 0.92
    # What it says of how sure it is, is so.
    assert right[taken].mean() == pytest.approx(sure[taken].mean(), abs=0.08)
