"""The file of what a profile is learnt from: exact, and one sentence for what it isn't."""

import json
import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from learnt_examples import EXAMPLES, HERE, QUESTION, STAND, TENOR_F, chosen_note

from handslide.edges.files.examples import examples_json, read_examples
from handslide.ground.errors import BadData
from handslide.ground.limits import EXAMPLES_ANSWERS, EXAMPLES_NOTES
from handslide.instrument.learning.example import Answer, Example, Examples, Stand
from handslide.words.speech import speech


def test_what_is_written_reads_back_the_same():
    data = examples_json(EXAMPLES)
    assert read_examples(data, "x") == EXAMPLES
    assert examples_json(read_examples(data, "x")) == data
    assert read_examples(examples_json(Examples()), "x") == Examples()


_WISHES = st.tuples(st.sampled_from([(), ("F",)]), st.integers(1, 16))
_SECONDS = st.floats(0.0, 1e6)


@st.composite
def _notes(draw):
    count = draw(st.integers(1, 5))
    onsets = sorted(draw(st.lists(_SECONDS, min_size=count, max_size=count)))
    rows = []
    for number, onset in enumerate(onsets):
        midi = draw(st.integers(20, 80))
        how = draw(st.sampled_from([None, "changed", "kept", "written"]))
        places = () if how is None else tuple(draw(st.lists(_WISHES, min_size=1, max_size=3)))
        rows.append(
            chosen_note(
                number, midi, onset, length_s=draw(_SECONDS), slur=draw(st.booleans()),
                gliss=draw(st.booleans()), how=how, places=places,
                measure=draw(st.text(max_size=12)), index=draw(st.integers(1, 99)),
            )
        )  # fmt: skip
    return tuple(rows)


_STANDS = st.builds(
    Stand, st.just(TENOR_F), st.floats(400.0, 480.0), st.none() | st.floats(10.0, 30.0),
    st.none() | st.floats(1.0, 12.0), st.none() | st.just(()) | st.just(("F",)),
)  # fmt: skip


@settings(max_examples=40)
@given(
    st.lists(
        st.builds(Example, st.text(min_size=1, max_size=20), st.text(max_size=20), _STANDS,
                  _notes()),
        max_size=3,
    )
)  # fmt: skip
def test_whatever_is_written_reads_back_the_same(rows):
    examples = Examples(tuple(rows))
    assert read_examples(examples_json(examples), "x") == examples


def test_a_horn_that_was_fitted_comes_back_as_it_was():
    horn = replace(TENOR_F, name="mira", title="Mira's", model="", bell_m=0.30003, travel_m=0.6789)
    one = Examples((Example("a", "A", Stand(horn), (HERE,)),))
    assert read_examples(examples_json(one), "x") == one


def changed(path, value):
    """The file with another value in one place."""
    table = json.loads(examples_json(EXAMPLES))
    *way, last = path
    inner = table
    for step in way:
        inner = inner[step]
    inner[last] = value
    return json.dumps(table).encode()


NOTE = ("examples", 0, "notes", 0)
WRONG = {
    "form 0": (("form",), 0),
    "form text": (("form",), "1"),
    "more": (("more",), 1),
    "no stand": (("examples", 0, "stand"), 7),
    "minus stand": (("answers", 0, "stand"), -1),
    "no notes": (("examples", 0, "notes"), []),
    "key": (("examples", 0, "key"), ""),
    "long key": (("examples", 0, "key"), "x" * 5000),
    "midi": ((*NOTE, 0), 49),
    "midi far": ((*NOTE, 0), 128),
    "spelled": ((*NOTE, 1), "H9"),
    "onset": ((*NOTE, 2), 9.0),
    "onset text": ((*NOTE, 2), "9"),
    "length": ((*NOTE, 3), -1.0),
    "length far": ((*NOTE, 3), 1e300),
    "measure": ((*NOTE, 6), "x" * 5000),
    "number twice": ((*NOTE, 8), 1),
    "how": ((*NOTE, 9), "guessed"),
    "how none": ((*NOTE, 9), None),
    "no place": ((*NOTE, 10), []),
    "valve": ((*NOTE, 10), [[["Q"], 3]]),
    "partial": ((*NOTE, 10), [[[], 17]]),
    "many places": ((*NOTE, 10), [[[], 3]] * 100),
    "short note": (NOTE, [48, "C3"]),
    "long note": (NOTE, [*json.loads(examples_json(EXAMPLES))["examples"][0]["notes"][0], 1]),
    "horn": (("stands", 0, "horn"), "closed = 3"),
    "horn far": (("stands", 0, "horn"), "x" * 100_000),
    "a4": (("stands", 0, "a4_hz"), 4400.0),
    "temp": (("stands", 0, "temp_c"), 300.0),
    "reach": (("stands", 0, "reach"), 0.0),
    "learned": (("stands", 0, "learned"), ["Q"]),
    "picked": (("answers", 0, "picked"), 3),
    "same ways": (("answers", 0, "first"), [[["F"], 3], [[], 3]]),
    "short way": (("answers", 0, "first"), [[[], 3]]),
    "deep": (("examples",), json.loads("[" * 900 + "]" * 900)),
}


@pytest.mark.parametrize("case", WRONG)
def test_a_wrong_value_is_one_sentence(case):
    with pytest.raises(BadData) as error:
        read_examples(changed(*WRONG[case]), "mira.examples.json")
    assert error.value.fact.kind == "profile.examples_damaged"
    assert len(speech("en").fact(error.value).splitlines()) == 1


@pytest.mark.parametrize(
    "data", [b"", b"{", b"[]", b"null", b"\xff\xfe", b"[" * 100_000, b"{}", b'{"form": 1}'],
)  # fmt: skip
def test_what_is_no_such_file_is_one_sentence(data):
    with pytest.raises(BadData, match="can't be read: it isn't what handslide has written"):
        read_examples(data, "x")


def test_a_cut_or_broken_file_is_never_half_read():
    whole = examples_json(EXAMPLES)
    chance = random.Random(4)
    for _ in range(300):
        data = bytearray(whole)
        if chance.random() < 0.3:
            del data[chance.randrange(len(data)) :]
        for _ in range(chance.randint(1, 4)):
            if data:
                data[chance.randrange(len(data))] = chance.randrange(256)
        try:
            read_examples(bytes(data), "x")
        except BadData as error:
            assert error.fact.kind.startswith("profile.examples_")


def test_what_a_newer_handslide_wrote_is_said_to_be_so():
    with pytest.raises(BadData, match="x was written by a newer handslide"):
        read_examples(b'{"form": 2, "else": []}', "x")


def test_there_is_an_end_to_what_is_kept():
    many = Example("a", "A", STAND, tuple(chosen_note(k, at_s=k) for k in range(EXAMPLES_NOTES)))
    examples_json(Examples((many,)))
    with pytest.raises(BadData, match="forget some first"):
        examples_json(Examples((many, EXAMPLES.examples[0])))
    with pytest.raises(BadData, match="forget some first"):
        examples_json(Examples((), (Answer(QUESTION, 1),) * (EXAMPLES_ANSWERS + 1)))
