"""The languages: English, which stands in the code, and each catalogue in ``locale``.

A catalogue is ``locale/CODE/LC_MESSAGES/handslide.po``. A new language is one new catalogue:
what a language does beyond sentences (decimal sign, quotation marks, names of notes) is taken from
CLDR or stands in the catalogue too.
"""

import gettext
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from io import BytesIO

SOURCE = "en"
# Brackets every message: what is read outside of the brackets was forgotten by its author.
MADE_UP = "zz"
_DOMAIN = "handslide"


@dataclass(frozen=True, slots=True)
class Language:
    """A language: its code, its own name for itself and its decimal sign."""

    code: str
    name: str
    decimal: str = "."


@cache
def languages() -> Mapping[str, Language]:
    """All languages by their codes, English first, without the made-up one."""
    from babel import Locale

    folder = resources.files("handslide.words") / "locale"
    codes = sorted(entry.name for entry in folder.iterdir() if entry.is_dir())
    found = {SOURCE: Language(SOURCE, "English")}
    for code in codes:
        locale = Locale.parse(code)
        name = locale.get_display_name() or code
        found[code] = Language(
            code, name[:1].upper() + name[1:], locale.number_symbols["latn"]["decimal"]
        )
    return found


@cache
def language(code: str) -> Language:
    """The language of a code. Raises KeyError."""
    if code in (SOURCE, MADE_UP):
        return Language(code, "English" if code == SOURCE else "[…]")
    return languages()[code]


def known(code: str) -> bool:
    """Whether there is a language of this code."""
    return code in (SOURCE, MADE_UP) or code in languages()


def chosen_language(wish: str | None = None) -> str:
    """The code of the language to speak: ``wish``, ``HANDSLIDE_LANGUAGE``, or the system's.

    A wish is a code; of the others what isn't known is passed over, and English is the last.
    """
    if wish is not None:
        return wish
    for name in ("HANDSLIDE_LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG"):
        code = os.environ.get(name, "").split(".")[0].split("_")[0].lower()
        if code in ("", SOURCE, "c", "posix"):
            if code:
                return SOURCE
        elif known(code):
            return code
    return SOURCE


@cache
def translations(code: str) -> gettext.NullTranslations:
    """The catalogue of a language, ready for look-ups."""
    if code == SOURCE:
        return gettext.NullTranslations()
    if code == MADE_UP:
        return _Bracketed()
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    file = resources.files("handslide.words") / "locale" / code / "LC_MESSAGES" / f"{_DOMAIN}.po"
    compiled = BytesIO()
    with file.open("rb") as source:
        write_mo(compiled, read_po(source, locale=code))
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)


class _Bracketed(gettext.NullTranslations):
    """Each piece of a message that has letters is in brackets, what is put in isn't.

    So a sentence that was made elsewhere and put into a message shows too.
    """

    def gettext(self, message: str) -> str:
        return _bracketed(message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return _bracketed(msgid1 if n == 1 else msgid2)

    def npgettext(self, context: str, msgid1: str, msgid2: str, n: int) -> str:
        return self.ngettext(msgid1, msgid2, n)

    def pgettext(self, context: str, message: str) -> str:
        return message if context.startswith("setting:") else _bracketed(message)


def _bracketed(message: str) -> str:
    pieces = re.split(r"(\{[^}]*\})", message)
    return "".join(
        piece if piece.startswith("{") or not any(map(str.isalpha, piece)) else f"[{piece}]"
        for piece in pieces
    )
