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

XML_ELEMENTS = 2_000_000
"""Elements of a score: each takes 130 bytes of memory, however few it has in the file. 64 MB of
real MusicXML have 1.9 million."""

XML_ATTRIBUTES = 1_200_000
"""Signs ``=`` in a score, for the same reason: an attribute takes 230 bytes."""

MARK_LETTERS = 40
"""A fingering that is read as a mark: our longest has a dozen."""

NOTE_FINGERINGS = 16
"""Fingerings over one note that are read: nobody prints more than three."""

MEASURE_LETTERS = 40
"""A measure's printed number: `X12a` and the like; what is longer is cut."""

XML_NUMBER_LETTERS = 40
"""Letters of a number in a score: no printed number needs more, and a long one takes long to
read."""

OTHER_SCORE_BYTES = 8 * MB
"""A score in Humdrum, ABC, MEI or MIDI: sixty times the largest of the shared ones; the time of
reading bounds them long before."""

PART_NOTES = 100_000
"""Notes printed in a part: five hours without a rest at five a second. Each takes three kB where a
part is open."""

ENGRAVED_NOTES = 20_000
"""Notes of a part that the engraver gets: it takes seventeen seconds over them."""

ENGRAVED_ELEMENTS = 400_000
"""Elements of a part that the engraver gets: twenty for each of its notes."""

PLAYED_NOTES = 200_000
"""Notes of a part as it is played, repeats followed: eleven hours at five a second."""

PLAYED_BEATS = 200_000
"""Beats, and measures, of a part as it is played: a day at 120 a minute."""

ENGRAVED_LETTERS = 400
"""A text in a part that the engraver gets: three lines of a page; what is longer is cut."""

MEASURE_NOTES = 1000
"""Notes of a measure that the engraver gets: a page of them without a barline has 300."""

MEASURE_ELEMENTS = 15_000
"""Elements of a measure that the engraver gets: a thousand notes with fifteen each; it looks at
every pair of those that hang on one note."""

ENGRAVED_QUARTERS = 1000.0
"""Quarter notes of one note, rest or move that the engraver gets: no real one has a tenth."""

ENGRAVED_OPEN = 32
"""Slurs, ties, tuplets, wedges, each kind by itself, that are open at once in what the engraver
gets: six of a kind can be numbered, and its time grows with how many never end."""

# Parts as PDF.

PDF_BYTES = 64 * MB
"""A part as PDF: what notation programs write has up to 1 MB; with pictures in it, some dozens."""

PDF_JUNK_BYTES = 1024
"""Before ``%PDF-``: mail programs put a few lines there, and readers look this far."""

PDF_PAGES = 200
"""Pages of a part: the longest parts of an opera have a hundred, a full score has more but is read
by its pages."""

PDF_STREAM_BYTES = 32 * MB
"""One stream unpacked: a crowded page has half a megabyte, a font for all letters of the world
20."""

PDF_UNPACKED_BYTES = 200 * MB
"""All streams together: 200 pages of the most crowded."""

PDF_PAGE_OPERATORS = 400_000
"""Operators of a page: a crowded page of a full score with everything as outlines has 60,000."""

PDF_OPERATORS = 8_000_000
"""Operators of all pages: some seconds of reading."""

PDF_PAGE_GLYPHS = 60_000
"""Glyphs of a page: a page of small print has 8,000."""

PDF_PAGE_POINTS = 1_500_000
"""Corners of all paths of a page, curves flattened: ten times a full score's as outlines."""

PDF_PAGE_PICTURES = 2000
"""Pictures of a page; some scanners cut a page into hundreds of stripes."""

PDF_PAGE_FORMS = 5000
"""Forms that a page draws: some programs make one of every sign, and a page has a thousand."""

PDF_STENCIL_BITS = 250_000
"""Fields of a stencil that is read as a shape: a sign at 1,200 dots an inch has 40,000."""

PDF_FONTS = 1000
"""Fonts of a file: one for each page and face, where programs write a new one each time."""

PDF_OUTLINE_POINTS = 20_000
"""Corners of a glyph: the most ornate clefs have 500."""

PDF_CODES = 65_536
"""Codes of a font: what two bytes can say."""

PDF_DEPTH = 12
"""Forms within forms: programs nest three or four, and a form that draws itself never ends."""

PDF_STATES = 512
"""Graphics states kept at once, and marked contents within one another: writers are told to keep to
28."""

PDF_ARRAY = 100_000
"""Members of an array or operands of an operator: a line of text has hundreds."""

# Small files that are typed by hand: horns, profiles, rosters, rows.

TYPED_BYTES = 1_000_000
"""A horn, a profile, a roster, a table of notes: the longest known has 60 kB."""

TOML_DEPTH = 16
"""Keys within a key, as ``a.b.c``: ours have two."""

OWN_EXERCISES = 500
"""Files of a teacher's own exercises in a studio: one for each week of ten years."""

ROSTER_ROWS = 1000
"""Students of a roster: a big music school."""

TABLE_ROWS = 2000
"""Notes of a table: ten times every note of a horn at every position."""

MOST_CENTS = 12_000.0
"""From a note in a table: ten octaves; beyond, the note is another or the number is."""

FIT_ROWS = 400
"""Notes that a horn is fitted to in the studio: seven positions of every partial, four times."""

EXAMPLES_BYTES = 16 * MB
"""What a profile is learnt from: a note has eighty bytes, and a horn that was fitted 60 kB."""

EXAMPLES_NOTES = 50_000
"""Notes of all parts that a profile is learnt from: a hundred long studies."""

EXAMPLES_ANSWERS = 2000
"""Questions that a teacher answered: a hundred evenings."""

LEARNT_BLOCKS = 250
"""Stretches of 24 notes that a profile is fitted to for a kind of horns, the last: 6,000 notes say
all that can be learnt, and more would take minutes."""

REPORT_BYTES = 64 * MB
"""A report as JSON: an hour of notes has 10 MB."""

LINE_LETTERS = 300
"""A line that is typed into a form: three of the longest that is printed."""

NAME_LETTERS = 200
"""A name or a title: four times the longest of the shared scores. In a score, what is longer is
cut."""

TOLD_LETTERS = 500
"""A piece of what came in, in a sentence about it; what is longer is shown by its two ends."""

WORDS_LETTERS = 500
"""A note of a few words, such as what a horn was changed for."""

ABOUT_LETTERS = 4000
"""What a teacher writes about a student: two pages."""

FILE_NAME_LETTERS = 120
"""Letters of a file's name that we make: common file systems take 255 bytes, and one letter may
have four."""

LEAST_PPI, MOST_PPI = 10.0, 1200.0
"""Pixels an inch of a picture: a page at the most of them takes half a gigabyte of memory."""

# Recordings.

TAKE_S = 10_800.0
"""A recording: three hours, longer than any lesson."""

TAKE_BYTES = 4 * GB
"""A recording's file: what a WAV can hold; three hours of two channels have 3 GB at 24 bits."""

LEAST_RATE_HZ, MOST_RATE_HZ = 4000.0, 768_000.0
"""Samples a second: below, the partials of a note are missing; no sound card has more."""

MEASURED_S = 60.0
"""Of one note, what is measured, from its beginning: nobody's breath lasts longer, and a drone that
was left on takes memory with the square of its length."""

FOLLOWED_CELLS = 60_000_000
"""Notes heard times notes of the part they are laid beside: each pair takes eight bytes a few times
over."""

TAKES_WAITING = 20
"""Takes that wait to be heard in the studio: a class's evening."""

LIVE_S = 1200.0
"""A live view, before it must be started again: who forgot it hears no more."""

LIVE_BLOCK_S = 1.0
"""One message of a live view; what is late by a second is no longer live."""

PLAYALONG_S = 1800.0
"""A play-along: half an hour, which as WAV has 345 MB."""

PLAYED_PARTS = 100
"""Other parts of a score that sound in a play-along: the largest orchestras have fewer staves."""

DRONE_S = 600.0
"""A drone: ten minutes of tuning; what is to last longer is a loop."""

LOOP_S = 60.0
"""A drone that is played round and round, so that it needs no length."""

CLIP_S = 900.0
"""A clip: a quarter of an hour of video, several times the longest that is posted."""

CLIP_BYTES = 2 * GB
"""A clip's file: more than any service takes; a minute of 1920 by 1080 has some 10 MB."""

LEAST_CLIP_PIXELS, MOST_CLIP_PIXELS = 160, 3840
"""Pixels of a side of a clip: the largest screens have as many."""

LEAST_FPS, MOST_FPS = 10, 60
"""Pictures a second of a clip: fewer stumble, more no eye can tell."""

# What runs in processes of its own.

ENCODER_STILL_S = 60.0
"""Without taking a picture, a video encoder has stopped: it takes milliseconds for one."""

ENCODER_ASKED_S = 20.0
"""For a video encoder to say what it can do."""

LEASH_PATIENCE = 3.0
"""How many times as long as it may work such a process may take by the clock, beside others."""

ENGRAVER_S = 10.0
"""Engraving, and a second more for each `ENGRAVER_NOTES_A_SECOND`."""

ENGRAVER_NOTES_A_SECOND = 400.0
"""A thousand notes take half a second; a slow machine takes five times that."""

ENGRAVER_MORE_S = 12.0
"""But no more than these: twelve thousand notes take nine seconds, and a score that was made to
be slow is to hold up nobody for half a minute."""

ENGRAVER_BYTES = 900 * MB
"""The engraver's memory: a part of 1,100 notes takes 80 MB."""

READER_S = 10.0
"""Reading a score in another format: nobody waits much longer. One of twelve parts and 50 kB takes
three seconds, on a slow machine five."""

READER_BPS = 20_000
"""A second more for each so many bytes."""

READER_MORE_S = 10.0
"""But no more than these: half a megabyte takes twenty seconds."""

SCORE_PARTS = 500
"""Parts of a score: the largest orchestras have a hundred staves."""

MIDI_TRACKS = 500
"""Tracks of a MIDI file: as many as a score may have parts."""

READER_BYTES = 1000 * MB
"""The memory of reading another format: a Humdrum score of twelve parts takes 140 MB."""

PDF_S = 30.0
"""Reading a part from its PDF, or laying marks over it: a page takes half a second."""

PDF_BPS = 50_000
"""A second more for each so many bytes."""

PDF_MORE_S = 30.0
"""But no more than these."""

PDF_MEMORY_BYTES = 1500 * MB
"""The memory of reading a PDF: a part of ten pages takes 200 MB."""

DECODER_S = 20.0
"""Decoding a block of a recording, which has a second or two and takes milliseconds."""

DECODER_BYTES = 1000 * MB
"""The memory of decoding: 110 MB, for an hour as for a minute."""

# What is learnt from a teacher's choices.

LEARNT_VERSIONS = 50
"""Learnt profiles of which each can be gone back to: a month of lessons."""

LEARNT_PARTS = 200
"""Parts on stands that are learnt from, of more the last: more than anybody marks in two years."""

LEARNING_S = 120.0
"""Learning in the studio: twenty parts take some seconds."""

LEARNING_BYTES = 1500 * MB
"""Its memory: twenty parts take 300 MB."""

QUESTION_NOTES = 200
"""Notes of a question, which would you write: a line of music has thirty."""

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

SPARE_BYTES = 100 * MB
"""What stays free of the disk when an archive is unpacked, for the system and what else runs."""

STORED_SCORE_BYTES = 20 * MB
"""A part in the studio: a long symphonic part has 3 MB, and all are read when one looks for a
name."""

OPEN_SCORES_BYTES = 300 * MB
"""Memory of the parts that the studio holds open, the last one beside: of a real part it takes
fifteen times its file's size."""

OPEN_MUSIC_BYTES = 60 * MB
"""Engraved music that the studio holds for its pages: a part of 1,500 notes has two megabytes."""

OPEN_SHEETS_BYTES = 30 * MB
"""And of each kind of finished sheet, PDF or picture: a sheet for a class of forty has one."""

OPEN_ROUTES_NOTES = 60_000
"""Notes of the routes that the studio holds: a thousand with all alternatives take some
megabytes."""

# A library of parts.

LIBRARY_PART_S = 120.0
"""Marking one part of a library for one player: the longest known study takes two seconds, and its
print is made in a process of its own."""

LIBRARY_PART_BYTES = 2000 * MB
"""Its memory: a part takes some 200 MB, a score of 64 MB ten times that."""

LIBRARY_TRIES = 3
"""Times that a part may kill its worker before it is left alone: two more than bad luck needs."""

LIBRARY_REPORT_ROWS = 500
"""Parts on a library's report for each player, the hardest: more than anybody reads; all of them
are in the table beside it."""

FOLDER_FILES = 5000
"""Scores in a folder that the studio looks into: the cupboards of ten bands; more are for
`handslide library`."""

FOLDER_ENTRIES = 200_000
"""Files of any kind in such a folder: who names a whole disk waits a minute and is told."""

FOLDERS_NAMED = 50
"""Folders that a studio looks into: each is walked whenever the page is opened."""

FOLDER_SHOWN = 500
"""New files of a folder on its page: those after them are there when these were taken in."""

SENT_FOLDER_BYTES = 2 * GB
"""A folder that a browser sends, until it is taken in: two thousand scores of one megabyte."""

LOOK_AGAIN_S = 30.0
"""Until a folder is looked at again by itself, where its page is open."""

LIBRARY_FOUND = 200
"""Parts that a search shows, unless it is asked for more."""

# What the browser sends.

REQUEST_BYTES = 2_000_000
"""A request without a file: the longest form, a horn with its whole table, has 100 kB."""

SCORE_REQUEST_BYTES = 64_000_000
"""A request with parts: a few of the largest at once."""

TAKE_REQUEST_BYTES = 300_000_000
"""A request with recordings: an hour as WAV."""

KEPT_SOUND_BYTES = 200 * MB
"""What is kept of one recording, packed: an hour."""

HANDED_SOUND_BYTES = 8 * MB
"""What a recording in a hand-out may take, packed: about a quarter of an hour."""

KEPT_SOUND_S = 3600.0
"""And for how long: the lesson in which they were made."""

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

# Sending to a tablet.

LESSON_MINUTES = 60
"""How long a link to a tablet is good, unless another time was chosen: a lesson."""

LEAST_LINK_MINUTES, MOST_LINK_MINUTES = 5, 480
"""What can be chosen there: a look at one place, a day of lessons."""

LINKS_OPEN = 40
"""Links to tablets that are open at once: a class."""

GUEST_REQUEST_BYTES = 10_000
"""What a tablet sends that isn't a take: a code of thirty letters."""

GUEST_TAKE_BYTES = 128 * MB
"""A take that a tablet sends: the twenty minutes after which its recording ends, as WAV."""

GUEST_TAKES = 40
"""Takes that a tablet sends by one link: one every other minute of a lesson."""

GUEST_CONNECTIONS = 120
"""Connections to what tablets reach: three for each that is open."""

# Backups.

BACKUPS_OF_TODAY = 10
"""Backups of the newest day that are kept: the steps of an afternoon."""

BACKUP_DAYS = 14
"""Days whose last backup is kept, unless another number was chosen: two weeks of lessons."""

MOST_BACKUP_DAYS = 366
"""The most that can be chosen there: a year."""

BACKUP_WEEKS = 8
"""Weeks before these whose last backup is kept: since the last holidays."""

BACKUP_MONTHS = 12
"""Months before these whose last backup is kept: a school year."""

BACKUPS_BEFORE = 5
"""Backups kept of those made before a big step; they hold recordings and may be large."""
