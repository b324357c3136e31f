"""What a teacher who writes exercises begins with, and what can be written."""

from handslide.words.messages import N_, Message
from handslide.words.translate import Translator

# A file of exercises; its words in braces are said in the teacher's language.
_FIRST = """\
title = "{title}"

[[exercise]]
title = "{degrees}"
text = "{text}"
tempo_qpm = 66
bars = ["mf 1:1 2:1( 3:1 r:1", "5:2 1:2'"]

[[exercise]]
title = "{partials}"
counted = "partials"
back = true
bars = ["2:1( 3:1( 4:1( 3:1(", "2:3' r:1"]
"""
_NAMES = {
    # Translators: titles and text of exercises that a teacher may begin with.
    "title": N_("My exercises"),
    "degrees": N_("Home and away"),
    "text": N_("Slowly, with a full sound."),
    "partials": N_("Over three partials"),
}
# What is written, and what it means; as docs/exercises.md says it at length.
_KEYS: tuple[tuple[str, Message], ...] = (
    ("[[exercise]]", N_("begins an exercise; only its bars must be there")),
    ('title = "…"  text = "…"', N_("what stands over it")),
    (
        'levels = ["first-year", "second-year", "advanced"]',
        N_("who gets it; without it, everybody"),
    ),
    ('meter = "3/4"  tempo_qpm = 66', N_("the meter; quarter notes a minute")),
    (
        'counted = "degrees"  "partials"  "half-steps"  "notes"',
        N_(
            "what the numbers are: degrees of a scale, partials, half steps, or notes as they sound"
        ),
    ),
    (
        "from = 1  to = 7  back = true",
        N_("through which positions, partials or half steps, and whether it comes back"),
    ),
    ('scale = "major"  keys = ["Bb", "F"]', N_("for degrees: the scale and its keys")),
    ('teacher = ["…"]', N_("for degrees and notes: a second voice, as long as the bars")),
    ("valve = 1", N_("for partials: the valve that stays pressed")),
)
_SIGNS: tuple[tuple[str, Message], ...] = (
    ("3:1/2", N_("what is played, and how many quarter notes long")),
    ("r:1", N_("a rest")),
    ("(  _  ~", N_("slurred, tied, or sliding to the next note")),
    (".  -  ^", N_("short, broad, with an accent")),
    ("<  >  <>", N_("louder, softer, both")),
    ("'  U", N_("a breath after it; a fermata")),
    ("mf", N_("a dynamic, before a note")),
)


def first_exercises(say: Translator) -> str:
    """A file of exercises to begin with."""
    return _FIRST.format(**{name: say(words) for name, words in _NAMES.items()})


def exercise_keys(say: Translator) -> list[tuple[str, str]]:
    """(what can stand in a file of exercises, what it means)."""
    return [(written, say(meant)) for written, meant in _KEYS]


def exercise_signs(say: Translator) -> list[tuple[str, str]]:
    """(what can stand in a bar, what it means)."""
    return [(written, say(meant)) for written, meant in _SIGNS]
