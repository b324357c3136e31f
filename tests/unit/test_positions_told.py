"""Marks and words name one position, on every horn, for every note, in every style; none an 8th."""

import itertools
import re

import pytest

from handslide.edges.files.horns import HORN_FILES, load_horn
from handslide.instrument.marks import as_counted, mark, position_text, split_position, valve_sign
from handslide.instrument.markstyle import COUNTINGS, NUMERALS, VALVE_SIGNS, MarkStyle
from handslide.instrument.places import find_places
from handslide.words.marks import legend
from handslide.words.places import FORMS
from handslide.words.speech import speech

SAY = speech("en")
STYLES = [
    MarkStyle(signs, counting, numerals)
    for signs, counting, numerals in itertools.product((None, *VALVE_SIGNS), COUNTINGS, NUMERALS)
]
ROMAN = {"I": 1, "II": 2, "III": 3, "IV": 4, "V": 5, "VI": 6, "VII": 7}
ENDINGS = {"st": (1,), "nd": (2,), "rd": (3,), "th": (4, 5, 6, 7)}
END = "as far as the slide goes"


def position_in_words(words):
    """The sign and number that words mean: ``("♭", 2)`` for "a long 2nd with the F valve"."""
    if words.startswith(END):
        return "½", 7
    said = [(int(n), end) for n, end in re.findall(r"(\d+)(st|nd|rd|th)\b", words)]
    for number, end in said:
        assert number in ENDINGS[end]
    if words.startswith("halfway"):
        (low, _), (high, _) = said
        assert high == low + 1
        return "½", low
    ((number, _),) = said
    return {"a long": "♭", "a raise": "♯"}.get(words[:7].rstrip(" d"), "")[:1], number


def position_in_mark(text):
    """The same of a mark whose valve sign is off."""
    sign, digits, half = re.fullmatch(r"([♭♯]?)([IV]+|\d+)(½?)", text).groups()
    return sign or half, ROMAN.get(digits) or int(digits)


@pytest.mark.parametrize("name", HORN_FILES.ours)
def test_marks_and_words_name_the_same_position(name):
    horn = load_horn(name).tuned()
    told = {}
    for midi, style in itertools.product(range(24, 90), STYLES):
        for place in find_places(horn, midi):
            sign = valve_sign(horn, place.valves, style)
            written = mark(horn, place, style).removeprefix(sign).removeprefix("·")
            shown = as_counted(horn, place, style)
            key = written, round(shown.position, 6)
            if key not in told:
                told[key] = position_in_words(SAY.place(shown))
            assert position_in_mark(written) == told[key], (midi, style)
            assert position_in_mark(written)[1] <= 7


@pytest.mark.parametrize(
    ("position", "text", "words"),
    [
        (7.0, "7", "7th"),
        (7.2, "7", "7th"),
        (7.3, "♭7", "a long 7th"),
        (7.35, "7½", END),
        (7.827, "7½", END),
        (8.0, "7½", END),
        (9.4, "7½", END),
    ],
)
def test_there_is_no_8th_position(position, text, words):
    assert (position_text(position), SAY.position(position)) == (text, words)
    for form in FORMS:
        assert "8th" not in SAY.position(position, form)


def test_the_legend_says_what_7_and_a_half_is():
    horn = load_horn("tenor-f").tuned()
    (far,) = [p for p in find_places(horn, 36) if split_position(p.position) == ("½", 7)]
    assert legend(SAY, horn, [far], MarkStyle())[-1] == ("7½", END)
    assert ("3½", "halfway from 3rd to 4th") not in legend(SAY, horn, [far], MarkStyle())
