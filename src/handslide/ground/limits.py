"""How large, long, many or slow what comes in may be: all such limits, each with its reason.

The line under a limit says why it is what it is. `docs/limits.md` shows them, made from this file
by ``scripts/limits.py``.
"""

KB, MB, GB = 2**10, 2**20, 2**30

# Scores.

SCORE_BYTES = 64 * MB
"""A score file, or one file of an ``.mxl``: the largest known symphonies have 40 MB as MusicXML."""

SCORE_UNPACKED_BYTES = 128 * MB
"""All files of an ``.mxl`` unpacked: two of the largest, so that a small archive can't fill the
memory."""

SCORE_ENTRIES = 1000
"""Files in an ``.mxl``: a score and its pictures are a few dozen."""

SCORE_DIRECTORY_BYTES = 1 * MB
"""The list of files in an ``.mxl``, which is read before anything can be counted: a thousand names
of a thousand letters."""

XML_TAGS = 3_500_000
"""Signs ``<`` in a score: an element takes 130 bytes of memory, however few it has in the file. 64
MB of real MusicXML have three million."""

XML_ATTRIBUTES = 1_200_000
"""Signs ``=`` in a score, for the same reason: an attribute takes 230 bytes."""

XML_NUMBER_LETTERS = 40
"""Letters of a number in a score: no printed number needs more, and a long one takes long to
read."""

# Small files that are typed by hand: horns, profiles, rosters, rows.

TYPED_BYTES = 1_000_000
"""A horn, a profile, a roster, a table of notes: the longest known has 60 kB."""

ROSTER_ROWS = 1000
"""Students of a roster: a big music school."""

TABLE_ROWS = 2000
"""Notes of a table: ten times every note of a horn at every position."""

REPORT_BYTES = 64 * MB
"""A report as JSON: an hour of notes has 10 MB."""

FILE_NAME_LETTERS = 120
"""Letters of a file's name that we make: common file systems take 255 bytes, and one letter may
have four."""

LEAST_PPI, MOST_PPI = 10.0, 1200.0
"""Pixels an inch of a picture: a page at the most of them takes half a gigabyte of memory."""

# Archives of a studio.

ARCHIVE_BYTES = 64 * GB
"""An archive of a studio: ten years of recordings of forty students; the disk is asked before it is
unpacked."""

ARCHIVE_DATABASE_BYTES = 6 * GB
"""The database in an archive, without recordings: a hundred times a big studio's."""

ARCHIVE_GROWTH = 100
"""How much larger than the archive what is in it may be: a database packs to a tenth, a trap to a
thousandth."""

ARCHIVE_SMALL_BYTES = 16 * MB
"""What may be unpacked whatever the archive's size: an empty studio packs very small."""

ARCHIVE_ENTRIES = 200_000
"""Files in an archive: forty thousand takes with all that is beside each."""

ARCHIVE_DIRECTORY_BYTES = 64 * MB
"""The list of files in an archive, which is read before anything can be counted: three hundred
bytes for each."""

ARCHIVE_MANIFEST_BYTES = 32 * MB
"""The list of recordings in an archive: a hundred and fifty bytes for each."""

ARCHIVE_RECORDING_BYTES = 400 * MB
"""A recording in an archive: twice what the studio keeps of one."""

STORED_SCORE_BYTES = 20 * MB
"""A part in the studio: a long symphonic part has 3 MB, and all are read when one looks for a
name."""

# What the browser sends.

REQUEST_BYTES = 2_000_000
"""A request without a file: the longest form, a horn with its whole table, has 100 kB."""

SCORE_REQUEST_BYTES = 64_000_000
"""A request with parts: a few of the largest at once."""

TAKE_REQUEST_BYTES = 300_000_000
"""A request with recordings: an hour as WAV."""

KEPT_SOUND_BYTES = 200 * MB
"""What is kept of one recording, packed: an hour."""

FORM_FILES = 100
"""Files in one form: more than anybody chooses at once."""

FORM_FIELDS = 1000
"""Fields in one form: a tuning of every note has 300."""

FORM_FIELD_BYTES = 1_000_000
"""One field: as long as a typed file may be."""

NUMBER_DIGITS = 15
"""Digits of a number in an address: they fit a row's number, and none takes long to read."""

LIVE_VIEWS = 4
"""Live views at once: each hears all the time, and a small machine has four cores."""

LIVE_BYTES = 2 * 192_000
"""One message of a live view: a second at the highest rate."""

# Patience.

HEAD_S = 20.0
"""Until a request's head is whole: a slow line needs two."""

SILENT_S = 20.0
"""Without a byte while a request comes in."""

PATIENCE_S = 30.0
"""Of waiting for a request's bytes before their speed is looked at."""

SLOWEST_BPS = 1000.0
"""Bytes a second that must come then: a tenth of the slowest line that can show a page."""

UNREAD_S = 120.0
"""For a browser that reads nothing of its answer; a player that was paused asks again."""

REST_S = 20.0
"""For the rest of a request that was answered already."""

CONNECTIONS = 300
"""Connections at once: a browser opens six, a class of forty comes to 240."""

# The password.

TRIES = 30
"""Wrong tries of one address at once, before it must wait."""

TRIES_A_SECOND = 0.5
"""Tries that an address gets back: nobody types faster."""

ALL_TRIES = 100
"""Wrong tries of all addresses together, for who comes with many addresses."""

ALL_TRIES_A_SECOND = 2.0
"""Tries that all together get back: 170,000 a day, against the 3,000,000,000,000 ways to write
eight small letters and digits."""

ADDRESSES_KEPT = 1000
"""Addresses that are remembered; the one that was quiet longest is forgotten."""

# Backups.

BACKUPS_OF_TODAY = 10
"""Backups of the newest day that are kept: the steps of an afternoon."""

BACKUP_DAYS = 14
"""Days whose last backup is kept, unless another number was chosen: two weeks of lessons."""

BACKUP_WEEKS = 8
"""Weeks before these whose last backup is kept: since the last holidays."""

BACKUP_MONTHS = 12
"""Months before these whose last backup is kept: a school year."""

BACKUPS_BEFORE = 5
"""Backups kept of those made before a big step; they hold recordings and may be large."""
