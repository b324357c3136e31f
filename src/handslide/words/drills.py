"""The words of drill sheets: titles of scales, what is chosen, how a sheet is called."""

from collections.abc import Iterable, Mapping

from handslide.ground.facts import Fact
from handslide.words.messages import N_, NP_, Message
from handslide.words.translate import Translator

# Translators: titles of exercises. {tonic:key} is the tonic without its octave, named as the
# language names keys: B♭, B, si bémol; {tonic:minor} is that of a minor key, in small letters where
# the language's setting says so.
SCALE_TITLES: Mapping[str, Message] = {
    "major": N_("{tonic:key} major scale"),
    "natural-minor": N_("{tonic:minor} natural minor scale"),
    "harmonic-minor": N_("{tonic:minor} harmonic minor scale"),
    "melodic-minor": N_("{tonic:minor} melodic minor scale"),
    "ionian": N_("{tonic:key} Ionian scale"),
    "dorian": N_("{tonic:key} Dorian scale"),
    "phrygian": N_("{tonic:key} Phrygian scale"),
    "lydian": N_("{tonic:key} Lydian scale"),
    "mixolydian": N_("{tonic:key} Mixolydian scale"),
    "aeolian": N_("{tonic:key} Aeolian scale"),
    "locrian": N_("{tonic:key} Locrian scale"),
    "chromatic": N_("Chromatic scale from {tonic:key}"),
    "whole-tone": N_("Whole-tone scale from {tonic:key}"),
    "blues": N_("{tonic:key} blues scale"),
    "major-arpeggio": N_("{tonic:key} major arpeggio"),
    "minor-arpeggio": N_("{tonic:minor} minor arpeggio"),
    "diminished-arpeggio": N_("{tonic:key} diminished arpeggio"),
    "diminished-seventh": N_("Diminished seventh on {tonic:key}"),
    "dominant-seventh": N_("Dominant seventh on {tonic:key}"),
}
# Translators: the key of a tune.
MAJOR_KEY, MINOR_KEY = N_("{tonic:key} major"), N_("{tonic:minor} minor")
CHANGING_RHYTHMS = NP_("rhythm", "in changing rhythms")
DIRECTION_NAMES: Mapping[str, Message] = {
    "up": NP_("way of a scale", "up"),
    "down": NP_("way of a scale", "down"),
    "up-and-down": NP_("way of a scale", "up and down"),
    "down-and-up": NP_("way of a scale", "down and up"),
}
# What is chosen for scales alone, by its name among the wishes.
CHOICE_NAMES: Mapping[str, Message] = {
    "key": NP_("what is chosen for a drill", "a key"),
    "scale": NP_("what is chosen for a drill", "a scale"),
    "rhythm": NP_("what is chosen for a drill", "a rhythm"),
    "articulation": NP_("what is chosen for a drill", "an articulation"),
    "direction": NP_("what is chosen for a drill", "a direction"),
    "octaves": NP_("what is chosen for a drill", "a number of octaves"),
}
_SHEET = N_("{level} · sheet {seed:d}")
_STAND_TITLE = N_("{drill}, {level}, sheet {seed:d}")
_CLEF = N_("Written in {clef}; names in titles and texts are those that sound.")


def drill_name(say: Translator, kind: str) -> str:
    """What a kind of drill is called: the title of its sheet. Raises KeyError."""
    return say.named("drill", kind)


def level_name(say: Translator, level: str) -> str:
    """What a level is called. Raises KeyError."""
    return say.named("level", level)


def sheet_line(say: Translator, level: str, seed: int) -> str:
    """The level of a sheet, and the seed that makes the same sheet again."""
    return say(_SHEET, level=level_name(say, level), seed=seed)


def stand_title(say: Translator, drill: str, level: str, seed: int) -> str:
    """What a sheet with the title ``drill`` is called among a teacher's scores."""
    return say(_STAND_TITLE, drill=drill, level=level_name(say, level), seed=seed)


def clef_note(say: Translator, clef: str) -> str:
    """What must be said of a sheet in a clef that transposes, by the clef's name."""
    return say(_CLEF, clef=clef)


def instruction(say: Translator, sentences: Iterable[Fact]) -> str:
    """What stands over an exercise: one sentence or more."""
    return " ".join(say.written(one) for one in sentences)
