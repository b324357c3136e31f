"""Cells of tables that people open in a spreadsheet."""

_FORMULAS = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")


def plain_cell(value: object) -> object:
    """A value that a spreadsheet shows: it would run a text that begins like a formula."""
    if isinstance(value, str) and value.lstrip().startswith(_FORMULAS):
        return f"'{value}"
    return value
