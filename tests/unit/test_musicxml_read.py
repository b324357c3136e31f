"""Reading a part: which notes, how they sound, what is warned of."""

import warnings
from itertools import pairwise
from pathlib import Path

import pytest
from music21 import converter
from musicxml_build import (
    DOT,
    OWN_SCORES,
    SCORES,
    TRIPLET,
    XML_FILES,
    attributes,
    kinds,
    line,
    names,
    note,
    notes,
    part,
    read,
    score,
    tempo,
)  # fmt: skip

from handslide.edges.musicxml.line import read_line
from handslide.edges.musicxml.read import Score, ScorePart, open_score, read_score
from handslide.ground.errors import ScoreError
from handslide.words.hints import STUDIO, TERMINAL
from handslide.words.speech import speech

# Shared files


@pytest.mark.sample
@pytest.mark.parametrize("path", XML_FILES, ids=lambda path: path.name)
def test_every_part_of_every_file_reads(path: Path) -> None:
    opened = open_score(path)
    assert opened.title
    for info in opened.parts:
        if info.notes == 0:
            continue
        for voice in info.voices:
            try:
                found = opened.read_part(info.part_id, voice)
            except ScoreError as error:
                assert "no notes to play" in str(error) or "cue" in str(error)
                continue
            check_columns(found)


def check_columns(found: ScorePart) -> None:
    columns = (found.played, found.onset_s, found.length_s, found.slur, found.gliss)
    assert len({len(column) for column in columns}) == 1
    assert [one.index for one in found.notes] == list(range(len(found.notes)))
    assert set(found.played) <= set(range(len(found.notes)))
    ordinals = [one.ordinal for one in found.notes]
    assert ordinals == sorted(set(ordinals))
    assert all(length > 0.0 for length in found.length_s)
    for (a, length), b in pairwise([*zip(found.onset_s, found.length_s), (1e9, 0.0)]):
        assert a + length <= b[0] + 0.01 if isinstance(b, tuple) else True
    assert found.onset_s[0] >= 0.0


@pytest.mark.sample
@pytest.mark.parametrize("path", XML_FILES, ids=lambda path: path.name)
def test_agrees_with_an_independent_reader(path: Path) -> None:
    """Sounding pitch and place of every struck note, against music21 10 (BSD)."""
    score = open_score(path)
    found = score.read_part()
    mine, theirs = _struck(score, found), _struck_by_music21(path, found)
    # Ours strikes a note whose tie starts nowhere (and warns); music21 takes the tie as given.
    odd = set(mine) - set(theirs)
    assert len(odd) == sum(one.what.kind == "scores.tie_from_nowhere" for one in found.warnings)
    assert [one for one in mine if one not in odd] == theirs


def _struck(score: Score, found: ScorePart) -> list[tuple[int, int, float]]:
    """(measure index, MIDI number, quarters into the measure) of each struck note."""
    written = read_line(score.part_roots(found.part_id), found.voice)
    starts: dict[int, float] = {}
    for head, start in zip(written.head, written.start_q):
        starts.setdefault(head, start)
    return [
        (
            one.measure_index,
            one.sounding.midi,
            round(starts[one.index] - written.measure_q[one.measure_index], 3),
        )
        for one in found.notes
        if not one.grace
    ]


def _struck_by_music21(path: Path, found: ScorePart) -> list[tuple[int, int, float]]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        parsed = converter.parse(path, forceSource=True)
        place = [one.part_id for one in open_score(path).parts].index(found.part_id)
        part_stream = parsed.parts[place].toSoundingPitch()
    struck = []
    for index, measure in enumerate(part_stream.getElementsByClass("Measure")):
        source = next((one for one in measure.voices if str(one.id) == found.voice), measure)
        for one in source.notes:
            if one.duration.isGrace or one.style.noteSize == "cue" or one.style.hideObjectOnPrint:
                continue
            top = max(one.notes, key=lambda single: single.pitch.midi) if one.isChord else one
            if top.tie is None or top.tie.type not in ("stop", "continue"):
                struck.append((index, top.pitch.midi, round(float(one.offset), 3)))
    return struck


# Notes


def test_plain_notes_and_rests() -> None:
    found = read(notes("C3 r E3 F3"))
    assert names(found) == "C3 E3 F3"
    assert line(found) == "C3@0+1 E3@2+1 F3@3+1"
    assert [one.number for one in found.notes] == [1, 2, 3]
    assert found.warnings == () and not found.tempo_assumed


def test_measures_are_kept_by_place_because_numbers_repeat() -> None:
    first = part(notes("C3 D3 E3 F3"), notes("C3"))
    data = score(first.replace('number="2"', 'number="1"'))
    found = read_score(data).read_part()
    assert [(one.measure, one.measure_index, one.number) for one in found.notes][-2:] == [
        ("1", 0, 4),
        ("1", 1, 1),
    ]
    odd = read_score(score(part(note()).replace('number="1"', 'number="X1"'))).read_part()
    assert odd.notes[0].measure == "X1"


def test_ties_are_one_note_with_one_mark() -> None:
    found = read(
        note("C3", tie="start") + note("C3", 3, tie="stop start", kind="half", after_kind=DOT),
        note("C3", 1, tie="stop") + note("C3", 1) + note("D3", 2, kind="half"),
    )
    assert line(found) == "C3@0+5 C3@5+1 D3@6+2"
    assert found.notes[0].beats == 5.0
    assert [one.number for one in found.notes] == [1, 1, 2]


def test_printed_ties_count_when_sounding_ties_are_missing() -> None:
    found = read(
        note("C3", notations='<tied type="start"/>') + note("C3", notations='<tied type="stop"/>')
    )
    assert line(found) == "C3@0+2"


def test_broken_ties_are_warned_of() -> None:
    found = read(note("C3", tie="start") + notes("D3 E3") + note("F3", tie="stop"))
    assert len(found.notes) == 4
    assert [one.kind for one in found.warnings] == ["tie", "tie"]
    assert [one.what["note"].name for one in found.warnings] == ["C3", "F3"]
    assert "tie" in kinds(read(note("C3", 4, tie="start", kind="whole")))


def test_enharmonic_tie() -> None:
    assert line(read(note("Gb3", tie="start") + note("F#3", tie="stop"))) == "Gb3@0+2"


def test_grace_notes_take_time_from_what_is_before() -> None:
    grace = note("D3", None, first="<grace/>", kind="eighth")
    found = read(notes("C3") + grace + grace + notes("E3 F3 G3"))
    assert line(found) == "C3@0+0.8 D3@0.8+0.1 D3@0.9+0.1 E3@1+1 F3@2+1 G3@3+1"
    assert [one.grace for one in found.notes] == [False, True, True, False, False, False]
    assert found.notes[1].beats == 0.0
    quick = attributes(8) + notes("C3", duration=2, kind="16th") + grace
    assert line(read(quick + note("E3", 8))).startswith("C3@0+0.1875 D3@0.1875+0.0625 E3@0.25")


def test_grace_note_at_the_very_start_and_end() -> None:
    grace = note("D3", None, first="<grace/>", kind="eighth")
    assert line(read(grace + notes("C3"))) == "D3@0+0.1 C3@0.1+0.9"
    assert line(read(notes("r") + grace + notes("C3"))) == "D3@0.9+0.1 C3@1+1"
    assert line(read(note("C3", 4, kind="whole") + grace)) == "C3@0+3.9 D3@3.9+0.1"


def test_chord_gives_its_top_note() -> None:
    chord = note("F3") + note("C4", first="<chord/>") + note("A3", first="<chord/>")
    found = read(chord + notes("D3"))
    assert names(found) == "C4 D3"
    assert line(found) == "C4@0+1 D3@1+1"
    assert [one.kind for one in found.warnings] == ["chord"]
    assert [one.ordinal for one in found.notes] == [1, 3]  # its element is the chord's second


def test_chord_in_the_middle_of_a_tie() -> None:
    found = read(
        note("C4", tie="start")
        + note("F3")
        + note("C4", first="<chord/>", tie="stop")
        + notes("D3 E3")
    )
    assert line(found) == "C4@0+2 D3@2+1 E3@3+1"


def test_triplets_and_rounded_divisions() -> None:
    three = notes("C3 D3 E3", duration=160, kind="eighth", after_kind=TRIPLET)
    found = read(attributes(480) + three * 4)
    assert found.onset_s[1] == pytest.approx(1 / 3) and found.onset_s[3] == pytest.approx(1.0)
    # 5 ticks a beat hold no triplet: 2 + 2 + 1 or so; the next measure starts in time anyway.
    rounded = notes("C3 D3 E3", duration=33, kind="eighth", after_kind=TRIPLET)
    found = read(attributes(100) + rounded * 4, notes("C3", duration=100))
    assert found.onset_s[-1] == pytest.approx(4.0)
    assert found.warnings == ()


def test_divisions_change_in_mid_measure() -> None:
    found = read(
        notes("C3 D3") + attributes(4, None) + notes("E3 F3", duration=4), notes("G3", duration=4)
    )
    assert line(found) == "C3@0+1 D3@1+1 E3@2+1 F3@3+1 G3@4+1"


def test_missing_and_wrong_durations() -> None:
    found = read(
        note("C3", None) + note("D3", None, kind="half", after_kind=DOT),
        note("E3", 1, kind="whole"),
        note("F3", 0, kind="half") + note("G3", -2, kind="half"),
        note("A3", None, kind=""),
    )
    assert line(found) == "C3@0+1 D3@1+3 E3@4+1 F3@5+2 G3@7+2 A3@9+1"
    assert [(one.measure, one.kind) for one in found.warnings] == [
        ("1", "duration"), ("1", "duration"), ("2", "duration"), ("3", "duration"),
        ("3", "duration"), ("4", "duration"),
    ]  # fmt: skip
    assert speech().fact(found.warnings[2].told).startswith("measure 2: ")


def test_missing_divisions_and_nonsense() -> None:
    found = read_score(score(f'<part id="P1"><measure number="1">{note()}</measure></part>'))
    assert found.read_part().length_s == (0.75,)
    for text in ("0", "-2", "many"):
        bad = attributes().replace("<divisions>1<", f"<divisions>{text}<")
        assert "duration" in kinds(read(bad + note()))


def test_overfull_measure_is_warned_of_and_pickup_is_not() -> None:
    assert kinds(read(notes("C3"), notes("C3 D3 E3 F3"))) == set()
    found = read(notes("C3 D3 E3 F3 G3"), notes("C3"))
    assert kinds(found) == {"duration"} and line(found).endswith("C3@5+1")


def test_empty_measures_and_whole_rests_last_a_measure() -> None:
    whole = '<note><rest measure="yes"/><duration>4</duration></note>'
    found = read(notes("C3 D3 E3 F3"), "", whole, notes("G3"))
    assert line(found).endswith("G3@12+1")


def test_cue_and_hidden_notes_are_rests() -> None:
    small = note("G4").replace("<type>", '<type size="cue">')
    cue = note("G4", first="<cue/>")
    hidden = note("A4", attributes=' print-object="no"')
    found = read(notes("C3") + small + cue + hidden, notes("D3"))
    assert line(found) == "C3@0+1 D3@4+1"
    assert kinds(found) == {"cue", "hidden"}
    grace = note("D3", None, first="<grace/>").replace("<type>", '<type size="cue">')
    assert names(read(grace + notes("E3"))) == "D3 E3"


def test_microtones_are_rounded_with_a_warning() -> None:
    found = read(note("F3").replace("<step>F</step>", "<step>F</step><alter>0.5</alter>"))
    assert found.notes[0].written.midi in (53, 54)
    assert kinds(found) == {"pitch"}


def test_unreadable_pitch_says_where() -> None:
    with pytest.raises(ScoreError, match=r"Trombone.*measure 2, line 2.*step 'H'"):
        read(notes("C3"), notes("C3").replace("<step>C", "<step>H"))


# Voices, staves, parts


def test_voices() -> None:
    two = notes("C4 D4 E4 F4") + "<backup><duration>4</duration></backup>"
    two += (
        notes("C3", duration=2, kind="half", voice="2")
        + "<forward><duration>1</duration></forward>"
    )
    two += notes("G2", voice="2")
    found = read(
        two, notes("r r r r") + "<backup><duration>4</duration></backup>" + notes("A2", voice="2")
    )
    assert names(found) == "C4 D4 E4 F4" and found.voice == "1"
    assert kinds(found) == {"voice"}
    other = read(two, voice="2")
    assert line(other) == "C3@0+2 G2@3+1"
    with pytest.raises(ScoreError, match=r"no voice '3'.*1 and 2"):
        read(two, voice="3")


def test_default_voice_is_the_first_with_notes() -> None:
    two = notes("r r r r") + "<backup><duration>4</duration></backup>" + notes("C3", voice="2")
    assert read(two).voice == "2"
    assert read(note("C3", voice=None)).voice == "1"


def test_staves() -> None:
    two = note("C4", 4, kind="whole", staff="<staff>1</staff>")
    two += "<backup><duration>4</duration></backup>"
    two += note("C3", 4, kind="whole", voice="5", staff="<staff>2</staff>")
    assert read(two).staff == "1"
    assert (read(two, voice="5").staff, names(read(two, voice="5"))) == ("2", "C3")
    assert read(notes("C3")).staff is None


def parts(*labels: str, **options: str) -> Score:
    content = [part(notes("C3"), part_id=f"P{place + 1}") for place in range(len(labels))]
    return read_score(score(*content, names=labels), **options)


@pytest.mark.parametrize(
    ("labels", "wanted", "taken"),
    [
        (("Flute",), None, "Flute"),
        (("Tromba", "Trombka", "Trombone basso"), None, "Trombone basso"),
        (("Violin", "Posaune 2"), None, "Posaune 2"),
        (("Voice", "Trombón"), None, "Trombón"),
        (("Piano", "Tbn."), None, "Tbn."),
        (("Flute", "Trombone I", "Trombone II"), "trombone ii", "Trombone II"),
        (("Flute", "Trombone I", "Trombone II"), "P2", "Trombone I"),
        (("Flute", "Trombone I", "Trombone II"), "3", "Trombone II"),
        (("Flute", "Trombone I", "Tuba"), "tub", "Tuba"),
        (("Trombone 1", "Trombone 2"), "2", "Trombone 2"),
        (("Trombone", "Bass Trombone"), "trombone", "Trombone"),
    ],
)
def test_part_choice(labels: tuple[str, ...], wanted: str | None, taken: str) -> None:
    found = parts(*labels).read_part(wanted)
    assert found.name == taken and found.warnings == ()


def test_part_choice_that_is_a_guess_says_so() -> None:
    found = parts("Trombone 1", "Trombone 2").read_part()
    assert found.name == "Trombone 1" and kinds(found) == {"part"}
    found = parts("Flute", "Oboe").read_part()
    assert found.name == "Flute"
    (guess,) = found.warnings
    assert speech().fact(guess.told) == "'Flute' was read (no part is called trombone)"
    hinted = speech(face=TERMINAL).fact(guess.told)
    assert hinted.endswith("; choose another with --part: 1 'Flute', 2 'Oboe'")
    assert speech(face=STUDIO).fact(guess.told).endswith("; it can be changed")


def test_part_that_is_not_there() -> None:
    with pytest.raises(ScoreError, match=r"no part 'tuba'.*1 'Flute', 2 'Oboe'"):
        parts("Flute", "Oboe").read_part("tuba")
    with pytest.raises(ScoreError, match="several parts fit 'trom'"):
        parts("Trombone 1", "Trombone 2").read_part("trom")
    with pytest.raises(ScoreError, match="no part '0'"):
        parts("Flute", "Oboe").read_part("0")


def test_instrument_sound_tells_a_trombone() -> None:
    data = score(part(notes("C3")), part(notes("D3"), part_id="P2"), names=("Lead", "Low"))
    data = data.replace(
        b"<part-name>Low</part-name>",
        b"<part-name>Low</part-name><score-instrument id='P2-I1'><instrument-name>x"
        b"</instrument-name><instrument-sound>brass.trombone.bass</instrument-sound>"
        b"</score-instrument>",
    )
    assert read_score(data).read_part().part_id == "P2"


def test_parts_without_notes_to_play() -> None:
    drum = note("C3").replace("<pitch><step>C</step><octave>3</octave></pitch>", "<unpitched/>")
    with pytest.raises(ScoreError, match="percussion"):
        read(drum)
    with pytest.raises(ScoreError, match="no notes"):
        read(notes("r r"))
    with pytest.raises(ScoreError, match="cue"):
        read(note("C3", first="<cue/>"))
    opened = read_score(
        score(part(drum), part(notes("C3 D3"), part_id="P2"), names=("Drum", "Tuba"))
    )
    assert [(one.notes, one.percussion) for one in opened.parts] == [(0, True), (2, False)]
    assert opened.read_part().name == "Tuba"


def test_timewise_score() -> None:
    content = attributes() + tempo() + notes("C3 D3 E3 F3")
    data = (
        '<score-timewise version="4.0"><part-list><score-part id="P1"><part-name>Tuba</part-name>'
        '</score-part><score-part id="P2"><part-name>Trombone</part-name></score-part></part-list>'
        f'<measure number="7"><part id="P1">{content}</part><part id="P2">{content}</part>'
        "</measure>"
        f'<measure number="8"><part id="P1">{notes("r r r r")}</part><part id="P2">{notes("G3")}'
        "</part></measure></score-timewise>"
    ).encode()
    found = read_score(data).read_part()
    assert (found.name, names(found)) == ("Trombone", "C3 D3 E3 F3 G3")
    assert found.notes[-1].measure == "8" and line(found).endswith("G3@4+1")


# Sounding pitch


@pytest.mark.parametrize(
    ("transpose", "sounding"),
    [
        (
            "<diatonic>-1</diatonic><chromatic>-2</chromatic><octave-change>-1</octave-change>",
            "Bb2",
        ),
        ("<diatonic>-1</diatonic><chromatic>-2</chromatic>", "Bb3"),
        ("<chromatic>-2</chromatic><octave-change>-1</octave-change>", "Bb2"),
        ("<diatonic>-8</diatonic><chromatic>-14</chromatic>", "Bb2"),
        ("<diatonic>0</diatonic><chromatic>0</chromatic><octave-change>3</octave-change>", "C7"),
        ("<chromatic>0</chromatic><octave-change>-2</octave-change>", "C2"),
        ("<diatonic>0</diatonic><chromatic>0</chromatic><double/>", "C4"),
        ("<diatonic>-4</diatonic><chromatic>-7</chromatic>", "F3"),
    ],
)
def test_transposition(transpose: str, sounding: str) -> None:
    """Written plus chromatic plus octaves (MusicXML 4.0, `transpose`)."""
    found = read(attributes(more=f"<transpose>{transpose}</transpose>") + note("C4"))
    assert (found.notes[0].written.name, found.notes[0].sounding.name) == ("C4", sounding)


def test_transposition_changes_in_mid_part() -> None:
    step = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    change = f"<attributes>{step}</attributes>"
    back = "<attributes><transpose><chromatic>0</chromatic></transpose></attributes>"
    found = read(notes("C4") + change + notes("C4") + back + notes("C4"))
    assert [one.sounding.name for one in found.notes] == ["C4", "Bb3", "C4"]


def test_transposition_of_one_staff() -> None:
    more = '<transpose number="2"><chromatic>-12</chromatic></transpose>'
    found = read(
        attributes(more=more)
        + note("C4", staff="<staff>1</staff>")
        + note("C4", staff="<staff>2</staff>")
    )
    assert [one.sounding.midi for one in found.notes] == [60, 48]


def test_octave_clef_and_octave_line_move_nothing() -> None:
    """`pitch` is where the note is, whatever the clef or an 8va line say (MusicXML 4.0)."""
    clef = "<clef><sign>F</sign><line>4</line><clef-octave-change>-1</clef-octave-change></clef>"
    shift = "<direction-type><octave-shift type='down' size='8'/></direction-type>"
    shift = f"<direction>{shift}</direction>"
    found = read(attributes(more=clef) + shift + note("C2"))
    assert found.notes[0].sounding.name == "C2"


# Titles


def test_title_and_composer() -> None:
    more = (
        "<work><work-title> Etude\n 1 </work-title></work><identification>"
        '<creator type="arranger">A</creator><creator type="composer">B C</creator>'
        "</identification>"
    )
    opened = read_score(score(part(note()), more=more))
    assert (opened.title, opened.composer) == ("Etude 1", "B C")
    assert (read_score(score(part(note()))).title, read_score(score(part(note()))).composer) == (
        None,
        None,
    )


def test_shared_examples_say_what_their_index_says() -> None:
    if not (SCORES / "index.csv").exists():
        assert OWN_SCORES == SCORES
        return
    opened = open_score(OWN_SCORES / "Slama_01.musicxml")
    found = opened.read_part()
    assert (opened.title, opened.composer) == ("66 Etudes, Number 1", "Slama, Anton")
    assert len(found.notes) == 93
    assert min(one.sounding.midi for one in found.notes) == 43
    assert max(one.sounding.midi for one in found.notes) == 60
    assert found.length_s[0] == pytest.approx(60 / 144 / 2)


def test_memory_is_told_by_what_is_in_a_score_and_not_by_its_file():
    small = read_score(score(part(note() * 4)))
    large = read_score(score(part(note() * 400)))
    assert large.memory_bytes() > 50 * small.memory_bytes()
    odd = read_score(score(part(note() * 3 + note(attributes=' a="" b="" c="" d=""'))))
    assert odd.memory_bytes() == small.memory_bytes() + 4 * 230


def test_a_part_of_a_hundred_thousand_notes_is_none(monkeypatch):
    monkeypatch.setattr("handslide.edges.musicxml.read.PART_NOTES", 7)
    crowd = read_score(score(part(note() * 4, note() * 4)), "crowd.musicxml")
    with pytest.raises(ScoreError) as caught:
        crowd.read_part()
    told = "crowd.musicxml, Trombone, 8 notes, more than 7: no part has so many"
    assert str(caught.value) == told


@pytest.mark.parametrize("ids", [[f"P{k}" for k in range(501)], ["P1"] * 501])
def test_a_score_of_five_hundred_parts_is_none(ids: list[str]) -> None:
    crowd = score(*(part(note(), part_id=one) for one in ids))
    with pytest.raises(ScoreError, match="has 501 parts, more than 500: no score has so many"):
        read_score(crowd)
    assert read_score(score(*(part(note(), part_id=one) for one in ids[1:]))).parts
