"""Examples of a teacher's choices, as values."""

from handslide.edges.files.horns import load_horn
from handslide.ground.pitch import from_midi
from handslide.instrument.learning.example import (
    Answer,
    ChosenNote,
    Example,
    Examples,
    Question,
    Stand,
)

TENOR_F, BASS = load_horn("tenor-f"), load_horn("bass-independent")
STAND = Stand(TENOR_F, 442.0, 21.5, 5.5, ("F",))


def chosen_note(number=0, midi=48, at_s=0.0, **fields):
    """A note of a part; ``fields`` are those of `ChosenNote` that differ."""
    values = {"length_s": 0.75, "slur": False, "gliss": False, "measure": "1"}
    values |= {"midi": midi, "spelled": from_midi(midi).name, "onset_s": at_s}
    values |= {"number": number, "index": number + 1}
    return ChosenNote(**values | fields)


HERE = chosen_note(how="written", places=(((), 3), (("F",), 3)))
QUESTION = Question(
    "a.mxl", "A", STAND, (chosen_note(), chosen_note(1, 50, 0.75)), True,
    (((), 3), ((), 3)), ((("F",), 3), ((), 3)),
)  # fmt: skip
EXAMPLES = Examples(
    (
        Example("a.mxl", "A “title”", STAND, (HERE, chosen_note(1, 50, 0.75))),
        Example("b.mxl", "", Stand(BASS), (chosen_note(how="kept", places=((("F", "Gb"), 4),)),)),
    ),
    (Answer(QUESTION, 2), Answer(QUESTION, 0)),
)
