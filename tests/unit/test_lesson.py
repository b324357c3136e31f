"""Lesson sheets: hard spots cut out of a part as it is, a warm-up, a log; printed in good order."""

import itertools
import json
import random
import re

import musicxml_build as mx
import pytest
from command import one_sentence, run, run_json
from drill_words import SAY, title_of
from pdf_boxes import outside, overlaps, read_pages

from handslide.drills import warmup
from handslide.drills.levels import LEVELS
from handslide.drills.ranges import range_of
from handslide.drills.troublespots import TroubleSpot
from handslide.edges.files.horns import HORN_FILES
from handslide.edges.musicxml.cut import cut_measures
from handslide.edges.musicxml.read import open_score, read_score
from handslide.ground.errors import BadUsage, OutputError
from handslide.instrument.marks import UNPLAYABLE
from handslide.jobs.mark.excerpts import MOST_MEASURES, excerpts_of, find_spots
from handslide.jobs.mark.mark import MarkOptions, choose_for
from handslide.jobs.practice.drill import at_level
from handslide.jobs.practice.goals import steps_to
from handslide.jobs.practice.lesson import LessonWishes, lesson_file, make_lesson
from handslide.jobs.practice.music import mark_pieces
from handslide.jobs.setup import make_setup

EXAMPLE = mx.HERE.parent / "examples" / "lanterns.musicxml"
PARTS = [path for path in mx.XML_FILES if path.stat().st_size < 400_000][:40]


def marked_example(horn="tenor-f", **limits):
    return choose_for(open_score(EXAMPLE), make_setup(horn, **limits), MarkOptions())


def name_of(path) -> str:
    return path.stem[:30]


@pytest.mark.sample
@pytest.mark.parametrize("path", PARTS, ids=name_of)
def test_excerpts_are_cut_out_as_they_stand(path):
    marked = choose_for(open_score(path), make_setup("tenor-f"), MarkOptions())
    spots = find_spots(marked)
    assert len(spots) <= 6
    for one, following in itertools.pairwise(spots):
        assert one.last < following.first
    moved = any(move.length_m > 0.05 for move in marked.routed.moves())
    assert spots or not moved
    for excerpt in excerpts_of(marked):
        spot = excerpt.spot
        assert spot.last - spot.first < MOST_MEASURES
        assert len(set(excerpt.instruction)) == len(excerpt.instruction)
        inside = [n for n in marked.part.notes if spot.first <= n.measure_index <= spot.last]
        data = excerpt.cut.to_bytes()
        score = read_score(data)
        read = score.read_part(marked.part.part_id, marked.part.voice)
        held = len(read.notes) - len(inside)
        # A note held over from before begins an excerpt as a note of its own.
        assert held in (0, 1)
        ordinals = read.ordinals[held:]
        for note, there, ordinal in zip(inside, read.notes[held:], ordinals, strict=True):
            assert there.sounding == note.sounding
            assert there.written == note.written
            assert excerpt.marks.get(ordinal) == marked.printed.get(note.index)
        assert len(excerpt.places) <= len(excerpt.marks)


def test_an_excerpt_opens_with_what_is_in_force():
    marked = marked_example()
    cut = cut_measures(marked.score, marked.part.part_id, 5, 6, "Two measures")
    root, whole = cut.partwise(), marked.score.partwise()
    assert mx.schema().validate(root), mx.schema().error_log
    first = root.find("part/measure")
    for tag in ("divisions", "key", "time", "clef"):
        assert first.find(f"attributes/{tag}") is not None
    assert [m.get("number") for m in root.iter("measure")] == [
        m.get("number") for m in whole.find("part").findall("measure")[5:7]
    ]


@pytest.mark.parametrize("path", sorted(mx.OWN_SCORES.glob("*.musicxml")), ids=name_of)
def test_every_cut_of_a_valid_part_is_valid(path):
    schema = mx.schema()
    score = open_score(path)
    root = score.partwise()
    if not schema.validate(root):
        pytest.skip("the file itself isn't valid")
    part_id = score.parts[0].part_id
    count = len(root.find("part").findall("measure"))
    for first in range(0, count, max(1, count // 25)):
        cut = cut_measures(score, part_id, first, min(first + 2, count - 1), "Cut")
        assert schema.validate(cut.partwise()), (first, schema.error_log)


def test_ties_and_slurs_that_lead_out_are_taken_away():
    tied = '<tied type="start"/>'
    slur = '<slur type="start" number="1"/>'
    measures = [
        mx.note("C3", tie="start", notations=tied + slur),
        mx.note("C3", tie="stop", notations='<tied type="stop"/>')
        + mx.note("D3", tie="start", notations=tied + '<slur type="stop" number="1"/>'),
        mx.note("D3", tie="stop", notations='<tied type="stop"/>'),
    ]
    body = "".join(f'<measure number="{k}">{m}</measure>' for k, m in enumerate(measures, 1))
    text = (
        '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>T</part-name>'
        f'</score-part></part-list><part id="P1">{body}</part></score-partwise>'
    )
    score = read_score(text.encode())
    cut = cut_measures(score, "P1", 1, 1, "Cut")
    assert score.to_bytes() == text.encode()
    assert [e.tag for e in cut.partwise().iter("tie", "tied", "slur", "notations")] == []
    assert (cut.first_note, cut.notes, cut.continued) == (1, 2, (0,))


def test_the_quickest_move_comes_first_and_is_said_in_figures():
    marked = marked_example()
    quickest = max(marked.routed.moves(), key=lambda move: move.speed_m_s)
    spots = find_spots(marked)
    words = [SAY.fact(reason) for spot in spots for reason in spot.reasons]
    (said,) = [reason for reason in words if reason.startswith("quickest move")]
    assert f"{100 * quickest.length_m:.0f} cm" in said
    assert 3 <= len(spots) <= 6


@pytest.mark.parametrize("horn", HORN_FILES.ours)
@pytest.mark.parametrize("level", LEVELS.values(), ids=lambda level: level.name)
@pytest.mark.parametrize("reach", [None, 4.0])
def test_the_warm_up_stays_within_the_level(horn, level, reach):
    setup = at_level(make_setup(horn, reach=reach), level)
    low, high = range_of(setup.book, level)
    pieces = warmup.make(setup, level, random.Random(1))
    assert pieces
    for piece in pieces:
        for bar in piece.bars:
            assert sum(note.beats for note in bar) == 4
        for one, following in itertools.pairwise(piece.bars):
            assert one != following
        for note in piece.notes:
            assert low <= note.pitch.midi <= high
    for one in mark_pieces(setup, pieces, "bass"):
        assert all(not place.valves for place in one.places)
        assert one.marked.found == ()


@pytest.mark.parametrize("level", LEVELS.values(), ids=lambda level: level.name)
def test_warm_ups_vary(level):
    setup = at_level(make_setup("tenor"), level)
    made = {warmup.make(setup, level, random.Random(seed)) for seed in range(12)}
    assert len(made) >= 4


@pytest.mark.parametrize(("horn", "paper"), [("tenor-f", "a4"), ("tenor", "letter")])
def test_a_lesson_sheet_is_printed_in_good_order(horn, paper):
    wishes = LessonWishes(student="Mira Holt", paper=paper)
    lesson = make_lesson(open_score(EXAMPLE), make_setup(horn, reach=6.0), wishes, 2)
    pages = read_pages(lesson.pdf(SAY))
    for page in pages:
        assert outside(page, 5.0) == []
        # The tail of a Q runs below its u: one face's own letters, no clash.
        clashes = [(a.text, b.text) for a, b in overlaps(page, 0.45)]
        assert [pair for pair in clashes if pair != ("Q", "u")] == []
    text = "".join(text.text for page in pages for text in page.texts).replace(" ", "")
    for words in ("Warm-up", "Thisweek", "Hardspots", "Practicelog", "MiraHolt", "Sun"):
        assert words in text
    rows = lesson.log(SAY).rows
    assert len(rows) == len(lesson.warmup) + len(lesson.drills) + len(lesson.excerpts) + 1
    assert len(lesson.drills) == 4


def test_a_report_brings_its_trouble_spots_first():
    wishes = LessonWishes(faults=(TroubleSpot(48, (), 3, 46, 20.0, -9.0),))
    lesson = make_lesson(open_score(EXAMPLE), make_setup("tenor-f"), wishes)
    assert lesson.drills[0].kind == "trouble-spots"
    assert "C3" in title_of(lesson.drills[0].pieces[0].piece)


def test_drills_asked_for_are_made_or_refused():
    wishes = LessonWishes(drills=("glissandi", "scales"))
    lesson = make_lesson(open_score(EXAMPLE), make_setup("tenor-f"), wishes)
    assert [sheet.kind for sheet in lesson.drills] == ["glissandi", "scales"]
    with pytest.raises(BadUsage, match="no valve"):
        make_lesson(open_score(EXAMPLE), make_setup("tenor"), LessonWishes(drills=("register",)))


def test_a_first_year_meets_neither_alternates_nor_a_valve_that_it_has_not_learned():
    score, learned = open_score(EXAMPLE), make_setup("tenor-f", learned=["F"])
    kinds = set()
    for seed in range(8):
        wishes = LessonWishes(level="first-year", ladders=0)
        found = make_lesson(score, make_setup("tenor-f"), wishes, seed).drills
        kinds |= {sheet.kind for sheet in found}
        kinds |= {
            f"{sheet.kind} learned" for sheet in make_lesson(score, learned, wishes, seed).drills
        }
    assert not kinds & {"alternates", "register", "alternates learned"}
    assert "register learned" in kinds and "lip-slurs" in kinds


def test_the_same_seed_makes_the_same_sheet():
    def pdf(seed):
        return make_lesson(open_score(EXAMPLE), make_setup("tenor-f"), None, seed).pdf(SAY)

    first = pdf(1)
    assert pdf(1) == first
    assert pdf(2) != first


def test_the_part_is_never_written_over(tmp_path):
    part = tmp_path / "part.pdf"
    part.write_bytes(EXAMPLE.read_bytes())
    with pytest.raises(OutputError):
        lesson_file(part, make_setup("tenor"), LessonWishes(), SAY, target=part, force=True)
    with pytest.raises(BadUsage, match="ends in"):
        lesson_file(part, make_setup("tenor"), LessonWishes(), SAY, target=tmp_path / "x.txt")


def test_the_command(tmp_path):
    pdf = tmp_path / "lesson.pdf"
    found = run_json("lesson", EXAMPLE, "--horn", "tenor-f", "--student", "Mira", "-o", pdf)
    assert found["files"] == [str(pdf)]
    assert pdf.read_bytes().startswith(b"%PDF")
    assert 3 <= len(found["excerpts"]) <= 6
    assert "exists already" in one_sentence(run("lesson", EXAMPLE, "-o", pdf, code=1))
    report = tmp_path / "r.json"
    report.write_text(json.dumps({"notes": [{"midi": 50, "cents": 30.0}]}))
    text = run("lesson", EXAMPLE, "--from", report, "-o", pdf, "--force").stdout
    assert "Hard spots" in text and "Warm-up" in text
    said = one_sentence(
        run("lesson", EXAMPLE, "--drill", "trouble-spots", "-o", pdf, "--force", code=2)
    )
    assert "--from" in said


def test_the_log_counts_in_the_beats_of_the_metronome_mark():
    seen = set()
    for seed in range(12):
        wishes = LessonWishes(drills=("scales",))
        lesson = make_lesson(open_score(EXAMPLE), make_setup("tenor-f"), wishes, seed)
        pieces = [*lesson.warmup, *(one for sheet in lesson.drills for one in sheet.pieces)]
        for one, (_, title, tempo) in zip(pieces, lesson.log(SAY).rows):
            assert title == title_of(one.piece)
            dotted = one.piece.meter == (6, 8)
            seen.add(dotted)
            sign, bpm = tempo.removeprefix("of ").split(" = ")
            assert sign == ("♩." if dotted else "♩")
            assert float(bpm) * (1.5 if dotted else 1.0) == pytest.approx(one.piece.tempo_qpm)
    assert seen == {False, True}


def test_quick_moves_are_named_by_their_notes():
    found = [SAY.fact(reason) for spot in find_spots(marked_example()) for reason in spot.reasons]
    quick = [text for text in found if text.startswith("quick")]
    assert quick and all(re.search(r"quick(est)? move \S+ to \S+, \d+ cm in", one) for one in quick)


def test_excerpts_have_the_part_s_own_fingerings_once_and_the_sign_of_what_cant_be_played():
    def fingered(name, text):
        return mx.note(name, notations=f"<technical><fingering>{text}</fingering></technical>")

    quick = "".join(fingered(name, text) for name, text in (("C3", "6"), ("Bb2", "1")) * 2)
    data = mx.score(mx.part(mx.attributes() + mx.tempo(120) + quick, mx.notes("Bb1 B1 C3 Bb2")))
    score = read_score(data)
    lesson = make_lesson(score, make_setup("tenor-f"), LessonWishes(drills=("scales",)))
    marks = {text for one in lesson.excerpts for text in one.marks.values()}
    assert "6" in marks and UNPLAYABLE in marks
    (first, *_) = lesson.excerpts
    assert first.spot.first == 0
    assert {(0, "6"), (1, "1")} <= first.hidden
    sheet = lesson.worksheet(SAY)
    assert UNPLAYABLE in dict(sheet.legend)
    group = sheet.groups[-1].exercises[0]
    assert "".join(group.music).count(">6<") == sum(t == "6" for t in first.marks.values())


def test_a_lesson_says_what_cant_be_played_why_and_what_helps():
    def made(horn, level, **limits):
        setup = make_setup(horn, **limits)
        wishes = LessonWishes(level=level, drills=("scales",))
        return make_lesson(open_score(EXAMPLE), setup, wishes)

    for horn, level, limits, why in (
        ("tenor-f", "first-year", {}, "level"),
        ("tenor-f", "advanced", {"reach": 4.0}, "limits"),
        ("tenor", "advanced", {}, "horn"),
    ):
        lesson = made(horn, level, **limits)
        assert lesson.unplayable.by[why] > 0
        total = len(lesson.marked.part.notes)
        found = lesson.json(SAY)["unplayable"]
        assert found["count"] == total - len(lesson.marked.routed.places) > 0
        assert found["count"] == sum(found["forbidden_by"].values())
        assert found["count"] == sum(len(row["measures"]) for row in found["notes"])
        said = lesson.worksheet(SAY).notices
        assert f"{found['count']} of {total} notes can't be played" in said[0]
        assert len(said) == 2
    # On a horn that has all of it nothing is said.
    whole = made("bass-independent", "advanced")
    assert whole.json(SAY)["unplayable"] is None and whole.worksheet(SAY).notices == ()


def test_the_level_reaches_the_excerpts_but_not_what_the_teacher_fixed():
    score, setup = open_score(EXAMPLE), make_setup("tenor-f")
    wishes = LessonWishes(level="first-year", drills=("scales",))
    free = choose_for(score, setup, MarkOptions())
    lesson = make_lesson(score, setup, wishes)
    assert all(not p.valves and p.position < 6.3 for p in lesson.marked.routed.places.values())
    beyond = {n: p for n, p in free.routed.places.items() if p.valves}
    number, place = next(iter(beyond.items()))
    fixed = make_lesson(score, setup, wishes, fixed={number: place})
    assert fixed.marked.routed.places[number] == place


@pytest.mark.parametrize("share", [0.5, 0.6, 0.75])
def test_every_goal_has_steps_below_it(share):
    for goal in (*range(2, 60), 76.5, 92, 104, 144, 208, 320):
        steps = steps_to(goal, share * goal)
        assert steps[-1] == round(goal) and list(steps) == sorted(set(steps))
        assert min(steps) >= min(share * goal, round(goal) - 1)
        assert len(steps) == 5 if goal >= 20 else 2 <= len(steps) <= 5
        if goal >= 20:  # no step is a leap
            assert max(b / a for a, b in itertools.pairwise(steps)) < 1.35
    assert steps_to(40, 30) == (30, 32, 34, 36, 40)
    # Steps that every metronome has.
    assert steps_to(72, 54) == (54, 56, 60, 66, 72)


@pytest.mark.parametrize("level", LEVELS.values(), ids=lambda level: level.name)
def test_an_excerpt_has_a_goal_within_the_level_and_steps_up_to_it(level):
    wishes = LessonWishes(level=level.name, drills=("scales",))
    lesson = make_lesson(open_score(EXAMPLE), make_setup("tenor-f"), wishes)
    for one in lesson.excerpts:
        goal, steps = lesson.tempos(one)
        assert goal <= max(one.tempo_qpm, 40.0) and goal <= max(level.tempo_qpm, 40.0)
        assert steps[-1] == round(goal) and list(steps) == sorted(set(steps))
        assert len(steps) <= 5 and len(steps) >= 3
        assert len(one.instruction) <= 2
        assert f"{goal:.0f}" in SAY.fact(lesson.told(one)[0])
