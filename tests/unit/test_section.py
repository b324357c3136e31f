"""A section: several parts of one score, each for its own student and horn."""

import json
from pathlib import Path

import musicxml_build as xml
import pypdfium2 as pdfium
import pytest
from command import one_sentence, run

from handslide.edges.files.roster import BrokenRow, RosterRow
from handslide.edges.musicxml.read import open_score, read_score
from handslide.ground.facts import fact
from handslide.jobs.mark.section import deal
from handslide.words.speech import speech

NAMES = ("Trumpet", "Trombone 1", "Trombone 2", "Bass Trombone")


def section_score(names=NAMES):
    lines = ("C5 D5 E5 F5", "F3 G3 A3 Bb3", "D3 E3 F3 G3", "Bb2 C3 D3 C2")
    parts = [
        xml.part(xml.notes(line), part_id=f"P{number}")
        for number, line in enumerate(lines[: len(names)], 1)
    ]
    return xml.score(*parts, names=names)


@pytest.fixture
def score(tmp_path):
    path = tmp_path / "chorale.musicxml"
    path.write_bytes(section_score())
    return path


def roster(tmp_path, text):
    path = tmp_path / "class.csv"
    path.write_text(text, encoding="utf-8")
    return path


def row(number, part=None, student="Ada"):
    return RosterRow(number, student, "", None, None, None, None, None, None, part)


def seated(score, *rows, broken=()):
    seating = deal(score, rows, broken)
    return [(seat.row.number, seat.part.name) for seat in seating.seats], seating


def fingerings(path):
    """The marks of each part of a score."""
    found = open_score(path)
    return {
        part.name: [
            one.text for note in found.note_elements(part.part_id) for one in note.iter("fingering")
        ]
        for part in found.parts
    }


def test_the_trombones_are_dealt_out_in_the_order_of_the_score():
    found, seating = seated(read_score(section_score()), row(2), row(3), row(4))
    assert found == [(2, "Trombone 1"), (3, "Trombone 2"), (4, "Bass Trombone")]
    assert all(seat.dealt for seat in seating.seats)
    assert seating.idle == () and not seating.repeated


def test_who_names_a_part_gets_it_and_the_others_get_what_is_left():
    found, seating = seated(read_score(section_score()), row(2), row(3, "Trombone 1"), row(4, "P4"))
    assert found == [(2, "Trombone 2"), (3, "Trombone 1"), (4, "Bass Trombone")]
    assert [seat.dealt for seat in seating.seats] == [True, False, False]


def test_more_students_than_parts_begin_again():
    found, seating = seated(read_score(section_score()), row(2, "bass"), row(3), row(4), row(5))
    assert [name for _, name in found] == [
        "Bass Trombone", "Trombone 1", "Trombone 2", "Trombone 1",
    ]  # fmt: skip
    assert seating.repeated


def test_a_part_that_nobody_plays_is_said():
    _, seating = seated(read_score(section_score()), row(2))
    assert [part.name for part in seating.idle] == ["Trombone 2", "Bass Trombone"]


def test_a_broken_row_keeps_its_turn_and_its_part():
    whole = read_score(section_score())
    broken = BrokenRow(2, "Ben", fact("roster.no_name"))
    assert seated(whole, row(3), broken=[broken])[0] == [(3, "Trombone 2")]
    named = BrokenRow(2, "Ben", fact("roster.no_name"), "Trombone 1")
    found, seating = seated(whole, row(3), broken=[named])
    assert found == [(3, "Trombone 2")]
    assert [part.name for part in seating.idle] == ["Bass Trombone"]


def test_a_score_of_one_part_is_everybodys():
    alone = read_score(section_score(("Solo",)))
    assert seated(alone, row(2), row(3))[0] == [(2, "Solo"), (3, "Solo")]


def test_a_score_without_trombones_asks_for_the_column():
    whole = read_score(section_score(("Trumpet", "Horn")))
    found, seating = seated(whole, row(2), row(3, "Horn"))
    assert found == [(3, "Horn")]
    (bad,) = seating.unseated
    said = speech("en").fact(bad.problem)
    assert "write into the column part which one is meant" in said
    assert "1 'Trumpet', 2 'Horn'" in said


def test_a_number_counts_the_trombones_where_there_are_some():
    whole = read_score(section_score())
    found, seating = seated(whole, row(2, "3"), row(3, "4"))
    assert found == [(2, "Bass Trombone")]
    (bad,) = seating.unseated
    said = speech("en").fact(bad.problem)
    assert said.startswith("part 4: the trombone parts of this score are 1 'Trombone 1', 2 ")
    assert seated(read_score(section_score(("Horn", "Tuba"))), row(2, "2"))[0] == [(2, "Tuba")]


def test_abbreviations_count_only_where_no_name_does():
    assert [p.name for p in read_score(section_score(("Tbn", "Trombone", "Flute"))).trombones] == [
        "Trombone"
    ]
    assert [p.name for p in read_score(section_score(("Tbn 1", "Tbn 2", "Flute"))).trombones] == [
        "Tbn 1", "Tbn 2",
    ]  # fmt: skip


def test_a_run_writes_a_score_and_a_pdf_each(tmp_path, score):
    path = roster(
        tmp_path,
        "student,horn,part,reach\nAda,tenor,,\nBen,tenor-f,1,6\nCleo,bass-independent,bass,\n",
    )
    # A number counts the trombones: 1 isn't the trumpet.
    out = json.loads(
        run("section", score, "--class", path, "-o", tmp_path / "out", "--json").stdout
    )
    got = [(s["student"], s["part"], s["horn"], s["dealt"]) for s in out["students"]]
    assert got == [
        ("Ada", "Trombone 2", "tenor", True),
        ("Ben", "Trombone 1", "tenor-f", False),
        ("Cleo", "Bass Trombone", "bass-independent", False),
    ]
    assert out["problems"] == [] and out["idle_parts"] == []
    assert [Path(file).name for file in out["files"]] == [
        f"chorale-{name}-marked.{suffix}"
        for name in ("Ada", "Ben", "Cleo")
        for suffix in ("musicxml", "pdf")
    ]
    marks = fingerings(Path(out["students"][2]["files"][0]))
    # Each score holds the marks of its own student only.
    assert [name for name, texts in marks.items() if texts] == ["Bass Trombone"]
    assert Path(out["files"][1]).read_bytes().startswith(b"%PDF")
    assert not any(fingerings(score).values())


def test_the_example_fits_a_section(tmp_path, score):
    example = Path(__file__).parents[2] / "examples" / "section.csv"
    out = json.loads(
        run("section", score, "--class", example, "-o", tmp_path, "--no-pdf", "--json").stdout
    )
    got = {row["student"]: (row["part"], row["horn"]) for row in out["students"]}
    assert got == {
        "Ada Winkler": ("Trombone 1", "tenor"),
        "Ben Okafor": ("Trombone 2", "tenor-f"),
        "Greta Sokolova": ("Bass Trombone", "bass-independent"),
    }


def test_a_row_that_fails_leaves_the_others(tmp_path, score):
    path = roster(
        tmp_path,
        "student,horn,part,reach\nAda,kazoo,,\nBen,tenor,,\nCleo,tenor,tuba,\nDan,tenor,,far\n",
    )
    words = ("section", score, "--class", path, "-o", tmp_path / "out", "--no-pdf")
    result = run(*words, "--json", code=1)
    out = json.loads(result.stdout)
    assert [(s["student"], s["part"]) for s in out["students"]] == [("Ben", "Trombone 2")]
    assert [(p["row"], p["kind"]) for p in out["problems"]] == [
        (2, "horn.unknown"), (4, "scores.no_such_part"), (5, "roster.no_position"),
    ]  # fmt: skip
    lines = result.stderr.strip().splitlines()
    assert [line.split(":")[1] for line in lines] == [
        " row 2 (Ada)", " row 4 (Cleo)", " row 5 (Dan)",
    ]  # fmt: skip
    assert len(list((tmp_path / "out").iterdir())) == 1


def test_the_text_says_who_plays_what_and_how_that_was_settled(tmp_path, score):
    path = roster(tmp_path, "student,horn,names\nAda,tenor,\nBen,alto,german\n")
    words = ("section", score, "--class", path, "-o", tmp_path / "out", "--no-pdf")
    out = run(*words).stdout
    assert "says nothing for Ada and Ben" in out
    assert "in the order of the score" in out
    assert "Nobody plays Bass Trombone." in out
    assert out.count("written: ") == 2
    assert "use --force" in one_sentence(run(*words, code=1))
    run(*words, "--force")


def test_when_no_row_can_be_used_it_is_an_error(tmp_path, score):
    path = roster(tmp_path, "student,horn\nAda,kazoo\n")
    said = one_sentence(run("section", score, "--class", path, "-o", tmp_path / "out", code=1))
    assert "no row can be used (row 2:" in said
    assert not (tmp_path / "out").exists()


def test_valves_belong_into_the_roster(tmp_path, score):
    path = roster(tmp_path, "student\nAda\n")
    said = one_sentence(run("section", score, "--class", path, "--valves", "F", code=2))
    assert "column valves" in said


def test_fingerings_are_checked_part_by_part(tmp_path, score):
    path = roster(tmp_path, "student\nAda\n")
    words = ("section", score, "--class", path, "--existing", "check")
    assert "goes with mark" in one_sentence(run(*words, code=2))


def test_a_row_that_fails_in_no_foreseen_way_takes_no_other_with_it(score, tmp_path, monkeypatch):
    from handslide.jobs.mark import section

    whole = section.mark_file

    def fails(path, setup, wishes, *rest, **more):
        if wishes.student == "Ben":
            raise RuntimeError("nobody foresaw it")
        return whole(path, setup, wishes, *rest, **more)

    monkeypatch.setattr(section, "mark_file", fails)
    path = roster(tmp_path, "student\nAda\nBen\nCleo\n")
    done = run(
        "section", str(score), "--class", str(path), "-o", str(tmp_path / "out"), "--no-pdf",
        code=1,
    )  # fmt: skip
    assert "row 3 (Ben): it could not be made: this is a mistake of handslide" in done.stderr
    names = sorted(file.name for file in (tmp_path / "out").iterdir())
    assert names == ["chorale-Ada-marked.musicxml", "chorale-Cleo-marked.musicxml"]


def test_each_student_is_spoken_to_in_their_own_language(score, tmp_path):
    path = roster(tmp_path, "student,language\nAda,de\nBen,\n")
    out = tmp_path / "out"
    run("section", str(score), "--class", str(path), "-o", str(out))
    texts = {}
    for name in ("Ada", "Ben"):
        page = pdfium.PdfDocument(out / f"chorale-{name}-marked.pdf")[0]
        texts[name] = page.get_textpage().get_text_range()
    assert "für Ada" in texts["Ada"]
    assert "for Ben" in texts["Ben"]


def test_a_brass_band_part_without_its_transposition_is_named(tmp_path):
    treble = (
        "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time>"
        "<clef><sign>G</sign><line>2</line></clef></attributes>"
    )
    path = tmp_path / "band.musicxml"
    path.write_bytes(
        xml.score(xml.part(treble + xml.notes("C4 D4 E4 F4")), names=("Trombone in B♭",))
    )
    options = ("section", path, "--class", roster(tmp_path, "student\nAda\n"), "--no-pdf")
    told = run(*options, "-o", tmp_path / "a").stdout
    assert "Ada: the part 'Trombone in B♭' is in treble clef" in told
    told = run(*options, "-o", tmp_path / "b", "--sounds", "Bb-treble").stdout
    assert "treble clef" not in told
