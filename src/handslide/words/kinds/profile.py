"""What is said of each kind of fact whose topic is ``profile``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

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
}
