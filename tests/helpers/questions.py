"""Questions which of two ways a teacher would write, made from a part: the best, the next best."""

from handslide.edges.files.horns import load_horn
from handslide.instrument.learning.example import Question, Stand
from handslide.jobs.mark.routed import played_line, prepare
from handslide.jobs.profile.examplenotes import plain_notes
from handslide.jobs.setup import make_setup


def wish(place):
    return place.valves, place.partial


def question_about(part, number, horn="tenor-f", around=6, key="part", title="A study"):
    """A question about note ``number`` of a part, and the setup of its horn.

    One way is the best route, the other the best one through the note's second place.
    """
    setup = make_setup(horn)
    line, pitches = played_line(part)
    prepared = prepare(setup, line, pitches, part.played)
    best = prepared.route()
    other = prepared.route({number: best.note(number).alternatives[0].place})
    numbers = [
        each
        for each in range(max(0, number - around), min(len(part.notes), number + around + 1))
        if each in best.places
    ]
    first, second = (
        tuple(wish(routed.places[each]) for each in numbers) for routed in (best, other)
    )
    notes = tuple(note for note in plain_notes(part) if note.number in numbers)
    stand = Stand(load_horn(horn))
    return Question(key, title, stand, notes, numbers[0] == 0, first, second), setup
