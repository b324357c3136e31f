"""What is said of each kind of fact whose topic is ``files``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    # Translators: {reason} is the system's own word, such as "Permission denied".
    "files.unwritten": N_("can't write {path}: {reason}"),
    "files.not_plain": N_("{path} is a device or a pipe, not a file"),
    "files.huge_number": N_("there is a number in it with far too many digits"),
    "files.nested": N_("it is nested too deeply"),
    "files.is_folder": N_("can't write {path}: it is a folder"),
    "files.exists": N_("{path} exists already; it was kept"),
    "files.held": N_("another handslide is at work on {path}: try again when it is done"),
    "files.not_a_fact": N_("this is not a fact that handslide has written: {text}"),
    # Translators: {reason} is the typesetter's own word, in English.
    "files.not_typeset": N_("the sheet {title!q} can't be typeset: {reason}"),
    # Translators: the rest are the system's reasons, after a colon.
    "files.no_such_file": N_("No such file or directory"),
    "files.not_allowed": N_("Permission denied"),
    "files.not_permitted": N_("Operation not permitted"),
    "files.a_folder": N_("Is a directory"),
    "files.no_folder": N_("Not a directory"),
    "files.no_space": N_("No space left on device"),
    "files.read_only": N_("Read-only file system"),
    "files.address_taken": N_("Address already in use"),
}
