"""What is said of each kind of fact whose topic is ``store``: files of a studio, what they do.

``trouble``, ``found`` and ``damage`` are facts too: what the disk or the database did.
"""

from collections.abc import Mapping

from handslide.words.messages import N_, NP_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    # Opening.
    "store.cannot_open": N_("can't open the studio {path}: {trouble}"),
    # Translators: {reason} is the system's own word, such as "Permission denied".
    "store.cannot_use_folder": N_(
        "can't open the studio {path}: {reason}; look at the folder and its rights, or choose "
        "another folder"
    ),
    "store.closed": N_("the studio {path} was closed"),
    "store.damaged": N_("the studio {path} is damaged ({found}) and has no good backup"),
    "store.damaged_with_backup": N_(
        "the studio {path} is damaged ({found}); the newest good backup is {backup}"
    ),
    "store.newer": N_(
        "{file} was made by a newer handslide (its schema version is {version}, this one knows "
        "{newest}): install the newer one; nothing was changed"
    ),
    "store.not_ours": N_("{file} is a database, but not a studio of handslide"),
    "store.no_studio": N_("{file} isn't a studio, or it is damaged: {damage}"),
    # Translators: {reason} is the database's own word, in English.
    "store.cannot_look": N_("can't look into {file}: {reason}"),
    # Working.
    "store.not_done": N_("the studio couldn't do this, and nothing of it was kept: {trouble}"),
    "store.backup_kept_it": N_(
        "can't erase in the backup {file} ({reason}): make room or close what holds it, then do "
        "it again; in the studio nothing was erased yet"
    ),
    # What a disk or a database does.
    "store.disk_full": N_("the disk is full: make room, then do it again"),
    "store.read_only": N_("its file or folder can't be written to: look at its rights"),
    "store.unopened": N_("its file can't be opened: look at the folder and its rights"),
    "store.busy": N_("another program holds it: close that one, then do it again"),
    "store.disk_refuses": N_("the disk doesn't take the data: is it full, or was it unplugged?"),
    "store.file_damaged": N_("its file is damaged: stop the studio and start it again"),
    "store.empty_or_gone": N_("it is empty or gone"),
    # Translators: {reason} is the database's own word, in English.
    "store.sqlite_says": NP_("the database's own word", "{reason}"),
    # Translators: the system's own word, such as "Permission denied".
    "store.system_says": NP_("the system's own word", "{reason}"),
    # What is in a database.
    "store.lost_row": N_("a row of {table!q} belongs to something in {parent!q} that isn't there"),
    # Translators: {reason} is the database's own word, in English.
    "store.bad_row": N_("a row of {table!q} breaks a rule of the studio: {reason}"),
    "store.odd_table": N_("the database isn't a studio of ours: look at its table {table!q}"),
    "store.unreadable_column": N_("the archive has a {table!q} whose {column!q} can't be read"),
    "store.changed_score": N_("the part {title!q} in the archive isn't what was put in"),
    "store.recording_without_take": N_(
        "the archive has a recording that belongs to none of its takes"
    ),
}
