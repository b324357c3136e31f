"""The words of the pages, in the languages of ``data/texts``: one folder a language.

A text is named by its file and its key in it: ``students.add`` is ``add`` in ``students.toml``.
English is the source; what another language lacks is shown in English, and a test finds it.
Placeholders are written ``{name}``. A text that depends on a number has the keys ``one`` and
``other`` below it and gets the number as ``{count}``.
"""

import tomllib
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from importlib import resources
from typing import Any

from markupsafe import Markup

SOURCE = "en"
LANGUAGES = {"en": "English", "de": "Deutsch", "es": "Español"}


@cache
def catalogue(language: str) -> Mapping[str, str]:
    """All texts of a language by their full key."""
    texts: dict[str, str] = {}
    folder = resources.files("handslide") / "data" / "texts" / language
    for file in folder.iterdir():
        if file.name.endswith(".toml"):
            table = tomllib.loads(file.read_text(encoding="utf-8"))
            _flatten(table, file.name.removesuffix(".toml"), texts)
    return texts


def _flatten(table: Mapping[str, Any], before: str, texts: dict[str, str]) -> None:
    for key, value in table.items():
        if isinstance(value, Mapping):
            _flatten(value, f"{before}.{key}", texts)
        else:
            texts[f"{before}.{key}"] = value


def _plain(values: Mapping[str, Any]) -> dict[str, Any]:
    """``values`` with what a macro has escaped as plain text again: the page escapes the whole."""
    return {
        key: value.unescape() if isinstance(value, Markup) else value
        for key, value in values.items()
    }


class Texts:
    """The texts of one language: ``texts("students.add", name="Mira")``."""

    def __init__(self, language: str) -> None:
        self.language = language if language in LANGUAGES else SOURCE
        self._own = catalogue(self.language)

    def __call__(self, key: str, **values: Any) -> str:
        """The text under ``key`` with its values put in. Raises KeyError for an unknown key."""
        if "count" in values:
            key += ".one" if values["count"] == 1 else ".other"
        text = self._own.get(key)
        if text is None:
            text = catalogue(SOURCE)[key]
        return text.format_map(_plain(values)) if values else text

    def get(self, key: str, default: str) -> str:
        """The text under ``key``, or ``default`` where no language has it."""
        return self(key) if key in catalogue(SOURCE) else default

    def below(self, prefix: str) -> dict[str, str]:
        """All texts whose key begins with ``prefix``, by the rest of the key: for scripts."""
        found = {}
        for key in catalogue(SOURCE):
            if key.startswith(prefix + "."):
                found[key[len(prefix) + 1 :]] = self._own.get(key, catalogue(SOURCE)[key])
        return found

    def number(self, value: float, digits: int = 0) -> str:
        """A number with the language's decimal sign and a true minus."""
        text = f"{value:.{digits}f}"
        text = text.lstrip("-") if float(text) == 0 else text
        return text.replace("-", "−").replace(".", "." if self.language == "en" else ",")

    def day(self, moment: str) -> str:
        """The local day of a stored time, such as ``25 Nov 2026``."""
        when = datetime.fromisoformat(moment)
        # A plain date stays the day that it is; a time is moved to where the teacher is.
        local = when if when.tzinfo is None else when.astimezone()
        month = self("shell.date.months").split()[local.month - 1]
        return self("shell.date.day", day=local.day, month=month, year=local.year)
