"""What is said of each kind of fact whose topic is ``routine``."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.messages import N_, Message
from handslide.words.routine import some_days
from handslide.words.tellers import Teller
from handslide.words.translate import Translator


def _on_days(say: Translator, told: Fact) -> str:
    return some_days(say, told["days"], told["first"])


KINDS: Mapping[str, Message | Teller] = {
    # Translators: over a line that shows the scale in another articulation for each day.
    "routine.articulations": N_("The articulations of the week"),
    "routine.on_days": _on_days,
    "routine.minutes": N_("there is no routine of {minutes:d} minutes: choose one of {known}"),
    "routine.weeks": N_("a plan of {weeks:d} weeks: choose 1 to {most:d}"),
    "routine.no_plan": N_("there is no plan yet"),
    "routine.no_day": N_("the plan has no such day"),
    "routine.no_box": N_("the day has no such box"),
    "routine.not_again": N_(
        "{drill} comes from a report: give that with --from, not as something weak"
    ),
}
