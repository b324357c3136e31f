"""A daily routine: its minutes, its days, its paper; a plan's keys and what comes back."""

import json
import random
from datetime import date

import pytest
from command import one_sentence, run, run_json
from drill_words import SAY
from lxml import etree
from musicxml_build import schema
from pdf_boxes import outside, overlaps, read_pages

from handslide.drills.levels import LEVELS, level_of
from handslide.drills.plan import Weak, make_weeks, week_keys
from handslide.drills.routine import EVERY_DAY, MINUTES, MOST_ON_END_S, articulations_of
from handslide.edges.files.horns import HORN_FILES
from handslide.ground.errors import BadUsage
from handslide.instrument.progress.comeback import Outcome, Step, come_back
from handslide.jobs.practice.drill import at_level
from handslide.jobs.practice.music import struck
from handslide.jobs.practice.plan import PlanWishes, make_plan
from handslide.jobs.practice.routine import Asked, make_week, unmarked_week
from handslide.jobs.setup import make_setup
from handslide.words.speech import speech

START = date(2026, 11, 30)  # a Monday


def some_weeks(count, seed, make=make_week):
    """Routines over horns, levels, lengths, reaches and weeks."""
    rng = random.Random(seed)
    for number in range(count):
        horn = rng.choice(HORN_FILES.ours)
        asked = Asked(
            minutes=MINUTES[number % 3],
            level=rng.choice(tuple(LEVELS)),
            week=rng.randrange(10),
            paper=rng.choice(("a4", "letter")),
        )
        reach = rng.choice((None, None, 6.0, 5.0, 4.0))
        yield asked, make(make_setup(horn, reach=reach), asked, rng.randrange(1000))


def written_s(routine):
    """Seconds of each piece once, from its notes in MusicXML and its metronome mark."""
    found = []
    root = etree.fromstring(routine.musicxml(SAY))
    divisions = tempo = None
    for measure in root.iter("measure"):
        if measure.find("attributes/divisions") is not None:
            divisions = int(measure.findtext("attributes/divisions"))
        sound = measure.find(".//sound[@tempo]")
        if sound is not None:
            tempo = float(sound.get("tempo"))
            found.append(0.0)
        beats = sum(int(note.findtext("duration")) for note in measure.iter("note")) / divisions
        found[-1] += beats * 60.0 / tempo
    return found


def test_minutes_are_those_of_what_is_printed():
    for _, routine in some_weeks(4, 1):
        rows = [row for block in routine.parts for row in routine.rows(block)]
        assert written_s(routine) == pytest.approx([row.once_s for row in rows])
        breaths = sum(
            (one.counts_in + one.counts_out) * one.times
            for block in routine.blocks
            for one in block.breaths
        )
        for day in EVERY_DAY:
            played = sum(
                row.once_s * row.times + row.rest_s
                for row in rows
                if day in row.days and not row.model
            )
            assert routine.seconds(day) == pytest.approx(breaths + played)


def test_each_day_is_as_long_as_asked_for():
    for asked, week in some_weeks(12, 2, unmarked_week):
        for day in EVERY_DAY:
            seconds = sum(block.seconds(day) for block in week.blocks)
            assert seconds == pytest.approx(60.0 * asked.minutes, rel=0.15), (asked, day)


def test_nobody_plays_long_without_a_rest():
    for _, week in some_weeks(8, 3, unmarked_week):
        for block in week.blocks:
            for row in block.rows:
                if not row.model:
                    assert row.times * row.once_s <= MOST_ON_END_S[week.level.name] + 1e-6
                    assert row.rest_s >= max(10, 0.2 * row.times * row.once_s)


def test_a_tune_is_sung_a_few_times_not_drilled():
    for _, week in some_weeks(10, 5, unmarked_week):
        tunes = [row for block in week.blocks if block.name == "tune" for row in block.rows]
        assert all(1 <= row.times <= 4 for row in tunes)


def test_every_note_has_its_place_and_the_score_is_valid():
    xsd = schema()
    for _, routine in some_weeks(3, 4):
        book = routine.setup.book
        for one in routine.pieces:
            assert one.marked.found == ()
            for number, note in enumerate(struck(one.piece)):
                assert one.marked.routed.places[number] in book.places(note.pitch.midi)
            for bar in one.piece.bars:
                assert sum(note.beats for note in bar) == one.piece.bar_beats
        root = etree.fromstring(routine.musicxml(SAY))
        assert xsd.validate(root), xsd.error_log


def test_a_week_goes_through_all_articulations_and_its_slurs_grow():
    routine = make_week(make_setup("tenor-f"), Asked(20, "second-year"), 1)
    blocks = {block.name: block for block in routine.blocks}
    assert any(note.swell for row in blocks["long-tones"].rows for note in row.piece.notes)
    slurs = blocks["lip-slurs"].rows
    first = [n for n, row in enumerate(slurs) if 0 in row.days]
    last = [n for n, row in enumerate(slurs) if 6 in row.days]
    assert len(first) == len(last) == 2 and max(last) > max(first)
    scale, model = blocks["scale"].rows[:2]
    assert scale.by_day and model.model
    shown = [bar[0].remark["days"] for bar in model.piece.bars]
    assert sorted(day for days in shown for day in days) == list(EVERY_DAY)
    # In the bars stands what the words say: plain, broad, short, slurred two by two, by four.
    told = dict(zip(articulations_of(level_of("second-year")), model.piece.bars))
    assert all(not (note.slur or note.articulation) for note in told["tongued"])
    assert all(note.articulation == "tenuto" for note in told["legato"])
    assert any(note.articulation == "staccato" for note in told["staccato"])
    assert [note.slur for note in told["slur-2"]] == [True, False, True, False]
    assert [note.slur for note in told["slur-4"]] == [True, True, True, False]


def test_a_day_has_what_is_its_own():
    setup = make_setup("tenor-f")
    again = (("intervals", (2,)),)
    week = make_week(setup, Asked(20, again=again), 4)
    for day in (2, 4):
        one = make_week(setup, Asked(20, again=again, day=day), 4)
        assert {block.name for block in one.parts} == {
            block.name for block in week.blocks if block.seconds(day)
        }
        assert ("again" in {block.name for block in one.parts}) == (day == 2)
        assert one.seconds(day) == pytest.approx(60.0 * 20, rel=0.15)
        assert not any(row.model for block in one.parts for row in one.rows(block))
    slurred = make_week(setup, Asked(20, day=4), 4)
    assert articulations_of(slurred.level)[4] == "slur-4"
    scale = next(block for block in slurred.blocks if block.name == "scale").rows[0]
    assert [note.slur for note in scale.piece.notes[:4]] == [True, True, True, False]


@pytest.mark.parametrize(
    ("level", "scale"),
    [*((level, "major") for level in LEVELS), ("second-year", "harmonic-minor"),
     ("advanced", "melodic-minor")],
)  # fmt: skip
def test_a_day_ends_with_another_tune_by_the_seed(level, scale):
    setup, found = make_setup("tenor"), set()
    for seed in range(1, 13):
        week = unmarked_week(setup, Asked(minutes=10, level=level, key="D", scale=scale), seed)
        found |= {row.piece.title for block in week.blocks if block.name == "tune"
                  for row in block.rows}  # fmt: skip
        if len(found) >= 3:
            break
    assert len(found) >= 3


def test_a_sheet_has_two_pages_at_most_and_nothing_clashes():
    for asked, routine in some_weeks(3, 7):
        pages = read_pages(routine.pdf(SAY))
        assert len(pages) <= 2, asked
        for page in pages:
            assert outside(page, 5.0) == []
            assert [(a.text, b.text) for a, b in overlaps(page, 0.45)] == []
        sizes = [text.size_pt for page in pages for text in page.texts if text.text.strip()]
        assert min(sizes) >= 8.0 - 1e-3
        text = "".join(t.text for page in pages for t in page.texts).replace(" ", "")
        # A box for each day of an exercise, with the day in it.
        boxes = sum(
            len(row.days) for block in routine.blocks for row in block.rows if not row.model
        )
        assert text.count("Mon") >= 1 and boxes <= sum(
            text.count(day) for day in ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
        )


# The keys of the weeks.


def keys(horn, level, reach=None):
    setup = at_level(make_setup(horn, reach=reach), level_of(level))
    return [(key.name, key.scale) for key in week_keys(setup, level_of(level))]


def test_keys_are_in_the_order_of_the_books():
    """First books of brass teachers begin in the horn's own key and with flats; the circle of
    fifths as every theory book has it (common practice)."""
    assert [name for name, _ in keys("tenor", "first-year")] == ["Bb", "Eb", "F", "C"]
    assert [name for name, _ in keys("alto", "first-year")][:2] == ["Eb", "Bb"]
    advanced = keys("tenor-f", "advanced")
    circle = ["Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G", "C", "F"]
    assert [name for name, scale in advanced if scale == "major"] == circle
    assert {scale for _, scale in advanced[12:]} == {"melodic-minor"}
    second = [name for name, scale in keys("tenor-f", "second-year") if scale == "major"]
    assert second == ["Bb", "Eb", "Ab", "F", "C", "G", "D"]


def test_only_keys_within_reach_come():
    assert keys("tenor", "first-year", reach=3.0) == [("Bb", "major")]
    short = {name for name, _ in keys("tenor", "second-year", reach=5.0)}
    long = {name for name, _ in keys("tenor", "second-year")}
    assert short < long
    for name in short:
        routine = make_week(make_setup("tenor", reach=5.0), Asked(10, key=name), 1)
        assert any(block.name == "scale" for block in routine.blocks)


def test_weeks_begin_again_after_the_last_key():
    setup, level = make_setup("tenor"), level_of("first-year")
    weeks = make_weeks(at_level(setup, level), level, 6)
    assert [week.key.name for week in weeks] == ["Bb", "Eb", "F", "C", "Bb", "Eb"]
    with pytest.raises(BadUsage, match="1 to 52"):
        make_weeks(setup, level, 53)


# What comes back.


def test_what_was_weak_comes_back_after_1_3_and_7_days():
    assert come_back([]) is None
    assert come_back([Outcome(4, True)]) is None
    back = come_back([Outcome(10, False)])
    assert back.failed == 10
    assert back.steps == (Step(11), Step(13), Step(17))
    assert back.next_due == 11 and not back.settled
    assert [day for day in range(9, 20) if back.waits(day)] == list(range(11, 20))


def test_what_goes_well_is_done_and_what_fails_begins_anew():
    found = [Outcome(10, False), Outcome(11, True)]
    back = come_back(found)
    assert back.steps == (Step(11, 11), Step(13), Step(17))
    assert back.waits(11) and not back.waits(12) and back.waits(13)
    # Too early counts for nothing; late counts for all that was due.
    assert come_back([*found, Outcome(12, True)]).next_due == 13
    assert come_back([*found, Outcome(18, True)]).settled
    # It fails again: from the beginning, whatever went well before.
    again = come_back([*found, Outcome(13, False), Outcome(13, True)])
    assert again.failed == 13
    assert [step.due for step in again.steps] == [14, 16, 20]
    assert all(step.done is None for step in again.steps)
    whole = [Outcome(0, False), *(Outcome(day, True) for day in (1, 3, 7))]
    assert come_back(whole).settled and come_back(whole).next_due is None


def test_order_of_the_outcomes_is_no_matter():
    rng = random.Random(5)
    for _ in range(50):
        rows = [Outcome(rng.randrange(30), rng.random() < 0.6) for _ in range(rng.randrange(1, 9))]
        mixed = rng.sample(rows, len(rows))
        assert come_back(rows) == come_back(mixed)


def test_a_plan_puts_what_is_weak_on_its_days():
    setup, level = make_setup("tenor"), level_of("first-year")
    weeks = make_weeks(at_level(setup, level), level, 2, [Weak("range", -1), Weak("intervals", 3)])
    assert weeks[0].again == (("range", (0, 2, 6)), ("intervals", (4, 6)))
    assert weeks[1].again == (("intervals", (3,)),)
    wishes = PlanWishes(START, 2, weak=(("range", date(2026, 11, 29)),))
    plan = make_plan(setup, wishes)
    days = plan.json(SAY)["weeks"][0]["days"]
    assert [day["date"] for day in days if day["again"]] == [
        "2026-11-30", "2026-12-02", "2026-12-06",
    ]  # fmt: skip
    routine = plan.routine(plan.weeks[0])
    rows = next(block for block in routine.blocks if block.name == "again").rows
    assert [row.days for row in rows] == [(0, 2, 6)]


# The commands.


def test_the_command_routine(tmp_path):
    pdf = tmp_path / "week.pdf"
    words = ("routine", "--minutes", 10, "--level", "first-year", "--horn", "tenor", "-o", pdf)
    told = run_json(*words)
    assert told["files"] == [str(pdf)] and told["warnings"] == []
    assert told["key"] == "Bb" and len(told["day_seconds"]) == 7
    assert [block["block"] for block in told["blocks"]] == [
        "breathing", "long-tones", "lip-slurs", "scale", "tune",
    ]  # fmt: skip
    assert len(read_pages(pdf.read_bytes())) <= 2
    assert "exists" in one_sentence(run(*words, code=1))
    assert " min " in run(*words, "--force").stdout
    one_sentence(run("routine", "-o", tmp_path / "week.txt", code=2))
    run("routine", "--minutes", 15, code=2)


def test_a_routine_has_the_trouble_spots_of_a_report(tmp_path):
    report = tmp_path / "report.json"
    note = {"note": "D3", "midi": 50, "cents": 30.0}
    others = {48: "C3", 53: "F3", 46: "Bb2", 55: "G3"}
    rows = [note, *({"note": name, "midi": m, "cents": 0.0} for m, name in others.items())]
    report.write_text(json.dumps({"notes": rows}))
    told = run_json("routine", "--from", report, "-o", tmp_path / "r.pdf", "--horn", "tenor")
    assert told["blocks"][-1]["block"] == "trouble-spots"


# In French the words are longest.
@pytest.mark.parametrize("weeks, pages, code", [(8, 1, "en"), (8, 1, "fr"), (10, 2, "en")])
def test_eight_weeks_are_on_one_page_and_no_week_is_alone_on_the_next(weeks, pages, code):
    wishes = PlanWishes(START, weeks, level="first-year")
    found = read_pages(make_plan(make_setup("tenor-f"), wishes).pdf(speech(code)))
    assert len(found) == pages
    last = "\n".join(text.text for text in found[-1].texts)
    assert last.count("Semaine" if code == "fr" else "Week") >= 3


def test_the_command_plan(tmp_path):
    words = ("plan", "--weeks", 2, "--horn", "tenor", "--level", "first-year", "--start", START)
    told = run_json(*words, "--weak", "range=2026-12-01", "-o", tmp_path, "--sheets")
    assert [week["key"] for week in told["weeks"]] == ["Bb", "Eb"]
    again = [day["date"] for week in told["weeks"] for day in week["days"] if day["again"]]
    assert again == ["2026-12-02", "2026-12-04", "2026-12-08"]
    names = [file.rpartition("/")[2] for file in told["files"]]
    assert names == ["plan.pdf", "plan-week-1.pdf", "plan-week-2.pdf"]
    (page,) = read_pages((tmp_path / "plan.pdf").read_bytes())
    assert outside(page, 5.0) == [] and overlaps(page, 0.45) == []
    assert "↺" in "".join(text.text for text in page.texts)
    assert "2026-11-30" in one_sentence(run(*words, "--weak", "range=12", code=2))
    assert "rnge" in one_sentence(run(*words, "--weak", "rnge", code=2))
    one_sentence(run(*words, "--weak", "trouble-spots", "-o", tmp_path / "x", code=2))
