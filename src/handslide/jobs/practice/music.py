"""Pieces of practice material with their marks: written, routed, engraved, each by itself."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from handslide.drills.piece import DrillNote, Piece
from handslide.edges.engraving.engrave import Engraving, Paper
from handslide.edges.musicxml.marks import write_marks
from handslide.edges.musicxml.read import Score, read_score
from handslide.edges.musicxml.write import score_of
from handslide.edges.typesetting.worksheet import (
    Exercise,
    Worksheet,
    engrave_exercise,
    warned,
)
from handslide.ground.clefs import CLEFS, clef_named
from handslide.ground.errors import BadUsage, ScoreError
from handslide.ground.facts import Fact, fact
from handslide.instrument.places import Place
from handslide.jobs.chart.content import default_clef
from handslide.jobs.mark.mark import NOT_ENGRAVED, MarkedPart, MarkOptions, choose_for
from handslide.jobs.mark.report import Found
from handslide.jobs.mark.routed import note_json
from handslide.jobs.setup import Setup
from handslide.words import drills as drill_words
from handslide.words.drills import instruction
from handslide.words.horns import horn_title
from handslide.words.practice import MUSIC_OF, PLAYS, STUDENT, TEACHER
from handslide.words.speech import Speech

_TEACHER_ID = "P2"


@dataclass(frozen=True, eq=False)
class MarkedPiece:
    """A piece with a place for every note. ``clef`` is its usual one.

    ``teacher`` is the second voice of a duet with its places, on the horn of its own setup.
    """

    piece: Piece
    marked: MarkedPart
    clef: str
    teacher: MarkedPart | None = None

    @cached_property
    def places(self) -> frozenset[Place]:
        """All places that the student uses."""
        return frozenset(self.marked.routed.places.values())

    @property
    def signs(self) -> tuple[frozenset[Place], frozenset[Place]]:
        """The places that have a mark: the student's, and those of the second voice."""
        return _signs(self.marked), frozenset() if self.teacher is None else _signs(self.teacher)

    def title(self, say: Speech) -> str:
        """What stands over it."""
        return say.fact(self.piece.title)

    @property
    def below(self) -> tuple[str, dict[int, str]] | None:
        """Of a duet the part of the second voice, as `scored` has it, and the marks by ordinal."""
        return None if self.teacher is None else (_TEACHER_ID, _by_ordinal(self.teacher))

    @property
    def score(self) -> Score:
        """The piece alone, without words and marks: to be played."""
        return read_score(score_of([self.piece], "", "", self.clef, _silent))

    def exercise(self, number: str, paper: Paper, say: Speech, *, small: bool = False) -> Exercise:
        """The piece engraved for a sheet."""
        # It was routed without words: those under its notes are of the sheet's language.
        data = self.scored(say)
        part_id = self.marked.part.part_id
        return engraved_exercise(
            say,
            number,
            self.title(say),
            instruction(say, self.piece.instruction),
            lambda: engrave_exercise(
                read_score(data),
                part_id,
                _by_ordinal(self.marked),
                paper,
                below=self.below,
                small=small,
            ),
        )

    def scored(self, say: Speech) -> bytes:
        """The piece as MusicXML, without marks; a duet has two parts."""
        setup = self.marked.routed.setup
        if self.teacher is None:
            return _written((self.piece,), self.title(say), self.clef, setup, say)
        second = say(TEACHER), default_clef(self.teacher.routed.setup.horn).name
        return score_of(
            (self.piece,), self.title(say), say(STUDENT), self.clef, say.fact, teacher=second
        )

    def json(self, say: Speech) -> dict[str, Any]:
        """The JSON object of a piece: its words and all notes with their places."""
        piece = self.piece
        told = {
            "title": self.title(say),
            "instruction": instruction(say, piece.instruction),
            "fifths": piece.key.fifths,
            "mode": piece.key.mode,
            "meter": list(piece.meter),
            "tempo_qpm": piece.tempo_qpm,
            "measures": len(piece.bars),
            "notes": _notes_json(say, self.marked),
        }
        if self.teacher is not None:
            horn = self.teacher.routed.setup.horn.name
            told["teacher"] = {"horn": horn, "notes": _notes_json(say, self.teacher)}
        return told


def _notes_json(say: Speech, marked: MarkedPart) -> list[dict[str, Any]]:
    return [
        note_json(say, marked.routed, note.index)
        | {"measure": note.measure_index + 1, "beats": round(note.beats, 6)}
        for note in marked.part.notes
    ]


def _by_ordinal(marked: MarkedPart) -> dict[int, str]:
    """The marks by the ordinals of their notes in the part."""
    return {marked.part.ordinals[note]: text for note, text in marked.shown.items()}


def engraved_exercise(
    say: Speech, number: str, title: str, text: str, engrave: Callable[[], Engraving]
) -> Exercise:
    """An exercise of a sheet; one that can't be engraved stands there without its music."""
    try:
        engraving = engrave()
    except ScoreError as error:
        told = fact("practice.not_engraved", number=number, title=title, what=error.fact)
        said = warned([say.sentence(say.fact(told))])
        return Exercise(number, title, text, (), "", said, told)
    said = warned([say.sentence(say.fact(told)) for told in engraving.warnings])
    return Exercise(number, title, text, engraving.pages, say(MUSIC_OF, title=title), said)


def without_music(sheet: Worksheet) -> tuple[Found, ...]:
    """The warnings of a sheet: which exercises have no music."""
    return tuple(Found("", None, None, NOT_ENGRAVED, told) for told in sheet.problems)


def clef_for(setup: Setup, name: str | None) -> str:
    """The clef asked for, or the one that this horn is usually read in. Raises BadUsage."""
    if name is None:
        return default_clef(setup.horn).name
    return clef_named(name).name


def clef_note(say: Speech, clef: str) -> str:
    """What must be said of a clef that transposes; empty for others."""
    if not CLEFS[clef].semitones_up:
        return ""
    return drill_words.clef_note(say, say.named("clef", clef))


def mark_pieces(
    setup: Setup,
    pieces: Sequence[Piece],
    clef: str,
    teacher: Setup | None = None,
    show: str = "all",
) -> tuple[MarkedPiece, ...]:
    """Choose the places of each piece by itself; the places that a piece means are kept.

    ``teacher`` plays the second voices. ``show`` says which notes get a mark (`MarkOptions`).
    """
    found = []
    for one in pieces:
        second = None
        if one.teacher and teacher is not None:
            alone = replace(one, bars=one.teacher, teacher=(), clef=None)
            second = _mark(teacher, alone, default_clef(teacher.horn).name, show)
        found.append(MarkedPiece(one, _mark(setup, one, clef, show), clef, second))
    return tuple(found)


def _mark(setup: Setup, piece: Piece, clef: str, show: str) -> MarkedPart:
    data = score_of([piece], "", "", clef, _silent)
    fixed = {
        number: _meant(setup, note)
        for number, note in enumerate(struck(piece))
        if note.lock is not None
    }
    options = MarkOptions(tempo_qpm=piece.tempo_qpm, show=show)
    return choose_for(read_score(data), setup, options, fixed=fixed)


def _signs(marked: MarkedPart) -> frozenset[Place]:
    places = marked.routed.places
    return frozenset(places[number] for number in marked.shown if number in places)


def _silent(_: Fact) -> str:
    return ""


def _written(pieces: Sequence[Piece], title: str, clef: str, setup: Setup, say: Speech) -> bytes:
    return score_of(pieces, title, horn_title(say, setup.horn), clef, say.fact)


def struck(piece: Piece) -> list[DrillNote]:
    """The notes that a player strikes: no rests, and of tied notes the first."""
    found = []
    tied = False
    for note in piece.notes:
        if note.pitch is not None and not tied:
            found.append(note)
        tied = note.tie
    return found


def _meant(setup: Setup, note: DrillNote) -> Place:
    assert note.pitch is not None
    for place in setup.book.places(note.pitch.midi):
        if (place.valves, place.partial) == note.lock:
            return place
    raise BadUsage("drills.place_gone", note=note.pitch)


def joined_musicxml(
    setup: Setup, marked: Sequence[MarkedPiece], title: str, clef: str, say: Speech
) -> bytes:
    """All pieces in one score, each with the marks that it has by itself."""
    pieces = [one.piece for one in marked]
    seconds = [one.teacher for one in marked if one.teacher is not None]
    if not seconds:
        score = read_score(_written(pieces, title, clef, setup, say))
        write_marks(score, score.read_part(), _joined_marks([one.marked for one in marked]))
        return score.to_bytes()
    own = seconds[0].routed.setup
    student, teacher = (
        say(PLAYS, who=say(who), horn=horn_title(say, horn))
        for who, horn in ((STUDENT, setup.horn), (TEACHER, own.horn))
    )
    second = teacher, default_clef(own.horn).name
    score = read_score(score_of(pieces, title, student, clef, say.fact, teacher=second))
    parts = [score.read_part("P1"), score.read_part(_TEACHER_ID)]
    for part, voices in zip(parts, ([one.marked for one in marked], seconds)):
        write_marks(score, part, _joined_marks(voices))
    return score.to_bytes()


def _joined_marks(voices: Iterable[MarkedPart]) -> dict[int, str]:
    marks: dict[int, str] = {}
    before = 0
    for one in voices:
        marks |= {before + note: text for note, text in one.shown.items()}
        before += len(one.part.notes)
    return marks
