"""What the made-up language leaves outside of its brackets: nobody has made a message of it."""

import re
from collections.abc import Iterable

# Written alike in all languages.
UNITS = frozenset(
    [
        "mm",
        "cm",
        "m",
        "km",
        "s",
        "ms",
        "min",
        "h",
        "Hz",
        "kHz",
        "dB",
        "ct",
        "cents",
        "kB",
        "MB",
        "GB",
        "A4",
        "PDF",
        "SVG",
        "PNG",
        "WAV",
        "FLAC",
        "OGG",
        "MP3",
        "AIFF",
        "ZIP",
        "TOML",
        "CSV",
        "MusicXML",
        "MIDI",
        "°C",
    ]
)
PRODUCT = "handslide"
_NOTE = re.compile(r"(?<![^\W_])(?:[A-G](?:♭♭|♯♯|♭|♯|bb|b|##|#)?|[TV])[-−]?\d{0,2}(?![^\W_])")
_ROMAN = re.compile(r"(?<![^\W_])[IVX]+(?![^\W_])")
# Intervals as they are typed.
_INTERVAL = re.compile(r"(?<![^\W_])[PMmAd]\d{1,2}(?![^\W_])")
# The names of months are those of CLDR.
_DAY = re.compile(r"\b\d{1,2} (?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sept|Oct|Nov|Dec) \d{4}\b")


def outside_brackets(text: str, allowed: Iterable[str] = ()) -> list[str]:
    """The words of ``text`` outside of all brackets, without notes, numbers, units and ``allowed``.

    ``allowed`` is what users wrote: names, titles, folders.
    """
    # A blank that wraps and one that doesn't are the same here.
    text = " ".join(text.split())
    # What users wrote may have brackets itself.
    for each in sorted({" ".join(each.split()) for each in allowed}, key=len, reverse=True):
        if each:
            text = text.replace(each, " ")
    before = ""
    while before != text:
        before, text = text, re.sub(r"\[[^\[\]]*\]", " ", text)
    text = text.replace("½", " ")
    for known in (_DAY, _NOTE, _ROMAN, _INTERVAL):
        text = known.sub(" ", text)
    return [
        word
        for word in re.findall(r"°C|[^\W\d_][^\W_]*", text)
        if word not in UNITS and word != PRODUCT
    ]
