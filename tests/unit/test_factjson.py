"""Facts as JSON: what is read back is what was written."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handslide.edges.files.factjson import fact_of_json, from_json, to_json
from handslide.ground.errors import BadData
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch
from handslide.instrument.places import Place

NAMES = st.text("abcdefghij_", min_size=1, max_size=8)
PITCHES = st.builds(Pitch, st.sampled_from("ABCDEFG"), st.integers(-3, 3), st.integers(-1, 9))
FINITE = st.floats(allow_nan=False, allow_infinity=False)
PLACES = st.builds(
    Place,
    st.lists(st.sampled_from(["F", "Gb", "D"]), max_size=2).map(tuple),
    st.integers(1, 16), FINITE, FINITE, FINITE, st.integers(0, 6),
)  # fmt: skip
PLAIN = st.one_of(st.none(), st.booleans(), st.integers(), FINITE, st.text(), PITCHES, PLACES)
VALUES = st.recursive(
    PLAIN,
    lambda held: st.one_of(
        st.lists(held, max_size=3).map(tuple),
        st.builds(
            lambda kind, values: fact(kind, **values),
            NAMES.map("topic.{}".format),
            st.dictionaries(NAMES, held, max_size=3),
        ),
    ),
    max_leaves=12,
)


@given(VALUES)
def test_what_is_read_back_is_what_was_written(value):
    text = json.dumps(to_json(value), ensure_ascii=False, allow_nan=False)
    back = from_json(json.loads(text))
    assert back == value
    assert type(back) is type(value)


def test_the_form_is_this():
    place = Place(("F",), 3, 0.125, 2.3)
    told = fact("takes.wrong", played=Pitch("E", -1, 3), place=place, count=2, notes=(1, 2))
    assert to_json(told) == {
        "kind": "takes.wrong",
        "values": {
            "count": 2,
            "notes": [1, 2],
            "place": {"place": {"valves": ["F"], "partial": 3, "extension_m": 0.125,
                                "position": 2.3, "lip_cents": 0.0, "alternate": 0,
                                "spared": False}},
            "played": {"pitch": "Eb3"},
        },
    }  # fmt: skip
    assert to_json(Fact("takes.unsure")) == {"kind": "takes.unsure"}


@pytest.mark.parametrize(
    "broken",
    [
        {}, {"kind": 3}, {"kind": "a.b", "more": 1}, {"kind": "a.b", "values": 7},
        {"pitch": "H3"}, {"pitch": 3}, {"place": {"valves": ["F"]}}, {"place": {}},
        {"kind": "a.b", "values": {"x": {"unknown": 1}}},
    ],
)  # fmt: skip
def test_what_is_no_fact_is_refused(broken):
    with pytest.raises(BadData, match="is not a fact"):
        from_json(broken)


def test_a_plain_value_is_no_fact():
    assert fact_of_json({"kind": "a.b"}) == Fact("a.b")
    with pytest.raises(BadData, match="is not a fact"):
        fact_of_json(["a.b"])


def test_what_no_fact_holds_is_not_written():
    with pytest.raises(TypeError, match="no value of a fact"):
        to_json({"a": 1})
