"""Students and their horns: the jobs, and the pages that people see and fill in."""

import re
import tomllib
from dataclasses import replace
from html import unescape

import pytest
from command import run
from invented import DEMO
from studio_pages import client, words

from handslide.edges.store.students import StudentValues
from handslide.ground.errors import AirError, BadData, BadUsage, HandslideError, HornError, NotFound
from handslide.ground.facts import fact
from handslide.ground.pitch import parse_pitch
from handslide.jobs.setup import make_setup
from handslide.studio.home.overview import card_of, cards, mark_examples
from handslide.studio.parts.scores import add_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.people.hornfacts import changes_between, horn_facts
from handslide.studio.people.horns import (
    HornValues,
    add_horn,
    archive_horn,
    change_horn,
    enrol,
    import_horn,
    make_main,
    models,
    restore_version,
)
from handslide.studio.people.students import (
    add_version,
    archive_student,
    change_student,
    get_horn,
    get_student,
    list_horns_of,
    list_students,
    list_versions,
    main_horn,
    setup_for,
    speech_about,
    speech_for,
    valves_of,
)
from handslide.studio.studio import set_setting
from handslide.studio.takes.takes import save_take
from handslide.words.catalogues import languages
from handslide.words.hints import STUDIO
from handslide.words.speech import speech

MIRA = StudentValues("Mira", reach=6.0)
EVIL = "<script>alert(1)</script>"


def values_of(horn, **changes):
    """The values of a tenor with F valve as a form has them, some of them changed."""
    usual = HornValues(horn.title, 440.0, None, 670.0, 20.0, "Bb1", (("F", "F1"),))
    return replace(usual, **changes)


@pytest.fixture
def mira(studio):
    return enrol(studio, MIRA, "tenor-f")


# Students.


def test_a_student_begins_with_one_horn(studio, mira):
    assert get_student(studio, mira.id) == mira
    assert (mira.name, mira.reach, mira.learned, mira.keep_recordings) == ("Mira", 6.0, None, False)
    horn = main_horn(studio, mira.id)
    assert (horn.title, horn.base, horn.version.number, horn.version.origin) == (
        "Tenor trombone in B♭ with F valve", "tenor-f", 1, "model",
    )  # fmt: skip
    usual = make_setup("tenor-f", reach=6.0).horn
    assert setup_for(mira, horn).horn.length_m == usual.length_m


def test_only_learned_valves_are_used(studio):
    student = enrol(studio, replace(MIRA, learned=("F",)), "bass-independent")
    assert student.learned == ("F",)
    limits = setup_for(student, main_horn(studio, student.id)).book.limits
    assert limits.learned == frozenset({"F"})
    everything = change_student(studio, student.id, replace(MIRA, learned=("Gb", "F")))
    assert everything.learned is None
    nothing = change_student(studio, student.id, replace(MIRA, learned=()))
    assert nothing.learned == ()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"name": " \n "}, "needs a name"),
        ({"name": "x" * 201}, "201 letters"),
        ({"about": "x" * 5000}, "5000 letters"),
        ({"reach": 12.5}, "12.5 isn't a position"),
        ({"reach": float("nan")}, "isn't a position"),
        ({"learned": ("G",)}, "no horn of this student has a valve 'G'"),
        ({"clef": "french"}, "'french' isn't a clef"),
        ({"names": "latin"}, "way to name notes"),
        ({"marks": "purple"}, "'purple' is not a mark style"),
        ({"profile": "../secret"}, "isn't a profile"),
        ({"show": "some"}, "choice of marks"),
        ({"keep_recordings": True}, "only with a note of who agreed"),
        ({"consent_note": "mother", "consent_on": "yesterday"}, "isn't a day"),
        ({"consent_note": "mother", "consent_on": "2999-01-01"}, "still to come"),
    ],
)
def test_what_a_student_cant_be_gets_one_sentence_and_changes_nothing(studio, mira, changes, said):
    wrong = replace(MIRA, **changes)
    with pytest.raises((BadData, BadUsage), match=said) as caught:
        change_student(studio, mira.id, wrong)
    assert len(str(caught.value).splitlines()) == 1
    assert get_student(studio, mira.id) == mira
    with pytest.raises((BadData, BadUsage)):
        enrol(studio, wrong, "tenor-f")
    assert list_students(studio) == (mira,)


def test_consent_has_a_day(studio, mira):
    agreed = replace(MIRA, consent_note=" mother,  signed ", keep_recordings=True)
    student = change_student(studio, mira.id, agreed)
    assert (student.consent_note, student.keep_recordings) == ("mother, signed", True)
    assert len(student.consent_on) == 10
    # Taking the note back takes the permission with it.
    student = change_student(studio, mira.id, MIRA)
    assert (student.consent_note, student.consent_on, student.keep_recordings) == (
        None, None, False,
    )  # fmt: skip


def test_names_are_tidied(studio):
    student = enrol(studio, StudentValues("  Ada \u202e\x00 Lind\u0308 ", "a\r\nb\n"), "tenor")
    assert (student.name, student.about) == ("Ada Lind̈", "a\nb")


def test_the_archive_loses_nothing(studio, mira):
    archive_student(studio, mira.id)
    assert list_students(studio) == ()
    assert [card.student.id for card in cards(studio, archived=True)] == [mira.id]
    assert archive_student(studio, mira.id, archived=False) == mira
    with pytest.raises(NotFound):
        archive_student(studio, 99)


# Horns.


def test_each_change_of_a_horn_is_a_version_and_none_is_lost(studio, mira):
    horn = main_horn(studio, mira.id)
    first = horn.version
    changed = change_horn(
        studio, horn.id, values_of(horn, travel_mm=655.0, valves=(("F", "43.3"),)), "measured"
    )
    assert (changed.version.number, changed.version.origin, changed.version.told) == (
        2, "edit", fact("people.as_told", text="measured"),
    )  # fmt: skip
    description = changed.version.description
    assert description.travel_m == pytest.approx(0.655)
    assert description.valves[0].closed.hz == 43.3
    versions = list_versions(studio, horn.id)
    assert [version.number for version in versions] == [2, 1]
    assert versions[1] == first
    said = {(c.what, c.valve): (c.before, c.after) for c in changes_between(first, versions[0])}
    assert said == {
        ("closed", "F"): (parse_pitch("F1"), fact("people.measured", hz=43.3)),
        ("travel", ""): (670.0, 655.0),
    }


def test_a_former_version_is_used_again_as_a_new_one(studio, mira):
    horn = main_horn(studio, mira.id)
    change_horn(studio, horn.id, values_of(horn, travel_mm=600.0))
    restored = restore_version(studio, horn.id, 1)
    assert (restored.number, restored.origin, restored.told) == (
        3, "restored", fact("people.restored", number=1),
    )  # fmt: skip
    assert restored.toml == list_versions(studio, horn.id)[2].toml
    assert get_horn(studio, horn.id).version == restored
    with pytest.raises(BadData, match="the one in use"):
        restore_version(studio, horn.id, 3)
    with pytest.raises(BadData, match="no version 9"):
        restore_version(studio, horn.id, 9)


def test_pitch_and_air_are_no_version(studio, mira):
    horn = main_horn(studio, mira.id)
    tuned = change_horn(studio, horn.id, values_of(horn, a4_hz=442.0, temp_c=21.0, title="Old"))
    assert (tuned.a4_hz, tuned.temp_c, tuned.title) == (442.0, 21.0, "Old")
    assert tuned.version.number == 1
    assert setup_for(mira, tuned).horn.a4_hz == 442.0


def test_saving_a_measured_horn_unchanged_changes_no_digit(studio, mira):
    horn = main_horn(studio, mira.id)
    toml = horn.version.toml.replace('closed = "F1"', "closed_hz = 43.123456789")
    add_version(studio, horn.id, toml, "fit", fact("people.as_told", text="seven notes"))
    horn = get_horn(studio, horn.id)
    change_horn(studio, horn.id, values_of(horn, valves=(("F", "43.123"),)))
    assert get_horn(studio, horn.id).version.number == 2


@pytest.mark.parametrize(
    ("changes", "error", "said"),
    [
        ({"title": " "}, BadData, "needs a name"),
        ({"a4_hz": 44.0}, HornError, "380 to 500 Hz"),
        ({"temp_c": 70.0}, AirError, "Fahrenheit"),
        ({"measured_temp_c": 70.0}, HornError, "air of 70 is outside 0 to 30"),
        ({"travel_mm": 64.0}, HornError, "travel of 64 is outside 150 to 1200 mm.* are 640 mm"),
        ({"travel_mm": -1.0}, HornError, "travel of −1 is outside 150 to 1200 mm"),
        ({"travel_mm": float("nan")}, HornError, "must be numbers, not nan"),
        ({"lip_up_cents": -1.0}, HornError, "lipping up of −1 is outside 0 to 100 cents"),
        ({"closed": "H1"}, BadData, "German"),
        ({"closed": "Bb3"}, HornError, "octave"),
        ({"closed": "1e9"}, HornError, "15 to 500 Hz"),
        ({"valves": (("F", ""),)}, BadData, "is not a note"),
        ({"valves": (("F", "Bb1"),)}, HornError, "octave"),
    ],
)
def test_what_a_horn_cant_be_gets_one_sentence_and_changes_nothing(
    studio, mira, changes, error, said
):
    horn = main_horn(studio, mira.id)
    with pytest.raises(error) as caught:
        change_horn(studio, horn.id, values_of(horn, **changes))
    assert re.search(said, speech("en", face=STUDIO).fact(caught.value))
    assert len(str(caught.value).splitlines()) == 1
    assert "horn-" not in str(caught.value)
    assert get_horn(studio, horn.id) == horn


def test_several_horns_have_one_main_horn(studio, mira):
    first = main_horn(studio, mira.id)
    second = add_horn(studio, mira.id, "alto", title="The alto")
    assert not second.main
    make_main(studio, second.id)
    assert [horn.title for horn in list_horns_of(studio, mira.id)] == ["The alto", first.title]
    archive_horn(studio, second.id)
    assert main_horn(studio, mira.id).id == first.id
    with pytest.raises(BadData, match="one horn at least"):
        archive_horn(studio, first.id)
    with pytest.raises(BadData, match="archived"):
        make_main(studio, second.id)
    archive_horn(studio, second.id, archived=False)
    assert sum(horn.main for horn in list_horns_of(studio, mira.id)) == 1


def test_no_path_is_taken_for_a_horn(studio, mira, tmp_path):
    file = tmp_path / "secret.toml"
    file.write_text(main_horn(studio, mira.id).version.toml, encoding="utf-8")
    for name in (str(file), "../horns/tenor", "tenor.toml", ""):
        with pytest.raises(HornError, match="no horn called"):
            add_horn(studio, mira.id, name)
        with pytest.raises(HornError, match="no horn called"):
            mark_examples(name, "")


def test_a_horn_file_comes_in_with_its_text(studio, mira):
    text = main_horn(studio, mira.id).version.toml
    horn = import_horn(studio, mira.id, text.encode(), "my horn.toml")
    assert (horn.version.toml, horn.version.origin, horn.base) == (text, "import", "my horn")
    for data, said in (
        (b"\xff\xfe\x00", "UTF-8"),
        (b"closed = 3", "travel_mm|closed"),
        (b"x" * 1_000_001, "too large"),
    ):
        with pytest.raises(HornError, match=said):
            import_horn(studio, mira.id, data, "my horn.toml")
    assert len(list_horns_of(studio, mira.id)) == 2


def test_facts_of_a_horn(studio, mira):
    facts = horn_facts(main_horn(studio, mira.id))
    assert [tube.closed.pretty for tube in facts.tubes] == ["B♭1", "F1"]
    assert facts.tubes[1].length_mm - facts.tubes[0].length_mm == pytest.approx(
        facts.tubes[1].loop_mm
    )
    assert [number for number, _ in facts.positions_mm] == [1, 2, 3, 4, 5, 6, 7]
    assert facts.positions_mm[6][1] == pytest.approx(617, abs=1)
    assert facts.half_width_mm is None


def test_every_horn_of_ours_can_be_given_and_has_marks(studio, mira):
    for name, title in models():
        horn = add_horn(studio, mira.id, name)
        assert horn.title == speech("en").written(title)
        shown = mark_examples(name, "")
        assert len(shown) == len(set(shown)) >= 2
    assert set(valves_of(studio, mira.id)) >= {"F", "Gb", "D"}
    assert (parse_pitch("Db2"), "T6") in mark_examples("tenor-f", "")
    assert (parse_pitch("Db2"), "V1·VI") in mark_examples("tenor-f", "number roman") or any(
        mark.startswith("V·") for _, mark in mark_examples("tenor-f", "number roman")
    )


def test_a_horn_that_cant_be_read_any_more_bricks_nothing(studio, mira):
    horn = main_horn(studio, mira.id)
    with studio.store.write() as db:
        db.execute(
            "INSERT INTO horn_version (horn_id, number, toml, origin, created_at) "
            "VALUES (?, 2, 'travel_mm = 3', 'edit', '2026-01-01T00:00:00.000Z')",
            (horn.id,),
        )
    web = client(studio)
    student = web.get(f"/students/{mira.id}")
    assert student.status_code == 200
    assert "give either closed" in words(student)
    assert "horn-" not in words(student)
    for path in ("/", f"/students/{mira.id}/edit", f"/students/{mira.id}/mine"):
        assert web.get(path).status_code == 200
    for path in (f"/charts?student={mira.id}", f"/tuning/{mira.id}", f"/fitting/{mira.id}"):
        said = web.get(path)
        assert said.status_code == 400
        assert "use a former version again" in words(said)
        assert "horn-" not in words(said)
    page = web.get(f"/horns/{horn.id}")
    assert page.status_code == 200
    assert "can't be read any more" in words(page)
    assert web.get(f"/horns/{horn.id}/edit").status_code == 400
    assert web.get(f"/horns/{horn.id}/versions/2").status_code == 200
    assert web.post(f"/horns/{horn.id}/restore", data={"number": "1"}).status_code == 303
    assert horn_facts(get_horn(studio, horn.id)).travel_mm == pytest.approx(670)


# The pages.

FORM = {
    "name": "Nils Brandt", "about": "plays outdoors", "horn": "bass-independent", "reach": "5.5",
    "offered": ["F", "Gb"], "valves": ["F"], "clef": "tenor", "names": "german", "signs": "letter",
    "counting": "open", "numerals": "arabic", "profile": "beginner", "show": "new",
    "consent_note": "", "consent_on": "",
}  # fmt: skip


def test_a_student_is_taken_in_by_the_form(studio):
    web = client(studio)
    assert "Nobody is here yet" in words(web.get("/"))
    form = words(web.get("/students/new"))
    assert "growing arm" in form
    assert "local rules" in form
    done = web.post("/students/new", data=FORM)
    assert done.status_code == 303
    (student,) = list_students(studio)
    assert done.headers["location"] == f"/students/{student.id}"
    assert (student.name, student.reach, student.learned, student.clef) == (
        "Nils Brandt", 5.5, ("F",), "tenor",
    )  # fmt: skip
    assert (student.names, student.marks, student.profile, student.show) == (
        "german", "letter", "beginner", "new",
    )  # fmt: skip
    page = words(web.get(done.headers["location"]))
    assert "plays outdoors" in page
    assert "up to 5½" in page
    assert "Nils Brandt" in words(web.get("/"))


def test_what_was_typed_stays_when_something_is_wrong(studio):
    web = client(studio)
    wrong = FORM | {"reach": "99", "about": "keep <me>", "keep_recordings": "1"}
    answer = web.post("/students/new", data=wrong)
    assert answer.status_code == 400
    assert "a reach of 99 isn't a position" in words(answer)
    assert "keep &lt;me&gt;" in answer.text
    assert 'value="Nils Brandt"' in answer.text
    assert 'value="bass-independent" selected' in answer.text
    assert 'value="99" selected' in answer.text
    assert list_students(studio) == ()
    for changes in ({"horn": "kazoo"}, {"reach": "far"}, {"signs": "x"}, {"name": ""}):
        assert web.post("/students/new", data=FORM | changes).status_code == 400
    assert list_students(studio) == ()


def test_without_scripts_the_valves_of_another_horn_are_no_stumbling_block(studio):
    answer = client(studio).post("/students/new", data=FORM | {"horn": "alto"})
    assert answer.status_code == 303
    assert list_students(studio)[0].learned is None


def test_a_student_is_edited_and_archived(studio, mira):
    web = client(studio)
    assert 'value="6" selected' in web.get(f"/students/{mira.id}/edit").text
    changed = FORM | {"offered": ["F"], "valves": []}
    assert web.post(f"/students/{mira.id}/edit", data=changed).status_code == 303
    assert get_student(studio, mira.id).learned == ()
    wrong = web.post(f"/students/{mira.id}/edit", data=changed | {"name": " "})
    assert wrong.status_code == 400
    assert "needs a name" in words(wrong)
    assert web.post(f"/students/{mira.id}/archive", data={"archived": "1"}).status_code == 303
    home = words(web.get("/"))
    assert "1 archived student" in home
    web.post(f"/students/{mira.id}/archive", data={"archived": "0"})
    assert get_student(studio, mira.id).archived_at is None


def test_a_student_is_deleted_after_a_page_that_says_what_goes(studio, mira):
    score = add_score(studio, DEMO.read_bytes(), DEMO.name).score
    open_stand(studio, mira.id, score.id)
    web = client(studio)
    page = words(web.get(f"/students/{mira.id}/delete"))
    assert "1 horn with its history" in page
    assert "1 part on the stand" in page
    assert "take" not in page.split("With the student go:")[1].split("Archives")[0]
    assert get_student(studio, mira.id) == mira
    assert web.post(f"/students/{mira.id}/delete").status_code == 303
    assert list_students(studio) == ()
    assert web.get(f"/students/{mira.id}").status_code == 404


def test_names_are_text_on_every_page(studio):
    student = enrol(studio, StudentValues(EVIL, EVIL, consent_note=EVIL), "tenor-f")
    horn = add_horn(studio, student.id, "alto", title=EVIL)
    change_horn(studio, horn.id, HornValues(EVIL, 440, None, 470, 20, "Eb2", ()), EVIL)
    web = client(studio)
    for path in (
        "/", f"/students/{student.id}", f"/students/{student.id}/edit",
        f"/students/{student.id}/delete", f"/students/{student.id}/mine",
        f"/students/{student.id}/horns/new", f"/horns/{horn.id}", f"/horns/{horn.id}/edit",
        f"/horns/{horn.id}/versions/2",
    ):  # fmt: skip
        answer = web.get(path)
        assert answer.status_code == 200, path
        assert EVIL not in answer.text, path
        assert EVIL in unescape(answer.text), path
    file = web.get(f"/horns/{horn.id}/file")
    assert file.headers["content-disposition"] == (
        'attachment; filename="script-alert-1-script-2.toml"'
    )


def test_a_students_own_page_names_nobody_else(studio, mira):
    enrol(studio, StudentValues("Somebody Else"), "alto")
    score = add_score(studio, DEMO.read_bytes(), DEMO.name).score
    stand = open_stand(studio, mira.id, score.id)
    answer = client(studio).get(f"/students/{mira.id}/mine")
    assert "Somebody Else" not in answer.text
    assert f'href="/stands/{stand}"' in answer.text
    assert f'href="/charts?student={mira.id}"' in answer.text


def test_the_horn_page_and_its_form(studio, mira):
    web, horn = client(studio), main_horn(studio, mira.id)
    page = words(web.get(f"/horns/{horn.id}"))
    for text in ("670 mm", "43.65", "997", "617", "as it is built", "25 °C"):
        assert text in page
    form = {
        "title": "Hers", "a4_hz": "441,5", "temp_c": "", "travel_mm": "655,5",
        "lip_up_cents": "20", "closed": "58.1 Hz", "valve": ["F"], "valve_closed": ["F1"],
        "measured_temp_c": "23", "words": "with a ruler",
    }  # fmt: skip
    assert web.post(f"/horns/{horn.id}/edit", data=form).status_code == 303
    page = words(web.get(f"/horns/{horn.id}"))
    assert "Hers" in page
    assert "travel : 670 mm → 655.5 mm" in page.replace("travel:", "travel :")
    assert "with a ruler" in page
    wrong = web.post(f"/horns/{horn.id}/edit", data=form | {"travel_mm": "far"})
    assert wrong.status_code == 400
    assert "'far' isn't a number" in words(wrong)
    assert 'value="441,5"' in wrong.text
    assert web.post(f"/horns/{horn.id}/edit", data={}).status_code == 400
    beside = words(web.get(f"/horns/{horn.id}/versions/2"))
    assert "Beside version 1" in beside
    assert web.get(f"/horns/{horn.id}/versions/7").status_code == 400
    assert web.post(f"/horns/{horn.id}/restore", data={"number": "1"}).status_code == 303
    assert "version 1 used again" in words(web.get(f"/horns/{horn.id}"))
    for number in ("3", "77", "x", "9" * 30):
        assert web.post(f"/horns/{horn.id}/restore", data={"number": number}).status_code == 400


def test_the_horn_file_is_read_by_the_command_line(studio, mira, tmp_path):
    horn = main_horn(studio, mira.id)
    change_horn(studio, horn.id, values_of(horn, travel_mm=600.0), "sawn off")
    assert "#" not in main_horn(studio, mira.id).version.toml
    web = client(studio)
    newest = web.get(f"/horns/{horn.id}/file")
    assert tomllib.loads(newest.text)["travel_mm"] == 600
    assert newest.text.startswith("# sawn off\n")
    assert "# first partial of the closed slide" in newest.text
    set_setting(studio, "language", "de")
    german = web.get(f"/horns/{horn.id}/file").text
    assert "# first partial" not in german and german.count("#") == newest.text.count("#")
    assert tomllib.loads(german) == tomllib.loads(newest.text)
    set_setting(studio, "language", "en")
    assert tomllib.loads(web.get(f"/horns/{horn.id}/file?version=1").text)["travel_mm"] == 670
    path = tmp_path / "horn.toml"
    path.write_bytes(newest.content)
    assert "600 mm" in run("places", "C3", "--horn", path).stdout
    assert web.get(f"/horns/{horn.id}/file?version=9").status_code == 400


def test_a_horn_is_added_by_the_form_or_from_a_file(studio, mira):
    web, url = client(studio), f"/students/{mira.id}/horns/new"
    assert "One thumb valve" in words(web.get(url))
    assert web.post(url, data={"base": "alto", "title": "Hers"}).status_code == 303
    text = main_horn(studio, mira.id).version.toml
    file = {"file": ("..\\..\\etc\\own.toml", text.encode())}
    assert web.post(url, data={"base": "alto", "title": ""}, files=file).status_code == 303
    assert [horn.base for horn in list_horns_of(studio, mira.id)] == ["tenor-f", "alto", "own"]
    wrong = web.post(url, data={"base": "x"}, files={"file": ("a.toml", b"\x00\xff")})
    assert wrong.status_code == 400
    assert "a.toml isn't text" in words(wrong)
    assert web.post(url, data={"base": "/etc/passwd"}).status_code == 400
    second = list_horns_of(studio, mira.id)[1]
    assert web.post(f"/horns/{second.id}/main").status_code == 303
    assert main_horn(studio, mira.id).id == second.id
    assert web.post(f"/horns/{second.id}/archive", data={"archived": "1"}).status_code == 303
    assert web.post(f"/horns/{second.id}/main").status_code == 400


def test_pieces_follow_the_form(studio, mira):
    web = client(studio)
    valves = web.get("/students/valves?horn=bass-independent")
    assert words(valves) == "F valve G♭ valve"
    assert "no valve" in words(web.get("/students/valves?horn=alto"))
    assert web.get("/students/valves?horn=/etc/passwd").status_code == 200
    marks = "/students/marks?horn=tenor-f&counting=open&numerals=arabic&signs="
    assert "T7½" in words(web.get(marks + "thumb"))
    assert "F·7½" in words(web.get(marks + "letter"))
    assert "V·7½" in words(web.get(f"/students/marks?student={mira.id}&signs=number"))
    assert "No example" in words(web.get("/students/marks?horn=kazoo"))


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("de", ("Schüler hinzufügen", "Neuer Schüler", "alle Lagen", "Geschichte", "Werte")),
        ("es", ("Añadir un alumno", "Nuevo alumno", "todas las posiciones", "Historia", "Valores")),
    ],
)
def test_german_and_spanish(studio, language, said):
    student = enrol(studio, StudentValues("Mira"), "tenor-f")
    horn = main_horn(studio, student.id)
    change_horn(studio, horn.id, values_of(horn, travel_mm=655.5))
    web = client(studio, **{"Accept-Language": f"{language},en;q=0.5"})
    paths = ("/", "/students/new", f"/students/{student.id}", f"/horns/{horn.id}")
    seen = " ".join(words(web.get(path)) for path in paths)
    for text in (*said, "655,5 mm"):
        assert text in seen, text


def test_a_horn_of_ours_is_called_in_the_language_of_the_page(studio):
    web = client(studio, **{"Accept-Language": "de"})
    web.post("/students/new", data=FORM)
    (student,) = list_students(studio)
    horn = main_horn(studio, student.id)
    assert horn.title == "Bassposaune, unabhängige Ventile F und Ges"
    assert words(web.get(f"/horns/{horn.id}")).count(horn.title) == 2
    web.post(f"/students/{student.id}/horns/new", data={"base": "alto", "title": ""})
    assert list_horns_of(studio, student.id)[1].title == "Altposaune in Es"


def test_recordings_that_are_left_when_consent_is_taken_back_are_shown(studio, mira):
    web = client(studio)
    take = save_take(
        studio, mira.id, {"kind": "free"}, [], title="Tones", source="file", a4_hz=440.0,
        length_s=1.0,
    )  # fmt: skip
    with studio.store.write() as db:
        db.execute(
            "INSERT INTO recording VALUES (?, 'audio/flac', x'00', '2026-01-01T00:00:00.000Z')",
            (take,),
        )
    page = web.get(f"/students/{mira.id}")
    assert "1 recording is still kept" in words(page)
    assert f'href="/data/recordings/delete?student={mira.id}"' in page.text
    change_student(studio, mira.id, replace(MIRA, consent_note="mother", keep_recordings=True))
    assert "still kept" not in words(web.get(f"/students/{mira.id}"))


def test_what_isnt_there_gets_a_page(studio):
    web = client(studio)
    for path in ("/students/7", f"/students/{10**30}", f"/students/marks?student={10**30}",
                 f"/horns/{10**30}", "/students/7/edit", "/students/7/mine", "/students/7/delete",
                 "/students/7/horns/new", "/horns/7", "/horns/7/edit", "/horns/7/versions/1",
                 "/horns/7/file"):  # fmt: skip
        assert web.get(path).status_code == 404, path
    for path in ("/students/7/edit", "/students/7/archive", "/students/7/delete", "/horns/7/edit",
                 "/horns/7/main", "/horns/7/archive"):  # fmt: skip
        assert web.post(path, data=FORM).status_code == 404, path


def test_a_card_says_what_stands_open(studio, mira):
    assert card_of(studio, mira.id).stands == ()
    score = add_score(studio, DEMO.read_bytes(), DEMO.name).score
    open_stand(studio, mira.id, score.id)
    (card,) = cards(studio)
    assert [stand.title for stand in card.stands] == ["Lanterns on the Quay"]
    assert card.last is None
    with pytest.raises(HandslideError):
        card_of(studio, 99)


# The language of a student.


def test_what_is_printed_for_a_student_speaks_the_students_language(studio, mira):
    reader = speech("en", face=STUDIO)
    b = parse_pitch("B2")
    assert speech_for(mira, reader).language.code == "en"
    assert speech_for(mira, speech("de")).note(b) == "H"
    carla = change_student(studio, mira.id, StudentValues("Carla", language="es"))
    assert (carla.language, speech_for(carla, reader).language.code) == ("es", "es")
    assert speech_for(carla, reader).face == STUDIO
    # The teacher reads about her in the teacher's language.
    assert speech_about(carla, reader) is reader
    german = change_student(studio, mira.id, StudentValues("Carla", names="german"))
    assert speech_for(german, reader).note(b) == speech_about(german, reader).note(b) == "H"
    assert speech_for(german, reader).language.code == "en"
    with pytest.raises(BadData, match="isn't a language: there are en"):
        change_student(studio, mira.id, StudentValues("Carla", language="xx"))


def test_a_students_language_is_chosen_in_the_form(studio):
    web = client(studio)
    page = web.get("/students/new").text
    for language in languages().values():
        assert f'value="{language.code}" lang="{language.code}">{language.name}</option>' in page
    assert '<option value="">as usual in this language</option>' in page
    assert web.post("/students/new", data=FORM | {"language": "fr"}).status_code == 303
    student = list_students(studio)[0]
    assert (student.language, student.names) == ("fr", "german")
    edit = web.get(f"/students/{student.id}/edit").text
    assert '<option value="fr" lang="fr" selected>' in edit
    web.post(
        f"/students/{student.id}/edit", data=FORM | {"language": "", "offered": [], "names": ""}
    )
    changed = list_students(studio)[0]
    assert (changed.language, changed.names) == (None, "")


def test_the_bells_rim_is_kept_with_the_horn(studio, mira):
    horn, web = main_horn(studio, mira.id), client(studio)
    form = {
        "title": "Hers", "a4_hz": "440", "temp_c": "", "travel_mm": "670", "lip_up_cents": "20",
        "measured_temp_c": "25", "closed": "Bb1", "valve": "F", "valve_closed": "F1", "words": "",
    }  # fmt: skip
    for typed in ("12", "far", "9999"):
        wrong = web.post(f"/horns/{horn.id}/edit", data=form | {"bell_mm": typed})
        assert wrong.status_code == 400 and "bell" in words(wrong)
    assert web.post(f"/horns/{horn.id}/edit", data=form | {"bell_mm": "187,5"}).status_code == 303
    kept = main_horn(studio, mira.id)
    assert kept.version.description.bell_m == pytest.approx(0.1875)
    shown = words(web.get(f"/horns/{horn.id}"))
    # A whole tone below the closed slide the tube is longer by 2 ** (1 / 6), half of it each leg.
    length_mm = 1000 * setup_for(mira, kept).horn.length_m
    third_mm = length_mm * (2 ** (1 / 6) - 1) / 2
    assert "bell rim at 188 mm: " in shown
    assert f"3rd {187.5 - third_mm:.0f} mm before it" in shown
    assert "bell rim: – → 187.5 mm" in " ".join(shown.split())
    assert "bell_mm = 187.5" in web.get(f"/horns/{horn.id}/file").text
    # It isn't lost when the form comes again, and goes when it is emptied.
    assert 'name="bell_mm" value="187.5"' in web.get(f"/horns/{horn.id}/edit").text
    web.post(f"/horns/{horn.id}/edit", data=form | {"bell_mm": ""})
    assert main_horn(studio, mira.id).version.description.bell_m is None
