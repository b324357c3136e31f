"""Messages to text in one language: looked up, and filled in as the language writes it."""

import re
import string
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from functools import cache
from typing import Any

from handslide.words.catalogues import MADE_UP, SOURCE, Language, language, translations
from handslide.words.messages import NP_, Message
from handslide.words.names import names

# From here on a number is written with a power of ten.
_WRITTEN_OUT = 1e15
_RAISED = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
_MINUS = "\u2212"
_NO_BREAK = "\u00a0"
_SPREAD = re.compile(r"(?<=±) (?=[{\d])")
# A number and its unit, an ordinal and its noun: "3 mm", "1. Lage", "1.ª posición", "3e position".
_TOGETHER = re.compile(
    rf"{_SPREAD.pattern}"
    r"|(?<=[}\d]) (?=(?:mm|cm|m/s|m|s|Hz|kHz|°C|[kMG][Bo]|LUFS|%|[Cc]ents?|¢)(?![\w/]))"
    r"|(?<=[}\d]\.) (?=Lagen?\b|Naturt[oö]n)|(?:(?<=\dre)|(?<=\de)|(?<=\.ª)) (?=posi[ct])"
    r"|(?<=position}) (?=Lage|posi[ct])|(?:(?<={partial})|(?<=:partial})) (?=harmoni|arm[oó]ni)"
)
_PAIR = NP_("the last two of a list", "{first} and {last}")
_EITHER = NP_("the last two of a list", "{first} or {last}")
_QUOTATION = NP_("setting: quotation marks", "'{}'")
_DATE = NP_("setting: date, in the letters of CLDR", "d MMM y")
_LONG_DATE = NP_("setting: date with the month in full, in the letters of CLDR", "d MMMM y")
# Which way of naming notes a language has unless its reader chose another.
_USUAL_NAMES = NP_("setting: names of notes, out of english, german, do", "english")
_FIXED_DO = NP_("setting: how fixed do is written, out of do, do-ré", "do")
# A player may read letters and yet speak of the barillet de fa.
_VALVE_NAMES = NP_("setting: names of valves, out of notes (as the notes), do", "notes")
_KEY_NAMES = NP_("setting: names of keys, out of notes (as the notes), do", "notes")


@cache
def _held(text: str, together: re.Pattern[str]) -> str:
    """The text of a message, in which what belongs together stays on one line."""
    return together.sub(_NO_BREAK, text)


class Translator:
    """Says messages in one language; `handslide.words.speech.Speech` also knows what is a note.

    ``names``: how its reader names notes: english, german, do (in French do-ré); ``valve_names``
    and ``key_names``: how the valves and keys.
    """

    def __init__(self, code: str, names: str | None = None, face: str = "") -> None:
        """``names`` None: the language's usual way. Raises KeyError for an unknown language.

        ``face`` is where it is read, one of `handslide.words.hints`, or empty.
        """
        self.language: Language = language(code)
        self.face = face
        self._catalogue = translations(code)
        self._formatter = _Formatter(self)
        self.names = self._written_do(names or self.setting(_USUAL_NAMES))
        self.valve_names = self._names_of(_VALVE_NAMES)
        self.key_names = self._names_of(_KEY_NAMES)

    def __call__(self, message: Message | str, /, **values: Any) -> str:
        """``message`` in this language, with its values put in.

        A value is written as its type asks: numbers with the language's decimal sign, notes,
        places and facts in its words, lists with its "and", or with its "or" as ``{name:either}``.
        ``{name!q}`` is in quotation marks.
        """
        if isinstance(message, str):
            message = Message(message)
        text = self._look_up(message, 1 if message.plural is None else values["count"])
        if self.language.code != MADE_UP:
            text = _held(text, _SPREAD if self.language.code == SOURCE else _TOGETHER)
        return self._formatter.vformat(text, (), values) if "{" in text else text

    def _names_of(self, setting: Message) -> str:
        chosen = self.setting(setting)
        return self.names if chosen == "notes" else self._written_do(chosen)

    def _written_do(self, names: str) -> str:
        return self.setting(_FIXED_DO) if names == "do" else names

    def pattern(self, message: Message) -> str:
        """``message`` in this language with its placeholders, for who fills them in later."""
        return self._look_up(message, 1)

    def _look_up(self, message: Message, count: int) -> str:
        if message.plural is not None:
            if message.context is not None:
                return self._catalogue.npgettext(
                    message.context, message.text, message.plural, count
                )
            return self._catalogue.ngettext(message.text, message.plural, count)
        if message.context is not None:
            return self._catalogue.pgettext(message.context, message.text)
        return self._catalogue.gettext(message.text)

    def number(self, value: float, digits: int | None = None) -> str:
        """A number with the language's decimal sign and a true minus; never a minus nought.

        ``digits`` after the sign; None: as many as it needs.
        """
        return self.spelled_number(value, "g" if digits is None else f".{digits}f")

    def spelled_number(self, value: float, spec: str) -> str:
        """A number by a format spec such as ``.1f`` or ``+.0f``; ``|.1f|`` without its sign."""
        if spec.startswith("|"):
            value, spec = abs(value), spec.strip("|")
        text = format(value, spec)
        if "e" in text and spec.endswith("g"):
            text = _without_exponent(value)
        if text.strip("+-0.") == "" and text.startswith("-"):
            text = text[1:] if "+" not in spec else "+" + text[1:]
        return text.replace("-", _MINUS).replace(".", self.language.decimal)

    def listed(self, items: Iterable[Any], *, either: bool = False) -> str:
        """``a, b and c``, or ``a, b or c``."""
        said = [self.written(item) for item in items]
        if len(said) < 2:
            return "".join(said)
        pair = _EITHER if either else _PAIR
        return self(pair, first=", ".join(said[:-1]), last=said[-1])

    def named(self, what: str, key: str, default: str | None = None, /, **values: Any) -> str:
        """The name of one of several of a kind, such as ``drill``, ``scales``.

        ``default`` is said of what has no name here. Raises KeyError where it is None.
        """
        table = names()[what]
        if default is not None and key not in table:
            return default
        return self(table[key], **values)

    @staticmethod
    def capital(text: str) -> str:
        """A sentence that begins with words put in, with a capital letter."""
        return text[:1].upper() + text[1:]

    @staticmethod
    def sentence(text: str) -> str:
        """A clause as a sentence: with a capital and, where nothing ends it yet, a full stop."""
        end = "" if text.endswith((".", "!", "?", ":")) else "."
        return Translator.capital(text) + end

    def quoted(self, text: str) -> str:
        """What a user wrote, in the language's quotation marks, its control signs made visible."""
        visible = repr(text)[1:-1]
        return self.setting(_QUOTATION).format(visible)

    def weekday(self, number: int, *, in_full: bool = False) -> str:
        """A day of the week by its number (0: Monday): ``Thu``; ``in_full``: ``Thursday``."""
        from babel.dates import get_day_names

        code = self.language.code
        locale = "en_GB" if code in (SOURCE, MADE_UP) else code
        names = get_day_names("wide" if in_full else "abbreviated", "stand-alone", locale)
        # As all texts of the made-up language stand: in brackets.
        return f"[{names[number]}]" if code == MADE_UP else str(names[number])

    def day(self, moment: str | date, *, in_full: bool = False) -> str:
        """The local day of a stored time (ISO 8601), such as ``25 Nov 2026``.

        ``in_full``: ``25 November 2026``.
        """
        from babel.dates import format_date

        if isinstance(moment, str):
            when = datetime.fromisoformat(moment)
            # A plain date stays the day that it is; a time is moved to where the teacher is.
            moment = when if when.tzinfo is None else when.astimezone()
        code = self.language.code
        pattern = self.setting(_LONG_DATE if in_full else _DATE)
        return format_date(moment, pattern, "en_GB" if code in (SOURCE, MADE_UP) else code)

    def setting(self, what: Message) -> str:
        """What a language does beyond its sentences; its context begins with ``setting:``."""
        return self._catalogue.pgettext(what.context or "", what.text)

    def written(self, value: Any, spec: str = "") -> str:
        """One value as it stands in a sentence."""
        if isinstance(value, Message):
            return self(value)
        if isinstance(value, bool) or value is None:
            raise TypeError(f"{value!r} can't be said")
        if isinstance(value, int | float):
            return self.spelled_number(value, spec or ("d" if isinstance(value, int) else "g"))
        if isinstance(value, Sequence) and not isinstance(value, str):
            return self.listed(value, either=spec == "either")
        return format(str(value), spec)


def _without_exponent(value: float) -> str:
    """A number too large or too small for ``g``, as people write it: 1 000 000 000, 0.00001."""
    if abs(value) >= _WRITTEN_OUT:
        mantissa, _, exponent = f"{value:.3g}".partition("e")
        return f"{mantissa}·10" + str(int(exponent)).translate(_RAISED)
    if abs(value) >= 1.0:
        return f"{value:,.0f}".replace(",", "\u202f")
    return f"{value:.9f}".rstrip("0").rstrip(".")


class _Formatter(string.Formatter):
    def __init__(self, translator: Translator) -> None:
        super().__init__()
        self._translator = translator

    def format_field(self, value: Any, format_spec: str) -> str:
        return self._translator.written(value, format_spec)

    def convert_field(self, value: Any, conversion: str | None) -> Any:
        if conversion == "q":
            text = value if isinstance(value, str) else self._translator.written(value)
            return self._translator.quoted(text)
        return super().convert_field(value, conversion)
