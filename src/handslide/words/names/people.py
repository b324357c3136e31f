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
    },
    "profile": {
        "classical": N_("Classical"),
        "beginner": N_("First years"),
    },
    "profile_about": {
        "classical": N_(
            "The open horn where it lies well, the valve where it saves a long way. What "
            "orchestra and band players learn."
        ),
        "beginner": N_(
            "Plain places as a first chart prints them, few valves, nothing far out where there "
            "is another way."
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
