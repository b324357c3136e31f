"""How a note is to be articulated, as far as it shapes its beginning and its end."""

from typing import Any

_SIGNS = {
    "staccato": "staccato",
    "staccatissimo": "staccatissimo",
    "spiccato": "staccatissimo",
    "tenuto": "tenuto",
    "detached-legato": "portato",
    "accent": "accent",
    "strong-accent": "marcato",
    "soft-accent": "accent",
}


def signs_of(note: Any) -> frozenset[str]:
    """Of a ``<note>``: staccato, staccatissimo, tenuto, portato, accent, marcato."""
    return frozenset(
        _SIGNS[sign.tag]
        for signs in note.iterfind("notations/articulations")
        for sign in signs.iterchildren()
        if sign.tag in _SIGNS
    )
