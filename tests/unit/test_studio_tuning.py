"""Tuning in the studio: which slide, played or typed, how far it moves, and the horn's history."""

import re

import pytest
from heard_takes import take
from studio_pages import client, words

from handslide.edges.files.horns import load_horn
from handslide.edges.files.hornwriter import horn_toml
from handslide.edges.store.students import StudentValues
from handslide.ground.units import cents, cents_to_ratio
from handslide.instrument.moved import after_move, as_measured
from handslide.instrument.places import find_places
from handslide.studio.people.horns import add_horn, import_horn
from handslide.studio.people.students import (
    add_student,
    get_horn,
    get_student,
    list_versions,
    setup_for,
)
from handslide.studio.studio import set_setting
from handslide.studio.tuning.tuning import get_step, tune_steps
from handslide.words.messages import N_
from handslide.words.speech import speech

F3_HZ = 174.614


def student(studio, base="tenor-f"):
    one = add_student(studio, StudentValues("Mira"))
    return one.id, add_horn(studio, one.id, base).id


def measured(studio, base="tenor-f"):
    """A student whose horn is held by frequencies, as after a fit."""
    one = add_student(studio, StudentValues("Ada"))
    horn = load_horn(base)
    text = horn_toml(as_measured(horn, horn.tuned()))
    return one.id, import_horn(studio, one.id, text.encode(), "ada.toml").id


@pytest.mark.parametrize(
    ("base", "keys"),
    [
        ("tenor", ["main"]),
        ("tenor-f", ["main", "F", "low-F"]),
        ("bass-independent", ["main", "F", "Gb", "low-F"]),
        ("bass-dependent", ["main", "F", "F+D", "low-F"]),
        ("tenor-c-bb", ["main", "C"]),
    ],
)
def test_the_slides_of_a_horn(studio, base, keys):
    assert [step.key for step in tune_steps(load_horn(base).tuned())] == keys
    mira, _ = student(studio, base)
    text = client(studio).get(f"/tuning/{mira}").text
    for key in keys:
        assert f"/tuning/{mira}/{key}?" in text


def test_pairs_are_only_notes_that_agree_by_nature():
    horn = load_horn("bass-independent").tuned()
    assert [pitch.name for pitch in get_step(horn, "F").pairs] == ["F3", "F4"]
    assert get_step(horn, "Gb").pairs == ()
    assert "D4" not in [pitch.name for pitch in get_step(horn, "main").notes]


def test_a_loop_20_cents_flat_typed(studio):
    mira, horn = student(studio)
    flat = F3_HZ * cents_to_ratio(-20.0)
    got = client(studio).get(
        f"/tuning/{mira}/F?horn={horn}&open_hz={F3_HZ}&valve_hz={flat:.3f}".replace(".", ",", 1)
    )
    # F tube at 20 cents flat of F, 25 °C: 347.13·2/172.61 = 4.022 m; ·(1 - 2^(-20/1200)) / 2.
    assert "push it in by 23.1 mm" in words(got)
    at_20 = client(studio).get(f"/tuning/{mira}/F?open_hz={F3_HZ}&valve_hz={flat:.3f}&temp_c=20")
    assert "push it in by 22.9 mm" in words(at_20)
    assert "That can be heard" in words(at_20)
    # Drawn to scale: 8 units a millimetre, from the place now to the place then.
    start, end = re.search(r'<path d="M([\d.]+) 40H([\d.]+)" class="arrow"', at_20.text).groups()
    assert float(start) - float(end) == pytest.approx(8 * 22.9, abs=0.5)


def test_a_loop_20_cents_flat_played(studio, tmp_path):
    mira, horn = student(studio)
    flat = F3_HZ * cents_to_ratio(-20.0)
    pages = client(studio)
    form = {"horn": horn, "way": "pair", "temp_c": "20"}
    by_turns = [("takes", take(tmp_path, [F3_HZ, flat, F3_HZ, flat]))]
    two = [("takes", take(tmp_path, [F3_HZ], "a.wav")), ("takes", take(tmp_path, [flat], "b.wav"))]
    for files in (by_turns, two):
        sent = pages.post(f"/tuning/{mira}/F/hear", data=form, files=files)
        assert sent.status_code == 303
        result = pages.get(sent.headers["location"])
        pull = float(re.search(r"push it in by ([\d.]+) mm", words(result))[1])
        assert pull == pytest.approx(22.9, abs=0.4)
    # The interval comes from the take: one note each, repeated to 2 cents.
    assert "± 2.8 cents" in words(result)


def test_the_main_slide_by_one_note(studio, tmp_path):
    mira, horn = student(studio)
    pages = client(studio)
    sent = pages.post(
        f"/tuning/{mira}/main/hear",
        data={"horn": horn, "way": "note", "note": "Bb3", "temp_c": "20", "play_temp_c": "25"},
        files=[("takes", take(tmp_path, [233.08, 233.08]))],
    )
    result = words(pages.get(sent.headers["location"]))
    # In tune at 20 °C it would be 15 cents sharp at 25 °C: out.
    assert "Main slide: pull it out by" in result
    assert "becomes A4 = 440 Hz" in result


def test_nothing_to_move(studio):
    mira, _ = student(studio)
    text = words(client(studio).get(f"/tuning/{mira}/F?open_hz=174.6&valve_hz=174.6"))
    assert "F loop's slide: leave it where it is" in text
    assert "history" not in text


@pytest.mark.parametrize(
    ("path", "says", "kept"),
    [
        ("F?open_hz=high&valve_hz=172", "'high' can't be read: give a frequency", 'value="172"'),
        ("F?open_hz=174", "give a frequency in Hz for the note with the valve", 'value="174"'),
        ("F?open_hz=174&valve_hz=348", "octave higher", 'value="348"'),
        ("main?note=Bb3&hz=466", "octave off", 'value="466"'),
        ("main?note=Bb3&hz=233&temp_c=99", "99", 'value="99"'),
        ("main?note=H3&hz=233", "German name", 'value="233"'),
        ("main?note=Bb3&hz=nan", "'nan' can't be read: give a frequency", 'value="nan"'),
        ("main?open_hz=174&valve_hz=172", "one note without valves", ""),
        ("low-F?low=C9", "above the closed slide", 'value="C9"'),
        ("low-F?most_mm=10", "missed by", 'value="10"'),
        ("low-F?most_mm=long", "'long' can't be read: give a length", 'value="long"'),
    ],
)
def test_bad_input_is_one_sentence_and_stays_in_the_form(studio, path, says, kept):
    mira, _ = student(studio)
    got = client(studio).get(f"/tuning/{mira}/{path}")
    assert got.status_code == 200
    assert says.lower() in words(got).lower()
    assert got.text.count('role="alert"') == 2  # the page's own place for errors is one
    assert kept in got.text


def test_a_bad_take_is_one_sentence(studio, tmp_path):
    mira, horn = student(studio)
    pages = client(studio)
    form = {"horn": horn, "way": "pair", "temp_c": "19"}
    url = f"/tuning/{mira}/F/hear"
    for files, says in (
        ([("takes", ("../../x\u202e.wav", b"no sound", "audio/wav"))], "can't be read as audio"),
        ([("takes", take(tmp_path, [F3_HZ]))], "two are needed"),
        ([("takes", take(tmp_path, [174.0], f"{k}.wav")) for k in range(3)], "3 takes were given"),
        ([("takes", take(tmp_path, [174.0, 230.0, 174.0, 260.0]))], "one and the same note"),
        ([], "no takes were given"),
    ):
        got = pages.post(url, data=form, files=files or {"takes": ("", b"", "audio/wav")})
        assert got.status_code == 400
        assert says.lower() in words(got).lower()
        assert 'value="19"' in got.text
        assert "\u202e" not in got.text
        assert "../" not in words(got)


def test_a_horn_in_notes_keeps_its_values_when_tuned(studio):
    mira, horn = student(studio)
    pages = client(studio)
    sent = pages.post(
        f"/tuning/{mira}/F/moved",
        data={
            "horn": horn,
            "mm": "22,8",
            "way": "in",
            "open_hz": "174.6",
            "valve_hz": "172.6",
            "open_hz_heard": "174.6",
            "open_se": "0.4",
            "valve_hz_heard": "172.6",
            "valve_se": 0.3,
        },
    )
    assert sent.status_code == 303
    newest, first = list_versions(studio, horn)
    assert (newest.number, newest.origin) == (2, "tuning")
    assert newest.toml == first.toml
    assert speech().fact(newest.told) == (
        "F loop's slide pushed in by 22.8 mm. F3 with the F valve sounds 19.9 ± 0.5 cents flat of "
        "the open horn (172.60 against 174.60 Hz)."
    )
    assert "Written into the horn's history" in words(pages.get(sent.headers["location"]))


def test_a_measured_loop_that_was_moved_sounds_otherwise(studio):
    ada, horn = measured(studio)
    before = get_horn(studio, horn).version.description.tuned()
    pages = client(studio)
    # The loop is 20 cents flat: 23.1 mm in makes it sharper by these 20 cents.
    flat = after_move(get_horn(studio, horn).version.description, "F", 23.1)
    text = horn_toml(flat)
    other = import_horn(studio, ada, text.encode(), "flat.toml").id
    is_flat = get_horn(studio, other).version.description.tuned()
    assert cents(is_flat.frequency_hz(4, 0.0, ("F",)) / before.frequency_hz(4, 0.0, ("F",))) == (
        pytest.approx(-20.0, abs=0.2)
    )
    pages.post(f"/tuning/{ada}/F/moved", data={"horn": other, "mm": "23.1", "way": "in"})
    again = get_horn(studio, other).version.description.tuned()
    assert again.frequency_hz(4, 0.0, ("F",)) == pytest.approx(
        before.frequency_hz(4, 0.0, ("F",)), rel=1e-6
    )
    assert again.frequency_hz(4, 0.0) == pytest.approx(before.frequency_hz(4, 0.0), rel=1e-9)


def test_the_main_slide_moves_all_closed_notes_of_a_measured_horn(studio):
    ada, horn = measured(studio, "bass-dependent")
    before = get_horn(studio, horn).version.description.tuned()
    client(studio).post(f"/tuning/{ada}/main/moved", data={"horn": horn, "mm": "10", "way": "out"})
    after = get_horn(studio, horn).version.description.tuned()
    assert after.length_m - before.length_m == pytest.approx(0.02, abs=1e-6)
    for valves in before.valve_sets:
        assert after.loops_m(valves) == pytest.approx(before.loops_m(valves), abs=2e-6)
    # The place of a note comes in by as much as the tuning slide went out.
    midi = 48
    place = next(p for p in find_places(before, midi) if not p.valves)
    moved = next(
        p for p in find_places(after, midi) if (p.valves, p.partial) == ((), place.partial)
    )
    assert moved.extension_m - place.extension_m == pytest.approx(-0.01, abs=1e-6)


def setup_for_horn(studio, student_id, horn_id):
    return setup_for(get_student(studio, student_id), get_horn(studio, horn_id))


def test_a_loop_on_which_another_sits(studio):
    _, horn = measured(studio, "bass-dependent")
    description = get_horn(studio, horn).version.description
    before, after = description.tuned(), after_move(description, "F", 10.0).tuned()
    for valves, more in (((), 0.0), (("F",), 0.02), (("F", "D"), 0.02)):
        tube = after.length_m + after.loops_m(valves)
        assert tube - before.length_m - before.loops_m(valves) == pytest.approx(more, abs=3e-6)


def test_a_pulled_loop_puts_the_low_note_at_the_end_of_the_slide(studio):
    mira, horn = student(studio)
    pages = client(studio)
    text = words(pages.get(f"/tuning/{mira}/low-F"))
    pull = re.search(r"pull it out by ([\d.]+) mm", text)[1]
    assert float(pull) == pytest.approx(153.0, abs=1.0)
    pages.post(f"/tuning/{mira}/low-F/moved", data={"horn": horn, "mm": pull, "way": "out"})
    version = get_horn(studio, horn).version
    assert version.origin == "tuning"
    setup = setup_for_horn(studio, mira, horn)
    low = [place for place in setup.book.places(35) if place.valves == ("F",)]
    assert 1000 * low[0].extension_m == pytest.approx(670.0, abs=0.15)
    plain = load_horn("tenor-f").tuned()
    assert setup.horn.length_m == pytest.approx(plain.length_m, rel=1e-6)


def test_moves_that_cannot_be(studio):
    ada, horn = measured(studio)
    _, foreign = student(studio)
    pages = client(studio)
    url = f"/tuning/{ada}/F/moved"
    for sent, says in (
        ({"mm": "far", "way": "out"}, "'far' can't be read: say how far"),
        ({"mm": "", "way": "out"}, "Say how far the slide was moved"),
        ({"mm": "900", "way": "out"}, "can't be"),
        ({"mm": "-3", "way": "in"}, "can't be"),
        ({"mm": "3", "way": "up"}, "out or in"),
    ):
        got = pages.post(url, data={"horn": horn, "open_hz": "174.1", "valve_hz": "173.1", **sent})
        assert got.status_code == 400
        assert says in words(got)
        assert 'value="174.1"' in got.text
    assert pages.post(url, data={"horn": foreign, "mm": "3", "way": "in"}).status_code == 404
    assert len(list_versions(studio, horn)) == 1


def test_what_is_gone(studio):
    mira, _ = student(studio, "tenor")
    pages = client(studio)
    for path in ("/tuning/99", "/tuning/99/main", f"/tuning/{mira}/F", f"/tuning/{mira}?horn=77"):
        assert pages.get(path).status_code == 404


@pytest.mark.parametrize("language", ["de", "es", "fr"])
def test_other_languages(studio, language):
    mira, _ = student(studio)
    set_setting(studio, "language", language)
    say, pages = speech(language), client(studio)
    text = words(pages.get(f"/tuning/{mira}/F?open_hz=174.614&valve_hz=172.609&temp_c=20"))
    slide = say(N_("{name} loop's slide"), name=say.written("F", "valve"))
    assert say.named("tuning_move", "in", slide=slide, mm="22,9") in text
    assert say(N_("Type the frequency instead")) in text
    assert say(N_("Which slide?")) in words(pages.get(f"/tuning/{mira}"))
