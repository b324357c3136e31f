"""Tuning in the studio: which slide, played or typed, how far it moves, and the horn's history."""

import json
import re

import pytest
from heard_takes import take
from studio_pages import client, words

from handslide.edges.files.horns import load_horn
from handslide.edges.files.hornwriter import horn_toml
from handslide.edges.store.students import StudentValues
from handslide.ground.pitch import parse_pitch
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
    assert "F loop's slide: push it in 23 mm" in words(got)
    assert "in by 23.1 ±\u00a0" in words(got)
    at_20 = client(studio).get(f"/tuning/{mira}/F?open_hz={F3_HZ}&valve_hz={flat:.3f}&temp_c=20")
    assert "in by 22.9 ±\u00a0" in words(at_20)
    assert "That can be heard" in words(at_20)
    # Drawn in true millimetres, as whole as they are asked for: the whole slide, and its edge on
    # the rule of 40 mm to both sides.
    whole, edge = re.findall(
        r'data-tuning="brass" transform="translate\((-?[\d.]+) 0\)"', at_20.text
    )
    assert float(whole) == -23.0
    assert float(edge) == 40.0 - 23.0


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
        pull = float(re.search(r"slide in by ([\d.]+) ±", words(result))[1])
        assert pull == pytest.approx(22.9, abs=0.4)
    # The interval comes from the take: one note each, repeated to 2 cents.
    assert "±\u00a02.8 cents" in words(result)


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
    assert "Main slide: pull it out" in result
    assert "becomes A4 = 440 Hz" in result


def heard(*notes):
    """What a page carries of notes that were heard: (name, cents off, standard error)."""
    said = [
        (name, parse_pitch(name).hz(440.0) * cents_to_ratio(off), se) for name, off, se in notes
    ]
    return "&".join(f"heard={name}:{hz:.3f}:{se}" for name, hz, se in said)


def test_several_notes_heard_live_decide_together(studio):
    mira, horn = student(studio)
    # What the 3rd and 6th partials are sharp by nature is no fault: 1200·log2(3) - 1900 cents.
    nature = cents(3.0) - 1900.0
    notes = heard(
        ("Bb2", 7.0, 0.5), ("F3", 8.0 + nature, 0.5), ("Bb3", 9.0, 0.5), ("F4", 8.0 + nature, 0.5)
    )
    got = client(studio).get(f"/tuning/{mira}/main?horn={horn}&{notes}")
    text = words(got)
    assert "The notes sound 7 to 9 cents sharp of A4 = 440 Hz, all the same way" in text
    # Standard error: that of the scatter over 2, √(2/3)/2, is more than that of the notes.
    assert "8.0 ±\u00a00.4 on average" in text
    # The closed tube at 25 °C, B♭1: 346.3/(2·58.27) m; ·(2^(8/1200) - 1)/2, less 8 cents of it.
    tube_mm = 1000 * load_horn("tenor-f").tuned().length_m / cents_to_ratio(8.0)
    expected = tube_mm * (cents_to_ratio(8.0) - 1.0) / 2.0
    assert f"out by {expected:.1f} ±\u00a0" in text
    assert "B♭2 +7 cents" in text and "F4 +8 cents" in text
    # The best of them is heard again once the slide was moved.
    assert "check=Bb3" in got.text and "Moved: hear B♭3 again" in text


def test_notes_that_disagree_are_said_to(studio):
    mira, _ = student(studio)
    text = words(
        client(studio).get(f"/tuning/{mira}/main?" + heard(("Bb2", -14, 1), ("Bb3", 12, 1)))
    )
    assert "from −14 to +12 cents" in text
    assert "26 cents apart: no slide takes that away" in text
    assert "no slide" not in words(
        client(studio).get(f"/tuning/{mira}/main?" + heard(("Bb2", -8, 1), ("Bb3", 10, 1)))
    )


def test_one_note_heard_live_says_what_a_typed_one_does(studio):
    mira, _ = student(studio)
    pages = client(studio)
    live = words(pages.get(f"/tuning/{mira}/main?" + heard(("Bb3", 9.0, 2.0))))
    hz = parse_pitch("Bb3").hz(440.0) * cents_to_ratio(9.0)
    typed = words(pages.get(f"/tuning/{mira}/main?note=Bb3&hz={hz:.3f}"))
    assert "B♭3 sounds 9.0 ±\u00a02.0 cents sharp" in live
    pull = r"out by [\d.]+ ±\s[\d.]+ mm"
    assert re.search(pull, live)[0] == re.search(pull, typed)[0]


@pytest.mark.parametrize("bad", ["Bb3", "Bb3:x:1", "Bb3:nan:1", "Bb3:233:1e9", "H:233:1", "::"])
def test_heard_notes_that_cannot_be_read(studio, bad):
    mira, _ = student(studio)
    got = client(studio).get(f"/tuning/{mira}/main?heard={bad}")
    assert got.status_code == 200
    assert "what was heard before can't be read" in words(got).lower()


@pytest.mark.parametrize(
    ("base", "key", "asked"),
    [
        ("tenor-f", "main", ["Bb2", "F3", "Bb3", "F4"]),
        ("tenor-f", "F", ["F3", "F3"]),
        ("tenor-f", "low-F", []),
        ("alto", "main", ["Eb3", "Bb3", "Eb4", "Bb4"]),
    ],
)
def test_a_lesson_asks_one_note_after_the_other(studio, base, key, asked):
    mira, _ = student(studio, base)
    got = client(studio).get(f"/tuning/{mira}/{key}")
    found = re.search(r'id="lesson-data">(.*?)</script>', got.text)
    notes = json.loads(found[1])["notes"] if found else []
    assert [note["name"] for note in notes] == asked
    for note in notes:
        assert note["hz"] == pytest.approx(parse_pitch(note["name"]).hz(440.0), abs=1e-3)
    # One is shown, the others wait.
    assert got.text.count('class="tune-note"') == len(asked)
    assert got.text.count('class="one-note"') == (len(asked) or 1)  # a low note has its staff, too
    assert got.text.count(" hidden>\n<h1>") == max(len(asked) - 1, 0)


def test_after_the_move_only_the_one_note_is_heard_again(studio):
    mira, _ = student(studio)
    got = client(studio).get(f"/tuning/{mira}/main?check=Bb3&temp_c=21")
    course = json.loads(re.search(r'id="lesson-data">(.*?)</script>', got.text)[1])
    assert [note["name"] for note in course["notes"]] == ["Bb3"]
    assert course["on"]["temp_c"] == "21"


def test_where_it_will_probably_stop(studio):
    mira, _ = student(studio)
    pages = client(studio)
    url = f"/tuning/{mira}/main/so-far?"
    assert 'data-tuning="maybe"' not in pages.get(url).text
    wide = pages.get(url + heard(("Bb2", 8, 2.0)))
    frames = re.findall(r'data-tuning="maybe" x="([\d.]+)"[^>]* width="([\d.]+)"', wide.text)
    # 8 cents are 6.7 mm of slide, 2 cents of standard error 2·1.96·0.84 mm in all.
    assert float(frames[1][0]) - 40.0 == pytest.approx(6.7 - 1.96 * 1.69, abs=0.2)
    assert float(frames[1][1]) == pytest.approx(2 * 1.96 * 1.69, abs=0.2)
    assert "the slide will probably stop 4 to 10 mm further out" in wide.text
    sure = pages.get(url + heard(*((note, 8, 2.0) for note in ("Bb2", "Bb3", "Bb4"))))
    narrow = re.findall(r'data-tuning="maybe" x="[\d.]+"[^>]* width="([\d.]+)"', sure.text)
    assert float(narrow[1]) < 0.7 * float(frames[1][1])
    assert "stop 4 to 10 mm further in" in pages.get(url + heard(("Bb2", -8, 2.0))).text
    both = pages.get(url + heard(("Bb2", 1, 2.0))).text
    assert "between 2 mm further in and 4 mm further out" in both
    # Notes that can't be right draw nothing; what is wrong is said at the end.
    assert 'data-tuning="maybe"' not in pages.get(url + "heard=Bb3:466:1").text


def test_what_was_heard_live_is_in_the_horns_history(studio):
    ada, horn = measured(studio)
    notes = heard(("Bb2", 8, 1), ("Bb3", 8, 1)).replace("heard=", "").split("&")
    sent = client(studio).post(
        f"/tuning/{ada}/main/moved", data={"horn": horn, "mm": "6.7", "way": "out", "heard": notes}
    )
    assert sent.status_code == 303
    told = speech().fact(list_versions(studio, horn)[0].told)
    assert told.startswith("main slide pulled out by 6.7 mm. The notes sound 8 to 8 cents sharp")


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
        "F loop's slide pushed in by 22.8 mm. F3 with the F valve sounds 19.9 ±\u00a00.5 cents "
        "flat of the open horn (172.60 against 174.60 Hz)."
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
    pull = re.search(r"pull it out ([\d.]+) mm", text)[1]
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
        ({"mm": "900", "way": "out"}, "moved by 900 mm: give more than 0 and at most 300 mm"),
        ({"mm": "0", "way": "out"}, "moved by 0 mm: give more than 0 and at most 300 mm"),
        ({"mm": "-3", "way": "in"}, "moved by −3 mm: give more than 0 and at most 300 mm"),
        ({"mm": "3", "way": "up"}, "which way the slide was moved: out or in"),
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
    assert say.named("tuning_move", "in", slide=slide) in text
    assert "22,9" in text
    assert say(N_("Type the frequency instead")) in words(pages.get(f"/tuning/{mira}/F"))
    assert say(N_("Which slide?")) in words(pages.get(f"/tuning/{mira}"))
