"""Profile files that say what a profile began from, and by what its weights are multiplied."""

from dataclasses import replace

import pytest
from command import one_sentence, run, run_json
from hypothesis import given
from hypothesis import strategies as st

from handslide.edges.files.horns import load_horn
from handslide.edges.files.profiles import (
    BY_HORN,
    LearntProfile,
    learnt_toml,
    load_profile,
    read_profile,
)
from handslide.edges.files.userfolder import user_folder
from handslide.ground.errors import BadData
from handslide.instrument.learning.weights import WEIGHTS, Factors
from handslide.words.speech import speech

TENOR, TENOR_F, BASS = (
    load_horn(name).tuned() for name in ("tenor", "tenor-f", "bass-independent")
)
LEARNT = """\
title = "Mira's"
began_from = "by-horn"

[factors]
turn_per_m = 0.5

[factors.partials]
7 = 2.0

[factors_on."Bb+1"]
seek = 2.0
"""


def keep(name, text):
    folder = user_folder() / "profiles"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{name}.toml").write_text(text, encoding="utf-8")


def test_factors_multiply_the_profile_of_the_horn():
    keep("mira", LEARNT)
    classical, bass = load_profile("classical", TENOR), load_profile("bass", BASS)
    on_tenor = load_profile("mira", TENOR)
    assert (on_tenor.name, on_tenor.title) == ("mira", "Mira's")
    assert on_tenor.turn_per_m == 0.5 * classical.turn_per_m
    assert on_tenor.partials[7] == 2.0 * classical.partials[7]
    assert on_tenor.seek == classical.seek
    # Those of a kind of horn stand in place of those of all.
    on_f = load_profile("mira", TENOR_F)
    assert (on_f.turn_per_m, on_f.seek) == (classical.turn_per_m, 2.0 * classical.seek)
    on_bass = load_profile("mira", BASS)
    assert on_bass.turn_per_m == 0.5 * bass.turn_per_m
    assert on_bass.valve_colour == bass.valve_colour != classical.valve_colour


def test_by_horn_is_the_profile_that_a_horn_has_by_itself():
    assert load_profile(BY_HORN, TENOR_F) == load_profile("classical", TENOR_F)
    assert load_profile(BY_HORN, BASS) == load_profile("bass", BASS)


def test_one_can_begin_from_what_was_learnt():
    keep("mira", LEARNT)
    keep("pupil", 'began_from = "mira"\n[factors]\nturn_per_m = 0.5')
    base = load_profile("classical", TENOR)
    assert load_profile("pupil", TENOR).turn_per_m == 0.25 * base.turn_per_m
    assert load_profile("pupil", TENOR).partials == load_profile("mira", TENOR).partials


def test_no_factor_at_all_is_what_it_began_from():
    keep("plain", 'began_from = "jazz"')
    jazz = load_profile("jazz", TENOR)
    assert load_profile("plain", TENOR) == replace(jazz, name="plain", title="")


_FACTORS = st.dictionaries(
    st.sampled_from(WEIGHTS), st.floats(0.125, 8.0).map(lambda x: float(f"{x:.6g}"))
)
_TITLES = st.text(st.characters(blacklist_categories=["Cs"]), max_size=30)


@given(
    _TITLES, _FACTORS, st.dictionaries(st.sampled_from(["Bb+0", "Bb+1", "F#1+2", "C+1"]), _FACTORS)
)
def test_what_is_written_reads_back_the_same(title, shared, by_kind):
    learnt = LearntProfile("mira", title, "by-horn", Factors(shared, by_kind))
    text = learnt_toml(learnt)
    assert read_profile(text, "mira.toml") == learnt
    assert learnt_toml(read_profile(text, "mira.toml")) == text


WRONG = {
    "unknown key": ('began_from = "jazz"\nseek = 1', "unknown key 'seek'"),
    "unknown factor": ('began_from = "jazz"\n[factors]\nsek = 1', "'sek': did you mean seek"),
    "a time": ('began_from = "jazz"\n[factors]\nhold_s = 1', "unknown key 'hold_s'"),
    "low": ('began_from = "jazz"\n[factors]\nseek = 0.1', "seek = 0.1 must be from 1/8 to 8"),
    "high": ('began_from = "jazz"\n[factors]\nseek = 9', "seek = 9 must be from 1/8 to 8"),
    "nan": ('began_from = "jazz"\n[factors]\nseek = nan', "seek = nan must be"),
    "text": ('began_from = "jazz"\n[factors]\nseek = "1"', "seek = '1' must be"),
    "true": ('began_from = "jazz"\n[factors]\nseek = true', "seek = True must be"),
    "no table": ('began_from = "jazz"\nfactors = 3', "factors must be a table"),
    "partials": ('began_from = "jazz"\n[factors]\npartials = 3', "factors must be a table"),
    "low partial": ('began_from = "jazz"\n[factors.partials]\n6 = 1', "6 must be a partial 7 to"),
    "kinds": ('began_from = "jazz"\nfactors_on = 3', "factors_on must be tables"),
    "kind": ('began_from = "jazz"\n[factors_on.tenor]\n', "'tenor' isn't a kind of horn"),
    "base": ("began_from = 3", "began_from must be text in quotes"),
    "title": ('began_from = "jazz"\ntitle = 3', "title must be text in quotes"),
    "path": ('began_from = "../jazz.toml"', "can't begin from '../jazz.toml': there are by-horn"),
    "nobody": ('began_from = "nobody"', "can't begin from 'nobody': there are by-horn, classical"),
    "nothing": ("[factors]\nseek = 1", "factors need began_from"),
    "itself": ('began_from = "mine"', "the profile mine can't begin from itself"),
}


@pytest.mark.parametrize("case", WRONG)
def test_a_wrong_file_gets_one_sentence(case):
    text, words = WRONG[case]
    keep("mine", text)
    with pytest.raises(BadData) as error:
        load_profile("mine", TENOR)
    said = speech("en").fact(error.value)
    assert words in said and len(said.splitlines()) == 1


def test_a_circle_is_shown():
    keep("one", 'began_from = "two"')
    keep("two", 'began_from = "three"')
    keep("three", 'began_from = "two"')
    with pytest.raises(BadData, match=r"the profile one can't .*: one ← two ← three ← two"):
        load_profile("one", TENOR)


def test_every_command_takes_it_by_name_and_by_path(tmp_path):
    keep("mira", 'began_from = "classical"\n[factors]\nvalve_colour = 8\nvalve_move = 8\n')
    path = user_folder() / "profiles" / "mira.toml"
    line = "line", "C3 D3 Eb3 C3", "--horn", "tenor-f"
    usual = [note["mark"] for note in run_json(*line)["notes"]]
    for profile in ("mira", path):
        found = run_json(*line, "--profile", profile)
        assert found["profile"] == "mira"
        assert [note["mark"] for note in found["notes"]] != usual
        assert not any(note["valves"] for note in found["notes"])
    run("chart", "--horn", "tenor-f", "--profile", "mira", "-o", tmp_path / "chart.svg")
    keep("broken", 'began_from = "broken"')
    told = one_sentence(run(*line, "--profile", "broken", code=1))
    assert "can't begin from itself" in told
