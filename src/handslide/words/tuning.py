"""Words for tuning slides: which to move, and whether anybody hears the difference."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.ground.hearing import IN_TUNE_CENTS, TRAINED_EAR_CENTS
from handslide.words.messages import N_, Message
from handslide.words.translate import Translator

# By whether it is the main slide, and which way.
_MOVE: Mapping[tuple[bool, str], Message] = {
    (True, "out"): N_(
        "Pull the main slide out by {pull_mm:.1f} ± {se_mm:.1f} mm: the tube must get "
        "{tube_mm:.1f} mm longer, on two legs."
    ),
    (True, "in"): N_(
        "Push the main slide in by {pull_mm:.1f} ± {se_mm:.1f} mm: the tube must get {tube_mm:.1f} "
        "mm shorter, on two legs."
    ),
    (False, "out"): N_(
        "Pull the {slide:valve} loop's slide out by {pull_mm:.1f} ± {se_mm:.1f} mm: the tube must "
        "get {tube_mm:.1f} mm longer, on two legs."
    ),
    (False, "in"): N_(
        "Push the {slide:valve} loop's slide in by {pull_mm:.1f} ± {se_mm:.1f} mm: the tube must "
        "get {tube_mm:.1f} mm shorter, on two legs."
    ),
}
# By whether it is the main slide, and which way it was moved.
_MOVED: Mapping[tuple[bool, str], Message] = {
    (True, "out"): N_("main slide pulled out by {moved_mm:g} mm."),
    (True, "in"): N_("main slide pushed in by {moved_mm:g} mm."),
    (False, "out"): N_("{slide:valve} loop's slide pulled out by {moved_mm:g} mm."),
    (False, "in"): N_("{slide:valve} loop's slide pushed in by {moved_mm:g} mm."),
}
_NOT_HEARD = N_(
    "It needn't: below {heard_cents:g} to {clearly_cents:g} cents listeners don't hear it (10: "
    "Hill and Summers 2007; 5: common practice)."
)
_HARDLY_HEARD = N_(
    "Trained listeners can hear that, others hardly (10 cents: Hill and Summers 2007)."
)
_HEARD = N_("That can be heard (10 cents and more: Hill and Summers 2007).")
_UNSURE = N_("The notes themselves aren't surer than that: play them again.")


def slide_move_words(say: Translator, told: Fact) -> str:
    """Which way a slide is to be moved and how far; the values of ``tuning.move``."""
    return say(_MOVE[told["slide"] == "main", told["direction"]], **told.values)


def heard_words(say: Translator, told: Fact) -> str:
    """Whether a difference is heard, and whether it is sure; the values of ``tuning.heard``."""
    if told["off_cents"] < TRAINED_EAR_CENTS:
        heard = say(_NOT_HEARD, heard_cents=TRAINED_EAR_CENTS, clearly_cents=IN_TUNE_CENTS)
    elif told["off_cents"] < IN_TUNE_CENTS:
        heard = say(_HARDLY_HEARD)
    else:
        heard = say(_HEARD)
    return heard if told["sure"] else f"{heard} {say(_UNSURE)}"


def moved_slide_words(say: Translator, told: Fact) -> str:
    """How far a slide was moved, and why; the values of ``tuning.moved_slide``."""
    moved = say(_MOVED[told["slide"] == "main", told["direction"]], **told.values)
    return moved if told["why"] is None else f"{moved} {say.written(told['why'])}"
