"""What the page of what was learnt shows, but for what must be worked out."""

from dataclasses import dataclass

from handslide.edges.store.learnt import (
    ChoiceCount,
    LearntRow,
    number_of_locks,
    number_of_unlearnt,
    select_choice_counts,
)
from handslide.studio.choosing.consent import consent
from handslide.studio.choosing.versions import can_redo_learnt, in_force
from handslide.studio.learning.background import Outcome, is_learning, last_outcome, learn_if_needed
from handslide.studio.studio import Studio


@dataclass(frozen=True, slots=True)
class LearningView:
    """``consent`` None: not asked yet. ``locked`` places there are, of which ``unlearnt`` are not
    learnt from. ``learning``: it is at work, or soon will be.
    """

    consent: bool | None
    locked: int
    unlearnt: int
    parts: tuple[ChoiceCount, ...]
    row: LearntRow | None
    can_redo: bool
    learning: bool
    outcome: Outcome | None

    @property
    def changes_anything(self) -> bool:
        """Whether what is in force chooses otherwise than the profile that it began from."""
        return any(self.row.factors.values()) if self.row is not None else False


def learning_view(studio: Studio) -> LearningView:
    """What was learnt and from what. Begins to learn where choices were made since."""
    learn_if_needed(studio)
    with studio.store.read() as db:
        parts, locked, unlearnt = (
            select_choice_counts(db), number_of_locks(db), number_of_unlearnt(db),
        )  # fmt: skip
    return LearningView(
        consent(studio), locked, unlearnt, parts, in_force(studio), can_redo_learnt(studio),
        is_learning(studio), last_outcome(studio),
    )  # fmt: skip
