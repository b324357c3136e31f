"""What is said of each kind of fact whose topic is ``progress``."""

from collections.abc import Mapping

from handslide.words.messages import Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {}
