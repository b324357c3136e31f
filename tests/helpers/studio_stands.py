"""A student with a horn and a part on the stand, for tests of the studio."""

from pathlib import Path

from lxml import etree

from handslide.edges.store.students import StudentValues
from handslide.studio.parts.scores import add_score, list_scores, rename_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.people.horns import enrol
from handslide.studio.people.students import list_students

ROOT = Path(__file__).parents[2]
LANTERNS = (ROOT / "examples" / "lanterns.musicxml").read_bytes()
SCORES = ROOT / "tests" / "scores"
NAME, TITLE = "Zoe Quarrel", "Wharf Song"


def stand_of(
    studio, name="Ada Quill", base="tenor-f", data=LANTERNS, file="lanterns.musicxml", **values
):
    """The id of a new student's stand with a score on it."""
    student = enrol(studio, StudentValues(name=name, **values), base)
    score = add_score(studio, data, file).score
    return open_stand(studio, student.id, score.id)


def titled(title):
    """The lanterns under another title."""
    root = etree.fromstring(LANTERNS)
    for path in ("work/work-title", "movement-title"):
        found = root.find(path)
        if found is not None:
            found.text = title
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8")


def namesakes(studio, horns=("tenor-f", "tenor-f")):
    """The ids of two students of one name, each with both of two parts of one title."""
    for base, data in zip(horns, (LANTERNS, titled("Another")), strict=True):
        stand_of(studio, NAME, base, data)
    students = [one.id for one in list_students(studio) if one.name == NAME]
    scores = [one.id for one in list_scores(studio)][-2:]
    for score_id in scores:
        rename_score(studio, score_id, TITLE, "")
        for student_id in students:
            open_stand(studio, student_id, score_id)
    return students, scores
