"""Answers to "which would you write?", kept with the stand that was asked about."""

from handslide.edges.store.learnt import AnswerRow, Picked, delete_last_answer, insert_answer
from handslide.ground.errors import BadUsage
from handslide.ground.limits import QUESTION_NOTES
from handslide.instrument.learning.example import Answer, Question
from handslide.studio.choosing.consent import collects
from handslide.studio.learning.background import learn_later
from handslide.studio.learning.examples import stand_of_key, studio_examples
from handslide.studio.parts.stand import get_stand
from handslide.studio.studio import Studio


def keep_answer(studio: Studio, question: Question, picked: Picked) -> None:
    """Keep what was picked: 1, 2 or 0 for neither.

    ``question`` is about consecutive notes of a stand's example. Raises NotFound for a stand that
    is gone, BadUsage without the teacher's yes to learning and for a question of something else.
    """
    if not collects(studio):
        raise BadUsage("learning.no_consent")
    stand_id = stand_of_key(question.key)
    if stand_id is None or picked not in (0, 1, 2) or not 0 < len(question.notes) <= QUESTION_NOTES:
        raise BadUsage("learning.no_question")
    get_stand(studio, stand_id)
    numbers = tuple(note.number for note in question.notes)
    with studio.store.write() as db:
        insert_answer(db, AnswerRow(stand_id, numbers, question.first, question.second, picked))
    learn_later(studio)


def take_back_answer(studio: Studio) -> None:
    """Forget the answer that was kept last; nothing where there is none."""
    with studio.store.write() as db:
        delete_last_answer(db)
    learn_later(studio)


def answers(studio: Studio) -> tuple[Answer, ...]:
    """All answers in the order in which they were given. Raises BadUsage without the yes."""
    return studio_examples(studio).answers
