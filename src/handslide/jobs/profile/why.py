"""What a profile learnt, as a teacher can check it in the music."""

from handslide.instrument.learning.learn import Learnt
from handslide.instrument.learning.showing import Change, changes
from handslide.jobs.profile.kept import Kept


def why(kept: Kept) -> tuple[Change, ...]:
    """What sets the profile as its file has it apart from the one that it began from: at most five
    changes. Raises BadData."""
    return changes(kept.examples, Learnt(kept.factors(), (), ()), kept.base)
