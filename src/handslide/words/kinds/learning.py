"""What is said of each kind of fact whose topic is ``learning``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    "learning.no_consent": N_(
        "nothing is learnt from choices in this studio until you allow it, on its page What it "
        "learnt from you"
    ),
    "learning.no_question": N_("this isn't an answer to a question about a part on a stand"),
    "learning.no_studio": N_("there is no studio in {path}"),
    "learning.nothing": N_("nothing is learnt at present, so there is nothing to save"),
    "learning.nothing_for_part": N_("nothing is learnt yet that says anything of this part"),
    "learning.fallen": N_("learning from all these choices takes too long on this machine"),
}
