"""What is said of each kind of fact whose topic is ``web``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    "web.missing": N_("There is no page at this address, or what it showed was deleted."),
    "web.method": N_("That can't be done at this address. Begin at the studio's first page."),
    "web.slow": N_(
        "The sending stopped or was too slow, so the studio gave up. Nothing was kept; send "
        "it once more."
    ),
    "web.too_large": N_(
        "That is more than can be sent here at once. Scores may have 20 MB each, takes 300 "
        "MB, a studio's archive 2 GB. Was another file meant?"
    ),
    "web.unread": N_(
        "What was sent can't be read as this page's form. Go back, load the page again and "
        "send it once more."
    ),
    "web.foreign": N_(
        "This request didn't come from a page of this studio, so nothing was done. Open the "
        "studio's own page and do it there."
    ),
    "web.host": N_(
        "The studio answers at {address} on its own machine, or at the address that it was "
        "started with."
    ),
    "web.width": N_("there is no width {name!q}: {known}"),
    "web.no_student": N_("choose a student first"),
    "web.no_score": N_("no file was chosen: choose one or more scores (.musicxml, .mxl)"),
    "web.choice": N_("this choice couldn't be read: load the page again"),
    "web.locked": N_("This studio has a password. Load the page again and give it."),
    "web.broken": N_(
        "The studio made a mistake. What you saved before is safe; go back and try again. "
        "The terminal of handslide studio shows what happened."
    ),
}
