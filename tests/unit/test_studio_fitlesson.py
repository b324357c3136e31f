"""A horn measured note by note in the studio: what is asked, what narrows, what is kept."""

import re
from html import unescape

import numpy as np
import pytest
from simhorns import TEMP_C, draw
from studio_pages import client, words

from handslide.edges.store.students import StudentValues
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student, get_horn, get_student, list_versions
from handslide.studio.studio import set_setting
from handslide.studio.tuning.fitlesson import changed_marks, fit_lesson, lesson_choice
from handslide.studio.tuning.fitting import (
    FitChoice,
    FitDraft,
    fit_draft,
    planned_text,
    read_planned,
    read_row,
)

CHOICE = FitChoice(600.0, TEMP_C, near_mm=300.0)


def student(studio, base="tenor-f", **values):
    one = add_student(studio, StudentValues("Mira", **values))
    return one.id, add_horn(studio, one.id, base).id


def carried(text):
    """What the page carries along, by name."""
    form = text.split('id="fit-carried"')[1].split("</div>")[0]
    found: dict = {}
    for name, value in re.findall(r'name="([a-z_]+)" value="([^"]*)"', form):
        found.setdefault(name, []).append(unescape(value))
    return found


def widths(text):
    """Half-widths in mm of all places as a screen reader hears them."""
    return [int(half) for half in re.findall(r"mm, give or take (\d+)", text)]


def answer(pages, mira, text, **more):
    return pages.post(f"/fitting/{mira}/note", data={**carried(text), **more})


def sounds(real, text, rng=None):
    note = read_planned(carried(text)["asked"][0])
    off = 0.0 if rng is None else rng.normal(0.0, 3.0)
    return f"{real.hz(note.valves, note.partial, note.extension_m) * 2 ** (off / 1200):.3f}"


def test_the_map_narrows_note_by_note_until_the_horn_is_kept(studio):
    mira, horn = student(studio)
    pages, rng = client(studio), np.random.default_rng(6)
    real = draw(rng, "tenor-f", "bent")
    got = pages.get(f"/fitting/{mira}", params={"horn": horn, "temp_c": TEMP_C, "mark_mm": 600,
                                                "near_mm": 300})  # fmt: skip
    first = widths(got.text)
    assert len(first) > 20
    # Before any note: what a horn may be (60 cents on the open horn, some 0.8 mm each).
    assert min(first) > 60
    assert "Nothing was heard yet: so unsure" in words(got)
    worst = [max(first)]
    for _ in range(30):
        assert "slide closed" in words(got) or "mm out" in words(got)
        got = answer(pages, mira, got.text, do="heard", hz=sounds(real, got.text, rng), se="0.4")
        assert got.status_code == 200
        worst.append(max(widths(got.text)))
        if "Fine enough" in words(got):
            break
    assert worst[-1] <= 25
    assert worst[4] < worst[0] / 2
    assert len(worst) <= 26
    rows = [read_row(one) for one in carried(got.text)["row"]]
    assert all(row.se_cents == pytest.approx(np.hypot(0.4, 2.0)) for row in rows)
    # What the page says is what the fit says, and the truth lies in the bands.
    step = fit_lesson(get_student(studio, mira), get_horn(studio, horn), CHOICE, rows)
    assert sorted(round(band.half_width_mm) for band in step.bands) == sorted(widths(got.text))
    inside = [
        abs(1000 * real.extension_m(b.valves, b.partial, b.pitch.hz()) - 1000 * b.extension_m)
        <= b.half_width_mm
        for b in step.bands
    ]
    assert np.mean(inside) > 0.85

    done = answer(pages, mira, got.text, do="enough")
    assert "What changes" in words(done)
    assert f"From {len(rows)} notes" in words(done)
    assert "On the chart" in words(done)
    kept = pages.post(f"/fitting/{mira}/kept", data=carried(got.text))
    assert (kept.status_code, kept.headers["location"]) == (303, f"/horns/{horn}")
    assert [version.origin for version in list_versions(studio, horn)] == ["fit", "model"]


def test_back_and_another_note(studio):
    mira, _ = student(studio)
    pages = client(studio)
    real = draw(np.random.default_rng(1), "tenor-f", "mild")
    first = pages.get(f"/fitting/{mira}").text
    second = answer(pages, mira, first, do="heard", hz=sounds(real, first)).text
    assert carried(second)["asked"] != carried(first)["asked"]
    # What was heard stands on a staff, by its name where the horn is a little off.
    assert "note-list" not in first
    assert second.count('data-of="heard"') == 1
    assert 'aria-label="F3, slide closed"' in second
    again = answer(pages, mira, second, do="back").text
    assert carried(again)["asked"] == carried(first)["asked"]
    assert "row" not in carried(again)
    other = answer(pages, mira, first, do="skip").text
    assert carried(other)["skipped"] == carried(first)["asked"]
    assert carried(other)["asked"] != carried(first)["asked"]


def test_another_note_than_the_one_asked_for_is_not_taken(studio):
    mira, _ = student(studio)
    pages = client(studio)
    real = draw(np.random.default_rng(1), "tenor-f", "mild")
    text = pages.get(f"/fitting/{mira}").text
    for _ in range(4):
        text = answer(pages, mira, text, do="heard", hz=sounds(real, text)).text
    wrong = float(sounds(real, text)) * 2 ** (230 / 1200)
    got = answer(pages, mira, text, do="heard", hz=f"{wrong:.2f}")
    assert got.status_code == 400
    assert "That wasn't it" in words(got)
    assert carried(got.text)["row"] == carried(text)["row"]
    assert carried(got.text)["asked"] == carried(text)["asked"]
    unread = answer(pages, mira, text, do="heard", hz="high")
    assert "'high' can't be read" in words(unread)
    assert carried(unread.text)["row"] == carried(text)["row"]
    few = answer(pages, mira, pages.get(f"/fitting/{mira}").text, do="enough")
    assert few.status_code == 400
    assert "at least 3" in words(few)


def test_only_what_the_student_reaches_is_asked_for_and_shown(studio):
    mira, horn = student(studio, reach=4.0, learned=())
    who, owned = get_student(studio, mira), get_horn(studio, horn)
    choice = lesson_choice(who, owned)
    tuned = owned.description.tuned()
    assert choice.mark_mm == 250.0
    assert 0.0 < choice.near_mm < choice.mark_mm
    real, rows, seen = draw(np.random.default_rng(2), "tenor-f", "mild"), [], set()
    for _ in range(8):
        step = fit_lesson(who, owned, choice, rows)
        note = step.asked.note
        assert not note.valves
        assert 1000.0 * note.extension_m in (0.0, choice.near_mm, choice.mark_mm)
        assert all(band.extension_m <= tuned.extension_m(4.25) for band in step.bands)
        assert not any(band.valves for band in step.bands)
        seen.add((note.partial, note.extension_m))
        hz = real.hz(note.valves, note.partial, note.extension_m)
        rows.append(read_row(f'[{hz}, {1000 * note.extension_m}, [], {note.partial}, 2, null, '
                             'null, null]'))  # fmt: skip
    # So few places are soon known; then notes are asked for again.
    assert len(seen) >= 5


def test_changed_marks_are_those_of_moved_places(studio):
    mira, horn = student(studio, "tenor")
    who, owned = get_student(studio, mira), get_horn(studio, horn)
    tuned = owned.description.tuned()
    spots = [(n, x) for x in (0.0, 0.45) for n in (2, 3, 4, 5, 6, 8)]
    for cents, moves in ((0.0, False), (40.0, True)):
        rows = tuple(
            read_row(f'[{tuned.frequency_hz(n, x) * 2 ** (cents / 1200)}, {1000 * x}, [], {n}, 2, '
                     'null, null, null]') for n, x in spots
        )  # fmt: skip
        report = fit_draft(owned, FitChoice(450.0, 25.0), FitDraft((), (), rows))
        changes = changed_marks(who, owned, report)
        assert bool(changes) == moves
        for change in changes:
            assert change.before != change.after


@pytest.mark.parametrize("bad", ["", "[]", "x" * 50, "[1e999,0,[],2,2,null,null,null]"])
def test_carried_notes_that_nobody_played_are_refused(studio, bad):
    mira, _ = student(studio)
    text = client(studio).get(f"/fitting/{mira}").text
    got = answer(client(studio), mira, text, do="back", row=[bad, bad])
    assert got.status_code == 400
    assert "Traceback" not in got.text


def test_a_horn_of_somebody_else_and_odd_choices(studio):
    mira, _ = student(studio)
    other, foreign = student(studio)
    pages = client(studio)
    assert pages.get(f"/fitting/{mira}?horn={foreign}").status_code == 404
    assert pages.post(f"/fitting/{mira}/note", data={"horn": foreign}).status_code == 404
    got = pages.get(f"/fitting/{other}?mark_mm=900")
    assert got.status_code == 400
    assert "outside the slide" in words(got)
    closed = pages.get(f"/fitting/{other}?mark=closed")
    assert closed.status_code == 200
    assert "closed slide only" in words(closed)
    note = read_planned(carried(closed.text)["asked"][0])
    assert planned_text(note) == carried(closed.text)["asked"][0]


def test_notes_are_called_as_this_student_calls_them(studio):
    """English B is German H, so a note of the map with another name would be another note."""
    mira, _ = student(studio)
    set_setting(studio, "language", "de")
    pages = client(studio)
    text = pages.get(f"/fitting/{mira}").text
    names = set(re.findall(r'<text x="[\d.]+%" y="\d+">([^<]+)</text>', text))
    assert {"H", "c", "es′"} <= names
    assert not any(re.search(r"\d", name) for name in names)
    assert not re.search(
        r"\b[A-G][♭♯]?\d\b", words(pages.get(f"/fitting/{mira}/play")).split("A4 =")[1][8:]
    )
