"""Two students of one name, and two parts of one title, are told apart; pages: test_studio_walk."""

from urllib.parse import unquote

import pytest
from studio_pages import client
from studio_stands import NAME, namesakes, stand_of

from handslide.studio.parts.stand import list_stands
from handslide.studio.people.namesakes import Names
from handslide.studio.people.students import list_students
from handslide.words.speech import speech

HORNS = [
    "Tenor trombone in B♭ with F valve",
    "Bass trombone in B♭ with independent F and G♭ valves",
]
SAY = speech("en")


@pytest.mark.parametrize(
    ("horns", "said"),
    [
        (("tenor-f", "bass-independent"), HORNS),
        (("tenor-f", "tenor-f"), ["no. 1", "no. 2"]),
    ],
)
def test_the_horn_tells_two_students_apart_or_else_they_are_counted(studio, horns, said):
    students, _ = namesakes(studio, horns)
    names = Names(studio)
    assert [names.student(one).words(SAY) for one in students] == [f"{NAME} ({w})" for w in said]


def test_the_day_tells_two_of_one_horn_apart(studio):
    students, _ = namesakes(studio)
    with studio.store.write() as db:
        db.execute(
            "UPDATE student SET created_at = '2020-05-03T12:00:00+00:00' WHERE id = ?",
            students[:1],
        )
    assert Names(studio).student(students[0]).words(SAY) == f"{NAME} (since 3 May 2020)"
    assert Names(studio).student(students[0]).plain == f"{NAME} 2020-05-03"


def test_who_is_alone_with_a_name_has_just_the_name(studio):
    stand_of(studio)
    (student,) = list_students(studio)
    assert Names(studio).student(student.id).words(SAY) == "Ada Quill"


def test_their_files_have_names_of_their_own(studio):
    students, _ = namesakes(studio)
    home = client(studio)
    stands = [row.id for row in list_stands(studio)]
    paths = [f"/stands/{one}/score" for one in stands]
    paths += [f"/progress/{one}.pdf" for one in students]
    paths += [f"/charts/sheet.svg?student={one}&sheet=all&page=1&save=1" for one in students]
    answers = [home.get(path) for path in paths]
    assert {answer.status_code for answer in answers} == {200}
    files = [unquote(answer.headers["Content-Disposition"]) for answer in answers]
    assert len(files) == 8 and len(set(files)) == 8, files
