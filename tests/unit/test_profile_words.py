"""What was learnt in words: every change, contradiction and spot, in every language."""

import re
from dataclasses import replace

import pytest
from madeup import outside_brackets

from handslide.edges.files.horns import load_horn
from handslide.instrument.learning.clashes import Clash
from handslide.instrument.learning.example import At, ChosenNote, Example, Examples, Stand
from handslide.instrument.learning.learn import Spot
from handslide.instrument.learning.showing import WHATS, Change, Shown
from handslide.instrument.markstyle import MarkStyle
from handslide.instrument.places import find_places
from handslide.words.catalogues import MADE_UP, languages
from handslide.words.profile import (
    COMPARED,
    change_words,
    clash_words,
    kind_words,
    left_words,
    shown_words,
)
from handslide.words.speech import speech

HORN = load_horn("tenor-f")
SIXTH, FIRST = (
    next(
        place for place in find_places(HORN.tuned(), 48) if (place.valves, place.partial) == wanted
    )
    for wanted in (((), 3), (("F",), 3))
)  # C3 in 6th, and in 1st with the F valve
NOTES = tuple(
    ChosenNote(48, "C3", 0.5 * k, 0.5, False, False, f"II: {k + 1}", 3, k, "written", (((), 3),))
    for k in range(2)
)
ONE = Examples((Example("a.musicxml", "A study", Stand(HORN), NOTES),))
TWO = Examples((*ONE.examples, Example("b.musicxml", "An air", Stand(HORN), NOTES)))
SHOWS = Shown(0, 0, SIXTH, FIRST), Shown(0, 1, SIXTH, FIRST)
CHANGE = Change("turn_per_m", 0.5, None, SHOWS, 7)
CLASH = Clash(At(0, 0), At(1, 1), (SIXTH, FIRST), (4, 1))
EN = speech("en")


def test_what_is_said_in_english():
    assert change_words(EN, CHANGE, ONE) == (
        "Your choices look as if turning back mattered half as much to you."
    )
    assert change_words(EN, replace(CHANGE, what="partials.8", factor=None), ONE) == (
        "Your choices look as if keeping off the 8th partial mattered to you, too."
    )
    assert change_words(EN, replace(CHANGE, kind="Eb+0", factor=0.2), ONE) == (
        "Horns in E♭ without a valve: Your choices look as if turning back hardly mattered to you."
    )
    assert shown_words(EN, SHOWS[0], ONE, MarkStyle()) == (
        "Measure II: 1, note 3 (C3): 6th, otherwise 1st with the F valve"
    )
    assert left_words(EN, Spot(1, 1, SIXTH, FIRST), TWO, MarkStyle()) == (
        "“An air”, measure II: 2, note 3 (C3): 6th; the profile would put it in 1st with the F "
        "valve"
    )
    assert clash_words(EN, CLASH, TWO, MarkStyle()) == (
        "“A study”, measure II: 1, note 3 (C3): 6th (4×); “An air”, measure II: 2, note 3 (C3): "
        "1st with the F valve (1×). The notes around them are the same."
    )
    assert kind_words(EN, "Bb+2") == "Horns in B♭ with 2 valves"


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (8.0, "several times as much"), (3.0, "three times as much"), (2.0, "twice as much"),
        (1.5, "half as much again"), (1.33, "a third more"), (1.15, "a little more"),
        (0.87, "a little less"), (0.67, "a third less"), (0.5, "half as much"),
        (0.33, "a third as much"), (0.125, "hardly"),
    ],
)  # fmt: skip
def test_factors_as_a_teacher_says_them(factor, words):
    said = change_words(EN, replace(CHANGE, factor=factor), ONE)
    other = {change_words(EN, replace(CHANGE, factor=f), ONE) for f in (0.2, 0.4, 0.7, 1.6, 5.0)}
    assert words in said
    assert len(other) == 5


def test_a_place_is_told_as_its_marks_count_it():
    far = next(p for p in find_places(HORN.tuned(), 47) if p.valves and p.position > 1.5)
    shown = Shown(0, 0, far, SIXTH)
    open_, along = (
        shown_words(EN, shown, ONE, MarkStyle(counting=counting)) for counting in ("open", "valve")
    )
    assert "a long 2nd with the F valve" in open_
    assert "2nd with the F valve" in along and "long" not in along


@pytest.mark.parametrize("code", languages())
def test_every_change_is_said_in_every_language(code):
    say = speech(code)
    said = {}
    for what in WHATS:
        for factor in (None, 0.2, 0.5, 2.0):
            text = change_words(say, replace(CHANGE, what=what, factor=factor), ONE)
            assert text[0].isupper() or text.startswith("À")
            assert text.endswith(".") and not re.search(r"[{}]|  | que que ", text)
            assert code != "fr" or not re.search(r"\bque [aeiouhéàê]", text)
            said.setdefault(text, set()).add(what)
    # One slur that smears is said as all of it is: of these only one is told.
    assert {len(whats) for whats in said.values()} == {1, 2}
    assert all(whats == {"smear", "smears"} for whats in said.values() if len(whats) > 1)
    for text in (
        shown_words(say, SHOWS[0], TWO, MarkStyle()),
        left_words(say, Spot(0, 0, SIXTH, FIRST), TWO, MarkStyle()),
        clash_words(say, CLASH, TWO, MarkStyle()),
    ):
        assert "A study" in text and "II: 1" in text and not re.search("[{}]", text)
    assert say(COMPARED)


def test_nothing_is_said_that_is_no_message():
    say = speech(MADE_UP)
    own = ["A study", "An air", "II: 1", "II: 2", "×"]
    for text in (
        change_words(say, replace(CHANGE, kind="Bb+1"), TWO),
        shown_words(say, SHOWS[0], TWO, MarkStyle()),
        left_words(say, Spot(0, 0, SIXTH, FIRST), TWO, MarkStyle()),
        clash_words(say, CLASH, TWO, MarkStyle()),
    ):
        assert not outside_brackets(text, own)
