"""What is said of each kind of fact whose topic is ``studio``: its settings, and care for its data.

``trouble`` and ``why`` are facts too: what the disk or the database did, what a check found.
"""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller, by

KINDS: Mapping[str, Message | Teller] = {
    # Settings.
    "studio.no_language": N_("there is no language {value!q}: choose one of the list"),
    "studio.no_theme": N_("there is no theme {value!q}: choose one of the list"),
    "studio.no_paper": N_("there is no paper {value!q}: choose one of the list"),
    # Translators: a backup is a copy of the whole studio, made each day.
    "studio.no_backup": N_("the backup can't be made: {trouble}"),
    "studio.no_daily_backup": N_("today's backup could not be made: {trouble}"),
    "studio.backup_gone": N_("this backup isn't in the studio's folder (any more)"),
    "studio.backups_to_keep": N_("keep from 1 to {most} daily backups, not {number}"),
    "studio.not_put_in_place": N_(
        "this can't be put in place, and the studio is as it was: {trouble}"
    ),
    "studio.not_recovered": N_("the studio {path} can't be recovered: {trouble}"),
    "studio.disk_full": N_(
        "The disk is full: everything can be looked at and exported, but nothing can be kept. Make "
        "room on the disk, then go on as usual."
    ),
    "studio.whole": N_("The studio is whole; nothing was changed."),
    "studio.begins_empty": by(
        lambda told: bool(told["kept"]),
        {
            False: N_("There was no good backup: the studio begins empty."),
            True: N_(
                "There was no good backup: the studio begins empty; the damaged file is kept as "
                "{kept}."
            ),
        },
    ),
    "studio.recovered": by(
        lambda told: bool(told["kept"]),
        {
            False: N_("The backup {backup} is in place."),
            True: N_("The backup {backup} is in place; the damaged file is kept as {kept}."),
        },
    ),
    # Erasing.
    "studio.not_all_erased": N_("not all of it could be erased: {trouble}"),
    "studio.remains_in_log": N_(
        "it is deleted, but remains are in the studio's log while another page or program reads: "
        "stop the studio and start it again, and they are gone"
    ),
    # Translators: an archive is a file with a whole studio in it.
    "studio.archive_unwritten": N_("the archive can't be written: {reason}"),
    "studio.archive_not_unpacked": N_("the archive can't be unpacked: {reason}; is the disk full?"),
    "studio.archive_broken": N_(
        "the archive can't be read: it is broken or wasn't made by handslide; was it copied whole?"
    ),
    "studio.archive_gone": N_("this archive doesn't wait (any more): choose its file again"),
    "studio.archive_many_files": N_("the archive has more than {most} files in it: not ours"),
    "studio.archive_other_packing": N_(
        "the archive is packed in a way that ours never are, and that can hide a trap"
    ),
    "studio.archive_no_room": N_(
        "the disk has no room for what is in the archive ({size_mb:.0f} MB): make room first"
    ),
    "studio.archive_locked": N_("the archive is locked by a password: ours never are"),
    "studio.archive_doubled": N_(
        "the archive has two files of one name: it wasn't made by handslide"
    ),
    "studio.archive_trap": N_("the archive unpacks to far more than a studio holds: a trap?"),
    "studio.archive_lacks": N_(
        "the archive lacks {file}: it wasn't made by handslide, or not whole"
    ),
    "studio.archive_leads_out": N_(
        "the archive has a file whose name leads out of its folder: it wasn't made by handslide"
    ),
    "studio.archive_not_ours": N_(
        "the file is a zip archive, but not one of a studio of handslide"
    ),
    "studio.archive_newer": N_(
        "the archive was made by a newer handslide: install the newer one and import it there"
    ),
    "studio.archive_list": N_("the archive's {file} lists its recordings in no way that we know"),
    "studio.archive_unusable": N_("the archive can't be used: {why}"),
    "studio.archive_database": N_("the database in the archive can't be used: {trouble}"),
    "studio.archive_large_recording": N_("a recording in the archive has more than {most} bytes"),
}
