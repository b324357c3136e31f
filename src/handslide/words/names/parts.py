"""Names of things that parts, tuning and progress have."""

from collections.abc import Mapping

from handslide.words.messages import N_, NP_, Message

NAMES: Mapping[str, Mapping[str, Message]] = {
    "how_much_worse": {
        "same": N_("as good as any"),
        "hardly": N_("hardly worse"),
        "little": N_("a little worse"),
        "clearly": N_("clearly worse"),
        "much": N_("much worse"),
        "far": N_("only if it must be"),
        "torn": N_("not possible in this glissando"),
    },
    # Translators: how quick a move of the slide is.
    "pace": {
        "easy": N_("easy"),
        "quick": N_("quick"),
        "too_quick": N_("too quick for this tempo"),
    },
    "stand_marks": {
        "all": N_("all notes"),
        "unusual": N_("unusual places"),
        "new": N_("new and changed"),
    },
    # Translators: how a part sounds whose file states no transposition.
    "sounds": {
        "by-itself": N_("as it is written (you are told where its name says otherwise)"),
        "as-written": N_("as it is written"),
        "Bb-treble": N_("a major ninth lower (brass band, in B♭, treble clef)"),
    },
    "verdict": {
        "improved": N_("better"),
        "worse": N_("worse"),
        "steady": N_("as before"),
        "unclear": N_("not clear yet"),
        "few": N_("too few takes"),
    },
    "tuning_move": {
        "out": N_("{slide}: pull it out"),
        "in": N_("{slide}: push it in"),
        "none": N_("{slide}: leave it where it is"),
    },
    # The drawing of a tuning slide in words, with where it will probably stop, or where it goes.
    "tuning_drawn": {
        "now": N_("The rule counts from where the slide stands now."),
        "maybe_out": N_("Dashed: the slide will probably stop {low} to {high} mm further out."),
        "maybe_in": N_("Dashed: the slide will probably stop {low} to {high} mm further in."),
        "maybe_both": N_(
            "Dashed: the slide will probably stop between {low} mm further in and {high} mm "
            "further out."
        ),
        "out": N_("Dashed is where it stands now: {mm} mm further out."),
        "in": N_("Dashed is where it stands now: {mm} mm further in."),
    },
    "tuning_rule": {"out": NP_("along the slide", "out"), "in": NP_("along the slide", "in")},
    "tuning_step": {
        "main": N_("Some notes without valves, against A4."),
        "loop": N_("The valve's notes against the open horn, or against A4."),
        "low": N_("How far the loop must come out so that the slide reaches a low note."),
    },
}
