"""Places and valves in words, in every form that a sentence needs."""

import pytest

from handslide.ground.pitch import parse_pitch
from handslide.instrument.places import Place
from handslide.words.places import FORMS, place_out, valve_name
from handslide.words.speech import speech

SAY = speech("en")


def at(position, valves=()):
    return Place(valves, 4, 0.0, position)


@pytest.mark.parametrize(
    ("position", "alone", "inside", "whence", "full"),
    [
        (1.0, "1st", "in 1st", "from 1st", "1st position"),
        (1.2, "1st", "in 1st", "from 1st", "1st position"),
        (2.3, "a long 2nd", "in a long 2nd", "from a long 2nd", "a long 2nd position"),
        (2.7, "a raised 3rd", "in a raised 3rd", "from a raised 3rd", "a raised 3rd position"),
        (
            3.5,
            "halfway between 3rd and 4th",
            "halfway between 3rd and 4th",
            "from halfway between 3rd and 4th",
            "halfway between 3rd and 4th position",
        ),
    ],
)
def test_the_forms_of_a_place(position, alone, inside, whence, full):
    said = [SAY.place(at(position), form) for form in FORMS]
    assert said == [alone, inside, whence, whence.replace("from", "to"), full, alone]
    with_valve = [SAY.place(at(position, ("F",)), form) for form in FORMS]
    assert with_valve == [f"{words} with the F valve" for words in said]


def test_two_valves_and_an_extension():
    assert SAY.place(at(1.0, ("F", "Gb"))) == "1st with the F and G♭ valves"
    said = place_out(SAY, 3.6, ("F",), 243.5)
    assert said == "halfway between 3rd and 4th position with the F valve, 24.4 cm out"
    assert place_out(SAY, 1.0, (), 0.0) == "1st position, slide closed"
    assert place_out(SAY, 1.0, (), 1.0) == "1st position, 0.1 cm out"


@pytest.mark.parametrize(
    ("names", "name", "said"),
    [
        ("english", "Gb", "G♭"),
        ("german", "Gb", "Ges"),
        ("german", "Bb", "B"),
        ("do", "F", "fa"),
        ("do", "Eb", "mi flat"),
        ("german", "trigger", "trigger"),
    ],
)
def test_a_valve_is_named_as_notes_are(names, name, said):
    assert valve_name(speech("en", names), name) == said


@pytest.mark.parametrize(
    ("language", "one", "two"),
    [
        ("de", "die 1.\u00a0Lage mit F-Ventil", "die 1.\u00a0Lage mit den Ventilen F und Ges"),
        (
            "es",
            "la 1.ª\u00a0posición con el transpositor de fa",
            "la 1.ª\u00a0posición con los transpositores de fa y sol bemol",
        ),
        (
            "fr",
            "la 1re\u00a0position avec le barillet de fa",
            "la 1re\u00a0position avec les barillets de fa et sol bémol",
        ),
    ],
)
def test_a_place_with_valves_as_its_players_say_it(language, one, two):
    # Story: a French teacher reads C3, yet the valve is the barillet de fa.
    for names in ("english", None):
        say = speech(language, None if language == "de" else names)
        assert say.place(at(1.0, ("F",)), "the") == one
        assert say.place(at(1.0, ("F", "Gb")), "the") == two


def test_fixed_do_as_french_writes_it():
    deep = parse_pitch("Db3")
    assert speech("fr", "do").note(deep) == "ré bémol"
    assert speech("es", "do").note(deep) == "re bemol"
    assert speech("en", "do").naming("english").note(deep) == "D♭3"
