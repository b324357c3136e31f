"""Fitting in the studio: the list, takes and typed notes, how sure it is, a new version."""

import json
import re
from html import unescape

import numpy as np
import pytest
from heard_takes import take
from simhorns import TEMP_C, draw
from studio_pages import client, words

from handslide.edges.store.students import StudentValues
from handslide.instrument.air import Air
from handslide.instrument.fitting.plan import make_plan
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student, get_horn, list_horns_of, list_versions
from handslide.studio.studio import set_setting
from handslide.studio.tuning.fitting import (
    FitChoice,
    FitDraft,
    fit_draft,
    planned_text,
    read_planned,
    read_row,
    row_text,
)
from handslide.words.messages import N_
from handslide.words.speech import speech

MARK_MM = 450.0


def student(studio, base="tenor-f"):
    one = add_student(studio, StudentValues("Mira"))
    return one.id, add_horn(studio, one.id, base).id


def choice(horn, **more):
    return {"horn": horn, "mark_mm": f"{MARK_MM:g}", "temp_c": f"{TEMP_C:g}", **more}


def listed(text):
    """The notes of the list that a page carries."""
    found = re.findall(r'name="planned" value="([^"]*)"', text)
    return [unescape(one) for one in found]


def kept(text):
    return [unescape(one) for one in re.findall(r'name="row" value="([^"]*)" checked', text)]


def typed(text):
    return [unescape(one) for one in re.findall(r'name="hz" value="([^"]*)"', text)]


def hz_of(real, notes, rng=None, noise=0.0):
    """What a simulated horn sounds for the notes of a list."""
    rng = rng or np.random.default_rng(0)
    rows = [read_planned(one) for one in notes]
    return [
        real.hz(row.valves, row.partial, row.extension_m) * 2 ** (rng.normal(0, noise) / 1200)
        for row in rows
    ]


def test_the_list_is_the_command_s(studio):
    mira, horn = student(studio)
    got = client(studio).get(f"/fitting/{mira}/play", params=choice(horn))
    tuned = get_horn(studio, horn).version.description.tuned()
    wanted = [planned_text(note) for note in make_plan(tuned, MARK_MM / 1000.0)]
    assert listed(got.text) == wanted
    assert len(wanted) == 18
    closed = client(studio).get(f"/fitting/{mira}/play", params=choice(horn, mark="closed"))
    assert listed(closed.text) == wanted[:9]


def test_takes_typed_notes_next_notes_and_the_new_version(studio, tmp_path):
    mira, horn = student(studio)
    pages = client(studio)
    rng = np.random.default_rng(11)
    real = draw(rng, "tenor-f", "bent")
    notes = listed(pages.get(f"/fitting/{mira}/play", params=choice(horn)).text)
    heard = hz_of(real, notes, rng, 2.0)

    # The closed slide by a take, of which one note is missed; the rest is typed.
    sent = [*notes]
    hz = ["" for _ in notes[:9]] + [f"{one:.3f}" for one in heard[9:]]
    first = pages.post(
        f"/fitting/{mira}/play",
        data=choice(horn, planned=sent, hz=hz, do="fit"),
        files=[("takes", take(tmp_path, heard[:4] + heard[5:9]))],
    )
    assert first.status_code == 200
    rows = [read_row(one) for one in kept(first.text)]
    assert len(rows) == 17
    assert "From 17 notes" in words(first)
    draft = FitDraft((), (), tuple(rows))
    report = fit_draft(get_horn(studio, horn), FitChoice(MARK_MM, TEMP_C), draft)
    # 95 % intervals on a horn that was drawn at random: nearly all places lie within.
    errors = []
    for place in report.places:
        hz_wanted = 440.0 * 2 ** ((place.pitch.midi - 69) / 12)
        true_mm = 1000 * real.extension_m(place.valves, place.partial, hz_wanted)
        errors.append(abs(place.after_mm - true_mm) <= place.half_width_mm)
    assert np.mean(errors) > 0.9
    assert f"±\u00a0{report.typical_mm:.1f} mm on average" in words(first)

    # The map shows each place now and before; the notes to play next stand on a staff.
    assert first.text.count('class="before"') >= 8
    assert first.text.count('class="note-list"') >= 2
    assert first.text.count('data-of="heard"') == len(rows)

    # The three advised notes are added; the former stay, and the places are known better.
    following = listed(first.text)[:3]
    assert following == [planned_text(note) for note in report.planned]
    more = [f"{one:.3f}" for one in hz_of(real, following, rng, 2.0)]
    second = pages.post(
        f"/fitting/{mira}/play",
        data=choice(horn, planned=following, hz=more, row=kept(first.text), do="fit"),
    )
    assert "From 20 notes" in words(second)
    better = float(re.search(r"within ±\s([\d.]+) mm on average", words(second))[1])
    assert better < report.typical_mm
    assert "What the notes show" in words(second)
    for one in report.fitted.fit.noticed:
        assert speech().fact(one) in words(first)

    done = pages.post(f"/fitting/{mira}/keep", data=choice(horn, row=kept(second.text)))
    assert (done.status_code, done.headers["location"]) == (303, f"/horns/{horn}")
    newest, model = list_versions(studio, horn)
    assert (newest.origin, model.origin) == ("fit", "model")
    assert speech().fact(newest.told).startswith("Fitted from 20 notes")
    horns = list_horns_of(studio, mira)
    now = horns[0].version.description
    assert now.title == model.description.title
    assert now.uncertainties
    assert now.temp_c == TEMP_C
    stated = now.tuned(440.0, Air(temp_c=TEMP_C))
    assert stated.frequency_hz(4, 0.0) == pytest.approx(real.hz((), 4, 0.0), rel=2e-3)


def test_a_second_fit_begins_from_the_first(studio):
    mira, horn = student(studio)
    pages = client(studio)
    rng = np.random.default_rng(5)
    real = draw(rng, "tenor-f", "mild")
    for _ in range(2):
        notes = listed(pages.get(f"/fitting/{mira}/play", params=choice(horn)).text)
        hz = [f"{one:.3f}" for one in hz_of(real, notes, rng, 1.0)]
        got = pages.post(f"/fitting/{mira}/play", data=choice(horn, planned=notes, hz=hz, do="fit"))
        pages.post(f"/fitting/{mira}/keep", data=choice(horn, row=kept(got.text)))
    assert [version.origin for version in list_versions(studio, horn)] == ["fit", "fit", "model"]
    # Measured twice, the places hardly move: the change column holds small numbers only.
    changes = re.findall(r'<td class="number">([+−]?\d+)</td>\s*<td class="number">±', got.text)
    assert changes
    assert all(abs(int(one.replace("−", "-"))) <= 12 for one in changes)


def test_hearing_first_fits_nothing_and_ticks_decide(studio, tmp_path):
    mira, horn = student(studio, "tenor")
    pages = client(studio)
    real = draw(np.random.default_rng(2), "tenor", "line")
    notes = listed(pages.get(f"/fitting/{mira}/play", params=choice(horn)).text)
    got = pages.post(
        f"/fitting/{mira}/play",
        data=choice(horn, planned=notes, hz=[""] * len(notes), do="hear"),
        files=[("takes", take(tmp_path, hz_of(real, notes[:6])))],
    )
    assert len(kept(got.text)) == 6
    assert "How sure" not in words(got)
    assert "take.wav at" in words(got)
    ticked = kept(got.text)[:5]
    fitted = pages.post(f"/fitting/{mira}/play", data=choice(horn, row=ticked, do="fit"))
    assert "From 5 notes" in words(fitted)
    assert "Only the closed slide was played" in words(fitted)


def test_a_note_that_does_not_fit_is_named(studio):
    mira, horn = student(studio)
    pages = client(studio)
    real = draw(np.random.default_rng(4), "tenor-f", "mild")
    notes = listed(pages.get(f"/fitting/{mira}/play", params=choice(horn)).text)
    hz = hz_of(real, notes)
    hz[2] *= 2 ** (85 / 1200)
    got = words(
        pages.post(
            f"/fitting/{mira}/play",
            data=choice(horn, planned=notes, hz=[f"{one:.3f}" for one in hz], do="fit"),
        )
    )
    assert "Left out, because they don't fit" in got
    left = got.split("Left out, because they don't fit")[1][:160]
    assert "B♭3, slide closed" in left
    assert "what the other notes say" in left


def test_what_a_take_lacks_and_has_too_much_is_said(studio, tmp_path):
    mira, horn = student(studio)
    pages = client(studio)
    real = draw(np.random.default_rng(4), "tenor-f", "mild")
    notes = listed(pages.get(f"/fitting/{mira}/play", params=choice(horn)).text)
    hz = hz_of(real, notes)
    hz[10] *= 2 ** (150 / 1200)
    got = words(
        pages.post(
            f"/fitting/{mira}/play",
            data=choice(horn, planned=notes, hz=[""] * 18, do="fit"),
            files=[("takes", take(tmp_path, hz))],
        )
    )
    assert "take.wav: 17 notes of the list were heard." in got
    assert "Not heard (play them again, or type them): C3 (none, 450 mm out)" in got
    assert f"on no place of the list: {hz[10]:.1f} Hz at 14." in got


def test_cents_of_a_tuner(studio):
    mira, horn = student(studio)
    notes = [
        planned_text(note)
        for note in make_plan(get_horn(studio, horn).version.description.tuned(), None)
    ]
    cents = ["-12 ct", "+3,5 cents", "−2ct", "0 c"] + [""] * 5
    got = client(studio).post(
        f"/fitting/{mira}/play", data=choice(horn, planned=notes, hz=cents, do="hear")
    )
    found = [read_row(one).frequency_hz for one in kept(got.text)]
    names = [116.541, 174.614, 233.082, 293.665]
    assert found == pytest.approx(
        [hz * 2 ** (off / 1200) for hz, off in zip(names, (-12, 3.5, -2, 0))], rel=1e-5
    )


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("mark_mm=900", "outside the slide"),
        ("mark_mm=-5", "can't be"),
        ("mark_mm=far", "give a distance"),
        ("temp_c=70", "70"),
        ("temp_c=warm", "give a temperature"),
        ("mark=closed&thermometer=no", "scale comes from a mark"),
    ],
)
def test_a_bad_choice_stays_on_the_first_page(studio, query, says):
    mira, _ = student(studio)
    got = client(studio).get(f"/fitting/{mira}/play?{query}")
    assert got.status_code == 400
    assert says in words(got)
    assert '<details class="fit-settings" open>' in got.text
    value = re.search(r"=([^&]*)", query)[1]
    assert value == "closed" or f'value="{value}"' in got.text


def test_what_was_typed_and_heard_survives_every_error(studio, tmp_path):
    mira, horn = student(studio)
    pages = client(studio)
    url = f"/fitting/{mira}/play"
    notes = listed(pages.get(url, params=choice(horn)).text)
    hz = ["116.5", "174.x", "233.1", *[""] * 15]
    data = choice(horn, planned=notes, hz=hz, do="fit")
    wrong = pages.post(url, data=data)
    assert wrong.status_code == 400
    assert "F3, slide closed: '174.x' can't be read: give a frequency" in words(wrong)
    assert typed(wrong.text) == hz
    assert listed(wrong.text) == notes
    # A good take beside a bad one: the good one's notes are there, the bad one is named.
    both = pages.post(
        url,
        data=choice(horn, planned=notes, hz=["", *hz[2:], ""], do="fit"),
        files=[
            ("takes", take(tmp_path, [116.5, 174.6], "good.wav")),
            ("takes", ("bad.wav", b"nothing", "audio/wav")),
        ],
    )
    assert both.status_code == 400
    assert "bad.wav can't be read as audio" in words(both)
    assert len(kept(both.text)) == 3
    few = pages.post(url, data=choice(horn, planned=notes, hz=["116.5", *[""] * 17], do="fit"))
    assert few.status_code == 400
    assert "at least 3" in words(few)
    assert len(kept(few.text)) == 1
    few = pages.post(f"/fitting/{mira}/keep", data=choice(horn, row=kept(few.text)))
    assert few.status_code == 400
    assert len(list_versions(studio, horn)) == 1


@pytest.mark.parametrize(
    "row",
    ["", "[]", "{}", "[1]", "x" * 200, '["a",0,[],1,2,null,null,null]',
     '[1e999,0,[],2,2,null,null,null]', '[100,0,[],2,2,"H2",null,null]',
     '[100,0,[],2,2,null,null,{"kind": "no.such"}]', '[100,0,[],2,2,null,["E3"],null]', "[" * 5000],
)  # fmt: skip
def test_rows_that_nobody_typed_are_refused(studio, row):
    mira, horn = student(studio)
    for data in ({"row": row}, {"planned": row, "hz": "100"}):
        got = client(studio).post(f"/fitting/{mira}/play", data=choice(horn, **data, do="fit"))
        assert got.status_code == 400
        assert "Traceback" not in got.text


def test_too_many_rows(studio):
    mira, horn = student(studio)
    row = json.dumps([116.5, 0, [], 2, 2, None, None, None])
    got = client(studio).post(
        f"/fitting/{mira}/play",
        data=choice(horn, row=[row] * 401, do="hear"),
    )
    assert got.status_code == 400
    assert "more than a fit takes" in words(got)


def test_rows_and_notes_are_read_back_the_same(studio):
    _, horn = student(studio, "bass-dependent")
    tuned = get_horn(studio, horn).version.description.tuned()
    for note in make_plan(tuned, 0.333):
        assert read_planned(planned_text(note)) == note
    for more in ('"Eb3", "E3", null', 'null, "E3", ["a \\"take\\".wav", 3.5]', "null, null, null"):
        row = read_row(f'[100.25, 450.5, ["F", "D"], 4, 1.5, {more}]')
        assert read_row(row_text(row)) == row
        assert speech().fact(row.told)
    assert speech().fact(row.told) == (
        "partial 4 with the F and D valves, 450.5 mm out (100.2 Hz with the F and D valves at "
        "450.5 mm)"
    )


def test_names_are_escaped_and_others_horns_refused(studio):
    mira, _ = student(studio)
    other = add_student(studio, StudentValues("<b>Jon</b>"))
    foreign = add_horn(studio, other.id, "tenor", title="<script>x</script>").id
    pages = client(studio)
    for url in (f"/fitting/{other.id}", f"/fitting/{other.id}/play", f"/tuning/{other.id}"):
        text = pages.get(url).text
        assert "<script>x" not in text
        assert "<b>Jon" not in text
    assert pages.get(f"/fitting/{mira}?horn={foreign}").status_code == 404
    assert pages.post(f"/fitting/{mira}/keep", data={"horn": foreign}).status_code == 404
    assert pages.get("/fitting/99").status_code == 404


@pytest.mark.parametrize("language", ["de", "es", "fr"])
def test_other_languages(studio, language):
    mira, horn = student(studio)
    set_setting(studio, "language", language)
    say, pages = speech(language), client(studio)
    first = words(pages.get(f"/fitting/{mira}"))
    assert say(N_("Show the notes to play")) in first
    assert say(N_("Enough: show what changes")) in first
    text = words(pages.get(f"/fitting/{mira}/play", params=choice(horn)))
    assert say(N_("{mm} mm out"), mm="450") in text
    assert say(N_("Play these notes")) in text
