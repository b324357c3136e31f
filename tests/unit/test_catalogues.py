"""The catalogues: each has all messages of the code and the templates, and fits them."""

import re
import string
import sys
from functools import cache
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from handslide.words.catalogues import SOURCE, language, languages
from handslide.words.speech import speech

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))
import catalogues

OTHERS = [code for code in languages() if code != SOURCE]


@cache
def extracted():
    return {(m.context, m.id): m for m in catalogues.extracted() if m.id}


@cache
def catalogue(code):
    file = catalogues.LOCALE / code / "LC_MESSAGES" / "handslide.po"
    with file.open("rb") as source:
        return read_po(source, locale=code)


@cache
def messages(code):
    return {(m.context, m.id): m for m in catalogue(code) if m.id}


def texts(message):
    """What stands for each plural form; nothing where it isn't translated."""
    said = message.string if isinstance(message.string, tuple) else (message.string,)
    return said if any(said) else ()


def fields(text):
    """The placeholders of a text, with their conversions and formats."""
    return {
        (name, conversion, spec)
        for _, name, spec, conversion in string.Formatter().parse(text)
        if name is not None
    }


def is_setting(key):
    return (key[0] or "").startswith("setting:")


def test_languages():
    assert set(OTHERS) == {"de", "es", "fr"}
    assert [each.name for each in languages().values()] == [
        "English", "Deutsch", "Español", "Français",
    ]  # fmt: skip


@pytest.mark.parametrize("code", OTHERS)
def test_each_catalogue_has_all_messages_and_no_others(code):
    own = set(messages(code))
    assert set(extracted()) - own == set(), "run make catalogues"
    assert own - set(extracted()) == set(), "run make catalogues"
    assert list(catalogue(code).obsolete) == []


@pytest.mark.parametrize("code", OTHERS)
def test_each_message_is_translated(code):
    assert [key for key, m in messages(code).items() if not texts(m) or not all(texts(m))] == []
    assert [m.id for m in catalogue(code) if m.id and m.fuzzy] == []


@pytest.mark.parametrize("code", OTHERS)
def test_placeholders_are_those_of_the_message(code):
    wrong = []
    for key, message in messages(code).items():
        if not texts(message) or is_setting(key):
            continue
        ids = message.id if isinstance(message.id, tuple) else (message.id,)
        asked = set().union(*(fields(text) for text in ids))
        needed = set.intersection(*(fields(text) for text in ids)) - {("count", None, "")}
        for text in texts(message):
            # "One note" may leave its number out.
            if not needed <= fields(text) or fields(text) - asked - {("count", None, "")}:
                wrong.append((message.id, text))
    assert wrong == []


@pytest.mark.parametrize("code", OTHERS)
def test_plural_forms_are_those_of_the_language(code):
    for message in messages(code).values():
        if isinstance(message.id, tuple) and texts(message):
            assert len(message.string) == catalogue(code).num_plurals


@pytest.mark.parametrize("code", OTHERS)
def test_each_language_is_really_one(code):
    same = []
    for message in messages(code).values():
        text = message.id[-1] if isinstance(message.id, tuple) else message.id
        bare = re.sub(r"\{[^}]*\}", " ", text)
        if len(re.findall(r"[^\W\d_]{3,}", bare)) > 3 and text in texts(message):
            same.append(text)
    assert same == []


ADDRESSED = {
    "de": r"\b(du|dein\w*|dich|dir)\b",
    "es": r"\b(tú|tus?|te|ti|haz)\b",
    "fr": r"(?<!-)\b(tu|ton|ta|tes|toi|le tien|la tienne)\b",
}


@pytest.mark.parametrize("code", OTHERS)
def test_nobody_is_addressed_as_a_child(code):
    said = [text for message in messages(code).values() for text in texts(message)]
    assert [text for text in said if re.search(ADDRESSED[code], text, re.IGNORECASE)] == []


def test_french_typography():
    """A space that doesn't break before ; : ! ? and inside of « », and a curly apostrophe.

    One kind of it, U+00A0, which every font has.
    """
    for message in messages("fr").values():
        for text in texts(message):
            bare = re.sub(r"\{[^}]*\}|https?://\S*|\w:\w|<\?xml", "x", text)
            assert not re.search(r"(?<!\u00a0)[;:!?»]", bare), text
            assert not re.search(r"«(?!\u00a0)|'", bare), text
            assert not re.search("\u202f|\u00a0\u00a0", text), text


def test_spanish_questions_begin():
    for message in messages("es").values():
        for text in texts(message):
            assert text.count("¿") == text.replace("<?xml", "").count("?"), text


@pytest.mark.parametrize("code", OTHERS)
def test_settings_are_usable(code):
    say = speech(code)
    assert say.names in ("english", "german", "do")
    assert say.quoted("x") != "x" and "x" in say.quoted("x")
    assert re.search(r"2026", say.day("2026-11-25"))


def test_numbers_are_written_as_in_the_language():
    assert [speech(code).number(-2.5, 1) for code in ("en", "de", "es", "fr")] == [
        "−2.5", "−2,5", "−2,5", "−2,5",
    ]  # fmt: skip
    assert speech("es").number(-0.04, 1) == "0,0"
    assert language("fr").decimal == ","


def test_days_are_written_as_in_the_language():
    assert speech("en").day("2026-09-05") == "5 Sept 2026"
    assert speech("de").day("2026-09-05") == "5. Sept. 2026"
    assert speech("es").day("2026-09-05") == "5 sept 2026"


@pytest.mark.parametrize("code", ["de", "es", "fr"])
def test_a_number_and_its_unit_stay_on_one_line(code):
    say = speech(code)
    assert say("{mm:.0f} mm", mm=28) == "28\u00a0mm"
    assert say("± {cents} cents", cents=3) == "±\u00a03\u00a0cents"
    assert say("{a} to {b} miles", a=1, b=2) == "1 to 2 miles"
    assert speech("en")("{mm:.0f} mm", mm=28) == "28 mm"
