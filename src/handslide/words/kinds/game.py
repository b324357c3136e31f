"""What is said of each kind of fact whose topic is ``game``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message

KINDS: Mapping[str, Message] = {
    "game.over": N_("this round is over: load the page again for another one"),
    "game.no_question": N_("this round has no such question: load the page again"),
}
