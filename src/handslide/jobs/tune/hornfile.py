"""A horn file for people: with comments in the language of its writer."""

from collections.abc import Sequence

from handslide.edges.files.hornwriter import HornComments, horn_toml
from handslide.instrument.horn import HornDescription
from handslide.words.hornfile import COMMENTS
from handslide.words.speech import Speech


def commented_horn(horn: HornDescription, say: Speech, head: Sequence[str] = ()) -> str:
    """``horn`` as the text of a horn file with comments; ``head`` are lines for its beginning."""
    comments = {name: say(message) for name, message in COMMENTS.items()}
    return horn_toml(horn, HornComments(head=tuple(head), **comments))
