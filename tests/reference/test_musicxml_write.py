"""Writing MusicXML: the schema holds, and an independent library reads what was meant."""

import random
from fractions import Fraction

import pytest
from lxml import etree
from musicxml_build import schema

from handslide.drills.piece import DYNAMICS, SWELLS, DrillNote, Key, Piece
from handslide.drills.rhythms import in_bars
from handslide.edges.musicxml import write
from handslide.edges.musicxml.notevalues import split_note, split_rest, value_of
from handslide.edges.musicxml.read import read_score
from handslide.edges.musicxml.write import written_key
from handslide.ground.clefs import CLEFS
from handslide.ground.pitch import Pitch, parse_pitch

F = Fraction


def score_of(pieces, title, part_name, clef, transposition=None):
    """As `write.score_of`; titles and remarks are plain texts here."""
    return write.score_of(pieces, title, part_name, clef, str, transposition)


METERS = ((2, 4), (3, 4), (4, 4), (6, 8), (9, 8))


def piece_of(*bars: str, meter=(4, 4), fifths=-2, mode="major", clef=None, title="Own") -> Piece:
    """Bars of words ``Bb3:1`` with signs after: ``(`` slur, ``~`` glissando, ``_`` tie to next."""
    made = []
    for bar in bars:
        notes = []
        for word in bar.split():
            signs = "".join(sign for sign in word if sign in "(~_.->")
            name, _, beats = word.rstrip("(~_.->").partition(":")
            kinds = {".": "staccato", "-": "tenuto", ">": "accent"}
            articulation = next((kinds[s] for s in signs if s in kinds), "")
            notes.append(
                DrillNote(
                    None if name == "r" else parse_pitch(name),
                    F(beats or "1"),
                    slur="(" in signs,
                    gliss="~" in signs,
                    tie="_" in signs,
                    articulation=articulation,
                )
            )
        made.append(tuple(notes))
    return Piece(title, "Play.", Key(fifths, mode), meter, 80.0, tuple(made), clef)


def random_piece(rng: random.Random, clef: str | None = None) -> Piece:
    meter = rng.choice(METERS)
    length = F(4 * meter[0], meter[1])
    bars = []
    for _ in range(rng.randint(2, 5)):
        notes, left = [], length
        while left:
            if meter[1] == 4 and left >= 1 and left.denominator == 1 and rng.random() < 0.2:
                beats = [F(1, 3)] * 3 if rng.random() < 0.6 else [F(2, 3), F(1, 3)]
            else:
                sizes = (F(1, 4), F(1, 2), F(3, 4), F(1), F(3, 2), F(2), F(5, 2), F(3), left)
                beats = [rng.choice([size for size in sizes if size <= left])]
            for beat in beats:
                pitch = Pitch(
                    rng.choice("CDEFGAB"), rng.choice((-1, 0, 0, 0, 1)), rng.choice((2, 3))
                )
                rest = rng.random() < 0.15
                notes.append(
                    DrillNote(
                        None if rest else pitch,
                        beat,
                        slur=not rest and rng.random() < 0.3,
                        gliss=not rest and rng.random() < 0.05,
                        articulation=rng.choice(("", "", "staccato", "tenuto", "accent")),
                        remark=rng.choice((None, None, "further in", "a long text under one note")),
                        dynamic="" if rest else rng.choice(("", "", *DYNAMICS)),
                        swell="" if rest else rng.choice(("", "", *SWELLS)),
                        breath=not rest and rng.random() < 0.1,
                        fermata=not rest and rng.random() < 0.05,
                    )
                )
            left -= sum(beats)
        bars.append(tuple(notes))
    last = bars[-1][-1]
    bars[-1] = (*bars[-1][:-1], DrillNote(last.pitch, last.beats))
    key = Key(rng.randint(-6, 6), rng.choice(("major", "minor", "dorian")))
    return Piece("Own", "Play.", key, meter, float(rng.randint(50, 140)), tuple(bars), clef)


def sounding(piece: Piece) -> list[tuple[int | None, Fraction]]:
    return [(note.pitch.midi if note.pitch else None, note.beats) for note in piece.notes]


def read_by_music21(data: bytes):
    """(bars of (midi or None, quarter notes), the part) as music21 understands them."""
    import music21

    part = music21.converter.parseData(data.decode(), format="musicxml").parts[0]
    bars = []
    for measure in part.toSoundingPitch().getElementsByClass("Measure"):
        bars.append(
            [
                (
                    note.pitch.midi if note.isNote else None,
                    F(note.quarterLength).limit_denominator(96),
                )
                for note in measure.notesAndRests
            ]
        )
    return bars, part


def joined(data: bytes) -> list[tuple[int | None, Fraction]]:
    """All notes as music21 reads them, ties and neighbouring rests joined."""
    _, part = read_by_music21(data)
    found: list[tuple[int | None, Fraction]] = []
    tied = False
    for note in part.toSoundingPitch().flatten().notesAndRests:
        length = F(note.quarterLength).limit_denominator(96)
        midi = note.pitch.midi if note.isNote else None
        if tied or (midi is None and found and found[-1][0] is None):
            found[-1] = (found[-1][0], found[-1][1] + length)
        else:
            found.append((midi, length))
        tied = note.isNote and note.tie is not None and note.tie.type in ("start", "continue")
    return found


def test_random_pieces_are_valid_and_read_back_note_by_note():
    xsd = schema()
    for seed in range(200):
        rng = random.Random(seed)
        clef = rng.choice((None, *CLEFS))
        pieces = [random_piece(rng, clef) for _ in range(rng.randint(1, 3))]
        data = score_of(pieces, "Own sheet", "Trombone", "bass")
        assert xsd.validate(etree.fromstring(data)), (seed, xsd.error_log)
        read = read_score(data).read_part()
        assert [note.sounding.midi for note in read.notes] == [
            note.pitch.midi for piece in pieces for note in piece.notes if note.pitch
        ], seed
        expected = [note.beats for piece in pieces for note in piece.notes if note.pitch]
        assert [note.beats for note in read.notes] == [float(beats) for beats in expected]


@pytest.mark.parametrize("seed", range(12))
def test_music21_reads_what_was_meant(seed):
    rng = random.Random(1000 + seed)
    piece = random_piece(rng, rng.choice((None, *CLEFS)))
    data = score_of([piece], "Own", "Trombone", "tenor")
    bars, part = read_by_music21(data)
    assert [sum(length for _, length in bar) for bar in bars] == [piece.bar_beats] * len(piece.bars)
    expected: list[tuple[int | None, Fraction]] = []
    for midi, beats in sounding(piece):
        if midi is None and expected and expected[-1][0] is None:
            expected[-1] = (None, expected[-1][1] + beats)
        else:
            expected.append((midi, beats))
    assert joined(data) == expected
    tempo = part.flatten().getElementsByClass("MetronomeMark").first()
    assert tempo.getQuarterBPM() == pytest.approx(piece.tempo_qpm, abs=1.0)


@pytest.mark.parametrize("seed", range(20))
def test_accidentals_are_those_that_the_bar_needs(seed):
    """Read only what is printed: key signature and accidentals give back every pitch."""
    piece = random_piece(random.Random(seed))
    root = etree.fromstring(score_of([piece], "Own", "Trombone", "bass"))
    fifths = int(root.findtext(".//fifths"))
    sharps, flats = "FCGDAEB"[: max(fifths, 0)], "BEADGCF"[: max(-fifths, 0)]
    values = {"flat": -1, "natural": 0, "sharp": 1, "flat-flat": -2, "double-sharp": 2}
    needless = 0
    for measure in root.iter("measure"):
        now: dict[tuple[str, str], int] = {}
        for note in measure.iter("note"):
            if note.find("rest") is not None:
                continue
            place = note.findtext("pitch/step"), note.findtext("pitch/octave")
            in_key = (place[0] in sharps) - (place[0] in flats)
            printed = note.findtext("accidental")
            tied = any(tie.get("type") == "stop" for tie in note.findall("tie"))
            alter = int(note.findtext("pitch/alter") or 0)
            if tied:
                assert printed is None
                continue
            before = now.get(place, in_key)
            if printed is not None:
                now[place] = values[printed]
                cautionary = note.find("accidental").get("cautionary") == "yes"
                needless += values[printed] == before and not cautionary
            assert now.get(place, in_key) == alter
    assert needless == 0


def test_a_bar_after_an_accidental_warns_once():
    root = etree.fromstring(score_of([piece_of("B3 Bb3 B3 r", "Bb3 Bb3 C4 r")], "x", "T", "bass"))
    signs = [
        (note.findtext("accidental"), (note.find("accidental") is not None)
         and note.find("accidental").get("cautionary"))
        for note in root.iter("note") if note.find("rest") is None
    ]  # fmt: skip
    assert signs == [
        ("natural", None), ("flat", None), ("natural", None), ("flat", "yes"), (None, False),
        (None, False),
    ]  # fmt: skip


def beams_of(*bars, **options):
    root = etree.fromstring(score_of([piece_of(*bars, **options)], "x", "T", "bass"))
    return [
        "/".join(beam.text[0] for beam in note.findall("beam")) or "-" for note in root.iter("note")
    ]


@pytest.mark.parametrize(
    ("bar", "options", "beams"),
    [
        (" ".join(["Bb3:1/2"] * 8), {}, "b c c e b c c e"),
        ("Bb3:1/2 C4:1/2 D4:1 Bb3:1/2 r:1/2 C4:1/2 C4:1/2", {}, "b e - - - b e"),
        ("Bb3:3/4 C4:1/4 D4:1/2 C4:1/4 C4:1/4 Bb3:2", {}, "b e/b b c/b e/e -"),
        (" ".join(["Bb3:1/2"] * 6), {"meter": (6, 8)}, "b c e b c e"),
        (" ".join(["Bb3:1/3"] * 3 + ["C4:1"]), {"meter": (2, 4)}, "b c e -"),
        ("Bb3:1/2 C4:1 D4:1/2 C4:2", {}, "- - - -"),
    ],
)
def test_beams_follow_the_beat(bar, options, beams):
    assert " ".join(beams_of(bar, **options)) == beams


def test_slurs_ties_and_glissandi_open_and_close():
    bars = ("Bb3( C4( D4 F3_", "F3:1( G3:1 Bb2~ C3", "F3:2_ r:2")
    data = score_of([piece_of(*bars)], "x", "T", "bass")
    root = etree.fromstring(data)
    kinds = {}
    for tag in ("slur", "tied", "slide"):
        kinds[tag] = [element.get("type") for element in root.iter(tag)]
    assert kinds == {
        "slur": ["start", "stop", "start", "stop"],
        "tied": ["start", "stop"],
        "slide": ["start", "stop"],
    }
    read = read_score(data).read_part()
    names = " ".join(note.sounding.name for note in read.notes)
    assert names == "Bb3 C4 D4 F3 G3 Bb2 C3 F3"
    assert [k for k, slur in enumerate(read.slur) if slur] == [0, 1, 3]
    assert [k for k, gliss in enumerate(read.gliss) if gliss] == [5]


def test_triplets_are_written_as_such():
    root = etree.fromstring(
        score_of([piece_of("Bb3:1/3 C4:1/3 D4:1/3 F3:2/3 G3:1/3 Bb3:2")], "x", "T", "bass")
    )
    tuplets = [(t.get("type"), t.get("bracket")) for t in root.iter("tuplet")]
    assert tuplets == [("start", "no"), ("stop", None), ("start", "yes"), ("stop", None)]
    assert len(root.findall(".//time-modification")) == 5
    assert [note.findtext("type") for note in root.iter("note")] == [
        "eighth", "eighth", "eighth", "quarter", "eighth", "half",
    ]  # fmt: skip


def test_brass_band_treble_is_written_a_ninth_higher():
    data = score_of([piece_of("Bb2 C3 D3 F3")], "x", "T", "treble-bb")
    root = etree.fromstring(data)
    written = [n.findtext("pitch/step") + n.findtext("pitch/octave") for n in root.iter("note")]
    assert written == ["C4", "D4", "E4", "G4"]
    assert root.findtext(".//fifths") == "0"
    bars, _ = read_by_music21(data)
    assert [midi for midi, _ in bars[0]] == [46, 48, 50, 53]


@pytest.mark.parametrize("fifths", range(-6, 7))
@pytest.mark.parametrize("up", [(0, 0), (8, 14), (-1, -2), (4, 7)])
def test_written_keys_have_few_signs_and_fit_the_interval(fifths, up):
    signs, (letters, semitones) = written_key(Key(fifths), up)
    assert -6 <= signs <= 6
    assert semitones == up[1]
    assert signs == fifths + 7 * semitones - 12 * letters


def test_several_pieces_have_their_own_lines_titles_and_keys():
    pieces = [
        piece_of("Bb2:4", title="First"),
        piece_of("A2:3", meter=(3, 4), fifths=3, title="Second", clef="tenor"),
    ]
    root = etree.fromstring(score_of(pieces, "Own sheet", "T", "bass"))
    first, second = root.iter("measure")
    assert [bar.text for bar in root.iter("bar-style")] == ["light-heavy", "light-heavy"]
    assert second.find("print").get("new-system") == "yes"
    assert [words.text for words in root.iter("words")] == ["First", "Second"]
    assert [e.text for e in root.iter("rehearsal")] == ["1", "2"]
    assert second.findtext("attributes/clef/sign") == "C"
    assert second.findtext("attributes/key/fifths") == "3"
    assert second.findtext("attributes/time/beats") == "3"
    assert first.get("number") == "1" and second.get("number") == "2"


def test_a_bar_that_is_not_full_is_refused():
    with pytest.raises(ValueError, match="a bar of 3 beats"):
        score_of([piece_of("Bb2:3")], "x", "T", "bass")


@pytest.mark.parametrize("meter", METERS)
def test_split_lengths_add_up_and_can_be_written(meter):
    bar = F(4 * meter[0], meter[1])
    for start in range(int(bar * 4)):
        for end in range(start + 1, int(bar * 4) + 1):
            onset, length = F(start, 4), F(end - start, 4)
            for split in (split_note, split_rest):
                pieces = split(onset, length, meter)
                assert sum(pieces) == length
                assert all(value_of(piece) is not None for piece in pieces), pieces


def test_rests_show_the_beats():
    assert split_rest(F(1), F(3), (4, 4)) == [1, 2]
    assert split_rest(F(1), F(2), (3, 4)) == [1, 1]
    assert split_rest(F(1, 2), F(5, 2), (6, 8)) == [F(1, 2), F(1, 2), F(3, 2)]
    assert split_rest(F(1, 3), F(5, 3), (4, 4)) == [F(2, 3), 1]


def test_another_transposition_than_that_of_the_clef():
    data = score_of([piece_of("Bb2 C3 D3 F3")], "x", "T", "treble", (1, 2))
    root = etree.fromstring(data)
    assert root.findtext(".//chromatic") == "-2"
    assert root.find(".//octave-change") is None
    assert root.findtext(".//fifths") == "0"
    assert [n.sounding.name for n in read_score(data).read_part().notes][:2] == ["Bb2", "C3"]


def test_words_under_a_note_are_short_lines_and_numbers_keep_their_unit():
    note = DrillNote(parse_pitch("Bb2"), F(4), remark="13.7 c lower:\n15 mm further out")
    piece = Piece("x", "", Key(0), (4, 4), 60.0, ((note,),))
    root = etree.fromstring(score_of([piece], "x", "T", "bass"))
    assert [text.text for text in root.iter("text")] == ["13.7 c lower:", "15 mm further out"]


def test_music21_reads_loudness_breaths_and_fermatas():
    """music21 8 and later is the second opinion on where a hairpin begins and ends."""
    swell, soft = {"dynamic": "pp", "swell": "<"}, {"dynamic": "f", "swell": ">"}
    notes = (
        DrillNote(parse_pitch("Bb2"), F(2), **swell),
        DrillNote(parse_pitch("C3"), F(2), swell="<", breath=True),
        DrillNote(parse_pitch("D3"), F(5), **soft),
        DrillNote(parse_pitch("Bb2"), F(3), dynamic="p", fermata=True),
    )
    bars = in_bars(notes, (4, 4))
    data = score_of([Piece("x", "", Key(-2), (4, 4), 60.0, bars)], "x", "T", "bass")
    _, part = read_by_music21(data)
    assert [d.value for d in part.recurse().getElementsByClass("Dynamic")] == ["pp", "f", "p"]
    wedges = list(part.recurse().getElementsByClass("DynamicWedge"))
    spans = [
        (type(w).__name__, [float(n.getOffsetInHierarchy(part)) for n in w.getSpannedElements()])
        for w in wedges
    ]
    assert spans == [("Crescendo", [0.0, 2.0]), ("Diminuendo", [4.0, 8.0])]
    heads = list(part.recurse().notes)
    breaths = [k for k, n in enumerate(heads) if "BreathMark" in map(_kind_of, n.articulations)]
    assert breaths == [1]
    assert [bool(n.expressions) for n in heads] == [False] * 4 + [True]


def _kind_of(thing) -> str:
    return type(thing).__name__


def test_louder_and_softer_on_one_note_meet_in_its_middle():
    note = DrillNote(parse_pitch("Bb2"), F(4), swell="<>")
    after = DrillNote(parse_pitch("Bb2"), F(4), swell="<>")
    piece = Piece("x", "", Key(-2), (4, 4), 60.0, ((note,), (after,)))
    root = etree.fromstring(score_of([piece], "x", "T", "bass"))
    rows = [
        (wedge.get("type"), direction.findtext("offset"))
        for direction in root.iter("direction")
        if (wedge := direction.find("direction-type/wedge")) is not None
    ]
    half = str(2 * int(root.findtext(".//divisions")))
    one = [("crescendo", None), ("stop", half), ("diminuendo", half), ("stop", None)]
    assert rows == one * 2
