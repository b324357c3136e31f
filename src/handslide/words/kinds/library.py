"""What is said of each kind of fact whose topic is ``library``."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.partnames import listed_parts
from handslide.words.tellers import Teller, by
from handslide.words.translate import Translator

_NO_PART = N_("there is no part {name} with notes; its parts are {parts}")


def _no_part(say: Translator, told: Fact) -> str:
    return say(_NO_PART, name=told["name"], parts=listed_parts(say, told["parts"]))


_WORKERS: Mapping[object, Message] = {
    "died": N_("it ended the process that worked on it, three times"),
    "slow": N_("it took too long, three times"),
    "memory": N_("it took too much memory, three times"),
    "raised": N_("it could not be made: this is a mistake of handslide"),
}

KINDS: Mapping[str, Message | Teller] = {
    "library.worker": by(lambda told: told["why"], _WORKERS),
    # Translators: {reason} is the system's own word for it.
    "library.folder": N_("can't read the folder {folder}: {reason}"),
    "library.one_folder": N_(
        "{folder} can't take the results: {source} is in it; choose a folder beside it or inside it"
    ),
    "library.second": N_("another run is working in {folder}; wait until it is done"),
    "library.manifest": N_("can't use the list of what was done, {file}: {trouble}"),
    "library.not_ours": N_("{file} isn't a list of what was done in a library"),
    "library.newer": N_("{file} was made by a newer handslide"),
    "library.no_manifest": N_("no library was marked into {folder}"),
    "library.gone": N_("{file} can't be read: {reason}"),
    "library.changed": N_("{file} was changed meanwhile; run again"),
    "library.changed_since": N_("{file} was changed meanwhile: look again, then take it in"),
    "library.folder_large": N_(
        "{folder} holds more than {most} files and folders: name the folder with the music in it"
    ),
    "library.many_files": N_(
        "{count} scores are too many for one folder here, {most} are the most: name the folders in "
        "it one by one"
    ),
    "library.many_folders": N_("there are {most} folders already: forget one of them first"),
    # Translators: ~/Music/Brass is an example of a path.
    "library.whole_path": N_("{text!q} isn't the whole path of a folder, such as ~/Music/Brass"),
    "library.own_folder": N_("{folder} is the studio's own folder: name that of your scores"),
    "library.no_such_folder": N_("this folder isn't in the list (any more)"),
    "library.no_such_file": N_("this file isn't in its folder (any more): look again"),
    "library.sent_too_much": N_("a folder that is sent may have up to {most_mb} MB"),
    "library.busy": N_(
        "parts are being looked at or taken in: wait until that is done, or stop it"
    ),
    "library.no_part_chosen": N_("nothing was chosen: tick at least one part"),
    "library.elsewhere": N_(
        "a folder can be named only on the machine that the studio runs on, at its own address; "
        "from here send it instead"
    ),
    # Translators: the name of a file, and what is wrong with it.
    "library.parts_file": NP_("file of parts", "{file}: {problem}"),
    # Translators: ["{name}"] is typed as it stands.
    "library.no_table": N_('{name} must be a table, such as ["{name}"]'),
    "library.unknown_key": N_("{key} of {name!q} isn't known; there are take and sounds"),
    "library.take": N_('take of {name!q} must be a list, such as ["Trombone 1", "2"]'),
    "library.sounds": N_("sounds of {name!q} must be one of {known}"),
    "library.no_such_part": _no_part,
    "library.format": N_("{name} isn't the ending of a score's name; there are {known}"),
    "library.horns_of_a_class": N_("a class has the horns of its rows: give at most one horn"),
    # Translators: what stands in brackets is typed as it stands.
    "library.no_extra": N_(
        "a cluster takes more than is installed: install handslide with cluster (pip install "
        '"handslide[cluster]")'
    ),
    # Translators: --formats is typed as it stands, as is what stands in brackets after pip.
    "library.no_reader": NN_(
        "{count} file of the library is in a format whose reader isn't installed ({file}): install "
        'handslide with formats (pip install "handslide[formats]"), or leave it out with '
        "--formats {rest}",
        "{count} files of the library are in formats whose reader isn't installed ({file} among "
        'them): install handslide with formats (pip install "handslide[formats]"), or leave them '
        "out with --formats {rest}",
    ),
    "library.address": N_("{address} isn't the address of a scheduler, such as {like}"),
    "library.no_scheduler": N_("no scheduler answers at {address}"),
    "library.no_workers": N_("the scheduler at {address} has no workers"),
    "library.workers_without": N_("a worker of {address} has no handslide, or not this one"),
    "library.versions": N_("the workers have handslide {there}, here is {here}"),
    "library.cluster_gone": N_(
        "the scheduler at {address} can't be reached any more; what isn't done is still to do: the "
        "same command goes on"
    ),
    "library.speed": N_("{text!q} is no speed: easy, quick, or metres a second such as 3.5"),
    "library.range": N_("{text!q} is no range: two notes such as E2-F4"),
    "library.no_player": N_("nobody in this library is called {name!q}; there are {known}"),
}
