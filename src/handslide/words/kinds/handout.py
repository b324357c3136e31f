"""What is said of each kind of fact whose topic is ``handout``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message

KINDS: Mapping[str, Message] = {
    "handout.ending": N_("A hand-out is an .html file, and {file!q} isn't called so"),
    "handout.alone": N_("--handout makes one file of one chart: leave out --output and --class"),
    "handout.chart": N_(
        "the notes of the sheet {name!q} can't be tapped: a hand-out is made of {known}"
    ),
    "handout.take": N_(
        "this take can't be shown over the music: it must have followed a part whose notes are "
        "still the same, and most of which was heard"
    ),
    "handout.no_score": N_("a hand-out of a take shows it over its part: add --score FILE"),
    "handout.no_consent": N_(
        "a recording goes into a hand-out only with consent: ask all who can be heard, of minors "
        "their parents or guardians, and follow your local rules; then say --consent"
    ),
    "handout.unticked": N_(
        "the recording goes into the file only with consent: tick, too, that all who can be heard "
        "agree"
    ),
    "handout.no_recording": N_(
        "--with-recording and --consent are about a hand-out: add --handout PAGE.html"
    ),
    "handout.long_recording": N_(
        "the recording is too long for a hand-out: packed it may take {most_mb:.0f} MB"
    ),
}
