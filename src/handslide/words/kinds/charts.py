"""What is said of each kind of fact whose topic is ``charts``."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.charts import SHEETS
from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller
from handslide.words.translate import Translator

_SHEET_EMPTY = N_("{horn} has no notes for the sheet {sheet!q}")


def _sheet_empty(say: Translator, told: Fact) -> str:
    return say(_SHEET_EMPTY, horn=told["horn"], sheet=say(SHEETS[told["sheet"]].name))


KINDS: Mapping[str, Message | Teller] = {
    "charts.ppi": N_("a picture has {least:.0f} to {most:.0f} pixels an inch, not {ppi:g}"),
    "charts.sheet": N_("{name!q} isn't a sheet: there are {known}"),
    "charts.format": N_("can't write a chart as {format!q}: there are {known}"),
    "charts.orientation": N_("{name!q} isn't a way for a page to lie: there are {known}"),
    "charts.range_upside_down": N_("the range {low} to {high} is upside down"),
    "charts.range_too_wide": N_("a range of more than six octaves is more than any horn has"),
    "charts.range_empty": N_("{horn} has no note in this range within these limits"),
    "charts.sheet_empty": _sheet_empty,
    "charts.grid_empty": N_("a harmonic grid needs at least one note"),
    "charts.compare_empty": N_("a comparison needs at least one note on either horn"),
    "charts.no_valve": N_("{horn} has no valve, so there is no sheet of valve notes"),
    "charts.second_horn": N_("a comparison needs a second horn"),
    "charts.no_page": N_("this sheet has no page {number}: it has {pages}"),
    "charts.class_empty": N_(
        "there is no student with such a sheet: choose another sheet or students"
    ),
}
