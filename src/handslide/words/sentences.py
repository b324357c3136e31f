"""From a clause to a sentence."""


def capital(words: str) -> str:
    """``words`` with a capital; not for what begins with a note: there a capital is an octave."""
    return words[:1].upper() + words[1:]


def sentence(words: str) -> str:
    """``words`` with a capital and, where nothing ends them yet, a full stop."""
    return capital(words) + ("" if words.endswith((".", "!", "?", ":")) else ".")
