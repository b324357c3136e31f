"""Names of things that students and takes have."""

from collections.abc import Mapping

from handslide.words.messages import N_, NP_, Message

NAMES: Mapping[str, Mapping[str, Message]] = {
    "reach": {
        "3": N_("up to 3rd position"),
        "4": N_("up to 4th position"),
        "4.5": N_("up to 4½"),
        "5": N_("up to 5th position"),
        "5.5": N_("up to 5½"),
        "6": N_("up to 6th position"),
        "7": N_("up to 7th position"),
    },
    "shown_marks": {
        "all": N_("every note"),
        "unusual": N_("only unusual places"),
        "new": N_("each note's first time, and changes"),
        "none": N_("none, to read by oneself"),
    },
    "profile": {
        "by-horn": N_("As the horn wants it"),
        "classical": N_("Classical"),
        "beginner": N_("First years"),
        "bass": N_("Bass trombone"),
        "jazz": N_("Jazz"),
    },
    "profile_about": {
        "by-horn": N_("Bass trombone for a horn with two valves, classical for all others."),
        "classical": N_(
            "The open horn where it lies well, the valve where it saves a long way. What "
            "orchestra and band players learn."
        ),
        "beginner": N_(
            "Plain places as a first chart prints them, few valves, nothing far out where there "
            "is another way. One note has one place in a line wherever it can."
        ),
        "bass": N_(
            "Two valves: the first where it lies near, both where the first alone would be far "
            "out, hardly ever one valve exchanged for the other."
        ),
        "jazz": N_(
            "Alternates, lip slurs and few turns; held notes away from closed 1st, where the slide "
            "can shake them. The open horn, mostly."
        ),
    },
    "take_source": {
        "microphone": N_("recorded here"),
        "file": N_("sent as a file"),
        "example": NP_("a take", "invented"),
    },
    "played": {
        "right": N_("right"),
        "wrong": N_("wrong"),
        "missing": N_("not heard"),
        "octave": N_("octave"),
        "unsure": N_("not sure"),
    },
}
