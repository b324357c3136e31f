"""A teacher's own exercises in the studio: written, refused, printed for each student, kept."""

import io
import zipfile

import pytest
from studio_pages import client, words

from handslide.drills.kinds import DRILLS
from handslide.edges.store.students import StudentValues
from handslide.ground.errors import BadData, BadUsage, NotFound
from handslide.studio.care.archive import archive_file
from handslide.studio.care.archiveimport import add_students, read_archive
from handslide.studio.parts.openpart import open_part
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student
from handslide.studio.practice.exercises import (
    keep_exercises,
    kind_of,
    list_exercises,
    own_name,
    put_away_exercises,
    read_own,
    text_of_file,
)
from handslide.studio.practice.sheets import drill_for, first_drill, own_sheet, player_of
from handslide.studio.studio import open_studio
from handslide.words.catalogues import languages
from handslide.words.exercises import first_exercises
from handslide.words.speech import speech

SAY = speech("en")
MONDAY = """title = "Monday"
[[exercise]]
title = "Home"
levels = ["first-year"]
bars = ["1:1 2:1 3:2"]
[[exercise]]
title = "Slurs"
counted = "partials"
bars = ["2:1( 3:1( 2:2"]
"""


@pytest.fixture
def studio(tmp_path):
    opened = open_studio(tmp_path / "studio")
    yield opened
    opened.close()


def player(studio, name="Nils Aker", horn="tenor-f", **values):
    student = add_student(studio, StudentValues(name, **values))
    add_horn(studio, student.id, horn)
    return player_of(studio, student.id)


@pytest.mark.parametrize("language", languages())
def test_what_one_begins_with_can_be_played(studio, language):
    say = speech(language)
    first = read_own(first_exercises(say))
    sheet = own_sheet(studio, player(studio), first, say).sheet
    assert sheet.title(say) == first.title
    assert len(sheet.pieces) >= 3


def test_they_are_a_kind_of_drill_for_every_student(studio):
    kind = own_name(keep_exercises(studio, MONDAY))
    for who in (
        player(studio, reach=3, profile="beginner"),
        player(studio, "Eva", "bass-independent"),
    ):
        made = drill_for(studio, who, kind, first_drill(who), 1, SAY).sheet
        assert made.title(SAY) == "Monday"
        farthest = who.student.reach or 7
        assert made.places and all(place.position <= farthest + 0.5 for place in made.places)


def test_a_level_gets_what_is_meant_for_it(studio):
    first, later = player(studio, profile="beginner"), player(studio, "Eva")
    sheets = [own_sheet(studio, who, read_own(MONDAY), SAY).sheet for who in (first, later)]
    assert ["Home" in str(sheet.json(SAY)) for sheet in sheets] == [True, False]


def test_a_title_of_ours_is_no_kind_of_ours(studio):
    """Own exercises called as a kind of ours is called are still the teacher's."""
    name = next(name for name, kind in DRILLS.items() if kind.written)
    sheet = own_sheet(studio, player(studio), read_own(MONDAY.replace("Monday", name)), SAY).sheet
    assert sheet.title(SAY) == name


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "there is no exercise"),
        ("title = 'A'\n[[exercise]]\nbars = ['1:1']\n", "bar 1 lasts 1 quarter notes instead of 4"),
        ("[[exercise]]\nbars = ['1:4']\n", "a title is missing"),
        ("title = \n", "the text isn't valid TOML"),
        ("title = 'A'\n[[exercise]]\nbar = ['1:4']\n", "did you mean bars?"),
    ],
)
def test_what_is_wrong_is_said_in_a_sentence(studio, text, told):
    with pytest.raises(BadData) as caught:
        keep_exercises(studio, text)
    assert told in SAY.fact(caught.value)
    assert list_exercises(studio) == ()


def test_two_files_of_one_title_are_refused(studio):
    first = keep_exercises(studio, MONDAY)
    with pytest.raises(BadUsage):
        keep_exercises(studio, MONDAY)
    assert keep_exercises(studio, MONDAY + "\n", first) == first
    put_away_exercises(studio, first, away=True)
    keep_exercises(studio, MONDAY)
    with pytest.raises(BadUsage):
        put_away_exercises(studio, first, away=False)
    with pytest.raises(NotFound):
        kind_of(studio, own_name(999))


def test_a_file_without_a_title_is_called_as_the_file(studio):
    text = text_of_file(b'[[exercise]]\nbars = ["1:4"]\n', 'low "notes".toml')
    assert read_own(text).title == 'low "notes"'
    assert text_of_file(MONDAY.encode(), "x.toml") == MONDAY
    with pytest.raises(BadData):
        text_of_file(b"\xff\xfe", "x.toml")


def test_pages(studio):
    who = player(studio)
    browser, base = client(studio), f"/practice/{who.student.id}"
    answer = browser.post(f"{base}/own/new", data={"text": MONDAY})
    assert answer.status_code == 303
    assert "Kept" in words(browser.get(answer.headers["location"]))
    (row,) = list_exercises(studio)
    kind = own_name(row.id)
    assert "Monday" in words(browser.get(base))
    assert browser.get(f"{base}/drill/strip?kind={kind}").text.startswith("<svg")
    assert f'value="{kind}" selected' in browser.get(f"{base}/drill?kind={kind}").text
    assert browser.get(f"{base}/drill.pdf?kind={kind}").content.startswith(b"%PDF")
    assert browser.get(f"{base}/own/{row.id}/file").text == MONDAY
    browser.post(f"{base}/drill/stand", data={"kind": kind})
    (stand,) = list_stands(studio, student_id=who.student.id)
    assert open_part(studio, stand.id).score.title.startswith("Monday")
    wrong = browser.post(f"{base}/own/{row.id}", data={"text": MONDAY.replace("3:2", "3:1")})
    assert wrong.status_code == 400 and "bar 1 lasts 3 quarter notes" in words(wrong)
    assert "3:1&#34;]" in wrong.text or '3:1"]' in wrong.text
    shown = browser.post(f"{base}/own/preview", data={"text": MONDAY.replace("Monday", "Other")})
    assert "data:image/png;base64," in shown.text and list_exercises(studio) == (row,)
    file = ("file", ("week.toml", MONDAY.replace('title = "Monday"\n', ""), "application/toml"))
    browser.post(f"{base}/own/file", files=[file])
    assert "week" in words(browser.get(base))
    browser.post(f"{base}/own/{row.id}/away")
    assert [one.title for one in list_exercises(studio)] == ["week"]
    assert "1 put away" in words(browser.get(base))
    browser.post(f"{base}/own/{row.id}/away", data={"back": "1"})
    assert len(list_exercises(studio)) == 2
    assert browser.get(f"{base}/own/77").status_code == 404


def test_they_travel_with_the_studio(studio, tmp_path):
    keep_exercises(studio, MONDAY)
    file, _ = archive_file(studio, SAY)
    with file:
        data = file.read()
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        (name,) = [name for name in archive.namelist() if name.startswith("exercises/")]
        assert archive.read(name).decode() == MONDAY
    other = open_studio(tmp_path / "other")
    try:
        for _ in range(2):
            add_students(other, read_archive(other, io.BytesIO(data)).token)
        assert [row.text for row in list_exercises(other)] == [MONDAY]
    finally:
        other.close()
