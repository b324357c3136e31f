"""Roman numerals."""

_LETTERS = (
    (1000, "M"), (900, "CM"), (500, "D"), (400, "CD"), (100, "C"), (90, "XC"), (50, "L"),
    (40, "XL"), (10, "X"), (9, "IX"), (5, "V"), (4, "IV"), (1, "I"),
)  # fmt: skip


def roman(number: int) -> str:
    """A whole number from 1 on in Roman numerals: ``VII``."""
    text = ""
    for value, letters in _LETTERS:
        times, number = divmod(number, value)
        text += times * letters
    return text
