"""What is said of each kind of fact whose topic is ``send``: a part on a student's tablet."""

from collections.abc import Mapping

from handslide.words.messages import N_, NN_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    # To the teacher.
    "send.minutes": N_("a link may be open for {least} to {most} minutes, not {minutes}"),
    "send.no_number": N_("for how long: write a whole number of minutes, as 60"),
    "send.too_many": NN_(
        "{count} link is open already, the most there can be: end it first",
        "{count} links are open already, the most there can be: end one of them first",
    ),
    "send.ended": N_("this link has ended"),
    "send.no_address": N_(
        "{address!q} isn't an address of this computer in a private network (any more): load the "
        "page again and choose one"
    ),
    "send.not_started": N_("nothing can be reached at {address}: try it once more"),
    # To the student, on the tablet.
    "send.host": N_("What is open here is reached at {address}, at no other name."),
    "send.foreign": N_("This request came from another page, so nothing was done."),
    "send.no_link": N_(
        "No link is open for this device, or it has ended. Ask the teacher for a new code."
    ),
    "send.wrong_code": N_(
        "This code opens nothing: it was used already, its time is over, or it was mistyped. Ask "
        "the teacher for a new one."
    ),
    "send.wait": N_("Too many codes were tried. Wait ten seconds, then try again."),
    "send.nothing_there": N_("There is nothing at this address for this device."),
    "send.too_large": N_("That is more than can be sent from here: a take may have 20 minutes."),
    "send.broken": N_("Something went wrong on the teacher's computer. Try it once more."),
    "send.no_takes": N_("the teacher lets no takes be sent by this link"),
    "send.one_by_one": N_("the take before is still being heard: send this one afterwards"),
    "send.many_takes": NN_(
        "{count} take was sent by this link, the most there can be: ask for a new code",
        "{count} takes were sent by this link, the most there can be: ask for a new code",
    ),
}
