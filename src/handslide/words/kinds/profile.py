"""What is said of each kind of fact whose topic is ``profile``."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller, by
from handslide.words.translate import Translator

_ITSELF = N_("the profile {name} can't begin from itself")
# Translators: {way} is such as mine ← yours ← mine.
_CIRCLE = N_("the profile {name} can't begin from itself: {way}")


def _circle(say: Translator, told: Fact) -> str:
    name, chain = told["name"], told["chain"]
    if len(chain) < 3:
        return say(_ITSELF, name=name)
    return say(_CIRCLE, name=name, way=" ← ".join(chain))


# Translators: a profile is a named list of numbers by which the best places are chosen.
KINDS: Mapping[str, Message | Teller] = {
    "profile.unknown": N_(
        "no profile called {name!q} (there are {known}, or the path of a profile file of your own)"
    ),
    "profile.unknown_near": N_(
        "no profile called {name!q}: did you mean {near}? (there are {known}, or the path of a "
        "profile file of your own)"
    ),
    "profile.unknown_here": N_("no profile called {name!q} (there are {known})"),
    "profile.is_folder": N_("{path} is a folder, not a profile file"),
    "profile.too_large": N_("{path} is too large for a profile file"),
    "profile.missing": N_("there is no profile file {path}"),
    "profile.not_text": N_("{path} isn't text in UTF-8: is it a profile file?"),
    "profile.unreadable": N_("can't read {path}: {reason}"),
    "profile.not_toml": N_("{source} isn't valid TOML: {reason}"),
    "profile.unknown_key": N_("unknown key {key!q}: known keys are {known}"),
    "profile.unknown_key_near": N_("unknown key {key!q}: did you mean {near}?"),
    # Translators: what is wrong in a file.
    "profile.in_file": N_("{source}: {cause}"),
    "profile.partials": N_("partials must be a table such as [partials] with 7 = 0.2"),
    "profile.partial": N_("partials: {key} = {value} must be a partial 1 to 16 = 0 or more"),
    "profile.negative": N_("profile {profile}: {weight} = {value} must be 0 or more"),
    "profile.zero": N_("profile {profile}: {weight} must be above 0"),
    # Translators: began_from, factors and factors_on are keys in a file and stay as they are.
    "profile.began_from": N_("a profile can't begin from {name!q}: there are {known}"),
    "profile.circle": _circle,
    "profile.factors_of_nothing": N_("factors need began_from, the profile that they multiply"),
    "profile.factors": N_("factors must be a table such as [factors] with turn_per_m = 0.5"),
    "profile.factors_on": N_(
        'factors_on must be tables such as [factors_on."Bb+1"], each for a kind of horn'
    ),
    "profile.kind_of_horn": N_(
        "{kind!q} isn't a kind of horn: it is the open horn's note and the number of valves, such "
        "as Bb+1"
    ),
    "profile.factor": N_("factors: {key} = {value} must be from 1/{most:.0f} to {most:.0f}"),
    "profile.factor_partial": N_("factors: {key} must be a partial {low} to {high}"),
    "profile.not_text_value": N_("{key} must be text in quotes"),
    "profile.bad_name": N_(
        "{name!q} can't be a profile's name: it takes letters, digits, spaces, - and _, at most 60"
    ),
    "profile.name_of_ours": N_("{name} is one of handslide's own profiles: choose another name"),
    "profile.name_near": N_("there is a profile {other} already: {name} would be the same file"),
    "profile.has_examples": N_(
        "the profile {name} is learnt from examples of its own: choose another name"
    ),
    "profile.not_learnt": N_(
        "the profile {name} was written by hand and stays as it is: choose another name, which can "
        "begin from it"
    ),
    "profile.learnt_elsewhere": N_(
        "what the profile {name} was learnt from isn't here ({path}): choose another name, which "
        "can begin from it"
    ),
    "profile.no_examples": N_("no profile {name!q} was learnt here"),
    # Translators: examples are what a profile is learnt from.
    "profile.examples_damaged": N_(
        "{path} can't be read: it isn't what handslide has written, and was left as it is"
    ),
    "profile.examples_newer": N_("{path} was written by a newer handslide"),
    "profile.examples_full": N_(
        "that is more than a profile can be learnt from: forget some first"
    ),
    "profile.nothing_to_learn": N_("{file} has no position over a note that could be learnt from"),
    "profile.only_our_marks": N_("all positions in {file} are handslide's own marks"),
    # Translators: {last} is the part's last measure; --seen is an option.
    "profile.seen_no_measure": N_(
        "--seen {measure}: the part has no such measure; its last is {last}"
    ),
    "profile.seen_measures": N_(
        "--seen {measure}: {count} measures have this number; give one as {spelled}"
    ),
    # Translators: --seen is an option, 'end' is typed as it stands.
    "profile.seen_of_several": N_("--seen with a measure is for one part; with 'end' for several"),
    "profile.same_name": N_("two parts are called {file}: rename one, or give it alone"),
    "profile.no_part": by(
        lambda told: bool(told["known"]),
        {
            True: N_("it wasn't learnt from {part!q}: there are {known}"),
            False: N_("it wasn't learnt from {part!q}, nor from any part"),
        },
    ),
    "profile.not_a_spot": N_(
        "{text!q} isn't MEASURE:INDEX, such as 12:3 for the third note of measure 12"
    ),
    "profile.no_choice_there": N_("there is no choice to forget in {part} at {spot}"),
    "profile.no_terminal": N_(
        "questions are asked on a terminal; elsewhere use --json and then --answer"
    ),
}
