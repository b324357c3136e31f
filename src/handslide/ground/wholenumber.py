"""Whole numbers that came as text."""

from handslide.ground.limits import NUMBER_DIGITS


def whole_number(text: str) -> int | None:
    """A whole number from 0, written with digits only; None for anything else or a longer one."""
    text = text.strip()
    return int(text) if text.isdecimal() and len(text) <= NUMBER_DIGITS else None
