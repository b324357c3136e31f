"""A part as it is chosen with what was learnt, beside what would have been chosen without."""

from handslide.edges.store.learnt import LearntRow
from handslide.studio.choosing.versions import for_stand, in_force
from handslide.studio.parts.openpart import OpenPart, open_part_with
from handslide.studio.parts.stand import get_stand
from handslide.studio.people.students import get_horn, get_student
from handslide.studio.studio import Studio


def newest_for(studio: Studio, part: OpenPart) -> LearntRow | None:
    """What is learnt by now that says anything of a stand's part; None: nothing."""
    return for_stand(part.student, part.horn, in_force(studio))


def with_and_without(studio: Studio, stand_id: int) -> tuple[OpenPart, OpenPart] | None:
    """A part chosen by what is learnt by now, and as if nothing were, the same places locked.

    None where nothing is learnt for it. Raises as `open_part`.
    """
    stand = get_stand(studio, stand_id)
    student, horn = get_student(studio, stand.student_id), get_horn(studio, stand.horn_id)
    learnt = for_stand(student, horn, in_force(studio))
    if learnt is None:
        return None
    return open_part_with(studio, stand_id, learnt), open_part_with(studio, stand_id, None)
