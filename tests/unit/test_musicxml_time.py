"""Reading a part: when its notes are played, in which order, and how they are joined."""

import pytest
from musicxml_build import (
    OWN_SCORES,
    attributes,
    ending,
    kinds,
    line,
    note,
    notes,
    order,
    part,
    read,
    repeat,
    score,
    tempo,
)  # fmt: skip

from handslide.edges.musicxml.read import ScorePart, open_score, read_score

# Tempo


def words(text: str) -> str:
    return f"<direction><direction-type><words>{text}</words></direction-type></direction>"


def metronome(unit: str, per: str, dots: int = 0) -> str:
    return (
        f"<direction><direction-type><metronome><beat-unit>{unit}</beat-unit>"
        f"{'<beat-unit-dot/>' * dots}<per-minute>{per}</per-minute></metronome></direction-type>"
        "</direction>"
    )


@pytest.mark.parametrize(
    ("sign", "beat_s"),
    [
        (metronome("quarter", "120"), 0.5),
        (metronome("half", "60"), 0.5),
        (metronome("quarter", "40", dots=1), 1.0),
        (metronome("eighth", "ca. 120"), 1.0),
        (metronome("quarter", "60-72"), 1.0),
        (metronome("quarter", "brisk"), 0.75),
        ('<sound tempo="0"/>', 0.75),
        (words("Allegro").replace("</direction>", "<sound tempo='240'/></direction>"), 0.25),
    ],
)
def test_tempo_marks(sign: str, beat_s: float) -> None:
    found = read_score(score(part(attributes() + sign + notes("C3 D3")))).read_part()
    assert found.length_s == pytest.approx((beat_s, beat_s))
    assert found.tempo_assumed == (beat_s == 0.75)


def test_tempo_changes_in_mid_measure_and_default() -> None:
    data = score(part(notes("C3 D3") + tempo(60) + notes("E3 F3"), tempo(30) + notes("G3")))
    found = read_score(data).read_part(default_tempo_qpm=120)
    assert found.onset_s == pytest.approx((0.0, 0.5, 1.0, 2.0, 3.0))
    assert found.length_s[-1] == pytest.approx(2.0)
    assert found.tempo_assumed


def test_tempo_of_a_note_that_it_cuts() -> None:
    held = note("C3", 4, kind="whole") + "<backup><duration>2</duration></backup>" + tempo(30)
    assert read(held).length_s == (6.0,)


def test_tempo_and_jumps_may_stand_in_another_part() -> None:
    top = part(tempo(30) + notes("C4 D4"), notes("E4") + '<sound dacapo="yes"/>')
    top = top.replace("<measure", "<measure", 1)
    low = part(notes("C3 D3"), notes("E3"), part_id="P2")
    data = score(top, low, names=("Flute", "Trombone")).replace(b"<sound tempo", b"<sound tempo", 1)
    found = read_score(data).read_part()
    assert found.length_s[0] == pytest.approx(2.0) and not found.tempo_assumed
    assert order(found) == "1 1 2 1 1 2"


# Repeats


def test_repeat() -> None:
    found = read(notes("C3 D3 E3 F3"), notes("G3 A3 B3 C4") + repeat(), notes("D4"))
    assert order(found) == "1 1 1 1 2 2 2 2 1 1 1 1 2 2 2 2 3"
    assert found.onset_s[-1] == 16.0 and len(found.notes) == 9


BACK = '<repeat direction="backward"/>'
CAPO, FINE = '<sound dacapo="yes"/>', '<sound fine="yes"/>'
SEGNO, AL_SEGNO = '<sound segno="a"/>', '<sound dalsegno="a"/>'
TO_CODA, CODA = '<sound tocoda="c"/>', '<sound coda="c"/>'


def bracket(number: str, more: str = BACK) -> str:
    """A measure under an ending, with a backward repeat unless told otherwise."""
    return ending(number, "start") + "C3" + ending(number, "stop", more)


@pytest.mark.parametrize(
    ("measures", "expected"),
    [
        (("C3", repeat("forward") + "C3", "C3" + repeat(), "C3"), "1 2 3 2 3 4"),
        (("C3" + repeat(), "C3" + repeat(), "C3"), "1 1 2 2 3"),
        (("C3" + repeat(times=3), "C3"), "1 1 1 2"),
        (("C3" + repeat(times=1), "C3"), "1 2"),
        (("C3", bracket("1"), bracket("2", ""), "C3"), "1 2 1 3 4"),
        (("C3", bracket("1, 2"), bracket("3", ""), "C3"), "1 2 1 2 1 3 4"),
        (("C3", bracket("1-3"), bracket("4", ""), "C3"), "1 2 1 2 1 2 1 3 4"),
        (
            (
                "C3",
                ending("1", "start") + "C3",
                "C3" + ending("1", "stop", BACK),
                ending("2", "start") + "C3",
                "C3",
            ),
            "1 2 3 1 4 5",
        ),
        (("C3", bracket("1"), "C3"), "1 2 1 3"),
        (("C3", bracket("0, 1, 4"), bracket("2, 3"), "C3"), "1 2 1 3 1 3 1 2 4"),
        (("C3", bracket(" "), bracket(" ", ""), "C3"), "1 2 1 3 4"),
        (("C3", "C3" + CAPO), "1 2 1 2"),
        (("C3" + FINE, "C3", "C3" + CAPO), "1 2 3 1"),
        (("C3", "C3" + FINE + repeat(), "C3" + CAPO), "1 2 1 2 3 1 2"),
        (("C3", SEGNO + "C3", "C3" + AL_SEGNO), "1 2 3 2 3"),
        (("C3", SEGNO + "C3" + TO_CODA, "C3" + AL_SEGNO, CODA + "C3"), "1 2 3 2 4"),
        (("C3", repeat("forward") + "C3" + repeat(), "C3" + CAPO), "1 2 2 3 1 2 3"),
        (
            ("C3", repeat("forward") + "C3" + repeat(after_jump="yes"), "C3" + CAPO),
            "1 2 2 3 1 2 2 3",
        ),
        (("C3", bracket("1"), bracket("2", ""), "C3" + CAPO), "1 2 1 3 4 1 3 4"),
        (("C3", "C3" + CAPO + repeat()), "1 2 1 2 1 2"),
        (("C3", "C3" + '<sound dalsegno="x"/>'), "1 2"),
        (("C3" + FINE, "C3"), "1 2"),
    ],
)
def test_play_order(measures: tuple[str, ...], expected: str) -> None:
    whole = [one.replace("C3", note("C3", 4, kind="whole")) for one in measures]
    found = read(*whole)
    assert order(found) == expected
    assert found.onset_s == pytest.approx([4.0 * place for place in range(len(found.played))])


def test_jumps_in_the_middle_of_a_measure() -> None:
    found = read(notes("C3 D3") + FINE + notes("E3 F3"), notes("G3 A3 B3 C4") + CAPO)
    assert order(found) == "1 1 1 1 2 2 2 2 1 1"
    found = read(notes("C3 D3") + SEGNO + notes("E3 F3"), notes("G3") + AL_SEGNO)
    assert line(found).endswith("F3@3+1 G3@4+1 E3@5+1 F3@6+1 G3@7+1")


def test_jumps_in_words_only() -> None:
    whole = note("C3", 4, kind="whole")
    assert order(read(whole + words("Fine"), whole, whole + words("D.C. al Fine"))) == "1 2 3 1"
    segno = "<direction><direction-type><segno/></direction-type></direction>"
    coda = "<direction><direction-type><coda/></direction-type></direction>"
    found = read(
        whole, segno + whole + words("To Coda"), whole + words("D.S. al Coda"), coda + whole
    )
    assert order(found) == "1 2 3 2 4"
    assert "repeat" in kinds(found)
    assert order(read(whole, whole + words("D.C. = Daniel"))) in ("1 2 1 2", "1 2")
    assert order(read(whole + words("dolce"), whole + words("finely"))) == "1 2"


def test_da_capo_goes_to_the_start_of_its_movement() -> None:
    """Galliard: five movements in one part, the last with a da capo."""
    found = open_score(OWN_SCORES / "Galliard_Sonata1.musicxml").read_part()
    starts = [one.measure_index for one in found.notes if one.measure == "1"]
    last_movement = max(starts)
    tail = [found.notes[index].measure_index for index in found.played[-60:]]
    assert min(tail) >= last_movement
    assert found.notes[found.played[-1]].measure == "11"
    assert [one.kind for one in found.warnings] == ["chord"]


def test_repeats_are_capped() -> None:
    whole = note("C3", 4, kind="whole")
    found = read(whole + repeat(times=10**9), whole)
    assert len(found.played) <= 5000 and kinds(found) == {"repeat"}


def test_ties_into_a_second_ending() -> None:
    held = note("C3", 4, kind="whole", tie="start")
    stop = note("C3", 4, kind="whole", tie="stop")
    found = read(
        held,
        ending("1", "start") + stop + ending("1", "stop", '<repeat direction="backward"/>'),
        ending("2", "start") + stop + ending("2", "stop"),
    )
    assert len(found.notes) == 1 and line(found) == "C3@0+8 C3@8+8"
    assert found.warnings == ()


def test_tie_over_a_repeat_start_is_struck_again() -> None:
    found = read(
        note("C3", 4, kind="whole", tie="start"),
        repeat("forward") + note("C3", 4, kind="whole", tie="stop") + repeat(),
    )
    assert line(found) == "C3@0+8 C3@8+4" and len(found.notes) == 1


# Slurs and glides


def slur(kind: str, number: int | None = None) -> str:
    label = "" if number is None else f' number="{number}"'
    return f'<slur type="{kind}"{label}/>'


def curves(*marks: str) -> ScorePart:
    content = "".join(note("C3", notations=one) for one in marks)
    return read(content)


@pytest.mark.parametrize(
    ("marks", "expected"),
    [
        ((slur("start"), "", slur("stop"), ""), "1100"),
        ((slur("start"), slur("stop"), slur("start"), slur("stop")), "1010"),
        ((slur("start"), slur("start") + slur("stop"), slur("stop"), ""), "1100"),
        ((slur("start", 1), slur("start", 2), slur("stop", 2), slur("stop", 1)), "1110"),
        ((slur("start", 1), slur("stop", 1) + slur("start", 2), slur("stop", 2), ""), "1100"),
        ((slur("start"), "", "", ""), "1000"),
        (("", "", slur("stop"), ""), "0100"),
        ((slur("start", 1), slur("start", 1), "", slur("stop", 1)), "1110"),
    ],
)
def test_slurs(marks: tuple[str, ...], expected: str) -> None:
    found = curves(*marks)
    assert "".join(str(int(one)) for one in found.slur) == expected


def test_unclosed_slur_is_warned_of() -> None:
    assert kinds(curves(slur("start"), "", "", "")) == {"slur"}


def test_slur_across_measures_ties_and_rests() -> None:
    found = read(
        notes("C3 C3 C3") + note("D3", notations=slur("start"), tie="start"),
        note("D3", tie="stop") + note("E3", notations=slur("stop")) + notes("F3 G3"),
    )
    assert [int(one) for one in found.slur] == [0, 0, 0, 1, 0, 0, 0]
    over_rest = read(
        note("C3", notations=slur("start")) + note("r") + note("D3", notations=slur("stop"))
    )
    assert over_rest.slur == (False, False)
    within = read(
        note("C3", notations=slur("start"), tie="start")
        + note("C3", notations=slur("stop"), tie="stop")
        + notes("D3")
    )
    assert within.slur == (False, False)


def test_slur_on_the_lower_note_of_a_chord() -> None:
    found = read(
        note("C3", notations=slur("start"))
        + note("G3", first="<chord/>")
        + note("D3", notations=slur("stop"))
    )
    assert found.slur == (True, False)


@pytest.mark.parametrize("tag", ["glissando", "slide"])
def test_glides(tag: str) -> None:
    found = curves(f'<{tag} type="start" number="1"/>', f'<{tag} type="stop" number="1"/>', "")
    assert found.gliss == (True, False, False)
