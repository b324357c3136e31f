"""A question of the game as its page shows it."""

from handslide.instrument.learning.example import Question
from handslide.jobs.profile.wayjson import way_json
from handslide.jobs.profile.ways import Ways, WaysInPart, way_svg
from handslide.studio.learning.game import Card
from handslide.studio.parts.openpart import OpenPart
from handslide.studio.people.students import speech_about
from handslide.words.speech import Speech

# Widths in mm at which a card is legible on a phone, and on anything larger.
WIDTHS_MM = {"narrow": 88.0, "wide": 130.0}


def card_of(reader: Speech, part: OpenPart, question: Question, width: str, name: str) -> Card:
    """A question about a part on its stand, with both ways drawn, told and to be heard.

    ``width`` is one of `WIDTHS_MM`; ``name`` is what the student is called. Raises BadData,
    ScoreError where the part has no such notes any more or can't be engraved.
    """
    say = speech_about(part.student, reader)
    marked = part.marked
    shown = WaysInPart(Ways(part.routed.setup, question), marked.score, marked.part)
    rows = shown.engraved(WIDTHS_MM[width])
    ways = [
        {"svg": way_svg(shown, rows[way], words), "words": words, **way_json(say, shown, way)}
        for way, words in enumerate(shown.ways.words(say))
    ]
    note = question.notes[min(shown.ways.differs)].number
    content = {
        "heading": shown.heading(say),
        "who": f"{name} · {part.horn.title}",
        "part": f"/stands/{part.stand.id}?note={note}",
        "ways": ways,
    }
    return Card(question, content)
