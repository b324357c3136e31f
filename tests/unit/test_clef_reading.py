"""Reading other clefs: the same notes in each, as two readers of MusicXML find them."""

from fractions import Fraction

import music21
import pytest
from drill_words import SAY

from handslide.drills.clefreading import OTHERS
from handslide.edges.musicxml.read import read_score
from handslide.edges.musicxml.write import score_of
from handslide.ground.clefs import CLEFS
from handslide.jobs.practice.drill import DrillWishes, drill_pieces, make_drill
from handslide.jobs.practice.music import struck
from handslide.jobs.setup import make_setup

# What each clef says of its middle line: any textbook of notation.
MIDDLE_LINES = {"BassClef": "D3", "TenorClef": "A3", "AltoClef": "C4", "TrebleClef": "B4"}


def clefs_of(sheet):
    return [(row.piece.clef, row.piece.clef_changes) for row in sheet.pieces]


def sounding(piece):
    return [(note.pitch and note.pitch.midi, note.beats) for note in piece.notes]


@pytest.mark.parametrize(
    ("horn", "level", "clefs"),
    [
        ("tenor", "first-year", [("bass", ()), ("tenor", ())] * 2),
        ("alto", "first-year", [("alto", ()), ("bass", ())] * 2),
        (
            "tenor", "second-year",
            [("bass", ()), ("tenor", ()), ("alto", ()), ("bass", ((2, "tenor"),))],
        ),
        (
            "tenor", "advanced",
            [
                ("bass", ()), ("tenor", ()), ("alto", ()),
                ("bass", ((1, "tenor"), (2, "alto"), (3, "bass"))),
            ],
        ),
    ],
)  # fmt: skip
def test_each_level_reads_its_clefs_of_one_line(horn, level, clefs):
    setup = make_setup(horn)
    for seed in range(4):
        sheet = make_drill(setup, "clef-reading", DrillWishes(level=level), seed)
        assert clefs_of(sheet) == clefs
        lines = [sounding(row.piece) for row in sheet.pieces]
        versions = 2 if level == "first-year" else 4
        assert all(lines[k] == lines[k - k % versions] for k in range(4))
        assert len(set(map(str, lines))) == 4 // versions
        titles = [row.title(SAY) for row in sheet.pieces]
        assert titles[0].endswith(", alto clef" if horn == "alto" else ", bass clef")
        assert titles[-1].endswith(", clefs mixed") == (level != "first-year")


def test_of_a_line_without_room_the_later_clefs_stay():
    setup = make_setup("tenor")
    found = [
        clefs_of(make_drill(setup, "clef-reading", DrillWishes(level="second-year", pieces=count)))
        for count in (1, 2, 5)
    ]
    assert [len(row) for row in found] == [1, 2, 5]
    mixed = "bass", ((2, "tenor"),)
    assert found[0] == [mixed] and found[1] == [("alto", ()), mixed] and found[2][3:] == [mixed] * 2


@pytest.mark.parametrize("own", CLEFS)
def test_two_readers_hear_the_same_notes_in_every_clef(own):
    """music21 finds the notes, where they sound, and each clef of each bar."""
    setup = make_setup("tenor")
    wishes = DrillWishes(level="advanced", clef=own)
    pieces, _ = drill_pieces(setup, "clef-reading", wishes, 3)
    assert [one.clef for one in pieces[:3]] == [own, *OTHERS[own]]
    want = [midi for midi, _ in sounding(pieces[0]) if midi is not None]
    for one in pieces:
        data = score_of([one], "", "", own, SAY.fact)
        assert [note.sounding.midi for note in read_score(data).read_part().notes] == want
        other = music21.converter.parse(data, format="musicxml").toSoundingPitch()
        assert [note.pitch.midi for note in other.recurse().notes] == want
        assert [Fraction(note.quarterLength) for note in other.recurse().notes] == [
            note.beats for note in struck(one)
        ]
        read = [
            (bar.number - 1, MIDDLE_LINES[type(sign).__name__])
            for bar in other.recurse().getElementsByClass("Measure")
            for sign in bar.getElementsByClass("Clef")
        ]
        assert read == [
            (bar, CLEFS[name].middle.name) for bar, name in ((0, one.clef), *one.clef_changes)
        ]


@pytest.mark.parametrize("reach", [3, 4, 5, 6, 7])
@pytest.mark.parametrize("level", ["first-year", "second-year", "advanced"])
@pytest.mark.parametrize("horn", ["tenor", "alto", "contrabass-f"])
def test_lines_are_within_reach_and_near_the_staff(horn, level, reach):
    """From 4th position on at most two ledger lines on any staff; shorter arms have fewer notes."""
    sheet = make_drill(make_setup(horn, reach=reach), "clef-reading", DrillWishes(level=level))
    assert max(place.position for place in sheet.places) <= reach + 0.3
    places = [
        abs(CLEFS[name].place(note.pitch))
        for row in sheet.pieces
        for name in (row.piece.clef, *(name for _, name in row.piece.clef_changes))
        for note in struck(row.piece)
    ]
    assert max(places) <= (8 if reach > 3 else 12)


def test_the_joined_score_says_the_clef_of_each_line_and_is_engraved():
    sheet = make_drill(make_setup("tenor"), "clef-reading", DrillWishes(level="advanced"), 3)
    data = sheet.musicxml(SAY)
    assert data.count(b"<clef>") == 3 + 4
    assert not sheet.worksheet(SAY).problems


@pytest.mark.parametrize("show", ["none", "new"])
def test_a_line_can_be_read_without_help(show):
    sheets = [
        make_drill(make_setup("tenor-f"), "clef-reading", DrillWishes(level="advanced", show=way))
        for way in ("all", show)
    ]
    counts = [sum(len(one.marked.shown) for one in sheet.pieces) for sheet in sheets]
    assert sheets[0].places == sheets[1].places
    if show == "none":
        assert counts[1] == 0 and sheets[1].worksheet(SAY).legend == ()
    else:
        assert 0 < counts[1] < counts[0]
