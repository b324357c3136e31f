"""What is said of each kind of fact whose topic is ``handout``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message

KINDS: Mapping[str, Message] = {
    "handout.ending": N_("A hand-out is an .html file, and {file!q} isn't called so"),
}
