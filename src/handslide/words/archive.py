"""What stands in the README of a studio's archive."""

from handslide.words.messages import N_

# Translators: names of files and folders stay as they are. Keep lines below 100 letters, the second
# column in one line with itself.
README = N_(
    """\
A studio of handslide {version}, exported on {day}.

To bring it into a studio: on its page Data choose this file under Import.

studio.db        everything but the recordings, as handslide keeps it (an SQLite database)
archive.json     which recording belongs to which take
students.csv     the students
students/        a folder for each student:
  horns/         their horns as horn files, which handslide's commands read; earlier versions
                 are in the folder history
  stands.csv     the parts that stand open, with the number of chosen places
  takes/         each take: its notes (.csv), its report (.json), its recording if one is kept
parts/           the parts as they were put in
exercises/       exercises of the teacher's own

Only studio.db, archive.json and the recordings are read at an import. The other files are
copies to look at; changing them changes nothing.

This archive holds what is known of real people, maybe of children. Keep it as your local
rules say. Who is deleted from the studio later is still in here.
"""
)
