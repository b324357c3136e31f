"""Exercises as blocks of a hand-out: those of a drill, and of a daily routine."""

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import replace

from handslide.edges.htmlfile.page import Boxes, HtmlBlock
from handslide.edges.musicxml.read import read_score
from handslide.edges.typesetting.worksheet import Worksheet
from handslide.ground.errors import ScoreError
from handslide.ground.facts import fact
from handslide.jobs.handout.block import HandoutBlock
from handslide.jobs.handout.handout import Handout, HandoutWishes, make_page
from handslide.jobs.handout.part import part_block
from handslide.jobs.mark.mark import MarkedPart
from handslide.jobs.partwishes import read_wished
from handslide.jobs.practice.drill import DrillSheet
from handslide.jobs.practice.music import MarkedPiece, clef_note
from handslide.jobs.practice.routine import Routine
from handslide.jobs.practice.soundwishes import PlayWishes
from handslide.jobs.setup import Setup
from handslide.words import handout as words
from handslide.words.drills import instruction
from handslide.words.speech import Speech

_WORDS = "words"  # the kind of a block without music


def drill_handout(sheet: DrillSheet, wishes: HandoutWishes, say: Speech) -> Handout:
    """A hand-out of a drill sheet: each exercise plays, that of a duet beside its second voice.

    Of ``wishes`` the look and ``others`` hold; all else is the sheet's.
    """
    say = say.on_paper
    blocks = [
        exercise_block(one, str(number), wishes, say) for number, one in enumerate(sheet.pieces, 1)
    ]
    note = clef_note(say, sheet.clef)
    return sheet_handout("drill", sheet.frame(say), blocks, wishes, say, notices=(note,))


def routine_handout(routine: Routine, wishes: HandoutWishes, say: Speech) -> Handout:
    """A hand-out of a week's routine, or of one of its days; each exercise has a box for each day.

    ``wishes`` as with `drill_handout`.
    """
    say = say.on_paper
    blocks = []
    for entry in routine.entries(say):
        told = entry.told
        if entry.row is None:
            block = words_block(told.title, told.number, routine.setup)
        else:
            block = exercise_block(routine.of(entry.row), told.number, wishes, say)
        first = (routine.asked.first + (routine.asked.day or 0)) % 7
        boxes = _day_boxes(told.days, first, say)
        html = replace(
            block.html, heading=told.title, aside=told.aside, boxes=boxes,
            said=(told.instruction, *block.html.said[1:]),
        )  # fmt: skip
        blocks.append(replace(block, html=html))
    return sheet_handout("routine", routine.frame(say), blocks, wishes, say)


def sheet_handout(
    kind: str,
    frame: Worksheet,
    blocks: Iterable[HandoutBlock],
    wishes: HandoutWishes,
    say: Speech,
    *,
    notices: Sequence[str] = (),
) -> Handout:
    """A hand-out of the blocks of a sheet, with what stands round its music: ``frame``."""
    named = tuple(
        replace(block, html=replace(block.html, name=f"x{at}", notes=()))
        for at, block in enumerate(blocks, 1)
    )
    data = make_page(
        frame.title,
        (frame.subtitle, frame.student_line, frame.horn_line),
        named,
        wishes,
        say,
        name=f"{kind}-{_digest(named)}",
        notices=tuple(filter(None, (*frame.notices, *notices))),
        notes=frame.legend,
        cautions=frame.cautions,
    )
    return Handout(frame.title, frame.subtitle, named, data)


def exercise_block(
    one: MarkedPiece, number: str, wishes: HandoutWishes, say: Speech
) -> HandoutBlock:
    """An exercise with its words; what can't be engraved stands there without its music."""
    title = one.title(say)
    told = instruction(say, one.piece.instruction)
    setup = one.marked.routed.setup
    play = PlayWishes(others=wishes.others, a4_hz=setup.horn.a4_hz)
    try:
        below = one.below if wishes.others else None
        block = part_block(_with_words(one, say), play, say, heading=title, below=below)
    except ScoreError as error:
        why = fact("practice.not_engraved", number=number, title=title, what=error.fact)
        block = words_block(title, number, setup)
        said = (told, say.sentence(say.fact(why)))
        return replace(block, html=replace(block.html, said=said), told=(why,))
    data = dict(block.html.data)
    if one.piece.drone is not None:
        data["drone"] = {"midi": one.piece.drone.midi, "name": say.note(one.piece.drone)}
    return replace(block, html=replace(block.html, number=number, said=(told,), data=data))


def words_block(title: str, number: str, setup: Setup) -> HandoutBlock:
    """A block without music."""
    return HandoutBlock(HtmlBlock(_WORDS, "", title, (), {}, number=number), setup)


def week_boxes(names: Sequence[str | None], first: int, label: str) -> Boxes:
    """A box for each day that has a name; ``first`` is the first day (0: Monday)."""
    rows = ((f"d{(first + at) % 7}", name) for at, name in enumerate(names) if name is not None)
    return Boxes(label, tuple(rows))


def _day_boxes(names: Sequence[str | None], first: int, say: Speech) -> tuple[Boxes, ...]:
    """As on the sheet, where the box of a single day has no name."""
    if not names:
        return ()
    named = [say(words.DONE) if name == "" else name for name in names]
    return (week_boxes(named, first, say(words.PRACTISED)),)


def _with_words(one: MarkedPiece, say: Speech) -> MarkedPart:
    """It was marked without the words below its notes, and without the second voice."""
    score, options = read_score(one.scored(say)), one.marked.options
    part = read_wished(score, replace(options, part=one.marked.part.part_id))
    return replace(one.marked, score=score, part=part)


def _digest(blocks: Sequence[HandoutBlock]) -> str:
    """The same for the same music, in every language."""
    played = [(block.html.number, block.html.data.get("played")) for block in blocks]
    return hashlib.sha256(json.dumps(played).encode()).hexdigest()[:10]
