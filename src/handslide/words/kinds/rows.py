"""What is said of each kind of fact whose topic is ``rows``: a file of notes, one a row.

Names of columns and files, and what stands in the file, stay as they are.
"""

from collections.abc import Mapping

from handslide.words.messages import N_, NN_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    # Translators: what a row is called.
    "rows.row": N_("row {row}"),
    "rows.row_of_note": N_("row {row}, {pitch}"),
    # Translators: {problem} is one of the sentences below.
    "rows.in_file": N_("{file}: {problem}"),
    "rows.in_row": N_("row {row}: {problem}"),
    "rows.none": N_("no notes: write one row for each, with its frequency in Hz"),
    "rows.too_many": NN_(
        "{count} note; at most {most} are read", "{count} notes; at most {most} are read"
    ),
    "rows.is_folder": N_("that is a folder, not a file of notes"),
    "rows.too_large": N_("too large for a file of notes"),
    "rows.no_such_file": N_("there is no such file"),
    "rows.not_text": N_("this isn't text in UTF-8: is it a CSV or TOML file?"),
    # Translators: {reason} is the system's own word, such as "Permission denied".
    "rows.unreadable": N_("can't be read: {reason}"),
    "rows.more_cells": N_(
        "row {row}: {cells} cells under {names} column names (a decimal comma? write 174.6, or "
        "separate by semicolons)"
    ),
    # Translators: {reason} is the TOML reader's own word, in English.
    "rows.not_toml": N_("this isn't valid TOML: {reason}"),
    "rows.no_row_tables": N_("write a [[row]] table for each note, and nothing else"),
    "rows.column_meant": N_("unknown column {name!q}: did you mean {meant}?"),
    "rows.unknown_column": N_("unknown column {name!q}: columns are {columns}"),
    "rows.no_frequency": N_("give hz, or note and cents as a tuner shows them"),
    "rows.no_number": N_("{column} = {value!q} must be a number"),
    "rows.no_whole_number": N_("{column} = {value:g} must be a whole number"),
    "rows.metres": N_("extension_mm = {value:g}: is that in metres?"),
}
