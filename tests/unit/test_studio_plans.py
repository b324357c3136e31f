"""A student's plan in the studio: what takes fill in, what hands tick, what comes back when."""

import re
from datetime import UTC, date, datetime, timedelta
from html import unescape

import pytest
from progress_students import give_student, give_takes
from studio_pages import client, studio, words

from handslide.drills.keys import parse_tonic
from handslide.drills.played import is_played
from handslide.edges.store.takes import NoteRow
from handslide.ground.errors import BadUsage, NotFound
from handslide.instrument.progress.rows import TakenNote
from handslide.jobs.practice.music import struck
from handslide.studio.home.practicestrips import week_strip
from handslide.studio.parts.stand import list_stands
from handslide.studio.practice.comebacks import comebacks, went_well
from handslide.studio.practice.plans import (
    begin_plan,
    day_routine,
    days_of,
    plan_of,
    take_plan_back,
    tick,
    week_routine,
    week_scale,
)
from handslide.studio.takes.takes import save_take

__all__ = ["studio"]  # a fixture

START = date(2026, 11, 30)  # a Monday
TODAY = START + timedelta(days=1)


@pytest.fixture
def mira(studio):
    student, _ = give_student(studio, profile="beginner")
    begin_plan(studio, student.id, start=START, weeks=4, minutes=10, level="first-year")
    return student


def play(studio, student, midis, when, played="free"):
    """A take of plain notes."""
    rows = [
        NoteRow(number, None, midi, None, None, None, None, played, cents=0.0, cents_se=1.0)
        for number, midi in enumerate(midis)
    ]
    moment = datetime(when.year, when.month, when.day, 12, tzinfo=UTC)
    return save_take(
        studio, student.id, {"form": 2}, rows, title="x", source="file", a4_hz=440.0,
        length_s=10.0, recorded_at=moment.isoformat(),
    )  # fmt: skip


def boxes(studio, student, day):
    plan = plan_of(studio, student.id)
    return {box.item: box.by for box in days_of(studio, plan, day // 7, TODAY)[day % 7].boxes}


def midis_of(studio, student, name, day):
    plan = plan_of(studio, student.id)
    routine = day_routine(studio, plan, day, TODAY)
    rows = next(block for block in routine.blocks if block.name == name).rows
    row = next(row for row in rows if day in row.days and not row.model)
    return [note.pitch.midi for note in struck(row.piece)]


def test_what_is_played_is_found_among_mistakes_and_other_things():
    scale = [46, 48, 50, 51, 53, 55, 57, 58, 57, 55, 53, 51, 50, 48, 46]
    assert is_played(scale, scale)
    assert is_played(scale, [60, 62, *scale, 41, 41])
    assert is_played(scale, [46, 48, 50, 50, 51, 53, 54, 57, 58, 57, 55, 53, 51, 48, 46])
    assert not is_played(scale, scale[:9])
    # The same steps in another key, or its notes in another order, are something else.
    assert not is_played(scale, [midi + 5 for midi in scale])
    assert not is_played(scale, sorted(scale) * 3)
    assert not is_played([46, 48, 46], [46, 48, 46])


def test_a_take_fills_the_box_of_what_it_contains_on_its_day(studio, mira):
    assert set(boxes(studio, mira, 1).values()) == {""}
    notes = midis_of(studio, mira, "scale", 1)
    play(studio, mira, [41, *notes, 46], TODAY)
    assert boxes(studio, mira, 1)["scale"] == "take"
    assert [item for item, by in boxes(studio, mira, 1).items() if by] == ["scale"]
    assert set(boxes(studio, mira, 2).values()) == {""}
    # Half of it, or the scale of the week after, fills nothing.
    play(studio, mira, notes[: len(notes) // 2], TODAY + timedelta(days=1))
    play(studio, mira, [n + 5 for n in notes], TODAY + timedelta(days=2))
    assert set(boxes(studio, mira, 2).values()) == set(boxes(studio, mira, 3).values()) == {""}


def test_every_part_of_a_day_is_filled_by_its_own_take(studio, mira):
    for name in ("long-tones", "lip-slurs", "tune"):
        play(studio, mira, midis_of(studio, mira, name, 0), START)
    done = boxes(studio, mira, 0)
    assert [done[name] for name in ("long-tones", "lip-slurs", "tune")] == ["take"] * 3
    assert done["breathing"] == ""


def test_a_hand_ticks_and_takes_back(studio, mira):
    plan = plan_of(studio, mira.id)
    tick(studio, plan, 1, "tune", TODAY)
    assert boxes(studio, mira, 1)["tune"] == "hand"
    tick(studio, plan, 1, "tune", TODAY)
    assert boxes(studio, mira, 1)["tune"] == ""
    play(studio, mira, midis_of(studio, mira, "scale", 1), TODAY)
    tick(studio, plan, 1, "scale", TODAY)
    assert boxes(studio, mira, 1)["scale"] == ""
    tick(studio, plan, 1, "scale", TODAY)
    assert boxes(studio, mira, 1)["scale"] == "take"
    with pytest.raises(NotFound):
        tick(studio, plan, 99, "scale", TODAY)
    with pytest.raises(NotFound):
        tick(studio, plan, 1, "nothing", TODAY)


def test_a_new_plan_can_be_taken_back_with_nothing_lost(studio, mira):
    tick(studio, plan_of(studio, mira.id), 0, "tune", TODAY)
    begin_plan(studio, mira.id, start=TODAY, weeks=2, minutes=30, level="second-year")
    plan = plan_of(studio, mira.id)
    assert (plan.row.minutes, plan.before, len(plan.plan.weeks)) == (30, 1, 2)
    take_plan_back(studio, mira.id)
    assert boxes(studio, mira, 0)["tune"] == "hand"
    take_plan_back(studio, mira.id)
    assert plan_of(studio, mira.id) is None
    with pytest.raises(BadUsage):
        begin_plan(studio, mira.id, start=START, weeks=0, minutes=10, level="first-year")
    with pytest.raises(BadUsage):
        begin_plan(studio, mira.id, start=START, weeks=4, minutes=11, level="first-year")


def test_weeks_have_the_level_s_keys(studio, mira):
    plan = plan_of(studio, mira.id)
    assert [week.key.tonic for week in plan.plan.weeks] == [
        parse_tonic(name) for name in ("Bb", "Eb", "F", "C")
    ]
    assert plan.week_near(START - timedelta(days=9)) == 0
    assert plan.week_near(START + timedelta(days=8)) == 1
    assert plan.week_near(START + timedelta(days=800)) == 3
    assert plan.day_of(START - timedelta(days=1)) is None


def test_what_takes_show_as_surely_weak_comes_back(studio):
    student, stand = give_student(studio)
    give_takes(
        studio, student, stand, lambda place, _: -25.0 if round(place.position) == 4 else 0.0,
        takes=6, weeks=1, seed=3,
    )  # fmt: skip
    backs = comebacks(studio, student.id)
    fourth = next(back for back in backs if back.found.group.position and
                  abs(back.found.group.position - 4) < 0.2)  # fmt: skip
    last = fourth.comeback.failed
    assert [step.due - last for step in fourth.comeback.steps] == [1, 3, 7]
    assert all(step.done is None for step in fourth.comeback.steps)
    assert comebacks(studio, student.id) == backs
    # Its notes aren't said again beside their place.
    near = [one for one in backs if abs((one.found.group.position or 0) - 4) < 0.2]
    assert near == [fourth]
    due = date.fromordinal(last + 1)
    begin_plan(studio, student.id, start=due, weeks=1, minutes=20, level="second-year")
    plan = plan_of(studio, student.id)
    assert any(box.back is fourth for box in days_of(studio, plan, 0, due)[0].boxes)
    assert "trouble-spots" in {block.name for block in day_routine(studio, plan, 0, due).parts}
    # On the week's sheet it stands with the boxes of its days: 1, 3 and 7 days after it failed.
    week = week_routine(studio, plan, 0, due)
    (again,) = [block for block in week.parts if block.name == "again"]
    assert (0, 2, 6) in [row.days for row in again.rows]
    # A day on which it wasn't due has nothing of it.
    assert not any(box.back is fourth for box in days_of(studio, plan, 0, due)[1].boxes)


def test_what_goes_well_on_its_day_is_done_by_the_take(studio):
    student, stand = give_student(studio)
    give_takes(
        studio, student, stand,
        lambda place, share: -25.0 if round(place.position) == 4 and share < 0.7 else 0.0,
        takes=6, weeks=1, seed=3,
    )  # fmt: skip
    (fourth,) = [
        back for back in comebacks(studio, student.id)
        if abs((back.found.group.position or 0) - 4) < 0.2
    ]  # fmt: skip
    assert fourth.comeback.steps[0].done is not None
    assert fourth.comeback.steps[-1].done is None and not fourth.comeback.settled


def test_a_day_is_judged_by_what_was_weak():
    def notes(*cents, played="right"):
        return [TakenNote(0.0, 1, 50, played, cents=one) for one in cents]

    assert went_well("off", notes(14.0, 16.0), {1: 12.0})
    assert not went_well("off", notes(14.0, 16.0), {1: 0.0})
    assert went_well("unsteady", notes(14.0, 16.0), {})
    assert not went_well("unsteady", notes(-20.0, 25.0), {})
    assert went_well("faults", notes(0.0, 0.0), {})
    assert not went_well("faults", [*notes(0.0), *notes(None, played="missing")], {})


# The music of a week.


def test_a_week_s_line_is_its_scale_and_a_day_s_in_that_day_s_articulation(studio, mira):
    plan = plan_of(studio, mira.id)
    # The scales of B♭, E♭, F and C major by their semitones above the tonic (elementary theory).
    for week, tonic in enumerate((10, 3, 5, 0)):
        found = {note.sounding.midi % 12 for note in week_scale(plan, week, None).part.notes}
        assert found == {(tonic + step) % 12 for step in (0, 2, 4, 5, 7, 9, 11)}
    ways = plan.plan.weeks[0].articulations
    days = [week_strip(studio, plan, 0, day, "wide") for day in range(2)]
    assert (days[0] == days[1]) == (ways[0] == ways[1])
    assert days[0].count("<text") >= 8  # each note has its place over it
    with pytest.raises(NotFound):
        week_strip(studio, plan, 4, None, "wide")
    with pytest.raises(BadUsage):
        week_strip(studio, plan, 0, None, "broad")


def test_the_minutes_of_a_day_lie_along_its_rule(studio, mira):
    (day, *_) = days_of(studio, plan_of(studio, mira.id), 0, START)
    routine = day_routine(studio, plan_of(studio, mira.id), 0, START)
    assert day.seconds == pytest.approx(routine.seconds(0))
    text = client(studio).get(f"/plans/{mira.id}?week=1").text
    rule = re.search(r'(?s)<svg class="day-rule".*?</svg>', text)[0]
    wide = [float(one) for one in re.findall(r' width="([\d.]+)"', rule)]
    assert sum(wide) == pytest.approx(day.seconds, abs=0.1 * len(wide))


def test_before_a_plan_is_made_the_page_shows_how_it_would_begin(studio):
    student, _ = give_student(studio, profile="beginner")
    browser, here = client(studio), f"/plans/{student.id}"
    text = browser.get(here).text
    lines = [unescape(one) for one in re.findall(r'data-strip="([^"]+)"', text)]
    assert len(lines) == 4
    music = browser.get(lines[1])
    assert music.headers["content-type"].startswith("image/svg")
    # The same line that the plan has once it is made.
    wish = {"start": START.isoformat(), "weeks": "4", "minutes": "10", "level": "first-year"}
    piece = browser.get(f"{here}/proposal", params=wish)
    (*_, last) = [unescape(one) for one in re.findall(r'data-strip="([^"]+)"', piece.text)]
    proposed = browser.get(last).text
    browser.post(here, data=wish)
    assert browser.get(f"{here}/weeks/4/strip").text == proposed
    # What can't be made is no page of an error; the form says why when it is sent.
    bad = browser.get(f"{here}/proposal", params={**wish, "weeks": "900"})
    assert bad.status_code == 200 and "data-strip" not in bad.text


# The page.


def test_the_page_from_form_to_sheet(studio):
    student, _ = give_student(studio)
    here = f"/plans/{student.id}"
    browser = client(studio)
    assert "Make the plan" in words(browser.get(here))
    assert browser.get(f"{here}/plan.pdf").status_code == 404
    wish = {"start": date.today().isoformat(), "weeks": "2", "minutes": "10", "level": "first-year"}
    refused = browser.post(here, data={**wish, "start": "soon"})
    assert refused.status_code == 400 and "isn't a date" in words(refused)
    assert browser.post(here, data={**wish, "weeks": "900"}).status_code == 400
    assert browser.post(here, data=wish).status_code == 303
    text = words(browser.get(here))
    assert "B♭ major scale" in text and "Print today's sheet" in text
    done = browser.post(f"{here}/tick", data={"day": "0", "item": "scale"})
    assert done.headers["location"] == f"{here}?week=1#day-0"
    assert browser.get(here).text.count('aria-checked="true"') == 2  # today, and in the week
    for sheet in ("plan", "days/0", "weeks/2"):
        assert browser.get(f"{here}/{sheet}.pdf").content.startswith(b"%PDF")
    assert browser.get(f"{here}/days/14.pdf").status_code == 404
    assert browser.get(f"{here}?week=9").status_code == 404
    assert browser.post(f"{here}/undo").status_code == 303
    assert "Make the plan" in words(browser.get(here))


def test_a_day_on_the_stand_is_what_a_take_follows(studio, mira):
    browser = client(studio)
    put = browser.post(f"/plans/{mira.id}/days/0/stand")
    assert put.status_code == 303
    (stand, *_) = list_stands(studio, student_id=mira.id)
    assert put.headers["location"] == f"/stands/{stand.id}"
    assert browser.get(put.headers["location"]).status_code == 200
