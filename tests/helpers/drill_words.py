"""What a drill says, as an English reader sees it."""

from handslide.words.drills import instruction
from handslide.words.speech import speech

SAY = speech("en")


def title_of(piece):
    return SAY.fact(piece.title)


def text_of(piece):
    return instruction(SAY, piece.instruction)


def remark_of(note):
    return "" if note.remark is None else SAY.fact(note.remark)
