"""What is said of each kind of fact whose topic is ``roster``."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.messages import N_, NP_, Message
from handslide.words.partnames import listed_parts
from handslide.words.tellers import Teller
from handslide.words.translate import Translator

# Translators: a row of a class list by its line, the student's name, and what is wrong with it.
_ROW = N_("row {number} ({student}): {problem}")
_ROW_WITHOUT_NAME = N_("row {number}: {problem}")


def _row(say: Translator, told: Fact) -> str:
    return say(_ROW if told["student"] else _ROW_WITHOUT_NAME, **told.values)


# Translators: part is the name of a column and stays as it is.
_WHICH_PART = N_(
    "no part of {file} is called a trombone's: write into the column part which one is meant, out "
    "of {parts}"
)


# Translators: part is the name of a column and stays as it is.
_NUMBER = N_("part {number}: the trombone parts of this score are {parts}")


def _which_part(say: Translator, told: Fact) -> str:
    return say(_WHICH_PART, file=told["file"], parts=listed_parts(say, told["parts"]))


def _trombone_number(say: Translator, told: Fact) -> str:
    return say(_NUMBER, number=told["number"], parts=listed_parts(say, told["parts"]))


KINDS: Mapping[str, Message | Teller] = {
    "roster.unforeseen": N_("it could not be made: this is a mistake of handslide"),
    "roster.row": _row,
    "roster.which_part": _which_part,
    "roster.trombone_number": _trombone_number,
    "roster.in_file": NP_("roster", "{file}: {problem}"),
    "roster.none_usable": N_("{file}: no row can be used"),
    "roster.none_usable_because": N_("{file}: no row can be used (row {number}: {problem})"),
    "roster.no_rows": N_("no students: each needs a row below the column names"),
    "roster.no_tables": N_("no students: each needs a [[student]] table"),
    "roster.too_many": N_("{count} students; at most {most} are read"),
    "roster.folder": N_("{path} is a folder, not a roster file"),
    "roster.too_large": N_("{path} is too large for a roster ({most_mb} MB at most)"),
    "roster.missing": N_("there is no roster file {path}"),
    # Translators: {reason} is the system's own word for it.
    "roster.unreadable": N_("can't read {path}: {reason}"),
    "roster.no_text": N_(
        "{path} isn't a text file: save the roster as CSV from your spreadsheet program"
    ),
    "roster.unknown_encoding": N_(
        "{path} isn't text in UTF-8 or a Windows code page: is it a roster?"
    ),
    "roster.quotation_mark": N_("a quotation mark isn't closed, or stands inside a cell"),
    "roster.empty": N_("the file is empty: a roster starts with a line of column names"),
    "roster.two_columns": N_("two columns are {column!q}"),
    "roster.no_student_column": N_(
        "no column is called student (or name): the first line must hold the column names, out of "
        "{columns}"
    ),
    "roster.column_near": N_("unknown column {name!q}: did you mean {near}?"),
    "roster.column_unknown": N_("unknown column {name!q}: there are {known}"),
    # Translators: TOML is a kind of file; {reason} is the reader's own word, in English.
    "roster.not_toml": N_("not valid TOML: {reason}"),
    "roster.student_no_tables": N_(
        "student must be a list of tables: write [[student]] before each"
    ),
    "roster.name_outside_tables": N_(
        "a name stands outside the tables: write [[student]] before each student"
    ),
    "roster.two_keys": N_("two keys are {key!q}"),
    "roster.more_cells_than_columns": N_(
        "there are more cells than columns (the last is {cell!q}): put a cell that holds a comma "
        "in quotes"
    ),
    "roster.no_name": N_("the student's name is missing"),
    # Translators: {key} is the name of a column in a file and stays as it is.
    "roster.no_text_value": N_("{key} = {value} must be text in quotes"),
    "roster.no_position": N_("reach {value!q} isn't a position: give a number such as 6 or 5.5"),
    "roster.no_tuning": N_(
        "a4_hz {value!q} isn't a tuning pitch in Hz: give a number such as 440 or 442"
    ),
    "roster.outside": N_("{key} {value} is outside {low} to {high}"),
    "roster.reach_in_mm": N_(
        "reach {value} is outside {low} to {high} (is that in millimetres? a reach is a position)"
    ),
    "roster.choice_near": N_("{key} {value!q} isn't known: did you mean {near}?"),
    "roster.choice_unknown": N_("{key} {value!q} isn't known: there are {known}"),
    "roster.no_valves": N_('valves = {value} must be names such as ["F"], [] for none'),
}
