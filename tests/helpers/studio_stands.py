"""A student with a horn and a part on the stand, for tests of the studio."""

from pathlib import Path

from lxml import etree

from handslide.edges.store.students import StudentValues
from handslide.studio.parts.scores import add_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.people.horns import enrol

ROOT = Path(__file__).parents[2]
LANTERNS = (ROOT / "examples" / "lanterns.musicxml").read_bytes()
SCORES = ROOT / "tests" / "scores"


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
