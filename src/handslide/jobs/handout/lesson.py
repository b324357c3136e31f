"""A lesson as a hand-out: all of the week in one file, with boxes to tick."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from handslide.edges.htmlfile.page import Boxes
from handslide.jobs.handout.block import HandoutBlock
from handslide.jobs.handout.exercises import exercise_block, sheet_handout, week_boxes
from handslide.jobs.handout.handout import Handout, HandoutWishes
from handslide.jobs.handout.part import part_block
from handslide.jobs.mark.excerpts import Excerpt
from handslide.jobs.practice.lesson import Lesson
from handslide.jobs.practice.music import MarkedPiece
from handslide.jobs.practice.soundwishes import PlayWishes
from handslide.words import handout as words
from handslide.words.drills import instruction
from handslide.words.practice import DAYS, WHOLE_PART
from handslide.words.speech import Speech


def lesson_handout(lesson: Lesson, wishes: HandoutWishes, say: Speech) -> Handout:
    """A hand-out of a lesson: warm-up, drills, hard spots with their ladders, the whole part.

    Every exercise has a box for each day, a hard spot its tempos to tick. ``wishes`` as with
    `drill_handout`. Raises ScoreError where the part can't be engraved.
    """
    say = say.on_paper
    return sheet_handout(
        "lesson", lesson.frame(say), _Blocks(lesson, wishes, say).all(), wishes, say
    )


class _Blocks:
    """The blocks of a lesson, numbered as on its sheet."""

    def __init__(self, lesson: Lesson, wishes: HandoutWishes, say: Speech) -> None:
        self.lesson, self.wishes, self.say = lesson, wishes, say
        self.days = week_boxes(tuple(map(say, DAYS)), 0, say(words.PRACTISED))

    def all(self) -> Iterator[HandoutBlock]:
        lesson, say = self.lesson, self.say
        number = 0
        parts: tuple[Sequence[MarkedPiece | Excerpt], ...] = (
            lesson.warmup, lesson.week, lesson.excerpts, lesson.beyond,
        )  # fmt: skip
        for (heading, note), rows in zip(lesson.headings(say), parts):
            for at, one in enumerate(rows):
                number += 1
                if isinstance(one, Excerpt):
                    blocks = self.spot(one, str(number))
                else:
                    blocks = [self.ticked(exercise_block(one, str(number), self.wishes, say))]
                if at == 0:
                    html = replace(blocks[0].html, group=heading, group_note=note)
                    blocks[0] = replace(blocks[0], html=html)
                yield from blocks
        yield self.whole()

    def ticked(self, block: HandoutBlock) -> HandoutBlock:
        """A block with a box for each day."""
        return replace(block, html=replace(block.html, boxes=(self.days, *block.html.boxes)))

    def spot(self, one: Excerpt, number: str) -> list[HandoutBlock]:
        """An excerpt with its tempos, what can be played instead, and the steps to it."""
        lesson, say = self.lesson, self.say
        goal_qpm, steps = lesson.tempos(one)
        speed = 1.0 if goal_qpm is None or one.tempo_qpm is None else goal_qpm / one.tempo_qpm
        measures = f"#{one.spot.first + 1}-#{one.spot.last + 1}"
        block = part_block(
            lesson.marked, self.play(measures), say, heading=say.fact(one.title), speed=speed
        )
        boxes: tuple[Boxes, ...] = ()
        if goal_qpm is not None and steps:
            rows = tuple((f"t{step}", f"♩ = {step}") for step in steps)
            rates = tuple(min(1.0, step / goal_qpm) for step in steps)
            boxes = (Boxes(say(words.TEMPOS), rows, rates),)
        html = replace(
            block.html, number=number, said=(instruction(say, lesson.told(one)),), boxes=boxes
        )
        found = [self.ticked(replace(block, html=html))]
        ossia = lesson.ossia(one.spot)
        if ossia is not None:
            heading = say.sentence(say.fact(ossia.told))
            other = part_block(ossia.marked, self.play(), say, heading=heading, speed=speed)
            found.append(replace(other, html=replace(other.html, number=f"{number}*")))
        for count, step in enumerate(lesson.ladders.get(one.spot.first, ()), 1):
            found.append(exercise_block(step, f"{number}.{count}", self.wishes, say))
        return found

    def whole(self) -> HandoutBlock:
        """The part from beginning to end."""
        marked = self.lesson.marked
        block = part_block(marked, self.play(), self.say)
        heading = self.say(WHOLE_PART, title=marked.title)
        return self.ticked(replace(block, html=replace(block.html, group=heading)))

    def play(self, measures: str | None = None) -> PlayWishes:
        """How the part is played."""
        options, horn = self.lesson.marked.options, self.lesson.setup.horn
        return PlayWishes(
            small_notes=options.small_notes, sounds=options.sounds, others=self.wishes.others,
            measures=measures, a4_hz=horn.a4_hz,
        )  # fmt: skip
