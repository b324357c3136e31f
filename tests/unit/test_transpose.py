"""A part moved by an interval: every real score there and back, and each rule by itself."""

import json
from collections import Counter
from pathlib import Path

import musicxml_build as mx
import pytest
from command import one_sentence, run, run_json
from lxml import etree

from handslide.edges.musicxml.read import open_score, read_score
from handslide.edges.musicxml.staves import key_alters
from handslide.edges.musicxml.transpose import transpose_part
from handslide.ground.errors import ScoreError
from handslide.ground.intervals import parse_interval
from handslide.jobs.mark.mark import MarkOptions
from handslide.jobs.setup import make_setup
from handslide.jobs.transpose.transpose import TransposeWishes, transpose_score, transposed_json
from handslide.words.intervals import interval_words
from handslide.words.speech import speech

SCHEMA = mx.schema()
REAL = ("-P8", "P5", "-m3")
SIGNS = {"sharp": 1, "flat": -1, "natural": 0, "double-sharp": 2, "flat-flat": -2,
         "sharp-sharp": 2}  # fmt: skip


def errors(root):
    SCHEMA.validate(etree.fromstring(etree.tostring(root)))
    return Counter(one.message for one in SCHEMA.error_log)


def canonical(element):
    return etree.tostring(element, method="c14n")


def sounding(part):
    return [note.sounding.midi for note in part.notes]


SAY = speech("en")


def pitches(score, part_id):
    """(step, alter, octave) of all notes of a part in the order of the file."""
    return [
        (p.findtext("step"), float(p.findtext("alter") or 0), int(p.findtext("octave")))
        for root in score.part_roots(part_id)
        for p in root.iter("pitch")
    ]


def fifths(score, part_id):
    return [
        int(k.text) for root in score.part_roots(part_id) for k in root.iterfind(".//key/fifths")
    ]


def moved(data, by, **options):
    """The first part of a score moved, and what was said of it."""
    score = read_score(data, "test")
    before = errors(score.root)
    part = score.read_part()
    done = transpose_part(score, part.part_id, parse_interval(by), **options)
    assert errors(score.root) - before == Counter()
    return score, done


def names(score):
    return " ".join(note.written.name for note in score.read_part().notes)


# Real scores


@pytest.mark.sample
@pytest.mark.parametrize("path", mx.XML_FILES, ids=lambda path: path.stem)
def test_real_parts_there_and_back(path: Path):
    score = open_score(path)
    part = score.read_part()
    untouched, keys = canonical(score.root), fifths(score, part.part_id)
    known = errors(score.root)
    others = [canonical(root) for root in score.root.iter("part")
              if root.get("id") != part.part_id]  # fmt: skip
    for name in REAL:
        interval = parse_interval(name)
        there = score.copy()
        transpose_part(there, part.part_id, interval)
        # (that pitches are where they should be is checked on the raw XML, not on our reading)
        read = there.read_part(part.part_id, part.voice)
        assert sounding(read) == [midi + interval.semitones for midi in sounding(part)]
        assert read.onset_s == part.onset_s and read.slur == part.slur and read.gliss == part.gliss
        old, new = pitches(score, part.part_id), pitches(there, part.part_id)
        assert [steps(*b) - steps(*a) for a, b in zip(old, new, strict=True)] == (
            [interval.semitones] * len(old)
        )
        assert errors(there.root) - known == Counter()
        assert others == [canonical(root) for root in there.root.iter("part")
                          if root.get("id") != part.part_id]  # fmt: skip
        for was, now in zip(keys, fifths(there, part.part_id), strict=True):
            assert now == was if interval.is_octaves else abs(now) <= 6
            assert (now - was - interval.fifths) % 12 == 0
        back = there.copy()
        transpose_part(back, part.part_id, interval.inverse)
        assert sounding(back.read_part(part.part_id, part.voice)) == sounding(part)
        again = pitches(back, part.part_id)
        assert [steps(*p) for p in again] == [steps(*p) for p in old]
        if max(map(abs, keys), default=0) <= 6:
            assert fifths(back, part.part_id) == keys
    assert canonical(score.root) == untouched


def steps(step, alter, octave):
    return 12 * octave + {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}[step] + alter


@pytest.mark.sample
@pytest.mark.parametrize("path", mx.XML_FILES, ids=lambda path: path.stem)
def test_who_sees_only_the_print_reads_the_right_notes(path: Path):
    """Key signature and printed accidentals alone give every alteration, as far as they did."""
    score = open_score(path)
    part = score.read_part()
    voices = {v.text for root in score.part_roots(part.part_id) for v in root.iter("voice")}
    if len(voices) > 1:
        pytest.skip("read in the order of the file, which is that of time only with one voice")
    known = misread(score, part.part_id)
    for name in (*REAL, "m2", "A4"):
        there = score.copy()
        transpose_part(there, part.part_id, parse_interval(name))
        assert misread(there, part.part_id) == []
        wish = parse_interval(name)
        by_key = {wish.into_key(k)[0].letters % 7 for k in fifths(score, part.part_id)}
        letters = {
            ("CDEFGAB".index(new[0]) - "CDEFGAB".index(old[0])) % 7
            for old, new in zip(pitches(score, part.part_id), pitches(there, part.part_id))
        }
        if not known and letters <= by_key:
            shown = [sum(1 for _ in one.root.iter("accidental")) for one in (score, there)]
            assert shown[0] == shown[1]


def misread(score, part_id):
    wrong, key = [], key_alters(0)
    for root in score.part_roots(part_id):
        for measure in root.iter("measure"):
            held = {}
            for child in measure:
                if child.tag == "attributes" and child.find("key/fifths") is not None:
                    key, held = key_alters(int(child.findtext("key/fifths"))), {}
                if child.tag != "note" or child.find("pitch") is None:
                    continue
                where = (child.findtext("pitch/step"), child.findtext("pitch/octave"))
                sign = child.findtext("accidental")
                if sign is not None:
                    held[where] = SIGNS[sign]
                tied = any(tie.get("type") == "stop" for tie in child.iter("tie", "tied"))
                seen = held.get(where, key[where[0]])
                if not tied and seen != float(child.findtext("pitch/alter") or 0):
                    wrong.append((measure.get("number"), where))
    return wrong


@pytest.mark.sample
@pytest.mark.parametrize(
    "path", sorted(mx.OWN_SCORES.glob("*.musicxml")), ids=lambda path: path.stem
)
def test_spelling_is_that_of_a_general_library(path: Path):
    from music21 import converter, interval

    score = open_score(path)
    part = score.read_part()
    index = [one.part_id for one in score.parts].index(part.part_id)
    stream = converter.parse(path).parts[index]
    for name in REAL:
        wish = parse_interval(name)
        if any(wish.into_key(key)[0] != wish for key in fifths(score, part.part_id)):
            continue  # the library doesn't take the enharmonic of a key with more than six signs
        library = f"{name[1]}-{name[2:]}" if name.startswith("-") else name
        there = stream.transpose(interval.Interval(library))
        expected = Counter(
            (p.step, p.alter, p.octave) for n in there.recurse().notes for p in n.pitches
        )
        own = score.copy()
        transpose_part(own, part.part_id, wish)
        assert Counter(pitches(own, part.part_id)) == expected


@pytest.mark.sample
@pytest.mark.parametrize("path", mx.OTHER_FILES, ids=lambda path: path.name)
def test_converted_scores_move_too(path: Path):
    score = open_score(path)
    part = score.read_part()
    there = score.copy()
    transpose_part(there, part.part_id, parse_interval("-m3"))
    read = there.read_part(part.part_id, part.voice)
    assert sounding(read) == [midi - 3 for midi in sounding(part)]


# Pitches, keys, accidentals


def key(count, more=""):
    return f"<key><fifths>{count}</fifths>{more}</key>"


def in_key(count, line, clef="", more=""):
    return mx.score(
        mx.part(
            f"<attributes><divisions>1</divisions>{key(count)}"
            f"<time><beats>8</beats><beat-type>4</beat-type></time>{clef}{more}</attributes>{line}"
        )
    )


def clef(sign, line):
    return f"<clef><sign>{sign}</sign><line>{line}</line></clef>"


def test_degrees_keep_their_letters():
    score, done = moved(in_key(-2, mx.notes("Bb2 C3 D3 Eb3 F#3 B2")), "-m3")
    assert names(score) == "G2 A2 B2 C3 D#3 G#2"
    assert done.keys == [("1", -2, 1)]
    assert [a.text for a in score.root.iter("accidental")] == ["sharp", "sharp"]


def test_a_key_of_more_than_six_signs_becomes_its_enharmonic():
    score, done = moved(in_key(-6, mx.notes("Gb2 Bb2 Cb3")), "-P5")
    assert done.keys == [("1", -6, 5)] and names(score) == "B1 D#2 E2"
    assert list(score.root.iter("accidental")) == []
    # An octave leaves even seven flats alone.
    score, done = moved(in_key(-7, mx.notes("Cb3 Fb3")), "-P8")
    assert done.keys == [("1", -7, -7)] and names(score) == "Cb2 Fb2"


def test_a_line_far_from_its_key_is_spelled_plainly():
    # C sharp major without a signature: G sharp major has an F double sharp, A flat major hasn't.
    line = mx.notes("C#3 D#3 E#3 F#3 G#3 A#3 B#3 C#4")
    score, done = moved(in_key(0, line), "P5")
    assert names(score) == "Ab3 Bb3 C4 Db4 Eb4 F4 G4 Ab4"
    assert done.keys == [("1", 0, 1)]
    # One leading note alone is no reason to leave the letters.
    score, _ = moved(in_key(3, mx.notes("F#3 G#3 A3 B3 C#4 D4 E#4 F#4 F#4 F#4 F#4")), "M2")
    assert "F" not in names(score).replace("F##4", "")
    assert names(score).startswith("G#3 A#3 B3 C#4 D#4 E4 F##4")


def test_courtesies_stay_and_missing_accidentals_are_shown():
    line = mx.note("F#3", after_kind="<accidental>sharp</accidental>") + mx.note("F3")
    line += mx.note("G3", after_kind='<accidental cautionary="yes">natural</accidental>')
    score, _ = moved(in_key(0, line + mx.notes("F3")), "m2")
    assert fifths(score, "P1") == [-5] and names(score) == "G3 Gb3 Ab3 Gb3"
    shown = [note.findtext("accidental") for note in score.root.iter("note")]
    assert shown == ["natural", "flat", "flat", None]
    assert score.root.findall(".//accidental")[2].get("cautionary") == "yes"


def test_a_tie_over_a_change_of_key_stays_one_note():
    first = mx.note("G#3", tie="start") + mx.notes("r r r")
    second = f"<attributes>{key(7)}</attributes>" + mx.note("G#3", tie="stop") + mx.notes("G#3 r r")
    score, done = moved(
        mx.score(
            mx.part(mx.attributes(more="").replace("<time>", key(4) + "<time>") + first, second)
        ),
        "M2",
    )
    assert done.keys == [("1", 4, 6), ("2", 7, -3)]
    assert pitches(score, "P1")[:2] == [("A", 1.0, 3), ("A", 1.0, 3)]
    assert pitches(score, "P1")[2] == ("B", -1.0, 3)
    assert len(score.read_part().notes) == 2 and score.read_part().notes[0].beats == 2
    # A sharp stands in six sharps; tied into three flats it needs no sign, and B flat has its own.
    assert list(score.root.iter("accidental")) == []
    over = mx.note("F#3", tie="start") + mx.notes("r r r")
    data = mx.score(mx.part(over, mx.note("F#3", tie="stop") + mx.notes("F#3 F#3 r")))
    score, _ = moved(data, "-P8")
    shown = [one.getparent().findtext("accidental") for one in score.root.iter("pitch")]
    assert shown == ["sharp", None, "sharp", None]


def test_grace_notes_chords_quarter_tones_and_trills():
    grace = mx.note("A3", None, first="<grace/>", kind="eighth")
    chord = mx.note("C3") + mx.note("E3", first="<chord/>")
    quarter = (
        "<note><pitch><step>F</step><alter>0.5</alter><octave>3</octave></pitch>"
        "<duration>1</duration><type>quarter</type><accidental>quarter-sharp</accidental></note>"
    )
    trill = mx.note(
        "B2",
        notations="<ornaments><trill-mark/><accidental-mark>sharp</accidental-mark></ornaments>",
    )
    score, _ = moved(in_key(0, grace + chord + quarter + trill), "-m3")
    assert pitches(score, "P1") == [
        ("F", 1.0, 3), ("A", 0.0, 2), ("C", 1.0, 3), ("D", 0.5, 3), ("G", 1.0, 2)
    ]  # fmt: skip
    # In three sharps only the quarter sharp needs its sign; the trill on B with C sharp is on
    # G sharp with A sharp.
    shown = [note.findtext("accidental") for note in score.root.iter("note")]
    assert shown == [None, None, None, "quarter-sharp", None]
    assert score.root.find(".//accidental-mark").text == "sharp"


def test_keys_that_are_not_traditional_move_sign_by_sign():
    odd = "<key><key-step>B</key-step><key-alter>-1</key-alter></key>"
    line = mx.notes("Bb2 F3 C3")
    data = mx.score(mx.part(mx.attributes().replace("<time>", odd + "<time>") + line))
    score, _ = moved(data, "P5")
    assert score.root.findtext(".//key-step") == "F" and score.root.findtext(".//key-alter") == "0"
    atonal = "<key><fifths>0</fifths><mode>none</mode></key>"
    data = mx.score(mx.part(mx.attributes().replace("<time>", atonal + "<time>") + mx.notes("B2")))
    score, _ = moved(data, "P5")
    assert fifths(score, "P1") == [0] and score.root.findtext(".//accidental") == "sharp"


def test_chord_symbols_move_and_figures_are_told_of():
    harmony = (
        '<harmony><root><root-step text="H">B</root-step><root-alter>-1</root-alter></root>'
        "<kind>major</kind><bass><bass-step>D</bass-step></bass></harmony>"
    )
    figures = "<figured-bass><figure><figure-number>6</figure-number></figure></figured-bass>"
    data = in_key(-2, harmony + figures + mx.notes("Bb2 D3"))
    score, done = moved(data, "M2")
    chord = score.root.find(".//harmony")
    assert chord.findtext("root/root-step") == "C" and chord.find("root/root-alter") is None
    assert chord.find("root/root-step").get("text") is None
    assert chord.findtext("bass/bass-step") == "E"
    assert [one.kind for one in done.warnings] == ["figures"]
    score, done = moved(data, "-P8")
    assert score.root.findtext(".//root-alter") == "-1" and done.warnings == []


def test_the_transposition_stays_and_a_band_part_keeps_its_treble_clef():
    transpose = (
        "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic>"
        "<octave-change>-1</octave-change></transpose>"
    )
    data = in_key(0, mx.notes("C4 G4 C5"), clef("G", 2), transpose)
    score, done = moved(data, "-P8")
    assert [n.sounding.name for n in score.read_part().notes] == ["Bb1", "F2", "Bb2"]
    assert score.root.findtext(".//clef/sign") == "G"
    assert [(SAY.fact(row.old), SAY.fact(row.new), row.ledgers) for row in done.clefs] == [
        ("treble clef", "treble clef", 4)
    ]


# Clefs, rests, 8va lines, what goes


def test_down_the_octave_tenor_clef_becomes_bass_and_needless_changes_go():
    first = mx.attributes(more=clef("F", 4)) + mx.notes("F3 G3 A3 Bb3")
    second = f"<attributes>{clef('C', 4)}</attributes>" + mx.notes("D4 F4 G4 Bb4")
    third = f"<attributes>{clef('F', 4)}</attributes>" + mx.notes("F3 D3 C3 Bb2")
    data = mx.score(mx.part(first, second, third))
    score, done = moved(data, "-P8")
    assert [c.findtext("sign") for c in score.root.iter("clef")] == ["F"]
    assert len(list(score.root.iter("attributes"))) == 1
    assert [(r.first, r.last, SAY.fact(r.old), SAY.fact(r.new)) for r in done.clefs] == [
        ("2", "2", "tenor clef", "bass clef")
    ]
    # A step down changes nothing, and neither does no move at all.
    score, done = moved(data, "-M2")
    assert [c.findtext("sign") for c in score.root.iter("clef")] == ["F", "C", "F"]
    score, done = moved(data, "P1")
    assert canonical(score.root) == canonical(read_score(data).root) and done.clefs == []


def test_up_the_octave_high_measures_get_tenor_clef():
    low = [mx.notes("F2 G2 A2 Bb2")] * 6
    high = [mx.notes("D4 Eb4 F4 D4")] * 3
    first = mx.attributes(more=clef("F", 4)) + low[0]
    score, _ = moved(mx.score(mx.part(first, *low[1:], *high)), "P5")
    signs = [
        (m.get("number"), c.findtext("sign"), c.findtext("line"))
        for m in score.root.iter("measure") for c in m.iter("clef")
    ]  # fmt: skip
    assert signs == [("1", "F", "4"), ("7", "C", "4")]


def test_rests_stay_where_they_stand_on_the_staff():
    rest = (
        "<note><rest><display-step>A</display-step><display-octave>3</display-octave></rest>"
        "<duration>1</duration><voice>1</voice><type>quarter</type></note>"
    )
    data = in_key(0, rest + mx.notes("C4 D4 F4 G4 A4 Bb4 G4"), clef("C", 4))
    score, _ = moved(data, "-P8")
    assert score.root.findtext(".//clef/sign") == "F"
    # A3 was the middle line of the tenor clef; D3 is that of the bass clef.
    assert score.root.findtext(".//display-step") == "D"
    assert score.root.findtext(".//display-octave") == "3"


def test_octave_lines_go_when_they_are_needless():
    def line(kind):
        return (
            "<direction><direction-type>"
            f'<octave-shift type="{kind}" size="8"/></direction-type></direction>'
        )

    music = line("down") + mx.notes("F5 G5 A5 G5") + line("stop") + mx.notes("r r r r")
    data = in_key(0, music, clef("F", 4))
    score, _ = moved(data, "-P8")
    assert list(score.root.iter("octave-shift")) == [] == list(score.root.iter("direction"))
    score, _ = moved(data, "-M2")
    assert len(list(score.root.iter("octave-shift"))) == 2


def test_stems_and_fingerings_go_and_beams_ties_and_slurs_stay():
    fingered = "<technical><fingering>4</fingering><up-bow/></technical>"
    line = mx.note("D3", notations=f'<slur type="start" placement="above"/>{fingered}')
    line = line.replace("<notations>", '<stem>up</stem><beam number="1">begin</beam><notations>')
    line += mx.note("E3", notations='<slur type="stop"/><technical><fingering>2</fingering>'
                    "</technical>").replace(
        "<notations>", '<stem>none</stem><beam number="1">end</beam><notations>'
    )  # fmt: skip
    score, done = moved(in_key(0, line), "-P8")
    assert [one.text for one in score.root.iter("stem")] == ["none"]
    assert list(score.root.iter("fingering")) == [] and score.root.find(".//up-bow") is not None
    assert [one.get("type") for one in score.root.iter("slur")] == ["start", "stop"]
    assert score.root.find(".//slur").get("placement") is None  # with the stems its side is new
    other = "<backup><duration>2</duration></backup>" + mx.notes("C3 C3", voice="2")
    two, _ = moved(in_key(0, line + other), "-P8")
    assert two.root.find(".//slur").get("placement") == "above"
    assert [one.text for one in score.root.iter("beam")] == ["begin", "end"]
    (warning,) = done.warnings
    assert warning.kind == "fingering" and speech().fact(warning.told).startswith("2 fingerings")


def test_our_own_marks_go_without_a_word():
    from handslide.edges.musicxml.marks import write_marks

    score = read_score(in_key(0, mx.notes("C3 D3")))
    part = score.read_part()
    write_marks(score, part, {0: "6", 1: "4"})
    done = transpose_part(score, part.part_id, parse_interval("P5"))
    assert done.warnings == [] and list(score.root.iter("fingering")) == []
    assert list(score.root.iter(etree.ProcessingInstruction)) == []


def test_a_note_below_all_octaves_is_refused_with_its_measure():
    with pytest.raises(ScoreError, match=r"measure 1: C1 moved that far .* octaves 0 to 9"):
        moved(in_key(0, mx.notes("C1")), "-P15")


def test_timewise_scores_move_in_place():
    data = (
        '<score-timewise version="4.0"><part-list><score-part id="P1"><part-name>Trombone'
        '</part-name></score-part><score-part id="P2"><part-name>Tuba</part-name></score-part>'
        f'</part-list><measure number="1"><part id="P1">{mx.attributes()}{mx.notes("C3 D3 E3 F3")}'
        f'</part><part id="P2">{mx.attributes()}{mx.notes("C2 D2 E2 F2")}</part></measure>'
        "</score-timewise>"
    ).encode()
    score = read_score(data)
    transpose_part(score, "P1", parse_interval("-P8"))
    assert score.root.tag == "score-timewise"
    assert names(score) == "C2 D2 E2 F2"
    assert [n.written.name for n in score.read_part("P2").notes] == ["C2", "D2", "E2", "F2"]


# The job


def moved_part(data, by, horn="tenor-f", options=None, *, only=False, octave_fix=False, **limits):
    score = read_score(data, "test.musicxml")
    before = canonical(score.root)
    one = transpose_score(
        score,
        make_setup(horn, **limits),
        TransposeWishes(by, only=only, octave_fix=octave_fix),
        options or MarkOptions(),
        SAY,
    )
    assert canonical(score.root) == before
    return one


def test_what_cannot_be_played_is_named_before_and_after_with_the_nearest_that_can():
    # B1 isn't on a tenor with an F valve (its slide falls short), C2 and B flat 1 are.
    one = moved_part(mx.score(mx.part(mx.notes("B2 C3 D3 E3"))), "-P8")
    assert one.done.before == ()
    (found,) = one.done.after
    assert (found.measure, found.note, found.kind) == ("1", "B1", "unplayable")
    assert "15 cm further" in SAY.fact(found.told)
    book = one.marked.routed.setup.book
    playable = {m for m in range(-36, 37) if all(book.places(k + m) for k in (47, 48, 50, 52))}
    assert -12 not in playable
    assert [i.semitones for i in one.done.nearest] == sorted(
        (
            min((m for m in playable if m > -12), key=lambda m: m + 12),
            min((m for m in playable if m < -12), key=lambda m: -12 - m),
        ),
        key=lambda m: abs(m + 12),
    )
    assert interval_words(SAY, one.done.nearest[0]) == "a major seventh lower"
    section = one.marked.report(SAY)[0]
    assert section.heading == "Moved"
    text = " / ".join(" ".join(row) for row in section.rows)
    assert "an octave lower" in text and "B1 (measure 1)" in text
    assert "all would be playable a major seventh lower" in text


def test_when_no_interval_lets_all_be_played_the_best_is_said():
    wide = mx.score(mx.part(mx.notes("C1 C6 C3 C3"), mx.notes("D3 E3 F3 G3")))
    one = moved_part(wide, "-P5", "tenor", learned=None)
    assert one.done.nearest == ()
    interval, left = one.done.best
    assert left == 1 and abs(interval.semitones) <= 36
    assert len(one.done.before) >= 1


def test_where_only_glissandi_stay_impossible_that_is_said():
    # A tritone is the widest glissando of a tenor (common practice): a seventh goes nowhere.
    slide = '<glissando type="{}" number="1" line-type="wavy"/>'
    line = mx.note("B2", notations=slide.format("start"))
    line += mx.note("A3", notations=slide.format("stop")) + mx.notes("C3 D3")
    data = mx.score(mx.part(line))
    one = moved_part(data, "P1", "tenor")
    assert [row.kind for row in one.done.after] == ["glissando"] == [
        row.kind for row in one.done.before
    ]  # fmt: skip
    assert one.done.nearest == () and one.done.best is None
    rows = dict(one.marked.report(SAY)[0].rows)
    assert rows["now"] == "every note can be played, but not the glissandi in measure 1"
    low = moved_part(data, "-P8", "tenor")
    assert low.done.glissandi_left and low.done.nearest and low.done.best is None
    book, line = low.marked.routed.setup.book, (47, 57, 48, 50)
    for interval in low.done.nearest:
        assert all(book.places(midi + interval.semitones) for midi in line)
    assert "but not every glissando" in dict(low.marked.report(SAY)[0].rows)["nearest"]


def test_notes_put_back_take_their_ties_and_chords_along():
    second = mx.note("B2", tie="stop") + mx.notes("C3 D3 r")
    first = mx.note("D3") + mx.notes("C3 D3") + mx.note("B2", tie="start")
    first += mx.note("G2", first="<chord/>")
    one = moved_part(mx.score(mx.part(first, second)), "-P8", octave_fix=True)
    got = [(p[0], p[2]) for p in pitches(one.marked.score, "P1")]
    assert got == [("D", 2), ("C", 2), ("D", 2), ("B", 2), ("G", 2), ("B", 2), ("C", 2), ("D", 2)]
    assert [(r.measure, r.moved.name, r.now.name) for r in one.done.put_back] == [("1", "B1", "B2")]
    assert len(one.marked.routed.places) == len(one.marked.part.notes)
    assert [row.note for row in one.done.after] == ["B1"]
    assert any(row[0] == "put back" for row in one.marked.report(SAY)[0].rows)


def test_both_ends_of_a_glissando_are_put_back_together():
    slide = '<glissando type="{}" number="1" line-type="wavy"/>'
    line = mx.note("B2", notations=slide.format("start"))
    line += mx.note("A2", notations=slide.format("stop")) + mx.notes("C3 D3")
    one = moved_part(mx.score(mx.part(line)), "-P8", octave_fix=True)
    assert [n.sounding.name for n in one.marked.part.notes] == ["B2", "A2", "C2", "D2"]
    assert one.marked.found == ()


def test_the_title_says_it_and_the_places_are_those_of_the_new_notes():
    one = moved_part(
        mx.score(mx.part(mx.notes("F3 F3 F3 F3"))), "-P8", options=MarkOptions(title="A")
    )
    assert one.marked.title == "A, an octave lower"
    assert set(one.marked.shown.values()) == {"T1"}  # F2 lies in 1st with the F valve
    written = read_score(one.marked.musicxml())
    assert [f.text for f in written.root.iter("fingering")] == ["T1"] * 4


def two_parts():
    high = mx.part(mx.tempo(60) + mx.attributes() + mx.notes("C5 D5 E5 F5"))
    return mx.score(
        high, mx.part(mx.notes("C3 D3 E3 F3"), part_id="P2"), names=("Flute", "Trombone")
    )


def test_other_parts_stay_or_are_left_out():
    data = two_parts()
    one = moved_part(data, "M2")
    flute = canonical(read_score(data).root.find("part"))
    assert canonical(one.marked.score.root.find("part")) == flute
    assert "other parts stay" in one.marked.report(SAY)[0].rows[0][1]
    alone = moved_part(data, "M2", only=True)
    written = read_score(alone.marked.musicxml())
    assert [part.name for part in written.parts] == ["Trombone"]
    assert errors(written.root) == Counter()
    assert names(written) == "D3 E3 F#3 G3"
    assert [w.kind for w in alone.done.warnings] == ["tempo"]  # it stood over the flute
    assert alone.marked.pdf(SAY).startswith(b"%PDF")


def test_a_thousand_notes_are_moved():
    data = in_key(-3, mx.notes("C3 D3 Eb3 F3 G3 A3 B3 C4", kind="eighth"))
    data = data.replace(b"</part>", b"".join(
        f'<measure number="{n}">{mx.notes("C3 D3 Eb3 F3 G3 A3 B3 C4")}</measure>'.encode()
        for n in range(2, 126)
    ) + b"</part>")  # fmt: skip
    score = read_score(data)
    copied = score.copy()
    transpose_part(copied, "P1", parse_interval("-m3"))
    assert len(copied.read_part().notes) == 1000
    assert len(transposed_json(moved_part(data, "-P8"), SAY)["notes"]) == 1000


# The command


@pytest.fixture
def slama(tmp_path):
    path = tmp_path / "slama.musicxml"
    path.write_bytes((mx.OWN_SCORES / "Slama_01.musicxml").read_bytes())
    return path


def test_the_command_writes_beside_and_never_over(slama, tmp_path):
    original = slama.read_bytes()
    result = run("transpose", slama, "--by", "-P8", "--horn", "tenor-f", "-o", tmp_path / "out")
    assert "an octave lower" in result.stdout
    files = sorted(path.name for path in (tmp_path / "out").iterdir())
    assert files == ["slama-octave-lower.musicxml", "slama-octave-lower.pdf"]
    assert slama.read_bytes() == original
    again = run("transpose", slama, "--by", "-P8", "-o", tmp_path / "out", code=1)
    assert "--force" in one_sentence(again)
    run("transpose", slama, "--by", "-12", "-o", tmp_path / "out", "--force", "--no-pdf")
    pdf = (tmp_path / "out" / "slama-octave-lower.pdf").read_bytes()
    assert pdf.startswith(b"%PDF")


def test_the_command_speaks_json(slama):
    found = run_json(
        "transpose", slama, "--by", "-m3", "--no-pdf", "--horn", "tenor-f", "--reach", 5
    )
    said = found["moved"]
    assert (said["by"], said["semitones"], said["words"]) == ("-m3", -3, "a minor third lower")
    assert said["keys"] == [{"measure": "1", "before": 0, "after": 3}]
    assert {row["kind"] for row in said["unplayable_after"]} <= {"unplayable", "glissando"}
    assert len(found["notes"]) == 93 and Path(found["files"][0]).exists()
    json.dumps(found)


@pytest.mark.parametrize("by", ["P3", "octave", "-", "99"])
def test_nonsense_gets_one_sentence(slama, by):
    said = one_sentence(run("transpose", slama, "--by", by, code=2))
    assert repr(by) in said
    assert list(slama.parent.iterdir()) == [slama] or len(list(slama.parent.glob("*-*"))) == 0


def test_a_part_moved_for_an_alto_is_in_the_alto_clef():
    """Common practice: an alto trombone is read in the alto clef, a tenor in bass or tenor clef."""
    data = (mx.HERE.parent / "examples" / "lanterns.musicxml").read_bytes()
    for home, wanted in (("alto", {("C", "3")}), ("bass", {("F", "4"), ("C", "4")})):
        score, _ = moved(data, "P8", home=home)
        found = {
            (clef.findtext("sign"), clef.findtext("line"))
            for root in score.part_roots(score.read_part().part_id)
            for clef in root.iterfind(".//clef")
        }
        assert found and found <= wanted
