"""Asking a teacher which of two ways he would write, and learning from what he says."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal, TypeAlias

from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart
from handslide.instrument.learning.asking import question
from handslide.instrument.learning.example import Answer, Example, Examples, Question, Stand
from handslide.instrument.learning.learn import Learnt
from handslide.instrument.markstyle import MarkStyle
from handslide.jobs.mark.pdfwishes import NO_WISHES, open_source
from handslide.jobs.partwishes import PartWishes, read_wished
from handslide.jobs.profile.kept import Kept, Learned, change, open_kept, profile_path
from handslide.jobs.profile.partexample import plain_example, setup_on
from handslide.jobs.profile.ways import question_png
from handslide.jobs.setup import Setup
from handslide.words.speech import Speech

Picked: TypeAlias = Literal[0, 1, 2]


@dataclass(eq=False)
class Asking:
    """Questions about one part, one after the other: each is asked of what is learnt by then.

    ``question`` is the one that is asked now; None where nothing is left to ask.
    """

    kept: Kept
    setup: Setup
    score: Score
    part: ScorePart
    plain: Example
    question: Question | None = None

    @classmethod
    def begin(
        cls,
        name: str,
        file: Path,
        stand: Stand,
        wishes: PartWishes,
        say: Speech,
        *,
        base: str | None = None,
        marks: str = "",
    ) -> "Asking":
        """Open a part and find the first question. Raises ScoreError, BadData, BadUsage."""
        kept = open_kept(name, base)
        score, _ = open_source(file, NO_WISHES, say)
        part = read_wished(score, wishes)
        setup = setup_on(stand, kept.began_from, marks)
        plain = plain_example(score, part, file.name, wishes, stand)
        asking = cls(kept, setup, score, part, plain)
        asking._find(kept.learnt())
        return asking

    @property
    def style(self) -> MarkStyle:
        """How marks are written."""
        return self.setup.style

    def draw(self, say: Speech, target: Path | None = None, *, force: bool = False) -> Path:
        """Draw both ways of the question as a PNG; None: beside the profile.

        Raises OutputError, ScoreError.
        """
        assert self.question is not None
        path = target or self._own_picture
        check_free(path, force=force or target is None)
        data = question_png(say, self.setup, self.question, self.score, self.part)
        write_result(path, data, force=force or target is None)
        return path

    @property
    def _own_picture(self) -> Path:
        return profile_path(self.kept.name).with_suffix(".question.png")

    def tidy(self) -> None:
        """Take the picture beside the profile away: the question is over."""
        self._own_picture.unlink(missing_ok=True)

    def answer(self, picked: Picked) -> Learned:
        """Keep an answer, learn from it, find the next question. Raises as `change`."""
        assert self.question is not None
        answer = Answer(self.question, picked)
        kept = self.kept
        learned = change(kept.name, lambda held: _with(held, answer), kept.began_from, new=True)
        self.kept = learned.kept
        self._find(learned.learnt)
        return learned

    def _find(self, learnt: Learnt) -> None:
        self.question = question(self.kept.examples, learnt, self.plain, self.kept.base)


def _with(held: Examples, answer: Answer) -> Examples:
    return replace(held, answers=(*held.answers, answer))
