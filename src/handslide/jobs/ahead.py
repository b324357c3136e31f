"""What takes a moment to start and will be needed soon, started while other work is done."""

from handslide.edges.engraving.engraver import ENGRAVER


def start_engraver() -> None:
    """Start the engraver's process in the background, unless one waits already."""
    ENGRAVER.warm()
