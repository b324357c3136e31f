"""What a face adds to a fact: where the reader of this face can change it.

A fact knows no options and no buttons. What is said of it ends with the hint of the face that it
is read at: the command line, or the studio.
"""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.messages import N_, Message
from handslide.words.partnames import listed_parts
from handslide.words.tellers import Teller
from handslide.words.translate import Translator

TERMINAL = "terminal"
STUDIO = "studio"
# Translators: a sentence and what the reader can do about it.
_WITH_HINT = N_("{text}; {hint}")
_CHOOSE_PART = N_("choose another with --part: {parts}")


def _choose_part(say: Translator, told: Fact) -> str:
    return say(_CHOOSE_PART, parts=listed_parts(say, told["parts"]))


_SAY_SEEN = N_("say with --seen MEASURE how far you have read it")
_CAN_BE_CHANGED = N_("it can be changed")
_ON_FACE: Mapping[str, Mapping[str, Message | Teller]] = {
    TERMINAL: {
        "charts.second_horn": N_("give it with --against"),
        "scores.first_trombone_part": _choose_part,
        "scores.first_part": _choose_part,
        "scores.unpitched_part": N_("choose another part with --part"),
        "tuning.no_valve": N_("use --main Bb3=HZ"),
        "tuning.which_valve": N_("use --with"),
        "scores.cue_notes": N_("if they are the player's own, as in a cadenza, use --small-notes"),
        "files.exists": N_("use --force to replace it"),
        "store.damaged": N_(
            "'handslide studio --recover' puts it aside, keeps it, and begins an empty studio, "
            "into which an exported archive can be imported"
        ),
        "store.damaged_with_backup": N_(
            "'handslide studio --recover' puts it in place and keeps the damaged file beside it"
        ),
        # Translators: --sounds, Bb-treble and as-written are typed as they stand.
        "scores.bflat": N_("say which with --sounds Bb-treble or --sounds as-written"),
        "marks.fingering_impossible": N_("use --existing keep or replace"),
        "pdfmarks.doubts": N_(
            "put right what is wrong with --clef PAGE.SYSTEM=tenor, --key PAGE.SYSTEM=3♭ or --note "
            "PAGE.SYSTEM.BAR.ITEM=Bb3, or edit the table of --write-notes and give it with --notes"
        ),
        "pdfmarks.signs_first": N_(
            "say what they are, in any number, with --sign SIGN=KIND, such as clef.F, head.black, "
            "acc.-1 or other"
        ),
        "pdfmarks.unknown": N_(
            "say once what each is with --sign SIGN=KIND, such as clef.F, acc.-1 or other"
        ),
        "marks.original": N_("choose another folder with -o"),
        "profile.nothing_to_learn": _SAY_SEEN,
        "profile.only_our_marks": _SAY_SEEN,
        # Translators: learn is a command.
        "profile.no_examples": N_("'handslide profile learn' makes one"),
    },
    STUDIO: {
        "pdfmarks.doubts": N_("see what was read"),
        "pdfmarks.unknown": N_("say once what each of them is"),
        "pdfmarks.signs_first": N_("name them on the page “What was read”"),
        "charts.second_horn": N_("choose one"),
        "scores.first_trombone_part": _CAN_BE_CHANGED,
        "scores.first_part": _CAN_BE_CHANGED,
        "scores.unpitched_part": N_("choose another part"),
        "scores.cue_notes": N_(
            "if they are the player's own, as in a cadenza, set the part so that it reads them"
        ),
    },
}


def with_hint(say: Translator, told: Fact, text: str) -> str:
    """``text``, which was made of ``told``, and what the reader's face has to add."""
    hint = _ON_FACE.get(say.face, {}).get(told.kind)
    if hint is None:
        return text
    said = say(hint, **told.values) if isinstance(hint, Message) else hint(say, told)
    return say(_WITH_HINT, text=text, hint=said)
