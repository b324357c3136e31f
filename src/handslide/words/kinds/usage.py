"""What is said of each kind of fact whose topic is ``usage``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    "usage.language": N_("there is no language {wish!q} here; these are: {known}"),
    "usage.paper": N_("{name!q} isn't a paper: there are {known}"),
    "usage.clef": N_("{name!q} isn't a clef: there are {known}"),
}
